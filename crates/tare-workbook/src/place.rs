//! Where everything stands: sheets, columns, rows; and the address of any line.

use crate::bit::{Piece, TableKey};
use crate::columns::{Column, Fill, Found, Holds, Translated, translate};
use crate::grids::{Behind, Grid, GridCell};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use tare_calc::Resolve;
use tare_study::{LineRef, Study};
use tare_units::Unit;

/// First row of a table of uses, counted from 0: title, what it is, then names, units and formulas.
pub(crate) const FIRST_ROW: u32 = 6;
/// Columns in front of those of a calculation: address, what it is about, unit.
pub(crate) const LEADING: u16 = 3;
/// First row of inputs.
pub(crate) const FIRST_INPUT: u32 = 4;
/// The column of an input's value in SI units.
pub(crate) const INPUT_SI: u16 = 5;
/// Most columns of a sheet.
const MOST_COLUMNS: usize = 16_000;

/// A column of a sheet: that of one name, over all shapes of the calculation's inputs.
#[derive(Clone, Debug)]
pub(crate) struct Wide {
    pub(crate) name: String,
    pub(crate) list: bool,
    pub(crate) number: bool,
    pub(crate) unit: Unit,
    pub(crate) authored: String,
    pub(crate) source: String,
    pub(crate) bound: bool,
    /// Where it is shown in its own unit, if that is not SI.
    pub(crate) shown: Option<u16>,
    /// Where formulas read it.
    pub(crate) si: u16,
}

/// The sheet of a calculation.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    pub(crate) name: String,
    pub(crate) key: String,
    pub(crate) columns: Vec<Wide>,
    /// Blocks in the order of their rows.
    pub(crate) blocks: Vec<u32>,
    /// The row of the headings of the entries of lists, where there are any.
    pub(crate) entries: Option<u32>,
    /// Columns that found no room.
    pub(crate) left_out: usize,
}

/// Where a block stands.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct At {
    pub(crate) sheet: usize,
    pub(crate) row: u32,
    pub(crate) entries: u32,
}

/// The cell of a line, or what stands for it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Target {
    /// Sheet name as written in formulas, row, column.
    Cell(String, u32, u16),
    /// A constant.
    Text(String),
}

/// Everything in its place.
pub(crate) struct Place<'a> {
    pub(crate) study: &'a Study,
    pub(crate) translated: Vec<Option<Translated>>,
    /// For each template and column the column of the sheet.
    pub(crate) wide: Vec<Vec<usize>>,
    pub(crate) sheets: Vec<Sheet>,
    pub(crate) blocks: Vec<At>,
    pub(crate) grids: Vec<Grid<'a>>,
    pub(crate) grid_of: HashMap<TableKey, usize>,
    /// The leaves behind cells of look-up tables.
    pub(crate) cells: HashMap<GridCell, Behind>,
    /// Names of leaves.
    pub(crate) names: BTreeMap<u32, String>,
}

impl<'a> Place<'a> {
    pub(crate) fn new(study: &'a Study, lib: &'a dyn Resolve, taken: &[&str]) -> Self {
        let lines = &study.lines;
        let used: BTreeSet<u32> = lines.blocks.iter().map(|b| b.template).collect();
        let translated: Vec<Option<Translated>> = (0..lines.templates.len() as u32)
            .map(|t| used.contains(&t).then(|| translate(lib, lines, &lines.templates[t as usize])))
            .collect();
        let mut place = Self {
            study,
            wide: vec![Vec::new(); translated.len()],
            translated,
            sheets: Vec::new(),
            blocks: vec![At::default(); lines.blocks.len()],
            grids: Vec::new(),
            grid_of: HashMap::new(),
            cells: HashMap::new(),
            names: BTreeMap::new(),
        };
        place.make_sheets(taken);
        place.make_grids(lib);
        place
    }

    fn make_sheets(&mut self, taken: &[&str]) {
        let lines = &self.study.lines;
        let mut by_key: BTreeMap<&str, Vec<u32>> = BTreeMap::new();
        for (block, of) in lines.blocks.iter().enumerate() {
            by_key.entry(lines.templates[of.template as usize].key.as_str()).or_default().push(block as u32);
        }
        let mut names: BTreeSet<String> = taken.iter().map(|n| n.to_lowercase()).collect();
        // what makes and joins first, what adds up last
        let rank =
            |key: &str| ["processes/", "joints/", "purchases/", "motions/"].iter().position(|p| key.starts_with(p)).unwrap_or(9);
        let mut keys: Vec<&str> = by_key.keys().copied().collect();
        keys.sort_by_key(|key| (rank(key), key.starts_with("roll-ups/"), *key));
        for key in keys {
            let name = sheet_name(key, &mut names);
            let mut blocks = by_key.remove(key).unwrap_or_default();
            // uses of one shape stand together
            blocks.sort_by_key(|b| (lines.blocks[*b as usize].template, *b));
            let sheet = self.sheet(name, key, blocks);
            self.sheets.push(sheet);
        }
    }

