//! Words to look for.

/// The most words of a query that are looked at.
const WORDS: usize = 16;

/// The words of a query in lower case: runs of letters and digits.
pub(crate) fn words(query: &str) -> Vec<String> {
    let word = |run: &str| run.to_lowercase();
    query.split(|c: char| !c.is_alphanumeric()).filter(|run| !run.is_empty()).take(WORDS).map(word).collect()
}

/// The query in the full-text language of the database, if it holds a word.
pub(crate) fn matching(query: &str) -> Option<String> {
    // Only letters and digits are inside the quotes, so nothing can end them early.
    let terms: Vec<String> = words(query).iter().map(|word| format!("\"{word}\"*")).collect();
    if terms.is_empty() { None } else { Some(terms.join(" ")) }
}
