//! Rows of a rate table become entries of a rate book.

use super::{RatePlan, cell_of};
use crate::clock;
use crate::workspace::Loaded;
use tare_diag::{Diag, Place};
use tare_exchange::{RateProposal, RateRow};
use tare_library::Library;
use tare_model::{Change, Field, FieldValue, Kind, Record, order_between};

pub(super) fn plan(library: &Library, loaded: &Loaded, proposal: RateProposal) -> Result<RatePlan, Vec<Diag>> {
    let document = &loaded.document;
    let Some(owner) = document.of_kind(None, Kind::Book).chain(document.of_kind(None, Kind::Study)).next() else {
        return Err(vec![
            Diag::error("book-missing", "rates go into a rate book or a study, and there is none")
                .hint("begin one with `tare new`, and choose it with `--study NAME`"),
        ]);
    };
    let (mut changes, mut new, mut changed, mut problems) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut last = document.last_order(Some(owner.id));
    for row in &proposal.rates {
        let Some(text) = text_of(row) else { continue };
        let sheet = (!row.origin.sheet.is_empty()).then(|| row.origin.sheet.clone());
        let place = Place::Cell { file: row.origin.file.clone(), sheet, cell: row.origin.cell.clone() };
        let read = match library.read_rate(&row.what, &text) {
            Ok(read) => read,
            Err(error) => {
                problems.push(Diag::error("value-text", format!("rate `{}`: {error}", row.what)).at(place));
                continue;
            }
        };
        let known = document.of_kind(Some(owner.id), Kind::Rate).find(|r| r.text(Field::Key) == Some(&row.what));
        let before = known.and_then(|r| r.text(Field::Text)).unwrap_or_default();
        if tare_units::Quantity::parse(before).is_ok_and(|old| old.unit.dim != read.unit.dim) {
            let says = format!("rate `{}`: `{text}` cannot take the place of `{before}`, it is of another kind", row.what);
            problems.push(Diag::error("rate-kind", says).at(place).hint("state the currency and the unit in the table"));
            continue;
        }
        match known {
            Some(old) if old.text(Field::Text) == Some(&text) => {}
            Some(old) => {
                changed.push((row.what.clone(), old.text(Field::Text).unwrap_or("").to_owned(), text.clone()));
                for (field, to) in fields(row, &text) {
                    changes.push(Change::Set { id: old.id, field, to: Some(FieldValue::Text(to)) });
                }
            }
            None => {
                new.push(row.what.clone());
                let mut record = Record::new(clock::new_id(), Kind::Rate)
                    .under(owner.id)
                    .ordered(last.clone())
                    .with_text(Field::Key, row.what.clone());
                last = order_between(Some(&last), None);
                for (field, to) in fields(row, &text) {
                    record = record.with_text(field, to);
                }
                changes.push(Change::Add { record: record.with_text(Field::Evidence, "quoted") });
            }
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    if proposal.rates.is_empty() {
        let diag = Diag::error(
            "no-rates",
            "no rate was found: expected a column with what it is, one with a number, and a unit or currency",
        );
        return Err(std::iter::once(diag).chain(proposal.warnings.clone()).collect());
    }
    Ok(RatePlan { changes, new, changed, proposal })
}

/// The value text of a row: number, and a unit with its currency.
fn text_of(row: &RateRow) -> Option<String> {
    let value = row.value?;
    let unit = match (&row.currency, &row.unit) {
        (Some(code), Some(unit)) if unit.contains(code.as_str()) => unit.clone(),
        (Some(code), Some(unit)) if unit.starts_with('/') => format!("{code}{unit}"),
        (Some(code), Some(unit)) => format!("{code}/{unit}"),
        (Some(code), None) => code.clone(),
        (None, Some(unit)) => unit.clone(),
        (None, None) => "1".to_owned(),
    };
    Some(format!("{value} {unit}"))
}

fn fields(row: &RateRow, text: &str) -> Vec<(Field, String)> {
    let mut all = vec![
        (Field::Text, text.to_owned()),
        (Field::File, row.origin.file.clone()),
        (Field::Cell, cell_of(&row.origin)),
        (Field::Raw, row.origin.raw.clone()),
    ];
    let place = row.place.as_ref().map(|p| format!(", {}", p.value)).unwrap_or_default();
    all.extend(row.source.as_ref().map(|s| (Field::Source, format!("{}{place}", s.value))));
    all.extend(row.date.as_ref().map(|d| (Field::Date, d.value.clone())));
    all
}
