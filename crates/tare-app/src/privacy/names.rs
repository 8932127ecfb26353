//! Names and what stands for them: the same throughout one export, and found again inside longer texts.

use super::rules::is_lettered;
use std::collections::{BTreeMap, HashMap, HashSet};

/// Shortest part of a name that is looked for by itself, in letters.
const SHORTEST: usize = 4;

/// Forms of companies, which a name is also written without.
const FORMS: [&str; 22] = [
    "gmbh",
    "ag",
    "kg",
    "co",
    "inc",
    "ltd",
    "limited",
    "llc",
    "corp",
    "corporation",
    "plc",
    "sa",
    "sas",
    "srl",
    "spa",
    "bv",
    "nv",
    "ab",
    "oy",
    "as",
    "aps",
    "company",
];

/// Pseudonyms by name, and the forms of names that are looked for in texts.
#[derive(Clone, Debug, Default)]
pub(super) struct Names {
    by_name: BTreeMap<String, String>,
    used: BTreeMap<&'static str, usize>,
    /// By the first word of a form, in lower case: the form in lower case, and what stands for it; longest first.
    forms: HashMap<String, Vec<(String, String)>>,
    /// Words that stand in lower case in some text, and so are no names.
    words: HashSet<String>,
}

impl Names {
    /// Takes up the everyday words of a text: a part of a name that is one of them is not looked for by itself.
    pub(super) fn learn(&mut self, text: &str) {
        // a word inside an address or a path is no everyday word
        let words = text.split_whitespace().map(|word| word.trim_matches(|c: char| !c.is_alphanumeric()));
        let words = words.filter(|word| word.starts_with(char::is_lowercase) && word.chars().all(char::is_alphabetic));
        for word in words.filter(|word| word.chars().count() >= SHORTEST) {
            if !self.words.contains(word) {
                self.words.insert(word.to_lowercase());
            }
        }
    }

    /// What stands for a name; made up where it is new. Where one name is met in several groups, the first counts.
    pub(super) fn named(&mut self, group: &'static str, name: &str) -> String {
        let key = folded(name.trim());
        if let Some(known) = self.by_name.get(&key) {
            return known.clone();
        }
        let number = self.used.entry(group).or_default();
        *number += 1;
        let pseudonym = format!("{group} {}", if is_lettered(group) { letters(*number) } else { number.to_string() });
        self.by_name.insert(key, pseudonym.clone());
        if !matches!(group, "file" | "photo") {
            for form in forms(group, name, &self.words) {
                self.look_for(&form, &pseudonym);
            }
        }
        pseudonym
    }

    /// What stands for a name that is known.
    pub(super) fn known(&self, name: &str) -> Option<&str> {
        self.by_name.get(&folded(name.trim())).map(String::as_str)
    }

    fn look_for(&mut self, form: &str, pseudonym: &str) {
        let form = folded(form);
        let first: String = form.chars().take_while(|c| c.is_alphanumeric()).collect();
        let known = self.forms.entry(first).or_default();
        if known.iter().all(|(other, _)| *other != form) {
            known.push((form, pseudonym.to_owned()));
            known.sort_by_key(|(form, _)| std::cmp::Reverse(form.len()));
        }
    }

    /// The text with every name that is known replaced, and how many were.
    pub(super) fn replaced(&self, text: &str) -> Option<(String, usize)> {
        if self.forms.is_empty() {
            return None;
        }
        let (mut out, mut count, mut kept) = (String::new(), 0, 0);
        let mut at = 0;
        let mut before: Option<char> = None;
        while let Some(c) = text[at..].chars().next() {
            let begins = !before.is_some_and(char::is_alphanumeric);
            if begins && let Some((length, pseudonym)) = self.at(&text[at..]) {
                out.push_str(&text[kept..at]);
                out.push_str(pseudonym);
                at += length;
                kept = at;
                count += 1;
                before = Some('x');
                continue;
            }
            before = Some(c);
            at += c.len_utf8();
        }
        out.push_str(&text[kept..]);
        (count > 0).then_some((out, count))
    }

