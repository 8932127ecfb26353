//! Rate books and quotes: what, value, unit, currency, source, date, place and the quantities a price holds for.

use crate::book::{Book, Cell, CellKind};
use crate::number::{self, NumberStyle};
use crate::price;
use crate::proposal::{Origin, Skipped, Told};
use crate::rows::origin;
use crate::tables::is_number;
use crate::titles::plain;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};

/// What a column of a rate table holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RateField {
    /// Key or name.
    What,
    /// Value.
    Value,
    /// Unit.
    Unit,
    /// Currency.
    Currency,
    /// Source.
    Source,
    /// Date.
    Date,
    /// Place.
    Place,
    /// Smallest quantity it holds for.
    QuantityFrom,
    /// Largest quantity it holds for.
    QuantityTo,
}

use RateField as F;

const TITLES: &[(RateField, &str)] = &[
    (
        F::What,
        "what|key|name|rate|item|part|part number|description|material|title|bezeichnung|benennung|artikel|désignation|was|position|cost type|kostenart",
    ),
    (
        F::Value,
        "value|price|cost|amount|rate value|wert|preis|satz|stundensatz|unit price|hourly rate|prix|betrag|unit cost|stückpreis|einzelpreis",
    ),
    (F::Unit, "unit|per|einheit|unité|uom|basis"),
    (F::Currency, "currency|währung|devise|ccy|money"),
    (F::Source, "source|quelle|supplier|from whom|origin|reference|lieferant|quoted by|quote|vendor"),
    (F::Date, "date|datum|valid from|as of|stand|quote date|year|jahr"),
    (F::Place, "place|region|country|location|ort|land|pays|lieu|site"),
    (F::QuantityFrom, "from|quantity|qty|min qty|quantity from|from quantity|ab menge|menge|moq|qty from|min"),
    (F::QuantityTo, "to|max qty|quantity to|to quantity|bis menge|qty to|max"),
];

/// One rate or quoted price.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RateRow {
    /// What it is for.
    pub what: String,
    /// The value; `None` if unknown.
    pub value: Option<f64>,
    /// The unit as written.
    pub unit: Option<String>,
    /// The currency code, only where certain.
    pub currency: Option<String>,
    /// Who said it.
    pub source: Option<Told<String>>,
    /// The date as written.
    pub date: Option<Told<String>>,
    /// The place.
    pub place: Option<Told<String>>,
    /// Smallest quantity it holds for.
    pub quantity_from: Option<f64>,
    /// Largest quantity it holds for.
    pub quantity_to: Option<f64>,
    /// The cell of the value.
    pub origin: Origin,
}

/// What a rate book or quote says.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct RateProposal {
    /// Rates.
    pub rates: Vec<RateRow>,
    /// Columns by meaning: sheet, title row from 1, column from 0, meaning.
    pub columns: Vec<(String, u32, u32, RateField)>,
    /// What was not taken.
    pub skipped: Vec<Skipped>,
    /// Warnings; an error means that no rate table was found.
    #[serde(with = "crate::codes")]
    pub warnings: Vec<Diag>,
}

fn field(title: &str) -> Option<RateField> {
    let bare = title.split(['(', '[']).next().unwrap_or(title);
    let p = plain(bare);
    TITLES.iter().find(|(_, list)| list.split('|').any(|t| t == p)).map(|(f, _)| *f)
}

