//! Reading data files: tables, texts and located problems.

use std::ops::Range;
use tare_diag::{Diag, Place};
use tare_units::{Quantity, Unit};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One file being read, with the problems found so far.
pub(crate) struct File<'a> {
    pub(crate) name: &'a str,
    pub(crate) problems: &'a mut Vec<Diag>,
}

impl File<'_> {
    /// Parses the text; what cannot be read becomes problems.
    pub(crate) fn table<'t>(&mut self, text: &'t str) -> DeTable<'t> {
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            self.problem(error.span().unwrap_or(0..0), "file-syntax", error.message().to_owned());
        }
        table.into_inner()
    }

    pub(crate) fn problem(&mut self, span: Range<usize>, code: &'static str, says: String) {
        self.problems.push(Diag::error(code, says).at(Place::span(self.name, span)));
    }

    /// A text field; absent is fine, another type is a problem.
    pub(crate) fn text(&mut self, table: &DeTable<'_>, key: &str) -> Option<(String, Range<usize>)> {
        let value = table.get(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some((text.to_string(), value.span())),
            _ => {
                self.problem(value.span(), "field-type", format!("`{key}` must be text"));
                None
            }
        }
    }

    /// A field that must be there.
    pub(crate) fn needed(&mut self, table: &DeTable<'_>, key: &str, at: Range<usize>) -> Option<(String, Range<usize>)> {
        if !table.contains_key(key) {
            self.problem(at, "field-missing", format!("`{key}` is missing"));
        }
        self.text(table, key)
    }

    /// A bare number that must be there.
    pub(crate) fn number(&mut self, table: &DeTable<'_>, key: &str, at: Range<usize>) -> Option<f64> {
        let Some(value) = table.get(key) else {
            self.problem(at, "field-missing", format!("`{key}` is missing"));
            return None;
        };
        let number = match value.get_ref() {
            DeValue::Integer(n) => n.as_str().replace('_', "").parse().ok(),
            DeValue::Float(x) => x.as_str().replace('_', "").parse().ok(),
            _ => None,
        };
        if number.is_none() {
            self.problem(value.span(), "field-type", format!("`{key}` must be a number"));
        }
        number
    }

    pub(crate) fn flag(&mut self, table: &DeTable<'_>, key: &str) -> bool {
        matches!(table.get(key).map(Spanned::get_ref), Some(DeValue::Boolean(true)))
    }

    pub(crate) fn texts(&mut self, table: &DeTable<'_>, key: &str) -> Vec<String> {
        let Some(DeValue::Array(entries)) = table.get(key).map(Spanned::get_ref) else { return Vec::new() };
        entries.iter().filter_map(|e| e.get_ref().as_str().map(str::to_owned)).collect()
    }

    /// Value text; `unit` is the dimension that is due.
    pub(crate) fn quantity(&mut self, text: &str, at: Range<usize>, unit: Option<&Unit>) -> Option<Quantity> {
        let parsed = match unit {
            Some(unit) => Quantity::parse_as(text, unit),
            None => Quantity::parse(text),
        };
        parsed.map_err(|e| self.problem(at, "quantity", e.to_string())).ok()
    }

    pub(crate) fn unit(&mut self, text: &str, at: Range<usize>) -> Option<Unit> {
        Unit::parse(text).map_err(|e| self.problem(at, "unit", e.to_string())).ok()
    }
}

/// The sub-tables of a table, in the order of the file.
pub(crate) fn tables<'a, 't>(table: &'a DeTable<'t>) -> Vec<(String, Range<usize>, &'a DeTable<'t>)> {
    let mut found: Vec<_> = table
        .iter()
        .filter_map(|(key, value)| match value.get_ref() {
            DeValue::Table(inner) => Some((key.get_ref().to_string(), key.span(), inner)),
            _ => None,
        })
        .collect();
    found.sort_by_key(|(_, span, _)| span.start);
    found
}
