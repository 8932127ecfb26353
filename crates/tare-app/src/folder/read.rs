//! The files of a folder to the study they hold, with everything that is wrong at its place.

mod cell;
mod files;
mod names;
mod words;

use super::Folder;
use super::extra::Extra;
use super::layout::{FILE, STUDY, UNDER, has_file};
use super::order;
use super::raw::{self, Content, Raw, RawRow, RawTable};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use tare_diag::{Diag, Place, any_error};
use tare_exchange::Files;
use tare_model::{Document, Field, FieldType, FieldValue, Id, Kind, Record};
use words::{one, one_of};

/// Deepest tree accepted, as the model has it.
const DEPTH: usize = 64;

/// Notes beyond this number are only counted.
const NOTES: usize = 40;

/// A folder that reads.
#[derive(Debug)]
pub(crate) struct Reading {
    /// What it holds.
    pub(crate) folder: Folder,
    /// What is doubtful, or kept without being known.
    pub(crate) notes: Vec<Diag>,
    /// Locks and photos whose content is not in the folder: record and place.
    pub(crate) lacking: Vec<(Id, Place)>,
    tables: Vec<RawTable>,
    /// Where each record stands: table and row.
    rows: HashMap<Id, (usize, usize)>,
}

impl Reading {
    /// The place of a record, or of one of its fields.
    pub(crate) fn place(&self, id: Id, field: Option<Field>) -> Option<Place> {
        let (table, row) = self.rows.get(&id)?;
        let table = &self.tables[*table];
        let column = field.and_then(|field| table.columns.iter().position(|(word, _)| word == field.word()));
        Some(table.place(table.rows.get(*row)?, column))
    }
}

/// Reads the files of a folder. `base` is the document as it was when the folder was written, where that is known: what stands in the same
/// order as there keeps its order keys.
///
/// # Errors
/// Every problem at its place.
pub(crate) fn read(files: &Files, base: Option<&Document>) -> Result<Reading, Vec<Diag>> {
    let (mut problems, mut notes) = (Vec::new(), Vec::new());
    let Some(raw) = raw::read(files, &mut problems, &mut notes) else { return Err(problems) };
    let mut making = Making { base, problems, notes, ..Making::new(files, &raw) };
    making.columns();
    making.identify();
    let mut records = making.records();
    making.tree(&records);
    making.foreign(&mut records);
    let Making { mut problems, mut notes, rows, photos, texts, unknown, lacking, .. } = making;
    if any_error(&problems) {
        problems.retain(Diag::is_error);
        return Err(problems);
    }
    if notes.len() > NOTES {
        let more = notes.len() - NOTES;
        notes.truncate(NOTES);
        notes.push(Diag::note("folder-unknown", format!("{more} more columns, keys and files are kept as they are")));
    }
    order::give(&mut records, base);
    let kind = crate::workspace::kind_of(&raw.header.kind).unwrap_or(tare_model::DocumentKind::Study);
    let document = Document::from_records(raw.header.id, kind, records);
    let folder = Folder { document, entry: raw.header.entry, entry_id: raw.header.entry_id, photos, texts, files: unknown };
    Ok(Reading { folder, notes, lacking, tables: raw.tables, rows })
}

/// What a column is about.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Column {
    Ref,
    Id,
    Under,
    File,
    Field(Field, FieldType),
    Unknown,
}

struct Making<'a> {
    files: &'a Files,
    raw: &'a Raw,
    base: Option<&'a Document>,
    problems: Vec<Diag>,
    notes: Vec<Diag>,
    /// What the columns of each table are about.
    columns: Vec<Vec<Column>>,
    /// The identifier of each row of each table.
    ids: Vec<Vec<Id>>,
    kinds: HashMap<Id, Kind>,
    words: HashMap<Kind, HashMap<String, Id>>,
    rows: HashMap<Id, (usize, usize)>,
    photos: BTreeMap<String, Vec<u8>>,
    texts: BTreeMap<String, String>,
    /// Files that a row names.
    claimed: BTreeSet<String>,
    unknown: Files,
    lacking: Vec<(Id, Place)>,
}

impl<'a> Making<'a> {
    fn new(files: &'a Files, raw: &'a Raw) -> Self {
        Self {
            files,
            raw,
            base: None,
            problems: Vec::new(),
            notes: Vec::new(),
            columns: Vec::new(),
            ids: Vec::new(),
            kinds: HashMap::new(),
            words: HashMap::new(),
            rows: HashMap::new(),
            photos: BTreeMap::new(),
            texts: BTreeMap::new(),
            claimed: BTreeSet::new(),
            unknown: Files::new(),
            lacking: Vec::new(),
        }
    }

    fn problem(&mut self, code: &'static str, says: impl Into<String>, place: Place) -> &mut Diag {
        self.problems.push(Diag::error(code, says).at(place));
        let last = self.problems.len() - 1;
        &mut self.problems[last]
    }

