//! A compiled study as tables for other programs: each described once (docs/tables.md is written from the descriptions), filled row by row.

mod cost;
mod graph;
mod idea;
mod parts;
mod record;
mod work;

use crate::address::Addresses;
use crate::basis::Basis;
use crate::files::file_diag;
use crate::view::IdeasView;
use std::collections::HashMap;
use std::io::{BufWriter, Write};
use std::path::Path;
use tare_diag::{Diag, Place};
pub use tare_exchange::table::{Cell, Column, Description, Facts, Format, Row, Type};
use tare_exchange::table::{Table, dictionary, schema, write};
use tare_library::Library;
use tare_model::{Document, Field, Id};
use tare_study::{LineRef, Study};
use tare_units::Unit;

/// The rows of a table, made as they are asked for.
type Rows<'a> = Box<dyn Iterator<Item = Row<'a>> + 'a>;

/// A table: what it holds, and how it is filled.
struct Maker {
    of: Description,
    rows: for<'a> fn(&'a Source<'a>) -> Rows<'a>,
}

/// All tables, in the order of the data dictionary.
const TABLES: [&Maker; 21] = [
    &cost::TOTALS,
    &parts::PARTS,
    &parts::ITEMS,
    &parts::JOINTS,
    &parts::FASTENERS,
    &work::OPERATIONS,
    &cost::COSTS,
    &cost::TOOLS,
    &cost::QUOTES,
    &idea::IDEAS,
    &parts::MASS,
    &work::TIMES,
    &work::STATIONS,
    &graph::LEAVES,
    &graph::LINES,
    &record::READINGS,
    &record::FINDINGS,
    &record::PHOTOS,
    &graph::SOURCES,
    &record::BOUNDARY,
    &record::PROBLEMS,
];

/// The table that needs ideas to be computed first.
pub const IDEAS: &str = idea::IDEAS.of.name;

/// What tables are filled from.
pub struct Source<'a> {
    document: &'a Document,
    study: &'a Study,
    library: &'a Library,
    addresses: Addresses<'a>,
    /// The part rows by record.
    labels: HashMap<Id, usize>,
    ideas: Option<&'a IdeasView>,
}

impl<'a> Source<'a> {
    /// For a compiled study.
    pub fn new(document: &'a Document, study: &'a Study, library: &'a Library) -> Self {
        let labels = study.parts.iter().enumerate().map(|(at, part)| (part.id, at)).collect();
        Self { document, study, library, addresses: Addresses::new(document), labels, ideas: None }
    }

    /// With ideas, which were computed beside the study; without them there is no table of ideas.
    #[must_use]
    pub fn with_ideas(mut self, ideas: Option<&'a IdeasView>) -> Self {
        self.ideas = ideas;
        self
    }

    /// What is said of all tables: study, scenario, conditions of the totals.
    pub fn facts(&self) -> Facts {
        let basis = Basis::new(self.document, self.study);
        let said = [
            ("study", basis.study.clone()),
            ("scenario", basis.scenario.clone()),
            ("basis", basis.line()),
            ("boundary", basis.boundary_line()),
            ("illustrative", basis.illustrative.to_string()),
            ("program", format!("tare {}", env!("CARGO_PKG_VERSION"))),
        ];
        Facts { currency: self.study.currency.clone(), said: said.map(|(word, text)| (word.to_owned(), text)).into() }
    }

