//! The texts a masked study is computed with: rates under licence, names and marks in a user's own files, digests of what is held.

use super::marks::Secrets;
use super::mask::is_price;
use super::{Masker, price};
use crate::held::Texts;
use crate::held_text::{book_text, current, file_of};
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_library::{Book, Library};
use tare_model::{Field, FieldValue, Kind, Record};
use tare_store::Sha256;
use tare_units::Quantity;

impl Masker {
    /// The library with licensed rates as bands (or without them), and with a user's own files masked as free text.
    pub(super) fn library(&mut self, library: &Arc<Library>, secrets: &Secrets) -> Arc<Library> {
        let mut over: Vec<(String, String)> = Vec::new();
        let (shipped, _) = Library::embedded();
        for book in library.books() {
            // what everybody has with the program is no secret
            if shipped.book(&book.key).is_some_and(|known| book_text(known) == book_text(book)) {
                continue;
            }
            if let Some(masked) = self.book(book, secrets) {
                over.push((file_of(&format!("rates/{}", book.key)), book_text(&masked)));
            }
        }
        let keys = library.calculations().map(|c| c.key.clone());
        let keys = keys.chain(library.materials().map(|m| format!("materials/{}", m.key)));
        let keys = keys.chain(library.fasteners().map(|f| format!("fasteners/{}", f.key)));
        let keys: Vec<String> = keys.chain(library.quantities().map(|q| format!("quantities/{}", q.name))).collect();
        let held = |library: &Library, key: &String| current(library, &[], key);
        let texts = keys.iter().filter_map(|key| Some((file_of(key), held(library, key)?, held(&shipped, key))));
        let known: BTreeMap<&str, &str> = shipped.opportunities().collect();
        let rules = library.opportunities().map(|(key, text)| {
            (format!("opportunities/{key}.toml"), text.to_owned(), known.get(key).map(|&text| text.to_owned()))
        });
        for (file, text, _) in texts.chain(rules).filter(|(_, text, known)| known.as_ref() != Some(text)) {
            let masked = self.free(&numbers_replaced(&text, secrets), &Secrets::default());
            if masked != text {
                over.push((file, masked));
            }
        }
        if over.is_empty() {
            return Arc::clone(library);
        }
        let files = over.iter().map(|(name, text)| (name.as_str(), text.as_str()));
        let (masked, problems) = (**library).clone().with_own(files);
        for problem in problems {
            self.look.push(format!("a masked text of the library does not read: {}", problem.message));
        }
        Arc::new(masked)
    }

    fn book(&mut self, book: &Book, secrets: &Secrets) -> Option<Book> {
        let mut made = book.clone();
        let mut changed = false;
        for (key, rate) in &book.rates {
            if rate.restricted || (book.restricted && is_price(key, &rate.value)) {
                self.prices += 1;
                changed = true;
                let band = price::band(&rate.value.text).filter(|_| !self.readers.withhold);
                match (band.and_then(|text| Quantity::parse(&text).ok()), made.rates.get_mut(key)) {
                    (Some(value), Some(rate)) => (rate.value, rate.source, rate.says) = (value, price::SOURCE.to_owned(), None),
                    _ => {
                        made.rates.remove(key);
                    }
                }
                continue;
            }
            let source = self.free(&rate.source, secrets);
            let says = rate.says.as_ref().map(|says| self.free(says, secrets));
            if let Some(rate) = made.rates.get_mut(key) {
                changed |= source != rate.source || says != rate.says;
                (rate.source, rate.says) = (source, says);
            }
        }
        let named = [&book.name, &book.place].map(|text| self.free(text, secrets));
        made.contains = book.contains.iter().map(|text| self.free(text, secrets)).collect();
        changed |= [&book.name, &book.place] != [&named[0], &named[1]] || made.contains != book.contains;
        [made.name, made.place] = named;
        changed.then_some(made)
    }

    /// Locks of a masked study name the masked texts: a digest of the true one could be tried out.
    pub(super) fn hold_masked(&self, records: &mut [Record], texts: &Texts, masked: &Texts) {
        for lock in records.iter_mut().filter(|record| record.kind == Kind::Lock) {
            let Some(key) = lock.text(Field::Key).map(str::to_owned) else { continue };
            let renamed = key.strip_prefix("books/").and_then(|name| {
                let at = texts.books.iter().position(|book| crate::workspace::name_of(book) == Some(name))?;
                Some(format!("books/{}", crate::workspace::name_of(&masked.books[at])?))
            });
            let now = renamed.unwrap_or_else(|| key.clone());
            let (before, after) = (texts.current(&key), masked.current(&now));
            if let Some(text) = after.filter(|text| Some(text) != before.as_ref()) {
                lock.fields.set(Field::Digest, Some(FieldValue::Text(Sha256::of(text.as_bytes()).to_string())));
            }
            lock.fields.set(Field::Key, Some(FieldValue::Text(now)));
        }
    }
}

/// A text of the library in which a licensed number with its money, written as a constant in a formula or a default, is the middle of its band.
fn numbers_replaced(text: &str, secrets: &Secrets) -> String {
    if secrets.is_empty() {
        return text.to_owned();
    }
    let (mut out, mut rest) = (String::new(), text);
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let length = rest[at..].find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len() - at);
        let number = rest[at..at + length].trim_end_matches('.');
        let behind = rest[at + number.len()..].trim_start_matches([' ', '[']);
        let code = behind.get(..3).and_then(tare_units::Currency::parse).is_some()
            && !behind[3..].starts_with(|c: char| c.is_ascii_alphanumeric());
        let in_word = rest[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_');
        let secret = code && !in_word && secrets.are_in(number);
        let middle = number.parse().ok().filter(|_| secret).and_then(price::middle);
        out.push_str(&rest[..at]);
        match middle {
            Some(middle) => out += &middle.to_string(),
            None => out.push_str(number),
        }
        rest = &rest[at + number.len()..];
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_in_a_formula_becomes_the_middle_of_its_band() {
        let mut secrets = Secrets::default();
        secrets.take("3.417 EUR/kg");
        let text = "is = \"mass * 3.417 [EUR/kg] + 3.417 * x3.417\"\ndefault = \"3.417 EUR/kg\"";
        let wanted = "is = \"mass * 3.16 [EUR/kg] + 3.417 * x3.417\"\ndefault = \"3.16 EUR/kg\"";
        assert_eq!(numbers_replaced(text, &secrets), wanted);
    }
}
