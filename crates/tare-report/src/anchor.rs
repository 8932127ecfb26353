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

/// The address behind an element id with a prefix; `None` for ids that [`id`] did not give with it.
pub(crate) fn address(prefix: &str, id: &str) -> Option<String> {
    let rest = id.strip_prefix(prefix)?.strip_prefix('-')?;
    let (mut bytes, mut left) = (Vec::with_capacity(rest.len()), rest.bytes());
    while let Some(byte) = left.next() {
        let hex = |byte: Option<u8>| char::from(byte?).to_digit(16);
        bytes.push(if byte == b'_' { u8::try_from(hex(left.next())? * 16 + hex(left.next())?).ok()? } else { byte });
    }
    String::from_utf8(bytes).ok()
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
        assert!(addresses.iter().all(|a| address("part", &id("part", a)).as_deref() == Some(*a)));
        assert!(["part-_2", "part-_zz", "photo-a", "part"].iter().all(|broken| address("part", broken).is_none()));
    }
}
