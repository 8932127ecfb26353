//! The nearest known name to a mistyped one.

/// The known name nearest to `name`, if it is near enough to be a likely slip.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let limit = (name.chars().count() / 3).max(1);
    known.into_iter().map(|k| (distance(name, k), k)).filter(|(d, _)| *d <= limit).min().map(|(_, k)| k)
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
    }
}
