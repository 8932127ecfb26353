//! Rate books that ship with the library.

use crate::read::{File, tables};
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_units::Quantity;
use toml::de::DeTable;

/// One rate or price.
#[derive(Clone, Debug)]
pub struct RateEntry {
    /// Value text with spread.
    pub value: Quantity,
    /// Where it is from.
    pub source: String,
    /// What it means and contains.
    pub says: Option<String>,
}

/// A book of rates for one place and date.
#[derive(Clone, Debug)]
pub struct Book {
    /// The key it is called by: its file name.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Its currency.
    pub currency: String,
    /// The date its figures stand for.
    pub date: String,
    /// The place its figures stand for.
    pub place: String,
    /// Whether it is invented for illustration.
    pub illustrative: bool,
    /// What its rates contain.
    pub contains: Vec<String>,
    /// Entries by dotted key.
    pub rates: BTreeMap<String, RateEntry>,
}

/// Reads a rate book.
pub(crate) fn read(key: &str, name: &str, text: &str, problems: &mut Vec<Diag>) -> Book {
    let mut file = File { name, problems };
    let root = file.table(text);
    let mut book = Book {
        key: key.to_owned(),
        name: key.to_owned(),
        currency: String::new(),
        date: String::new(),
        place: String::new(),
        illustrative: false,
        contains: Vec::new(),
        rates: BTreeMap::new(),
    };
    for (section, at, table) in tables(&root) {
        match section.as_str() {
            "book" => {
                for (field, slot) in [
                    ("name", &mut book.name),
                    ("currency", &mut book.currency),
                    ("date", &mut book.date),
                    ("place", &mut book.place),
                ] {
                    if let Some((text, _)) = file.needed(table, field, at.clone()) {
                        *slot = text;
                    }
                }
                book.illustrative = file.flag(table, "illustrative");
                book.contains = file.texts(table, "contains");
            }
            "rate" => entries(&mut file, table, "", &mut book.rates, 0),
            _ => {}
        }
    }
    book
}

/// Dotted keys are nested tables; an entry is a table with a `value`.
fn entries(file: &mut File<'_>, table: &DeTable<'_>, prefix: &str, found: &mut BTreeMap<String, RateEntry>, depth: usize) {
    for (key, at, inner) in tables(table) {
        let key = if prefix.is_empty() { key } else { format!("{prefix}.{key}") };
        if let Some((text, text_at)) = file.text(inner, "value") {
            let source = file.needed(inner, "source", at).map_or_else(String::new, |t| t.0);
            let says = file.text(inner, "says").map(|t| t.0);
            if let Some(value) = file.quantity(&text, text_at, None) {
                found.insert(key, RateEntry { value, source, says });
            }
        } else if depth < 6 {
            entries(file, inner, &key, found, depth + 1);
        }
    }
}
