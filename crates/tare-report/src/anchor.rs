//! Addresses as element ids of the page.

use std::fmt::Write;

/// The element id for an address: letters, digits, `-` and `.` stay, other bytes become `_` and two hex digits.
///
/// Distinct addresses give distinct ids, and an id needs no further escaping in HTML or in a link.
pub(crate) fn id(prefix: &str, address: &str) -> String {
    let mut out = String::with_capacity(prefix.len() + 1 + address.len());
    out.push_str(prefix);
    out.push('-');
    for byte in address.bytes() {
        if byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'.' {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "_{byte:02x}");
        }
    }
    out
}

/// The id of the reason with a number.
///
/// Reasons are many and linked to often, so that their ids are short; each prints its address.
pub(crate) fn reason(number: usize) -> String {
    format!("R{number}")
}

/// The id of the first use of the reason with a number.
pub(crate) fn first_use(number: usize) -> String {
    format!("U{number}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn different_addresses_get_different_plain_ids() {
        let addresses = ["a/b", "a-b", "a_b", "a_2fb", "a b", "a\"b", "ä", ""];
        let ids: std::collections::BTreeSet<_> = addresses.iter().map(|a| id("part", a)).collect();
        assert_eq!(ids.len(), addresses.len());
        assert!(ids.iter().all(|i| i.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))));
        assert_eq!(id("part", "a/b"), "part-a_2fb");
    }
}
