//! Rows of a table: parts, section titles, totals, charges and notes are told apart; part rows get their values, each with its cell.

use crate::book::{Book, Cell, CellKind, Sheet, cell_name};
use crate::columns::is_designator;
use crate::formula;
use crate::limits;
use crate::mapping::{ColumnMapping, Meaning, TableMapping};
use crate::number::{self, NumberStyle};
use crate::price;
use crate::proposal::{Amount, Changed, Group, Mass, Origin, PartRow, Per, Price, QuantityKind, Question, Skipped, Tax, Told};
use crate::quantity;
use crate::tables::{Found, is_number};
use crate::titles;
use crate::words;
use std::collections::BTreeMap;
use tare_diag::Diag;

/// Where a cell is and what it says, with the rule applied.
pub(crate) fn origin(book: &Book, sheet: usize, cell: &Cell, rule: impl Into<String>) -> Origin {
    Origin {
        file: book.file.clone(),
        sheet: book.sheets[sheet].name.clone(),
        cell: cell_name(cell.row, cell.column),
        raw: cell.text.clone(),
        rule: rule.into(),
    }
}

/// What was gathered from the tables so far.
#[derive(Default)]
pub(crate) struct Gathered {
    pub(crate) rows: Vec<PartRow>,
    pub(crate) groups: Vec<Group>,
    pub(crate) totals: Vec<StatedTotal>,
    pub(crate) skipped: Vec<Skipped>,
    pub(crate) changed: Vec<Changed>,
    pub(crate) warnings: Vec<Diag>,
    pub(crate) questions: Vec<Question>,
    /// Recomputed formulas and what was spent on them.
    pub(crate) memo: std::cell::RefCell<formula::Memo>,
    /// Postage, tax and fees, which totals may contain: table, column meaning, amount.
    pub(crate) charges: Vec<(usize, Meaning, f64)>,
    /// Places on boards written out so far.
    pub(crate) places: usize,
    /// Messages that were only counted.
    pub(crate) more_warnings: usize,
}

/// A total as stated, before it is compared.
pub(crate) struct StatedTotal {
    pub(crate) table: usize,
    pub(crate) sheet: usize,
    pub(crate) label: String,
    pub(crate) meaning: Meaning,
    pub(crate) cell: Cell,
    pub(crate) stated: Option<f64>,
    /// Kilograms per unit of a stated mass, where its unit is known.
    pub(crate) kg: Option<f64>,
    pub(crate) rows_before: usize,
}

/// Reads the rows of one table.
pub(crate) struct RowReader<'a> {
    pub(crate) book: &'a Book,
    pub(crate) sheet: &'a Sheet,
    pub(crate) found: &'a Found,
    pub(crate) map: &'a TableMapping,
    pub(crate) table: usize,
    pub(crate) answers: &'a BTreeMap<String, String>,
    pub(crate) out: &'a mut Gathered,
}

