//! Messages in serialised proposals.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use tare_diag::{Diag, Place, Severity};

/// Codes a stored proposal can hold; any other reads back as `import-message`.
const CODES: &[&str] = &[
    "alternatives",
    "both-levels",
    "cell-error",
    "column-lies",
    "column-titles-alike",
    "currency-unknown",
    "date-for-number",
    "encoding-guessed",
    "encoding-mixed",
    "formula-stale",
    "formula-unknown",
    "hidden-under-merge",
    "letters-broken",
    "levels-too-deep",
    "mapping-unused",
    "mass-implausible",
    "mass-line-differs",
    "mass-unit-differs",
    "merged-value",
    "note-contradicts",
    "number-style-unknown",
    "number-too-large",
    "price-line-differs",
    "private-data",
    "quantity-about",
    "part-number-shortened",
    "quantity-negative",
    "quantity-per",
    "quantity-total-differs",
    "quantity-two-things",
    "quantity-unknown",
    "row-ragged",
    "rows-claimed",
    "sheet-cut-off",
    "sheet-missing",
    "sheets-left-out",
    "text-cut",
    "title-missing",
    "total-differs",
    "total-rounded",
    "unit-ambiguous",
    "value-unread",
    "unit-from-note",
    "units-disagree",
    "label-repeated",
    "group-filled-down",
    "cells-outside",
    "sheet-hidden",
    "table-left-out",
    "no-rate-table",
];

#[derive(Serialize, Deserialize)]
struct Stored {
    severity: String,
    code: String,
    message: String,
    place: Option<StoredPlace>,
    related: Vec<(StoredPlace, String)>,
    hints: Vec<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum StoredPlace {
    Span(String, usize, usize),
    Cell(String, Option<String>, String),
    Line(String, usize),
    File(String),
    Address(String),
}

impl StoredPlace {
    fn from(place: &Place) -> Self {
        match place.clone() {
            Place::Span { file, span } => Self::Span(file, span.start, span.end),
            Place::Cell { file, sheet, cell } => Self::Cell(file, sheet, cell),
            Place::Line { file, line } => Self::Line(file, line),
            Place::File(file) => Self::File(file),
            Place::Address(a) => Self::Address(a),
        }
    }

    fn back(self) -> Place {
        match self {
            Self::Span(file, start, end) => Place::Span { file, span: start..end },
            Self::Cell(file, sheet, cell) => Place::Cell { file, sheet, cell },
            Self::Line(file, line) => Place::Line { file, line },
            Self::File(file) => Place::File(file),
            Self::Address(a) => Place::Address(a),
        }
    }
}

pub(crate) fn serialize<S: Serializer>(diags: &[Diag], serializer: S) -> Result<S::Ok, S::Error> {
    let stored: Vec<Stored> = diags
        .iter()
        .map(|d| Stored {
            severity: d.severity.word().to_owned(),
            code: d.code.to_owned(),
            message: d.message.clone(),
            place: d.place.as_ref().map(StoredPlace::from),
            related: d.related.iter().map(|(p, w)| (StoredPlace::from(p), w.clone())).collect(),
            hints: d.hints.clone(),
        })
        .collect();
    stored.serialize(serializer)
}

pub(crate) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Diag>, D::Error> {
    let stored = Vec::<Stored>::deserialize(deserializer)?;
    Ok(stored
        .into_iter()
        .map(|s| {
            let severity = match s.severity.as_str() {
                "error" => Severity::Error,
                "note" => Severity::Note,
                _ => Severity::Warning,
            };
            let code = CODES.iter().copied().find(|c| *c == s.code).unwrap_or("import-message");
            let mut d = Diag::new(severity, code, s.message);
            d.place = s.place.map(StoredPlace::back);
            d.related = s.related.into_iter().map(|(p, w)| (p.back(), w)).collect();
            d.hints = s.hints;
            d
        })
        .collect())
}