    fn hint(&mut self, hint: impl Into<String>) {
        if let Some(last) = self.problems.last_mut() {
            last.hints.push(hint.into());
        }
    }

    fn records(&mut self) -> Vec<Record> {
        let mut records = Vec::new();
        for (t, table) in self.raw.tables.iter().enumerate() {
            for (r, row) in table.rows.iter().enumerate() {
                let record = self.record(t, table, r, row);
                records.push(record);
            }
        }
        records
    }

    fn record(&mut self, t: usize, table: &'a RawTable, r: usize, row: &'a RawRow) -> Record {
        let kind = table.kind;
        let schema = kind.schema();
        let mut record = Record::new(self.ids[t][r], kind);
        let mut extra = Extra::default();
        let mut file = None;
        for (at, content) in &row.cells {
            let place = || table.place(row, Some(*at));
            match self.columns[t].get(*at).copied().unwrap_or(Column::Unknown) {
                Column::Ref | Column::Id => {}
                Column::Under if schema.parents.is_empty() => {
                    let says = format!("{} stands under nothing, found `{UNDER}`", one(kind));
                    self.problem("under-none", says, place());
                }
                Column::Under => match content {
                    Content::Text(word) => record.parent = self.resolve(UNDER, word, schema.parents, place()),
                    _ => drop(self.problem("field-type", format!("`{UNDER}` names one record"), place())),
                },
                Column::File => match content {
                    Content::Text(path) => file = Some((path.as_str(), *at)),
                    _ => drop(self.problem("field-type", format!("`{FILE}` is the path of a file"), place())),
                },
                Column::Field(field, ty) => {
                    if let Some(value) = self.value(kind, field, ty, content, place()) {
                        record.fields.set(field, Some(value));
                    }
                }
                Column::Unknown => {
                    let (word, _) = &table.columns[*at];
                    let text = if table.file == STUDY { self.toml_value(kind, r, word) } else { plain(content) };
                    extra.cells.extend(text.map(|text| (word.clone(), text)));
                }
            }
        }
        if !schema.parents.is_empty() && kind != Kind::Part && record.parent.is_none() {
            let under = self.columns[t].iter().position(|column| *column == Column::Under);
            let said = under.is_some_and(|at| table.cell(row, at).is_some());
            if !said && (under.is_some() || table.file == STUDY) {
                let says = format!("`{UNDER}` is empty: {} stands under {}", one(kind), one_of(schema.parents));
                self.problem("parent-missing", says, table.place(row, under));
            }
        }
        for (field, _, needed) in schema.fields {
            let column = self.columns[t].iter().position(|column| matches!(column, Column::Field(f, _) if f == field));
            let said = column.is_some_and(|at| table.cell(row, at).is_some());
            if *needed && !said && (column.is_some() || table.file == STUDY) {
                self.problem("field-missing", format!("`{field}` is empty: {} needs it", one(kind)), table.place(row, column));
            }
        }
        if has_file(kind) {
            self.file(&mut record, table, row, file);
        }
        match (extra.text(), record.fields.get(Field::Extra).is_some()) {
            (Some(_), true) => {
                let says = format!("the row fills `{}` and columns that are not known, expected one of them", Field::Extra);
                self.problem("extra-both", says, table.place(row, None));
            }
            (Some(text), false) => {
                record.fields.set(Field::Extra, Some(FieldValue::Text(text)));
            }
            _ => {}
        }
        record
    }

    /// A value of `study.toml` that is not known, as TOML.
    fn toml_value(&self, kind: Kind, row: usize, word: &str) -> Option<String> {
        Some(self.raw.values.get(kind.word())?.get(row)?.get(word)?.to_string())
    }

    /// Sees that no record stands inside itself or too deep.
    fn tree(&mut self, records: &[Record]) {
        let parents: HashMap<Id, Id> = records.iter().filter_map(|record| Some((record.id, record.parent?))).collect();
        for record in records.iter().filter(|record| record.parent.is_some()) {
            let mut up = record.parent;
            let mut depth = 1;
            while let Some(id) = up.filter(|id| *id != record.id && depth <= DEPTH) {
                depth += 1;
                up = parents.get(&id).copied();
            }
            let Some((t, r)) = self.rows.get(&record.id).copied() else { continue };
            let table = &self.raw.tables[t];
            let column = self.columns[t].iter().position(|column| *column == Column::Under);
            let place = table.place(&table.rows[r], column);
            if up == Some(record.id) {
                self.problem("part-in-itself", "the record stands inside itself", place);
            } else if depth > DEPTH {
                self.problem(
                    "too-deep",
                    format!("the tree is deeper than {DEPTH} levels, or runs in a circle above this record"),
                    place,
                );
            }
        }
    }
}

fn plain(content: &Content) -> Option<String> {
    match content {
        Content::Text(text) => Some(text.clone()),
        _ => None,
    }
}