impl RowReader<'_> {
    fn place(&self, cell: &Cell) -> tare_diag::Place {
        self.book.place(self.found.sheet, cell.row, cell.column)
    }

    fn origin(&self, cell: &Cell, rule: impl Into<String>) -> Origin {
        origin(self.book, self.found.sheet, cell, rule)
    }

    fn skip(&mut self, cell: &Cell, why: &str) {
        let cell = self.origin(cell, "not taken");
        self.out.skipped.push(Skipped { cell, why: why.to_owned() });
    }

    fn warn(&mut self, code: &'static str, message: String, cell: &Cell) {
        if self.out.warnings.len() >= limits::ROW_MESSAGES {
            self.out.more_warnings += 1;
            return;
        }
        let place = self.place(cell);
        self.out.warnings.push(Diag::warning(code, message).at(place));
    }

    /// Goes through all rows; returns how many section rows there were.
    pub(crate) fn read(&mut self) -> usize {
        let (left, right) = (self.found.left, self.found.right);
        let rows: Vec<u32> = self
            .sheet
            .rows()
            .skip_while(|r| *r <= self.found.header)
            .take_while(|r| *r <= self.found.last)
            .filter(|r| self.sheet.seen_in_row(*r, left, right).next().is_some())
            .collect();
        let widths: Vec<usize> = rows.iter().map(|r| self.sheet.seen_in_row(*r, left, right).count()).collect();
        let mut sorted = widths.clone();
        sorted.sort_unstable();
        let usual = sorted.get(sorted.len() / 2).copied().unwrap_or(0);
        let last_wide = widths.iter().rposition(|w| *w > 1);
        let mut group = self.found.title.clone().map(|c| self.group(&c, None, false));
        let table_group = group;
        let mut sections = 0;
        for (i, row) in rows.iter().copied().enumerate() {
            let cells: Vec<&Cell> = self.sheet.seen_in_row(row, left, right).collect();
            let first = cells[0];
            if self.found.units == Some(row) {
                self.skip(first, "units of the columns");
                continue;
            }
            let ruler = |c: &&Cell| {
                c.text.trim().len() >= 2 && c.text.trim().chars().all(|c| matches!(c, '-' | '=' | '_' | ':' | '|' | '+' | '*'))
            };
            if cells.iter().all(ruler) {
                self.skip(first, "a ruled line");
                continue;
            }
            if self.repeats_titles(&cells) {
                self.skip(first, "the titles once more");
                continue;
            }
            let label = cells.iter().find(|c| c.is_text() && !is_number(&c.text)).copied();
            if label.is_some_and(|l| words::is_total(&l.text) && self.total(l, &cells)) {
                continue;
            }
            let measured = self
                .column_at(first.column)
                .is_some_and(|m| crate::columns::numeric(m.meaning) && self.plain_number(first, m).is_some());
            // A cell merged down into the row speaks for it as well.
            let alone = cells.len() == 1
                && !(left..=right).any(|c| self.sheet.merge_at(row, c).is_some_and(|m| m.top < row && m.bottom >= row));
            if alone && usual > 1 && first.is_text() && !is_number(&first.text) && !measured {
                let after = last_wide.is_some_and(|l| l > i);
                let blank_before = i == 0 || rows[i - 1] + 1 < row;
                let merged = self.sheet.merge_at(row, first.column).is_some_and(|m| m.right > m.left);
                let titled = self.map.column(Meaning::Quantity).is_none_or(|c| c.column != first.column);
                if words::is_total(&first.text) {
                    self.skip(first, "a total without a number");
                } else if first.text.chars().count() > 60 || !titled || (!after && self.is_noteworthy(first)) {
                    self.skip(first, "a note, not a part: one text in the row");
                } else if after
                    && (blank_before
                        || merged
                        || first.text.trim_end().ends_with(':')
                        || usual >= 3
                        || rows.get(i + 1).is_some_and(|n| *n > row + 1))
                {
                    group = Some(self.group(first, table_group, true));
                    sections += 1;
                } else {
                    let id = format!("section:{}:{}", self.found.sheet, cell_name(first.row, first.column));
                    if self.answers.get(&id).is_some_and(|a| a == "section") {
                        group = Some(self.group(first, table_group, true));
                        sections += 1;
                        continue;
                    }
                    if !self.answers.contains_key(&id) && self.out.questions.len() < limits::ROW_MESSAGES {
                        let cell = Some(self.origin(first, "one text in the row"));
                        let text = format!("is `{}` the title of a section or a part without a quantity?", first.text.trim());
                        let choices = vec![
                            ("part".to_owned(), "a part (taken unless answered)".to_owned()),
                            ("section".to_owned(), "a section title".to_owned()),
                        ];
                        self.out.questions.push(Question { id, text, choices, cell });
                    }
                    self.part(row, &cells, group);
                }
                continue;
            }
            if label.is_none_or(|l| !self.names(l)) && self.unlabelled(&cells) {
                continue;
            }
            if let Some(charge) = label.filter(|l| words::is_charge(&l.text)) {
                for cell in &cells {
                    if let Some(map) =
                        self.column_at(cell.column).filter(|m| matches!(m.meaning, Meaning::Price | Meaning::PriceLine))
                        && let Some(v) = self.plain_number(cell, map)
                    {
                        let charge = (self.table, map.meaning, v);
                        self.out.charges.push(charge);
                    }
                }
                self.skip(charge, "a charge (postage, tax or fee), not a part");
                continue;
            }
            self.part(row, &cells, group);
        }
        sections
    }

    fn is_noteworthy(&self, cell: &Cell) -> bool {
        let t = cell.text.trim();
        t.starts_with(['*', '('])
            || t.ends_with('.')
            || t.split_whitespace().count() > 5
            || Some(cell.column) != self.map.column(Meaning::Name).map(|c| c.column)
    }

    fn repeats_titles(&self, cells: &[&Cell]) -> bool {
        cells.len() > 1
            && cells.iter().all(|c| {
                self.map
                    .columns
                    .iter()
                    .any(|m| m.column == c.column && !m.title.is_empty() && titles::plain(&m.title) == titles::plain(&c.text))
            })
    }

    fn group(&mut self, cell: &Cell, parent: Option<usize>, section_row: bool) -> usize {
        let name = cell.text.trim().trim_end_matches(':').trim().to_owned();
        let rule = if section_row { "section title row" } else { "title above the table" };
        let origin = self.origin(cell, rule);
        self.out.groups.push(Group { name, parent, section_row, origin });
        self.out.groups.len() - 1
    }

    /// Whether a cell stands in a column that can name a part.
    fn names(&self, cell: &Cell) -> bool {
        use Meaning as M;
        self.column_at(cell.column).is_some_and(|c| {
            matches!(
                c.meaning,
                M::Name
                    | M::PartNumber
                    | M::Description
                    | M::Designator
                    | M::Device
                    | M::Value
                    | M::Path
                    | M::Group
                    | M::Other
                    | M::Material
            )
        })
    }

    fn column_at(&self, column: u32) -> Option<&ColumnMapping> {
        self.map.columns.iter().find(|c| c.column == column)
    }

    fn total(&mut self, label: &Cell, cells: &[&Cell]) -> bool {
        let strict = words::is_strict_total(&label.text) || self.adds_up(label, cells);
        let mut any = false;
        for cell in cells.iter().filter(|c| c.column != label.column) {
            let Some(map) = self.column_at(cell.column).filter(|m| crate::columns::numeric(m.meaning)).cloned() else { continue };
            let stated = self.plain_number(cell, &map);
            let open = cell.kind == CellKind::Unknown || cell.kind == CellKind::Error;
            if stated.is_none() && !(strict && open) {
                continue;
            }
            if !strict && !cell.formula.as_deref().is_some_and(formula::is_sum) {
                continue;
            }
            self.push_total(label.text.trim(), &map, cell, stated);
            any = true;
        }
        if !any && strict && cells.iter().all(|c| c.is_text()) && cells.len() <= 2 {
            self.skip(label, "a total outside the columns that are added up");
            return true;
        }
        any
    }

    /// `Total mechanics` is no part if it names the group above it or if a number in it is the sum of the rows since the last total.
    fn adds_up(&self, label: &Cell, cells: &[&Cell]) -> bool {
        let end = self.out.rows.len();
        let Some(last) = self.out.rows.last().filter(|r| r.table == self.table) else { return false };
        let group = last.group.map(|g| titles::plain(&self.out.groups[g].name));
        if group.is_some_and(|g| !g.is_empty() && titles::plain(&label.text).ends_with(&g)) {
            return true;
        }
        cells.iter().filter(|c| c.column != label.column).any(|cell| {
            let Some(map) = self.column_at(cell.column).filter(|m| crate::columns::numeric(m.meaning)) else { return false };
            let Some(stated) = self.plain_number(cell, map).filter(|v| *v != 0.0) else { return false };
            let before = |t: &&StatedTotal| t.table == self.table && t.meaning == map.meaning;
            let since = self.out.totals.iter().rev().take(100).find(before).map_or(0, |t| t.rows_before);
            let first = since.max(end.saturating_sub(limits::TOTAL_ROWS));
            let values: Vec<f64> = self.out.rows[first..end]
                .iter()
                .filter(|r| r.table == self.table)
                .filter_map(|r| crate::totals::share(r, map.meaning, self.mass_unit(cell, map)))
                .collect();
            values.len() >= 2 && (values.iter().sum::<f64>() - stated).abs() <= 1e-9 * stated.abs()
        })
    }

    fn push_total(&mut self, label: &str, map: &ColumnMapping, cell: &Cell, stated: Option<f64>) {
        self.out.totals.push(StatedTotal {
            table: self.table,
            sheet: self.found.sheet,
            label: label.to_owned(),
            meaning: map.meaning,
            cell: cell.clone(),
            stated,
            kg: self.mass_unit(cell, map),
            rows_before: self.out.rows.len(),
        });
    }

    /// Kilograms per unit of a mass in a cell: its own unit, else the column's.
    fn mass_unit(&self, cell: &Cell, map: &ColumnMapping) -> Option<f64> {
        if !matches!(map.meaning, Meaning::Mass | Meaning::MassLine) {
            return None;
        }
        let own = number::leading(cell.text.trim()).filter(|_| cell.is_text()).and_then(|(_, rest)| kilograms(rest));
        own.or_else(|| map.unit.as_deref().and_then(kilograms))
    }

    /// Numbers without any name: a total if a formula or the last row says so.
    fn unlabelled(&mut self, cells: &[&Cell]) -> bool {
        if cells.iter().any(|c| self.names(c) && !(c.kind == CellKind::Number || is_number(&c.text))) {
            return false;
        }
        if cells.iter().any(|c| {
            self.column_at(c.column)
                .is_some_and(|m| matches!(m.meaning, Meaning::PartNumber | Meaning::Name | Meaning::Designator))
        }) {
            return false;
        }
        let mut any = false;
        for cell in cells {
            let Some(map) = self.column_at(cell.column).filter(|m| crate::columns::numeric(m.meaning)).cloned() else { continue };
            if let Some(stated) = self.plain_number(cell, &map) {
                self.push_total("(no label)", &map, cell, Some(stated));
                any = true;
            }
        }
        if !any {
            self.skip(cells[0], "no name, part number or place in the row");
        }
        true
    }

    /// The stored or written number of a cell, nothing else.
    pub(crate) fn plain_number(&self, cell: &Cell, map: &ColumnMapping) -> Option<f64> {
        match cell.kind {
            CellKind::Number => cell.number,
            CellKind::Unknown if self.out.totals.len() < limits::TOTALS => {
                cell.formula.as_deref().and_then(|f| formula::evaluate_within(self.sheet, f, &mut self.out.memo.borrow_mut()))
            }
            CellKind::Text => price::number_text(&cell.text).and_then(|n| number::parse(n, map.number?)),
            _ => None,
        }
    }

    /// A cell's number with formulas recomputed; warns of stale and missing values.
    fn number(&mut self, cell: &Cell) -> Option<(f64, String)> {
        match (&cell.formula, cell.number) {
            (Some(f), stored) => match (formula::evaluate_within(self.sheet, f, self.out.memo.get_mut()), stored) {
                (Some(v), Some(s)) if (v - s).abs() <= 1e-9 * v.abs().max(s.abs()).max(1.0) => {
                    Some((s, format!("stored value of ={f}")))
                }
                (Some(v), Some(s)) => {
                    self.warn("formula-stale", format!("the stored value {s} is stale: ={f} gives {v}"), cell);
                    let origin = self.origin(cell, format!("recomputed ={f}; the stored value was stale"));
                    self.out.changed.push(Changed { cell: origin, became: v.to_string() });
                    Some((v, format!("recomputed ={f} (stored: {s})")))
                }
                (Some(v), None) => {
                    let origin = self.origin(cell, format!("recomputed ={f}; no value was stored"));
                    self.out.changed.push(Changed { cell: origin, became: v.to_string() });
                    Some((v, format!("recomputed ={f} (no stored value)")))
                }
                (None, Some(s)) => Some((s, format!("stored value of ={f}, not recomputed"))),
                (None, None) => {
                    self.warn(
                        "formula-unknown",
                        format!("={f} has no stored value and cannot be recomputed; the value is left unknown"),
                        cell,
                    );
                    None
                }
            },
            (None, Some(s)) => Some((s, "stored number".to_owned())),
            (None, None) => None,
        }
    }

    fn cell(&self, row: u32, meaning: Meaning) -> Option<(&Cell, &ColumnMapping)> {
        let map = self.map.column(meaning)?;
        Some((self.sheet.seen(row, map.column)?, map))
    }

    fn told(&self, row: u32, meaning: Meaning) -> Option<Told<String>> {
        use Meaning as M;
        if let Some((cell, _)) = self.cell(row, meaning) {
            let text = cell.text.trim();
            // Some programs write `="00042"` so that the next one keeps the zeros.
            let kept = text.strip_prefix("=\"").and_then(|t| t.strip_suffix('"'));
            // A running number such as `=A2+1` without a stored value.
            if cell.kind == CellKind::Unknown
                && let Some(f) = &cell.formula
                && let Some(v) = formula::evaluate_within(self.sheet, f, &mut self.out.memo.borrow_mut())
            {
                return Some(Told {
                    value: v.to_string(),
                    origin: self.origin(cell, format!("recomputed ={f}; no value was stored")),
                });
            }
            let rule = match (kept, cell.kind) {
                (Some(_), _) => "text inside a formula, kept as text",
                (None, CellKind::Number) => "number as the cell shows it, kept as text",
                _ => "as written",
            };
            let value = kept.unwrap_or(text).replace(|c: char| c.is_control() && !c.is_whitespace(), "");
            return Some(Told { value, origin: self.origin(cell, rule) });
        }
        // A word merged over rows is said of all of them; a number, a name or a price is not.
        if !matches!(meaning, M::Supplier | M::Material | M::Note | M::MakeOrBuy | M::Link) {
            return None;
        }
        let map = self.map.column(meaning)?;
        let merge = self.sheet.merge_at(row, map.column).filter(|m| m.top < row)?;
        let cell = self.sheet.seen(merge.top, merge.left).filter(|c| c.is_text())?;
        let rule = format!("merged over rows {} to {}", merge.top + 1, merge.bottom + 1);
        Some(Told { value: cell.text.trim().to_owned(), origin: self.origin(cell, rule) })
    }

    fn part(&mut self, row: u32, cells: &[&Cell], group: Option<usize>) {
        use Meaning as M;
        let mut part = PartRow {
            table: self.table,
            row: row + 1,
            group,
            fitted: true,
            component: true,
            counted: true,
            ..PartRow::default()
        };
        part.label = self.told(row, M::Position);
        part.part_number = self.told(row, M::PartNumber);
        part.name = self.told(row, M::Name);
        part.description = self.told(row, M::Description);
        part.material = self.told(row, M::Material);
        part.note = self.told(row, M::Note);
        part.make_or_buy = self.told(row, M::MakeOrBuy);
        part.supplier = self.told(row, M::Supplier);
        part.value = self.told(row, M::Value);
        part.device = self.told(row, M::Device);
        part.package = self.told(row, M::Package);
        part.link = self.told(row, M::Link);
        if let Some((cell, _)) = self.cell(row, M::Link)
            && let Some(address) = cell.link.clone()
        {
            let origin = self.origin(cell, "address behind the cell");
            part.link = Some(Told { value: address, origin });
        }
        if let Some(places) = self.told(row, M::Designator) {
            part.designators = crate::columns::places(&places.value, limits::PLACES.saturating_sub(self.out.places));
            self.out.places += part.designators.len();
            if part.name.is_none() {
                part.name = part.device.clone().or_else(|| part.value.clone()).or(Some(places));
            }
        }
        if part.name.is_none() {
            part.name = part.description.clone().or_else(|| part.part_number.clone()).or_else(|| part.material.clone());
        }
        for map in &self.map.columns {
            if matches!(
                map.meaning,
                M::Other | M::Option | M::Fitted | M::Date | M::Unit | M::PackSize | M::QuantityTotal | M::Multiplier
            ) && let Some(cell) = self.sheet.seen(row, map.column)
            {
                part.other.push((
                    map.title.trim().to_owned(),
                    Told { value: cell.text.clone(), origin: self.origin(cell, "as written") },
                ));
            }
        }
        if let Some(number) = part.part_number.as_ref()
            && shortened(&number.value)
            && let Some(cell) = self.cell(row, M::PartNumber).map(|(c, _)| c.clone())
        {
            let message =
                format!("the part number `{}` was once stored as a number and shortened; its digits are lost", number.value);
            self.warn("part-number-shortened", message, &cell);
        }
        if let Some(number) = part.part_number.as_ref()
            && let Some((cell, _)) = self.cell(row, M::PartNumber)
            && cell.number.is_some_and(|n| n.abs() >= 1e15)
        {
            let message = format!(
                "the part number `{}` is stored as a number with more than 15 digits; its last digits may be lost",
                number.value
            );
            let cell = cell.clone();
            self.warn("number-too-large", message, &cell);
        }
        part.quantity = self.quantity(row, &part, cells);
        part.bought =
            self.cell(row, M::QuantityBought).map(|(c, m)| (c.clone(), m.number)).map(|(c, style)| self.amount(&c, style));
        self.masses(row, &mut part);
        self.prices(row, &mut part);
        words::status(self.map, self.sheet, row, &mut part);
        for cell in cells.iter().filter(|c| c.kind == CellKind::Error) {
            self.warn("cell-error", format!("the cell holds the error `{}`", cell.text), cell);
        }
        self.out.rows.push(part);
    }

    fn amount(&mut self, cell: &Cell, style: Option<NumberStyle>) -> Amount {
        let mut amount = Amount { origin: self.origin(cell, ""), ..Amount::default() };
        let read = match cell.kind {
            CellKind::Number | CellKind::Unknown => match self.number(cell) {
                Some((v, rule)) => {
                    let mut read = quantity::read(&v.to_string(), Some(NumberStyle::Point));
                    read.rule = if read.value.is_some() { rule } else { read.rule };
                    read
                }
                None => quantity::Read { rule: "formula without a value".to_owned(), ..quantity::Read::default() },
            },
            CellKind::Text => quantity::read(&cell.text, style),
            _ => quantity::Read { rule: "no number".to_owned(), ..quantity::Read::default() },
        };
        (amount.value, amount.kind, amount.unit, amount.about) = (read.value, read.kind, read.unit, read.about);
        if let Some((code, message)) = read.warning {
            self.warn(code, message, cell);
        }
        if cell.is_text() && read.value.is_some() && !is_number(&cell.text) {
            let changed = Changed {
                cell: self.origin(cell, read.rule.clone()),
                became: read.value.map(|v| v.to_string()).unwrap_or_default(),
            };
            self.out.changed.push(changed);
        }
        amount.origin.rule = read.rule;
        amount
    }

    fn quantity(&mut self, row: u32, part: &PartRow, cells: &[&Cell]) -> Amount {
        use Meaning as M;
        let Some(map) = self.map.column(M::Quantity).cloned() else {
            let cell = cells[0];
            let places = part.designators.len();
            let (value, rule) = if places > 1 {
                (places as f64, "no quantity column: the places were counted")
            } else {
                (1.0, "no quantity column: one per row")
            };
            return Amount {
                value: Some(value),
                kind: QuantityKind::Pieces,
                origin: self.origin(cell, rule),
                ..Amount::default()
            };
        };
        let Some(cell) = self.sheet.seen(row, map.column).cloned() else {
            let mut at = Cell::text(row, map.column, "");
            let mut rule = "empty".to_owned();
            if let Some(m) = self.sheet.merge_at(row, map.column).filter(|m| m.top < row) {
                rule = format!("inside the merged range that begins in {}: not repeated", cell_name(m.top, m.left));
                if let Some(stale) = self.sheet.get(row, map.column) {
                    at.text = stale.text.clone();
                }
            }
            return Amount { origin: self.origin(&at, rule), ..Amount::default() };
        };
        if cell.kind == CellKind::Date || (cell.is_text() && number::date(&cell.text).is_some()) {
            return Amount { origin: self.origin(&cell, DATE), ..Amount::default() };
        }
        let mut amount = self.amount(&cell, map.number);
        if let Some(Per::Group) = self.per_merge(&cell, "quantity") {
            amount.origin.rule.push_str("; merged, so it may be for several rows together");
        }
        let told = self.cell(row, M::Unit).map(|(c, _)| c.text.trim().to_owned()).or_else(|| map.unit.clone());
        if let Some(unit) = told
            && amount.unit.is_none()
            && amount.value.is_some()
            && let Some((kind, symbol)) = quantity::unit_kind(&unit)
        {
            (amount.kind, amount.unit) = (kind, Some(symbol.to_owned()));
            amount.origin.rule.push_str(&format!("; unit `{unit}` from the list"));
        } else if amount.unit.is_none()
            && amount.value.is_some()
            && let Some((note, (kind, symbol))) = part.note.as_ref().and_then(|n| Some((n, quantity::unit_in_note(&n.value)?)))
        {
            (amount.kind, amount.unit) = (kind, Some(symbol.to_owned()));
            amount.origin.rule.push_str(&format!("; unit from the note in {}", note.origin.cell));
            let v = amount.value.unwrap_or_default();
            let message = format!("the quantity {v} is read as {v} {symbol}, for the note begins with a unit (`{}`)", note.value);
            self.warn("unit-from-note", message, &cell);
        }
        if let Some((factor_cell, factor_map)) = self.cell(row, M::Multiplier).map(|(c, m)| (c.clone(), m.clone()))
            && let (Some(v), Some(k)) = (amount.value, self.plain_number(&factor_cell, &factor_map))
        {
            amount.value = Some(v * k);
            amount.origin.rule.push_str(&format!("; times {k} from {}", cell_name(factor_cell.row, factor_cell.column)));
            if let Some((total, map)) = self.cell(row, M::QuantityTotal).map(|(c, m)| (c.clone(), m.clone()))
                && let Some(t) = self.plain_number(&total, &map).filter(|t| (t - v * k).abs() > 1e-9 * t.abs().max(1.0))
            {
                let message = format!("{v} x {k} is {}, but the list's own total says {t}; the product is taken", v * k);
                self.warn("quantity-total-differs", message, &total);
            }
        }
        amount
    }

    /// Merged over several rows: the value is for all of them together.
    fn per_merge(&mut self, cell: &Cell, what: &str) -> Option<Per> {
        let m = self.sheet.merge_at(cell.row, cell.column).filter(|m| m.bottom > m.top)?;
        let message =
            format!("the {what} stands once for rows {} to {} (merged cells); it is not repeated", m.top + 1, m.bottom + 1);
        self.warn("merged-value", message, cell);
        Some(Per::Group)
    }

    fn masses(&mut self, row: u32, part: &mut PartRow) {
        for meaning in [Meaning::Mass, Meaning::MassLine] {
            let Some((cell, map)) = self.cell(row, meaning).map(|(c, m)| (c.clone(), m.clone())) else { continue };
            let mut mass = self.mass(&cell, &map);
            if let Some(per) = self.per_merge(&cell, "mass") {
                mass.per = per;
            }
            match &mut part.mass {
                None => part.mass = Some(mass),
                Some(piece) => self.line_mass(piece, &mass, part.quantity.value, &cell),
            }
        }
    }

    /// Quantity times mass must be the line mass; where titles do not say so, this tells that the mass is for a piece.
    fn line_mass(&mut self, piece: &mut Mass, line: &Mass, quantity: Option<f64>, cell: &Cell) {
        let (Some(one), Some(all), Some(q)) = (piece.kg, line.kg, quantity) else { return };
        if (one * q - all).abs() <= 0.006 * all.abs() + 1e-9 {
            if piece.per == Per::Unknown {
                piece.per = Per::Piece;
                piece.origin.rule.push_str("; per piece, for quantity x mass = line mass");
            }
        } else if !matches!(piece.per, Per::Group) {
            let message = format!("{q} x {one} kg is {} kg, but the line mass says {all} kg", (q * one * 1e9).round() / 1e9);
            self.warn("mass-line-differs", message, cell);
        }
    }

    fn mass(&mut self, cell: &Cell, map: &ColumnMapping) -> Mass {
        let mut mass =
            Mass { unit: map.unit.clone().unwrap_or_default(), per: map.per, origin: self.origin(cell, ""), ..Mass::default() };
        let mut rule = "no number found".to_owned();
        if cell.is_text() {
            if let Some((n, rest)) = number::leading(cell.text.trim_start_matches(['~', '≈', ' '])) {
                let open = map.number.is_none() && number::vote(n) == number::Vote::Open;
                mass.value = number::parse(n, map.number.unwrap_or(NumberStyle::Point)).filter(|_| !open);
                "number as written".clone_into(&mut rule);
                let word = rest.trim_start().split([' ', '(', '/', ',', '=']).next().unwrap_or("");
                if let Some((QuantityKind::Mass, symbol)) = quantity::unit_kind(word) {
                    if !mass.unit.is_empty() && kilograms(&mass.unit) != kilograms(symbol) {
                        let message =
                            format!("found `{}` in a column of `{}`; the unit in the cell is taken", cell.text.trim(), mass.unit);
                        self.warn("mass-unit-differs", message, cell);
                    }
                    symbol.clone_into(&mut mass.unit);
                    self.two_units(cell, &mass, rest, map.number);
                }
            }
        } else if let Some((v, r)) = self.number(cell) {
            (mass.value, rule) = (Some(v), r);
        }
        if mass.value.is_some_and(|v| v.abs() > 1e9 || v < 0.0) {
            let message = format!("found the mass `{}`, beyond anything that can be stripped; it is not taken", cell.text.trim());
            self.warn("number-too-large", message, cell);
            mass.value = None;
        } else if mass.value.is_none() && map.number.is_some() && cell.is_text() && !quantity::words_of_not_known(&cell.text) {
            let message = format!("the mass `{}` does not read as a number; it is left unknown", cell.text.trim());
            self.warn("value-unread", message, cell);
        }
        mass.kg = kilograms(&mass.unit).and_then(|k| Some(mass.value? * k));
        mass.origin.rule = rule;
        mass
    }

    /// A second unit in the cell, as in `1.2 kg (2.65 lb)`, must agree.
    fn two_units(&mut self, cell: &Cell, mass: &Mass, rest: &str, style: Option<NumberStyle>) {
        let Some(start) = rest.find(|c: char| c.is_ascii_digit()) else { return };
        let Some((n, after)) = number::leading(&rest[start..]) else { return };
        let word = after.trim_start().split([' ', ')', '/', ',']).next().unwrap_or("");
        let Some((QuantityKind::Mass, symbol)) = quantity::unit_kind(word) else { return };
        let second = number::parse(n, style.unwrap_or(NumberStyle::Point)).zip(kilograms(symbol)).map(|(v, k)| v * k);
        let first = mass.value.zip(kilograms(&mass.unit)).map(|(v, k)| v * k);
        if let (Some(a), Some(b)) = (first, second)
            && (a - b).abs() > 0.02 * a.abs().max(b.abs())
        {
            self.warn("units-disagree", format!("`{}` gives {a} kg and {b} kg; the first is taken", cell.text.trim()), cell);
        }
    }

    fn prices(&mut self, row: u32, part: &mut PartRow) {
        for meaning in [Meaning::Price, Meaning::PriceLine] {
            let Some((cell, map)) = self.cell(row, meaning).map(|(c, m)| (c.clone(), m.clone())) else { continue };
            let price = self.price(row, &cell, &map);
            if meaning == Meaning::Price { part.price = Some(price) } else { part.line_price = Some(price) }
        }
    }

    fn price(&mut self, row: u32, cell: &Cell, map: &ColumnMapping) -> Price {
        let mut price = Price {
            currency: map.currency.clone(),
            per: map.per,
            tax: map.tax,
            origin: self.origin(cell, ""),
            ..Price::default()
        };
        if let Some((c, _)) = self.cell(row, Meaning::Currency) {
            let (code, sign) = price::currency(&c.text);
            (price.currency, price.sign) = (code.or(price.currency), sign);
        }
        price.date = self.told(row, Meaning::Date).map(|d| d.value);
        if cell.kind == CellKind::Date || (cell.is_text() && number::date(&cell.text).is_some()) {
            DATE.clone_into(&mut price.origin.rule);
            return price;
        }
        if cell.is_text() {
            let read = price::read(&cell.text, map.number);
            (price.value, price.upper) = (read.value, read.upper);
            if read.sign.is_some() {
                (price.currency, price.sign) = (read.currency, read.sign);
            }
            if read.per != Per::Unknown {
                price.per = read.per;
            }
            if read.tax != Tax::Unknown {
                price.tax = read.tax;
            }
            price.origin.rule = read.rule;
        } else if let Some((v, rule)) = self.number(cell) {
            price.value = Some(v).filter(|v| v.abs() < 1e12);
            price.origin.rule = rule;
            if let Some(format) = &cell.format {
                let (code, sign) = price::currency(format);
                if price.currency.is_none() && sign.is_some() {
                    (price.currency, price.sign) = (code, sign);
                }
            }
        }
        if price.per == Per::Unknown
            && let Some((c, m)) = self.cell(row, Meaning::PackSize)
            && let Some(n) = self.plain_number(c, m).filter(|n| *n > 1.0)
        {
            price.per = Per::Pack(n);
        }
        if let Some(per) = self.per_merge(cell, "price") {
            price.per = per;
        }
        price
    }
}

