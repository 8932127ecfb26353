//! The rows of a folder as its tables and `study.toml` have them, before anything is made of them.

use super::extra::is_head;
use super::layout::{FORM, STUDY, table};
use std::collections::BTreeMap;
use std::ops::Range;
use tare_diag::{Diag, Place};
use tare_exchange::{Files, kept_text, read_strict};
use tare_model::{Id, Kind};
use toml::de::{DeTable, DeValue};

/// The most different keys of one kind in `study.toml`.
const KEYS: usize = 1_000;
/// The largest `study.toml` that is read, in bytes.
const MAX_TEXT: usize = 64 << 20;

/// What a folder says it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Header {
    /// The document.
    pub(crate) id: Id,
    /// Its kind, by its word.
    pub(crate) kind: String,
    /// The number of the last entry in it when it was written.
    pub(crate) entry: u64,
    /// That entry.
    pub(crate) entry_id: Option<Id>,
}

/// The rows of a kind.
#[derive(Clone, Debug)]
pub(super) struct RawTable {
    pub(super) kind: Kind,
    pub(super) file: String,
    /// The columns, with where each is named.
    pub(super) columns: Vec<(String, Place)>,
    pub(super) rows: Vec<RawRow>,
}

/// One row.
#[derive(Clone, Debug)]
pub(super) struct RawRow {
    /// Its row in a table (the titles being row 0), or its place in `study.toml`.
    pub(super) at: At,
    /// What its cells hold, by column; empty cells are left out.
    pub(super) cells: Vec<(usize, Content)>,
}

/// Where a row stands.
#[derive(Clone, Debug)]
pub(super) enum At {
    Row(usize),
    /// The row, and each of its cells.
    Spans(Range<usize>, Vec<Range<usize>>),
}

/// What a cell holds.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Content {
    Text(String),
    Number(f64),
    Flag(bool),
    List(Vec<String>),
    /// Another value of TOML.
    Other,
}

impl RawTable {
    /// The place of a row, or of one of its cells by column.
    pub(super) fn place(&self, row: &RawRow, column: Option<usize>) -> Place {
        match &row.at {
            At::Row(at) => Place::cell(&self.file, None, *at, column.unwrap_or(0)),
            At::Spans(whole, cells) => {
                let cell = column.and_then(|c| row.cells.iter().position(|(at, _)| *at == c)).and_then(|n| cells.get(n));
                Place::span(&self.file, cell.unwrap_or(whole).clone())
            }
        }
    }

    /// What a cell of a row holds.
    pub(super) fn cell<'r>(&self, row: &'r RawRow, column: usize) -> Option<&'r Content> {
        row.cells.iter().find(|(at, _)| *at == column).map(|(_, content)| content)
    }
}

/// Everything that was found.
#[derive(Debug)]
pub(super) struct Raw {
    pub(super) header: Header,
    pub(super) tables: Vec<RawTable>,
    /// Values of `study.toml` that are not known, by their key, as TOML.
    pub(super) unknown: BTreeMap<String, String>,
    /// The whole of `study.toml`, for values of rows that are not known.
    pub(super) values: toml::Table,
}

/// What a folder says it is; problems where that cannot be told.
pub(crate) fn header(files: &Files) -> Result<Header, Vec<Diag>> {
    let text = study_text(files)?;
    let mut problems = Vec::new();
    let root = parse(text, &mut problems);
    if !problems.is_empty() {
        return Err(problems);
    }
    let header = header_of(&root, &mut problems);
    if problems.is_empty() { header.ok_or(problems) } else { Err(problems) }
}

/// Reads all rows; every problem at its place.
pub(super) fn read(files: &Files, problems: &mut Vec<Diag>, notes: &mut Vec<Diag>) -> Option<Raw> {
    let mut tables = Vec::new();
    for kind in Kind::ALL {
        let Some((file, bytes)) = table(*kind).and_then(|file| Some((file, files.get(file)?))) else { continue };
        match read_strict(file, bytes) {
            Ok(found) => tables.push(csv(*kind, file, found, problems)),
            Err(found) => problems.extend(found),
        }
    }
    let text = match study_text(files) {
        Ok(text) => text,
        Err(found) => {
            problems.extend(found);
            return None;
        }
    };
    let before = problems.len();
    let root = parse(text, problems);
    if problems.len() > before {
        return None;
    }
    let header = header_of(&root, problems);
    whole(&root, files, problems);
    // read a second time without places, for what is kept as it is
    let values: toml::Table = text.parse().unwrap_or_default();
    let mut unknown = BTreeMap::new();
    for (word, value) in &root {
        let (at, word) = (word.span(), word.get_ref().as_ref());
        if matches!(word, "form" | "document") {
            continue;
        }
        match Kind::from_word(word) {
            Some(kind) => match table(kind) {
                None => tables.extend(toml_table(kind, value.get_ref(), &at, problems)),
                Some(file) => {
                    let says = format!("`{word}` stands in {file}, found in {STUDY}");
                    problems.push(
                        Diag::error("folder-elsewhere", says).at(Place::span(STUDY, at)).hint(format!("move it to {file}")),
                    );
                }
            },
            None => {
                let known = Kind::ALL.iter().filter(|kind| table(**kind).is_none()).map(|kind| kind.word());
                let says = format!("`{word}` is no kind of record here; it is kept as it is");
                notes.push(Diag::note("folder-unknown", says).at(Place::span(STUDY, at)).did_you_mean(word, known));
                unknown.extend(values.get(word).map(|value| (word.to_owned(), value.to_string())));
            }
        }
    }
    if !tables.iter().any(|table| is_head(table.kind) && !table.rows.is_empty()) {
        let says = "found neither `[[study]]` nor `[[book]]`, expected one of them";
        problems.push(Diag::error("folder-no-study", says).at(Place::File(STUDY.to_owned())));
    }
    tables.sort_by_key(|table| table.kind);
    header.map(|header| Raw { header, tables, unknown, values })
}