    /// A line's value in the unit of a column.
    fn number(&self, line: impl Into<Option<LineRef>>, unit: &Unit) -> Cell<'static> {
        line.into().map_or(Cell::None, |line| Cell::from(unit.from_si(self.study.value(line))))
    }

    /// A line's value in SI.
    fn si(&self, line: impl Into<Option<LineRef>>) -> Cell<'static> {
        line.into().map_or(Cell::None, |line| Cell::from(self.study.value(line)))
    }

    fn field(&self, id: Id, field: Field) -> Cell<'a> {
        Cell::from(self.document.get(id).and_then(|record| record.text(field)))
    }

    /// The labels of parts, or the addresses of other records, in one text.
    fn called(&self, ids: &[Id]) -> Cell<'static> {
        let each = ids.iter().map(|id| match self.labels.get(id) {
            Some(at) => self.study.parts[*at].label.clone(),
            None => self.addresses.of(*id),
        });
        Cell::from(each.collect::<Vec<_>>().join("; "))
    }

    fn title(&self, key: &'a str) -> Cell<'a> {
        Cell::from(self.title_text(key).to_owned())
    }

    fn title_text(&self, key: &'a str) -> &str {
        self.library.find(key).map_or(key, |calculation| calculation.title.as_str())
    }
}

/// A unit that is written in this program.
fn unit(text: &str) -> Unit {
    Unit::parse(text).unwrap_or_else(|_| Unit::plain())
}

/// The names of all tables.
pub fn names() -> impl Iterator<Item = &'static str> {
    TABLES.iter().map(|table| table.of.name)
}

/// The tables of these names; all of them without names.
///
/// # Errors
/// A name that no table has.
fn chosen(only: &[String]) -> Result<Vec<&'static Maker>, Vec<Diag>> {
    let known = |name: &String| {
        TABLES.iter().find(|table| table.of.name == name).copied().ok_or_else(|| {
            let diag = Diag::error("table-unknown", format!("there is no table `{name}`")).at(Place::address("--only"));
            diag.did_you_mean(name, names()).hint(format!("there are {}", names().collect::<Vec<_>>().join(", ")))
        })
    };
    let mut problems = Vec::new();
    let mut found: Vec<&Maker> = Vec::new();
    for name in only {
        match known(name) {
            Ok(table) if found.iter().any(|other| other.of.name == table.of.name) => {}
            Ok(table) => found.push(table),
            Err(problem) => problems.push(problem),
        }
    }
    match (problems.is_empty(), only.is_empty()) {
        (false, _) => Err(problems),
        (true, true) => Ok(TABLES.to_vec()),
        (true, false) => Ok(found),
    }
}

/// A file that was written.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Written {
    /// Its name in the folder.
    pub file: String,
    /// Its rows.
    pub rows: u64,
}

/// Writes tables into a folder, one file each, with the data dictionary `tables.md` and `schema.json` beside them. `said` is told of the export in
/// all of them. `alone` wants a folder that holds nothing else afterwards, as one that is given away should.
///
/// # Errors
/// A name that no table has; a form this program was built without; a folder that holds other files; what the disk says.
pub fn export(
    source: &Source<'_>,
    folder: &Path,
    format: Format,
    only: &[String],
    said: Vec<(String, String)>,
    alone: bool,
) -> Result<Vec<Written>, Vec<Diag>> {
    let mut tables = chosen(only)?;
    if only.is_empty() && source.ideas.is_none() {
        tables.retain(|table| table.of.name != IDEAS);
    }
    if source.ideas.is_none() && tables.iter().any(|table| table.of.name == IDEAS) {
        let diag = Diag::error("ideas-not-drawn", "`ideas` rests on draws, and none are asked for").at(Place::address("--draws"));
        return Err(vec![diag.hint("ask for some, such as `--draws 4096`")]);
    }
    if !format.is_built() {
        let diag = Diag::error("parquet-not-built", "this program was built without Parquet").at(Place::address("--format"));
        return Err(vec![diag.hint("build it with `cargo build --release --features parquet`, or write csv or jsonl")]);
    }
    let mut facts = source.facts();
    facts.said.extend(said);
    if alone {
        let names: Vec<String> = tables.iter().map(|maker| file_name(maker, format)).collect();
        let ours = |name: &str| name == DICTIONARY || name == SCHEMA || names.iter().any(|known| known == name);
        holds_nothing_else(folder, ours)?;
    }
    std::fs::create_dir_all(folder).map_err(|e| vec![file_diag(&e, folder)])?;
    let mut written = Vec::new();
    for maker in &tables {
        let name = file_name(maker, format);
        let rows =
            put(&folder.join(&name), |out| write(Table { of: &maker.of, rows: (maker.rows)(source) }, format, &facts, out))?;
        written.push(Written { file: name, rows });
    }
    let descriptions = || tables.iter().map(|table| &table.of);
    let texts = [
        ("tables.md", dictionary(&head(&facts), descriptions(), &facts)),
        (SCHEMA, {
            let mut text = serde_json::to_string_pretty(&schema(descriptions(), &facts)).unwrap_or_default();
            text.push('\n');
            text
        }),
    ];
    for (name, text) in texts {
        crate::files::write(&folder.join(name), text.as_bytes()).map_err(|d| vec![d])?;
    }
    Ok(written)
}

