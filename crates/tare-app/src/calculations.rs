//! The library readably, and a file of one's own checked.

use crate::verify::CheckRow;
use serde::Serialize;
use std::path::Path;
use tare_calc::{Calculation, run_checks};
use tare_diag::{Diag, any_error};
use tare_library::Library;

/// A calculation in a list.
#[derive(Clone, Debug, Serialize)]
pub struct ListRow {
    /// Its key.
    pub key: String,
    /// Its title.
    pub title: String,
    /// What it is a calculation of.
    pub kind: &'static str,
    /// How many checks it carries.
    pub checks: usize,
}

/// A calculation to read.
#[derive(Clone, Debug, Serialize)]
pub struct CalculationView {
    /// Its key.
    pub key: String,
    /// Its title.
    pub title: String,
    /// What it is a calculation of.
    pub kind: &'static str,
    /// What it covers and leaves out.
    pub says: String,
    /// The method error with its reason.
    pub method: String,
    /// Inputs.
    pub inputs: Vec<InputView>,
    /// Calculations it uses.
    pub uses: Vec<String>,
    /// Formulas.
    pub equations: Vec<EquationView>,
    /// Tables.
    pub tables: Vec<TableView>,
    /// What it owes its caller, line by line.
    pub owes: Vec<String>,
    /// Its published examples, one line each.
    pub checks: Vec<String>,
}

/// An input to read.
#[derive(Clone, Debug, Serialize)]
pub struct InputView {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// What stands in.
    pub default: String,
    /// Where a value is looked for.
    pub from: Vec<String>,
    /// What it means.
    pub says: String,
}

/// A formula to read.
#[derive(Clone, Debug, Serialize)]
pub struct EquationView {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// As written.
    pub formula: String,
    /// Where it comes from.
    pub source: String,
}

/// A table to read.
#[derive(Clone, Debug, Serialize)]
pub struct TableView {
    /// Its name.
    pub name: String,
    /// Where it comes from.
    pub source: String,
    /// Its rows, one line each.
    pub rows: Vec<String>,
}

/// A material to read.
#[derive(Clone, Debug, Serialize)]
pub struct MaterialView {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Its family.
    pub family: String,
    /// Its properties.
    pub properties: Vec<StatedRow>,
}

/// Something stated, with its source.
#[derive(Clone, Debug, Serialize)]
pub struct StatedRow {
    /// Its name.
    pub name: String,
    /// As stated.
    pub value: String,
    /// Where it is from.
    pub source: String,
}

/// A rate book to read.
#[derive(Clone, Debug, Serialize)]
pub struct BookView {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Its currency.
    pub currency: String,
    /// Its date.
    pub date: String,
    /// Its place.
    pub place: String,
    /// Whether its figures are invented.
    pub illustrative: bool,
    /// Its rates.
    pub rates: Vec<StatedRow>,
}

/// A quantity in a list.
#[derive(Clone, Debug, Serialize)]
pub struct QuantityRow {
    /// Its name.
    pub name: String,
    /// Its unit, or its choices.
    pub unit: String,
    /// What it means.
    pub label: String,
    /// Kinds of record that carry it.
    pub on: Vec<String>,
}

/// A file of one's own, checked.
#[derive(Clone, Debug)]
pub struct Checked {
    /// Its checks, run.
    pub checks: Vec<CheckRow>,
    /// What was found.
    pub problems: Vec<Diag>,
}

impl Checked {
    /// Whether nothing is wrong and every check agrees.
    pub fn well(&self) -> bool {
        !any_error(&self.problems) && self.checks.iter().all(|c| c.ok)
    }
}

/// Every calculation, by key.
pub fn list(library: &Library) -> Vec<ListRow> {
    library
        .calculations()
        .map(|c| ListRow { key: c.key.clone(), title: c.title.clone(), kind: kind(c), checks: c.checks.len() })
        .collect()
}

/// A calculation to read.
///
/// # Errors
/// The library has none of that key; the nearest is named.
pub fn calculation(library: &Library, key: &str) -> Result<CalculationView, Diag> {
    match library.find(key) {
        Some(calculation) => Ok(view(calculation)),
        None => {
            Err(crate::check_value::calculation_problem(library, key).unwrap_or_else(|| Diag::error("calculation-unknown", key)))
        }
    }
}

fn kind(calculation: &Calculation) -> &'static str {
    calculation.kind.map_or("calculation", |k| k.word())
}

fn view(calculation: &Calculation) -> CalculationView {
    let input = |i: &tare_calc::Input| InputView {
        name: i.name.value.clone(),
        unit: if i.choices.is_empty() { i.unit.value.clone() } else { i.choices.join(" | ") },
        default: i.default_text.clone(),
        from: i.from.iter().map(|f| f.value.clone()).collect(),
        says: i.says.clone(),
    };
    let equation = |e: &tare_calc::Equation| EquationView {
        name: e.name.value.clone(),
        unit: e.unit.value.clone(),
        formula: e.text.clone(),
        source: e.source.clone().unwrap_or_default(),
    };
    CalculationView {
        key: calculation.key.clone(),
        title: calculation.title.clone(),
        kind: kind(calculation),
        says: calculation.says.clone(),
        method: calculation.method.as_ref().map(|m| format!("{}: {}", m.spread.text, m.reason)).unwrap_or_default(),
        inputs: calculation.inputs.iter().map(input).collect(),
        uses: calculation.uses.iter().map(|u| format!("{} = {}", u.name.value, u.calculation.value)).collect(),
        equations: calculation.equations.iter().map(equation).collect(),
        tables: calculation.tables.iter().map(table).collect(),
        owes: owed(&calculation.text),
        checks: calculation.checks.iter().map(check_line).collect(),
    }
}

