//! Typed access to a rule's file, with a located message for whatever does not fit.

use crate::question::Located;
use std::ops::Range;
use tare_calc::{SourceMap, Span};
use tare_diag::{Diag, Place};
use toml::de::{DeTable, DeValue};

/// A text of a file with the way back to where it stands.
#[derive(Clone, Debug)]
pub(super) struct Text {
    pub(super) value: String,
    map: SourceMap,
}

/// One file being read.
pub(super) struct File<'a> {
    name: String,
    source: &'a str,
    pub(super) problems: Vec<Diag>,
    /// Fields that misspelt ones were meant to be: they are not missing as well.
    meant: Vec<&'static str>,
}

impl<'a> File<'a> {
    pub(super) fn new(key: &str, source: &'a str) -> Self {
        Self { name: format!("library/opportunities/{key}.toml"), source, problems: Vec::new(), meant: Vec::new() }
    }

    pub(super) fn table<'t>(&mut self, text: &'t str) -> DeTable<'t> {
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            self.fail("file-syntax", error.message().to_owned(), error.span().unwrap_or(0..0), None);
        }
        table.into_inner()
    }

    pub(super) fn fail(&mut self, code: &'static str, says: impl Into<String>, span: Range<usize>, hint: Option<&str>) {
        let mut diag = Diag::error(code, says).at(Place::span(&self.name, span));
        diag.hints.extend(hint.map(str::to_owned));
        self.problems.push(diag);
    }

    /// Adds to the last message what a word was likely meant to be.
    pub(super) fn near(&mut self, word: &str, known: &[&str]) {
        if let Some(diag) = self.problems.pop() {
            self.problems.push(diag.did_you_mean(word, known.iter().copied()));
        }
    }

    /// Takes a result whose problems count in a text of the file.
    pub(super) fn take<T>(&mut self, text: &Text, result: Result<T, Vec<Located>>) -> Option<T> {
        result
            .map_err(|problems| {
                let place = |span: Span| Place::span(&self.name, text.map.map(span).range());
                let located: Vec<Diag> = problems.into_iter().map(|(span, diag)| diag.at(place(span))).collect();
                self.problems.extend(located);
            })
            .ok()
    }

    /// A message for every key that is not among `known`.
    pub(super) fn only(&mut self, table: &DeTable<'_>, known: &[&'static str], what: &str) {
        let mut strangers: Vec<(String, Range<usize>)> = table
            .keys()
            .filter(|key| !known.contains(&key.get_ref().as_ref()))
            .map(|key| (key.get_ref().to_string(), key.span()))
            .collect();
        strangers.sort_by_key(|(_, span)| span.start);
        for (key, span) in strangers {
            let diag = Diag::error("unknown-field", format!("{what} has no field `{key}`")).at(Place::span(&self.name, span));
            let near = known.iter().find(|k| Some(**k) == tare_diag::nearest(&key, known.iter().copied()));
            self.meant.extend(near);
            let diag = diag.did_you_mean(&key, known.iter().copied());
            self.problems.push(if diag.hints.is_empty() { diag.hint(format!("fields are: {}", known.join(", "))) } else { diag });
        }
    }

    /// The text under a key, if the key is there.
    pub(super) fn text(&mut self, table: &DeTable<'_>, key: &str) -> Option<Text> {
        let value = table.get(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some(Text { value: text.to_string(), map: SourceMap::new(self.source, value.span(), text) }),
            _ => {
                self.fail("field-type", format!("`{key}` must be a text in quotes"), value.span(), None);
                None
            }
        }
    }

    /// The text under a key that must be there and say something.
    pub(super) fn needed(&mut self, table: &DeTable<'_>, key: &str, at: Range<usize>) -> Option<Text> {
        if !table.contains_key(key) {
            if !self.meant.contains(&key) {
                self.fail("field-missing", format!("`{key}` is missing"), at, None);
            }
            return None;
        }
        let text = self.text(table, key)?;
        if text.value.trim().is_empty() {
            self.fail("field-empty", format!("`{key}` is empty"), text.span(), None);
            return None;
        }
        Some(text)
    }

    pub(super) fn flag(&mut self, table: &DeTable<'_>, key: &str) -> bool {
        match table.get(key).map(|value| (value.get_ref(), value.span())) {
            None => false,
            Some((DeValue::Boolean(flag), _)) => *flag,
            Some((_, span)) => {
                self.fail("field-type", format!("`{key}` must be true or false"), span, None);
                // what was said here was meant to be something
                true
            }
        }
    }
}

impl Text {
    /// Where it stands, without its quotes.
    pub(super) fn span(&self) -> Range<usize> {
        self.map.map(Span::new(0, self.value.len())).range()
    }
}
