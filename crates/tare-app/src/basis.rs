//! Under which conditions totals hold: printed under every one of them.

use crate::figure::Figure;
use serde::Serialize;
use tare_model::{Document, Field, Kind, Record};
use tare_study::Study;

/// Volume, place, year, currency and boundary of a study's totals.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Basis {
    /// The study's name.
    pub study: String,
    /// The scenario's name.
    pub scenario: String,
    /// Place of making.
    pub place: String,
    /// Pieces a year.
    pub volume: Option<Figure>,
    /// Year of the money.
    pub base_year: String,
    /// The currency.
    pub currency: String,
    /// The rate book.
    pub book: String,
    /// Whether rates or data are invented for illustration.
    pub illustrative: bool,
    /// How many texts of library and rate books the study holds on to; with none, its totals follow a newer library.
    pub texts_held: usize,
    /// What is contained, left out, and not known.
    pub boundary: Vec<BoundaryRow>,
}

/// One row of the boundary register.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct BoundaryRow {
    /// What it is about.
    pub topic: String,
    /// `in`, `out` or `unknown`.
    pub state: String,
    /// Why.
    pub says: String,
}

impl Basis {
    /// The conditions of a compiled study.
    pub fn new(document: &Document, study: &Study) -> Self {
        let head = document.of_kind(None, Kind::Study).next();
        let scenario = document.of_kind(None, Kind::Scenario).next();
        let text = |record: Option<&Record>, field| record.and_then(|r| r.text(field)).unwrap_or_default().to_owned();
        let first = |a: String, b: String| if a.is_empty() { b } else { a };
        let boundary = document.of_kind(None, Kind::Boundary).map(|b| BoundaryRow {
            topic: text(Some(b), Field::Name),
            state: text(Some(b), Field::State),
            says: text(Some(b), Field::Says),
        });
        Self {
            study: text(head, Field::Name),
            scenario: text(scenario, Field::Name),
            place: text(scenario, Field::Place),
            volume: study.totals.volume.map(|v| Figure::new(study, v, 4)),
            base_year: first(text(scenario, Field::Year), text(head, Field::Year)),
            currency: study.currency.clone(),
            book: text(head, Field::Book),
            illustrative: head.is_some_and(|h| h.flag(Field::Illustrative)),
            texts_held: document.of_kind(None, Kind::Lock).count(),
            boundary: boundary.collect(),
        }
    }

    /// The same in one line.
    pub fn line(&self) -> String {
        let mut parts = Vec::new();
        let mut put = |label: &str, text: &str| {
            if !text.is_empty() {
                parts.push(format!("{label}{text}"));
            }
        };
        put("", &self.currency);
        put("base year ", &self.base_year);
        put("volume ", self.volume.as_ref().map_or("", |v| v.text.as_str()));
        put("", &self.place);
        put("rates ", &self.book);
        put("", if self.texts_held == 0 { "not locked (follows a newer library)" } else { "" });
        parts.join(", ")
    }

    /// The boundary in one line: in, out, unknown.
    pub fn boundary_line(&self) -> String {
        let of =
            |state: &str| -> Vec<&str> { self.boundary.iter().filter(|b| b.state == state).map(|b| b.topic.as_str()).collect() };
        let groups = ["in", "out", "unknown"].map(|s| (s, of(s)));
        let said: Vec<String> = groups
            .iter()
            .filter(|(_, topics)| !topics.is_empty())
            .map(|(s, topics)| format!("{s}: {}", topics.join(", ")))
            .collect();
        if said.is_empty() { "no boundary register: nobody has said what the totals contain".to_owned() } else { said.join("; ") }
    }
}
