//! A document to text that reads back to the same content.

use super::edits::with_paths;
use super::keys::keys;
use super::read::parent_word;
use crate::toml_text::{key, quoted};
use std::collections::BTreeMap;
use std::fmt::Write;
use tare_model::{Document, Field, FieldValue, Id, Kind, Record};

/// Writes a whole document as one file.
pub fn write(document: &Document) -> String {
    let mut writing = Writing { document, keys: keys(document), paths: BTreeMap::new() };
    if document.of_kind(None, Kind::Idea).next().is_some() {
        writing.paths = writing.paths();
    }
    let mut out = String::new();
    for kind in Kind::ALL {
        // Values stand under what they are of. A lock is about texts of this workspace; where the text is read, new ones are made.
        if matches!(kind, Kind::Value | Kind::Choose | Kind::Rate | Kind::Lock) {
            continue;
        }
        for record in writing.of_kind(*kind) {
            writing.record(&mut out, record);
        }
    }
    out
}

struct Writing<'a> {
    document: &'a Document,
    keys: BTreeMap<Id, String>,
    /// The path of each record, by which its identifier is made when the text is read; where the study holds ideas.
    paths: BTreeMap<Id, String>,
}

impl Writing<'_> {
    /// Records of a kind in the order of the tree: parts depth-first, everything else parent by parent.
    fn of_kind(&self, kind: Kind) -> Vec<&Record> {
        let mut found = Vec::new();
        let mut open: Vec<&Record> = self.document.children(None).rev().collect();
        while let Some(record) = open.pop() {
            if record.kind == kind {
                found.push(record);
            }
            open.extend(self.document.children(Some(record.id)).rev());
        }
        found
    }

    fn paths(&self) -> BTreeMap<Id, String> {
        let mut paths = BTreeMap::new();
        for record in self.document.records() {
            let path = match (record.kind, record.parent.and_then(|p| self.document.get(p))) {
                (Kind::Value, Some(above)) => {
                    let quantity = record.text(Field::Quantity).unwrap_or("?");
                    let number = self.stated(above, quantity).iter().position(|v| v.id == record.id).map_or(0, |n| n + 1);
                    format!("{}.{}/value.{quantity}/{number}", above.kind, self.key(above.id))
                }
                (Kind::Choose, Some(above)) => {
                    format!("{}.{}/choose.{}", above.kind, self.key(above.id), record.text(Field::Quantity).unwrap_or("?"))
                }
                (Kind::Rate, Some(above)) => {
                    format!("{}.{}/rate.{}", above.kind, self.key(above.id), record.text(Field::Key).unwrap_or("?"))
                }
                (Kind::Lock, _) => continue,
                (kind, _) => format!("{kind}.{}", self.key(record.id)),
            };
            paths.insert(record.id, path);
        }
        paths
    }

    fn key(&self, id: Id) -> &str {
        self.keys.get(&id).map_or("?", String::as_str)
    }

    fn record(&self, out: &mut String, record: &Record) {
        if !out.is_empty() {
            out.push('\n');
        }
        let _ = writeln!(out, "[{}.{}]", record.kind, key(self.key(record.id)));
        if let Some(above) = record.parent.and_then(|p| self.document.get(p)) {
            let _ = writeln!(out, "{} = {}", parent_word(record.kind, above.kind), quoted(self.key(above.id)));
        }
        for field in fields(record.kind) {
            let Some(value) = record.fields.get(field) else { continue };
            let _ = match (record.kind, field, value) {
                (Kind::Idea, Field::Edits, FieldValue::Text(text)) => {
                    writeln!(out, "{field} = {}", quoted(&with_paths(text, &self.paths)))
                }
                (Kind::Idea, Field::Subject, FieldValue::Text(text)) => {
                    let path = crate::id_of_text(text).and_then(|id| self.paths.get(&id));
                    let shown = path.map_or_else(|| text.clone(), |path| format!("<{path}>"));
                    writeln!(out, "{field} = {}", quoted(&shown))
                }
                _ => writeln!(out, "{field} = {}", self.plain(value)),
            };
        }
        self.values(out, record);
        for choose in self.document.of_kind(Some(record.id), Kind::Choose) {
            let quantity = choose.text(Field::Quantity).unwrap_or("?");
            let number = choose.refers(Field::Value).and_then(|id| self.stated(record, quantity).iter().position(|v| v.id == id));
            let mut parts = Vec::new();
            parts.extend(choose.text(Field::Method).map(|m| format!("method = {}", quoted(m))));
            parts.extend(number.map(|n| format!("value = {}", n + 1)));
            parts.extend(choose.text(Field::Says).map(|s| format!("says = {}", quoted(s))));
            let _ = writeln!(out, "choose.{} = {{ {} }}", key(quantity), parts.join(", "));
        }
        for rate in self.document.of_kind(Some(record.id), Kind::Rate) {
            let _ = writeln!(
                out,
                "rate.{} = {}",
                quoted(rate.text(Field::Key).unwrap_or("?")),
                self.short(rate, &[Field::Key], None)
            );
        }
    }

    fn stated(&self, subject: &Record, quantity: &str) -> Vec<&Record> {
        self.document.of_kind(Some(subject.id), Kind::Value).filter(|v| v.text(Field::Quantity) == Some(quantity)).collect()
    }

    fn values(&self, out: &mut String, subject: &Record) {
        let mut seen: Vec<&str> = Vec::new();
        for value in self.document.of_kind(Some(subject.id), Kind::Value) {
            let Some(quantity) = value.text(Field::Quantity) else { continue };
            if seen.contains(&quantity) {
                continue;
            }
            seen.push(quantity);
            let all = self.stated(subject, quantity);
            let shown: Vec<String> = all.iter().map(|v| self.short(v, &[Field::Quantity], Some("measured"))).collect();
            let _ = match shown.as_slice() {
                [one] => writeln!(out, "value.{} = {one}", key(quantity)),
                many => writeln!(out, "value.{} = [\n  {},\n]", key(quantity), many.join(",\n  ")),
            };
        }
    }

    /// A record as a text where only its text is worth saying, as an inline table otherwise.
    fn short(&self, record: &Record, without: &[Field], usual: Option<&str>) -> String {
        let mut parts = Vec::new();
        for field in fields(record.kind) {
            let Some(value) = record.fields.get(field).filter(|_| !without.contains(&field)) else { continue };
            let is_usual = field == Field::Evidence && matches!((value, usual), (FieldValue::Text(t), Some(u)) if t == u);
            if !is_usual || record.text(Field::Calculation).is_some() {
                parts.push((field, self.plain(value)));
            }
        }
        match parts.as_slice() {
            [(Field::Text, text)] => text.clone(),
            _ => {
                let each: Vec<String> = parts.iter().map(|(f, v)| format!("{f} = {v}")).collect();
                format!("{{ {} }}", each.join(", "))
            }
        }
    }

    fn plain(&self, value: &FieldValue) -> String {
        match value {
            FieldValue::Text(text) => quoted(text),
            FieldValue::Number(n) => n.to_string(),
            FieldValue::Flag(flag) => flag.to_string(),
            FieldValue::Ref(id) => quoted(self.key(*id)),
            FieldValue::Refs(ids) => {
                let each: Vec<String> = ids.iter().map(|id| quoted(self.key(*id))).collect();
                format!("[{}]", each.join(", "))
            }
        }
    }
}

/// The fields a kind may hold, in the order in which they are written.
fn fields(kind: Kind) -> impl Iterator<Item = Field> {
    kind.schema().fields.iter().map(|(field, _, _)| *field).chain([Field::Extra])
}
