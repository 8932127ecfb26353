//! What the columns of a found table mean: the title speaks first, the content overrules it where it plainly says otherwise.

use crate::book::{Book, Cell, CellKind, column_name};
use crate::mapping::{ColumnMapping, Hierarchy, Meaning, TableMapping};
use crate::number::{self, NumberStyle};
use crate::price;
use crate::proposal::{Per, Question, Tax};
use crate::relations;
use crate::tables::{Found, is_number};
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::Diag;

/// Shares of a column's content, counted over its filled cells.
#[derive(Default)]
struct Content {
    filled: usize,
    number: usize,
    address: usize,
    price: usize,
    place: usize,
    digits: usize,
    letters: usize,
    distinct: usize,
    rows: usize,
}

impl Content {
    fn most(&self, part: usize, percent: usize) -> bool {
        self.filled > 0 && part * 100 >= self.filled * percent
    }
}

/// Whether a text is a place on a circuit board such as `R12`, or a list of such.
pub(crate) fn is_designator(text: &str) -> bool {
    let mut any = false;
    for word in text.split([',', ' ', ';', '\n']).filter(|w| !w.is_empty()) {
        let letters = word.bytes().take_while(u8::is_ascii_uppercase).count();
        let rest = &word[letters..];
        let plain = |s: &str| !s.is_empty() && s.len() <= 4 && s.bytes().all(|b| b.is_ascii_digit());
        let fits =
            (1..=4).contains(&letters) && rest.split('-').all(|p| plain(p.trim_start_matches(|c: char| c.is_ascii_uppercase())));
        if !fits {
            return false;
        }
        any = true;
    }
    any
}

/// The places a text names, runs such as `R3-R6` written out, as long as there is room for so many.
pub(crate) fn places(text: &str, room: usize) -> Vec<String> {
    let mut out = Vec::new();
    for word in text.split([',', ' ', ';', '\n']).filter(|w| !w.is_empty()) {
        let split = |w: &str| {
            let letters = w.bytes().take_while(u8::is_ascii_uppercase).count();
            Some((w[..letters].to_owned(), w[letters..].parse::<u32>().ok()?))
        };
        let run = word.split_once('-').and_then(|(a, b)| {
            let ((first, from), (last, to)) = (split(a)?, split(b)?);
            ((last.is_empty() || last == first) && !first.is_empty() && from < to && to - from < 1000)
                .then_some((first, from, to))
        });
        match run {
            Some((letters, from, to)) if out.len() + (to - from) as usize <= room => {
                out.extend((from..=to).map(|n| format!("{letters}{n}")))
            }
            _ => out.push(word.to_owned()),
        }
    }
    out
}

fn content(book: &Book, found: &Found, column: u32) -> Content {
    let sheet = &book.sheets[found.sheet];
    let mut c = Content::default();
    let mut seen = BTreeSet::new();
    for row in sheet.rows().skip_while(|r| *r <= found.header).take_while(|r| *r <= found.last).take(500) {
        if sheet.seen_in_row(row, found.left, found.right).nth(1).is_none() {
            continue;
        }
        c.rows += 1;
        let Some(cell) = sheet.seen(row, column) else { continue };
        let text = cell.text.trim();
        c.filled += 1;
        c.number += usize::from(matches!(cell.kind, CellKind::Number | CellKind::Date | CellKind::Unknown) || is_number(text));
        c.address += usize::from(text.contains("://") || text.starts_with("www."));
        c.price += usize::from(price::looks_like(text) || cell.format.as_deref().is_some_and(|f| price::currency(f).1.is_some()));
        c.place += usize::from(is_designator(text));
        c.digits += usize::from(text.contains(|c: char| c.is_ascii_digit()));
        c.letters += usize::from(text.contains(char::is_alphabetic));
        seen.insert(text.to_owned());
    }
    c.distinct = seen.len();
    c
}

/// What is decided about a table, with the warnings and questions it raised.
pub(crate) struct Decided {
    pub(crate) mapping: TableMapping,
    pub(crate) warnings: Vec<Diag>,
    pub(crate) questions: Vec<Question>,
}

