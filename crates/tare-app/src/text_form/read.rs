//! Text files to the changes that build a document.

use super::edits;
use super::fields::{self, Keys};
use super::identity::id_of;
use super::values;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Change, DocumentKind, Field, FieldType, FieldValue, Id, Kind, Record, first_order, order_between};
use toml::de::{DeTable, DeValue};

/// The largest text file that is read, in bytes.
const MAX_TEXT: usize = 16 << 20;
/// Deepest tree of parts, counted from the product.
const DEPTH: usize = 64;

/// A text file: its name as the user knows it, and its text.
#[derive(Clone, Copy, Debug)]
pub struct TextFile<'a> {
    /// The name shown in messages.
    pub name: &'a str,
    /// The text.
    pub text: &'a str,
}

/// A document as its text describes it.
#[derive(Clone, Debug)]
pub struct TextDocument {
    /// What it is: a study, or a book of rates.
    pub kind: DocumentKind,
    /// Its identifier, made from the set's name.
    pub id: Id,
    /// The name of its study or book.
    pub name: String,
    /// What builds it, in an order that can be applied.
    pub changes: Vec<Change>,
    /// What is doubtful, but stands.
    pub warnings: Vec<Diag>,
}

/// One table `[kind.key]` of a file.
pub(super) struct Entry<'a> {
    pub(super) kind: Kind,
    pub(super) key: String,
    pub(super) file: &'a str,
    pub(super) at: Range<usize>,
    pub(super) table: &'a DeTable<'a>,
}

impl Entry<'_> {
    pub(super) fn place(&self, at: Range<usize>) -> Place {
        Place::span(self.file, at)
    }
    pub(super) fn path(&self) -> String {
        format!("{}.{}", self.kind, self.key)
    }
}

/// Reads a set of files as one document. All problems at once, in the order of the files; warnings do not stop it.
///
/// # Errors
/// Every error found: broken TOML, unknown kinds, fields, references and quantities, broken values, circles.
pub fn read(set: &str, files: &[TextFile<'_>], library: &Library) -> Result<TextDocument, Vec<Diag>> {
    let mut problems = Vec::new();
    let mut parsed = Vec::new();
    for file in files {
        if file.text.len() > MAX_TEXT {
            let says = format!("the file holds {} bytes, expected a study text of at most {MAX_TEXT}", file.text.len());
            problems.push(
                Diag::error("text-too-large", says).at(Place::File(file.name.to_owned())).hint("split it into several files"),
            );
            continue;
        }
        let (table, errors) = DeTable::parse_recoverable(file.text);
        for error in errors.iter().take(20) {
            let at = error.span().unwrap_or(0..0);
            problems.push(Diag::error("text-syntax", error.message().to_owned()).at(Place::span(file.name, at)));
        }
        parsed.push((file.name, table.into_inner()));
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let mut entries = Vec::new();
    for (file, table) in &parsed {
        collect(file, table, &mut entries, &mut problems);
    }
    let reading = Reading { set, library, entries: &entries, keys: keys_of(&entries, set, &mut problems) };
    let (mut changes, found) = reading.changes();
    problems.extend(found);
    let kind = if entries.iter().any(|e| e.kind == Kind::Study) { DocumentKind::Study } else { DocumentKind::Book };
    let edits = edits::read(set, kind, &entries, &changes, library, &mut problems);
    changes.extend(edits);
    let (errors, warnings): (Vec<Diag>, Vec<Diag>) = problems.into_iter().partition(Diag::is_error);
    let head = entries.iter().find(|e| e.kind == Kind::Study).or_else(|| entries.iter().find(|e| e.kind == Kind::Book));
    let Some(head) = head else {
        let place = Place::File(files.first().map_or_else(|| set.to_owned(), |f| f.name.to_owned()));
        let none =
            Diag::error("text-no-study", "found neither `[study.<key>]` nor `[book.<key>]`, expected one of them").at(place);
        return Err(errors.into_iter().chain([none.hint("begin with `[study.main]` and a `name`")]).collect());
    };
    if !errors.is_empty() {
        return Err(errors);
    }
    let name = head.table.get("name").and_then(|n| n.get_ref().as_str().map(str::to_owned)).unwrap_or_else(|| head.key.clone());
    Ok(TextDocument { kind, id: id_of(set, "document"), name, changes, warnings })
}

fn collect<'a>(file: &'a str, root: &'a DeTable<'a>, entries: &mut Vec<Entry<'a>>, problems: &mut Vec<Diag>) {
    let mut found: Vec<Entry<'a>> = Vec::new();
    for (word, section) in root {
        let at = word.span();
        let Some(kind) = Kind::from_word(word.get_ref()) else {
            let words = Kind::ALL.iter().map(|k| k.word());
            let diag = Diag::error("text-kind", format!("`{}` is no kind of record", word.get_ref())).at(Place::span(file, at));
            problems.push(diag.did_you_mean(word.get_ref(), words));
            continue;
        };
        if matches!(kind, Kind::Value | Kind::Choose | Kind::Rate) {
            let says = format!("a {kind} has no table of its own, found `[{kind}]`");
            problems.push(
                Diag::error("text-nested", says)
                    .at(Place::span(file, at))
                    .hint(format!("write `{kind}.<name> = ...` inside its subject")),
            );
            continue;
        }
        let DeValue::Table(records) = section.get_ref() else {
            let says = format!("found a value for `{kind}`, expected tables such as `[{kind}.main]`");
            problems.push(Diag::error("text-shape", says).at(Place::span(file, at)));
            continue;
        };
        for (key, record) in records {
            let place = Place::span(file, key.span());
            match record.get_ref() {
                DeValue::Table(table) => {
                    found.push(Entry { kind, key: key.get_ref().to_string(), file, at: key.span(), table });
                }
                _ => {
                    let says =
                        format!("`{kind}.{}` is a value, expected a table `[{kind}.<key>]` with its fields", key.get_ref());
                    problems.push(Diag::error("text-shape", says).at(place));
                }
            }
        }
    }
    found.sort_by_key(|e| e.at.start);
    entries.extend(found);
}

fn keys_of(entries: &[Entry<'_>], set: &str, problems: &mut Vec<Diag>) -> Keys {
    let mut keys: Keys = BTreeMap::new();
    let mut first: BTreeMap<(Kind, &str), &Entry<'_>> = BTreeMap::new();
    for entry in entries {
        if let Some(other) = first.insert((entry.kind, &entry.key), entry) {
            let says = format!("two records are called `{}`", entry.path());
            let diag = Diag::error("text-twice", says)
                .at(entry.place(entry.at.clone()))
                .with(other.place(other.at.clone()), "the first one");
            problems.push(diag.hint("give one of them another key"));
            continue;
        }
        keys.entry(entry.kind).or_default().insert(entry.key.clone(), id_of(set, &entry.path()));
    }
    let singles = [Kind::Study, Kind::Scenario, Kind::Book];
    for kind in singles {
        if let Some(second) = entries.iter().filter(|e| e.kind == kind).nth(1) {
            let says = format!("found a second {kind}, expected one in a document");
            problems.push(
                Diag::error("text-second", says)
                    .at(second.place(second.at.clone()))
                    .hint("put it into a set of files of its own"),
            );
        }
    }
    keys
}

struct Reading<'a> {
    set: &'a str,
    library: &'a Library,
    entries: &'a [Entry<'a>],
    keys: Keys,
}