const DICTIONARY: &str = "tables.md";
const SCHEMA: &str = "schema.json";

fn file_name(maker: &Maker, format: Format) -> String {
    format!("{}.{}", maker.of.name, format.word())
}

/// Refuses a folder with files that were there before: what is given away as a whole would take them along.
fn holds_nothing_else(folder: &Path, ours: impl Fn(&str) -> bool) -> Result<(), Vec<Diag>> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Ok(()) };
    let mut others: Vec<String> = entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    others.retain(|name| !ours(name));
    others.sort();
    let Some(first) = others.first() else { return Ok(()) };
    let says = format!("the folder holds {} other files, such as `{first}`, which would leave with it", others.len());
    Err(vec![Diag::error("folder-not-empty", says).at(Place::address(folder.display().to_string())).hint("name a new folder")])
}

/// Writes a file through a buffer: whole, or not at all.
fn put(file: &Path, fill: impl FnOnce(&mut (dyn Write + Send)) -> std::io::Result<u64>) -> Result<u64, Vec<Diag>> {
    let mut partial = file.as_os_str().to_owned();
    partial.push(".partial");
    let partial = std::path::PathBuf::from(partial);
    let done = std::fs::File::create(&partial).and_then(|made| {
        let mut out = BufWriter::with_capacity(1 << 18, made);
        let rows = fill(&mut out)?;
        out.flush()?;
        std::fs::rename(&partial, file)?;
        Ok(rows)
    });
    done.map_err(|error| {
        let _ = std::fs::remove_file(&partial);
        vec![file_diag(&error, file)]
    })
}

/// What stands above the tables in the dictionary of one export.
fn head(facts: &Facts) -> String {
    let said: Vec<String> = facts.said.iter().map(|(word, text)| format!("- {word}: {}", text.replace('\n', " "))).collect();
    format!("# Tables\n\n{}\n\n{FORMS}", said.join("\n"))
}

/// How the forms write what they hold.
const FORMS: &str = "\
CSV is UTF-8 by RFC 4180; a unit stands in brackets behind the column's name. Numbers are unrounded: each is the shortest text that reads back
to the same double. An empty field is not known, `\"\"` is an empty text. A text that a spreadsheet could take for a formula, and one that begins
with an apostrophe, has an apostrophe before it: take one leading apostrophe away to have the text as it was. JSON lines and Parquet hold texts as
they are; what is not known is `null`. Several names in one text are joined by `; `. An address is what `tare explain` takes.";

/// The data dictionary of all tables, as `docs/tables.md` holds it.
pub fn reference() -> String {
    let head = format!(
        "# Tables\n\n`tare export tables DIR` writes these, one file each, with this dictionary filled for the study (`tables.md`, `schema.json`).\n\
         `--format csv|jsonl|parquet` (Parquet in a program built with `--features parquet`), `--only parts,joints`, `--draws N` behind `ideas` (0 leaves them out), `--for client|open` \
         (docs/privacy.md).\n\
         This page is written from the descriptions in `crates/tare-app/src/tables/`; a test holds it to them. `money` stands for the study's currency.\n\n{FORMS}"
    );
    dictionary(&head, TABLES.iter().map(|table| &table.of), &Facts::default())
}
