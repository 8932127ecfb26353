//! The files of a folder to the study they hold, with everything that is wrong at its place.

use super::Folder;
use super::extra::{Extra, is_head};
use super::layout::{FILE, ID, PHOTOS, README, REF, STUDY, TEXTS, UNDER, has_file, is_of_form, kind_of_table};
use super::order;
use super::raw::{self, Content, Raw, RawRow, RawTable};
use crate::text_form::id_of;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Write;
use tare_diag::{Diag, Place, any_error};
use tare_exchange::Files;
use tare_model::{Document, Field, FieldType, FieldValue, Id, Kind, Record};
use tare_store::Sha256;

/// Deepest tree accepted, as the model has it.
const DEPTH: usize = 64;
/// Notes of one kind beyond this number are only counted.
const NOTES: usize = 20;

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
    let Making { mut problems, notes, rows, photos, texts, unknown, lacking, .. } = making;
    if any_error(&problems) {
        problems.retain(Diag::is_error);
        return Err(problems);
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

    /// What each column is about; two of one name and missing ones are told.
    fn columns(&mut self) {
        for table in &self.raw.tables {
            let schema = table.kind.schema();
            let in_table = table.file != STUDY;
            let mut found: Vec<Column> = Vec::new();
            for (at, (word, place)) in table.columns.iter().enumerate() {
                let column = match word.as_str() {
                    REF => Column::Ref,
                    ID => Column::Id,
                    UNDER => Column::Under,
                    FILE if has_file(table.kind) => Column::File,
                    word => match Field::from_word(word).and_then(|field| Some((field, schema.field(field)?))) {
                        Some((field, ty)) => Column::Field(field, ty),
                        None => Column::Unknown,
                    },
                };
                if in_table && !word.is_empty() && table.columns[..at].iter().any(|(other, _)| other == word) {
                    self.problem("column-twice", format!("the column `{word}` is there twice"), place.clone());
                }
                if column == Column::Unknown && !word.is_empty() {
                    let known = schema.fields.iter().map(|(field, ..)| field.word()).chain([REF, ID, UNDER]);
                    let says = format!("a {} has no `{word}`; it is kept as it is", table.kind);
                    self.notes.push(Diag::note("folder-unknown", says).at(place.clone()).did_you_mean(word, known));
                }
                found.push(column);
            }
            if in_table && !table.rows.is_empty() {
                let missing = schema.fields.iter().filter(|(_, _, needed)| *needed).map(|(field, ..)| field.word());
                let under = (!schema.parents.is_empty() && table.kind != Kind::Part).then_some(UNDER);
                for word in missing.chain(under).filter(|word| !table.columns.iter().any(|(known, _)| known == word)) {
                    let near = tare_diag::nearest(word, table.columns.iter().map(|(known, _)| known.as_str()));
                    let hint = near.map(|near| format!("is it the column `{near}`?"));
                    self.problem(
                        "column-missing",
                        format!("the column `{word}` is missing"),
                        Place::cell(&table.file, None, 0, 0),
                    );
                    hint.into_iter().for_each(|hint| self.hint(hint));
                }
            }
            self.columns.push(found);
        }
    }

    /// Gives each row its identifier and its word.
    fn identify(&mut self) {
        // A row without identifier gets the same one each time the folder is read, so that a folder taken twice adds nothing twice.
        let header = &self.raw.header;
        let set =
            format!("folder {} {}", header.id, header.entry_id.map_or_else(|| header.entry.to_string(), |id| id.to_string()));
        for (t, table) in self.raw.tables.iter().enumerate() {
            let column = |wanted: Column| self.columns[t].iter().position(|column| *column == wanted);
            let (id_at, ref_at) = (column(Column::Id), column(Column::Ref));
            let label_at = column(Column::Field(Field::Label, FieldType::Text));
            let (mut ids, mut same) = (Vec::with_capacity(table.rows.len()), HashMap::<String, usize>::new());
            for (r, row) in table.rows.iter().enumerate() {
                let text = |at: Option<usize>| match at.and_then(|at| table.cell(row, at)) {
                    Some(Content::Text(text)) => Some(text.trim()),
                    _ => None,
                };
                let stated = text(id_at).filter(|id| !id.is_empty());
                let own = text(ref_at).filter(|word| !word.is_empty());
                // a row that is not named is called by its label, unless another row is called so
                let word = own.or_else(|| text(label_at).filter(|word| !word.is_empty()));
                let id = match stated {
                    Some(text) => crate::id_of_text(text).unwrap_or_else(|| {
                        let says = format!("`{text}` is no identifier, which has 32 hexadecimal digits");
                        self.problem("id-form", says, table.place(row, id_at));
                        self.hint("leave the cell empty for a new row; a spreadsheet may have taken it for a number");
                        id_of(&set, &format!("{t}/{r}"))
                    }),
                    None => {
                        let mut path = match own {
                            Some(word) => format!("{}.{word}", table.kind),
                            None => format!("{} {:?}", table.kind, row.cells),
                        };
                        let count = same.entry(path.clone()).or_insert(0);
                        *count += 1;
                        if *count > 1 {
                            let _ = write!(path, " {count}");
                        }
                        id_of(&set, &path)
                    }
                };
                if let Some((other, at)) = self.rows.get(&id) {
                    let other = &self.raw.tables[*other];
                    let first = other.rows.get(*at).map(|row| other.place(row, None));
                    let says = format!("the identifier {id} is that of another row");
                    let diag = self.problem("id-twice", says, table.place(row, id_at));
                    if let Some(first) = first {
                        diag.related.push((first, "the other row".to_owned()));
                    }
                    self.hint("empty the cell of a row that was copied");
                } else {
                    self.rows.insert(id, (t, r));
                    self.kinds.insert(id, table.kind);
                }
                if let Some(known) = self.base.and_then(|base| base.get(id)).filter(|known| known.kind != table.kind) {
                    let says = format!("the study has a {} of this identifier, found a {}", known.kind, table.kind);
                    self.problem("id-kind", says, table.place(row, id_at));
                }
                if let Some(word) = word {
                    let words = self.words.entry(table.kind).or_default();
                    let other = words.get(word).copied();
                    if other.is_none() {
                        words.insert(word.to_owned(), id);
                    }
                    if let (Some(other), Some(_)) = (other, own) {
                        let first = self
                            .rows
                            .get(&other)
                            .and_then(|(t, r)| Some(self.raw.tables[*t].place(self.raw.tables[*t].rows.get(*r)?, ref_at)));
                        let says = format!("another {} is called `{word}`", table.kind);
                        let diag = self.problem("ref-twice", says, table.place(row, ref_at));
                        if let Some(first) = first {
                            diag.related.push((first, "the other row".to_owned()));
                        }
                    }
                }
                ids.push(id);
            }
            self.ids.push(ids);
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
                    let says = format!("a {kind} stands under nothing, found `{UNDER}`");
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
                let says = format!("`{UNDER}` is empty: a {kind} stands under a {}", words(schema.parents));
                self.problem("parent-missing", says, table.place(row, under));
            }
        }
        for (field, _, needed) in schema.fields {
            let column = self.columns[t].iter().position(|column| matches!(column, Column::Field(f, _) if f == field));
            let said = column.is_some_and(|at| table.cell(row, at).is_some());
            if *needed && !said && (column.is_some() || table.file == STUDY) {
                self.problem("field-missing", format!("`{field}` is empty: a {kind} needs it"), table.place(row, column));
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

    fn value(&mut self, kind: Kind, field: Field, ty: FieldType, content: &Content, place: Place) -> Option<FieldValue> {
        let wrong = |making: &mut Self, expected: &str| -> Option<FieldValue> {
            let says = format!("`{field}` is {expected}, found {}", described(content));
            making.problem("field-type", says, place.clone());
            None
        };
        match (ty, content) {
            (FieldType::Text, Content::Text(text)) => Some(FieldValue::Text(text.clone())),
            (FieldType::Text, Content::Number(number)) => Some(FieldValue::Text(number.to_string())),
            (FieldType::Text, _) => wrong(self, "a text"),
            (FieldType::Word(known), Content::Text(text)) => {
                if !known.contains(&text.as_str()) {
                    let near = tare_diag::nearest(text, known.iter().copied());
                    let says = format!("`{field}` of a {kind} is one of {}, found `{}`", known.join(", "), short(text));
                    self.problem("word-unknown", says, place);
                    near.map(|near| format!("did you mean `{near}`?")).into_iter().for_each(|hint| self.hint(hint));
                    return None;
                }
                Some(FieldValue::Text(text.clone()))
            }
            (FieldType::Word(known), _) => wrong(self, &format!("one of {}", known.join(", "))),
            (FieldType::Count, Content::Number(number)) => self.count(field, *number, place),
            (FieldType::Count, Content::Text(text)) => match text.trim().parse::<f64>() {
                Ok(number) if text.trim().bytes().all(|b| b.is_ascii_digit() || b".eE+-".contains(&b)) => {
                    self.count(field, number, place)
                }
                _ => {
                    wrong(self, "a number such as 4 or 2.5")?;
                    None
                }
            },
            (FieldType::Count, _) => wrong(self, "a number such as 4 or 2.5"),
            (FieldType::Flag, Content::Flag(flag)) => Some(FieldValue::Flag(*flag)),
            (FieldType::Flag, Content::Text(text)) => match text.trim().to_lowercase().as_str() {
                "yes" | "true" => Some(FieldValue::Flag(true)),
                "no" | "false" => Some(FieldValue::Flag(false)),
                _ => wrong(self, "`yes` or `no`"),
            },
            (FieldType::Flag, _) => wrong(self, "`yes` or `no`"),
            (FieldType::Ref(kinds), Content::Text(word)) => self.resolve(field.word(), word, kinds, place).map(FieldValue::Ref),
            (FieldType::Ref(_), _) => wrong(self, "the name of one record"),
            (FieldType::Refs(kinds), Content::Text(words)) => {
                let each: Vec<&str> = words.split(';').map(str::trim).filter(|word| !word.is_empty()).collect();
                Some(FieldValue::Refs(
                    each.into_iter().filter_map(|word| self.resolve(field.word(), word, kinds, place.clone())).collect(),
                ))
            }
            (FieldType::Refs(kinds), Content::List(words)) => Some(FieldValue::Refs(
                words.iter().filter_map(|word| self.resolve(field.word(), word, kinds, place.clone())).collect(),
            )),
            (FieldType::Refs(_), _) => wrong(self, "a list of names, parted by `;`"),
        }
    }

    fn count(&mut self, field: Field, number: f64, place: Place) -> Option<FieldValue> {
        if number.is_finite() && (0.0..=1e12).contains(&number) {
            return Some(FieldValue::Number(number));
        }
        self.problem("count-range", format!("`{field}` is {number}, expected 0 to 1e12"), place);
        None
    }

    /// The record a word names: by its word, else by its identifier.
    fn resolve(&mut self, column: &str, word: &str, kinds: &[Kind], place: Place) -> Option<Id> {
        let word = word.trim();
        let by_id = crate::id_of_text(word).filter(|id| self.kinds.contains_key(id));
        let (kinds, bare): (Vec<Kind>, &str) = match (kinds, word.split_once('.')) {
            ([_], _) => (kinds.to_vec(), word),
            (_, Some((kind, bare))) => match Kind::from_word(kind) {
                Some(kind) if kinds.contains(&kind) => (vec![kind], bare),
                _ if by_id.is_some() => (kinds.to_vec(), word),
                _ => {
                    let near = tare_diag::nearest(kind, kinds.iter().map(|kind| kind.word()));
                    let says = format!("`{column}` names the {} `{}`, expected a {}", short(kind), short(bare), words(kinds));
                    self.problem("kind-unknown", says, place);
                    near.map(|near| format!("did you mean `{near}.{}`?", short(bare)))
                        .into_iter()
                        .for_each(|hint| self.hint(hint));
                    return None;
                }
            },
            (_, None) => (kinds.to_vec(), word),
        };
        let named = kinds.iter().find_map(|kind| self.words.get(kind)?.get(bare)).copied();
        let found = named.or(by_id).or_else(|| crate::id_of_text(bare).filter(|id| self.kinds.contains_key(id)));
        match found.map(|id| (id, self.kinds.get(&id).copied())) {
            Some((id, Some(kind))) if kinds.contains(&kind) => Some(id),
            Some((_, Some(kind))) => {
                let says = format!("`{column}` names a {kind}, expected a {}", words(&kinds));
                self.problem("reference-kind", says, place);
                None
            }
            _ => {
                let all = kinds.iter().filter_map(|kind| self.words.get(kind)).flat_map(HashMap::keys).map(String::as_str);
                // the nearest of tens of thousands, for thousands of rows, would take longer than anything else here
                let near = if self.problems.len() < 100 { tare_diag::nearest(bare, all) } else { None };
                let near = near.map(|near| format!("did you mean `{near}`?"));
                let says = format!(
                    "`{column}` names the {} `{}`, which is not there",
                    words(&kinds).replace(" or a ", " or "),
                    short(bare)
                );
                self.problem("reference-unknown", says, place);
                near.into_iter().for_each(|hint| self.hint(hint));
                None
            }
        }
    }

    /// Takes in the file of a photo or held text, and sees that it is what its digest says.
    fn file(&mut self, record: &mut Record, table: &RawTable, row: &RawRow, file: Option<(&str, usize)>) {
        let digest = record.text(Field::Digest).map(str::to_owned);
        let digest_at = table.columns.iter().position(|(word, _)| word == Field::Digest.word());
        let Some((path, at)) = file else {
            if digest.is_some() {
                self.lacking.push((record.id, table.place(row, digest_at)));
            }
            return;
        };
        let place = table.place(row, Some(at));
        let home = if record.kind == Kind::Photo { PHOTOS } else { TEXTS };
        if tare_exchange::plain_path(path).is_err() || !path.starts_with(home) {
            self.problem("file-place", format!("`{}` is no file of `{home}`", short(path)), place);
            return;
        }
        let Some(bytes) = self.files.get(path) else {
            let near =
                tare_diag::nearest(path, self.files.keys().map(String::as_str)).map(|near| format!("did you mean `{near}`?"));
            self.problem("file-missing", format!("there is no file `{}` in the folder", short(path)), place);
            near.into_iter().for_each(|hint| self.hint(hint));
            return;
        };
        self.claimed.insert(path.to_owned());
        let found = Sha256::of(bytes).to_string();
        match digest {
            Some(digest) if digest != found => {
                let says = format!(
                    "`{path}` is another file than its digest says ({}..., expected {}...)",
                    &found[..12],
                    short(digest.get(..12).unwrap_or(&digest))
                );
                self.problem("file-digest", says, place);
                self.hint(if record.kind == Kind::Photo {
                    "put the original back; a new picture is a new row without `digest`"
                } else {
                    "put the original back; a calculation of your own goes into `library/` of the workspace"
                });
                return;
            }
            Some(_) => {}
            None => {
                record.fields.set(Field::Digest, Some(FieldValue::Text(found.clone())));
            }
        }
        if record.kind == Kind::Photo {
            self.photos.insert(found, bytes.clone());
        } else {
            match String::from_utf8(bytes.clone()) {
                Ok(text) => drop(self.texts.insert(found, text)),
                Err(_) => drop(self.problem("file-text", format!("`{path}` is no text in UTF-8"), place)),
            }
        }
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

    /// Keeps what is not known of the whole: files, and tables of `study.toml`.
    fn foreign(&mut self, records: &mut [Record]) {
        let mut told = 0;
        for (path, bytes) in self.files {
            let known = path == STUDY || path == README || kind_of_table(path).is_some() || self.claimed.contains(path);
            if known {
                continue;
            }
            told += 1;
            if told <= NOTES {
                let says = format!("`{path}` is no file of a study, or no row names it; it is kept as it is");
                let tables = Kind::ALL.iter().filter_map(|kind| super::layout::table(*kind)).chain([STUDY]);
                let diag = Diag::note("folder-unknown", says).at(Place::File(path.clone()));
                self.notes.push(if is_of_form(path) { diag } else { diag.did_you_mean(path, tables) });
            }
            self.unknown.insert(path.clone(), bytes.clone());
        }
        if told > NOTES {
            self.notes.push(Diag::note("folder-unknown", format!("{} more files are kept as they are", told - NOTES)));
        }
        if self.unknown.is_empty() && self.raw.unknown.is_empty() {
            return;
        }
        let Some(head) = records.iter_mut().find(|record| is_head(record.kind)) else { return };
        if head.fields.get(Field::Extra).is_some() && Extra::of(head).is_none() {
            let says = format!("`{}` of the {} leaves no room to keep unknown files and tables", Field::Extra, head.kind);
            let place = self.rows.get(&head.id).map(|(t, r)| self.raw.tables[*t].place(&self.raw.tables[*t].rows[*r], None));
            self.problem("extra-both", says, place.unwrap_or_else(|| Place::File(STUDY.to_owned())));
            return;
        }
        let mut extra = Extra::of(head).unwrap_or_default();
        extra.tables.extend(self.raw.unknown.clone());
        extra.files.extend(self.unknown.iter().map(|(path, bytes)| (path.clone(), Sha256::of(bytes).to_string())));
        head.fields.set(Field::Extra, extra.text().map(FieldValue::Text));
    }
}

fn plain(content: &Content) -> Option<String> {
    match content {
        Content::Text(text) => Some(text.clone()),
        _ => None,
    }
}

fn words(kinds: &[Kind]) -> String {
    match kinds {
        [] => "record".to_owned(),
        [one] => one.word().to_owned(),
        many if many.len() > 4 => "kind of record that may be named here".to_owned(),
        many => many.iter().map(|kind| kind.word()).collect::<Vec<_>>().join(" or a "),
    }
}

fn described(content: &Content) -> String {
    match content {
        Content::Text(text) => format!("`{}`", short(text)),
        Content::Number(number) => format!("the number {number}"),
        Content::Flag(flag) => format!("`{flag}`"),
        Content::List(_) => "a list".to_owned(),
        Content::Other => "another value".to_owned(),
    }
}

/// The beginning of a text, for a message.
fn short(text: &str) -> String {
    let line: String = text.chars().take(60).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().count() > 60 { format!("{line}...") } else { line }
}