/// Decides what the columns mean.
pub(crate) fn decide(
    book: &Book,
    found: &Found,
    number: usize,
    answers: &BTreeMap<String, String>,
    remembered: Option<&TableMapping>,
) -> Decided {
    let sheet = &book.sheets[found.sheet];
    let mut warnings = Vec::new();
    let contents: Vec<Content> = (found.left..=found.right).map(|c| content(book, found, c)).collect();
    let mut columns: Vec<ColumnMapping> = Vec::new();
    let place = |column: u32| book.place(found.sheet, found.header, column);
    // Only beside values, devices or packages are `R1`, `A120` places on a circuit board and not part numbers.
    let board = found
        .titles
        .iter()
        .filter_map(|t| t.2.as_ref())
        .any(|t| matches!(t.meaning, Meaning::Value | Meaning::Device | Meaning::Package));
    for ((column, title, understood), c) in found.titles.iter().zip(&contents) {
        let title = title.clone();
        let mut map = ColumnMapping {
            column: *column,
            title: title.clone(),
            meaning: understood.as_ref().map_or(Meaning::Other, |t| t.meaning),
            number: None,
            number_why: String::new(),
            unit: understood.as_ref().and_then(|t| t.unit.clone()),
            currency: understood.as_ref().and_then(|t| t.currency.clone()),
            per: understood.as_ref().map_or(Per::Unknown, |t| t.per),
            tax: understood.as_ref().map_or(Tax::Unknown, |t| t.tax),
            decided_by: if understood.is_some() { "title" } else { "content" }.to_owned(),
        };
        let overruled = overrule(map.meaning, c, &title, &contents, board);
        if overruled != map.meaning {
            if understood.is_some() && !title.trim().is_empty() && overruled != Meaning::Position {
                let message = format!("the column titled `{}` holds {}; it is read so", title.trim(), what(overruled));
                warnings
                    .push(Diag::warning("column-lies", message).at(place(*column)).hint("correct the mapping if this is wrong"));
            }
            map.meaning = overruled;
            map.decided_by = "content".to_owned();
        }
        columns.push(map);
    }
    depth_columns(book, found, &mut columns, &contents);
    one_each(&mut columns, &contents);
    relations::line_price(book, found, &mut columns);
    name_column(&mut columns, &contents);
    alike(&columns, &mut warnings, &place);
    if let Some(known) = remembered {
        for (map, kept) in columns.iter_mut().zip(&known.columns) {
            *map = ColumnMapping {
                column: map.column,
                title: map.title.clone(),
                decided_by: "remembered mapping".to_owned(),
                ..kept.clone()
            };
        }
    }
    let mut questions = Vec::new();
    for map in columns.iter_mut().filter(|_| remembered.is_none()) {
        let Some(unit) = found.units.and_then(|r| sheet.seen(r, map.column)).and_then(|c| crate::tables::unit_cell(&c.text))
        else {
            continue;
        };
        if matches!(map.meaning, Meaning::Price | Meaning::PriceLine) {
            map.currency = map.currency.take().or_else(|| price::currency(unit).0);
        } else if map.unit.is_none() && crate::quantity::unit_kind(unit).is_some() {
            map.unit = Some(unit.to_owned());
        }
    }
    for map in &mut columns {
        if map.currency.is_none() && matches!(map.meaning, Meaning::Price | Meaning::PriceLine) {
            map.currency = context_currency(sheet, found);
        }
        if numeric(map.meaning) && map.number.is_none() {
            style(book, found, number, map, answers, &mut warnings, &mut questions);
        }
    }
    let identity = if has(&columns, Meaning::PartNumber) {
        vec![Meaning::PartNumber]
    } else if has(&columns, Meaning::Designator) {
        vec![Meaning::Designator]
    } else {
        vec![Meaning::Name, Meaning::Description]
    };
    let mapping = TableMapping {
        sheet: sheet.name.clone(),
        header_row: found.header + 1,
        skip: remembered.is_some_and(|r| r.skip),
        columns,
        hierarchy: remembered.map_or(Hierarchy::Flat, |r| r.hierarchy),
        sections: true,
        identity,
    };
    Decided { mapping, warnings, questions }
}