/// Sees that every table is there that was written: a folder that was handed on in part would else be one from which much was removed.
fn whole(root: &DeTable<'_>, files: &Files, problems: &mut Vec<Diag>) {
    let listed = root.get("document").and_then(|document| document.get_ref().get("tables")?.get_ref().as_array());
    for name in listed.into_iter().flat_map(|list| list.iter()) {
        let Some(file) = name.get_ref().as_str().filter(|file| !files.contains_key(*file)) else { continue };
        let diag = Diag::error("table-missing", format!("the folder was written with a table {file}, which is not there"));
        problems.push(
            diag.at(Place::span(STUDY, name.span()))
                .hint("put it back; to remove all of its rows, leave the line of titles, or take its name out here"),
        );
    }
}

fn study_text(files: &Files) -> Result<&str, Vec<Diag>> {
    let place = || Place::File(STUDY.to_owned());
    let Some(bytes) = files.get(STUDY) else {
        let diag = Diag::error("folder-missing", format!("the folder holds no {STUDY}, which says what it is"));
        return Err(vec![diag.at(place()).hint("name the folder itself, or fetch it again whole")]);
    };
    if bytes.len() > MAX_TEXT {
        return Err(vec![Diag::error("folder-large", format!("{STUDY} holds more than {MAX_TEXT} bytes")).at(place())]);
    }
    std::str::from_utf8(bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes)).map_err(|e| {
        let line = bytes.iter().take(e.valid_up_to()).filter(|b| **b == b'\n').count() + 1;
        let diag = Diag::error("folder-encoding", format!("{STUDY} is no text in UTF-8"));
        vec![diag.at(Place::Line { file: STUDY.to_owned(), line }).hint("save it as text in UTF-8")]
    })
}

fn parse<'a>(text: &'a str, problems: &mut Vec<Diag>) -> DeTable<'a> {
    let (root, errors) = DeTable::parse_recoverable(text);
    for error in errors.iter().take(20) {
        let at = error.span().unwrap_or(0..0);
        problems.push(Diag::error("folder-syntax", error.message().to_owned()).at(Place::span(STUDY, at)));
    }
    root.into_inner()
}

fn header_of(root: &DeTable<'_>, problems: &mut Vec<Diag>) -> Option<Header> {
    let whole = |value: &DeValue<'_>| value.as_integer().and_then(|n| i64::from_str_radix(n.as_str(), n.radix()).ok());
    let top = || Place::File(STUDY.to_owned());
    let mut wrong = |says: &str, place: Place| problems.push(Diag::error("folder-header", says.to_owned()).at(place));
    match root.get("form") {
        None => wrong("`form` is missing, expected `form = 1` in the first line", top()),
        Some(form) => match whole(form.get_ref()) {
            Some(n) if n > FORM => {
                let says = format!("the folder has form {n}, this program reads folders up to form {FORM}");
                let diag = Diag::error("folder-newer", says).at(Place::span(STUDY, form.span()));
                problems.push(diag.hint("read it with the newer program that wrote it; nothing was changed"));
                return None;
            }
            Some(n) if n >= 1 => {}
            _ => wrong("`form` is a number from 1", Place::span(STUDY, form.span())),
        },
    }
    let Some(document) = root.get("document") else {
        problems.push(Diag::error("folder-header", "`[document]` is missing, which names the study").at(top()));
        return None;
    };
    let field = |word: &str| document.get_ref().get(word);
    let mut id_at = |word: &str, needed: bool| match field(word) {
        Some(value) => {
            let id = value.get_ref().as_str().and_then(crate::id_of_text);
            if id.is_none() {
                let says = format!("`{word}` is 32 hexadecimal digits in quotation marks");
                problems.push(Diag::error("folder-header", says).at(Place::span(STUDY, value.span())));
            }
            id
        }
        None if needed => {
            let says = format!("`{word}` is missing in `[document]`");
            problems.push(Diag::error("folder-header", says).at(Place::span(STUDY, document.span())));
            None
        }
        None => None,
    };
    let (id, entry_id) = (id_at("id", true), id_at("entry_id", false));
    let kind = field("kind").and_then(|kind| kind.get_ref().as_str()).unwrap_or("study").to_owned();
    if crate::workspace::kind_of(&kind).is_none() {
        let at = field("kind").map_or(0..0, toml::Spanned::span);
        problems.push(Diag::error("folder-header", format!("`{kind}` is no kind of document")).at(Place::span(STUDY, at)));
    }
    let entry = field("entry").map(|entry| (whole(entry.get_ref()).and_then(|n| u64::try_from(n).ok()), entry.span()));
    if let Some((None, at)) = &entry {
        problems.push(Diag::error("folder-header", "`entry` is a number from 0").at(Place::span(STUDY, at.clone())));
    }
    Some(Header { id: id?, kind, entry: entry.and_then(|(n, _)| n).unwrap_or(0), entry_id })
}