fn table(table: &tare_calc::Table) -> TableView {
    let row = |row: &tare_calc::Row| {
        let cells: Vec<&str> = row.keys.iter().chain(&row.cells).map(|c| c.text.value.as_str()).collect();
        format!("{}: {}", row.name, cells.join(", "))
    };
    let keys: Vec<&str> = table.keys.iter().map(|k| k.name.value.as_str()).collect();
    let columns: Vec<&str> = table.columns.iter().map(|c| c.name.value.as_str()).collect();
    let head = format!("by {}; gives {}", keys.join(", "), columns.join(", "));
    TableView {
        name: table.name.value.clone(),
        source: table.source.clone().unwrap_or_default(),
        rows: std::iter::once(head).chain(table.rows.iter().map(row)).collect(),
    }
}

/// The owed groups as the file writes them: its own words are the most readable form.
fn owed(text: &str) -> Vec<String> {
    let groups = ["[material.", "[labour.", "[machine.", "[tool.", "[consumable."];
    let (mut found, mut inside) = (Vec::new(), false);
    for line in text.lines().map(str::trim) {
        if line.starts_with('[') {
            inside = groups.iter().any(|g| line.starts_with(g));
        }
        if inside && !line.is_empty() && !line.starts_with('#') {
            found.push(line.to_owned());
        }
    }
    found
}

fn check_line(check: &tare_calc::Check) -> String {
    let seen = if check.seen { "read" } else { "from memory" };
    format!("{} ({}, {seen}): {}", check.id, check.kind, check.source)
}

/// Checks a calculation file laid over the library: reading, names, dimensions, circles, and its published examples.
pub fn check(library: &Library, key: &str, file: &str, text: &str) -> Checked {
    let (calculation, mut problems) = tare_calc::parse(key, file, text);
    let with = library.clone().with_own([(format!("{key}.toml").as_str(), text)]).0;
    problems.extend(tare_calc::check(&calculation, &with));
    let mut checks = Vec::new();
    if !any_error(&problems) {
        checks = run_checks(&calculation, &with).iter().map(crate::verify::check_row).collect();
    }
    Checked { checks, problems }
}

/// The key a file has by its place: the folder it is in and its name.
pub fn key_of(path: &Path) -> String {
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let folder = path.parent().and_then(Path::file_name).map(|f| f.to_string_lossy().into_owned());
    let known = ["processes", "joints", "purchases", "motions", "estimates", "tests", "build-up", "roll-ups"];
    match folder {
        Some(folder) if known.contains(&folder.as_str()) => format!("{folder}/{stem}"),
        _ => format!("own/{stem}"),
    }
}

/// Every material.
pub fn materials(library: &Library) -> Vec<MaterialView> {
    library.materials().map(material_view).collect()
}

/// A material to read.
///
/// # Errors
/// The library has none of that key; the nearest is named.
pub fn material(library: &Library, key: &str) -> Result<MaterialView, Diag> {
    match library.material(key) {
        Some(material) => Ok(material_view(material)),
        None => Err(crate::check_value::material_problem(library, key).unwrap_or_else(|| Diag::error("material-unknown", key))),
    }
}

fn material_view(material: &tare_library::Material) -> MaterialView {
    let property = |(name, p): (&String, &tare_library::Property)| StatedRow {
        name: name.clone(),
        value: p.value.text.clone(),
        source: if p.seen { p.source.clone() } else { format!("{} (from memory)", p.source) },
    };
    MaterialView {
        key: material.key.clone(),
        name: material.name.clone(),
        family: material.family.clone(),
        properties: material.properties.iter().map(property).collect(),
    }
}

/// Every rate book.
pub fn books(library: &Library) -> Vec<BookView> {
    library.books().map(book_view).collect()
}

/// A rate book to read.
///
/// # Errors
/// The library has none of that key; the nearest is named.
pub fn book(library: &Library, key: &str) -> Result<BookView, Diag> {
    let found = library.book(key).map(book_view);
    found.ok_or_else(|| {
        Diag::error("book-unknown", format!("the library has no rate book `{key}`"))
            .did_you_mean(key, library.books().map(|b| b.key.as_str()))
    })
}

fn book_view(book: &tare_library::Book) -> BookView {
    let rate = |(key, r): (&String, &tare_library::RateEntry)| StatedRow {
        name: key.clone(),
        value: r.value.text.clone(),
        source: r.says.as_ref().map_or_else(|| r.source.clone(), |s| format!("{s}; {}", r.source)),
    };
    BookView {
        key: book.key.clone(),
        name: book.name.clone(),
        currency: book.currency.clone(),
        date: book.date.clone(),
        place: book.place.clone(),
        illustrative: book.illustrative,
        rates: book.rates.iter().map(rate).collect(),
    }
}

/// Every quantity a value can state.
pub fn quantities(library: &Library) -> Vec<QuantityRow> {
    let row = |q: &tare_library::QuantityDef| QuantityRow {
        name: q.name.clone(),
        unit: q.unit.as_ref().map_or_else(|| q.choices.join(" | "), |u| u.text.clone()),
        label: q.label.clone(),
        on: q.on.clone(),
    };
    library.quantities().map(row).collect()
}
