//! The nearest known name to a mistyped one.

/// The known name nearest to `name`, if it is near enough to be a likely slip.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = name.chars().count();
    let limit = (length / 3).max(1);
    let lower = name.to_lowercase();
    let known: Vec<&str> = known.into_iter().collect();
    // Who wrote the beginning of a longer name meant that one: `EN-AW-6082` is nearer to `EN-AW-6082-T6` than to `EN-AW-5083`.
    let begun = known.iter().filter(|k| length >= 4 && k.to_lowercase().starts_with(&lower)).min_by_key(|k| (k.len(), **k));
    begun
        .copied()
        .or_else(|| known.into_iter().map(|k| (distance(name, k), k)).filter(|(d, _)| *d <= limit).min().map(|(_, k)| k))
}

/// Edit distance (insert, delete, replace), letter case ignored.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.to_lowercase().chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.to_lowercase().chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let next = (diagonal + usize::from(x != *y)).min(row[j] + 1).min(row[j + 1] + 1);
            diagonal = row[j + 1];
            row[j + 1] = next;
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_slips_and_leaves_strangers() {
        assert_eq!(nearest("densty", ["mass", "density"]), Some("density"));
        assert_eq!(nearest("EN-AW-6O82", ["EN-AW-6082", "EN-AW-6063"]), Some("EN-AW-6082"));
        assert_eq!(nearest("wall", ["pressure", "density"]), None);
        assert_eq!(nearest("EN-AW-6082", ["EN-AW-5083", "EN-AW-6082-T6"]), Some("EN-AW-6082-T6"));
        assert_eq!(nearest("joints/screw", ["joints/clip", "joints/screw-tapped-hole"]), Some("joints/screw-tapped-hole"));
    }
}