    fn sheet(&mut self, name: String, key: &str, blocks: Vec<u32>) -> Sheet {
        let lines = &self.study.lines;
        let mut templates: Vec<u32> = blocks.iter().map(|b| lines.blocks[*b as usize].template).collect();
        templates.dedup();
        let mut columns: Vec<(Wide, bool)> = Vec::new();
        for template in &templates {
            let Some(found) = &self.translated[*template as usize] else { continue };
            let mut after = 0;
            for column in &found.columns {
                match columns.iter().position(|(w, _)| w.name == column.name && w.list == column.list) {
                    Some(at) => after = at + 1,
                    None => {
                        columns.insert(after, (wide(column), false));
                        after += 1;
                    }
                }
            }
        }
        // a unit of the use's own counts too
        for template in &templates {
            let Some(found) = &self.translated[*template as usize] else { continue };
            let own = blocks
                .iter()
                .map(|b| &lines.blocks[*b as usize])
                .filter(|b| b.template == *template)
                .filter_map(|b| b.unit.as_ref());
            let scaled = |unit: &Unit| unit.factor != 1.0 || unit.offset != 0.0;
            let own = own.clone().any(scaled);
            for column in &found.columns {
                let at = columns.iter().position(|(w, _)| w.name == column.name && w.list == column.list);
                if let Some(at) = at
                    && column.holds == Holds::Number
                {
                    columns[at].1 |= own || scaled(&column.unit);
                }
            }
        }
        let (mut next, mut left_out) = (LEADING, 0);
        let mut kept = Vec::with_capacity(columns.len());
        for list in [false, true] {
            if list {
                next = LEADING;
            }
            for (mut column, scaled) in columns.iter().filter(|(w, _)| w.list == list).cloned() {
                if usize::from(next) + 2 > MOST_COLUMNS {
                    left_out += 1;
                    continue;
                }
                if scaled && column.number {
                    column.shown = Some(next);
                    next += 1;
                }
                column.si = next;
                next += 1;
                kept.push(column);
            }
        }
        for template in templates {
            let Some(found) = &self.translated[template as usize] else { continue };
            let at = |c: &Column| kept.iter().position(|w| w.name == c.name && w.list == c.list).unwrap_or(usize::MAX);
            self.wide[template as usize] = found.columns.iter().map(at).collect();
        }
        let number = self.sheets.len();
        let mut row = FIRST_ROW;
        for block in &blocks {
            self.blocks[*block as usize] = At { sheet: number, row, entries: 0 };
            row += 1;
        }
        let any = kept.iter().any(|c| c.list);
        let entries = any.then_some(row + 2);
        row += 5;
        for block in &blocks {
            self.blocks[*block as usize].entries = row;
            let of = self.translated[lines.blocks[*block as usize].template as usize].as_ref();
            row += of.map_or(0, |t| t.entries as u32);
        }
        Sheet { name, key: key.to_owned(), columns: kept, blocks, entries, left_out }
    }

    /// The cell of a line, or the constant it stands for; none where it has neither.
    pub(crate) fn target(&self, line: LineRef) -> Option<Target> {
        match line {
            LineRef::Leaf(leaf) => Some(match self.names.get(&leaf) {
                Some(name) => Target::Text(name.clone()),
                None => Target::Cell("Inputs".to_owned(), FIRST_INPUT + leaf, INPUT_SI),
            }),
            LineRef::Line { block, line, element } => {
                let template = self.study.lines.blocks[block as usize].template as usize;
                match &self.translated[template].as_ref()?.lines[line as usize] {
                    Found::Column(slot) => self.cell(block, *slot, element),
                    Found::Same(bit) => match bit.pieces.first()? {
                        Piece::Text(text) => Some(Target::Text(text.clone())),
                        Piece::Cell(slot) => self.cell(block, *slot, 0),
                        Piece::Param(param) => self.target(self.study.lines.argument(block, *param)),
                        _ => None,
                    },
                    Found::Nowhere => None,
                }
            }
        }
    }

    pub(crate) fn column(&self, block: u32, slot: usize) -> Option<&Wide> {
        let template = self.study.lines.blocks[block as usize].template as usize;
        self.sheets[self.blocks[block as usize].sheet].columns.get(self.wide[template][slot])
    }

    fn cell(&self, block: u32, slot: usize, element: u32) -> Option<Target> {
        let (at, column) = (self.blocks[block as usize], self.column(block, slot)?);
        let row = if column.list { at.entries + element } else { at.row };
        Some(Target::Cell(self.sheets[at.sheet].name.clone(), row, column.si))
    }