fn csv(kind: Kind, file: &str, found: tare_exchange::StrictTable, problems: &mut Vec<Diag>) -> RawTable {
    let width = found.titles.len();
    let mut columns = Vec::with_capacity(width);
    for (at, title) in found.titles.iter().enumerate() {
        let place = Place::cell(file, None, 0, at);
        columns.push((text(title, &place, problems).unwrap_or_default(), place));
    }
    let mut nameless = vec![false; width];
    let rows = found.rows.into_iter().map(|row| {
        let mut cells = Vec::new();
        for (at, cell) in row.cells.into_iter().enumerate().take(width).filter(|(_, cell)| !cell.is_empty()) {
            let content =
                if cell.starts_with('\'') { text(&cell, &Place::cell(file, None, row.row, at), problems) } else { Some(cell) };
            if columns[at].0.is_empty() && !std::mem::replace(&mut nameless[at], true) {
                let diag = Diag::error("column-unnamed", "the column has no title and holds something");
                problems.push(diag.at(Place::cell(file, None, row.row, at)).hint("give it a title, or empty it"));
            }
            cells.extend(content.map(|text| (at, Content::Text(text))));
        }
        RawRow { at: At::Row(row.row), cells }
    });
    let rows = rows.collect();
    RawTable { kind, file: file.to_owned(), columns, rows }
}

fn text(cell: &str, place: &Place, problems: &mut Vec<Diag>) -> Option<String> {
    kept_text(cell).unwrap_or_else(|why| {
        let says = format!("the text behind `'\"` does not read as a string of JSON ({why})");
        problems.push(Diag::error("cell-mark", says).at(place.clone()).hint("write the text without `'\"` before it"));
        None
    })
}

fn toml_table(kind: Kind, value: &DeValue<'_>, at: &Range<usize>, problems: &mut Vec<Diag>) -> Option<RawTable> {
    let mut table = RawTable { kind, file: STUDY.to_owned(), columns: Vec::new(), rows: Vec::new() };
    let Some(list) = value.as_array().filter(|list| list.iter().all(|one| one.get_ref().is_table())) else {
        let says = format!("`{kind}` is written as `[[{kind}]]`, one for each");
        problems.push(Diag::error("folder-shape", says).at(Place::span(STUDY, at.clone())));
        return None;
    };
    for one in list.iter() {
        let Some(fields) = one.get_ref().as_table() else { continue };
        let (mut cells, mut spans) = (Vec::new(), Vec::new());
        for (word, value) in fields {
            let name = word.get_ref().as_ref();
            let column = table.columns.iter().position(|(known, _)| known == name).unwrap_or_else(|| {
                table.columns.push((name.to_owned(), Place::span(STUDY, word.span())));
                table.columns.len() - 1
            });
            if column > KEYS {
                let says = format!("`{kind}` has more than {KEYS} different keys");
                problems.push(Diag::error("table-large", says).at(Place::span(STUDY, word.span())));
                return None;
            }
            cells.push((column, content(value.get_ref())));
            spans.push(value.span());
        }
        let whole = if one.span().is_empty() { spans.first().cloned().unwrap_or_else(|| at.clone()) } else { one.span() };
        table.rows.push(RawRow { at: At::Spans(whole, spans), cells });
    }
    Some(table)
}

fn content(value: &DeValue<'_>) -> Content {
    match value {
        DeValue::String(text) => Content::Text(text.to_string()),
        DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).map_or(Content::Other, |n| Content::Number(n as f64)),
        DeValue::Float(n) => n.as_str().replace('_', "").parse().map_or(Content::Other, Content::Number),
        DeValue::Boolean(flag) => Content::Flag(*flag),
        DeValue::Datetime(time) => Content::Text(time.to_string()),
        DeValue::Array(list) => {
            let each: Option<Vec<String>> = list.iter().map(|one| one.get_ref().as_str().map(str::to_owned)).collect();
            each.map_or(Content::Other, Content::List)
        }
        DeValue::Table(_) => Content::Other,
    }
}
