//! Materials and their properties.

use crate::read::{File, tables};
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_units::Quantity;

/// One property of a material, with its source.
#[derive(Clone, Debug)]
pub struct Property {
    /// Typical value with its working band as spread.
    pub value: Quantity,
    /// Where it is from.
    pub source: String,
    /// Whether the figure was read at the source, rather than recalled.
    pub seen: bool,
}

/// A material of the library.
#[derive(Clone, Debug)]
pub struct Material {
    /// The key a person types.
    pub key: String,
    /// Name in words.
    pub name: String,
    /// Family: decides exchange metal and scrap share.
    pub family: String,
    /// Properties by name.
    pub properties: BTreeMap<String, Property>,
}

/// Reads a file of materials.
pub(crate) fn read(name: &str, text: &str, problems: &mut Vec<Diag>) -> BTreeMap<String, Material> {
    let mut file = File { name, problems };
    let root = file.table(text);
    let mut found = BTreeMap::new();
    for (section, _, list) in tables(&root) {
        if section != "material" {
            continue;
        }
        for (key, at, table) in tables(list) {
            let title = file.needed(table, "name", at.clone()).map_or_else(|| key.clone(), |t| t.0);
            let family = file.needed(table, "family", at).map_or_else(String::new, |t| t.0);
            let mut properties = BTreeMap::new();
            for (property, at, stated) in tables(table) {
                let Some((text, text_at)) = file.needed(stated, "value", at.clone()) else { continue };
                let source = file.needed(stated, "source", at).map_or_else(String::new, |t| t.0);
                let seen = file.flag(stated, "seen");
                if let Some(value) = file.quantity(&text, text_at, None) {
                    properties.insert(property, Property { value, source, seen });
                }
            }
            found.insert(key.clone(), Material { key, name: title, family, properties });
        }
    }
    found
}
