//! The texts that can be held, by key: calculations, materials, fasteners, quantities, rate books of the library and of the workspace.
//!
//! A key is that of the calculation, or `materials/`, `fasteners/`, `quantities/`, `rates/` (a book of the library) or `books/` (one of
//! the workspace) and a name. Texts are library files that can be laid over the library; a book of the workspace is its records.

use crate::workspace::name_of;
use std::fmt::Write;
use tare_library::{Book, Fastener, Library, Material, Property, QuantityDef};
use tare_model::{Document, DocumentKind, Id, Record};

/// The text of a key as library and books have it.
pub(crate) fn current(library: &Library, books: &[Document], key: &str) -> Option<String> {
    match key.split_once('/') {
        Some(("materials", name)) => library.material(name).map(material_text),
        Some(("fasteners", name)) => library.fastener(name).map(fastener_text),
        Some(("quantities", name)) => library.quantity(name).map(quantity_text),
        Some(("rates", name)) => library.book(name).map(book_text),
        Some(("books", name)) => books.iter().find(|b| name_of(b) == Some(name)).and_then(records_text),
        _ => library.find(key).map(|c| c.text.clone()),
    }
}

/// The name under which a held text is laid over the library.
pub(crate) fn file_of(key: &str) -> String {
    match key.split_once('/') {
        Some(("materials", _)) => "materials.toml".to_owned(),
        Some(("fasteners", _)) => "fasteners.toml".to_owned(),
        Some(("quantities", _)) => "quantities.toml".to_owned(),
        _ => format!("{key}.toml"),
    }
}

/// The book of the workspace that a held text is.
pub(crate) fn book_document(text: &str) -> Option<Document> {
    let (id, records): (Id, Vec<Record>) = serde_json::from_str(text).ok()?;
    Some(Document::from_records(id, DocumentKind::Book, records))
}

fn records_text(book: &Document) -> Option<String> {
    let records: Vec<&Record> = book.records().collect();
    serde_json::to_string(&(book.id, records)).ok()
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn list(texts: &[String]) -> String {
    let each: Vec<String> = texts.iter().map(|t| quoted(t)).collect();
    format!("[{}]", each.join(", "))
}

fn property(out: &mut String, name: &str, property: &Property) {
    let (value, source) = (quoted(&property.value.text), quoted(&property.source));
    let _ = writeln!(out, "{} = {{ value = {value}, source = {source}, seen = {} }}", quoted(name), property.seen);
}

fn material_text(material: &Material) -> String {
    let mut out = format!(
        "[material.{}]\nname = {}\nfamily = {}\n",
        quoted(&material.key),
        quoted(&material.name),
        quoted(&material.family)
    );
    material.properties.iter().for_each(|(name, stated)| property(&mut out, name, stated));
    out
}

fn fastener_text(fastener: &Fastener) -> String {
    let mut out = format!("[fastener.{}]\nname = {}\n", quoted(&fastener.key), quoted(&fastener.name));
    let _ = writeln!(out, "pieces_source = {}\npieces = [", quoted(&fastener.pieces_source));
    for piece in &fastener.pieces {
        let cells = [("length", Some(&piece.length)), ("mass", piece.mass.as_ref()), ("price", piece.price.as_ref())];
        let cells = cells.iter().filter_map(|(name, cell)| Some(format!("{name} = {}", quoted(&(*cell)?.text))));
        let _ = writeln!(out, "  {{ {} }},", cells.collect::<Vec<_>>().join(", "));
    }
    out += "]\n";
    fastener.properties.iter().for_each(|(name, stated)| property(&mut out, name, stated));
    out
}

fn quantity_text(quantity: &QuantityDef) -> String {
    let unit = quantity.unit.as_ref().map_or("choice", |unit| unit.text.as_str());
    let mut out = format!("[quantity.{}]\nunit = {}\n", quoted(&quantity.name), quoted(unit));
    let _ = writeln!(out, "label = {}\non = {}", quoted(&quantity.label), list(&quantity.on));
    if !quantity.choices.is_empty() {
        let _ = writeln!(out, "choices = {}", list(&quantity.choices));
    }
    if let Some(band) = &quantity.band {
        let _ = writeln!(out, "band = {}", quoted(&band.text));
    }
    if !quantity.spread.is_empty() {
        let each: Vec<String> = quantity.spread.iter().map(|(class, text)| format!("{class} = {}", quoted(text))).collect();
        let _ = writeln!(out, "spread = {{ {} }}", each.join(", "));
    }
    if let Some(says) = &quantity.says {
        let _ = writeln!(out, "says = {}", quoted(says));
    }
    out
}

pub(crate) fn book_text(book: &Book) -> String {
    let mut out = format!(
        "[book]\nname = {}\ncurrency = {}\ndate = {}\nplace = {}\nillustrative = {}\ncontains = {}\n",
        quoted(&book.name),
        quoted(&book.currency),
        quoted(&book.date),
        quoted(&book.place),
        book.illustrative,
        list(&book.contains)
    );
    // texts held before the word was there stay what they are
    let licence = |out: &mut String, restricted: bool| {
        if restricted {
            out.push_str("licence = \"restricted\"\n");
        }
    };
    licence(&mut out, book.restricted);
    for (key, rate) in &book.rates {
        let _ =
            writeln!(out, "\n[rate.{}]\nvalue = {}\nsource = {}", quoted(key), quoted(&rate.value.text), quoted(&rate.source));
        if let Some(says) = &rate.says {
            let _ = writeln!(out, "says = {}", quoted(says));
        }
        licence(&mut out, rate.restricted);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every text that can be held, laid over an empty library, is what it was taken from.
    #[test]
    fn a_held_text_reads_back_to_what_it_was_taken_from() {
        let (library, _) = Library::embedded();
        let mut keys: Vec<String> = library.materials().map(|m| format!("materials/{}", m.key)).collect();
        keys.extend(library.fasteners().map(|f| format!("fasteners/{}", f.key)));
        keys.extend(library.quantities().map(|q| format!("quantities/{}", q.name)));
        keys.extend(library.books().map(|b| format!("rates/{}", b.key)));
        keys.extend(library.calculations().map(|c| c.key.clone()));
        assert!(keys.len() > 500, "{}", keys.len());
        let texts: Vec<(String, String)> =
            keys.iter().map(|key| (file_of(key), current(&library, &[], key).expect("a text"))).collect();
        let over = texts.iter().map(|(name, text)| (name.as_str(), text.as_str()));
        let (again, problems) = Library::default().with_own(over);
        assert_eq!(problems, Vec::new());
        for (key, (_, text)) in keys.iter().zip(&texts) {
            assert_eq!(current(&again, &[], key).as_ref(), Some(text), "{key}");
        }
        for book in library.books() {
            for (key, rate) in &book.rates {
                assert_eq!(again.book(&book.key).map(|b| &b.rates[key].value), Some(&rate.value), "{key}");
            }
        }
        for quantity in library.quantities() {
            let read = again.quantity(&quantity.name).expect("read");
            assert_eq!(
                (&read.unit, &read.band, &read.spread, &read.choices, &read.on),
                (&quantity.unit, &quantity.band, &quantity.spread, &quantity.choices, &quantity.on)
            );
        }
    }
}
