//! `value.*`, `choose.*` and `rate.*` inside a table of a study text.

use super::fields::{self, Keys, inner};
use super::identity::id_of;
use super::read::{Entry, field_of};
use crate::check_value::{Subject, check_rate, check_value};
use std::ops::Range;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Field, FieldValue, Id, Kind, Record};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// References of a record that are set once everything is there.
type References = Vec<(Field, FieldValue)>;

/// Deepest nesting of a dotted rate key.
const RATE_DEPTH: usize = 8;

/// The values, choices and rates of an entry as records, each with the references to set afterwards.
pub(super) fn read(
    set: &str,
    entry: &Entry<'_>,
    subject: Id,
    keys: &Keys,
    library: &Library,
    problems: &mut Vec<Diag>,
) -> Vec<(Record, References)> {
    let mut reading = Reading { set, entry, subject, keys, library, problems, found: Vec::new() };
    reading.values();
    reading.chooses();
    if let Some(table) = reading.section("rate", Kind::Rate) {
        reading.rates(table, "", 0);
    }
    reading.found
}

struct Reading<'a> {
    set: &'a str,
    entry: &'a Entry<'a>,
    subject: Id,
    keys: &'a Keys,
    library: &'a Library,
    problems: &'a mut Vec<Diag>,
    found: Vec<(Record, References)>,
}

impl<'a> Reading<'a> {
    fn problem(&mut self, diag: Diag, at: Range<usize>) {
        self.problems.push(diag.at(self.entry.place(at)));
    }

    /// The sub-table of a word, if the entry's kind may carry such records.
    fn section(&mut self, word: &str, kind: Kind) -> Option<&'a DeTable<'a>> {
        let section = self.entry.table.get(word)?;
        if !kind.schema().parents.contains(&self.entry.kind) {
            self.problem(Diag::error("parent-kind", format!("a {} carries no {kind}", self.entry.kind)), section.span());
            return None;
        }
        match section.get_ref() {
            DeValue::Table(table) => Some(table),
            _ => {
                let says = format!("found a single `{word}`, expected `{word}.<name> = ...`");
                self.problem(Diag::error("text-shape", says), section.span());
                None
            }
        }
    }

    fn values(&mut self) {
        let Some(table) = self.section("value", Kind::Value) else { return };
        for (quantity, stated) in sorted(table) {
            match stated.get_ref() {
                DeValue::Array(list) => {
                    for (number, one) in list.iter().enumerate() {
                        self.value(&quantity, number, one);
                    }
                }
                _ => self.value(&quantity, 0, stated),
            }
        }
    }

    fn value(&mut self, quantity: &str, number: usize, stated: &Spanned<DeValue<'_>>) {
        let id = id_of(self.set, &value_path(self.entry, quantity, number));
        let mut record = Record::new(id, Kind::Value).under(self.subject).with_text(Field::Quantity, quantity);
        let mut references = Vec::new();
        let mut text_at = stated.span();
        match stated.get_ref() {
            DeValue::String(text) => record = record.with_text(Field::Text, text.to_string()),
            DeValue::Integer(n) => record = record.with_text(Field::Text, n.to_string()),
            DeValue::Float(n) => record = record.with_text(Field::Text, n.to_string()),
            DeValue::Boolean(flag) => record = record.with_text(Field::Text, if *flag { "yes" } else { "no" }),
            DeValue::Table(table) => {
                if let Some(text) = table.get("text") {
                    text_at = text.span();
                }
                (record, references) = self.fields(record, table, "quantity");
            }
            _ => {
                let says =
                    format!("found a list or date for `{quantity}`, expected a text such as \"7.5 kg\" or a table with `text`");
                return self.problem(Diag::error("text-shape", says), text_at);
            }
        }
        if record.text(Field::Text).is_none() {
            let stand_in = match (record.text(Field::Calculation), record.text(Field::Method)) {
                (Some(_), _) => "by calculation",
                (_, Some("difference")) => "by difference",
                _ => {
                    return self
                        .problem(Diag::error("field-missing", format!("the value of `{quantity}` has no `text`")), text_at);
                }
            };
            record = record.with_text(Field::Text, stand_in);
        } else if record.text(Field::Calculation).is_none() && record.text(Field::Method) != Some("difference") {
            self.check(quantity, &record, text_at);
        }
        if record.fields.get(Field::Evidence).is_none() {
            let class = if record.text(Field::Calculation).is_some() { "derived" } else { "measured" };
            record = record.with_text(Field::Evidence, class);
        }
        self.found.push((record, references));
    }

    fn check(&mut self, quantity: &str, record: &Record, at: Range<usize>) {
        let calculation = self.entry.table.get("calculation").and_then(|c| c.get_ref().as_str());
        let subject = Subject { kind: self.entry.kind, calculation };
        let text = record.text(Field::Text).unwrap_or_default();
        for (diag, span) in check_value(self.library, &subject, quantity, text) {
            let inside = inner(at.clone());
            // Escapes shift offsets; then the whole text is underlined.
            let at = match span {
                Some(span) if inside.len() == text.len() => inside.start + span.start..inside.start + span.end,
                _ => at.clone(),
            };
            self.problem(diag, at);
        }
    }

