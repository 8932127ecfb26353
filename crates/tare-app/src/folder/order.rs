//! The order of rows as order keys of records.

use super::layout::sequence;
use std::collections::HashMap;
use tare_model::{Document, Id, Kind, Record, order_between};

/// Gives siblings keys in the order in which they come. Those that stand in the same order under the same parent in `base` keep the keys they
/// have there, so that only what was moved is moved.
pub(super) fn give(records: &mut [Record], base: Option<&Document>) {
    let mut siblings: HashMap<(Option<Id>, Kind), Vec<usize>> = HashMap::new();
    for (at, record) in records.iter().enumerate() {
        siblings.entry((record.parent, record.kind)).or_default().push(at);
    }
    for rows in siblings.into_values() {
        let old: Vec<Option<&str>> = rows
            .iter()
            .map(|at| {
                let record = &records[*at];
                let known = base?.get(record.id)?;
                (known.parent == record.parent && known.kind == record.kind).then_some(known.order.as_str())
            })
            .collect();
        let ids: Vec<Id> = rows.iter().map(|at| records[*at].id).collect();
        let keys = keys(&ids, &old);
        for (at, key) in rows.into_iter().zip(keys) {
            records[at].order = key;
        }
    }
}

/// Keys that put identifiers in the order given; as many of the old keys as possible stay.
fn keys(ids: &[Id], old: &[Option<&str>]) -> Vec<String> {
    let kept = longest_run(ids, old);
    let mut keys: Vec<String> = Vec::with_capacity(ids.len());
    let mut at = 0;
    while at < ids.len() {
        if kept[at] && fits(&keys, ids, old[at].unwrap_or_default(), at) {
            keys.push(old[at].unwrap_or_default().to_owned());
            at += 1;
            continue;
        }
        // up to the next that stays; where there is no room before it (equal keys), that one moves too
        let low = keys.last().cloned();
        let mut end = (at + 1..ids.len()).find(|next| kept[*next]).unwrap_or(ids.len());
        loop {
            let mut made = Vec::with_capacity(end - at);
            spread(low.as_deref(), old.get(end).copied().flatten(), end - at, &mut made);
            let behind_all = low.as_deref().is_none_or(|low| low < made[0].as_str());
            let before_next = old.get(end).copied().flatten().is_none_or(|high| made[made.len() - 1].as_str() < high);
            if (behind_all && before_next && made.is_sorted()) || end == ids.len() {
                keys.extend(made);
                break;
            }
            end = (end + 1..ids.len()).find(|next| kept[*next]).unwrap_or(ids.len());
        }
        at = end;
    }
    keys
}

/// Whether an old key still sorts behind what was given last.
fn fits(keys: &[String], ids: &[Id], old: &str, at: usize) -> bool {
    keys.last().is_none_or(|last| (last.as_str(), ids[at - 1]) < (old, ids[at]))
}

/// The digits of keys, in the order in which they sort.
const DIGITS: &[u8] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";

/// `count` keys between two, short however many there are: numbers behind one key between them, or by halves where there is no room for that.
fn spread(low: Option<&str>, high: Option<&str>, count: usize, keys: &mut Vec<String>) {
    if count == 0 {
        return;
    }
    let middle = order_between(low, high);
    if count > 1 && !high.is_some_and(|high| high.starts_with(&middle)) {
        let width = (1..).find(|width| DIGITS.len().saturating_pow(*width) >= count).unwrap_or(1);
        keys.extend((0..count).map(|number| {
            let digit = |place: u32| char::from(DIGITS[number / DIGITS.len().pow(place) % DIGITS.len()]);
            // the last letter leaves room below each
            middle.chars().chain((0..width).rev().map(digit)).chain(['V']).collect::<String>()
        }));
        return;
    }
    spread(low, Some(&middle), count / 2, keys);
    keys.push(middle.clone());
    spread(Some(&middle), high, count - count / 2 - 1, keys);
}

/// Which of the old keys can stay: a longest run of them that is in order (patience sorting).
fn longest_run(ids: &[Id], old: &[Option<&str>]) -> Vec<bool> {
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = vec![None; ids.len()];
    for at in 0..ids.len() {
        let Some(key) = old[at] else { continue };
        let place = ends.partition_point(|end| (old[*end].unwrap_or_default(), ids[*end]) < (key, ids[at]));
        before[at] = place.checked_sub(1).map(|p| ends[p]);
        if place == ends.len() {
            ends.push(at);
        } else {
            ends[place] = at;
        }
    }
    let mut kept = vec![false; ids.len()];
    let mut next = ends.last().copied();
    while let Some(at) = next {
        kept[at] = true;
        next = before[at];
    }
    kept
}

/// Whether two documents hold the same records in the same order; keys and what stands between records of other kinds do not count.
pub fn same_order(a: &Document, b: &Document) -> bool {
    let row = |r: &&Record| (r.id, r.kind, r.parent);
    let (a, b) = (sequence(a), sequence(b));
    a.len() == b.len() && a.iter().zip(&b).all(|(a, b)| row(a) == row(b) && a.fields == b.fields)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn only_what_was_moved_gets_another_key_and_new_keys_are_short() {
        let ids: Vec<Id> = [1, 2, 9, 3, 4].map(Id).to_vec();
        let old = [Some("V"), Some("W"), None, Some("X"), Some("Y")];
        let given = keys(&ids, &old);
        assert_eq!((given[0].as_str(), given[1].as_str(), given[3].as_str(), given[4].as_str()), ("V", "W", "X", "Y"));
        assert!(given.is_sorted());
        let moved = keys(&[4, 1, 2, 3].map(Id), &[Some("Y"), Some("V"), Some("W"), Some("X")]);
        assert_eq!(moved[1..], ["V", "W", "X"]);
        assert!(moved[0].as_str() < "V");
        let many: Vec<Id> = (0..50_000).map(Id).collect();
        let fresh = keys(&many, &vec![None; many.len()]);
        assert!(
            fresh.windows(2).all(|w| w[0] < w[1]) && fresh.iter().all(|k| k.len() < 12),
            "{:?}",
            fresh.iter().map(String::len).max()
        );
    }

    proptest! {
        #[test]
        fn any_old_keys_give_the_order_asked_for(old in proptest::collection::vec(proptest::option::of("[0-9V-Za-b!]{0,3}"), 1..40), turn in 1u128..7) {
            let ids: Vec<Id> = (0..old.len() as u128).map(|n| Id((n * turn) % 41)).collect();
            prop_assume!(ids.iter().collect::<std::collections::HashSet<_>>().len() == ids.len());
            let old: Vec<Option<&str>> = old.iter().map(Option::as_deref).collect();
            let given = keys(&ids, &old);
            let all: Vec<(&str, Id)> = given.iter().map(String::as_str).zip(ids.iter().copied()).collect();
            prop_assert!(all.windows(2).all(|w| w[0] < w[1]), "{all:?} {old:?}");
        }
    }
}