    /// The longest name a text begins with: its bytes, and what stands for it.
    fn at(&self, text: &str) -> Option<(usize, &str)> {
        let first: String = text.chars().take_while(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
        self.forms.get(&first)?.iter().find_map(|(form, pseudonym)| Some((begins(text, form)?, pseudonym.as_str())))
    }
}

/// How many bytes of a text are a form, whatever the case and the kind of blanks; none where a word goes on behind it.
fn begins(text: &str, form: &str) -> Option<usize> {
    let mut wanted = form.chars().peekable();
    let mut letters = text.char_indices();
    let mut end = 0;
    while wanted.peek().is_some() {
        let (at, c) = letters.next()?;
        end = at + c.len_utf8();
        if c.is_whitespace() {
            if wanted.next() != Some(' ') {
                return None;
            }
            while text[end..].starts_with(char::is_whitespace) {
                end += letters.next()?.1.len_utf8();
            }
            continue;
        }
        if c.to_lowercase().any(|lower| wanted.next() != Some(lower)) {
            return None;
        }
    }
    let inside = text[..end].ends_with(char::is_alphanumeric) && text[end..].starts_with(char::is_alphanumeric);
    (!inside).then_some(end)
}

/// Lower case, with one blank between words.
fn folded(text: &str) -> String {
    text.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The forms in which a name is met: whole, without what stands in brackets, without the form of a company; its first word, of a person every word,
/// where that is no everyday word.
fn forms(group: &str, name: &str, everyday: &HashSet<String>) -> Vec<String> {
    let bare = name.split(['(', '[', ',', ';']).next().unwrap_or_default().trim();
    let mut found = vec![name.trim().to_owned(), bare.to_owned()];
    let words: Vec<&str> = bare.split_whitespace().collect();
    let distinct = |word: &&str| word.starts_with(char::is_uppercase) && !everyday.contains(&word.to_lowercase());
    let part = |word: &str| word.trim_matches(|c: char| !c.is_alphanumeric()).to_owned();
    if group == "person" {
        found.extend(words.last().filter(|_| words.len() > 1).map(|word| (*word).to_owned()));
        found.extend(words.iter().filter(|word| distinct(word) && !word.ends_with('.')).map(|word| part(word)));
    } else {
        let mut short = words.as_slice();
        while let [rest @ .., last] = short {
            let last: String = last.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
            if !FORMS.contains(&last.as_str()) && !last.is_empty() {
                break;
            }
            short = rest;
        }
        found.push(short.join(" "));
        found.extend(words.first().filter(|word| distinct(word)).map(|word| part(word)));
    }
    let mut kept: Vec<String> = Vec::new();
    for (at, form) in found.into_iter().enumerate() {
        let letters = form.chars().filter(|c| c.is_alphanumeric()).count();
        // a single letter or digit as a name would be found everywhere
        let long = if at == 0 { letters >= 2 } else { letters >= SHORTEST };
        if long && form.starts_with(char::is_alphanumeric) && !kept.contains(&form) {
            kept.push(form);
        }
    }
    kept
}

/// A, B ... Z, AA ...
fn letters(number: usize) -> String {
    let (mut left, mut out) = (number, String::new());
    while left > 0 {
        out.insert(0, char::from(b'A' + ((left - 1) % 26) as u8));
        left = (left - 1) / 26;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_in_whichever_form() {
        let mut names = Names::default();
        assert_eq!(names.named("person", "R. Halloran (technician)"), "person 1");
        assert_eq!(names.named("supplier", "Nordwerk Druckguss GmbH & Co. KG"), "supplier A");
        assert_eq!(names.named("person", "r. halloran (Technician)"), "person 1");
        assert_eq!(names.named("person", "김민준"), "person 2");
        let said = |text: &str| names.replaced(text).map_or_else(|| text.to_owned(), |(text, _)| text);
        assert_eq!(said("asked HALLORAN, then R.  Halloran again"), "asked person 1, then person 1 again");
        assert_eq!(said("from Nordwerk Druckguss, Nordwerk Druckguss GmbH & Co. KG"), "from supplier A, supplier A");
        assert_eq!(said("김민준: ok"), "person 2: ok");
        assert_eq!(said("Hallorans are others"), "Hallorans are others");
        assert_eq!(said("no technician"), "no technician");
        assert_eq!(said("Nordwerk asks more"), "supplier A asks more");
    }

    #[test]
    fn a_first_word_that_is_an_everyday_word_is_not_looked_for() {
        let mut names = Names::default();
        names.learn("a relay (beside) the Contactor, ask isolde@quill");
        assert_eq!(names.named("supplier", "Relay maker 1"), "supplier A");
        assert_eq!(names.named("supplier", "Contactor works"), "supplier B");
        assert_eq!(names.named("person", "Isolde Quill"), "person 1");
        let said = |text: &str| names.replaced(text).map_or_else(|| text.to_owned(), |(text, _)| text);
        assert_eq!(said("Relay with the coil of Relay maker 1; Isolde"), "Relay with the coil of supplier A; person 1");
        assert_eq!(said("Contactor"), "supplier B", "what might be a name is masked");
    }

    #[test]
    fn letters_go_on_behind_z() {
        assert_eq!([1, 26, 27, 52, 703].map(letters), ["A", "Z", "AA", "AZ", "AAA"]);
    }
}
