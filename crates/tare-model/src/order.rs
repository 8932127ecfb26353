//! Sibling order as a fractional key: text that sorts, with room between any two.

const DIGITS: &[u8] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";

/// The key of an only child.
pub fn first_order() -> String {
    "V".to_owned()
}

/// A key that sorts after `before` and before `after`; `None` stands for the open end.
///
/// Keys never end in the lowest digit, so that there is always room below. If the two are not in order, the result sorts after `before`.
pub fn order_between(before: Option<&str>, after: Option<&str>) -> String {
    let low = before.unwrap_or("").as_bytes();
    let high = after.filter(|a| before.is_none_or(|b| b < *a)).map(str::as_bytes);
    let mut key = Vec::new();
    let mut bounded = high;
    for at in 0.. {
        let floor = low.get(at).map_or(0, |c| digit(*c));
        let ceiling = match bounded {
            Some(high) => high.get(at).map_or(0, |c| digit(*c)),
            None => DIGITS.len(),
        };
        if bounded.is_some() && floor == ceiling {
            key.push(DIGITS[floor]);
            continue;
        }
        // Appending is the common case: small steps keep the keys short over thousands of siblings.
        let step = if bounded.is_none() && !low.is_empty() { 1 } else { (ceiling - floor) / 2 };
        if step >= 1 && floor + step < ceiling {
            key.push(DIGITS[floor + step]);
            break;
        }
        key.push(DIGITS[floor]);
        bounded = None;
    }
    String::from_utf8_lossy(&key).into_owned()
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

    proptest! {
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
