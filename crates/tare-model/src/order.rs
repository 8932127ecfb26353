//! Sibling order as a fractional key: text that sorts, with room between any two.

const DIGITS: &[u8] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";

/// The key of an only child.
pub fn first_order() -> String {
    "V".to_owned()
}

/// A key that sorts after `before` and before `after`; `None` stands for the open end.
///
/// Keys made here never end in the lowest digit, so that there is always room below. Keys from elsewhere (a text, another program) may
/// leave no room (`V` and `V0`), stand in the wrong order or hold other characters: the result sorts after `before` then.
pub fn order_between(before: Option<&str>, after: Option<&str>) -> String {
    let low = before.unwrap_or("");
    if !low.bytes().all(is_digit) {
        // Whatever the bytes are, a longer text sorts behind its own beginning.
        return format!("{low}{}", first_order());
    }
    let fits = |after: &&str| after.bytes().all(is_digit) && low < *after;
    after
        .filter(fits)
        .and_then(|high| below(low.as_bytes(), high.as_bytes()))
        .unwrap_or_else(|| above(low.as_bytes(), Vec::new()))
}

/// A key between two, or `None` where there is no room: the higher one is the lower one followed by lowest digits only.
fn below(low: &[u8], high: &[u8]) -> Option<String> {
    let mut key = Vec::new();
    for (at, ceiling) in high.iter().map(|c| digit(*c)).enumerate() {
        let floor = low.get(at).map_or(0, |c| digit(*c));
        if floor == ceiling {
            key.push(DIGITS[floor]);
            continue;
        }
        let step = (ceiling - floor) / 2;
        if step >= 1 {
            key.push(DIGITS[floor + step]);
            return Some(text(&key));
        }
        key.push(DIGITS[floor]);
        return Some(above(low, key));
    }
    None
}

/// A key above another; `key` is its beginning, which may already be that of `low`.
fn above(low: &[u8], mut key: Vec<u8>) -> String {
    loop {
        let floor = low.get(key.len()).map_or(0, |c| digit(*c));
        // Appending is the common case: small steps keep the keys short over thousands of siblings.
        let step = if low.is_empty() { DIGITS.len() / 2 } else { 1 };
        if floor + step < DIGITS.len() {
            key.push(DIGITS[floor + step]);
            return text(&key);
        }
        key.push(DIGITS[floor]);
    }
}

fn text(key: &[u8]) -> String {
    String::from_utf8_lossy(key).into_owned()
}

fn is_digit(c: u8) -> bool {
    DIGITS.contains(&c)
}

fn digit(c: u8) -> usize {
    DIGITS.iter().position(|d| *d == c).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ten_thousand_appended_keys_stay_in_order_and_short() {
        let mut last = first_order();
        for _ in 0..10_000 {
            let next = order_between(Some(&last), None);
            assert!(next > last, "{next} after {last}");
            last = next;
        }
        assert!(last.len() < 200, "{}", last.len());
    }

    #[test]
    fn keys_without_room_between_them_end_with_one_behind_the_first() {
        for (before, after) in
            [("V", "V0"), ("V", "V000"), ("", "0"), ("z", "z0"), ("V0", "V00"), ("V", "V"), ("V1", "V"), ("V!", "V~")]
        {
            let key = order_between(Some(before), Some(after));
            assert!(key.as_str() > before, "{key} after {before}");
        }
        assert_eq!(order_between(None, Some("")), first_order());
        assert_eq!(order_between(None, Some("0")), first_order());
        let key = order_between(Some("V"), Some("V01"));
        assert!("V" < key.as_str() && key.as_str() < "V01", "{key}");
    }

    proptest! {
        #[test]
        fn any_two_texts_give_a_key_behind_the_first(before in "[0-9A-Za-z]{0,6}|[0zV]{0,8}|.{0,6}", after in "[0-9A-Za-z]{0,6}|[0zV]{0,8}|.{0,6}") {
            let key = order_between(Some(&before), Some(&after));
            prop_assert!(before < key, "{before:?} {key:?}");
            prop_assert!(key.len() <= before.len().max(after.len()) + 2, "{key:?}");
            let clean = |t: &str| !t.is_empty() && t.bytes().all(is_digit);
            let room = after.trim_end_matches('0') != before && !after[..].strip_prefix(before.as_str()).is_some_and(|rest| rest.bytes().all(|c| c == b'0'));
            if clean(&before) && clean(&after) && before < after && room {
                prop_assert!(key < after, "{before:?} {key:?} {after:?}");
            }
            let _ = order_between(None, Some(&after));
        }

        #[test]
        fn there_is_always_room_between(places in proptest::collection::vec(any::<prop::sample::Index>(), 1..60)) {
            let mut keys = vec![first_order()];
            for place in places {
                let at = place.index(keys.len() + 1);
                let before = at.checked_sub(1).map(|i| keys[i].clone());
                let key = order_between(before.as_deref(), keys.get(at).map(String::as_str));
                prop_assert!(before.as_ref().is_none_or(|b| *b < key), "{before:?} {key}");
                prop_assert!(keys.get(at).is_none_or(|a| key < *a), "{key} {:?}", keys.get(at));
                keys.insert(at, key);
            }
        }
    }
}