impl Reading<'_> {
    fn changes(&self) -> (Vec<Change>, Vec<Diag>) {
        let (mut adds, mut sets, mut problems) = (Vec::new(), Vec::new(), Vec::new());
        let mut orders: BTreeMap<Option<Id>, String> = BTreeMap::new();
        for entry in self.in_order(&mut problems) {
            let id = id_of(self.set, &entry.path());
            let parent = self.parent(entry, &mut problems);
            let mut record = Record::new(id, entry.kind).ordered(next(&mut orders, parent));
            record.parent = parent;
            for (field, value) in fields::read(entry, &self.keys, self.library, &mut problems) {
                // what an idea of a rule is about is told by its path
                let value = match value {
                    FieldValue::Text(text) if field == Field::Subject && entry.kind == Kind::Idea => {
                        let path = text.strip_prefix('<').and_then(|t| t.strip_suffix('>'));
                        FieldValue::Text(path.map_or_else(|| text.clone(), |path| id_of(self.set, path).to_string()))
                    }
                    other => other,
                };
                let required = entry.kind.schema().fields.iter().any(|(f, _, r)| *f == field && *r);
                if !required && matches!(value, FieldValue::Ref(_) | FieldValue::Refs(_)) {
                    sets.push(Change::Set { id, field, to: Some(value) });
                } else {
                    record = record.with(field, value);
                }
            }
            for (field, _, required) in entry.kind.schema().fields {
                if *required && record.fields.get(*field).is_none() && !entry.table.contains_key(field.word()) {
                    let says = format!("the {} `{}` needs its `{field}`", entry.kind, entry.key);
                    problems.push(Diag::error("field-missing", says).at(entry.place(entry.at.clone())));
                }
            }
            adds.push(Change::Add { record });
            for (record, references) in values::read(self.set, entry, id, &self.keys, self.library, &mut problems) {
                let order = next(&mut orders, Some(id));
                sets.extend(references.into_iter().map(|(field, value)| Change::Set { id: record.id, field, to: Some(value) }));
                adds.push(Change::Add { record: record.ordered(order) });
            }
        }
        adds.extend(sets);
        (adds, problems)
    }

    /// Entries so that what is required to exist comes first: by kind, parts behind the parts they sit in.
    fn in_order(&self, problems: &mut Vec<Diag>) -> Vec<&Entry<'_>> {
        let mut ordered: Vec<&Entry<'_>> = self.entries.iter().collect();
        // Lines before operations would do too; required references lead from parts and quotes to items only.
        ordered.sort_by_key(|e| e.kind);
        let (parts, rest): (Vec<&Entry<'_>>, Vec<&Entry<'_>>) = ordered.into_iter().partition(|e| e.kind == Kind::Part);
        let parts = self.parts_in_order(parts, problems);
        let at = rest.partition_point(|e| e.kind < Kind::Part);
        let mut all = rest;
        all.splice(at..at, parts);
        all
    }

    fn parts_in_order<'e>(&self, parts: Vec<&'e Entry<'e>>, problems: &mut Vec<Diag>) -> Vec<&'e Entry<'e>> {
        let above = |e: &Entry<'_>| e.table.get("parent").and_then(|p| p.get_ref().as_str().map(str::to_owned));
        let mut below: BTreeMap<Option<String>, Vec<&Entry<'_>>> = BTreeMap::new();
        let known: BTreeSet<&str> = parts.iter().map(|e| e.key.as_str()).collect();
        for part in &parts {
            let parent = above(part).filter(|p| known.contains(p.as_str()));
            below.entry(parent).or_default().push(part);
        }
        let mut ordered: Vec<&Entry<'_>> = Vec::with_capacity(parts.len());
        let mut open: Vec<(&Entry<'_>, usize)> =
            below.remove(&None).unwrap_or_default().into_iter().map(|e| (e, 1)).rev().collect();
        while let Some((part, depth)) = open.pop() {
            if depth > DEPTH {
                let says = format!("the part `{}` sits {depth} levels deep, expected at most {DEPTH}", part.key);
                problems.push(
                    Diag::error("too-deep", says).at(part.place(part.at.clone())).hint("join levels that hold a single part"),
                );
                continue;
            }
            ordered.push(part);
            open.extend(below.remove(&Some(part.key.clone())).unwrap_or_default().into_iter().rev().map(|e| (e, depth + 1)));
        }
        let seen: BTreeSet<&str> = ordered.iter().map(|e| e.key.as_str()).collect();
        let too_deep = problems.iter().any(|p| p.code == "too-deep");
        for part in parts.iter().filter(|p| !seen.contains(p.key.as_str()) && !too_deep) {
            let at = part.table.get("parent").map_or(part.at.clone(), |p| p.span());
            let says = format!("the part `{}` would stand inside itself", part.key);
            problems
                .push(Diag::error("part-in-itself", says).at(part.place(at)).hint("choose a parent that does not sit inside it"));
        }
        ordered
    }

    /// The record an entry stands under, by the name of its parent's kind (`parent` for a part in a part).
    fn parent(&self, entry: &Entry<'_>, problems: &mut Vec<Diag>) -> Option<Id> {
        let allowed = entry.kind.schema().parents;
        for kind in allowed {
            let word = parent_word(entry.kind, *kind);
            let Some(value) = entry.table.get(word) else { continue };
            let Some(key) = value.get_ref().as_str() else {
                let says = format!("`{word}` names a {kind} by its key, found something else");
                problems.push(Diag::error("field-type", says).at(entry.place(value.span())));
                return None;
            };
            return fields::resolve(entry, word, key, value.span(), &[*kind], &self.keys, problems);
        }
        if !allowed.is_empty() && entry.kind != Kind::Part {
            let words: Vec<String> = allowed.iter().map(|k| format!("`{}`", parent_word(entry.kind, *k))).collect();
            let says =
                format!("the {} `{}` does not say what it belongs to, expected {}", entry.kind, entry.key, words.join(" or "));
            problems.push(Diag::error("parent-missing", says).at(entry.place(entry.at.clone())));
        }
        None
    }
}

/// The name of the field that holds the record above.
pub(super) fn parent_word(kind: Kind, parent: Kind) -> &'static str {
    if kind == parent { "parent" } else { parent.word() }
}

fn next(orders: &mut BTreeMap<Option<Id>, String>, parent: Option<Id>) -> String {
    let order = match orders.get(&parent) {
        Some(last) => order_between(Some(last), None),
        None => first_order(),
    };
    orders.insert(parent, order.clone());
    order
}

/// Whether a word is a field of a kind.
pub(super) fn field_of(kind: Kind, word: &str) -> Option<(Field, FieldType)> {
    let field = Field::from_word(word)?;
    Some((field, kind.schema().field(field)?))
}