fn what(meaning: Meaning) -> &'static str {
    match meaning {
        Meaning::Price => "prices",
        Meaning::Link => "addresses",
        Meaning::Designator => "places on a circuit board",
        Meaning::Position => "running numbers",
        Meaning::PartNumber => "part numbers",
        Meaning::Name => "names",
        _ => "text",
    }
}

fn plain_ref(title: &str) -> bool {
    crate::titles::plain(title).starts_with("ref")
}

fn overrule(meaning: Meaning, c: &Content, title: &str, all: &[Content], board: bool) -> Meaning {
    use Meaning as M;
    let others = all.len() > 1;
    match meaning {
        M::Link | M::Mass | M::MassLine | M::Supplier | M::Note | M::Material | M::Unit
            if c.most(c.price, 60) && !c.most(c.address, 20) =>
        {
            M::Price
        }
        M::Price | M::PriceLine | M::Mass | M::Quantity | M::Note | M::Supplier if c.most(c.address, 70) && c.filled > 1 => {
            M::Link
        }
        M::Name | M::PartNumber if board && c.filled >= 3 && c.most(c.place, 80) && c.distinct * 10 >= c.filled * 9 && others => {
            M::Designator
        }
        // `Location` or `Ref` without a single place of a board is something else.
        M::Designator if c.filled >= 2 && !c.most(c.place, 30) => {
            if plain_ref(title) {
                M::PartNumber
            } else {
                M::Other
            }
        }
        M::Price | M::PriceLine | M::Mass | M::MassLine if c.filled >= 2 && c.digits == 0 => M::Other,
        M::Name if c.filled >= 2 && c.most(c.number, 90) => M::Position,
        M::Position if c.filled >= 2 && !c.most(c.digits, 30) => M::Name,
        M::Level if c.filled >= 2 && c.most(c.letters, 70) => M::Group,
        M::Quantity if c.filled >= 3 && !c.most(c.digits, 10) => M::Other,
        M::Unit if c.filled >= 3 && c.most(c.number, 80) => M::Other,
        M::Other if title.trim().is_empty() && c.most(c.address, 60) => M::Link,
        M::Other if title.trim().is_empty() && c.most(c.price, 60) => M::Price,
        m => m,
    }
}

fn has(columns: &[ColumnMapping], meaning: Meaning) -> bool {
    columns.iter().any(|c| c.meaning == meaning)
}

/// Several group columns side by side are a path; untitled columns of words that a name column steps down into are depths.
fn depth_columns(book: &Book, found: &Found, columns: &mut [ColumnMapping], contents: &[Content]) {
    use Meaning as M;
    let groups: Vec<usize> = (0..columns.len()).filter(|i| columns[*i].meaning == M::Group && contents[*i].filled > 0).collect();
    if groups.len() > 1 && !has(columns, M::Path) {
        for i in groups {
            columns[i].meaning = M::Path;
        }
    }
    // `Amount` counts where nothing else does; beside a quantity it is money.
    let amount = |c: &ColumnMapping| c.meaning == M::Quantity && crate::titles::plain(&c.title) == "amount";
    if columns.iter().any(|c| c.meaning == M::Quantity && !amount(c))
        && !has(columns, M::PriceLine)
        && let Some(c) = columns.iter_mut().find(|c| amount(c))
    {
        (c.meaning, c.per) = (M::PriceLine, Per::Line);
    }
    // Beside places on a board, a comment is the value.
    if has(columns, M::Designator)
        && !has(columns, M::Value)
        && let Some(c) = columns.iter_mut().find(|c| c.meaning == M::Note && crate::titles::plain(&c.title) == "comment")
    {
        c.meaning = M::Value;
    }
    let Some(name) = columns.iter().position(|c| c.meaning == M::Name) else { return };
    let untitled = |i: &usize| {
        columns[*i].title.trim().is_empty()
            && contents[*i].filled > 0
            && !contents[*i].most(contents[*i].number.max(contents[*i].address), 20)
    };
    let deeper: Vec<usize> = (name + 1..columns.len()).take_while(untitled).collect();
    let sheet = &book.sheets[found.sheet];
    let one_per_row = sheet.rows().skip_while(|r| *r <= found.header).take_while(|r| *r <= found.last).all(|r| {
        std::iter::once(name).chain(deeper.iter().copied()).filter(|i| sheet.seen(r, columns[*i].column).is_some()).count() <= 1
    });
    if !deeper.is_empty() && one_per_row && !has(columns, M::Path) {
        for i in std::iter::once(name).chain(deeper) {
            columns[i].meaning = M::Path;
            "content".clone_into(&mut columns[i].decided_by);
        }
    }
}

