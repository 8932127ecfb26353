//! Quantities a value can state.

use crate::read::{File, tables};
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_units::{Quantity, Unit};

/// One quantity: its dimension, label, plausible band and default spreads.
#[derive(Clone, Debug)]
pub struct QuantityDef {
    /// The name used in files.
    pub name: String,
    /// Preferred unit; `None` for a choice or a yes-or-no.
    pub unit: Option<Unit>,
    /// The words allowed, for a choice.
    pub choices: Vec<String>,
    /// The words shown to people.
    pub label: String,
    /// Kinds of subject that carry it.
    pub on: Vec<String>,
    /// Plausible band: outside it a warning is due.
    pub band: Option<Quantity>,
    /// Spread text by evidence class, taken when a value states none.
    pub spread: BTreeMap<String, String>,
    /// What it means.
    pub says: Option<String>,
}

/// Reads the file of quantities.
pub(crate) fn read(name: &str, text: &str, problems: &mut Vec<Diag>) -> BTreeMap<String, QuantityDef> {
    let mut file = File { name, problems };
    let root = file.table(text);
    let mut found = BTreeMap::new();
    for (section, _, list) in tables(&root) {
        if section != "quantity" {
            continue;
        }
        for (key, at, table) in tables(list) {
            let Some((unit_text, unit_at)) = file.needed(table, "unit", at.clone()) else { continue };
            let unit = match unit_text.as_str() {
                "choice" | "bool" => None,
                other => file.unit(other, unit_at),
            };
            let band = file.text(table, "band").and_then(|(text, at)| file.quantity(&text, at, unit.as_ref()));
            let mut spread = BTreeMap::new();
            match table.get("spread").map(toml::Spanned::get_ref) {
                Some(toml::de::DeValue::Table(classes)) => {
                    for class in classes.keys() {
                        if let Some((text, _)) = file.text(classes, class.get_ref()) {
                            spread.insert(class.get_ref().to_string(), text);
                        }
                    }
                }
                Some(toml::de::DeValue::String(all)) => {
                    for class in ["measured", "derived", "handbook", "quoted", "assumed"] {
                        spread.insert(class.to_owned(), all.to_string());
                    }
                }
                _ => {}
            }
            let mut choices = file.texts(table, "choices");
            if unit_text == "bool" {
                choices = vec!["no".into(), "yes".into()];
            }
            let label = file.text(table, "label").map_or_else(|| key.replace('_', " "), |t| t.0);
            let says = file.text(table, "says").map(|t| t.0);
            found.insert(
                key.clone(),
                QuantityDef { name: key, unit, choices, label, on: file.texts(table, "on"), band, spread, says },
            );
        }
    }
    found
}