/// `1.23457E+19` is what a program makes of a long number; `100E10` is a part number as people write it.
fn shortened(text: &str) -> bool {
    text.split_once("E+").is_some_and(|(a, b)| {
        a.len() > 2
            && a.as_bytes().get(1).is_some_and(|c| matches!(c, b'.' | b','))
            && a.parse::<f64>().is_ok() | a.contains(',')
            && b.parse::<u8>().is_ok()
    })
}

/// The rule of a cell that holds a date where a number belongs, until it is repaired.
pub(crate) const DATE: &str = "a date where a number belongs";

/// Kilograms per unit, as the shared table of units has it; list words such as `grams` are brought to their symbol first.
pub(crate) fn kilograms(unit: &str) -> Option<f64> {
    let lower = unit.trim().trim_end_matches('.').to_lowercase();
    let symbol = match quantity::unit_kind(&lower) {
        Some((QuantityKind::Mass, symbol)) => symbol,
        _ if lower == "t" => "t",
        _ => return None,
    };
    tare_units::Unit::parse(symbol).ok().filter(|u| u.dim == tare_units::Dim::MASS).map(|u| u.factor)
}

/// Whether the places of a row fit its quantity.
pub(crate) fn places_differ(part: &PartRow) -> bool {
    part.designators.len() > 1
        && part.designators.iter().all(|d| is_designator(d) && !d.contains('-'))
        && part.quantity.value.is_some_and(|v| v != part.designators.len() as f64)
}
