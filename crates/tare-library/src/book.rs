//! Rate books that ship with the library.

use crate::QuantityDef;
use crate::read::{File, tables};
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_units::{Quantity, QuantityError, Unit};
use toml::de::DeTable;

/// Deepest dotted key followed.
const KEY_DEPTH: usize = 6;

/// One rate or price.
#[derive(Clone, Debug)]
pub struct RateEntry {
    /// Value text with spread.
    pub value: Quantity,
    /// Where it is from.
    pub source: String,
    /// What it means and contains.
    pub says: Option<String>,
    /// Whether it was given under terms that forbid passing it on (`licence = "restricted"`).
    pub restricted: bool,
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
    /// Whether all of it was given under terms that forbid passing it on (`licence = "restricted"`).
    pub restricted: bool,
    /// What its rates contain.
    pub contains: Vec<String>,
    /// Entries by dotted key.
    pub rates: BTreeMap<String, RateEntry>,
}

/// The declared unit of a rate: that of the longest beginning of its dotted key which is declared as `rate.<beginning>`.
pub(crate) fn unit_of<'q>(quantities: &'q BTreeMap<String, QuantityDef>, key: &str) -> Option<&'q Unit> {
    let mut start = key;
    loop {
        if let Some(known) = quantities.get(&format!("rate.{start}")) {
            return known.unit.as_ref();
        }
        start = start.rsplit_once('.')?.0;
    }
}

/// Reads the text of a rate; a declared one must have its dimension.
pub(crate) fn read_rate(quantities: &BTreeMap<String, QuantityDef>, key: &str, text: &str) -> Result<Quantity, QuantityError> {
    match unit_of(quantities, key) {
        Some(unit) => Quantity::parse_as(text, unit),
        None => Quantity::parse(text),
    }
}

/// Reads a rate book; `quantities` declare the units of its keys.
pub(crate) fn read(
    key: &str,
    name: &str,
    text: &str,
    quantities: &BTreeMap<String, QuantityDef>,
    problems: &mut Vec<Diag>,
) -> Book {
    let mut file = File { name, problems };
    let root = file.table(text);
    let mut book = Book {
        key: key.to_owned(),
        name: key.to_owned(),
        currency: String::new(),
        date: String::new(),
        place: String::new(),
        illustrative: false,
        restricted: false,
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
                book.restricted = restricted(&mut file, table);
                book.contains = file.texts(table, "contains");
            }
            "rate" => entries(&mut file, table, "", quantities, &mut book.rates),
            _ => {}
        }
    }
    book
}

/// Dotted keys are nested tables; an entry is a table with a `value`.
fn entries(
    file: &mut File<'_>,
    table: &DeTable<'_>,
    prefix: &str,
    quantities: &BTreeMap<String, QuantityDef>,
    found: &mut BTreeMap<String, RateEntry>,
) {
    for (key, at, inner) in tables(table) {
        let key = if prefix.is_empty() { key } else { format!("{prefix}.{key}") };
        if let Some((text, text_at)) = file.text(inner, "value") {
            let source = file.needed(inner, "source", at).map_or_else(String::new, |t| t.0);
            let says = file.text(inner, "says").map(|t| t.0);
            let restricted = restricted(file, inner);
            match read_rate(quantities, &key, &text) {
                Ok(value) => {
                    found.insert(key, RateEntry { value, source, says, restricted });
                }
                Err(error) => file.problem(text_at, "rate-unit", format!("rate `{key}`: {error}")),
            }
        } else if key.split('.').count() <= KEY_DEPTH {
            entries(file, inner, &key, quantities, found);
        }
    }
}

/// Whether a table is marked as not to be passed on.
fn restricted(file: &mut File<'_>, table: &DeTable<'_>) -> bool {
    match file.text(table, "licence") {
        Some((word, _)) if word == "restricted" => true,
        Some((word, at)) => {
            file.problem(at, "licence", format!("`licence` is `restricted` or left out, found `{word}`"));
            false
        }
        None => false,
    }
}