    /// Fields of a value, choice or rate; references are kept apart.
    fn fields(&mut self, mut record: Record, table: &DeTable<'_>, own: &str) -> (Record, References) {
        let mut references = Vec::new();
        let kind = record.kind;
        for (word, value) in table {
            let name = word.get_ref().as_ref();
            let Some((field, ty)) = field_of(kind, name).filter(|_| name != own) else {
                let known = kind.schema().fields.iter().map(|(f, _, _)| f.word());
                let diag = Diag::error("field-unknown", format!("a {kind} has no field `{name}`")).did_you_mean(name, known);
                self.problem(diag, word.span());
                continue;
            };
            let read = fields::one(self.entry, field, ty, value.get_ref(), value.span(), self.keys, self.problems);
            match read {
                Some(value @ (FieldValue::Ref(_) | FieldValue::Refs(_))) => references.push((field, value)),
                Some(value) => record = record.with(field, value),
                None => {}
            }
        }
        (record, references)
    }

    fn chooses(&mut self) {
        let Some(table) = self.section("choose", Kind::Choose) else { return };
        for (quantity, stated) in sorted(table) {
            let id = id_of(self.set, &format!("{}/choose.{quantity}", self.entry.path()));
            let mut record = Record::new(id, Kind::Choose).under(self.subject).with_text(Field::Quantity, quantity.clone());
            let mut references = Vec::new();
            match stated.get_ref() {
                DeValue::String(method) => record = record.with_text(Field::Method, method.to_string()),
                DeValue::Integer(_) => {
                    record = record.with_text(Field::Method, "one");
                    references.extend(self.chosen(&quantity, stated));
                }
                DeValue::Table(table) => {
                    let mut plain = table.clone();
                    if let Some((_, value)) = plain.remove_entry("value") {
                        references.extend(self.chosen(&quantity, &value));
                    }
                    let (read, more) = self.fields(record, &plain, "quantity");
                    record = read;
                    references.extend(more);
                }
                _ => {
                    let says =
                        format!("found no choice for `{quantity}`, expected `{{ method = \"one\", value = 1 }}` or `\"mean\"`");
                    self.problem(Diag::error("text-shape", says), stated.span());
                    continue;
                }
            }
            self.found.push((record, references));
        }
    }

    fn chosen(&mut self, quantity: &str, value: &Spanned<DeValue<'_>>) -> Option<(Field, FieldValue)> {
        let count = self
            .entry
            .table
            .get("value")
            .and_then(|v| v.get_ref().get(quantity))
            .map_or(0, |v| v.get_ref().as_array().map_or(1, |a| a.len()));
        let number = fields::number(value.get_ref()).unwrap_or(-1.0);
        if number.fract() == 0.0 && number >= 1.0 && number <= count as f64 {
            let id = id_of(self.set, &value_path(self.entry, quantity, number as usize - 1));
            return Some((Field::Value, FieldValue::Ref(id)));
        }
        let says = format!("`value` chooses one of the {count} values of `{quantity}` by its number from 1");
        self.problem(Diag::error("choose-number", says), value.span());
        None
    }

    /// Rates by dotted key: quoted in one piece or nested.
    fn rates(&mut self, table: &DeTable<'_>, above: &str, depth: usize) {
        for (name, stated) in sorted(table) {
            let key = if above.is_empty() { name } else { format!("{above}.{name}") };
            let mut record = Record::new(id_of(self.set, &format!("{}/rate.{key}", self.entry.path())), Kind::Rate)
                .under(self.subject)
                .with_text(Field::Key, key.clone());
            let mut at = stated.span();
            match stated.get_ref() {
                DeValue::String(text) => record = record.with_text(Field::Text, text.to_string()),
                DeValue::Table(inside) if inside.get("text").is_some_and(|t| t.get_ref().is_str()) => {
                    at = inside.get("text").map_or(at, |t| t.span());
                    record = self.fields(record, inside, "key").0;
                }
                DeValue::Table(inside) if depth < RATE_DEPTH => {
                    self.rates(inside, &key, depth + 1);
                    continue;
                }
                _ => {
                    self.problem(
                        Diag::error("text-shape", format!("found no rate for `{key}`, expected a text such as \"24 EUR/h\"")),
                        at,
                    );
                    continue;
                }
            }
            if let Some(error) = record.text(Field::Text).and_then(|text| check_rate(self.library, &key, text)) {
                let span = error.span.clone();
                let inside = inner(at.clone());
                self.problem(
                    error.unplaced(),
                    inside.start + span.start.min(inside.len())..inside.start + span.end.min(inside.len()),
                );
            }
            self.found.push((record, Vec::new()));
        }
    }
}

fn value_path(entry: &Entry<'_>, quantity: &str, number: usize) -> String {
    format!("{}/value.{quantity}/{}", entry.path(), number + 1)
}

/// Entries of a table in the order of the file.
fn sorted<'t, 'a>(table: &'t DeTable<'a>) -> Vec<(String, &'t Spanned<DeValue<'a>>)> {
    let mut entries: Vec<_> = table.iter().map(|(k, v)| (k.span().start, k.get_ref().to_string(), v)).collect();
    entries.sort_by_key(|e| e.0);
    entries.into_iter().map(|(_, key, value)| (key, value)).collect()
}
