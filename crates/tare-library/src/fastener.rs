//! Standard fasteners: thread, head, and common lengths with mass and illustrative price.

use crate::material::Property;
use crate::read::{File, tables};
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_units::Quantity;
use toml::Spanned;
use toml::de::DeValue;

/// One size of a fastener in one common length.
#[derive(Clone, Debug)]
pub struct Piece {
    /// Nominal length.
    pub length: Quantity,
    /// Mass of one.
    pub mass: Option<Quantity>,
    /// Price of one, illustrative.
    pub price: Option<Quantity>,
}

/// A standard fastener.
#[derive(Clone, Debug)]
pub struct Fastener {
    /// The key a person types.
    pub key: String,
    /// Name in words.
    pub name: String,
    /// Properties by name: thread diameter, pitch, stress area ...
    pub properties: BTreeMap<String, Property>,
    /// Common lengths, ascending.
    pub pieces: Vec<Piece>,
    /// Where masses and prices of the lengths are from.
    pub pieces_source: String,
}

impl Fastener {
    /// The common length nearest to a length, if it is within a tenth of a millimetre.
    pub fn piece(&self, length: f64) -> Option<&Piece> {
        self.pieces.iter().find(|p| (p.length.value - length).abs() < 1e-4)
    }
}

/// Reads a file of fasteners.
pub(crate) fn read(name: &str, text: &str, problems: &mut Vec<Diag>) -> BTreeMap<String, Fastener> {
    let mut file = File { name, problems };
    let root = file.table(text);
    let mut found = BTreeMap::new();
    for (section, _, list) in tables(&root) {
        if section != "fastener" {
            continue;
        }
        for (key, at, table) in tables(list) {
            let title = file.needed(table, "name", at).map_or_else(|| key.clone(), |t| t.0);
            let mut properties = BTreeMap::new();
            for (property, at, stated) in tables(table) {
                let Some((text, text_at)) = file.needed(stated, "value", at.clone()) else { continue };
                let source = file.needed(stated, "source", at).map_or_else(String::new, |t| t.0);
                let seen = file.flag(stated, "seen");
                if let Some(value) = file.quantity(&text, text_at, None) {
                    properties.insert(property, Property { value, source, seen });
                }
            }
            let mut pieces = Vec::new();
            if let Some(DeValue::Array(rows)) = table.get("pieces").map(Spanned::get_ref) {
                for row in rows.iter() {
                    let DeValue::Table(cells) = row.get_ref() else { continue };
                    let mut cell = |key: &str| file.text(cells, key).and_then(|(text, at)| file.quantity(&text, at, None));
                    if let Some(length) = cell("length") {
                        pieces.push(Piece { length, mass: cell("mass"), price: cell("price") });
                    }
                }
            }
            let pieces_source = file.text(table, "pieces_source").map_or_else(String::new, |t| t.0);
            found.insert(key.clone(), Fastener { key, name: title, properties, pieces, pieces_source });
        }
    }
    found
}