/// Columns that may stand only once give way: the fuller first one keeps the meaning.
fn one_each(columns: &mut [ColumnMapping], contents: &[Content]) {
    use Meaning as M;
    for meaning in [
        M::Position,
        M::Level,
        M::PartNumber,
        M::Name,
        M::Description,
        M::Group,
        M::Quantity,
        M::QuantityBought,
        M::Multiplier,
        M::QuantityTotal,
        M::Unit,
        M::Material,
        M::Mass,
        M::MassLine,
        M::Price,
        M::PriceLine,
        M::PackSize,
        M::Currency,
        M::Date,
        M::MakeOrBuy,
        M::Supplier,
        M::Note,
        M::Link,
        M::Designator,
        M::Value,
        M::Device,
        M::Package,
        M::Fitted,
    ] {
        let same: Vec<usize> = (0..columns.len()).filter(|i| columns[*i].meaning == meaning).collect();
        let Some(keep) = same.iter().copied().max_by_key(|i| (contents[*i].filled > 0, std::cmp::Reverse(*i))) else { continue };
        for i in same {
            if i != keep {
                columns[i].meaning = if meaning == M::Name && !has(columns, M::Description) { M::Description } else { M::Other };
            }
        }
    }
    if !has(columns, M::Quantity) {
        for instead in [M::QuantityTotal, M::QuantityBought] {
            if let Some(c) = columns.iter_mut().find(|c| c.meaning == instead) {
                c.meaning = M::Quantity;
                break;
            }
        }
    }
}

/// Without a titled name, the leftmost column of words is the name.
fn name_column(columns: &mut [ColumnMapping], contents: &[Content]) {
    use Meaning as M;
    if has(columns, M::Name) || has(columns, M::Designator) || has(columns, M::Path) {
        return;
    }
    let words = |i: &usize| {
        contents[*i].filled > 0 && !contents[*i].most(contents[*i].number, 50) && !contents[*i].most(contents[*i].address, 50)
    };
    for allowed in [&[M::Other, M::Description][..], &[M::PartNumber, M::Device, M::Value], &[M::Material], &[M::Group]] {
        let found = (0..columns.len()).find(|i| allowed.contains(&columns[*i].meaning) && words(i));
        if let Some(i) = found {
            if columns[i].meaning != M::PartNumber {
                columns[i].meaning = M::Name;
                "content".clone_into(&mut columns[i].decided_by);
            }
            return;
        }
    }
}

fn alike(columns: &[ColumnMapping], warnings: &mut Vec<Diag>, place: &dyn Fn(u32) -> tare_diag::Place) {
    for (i, a) in columns.iter().enumerate() {
        for b in &columns[i + 1..] {
            let (x, y) = (a.title.trim(), b.title.trim());
            if !x.is_empty() && x.to_lowercase() == y.to_lowercase() {
                let how = if x == y { "have the same title" } else { "have titles that differ only in letter case" };
                let message = format!("columns {} and {} {how} (`{x}`, `{y}`)", column_name(a.column), column_name(b.column));
                warnings
                    .push(Diag::warning("column-titles-alike", message).at(place(b.column)).hint("check which of them is meant"));
            }
        }
    }
}