    /// The address of a line for a formula.
    pub(crate) fn reference(&self, line: LineRef) -> Option<String> {
        Some(match self.target(line)? {
            Target::Cell(sheet, row, column) => format!("{}!${}${}", quoted(&sheet), letters(column), row + 1),
            Target::Text(text) => text,
        })
    }

    /// A formula for one use, or for one entry of its lists; none where something it reads has no place.
    pub(crate) fn formula(&self, block: u32, entry: Option<u32>, pieces: &[Piece], out: &mut String) -> Option<()> {
        use std::fmt::Write;
        out.clear();
        let at = self.blocks[block as usize];
        let template = self.study.lines.blocks[block as usize].template as usize;
        let found = self.translated[template].as_ref()?;
        for piece in pieces {
            match piece {
                Piece::Text(text) => out.push_str(text),
                Piece::Cell(slot) => {
                    let fixed = if entry.is_some() { "$" } else { "" };
                    let _ = write!(out, "{}{fixed}{}", letters(self.column(block, *slot)?.si), at.row + 1);
                }
                Piece::Entry(slot) | Piece::NextEntry(slot) => {
                    let last = found.columns[*slot].values.len().saturating_sub(1) as u32;
                    let step = u32::from(matches!(piece, Piece::NextEntry(_)));
                    let row = at.entries + (entry? + step).min(last);
                    let _ = write!(out, "{}{}", letters(self.column(block, *slot)?.si), row + 1);
                }
                Piece::Range(slot) => {
                    let column = letters(self.column(block, *slot)?.si);
                    let last = at.entries + found.columns[*slot].values.len() as u32;
                    let _ = write!(out, "${column}${}:${column}${last}", at.entries + 1);
                }
                Piece::Param(param) => out.push_str(&self.reference(self.study.lines.argument(block, *param))?),
                Piece::Table(key, part) => {
                    let grid = &self.grids[*self.grid_of.get(key)?];
                    let column = letters(Self::grid_column(grid, *part));
                    let last = grid.row + grid.table.rows.len() as u32;
                    let _ = write!(out, "'Look-up'!${column}${}:${column}${last}", grid.row + 1);
                }
            }
        }
        Some(())
    }
}

fn wide(column: &Column) -> Wide {
    Wide {
        name: column.name.clone(),
        list: column.list,
        number: column.holds == Holds::Number,
        unit: column.unit.clone(),
        authored: column.authored.clone(),
        source: column.source.clone(),
        bound: matches!(column.fill, Fill::Bound { .. }),
        shown: None,
        si: 0,
    }
}

/// A sheet's name as a formula writes it.
pub(crate) fn quoted(name: &str) -> String {
    format!("'{}'", name.replace('\'', "''"))
}

/// The letters of a column, counted from 0.
pub(crate) fn letters(column: u16) -> String {
    let mut number = u32::from(column) + 1;
    let mut text = Vec::new();
    while number > 0 {
        text.push(b'A' + ((number - 1) % 26) as u8);
        number = (number - 1) / 26;
    }
    text.reverse();
    String::from_utf8(text).unwrap_or_default()
}

/// A name for the sheet of a calculation: the last part of its key, made unique, at most 31 characters of those allowed.
fn sheet_name(key: &str, taken: &mut BTreeSet<String>) -> String {
    let clean = |text: &str| -> String {
        let text: String = text.chars().map(|c| if "[]:*?/\\'".contains(c) || c.is_control() { ' ' } else { c }).collect();
        text.trim().chars().take(31).collect()
    };
    let last = clean(key.rsplit('/').next().unwrap_or(key));
    let whole = clean(&key.replace('/', " "));
    let mut candidates = vec![last, whole];
    candidates.extend((2..10_000).map(|n| {
        let base: String = clean(&key.replace('/', " ")).chars().take(26).collect();
        format!("{base} {n}")
    }));
    let free = candidates.into_iter().find(|name| !name.is_empty() && !taken.contains(&name.to_lowercase()));
    let name = free.unwrap_or_else(|| format!("sheet {}", taken.len()));
    taken.insert(name.to_lowercase());
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_have_letters() {
        assert_eq!([0, 25, 26, 701, 702, 16_383].map(letters), ["A", "Z", "AA", "ZZ", "AAA", "XFD"]);
    }

    #[test]
    fn sheet_names_are_allowed_and_differ() {
        let mut taken = BTreeSet::from(["inputs".to_owned()]);
        assert_eq!(sheet_name("roll-ups/sum", &mut taken), "sum");
        assert_eq!(sheet_name("own/sum", &mut taken), "own sum");
        assert_eq!(sheet_name("a/inputs", &mut taken), "a inputs");
        let long = sheet_name(&format!("x/{}", "y".repeat(60)), &mut taken);
        assert_eq!(long.chars().count(), 31);
        let next = sheet_name(&format!("x/{}", "y".repeat(60)), &mut taken);
        assert!(next != long && next.chars().count() <= 31);
    }
}