/// Proposes the rates of a book.
pub fn propose_rates(book: &Book) -> RateProposal {
    let mut out = RateProposal { warnings: book.remarks.clone(), ..RateProposal::default() };
    for (s, sheet) in book.sheets.iter().enumerate() {
        let header = sheet.rows().take(60).find_map(|row| {
            let mut columns: BTreeMap<RateField, (u32, String)> = BTreeMap::new();
            for c in sheet.seen_in_row(row, 0, u32::MAX).filter(|c| c.is_text() && !is_number(&c.text)) {
                if let Some(f) = field(&c.text) {
                    columns.entry(f).or_insert((c.column, c.text.clone()));
                }
            }
            (columns.contains_key(&F::What) && columns.contains_key(&F::Value)).then_some((row, columns))
        });
        let Some((header, columns)) = header else { continue };
        out.columns.extend(columns.iter().map(|(f, (c, _))| (sheet.name.clone(), header + 1, *c, *f)));
        let cell = |row: u32, f: RateField| columns.get(&f).and_then(|(c, _)| sheet.seen(row, *c));
        let rows: Vec<u32> = sheet.rows().filter(|r| *r > header).collect();
        let texts = rows.iter().filter_map(|r| cell(*r, F::Value)).filter(|c| c.is_text());
        let (style, why) = number::style(texts.filter_map(|c| price::number_text(&c.text)));
        let (title_column, title) = columns.get(&F::Value).cloned().unwrap_or_default();
        if style.is_none() || style == Some(NumberStyle::Mixed) {
            let message = format!("column `{}`: {why}; such values are left unknown", title.trim());
            out.warnings.push(Diag::warning("number-style-unknown", message).at(book.place(s, header, title_column)));
        }
        let inside = title.split_once(['(', '[']).map(|(_, r)| r.trim_end_matches([')', ']']).trim().to_owned());
        for row in rows {
            let Some(what) = cell(row, F::What) else {
                if let Some(c) = sheet.seen_in_row(row, 0, u32::MAX).next() {
                    out.skipped.push(Skipped { cell: origin(book, s, c, "not taken"), why: "no name in the row".to_owned() });
                }
                continue;
            };
            let Some(value) = cell(row, F::Value) else {
                out.skipped.push(Skipped { cell: origin(book, s, what, "not taken"), why: "no value in the row".to_owned() });
                continue;
            };
            let told =
                |f| cell(row, f).map(|c| Told { value: c.text.trim().to_owned(), origin: origin(book, s, c, "as written") });
            let number = |f| cell(row, f).and_then(|c| simple(c, style));
            let read = price::read(&value.text, style);
            let date_here = value.kind == CellKind::Date || (value.is_text() && number::date(&value.text).is_some());
            let amount = match value.kind {
                CellKind::Number => value.number,
                CellKind::Unknown => value.formula.as_deref().and_then(|f| crate::formula::evaluate(sheet, f)),
                CellKind::Text if !date_here => read.value,
                _ => None,
            };
            if amount.is_none() {
                let message = format!("found `{}` where a value is due; it is left unknown", value.text.trim());
                out.warnings.push(
                    Diag::warning(if date_here { "date-for-number" } else { "quantity-unknown" }, message).at(book.place(
                        s,
                        row,
                        value.column,
                    )),
                );
            }
            let from_cell = cell(row, F::Currency).and_then(|c| price::currency(&c.text).0);
            let unit = told(F::Unit).map(|u| u.value).or_else(|| inside.clone());
            let from_unit = unit.as_deref().and_then(|u| price::currency(u).0);
            let (quantity_from, mut quantity_to) = (number(F::QuantityFrom), number(F::QuantityTo));
            if let Some(c) = cell(row, F::QuantityFrom).filter(|_| quantity_to.is_none()) {
                let rest = number::leading(&c.text).map_or("", |(_, r)| r).trim_start();
                quantity_to = rest
                    .strip_prefix(['-', '–'])
                    .and_then(number::leading)
                    .and_then(|(n, _)| number::parse(n, style.unwrap_or(NumberStyle::Point)));
            }
            out.rates.push(RateRow {
                what: what.text.trim().to_owned(),
                value: amount,
                currency: from_cell.or(read.currency).or(from_unit).or_else(|| price::currency(&title).0),
                unit,
                source: told(F::Source),
                date: told(F::Date),
                place: told(F::Place),
                quantity_from,
                quantity_to,
                origin: origin(book, s, value, read.rule),
            });
        }
    }
    if out.rates.is_empty() {
        let message = "nothing is imported: no row holds titles such as what and value, with rates below";
        out.warnings.push(
            Diag::error("no-rate-table", message)
                .at(Place::File(book.file.clone()))
                .hint("title the columns: what, value, unit, currency, source, date, place, from, to"),
        );
    }
    out
}

fn simple(cell: &Cell, style: Option<NumberStyle>) -> Option<f64> {
    match cell.kind {
        CellKind::Number => cell.number,
        CellKind::Text => number::leading(&cell.text).and_then(|(n, _)| number::parse(n, style.unwrap_or(NumberStyle::Point))),
        _ => None,
    }
}