/// Whether a column's cells are read as numbers.
pub(crate) fn numeric(meaning: Meaning) -> bool {
    use Meaning as M;
    matches!(
        meaning,
        M::Quantity
            | M::QuantityBought
            | M::QuantityTotal
            | M::Multiplier
            | M::Mass
            | M::MassLine
            | M::Price
            | M::PriceLine
            | M::PackSize
    )
}

/// A currency named in one of the few lines above the table.
fn context_currency(sheet: &crate::book::Sheet, found: &Found) -> Option<String> {
    let from = found.header.saturating_sub(8);
    let mut named: BTreeSet<String> = BTreeSet::new();
    for row in from..found.header {
        named.extend(sheet.seen_in_row(row, 0, u32::MAX).filter_map(|c| price::currency(&c.text).0));
    }
    (named.len() == 1).then(|| named.pop_first()).flatten()
}

fn style(
    book: &Book,
    found: &Found,
    number: usize,
    map: &mut ColumnMapping,
    answers: &BTreeMap<String, String>,
    warnings: &mut Vec<Diag>,
    questions: &mut Vec<Question>,
) {
    let sheet = &book.sheets[found.sheet];
    let cells: Vec<&Cell> = sheet
        .rows()
        .skip_while(|r| *r <= found.header)
        .take_while(|r| *r <= found.last)
        .filter(|r| found.units != Some(*r))
        .filter_map(|r| sheet.seen(r, map.column))
        .filter(|c| c.is_text() && number::date(&c.text).is_none())
        .collect();
    let (style, why) = number::style(cells.iter().filter_map(|c| price::number_text(&c.text)));
    let id = format!("number-style:{number}:{}", column_name(map.column));
    map.number_why = why;
    map.number = match answers.get(&id).map(String::as_str) {
        Some("point") => Some(NumberStyle::Point),
        Some("comma") => Some(NumberStyle::Comma),
        _ => style,
    };
    if map.number.is_none() {
        let open = cells.iter().find(|c| price::number_text(&c.text).is_some_and(|n| number::vote(n) == number::Vote::Open));
        let Some(open) = open else { return };
        let n = price::number_text(&open.text).unwrap_or("");
        let (a, b) = (number::parse(n, NumberStyle::Point), number::parse(n, NumberStyle::Comma));
        let text = format!("is `{n}` in column `{}` {} or {}?", map.title.trim(), a.unwrap_or_default(), b.unwrap_or_default());
        let choices = vec![
            ("point".to_owned(), format!("the point is the decimal mark: {}", a.unwrap_or_default())),
            ("comma".to_owned(), format!("the comma is the decimal mark: {}", b.unwrap_or_default())),
        ];
        let place = book.place(found.sheet, open.row, open.column);
        let message = format!("column `{}`: {}; they are left unknown", map.title.trim(), map.number_why);
        warnings.push(Diag::warning("number-style-unknown", message).at(place).hint("answer which mark is the decimal one"));
        let cell = Some(crate::rows::origin(book, found.sheet, open, "undecided number style"));
        questions.push(Question { id, text, choices, cell });
    } else if map.number == Some(NumberStyle::Mixed) {
        let message =
            format!("column `{}`: {}; cells that can be read both ways are left unknown", map.title.trim(), map.number_why);
        warnings.push(Diag::warning("number-style-unknown", message).at(book.place(found.sheet, found.header, map.column)));
    }
}

#[cfg(test)]
mod tests {
    use super::is_designator;

    #[test]
    fn places_on_a_board_are_told_from_names() {
        for yes in ["C1", "IC81", "R1, R2, R3", "LED6", "R1-R4", "SJ61"] {
            assert!(is_designator(yes), "{yes}");
        }
        for no in ["Bolt", "M5 nut", "c1", "12", "", "R1 resistor", "FRAME-LEFT"] {
            assert!(!is_designator(no), "{no}");
        }
    }
}
