//! A number to show, with its range, its reason and what it rests on.

use serde::{Deserialize, Serialize};
use tare_units::Unit;

/// A number as shown, with the link that explains it.
///
/// The text is what people read, in whatever unit reads best; the number only places marks in charts. All numbers of one list or
/// chart are in the same unit: the SI unit (kg, s, m), and for money the currency of the report.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Figure {
    /// The value that is drawn, in SI or in the report's currency. NaN and infinities are left out of charts.
    pub number: f64,
    /// The value as read, with unit: `12.5 kg`.
    pub text: String,
    /// The range, once computed.
    pub range: Option<Range>,
    /// Anchor of the [`Reason`](crate::Reason) that explains it.
    pub link: Option<String>,
    /// Evidence in words or a share: `measured`, `62 % measured`.
    pub evidence: Option<String>,
}

/// The spread of a figure, both ends in the unit of the figure's number.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// The range as read: `11.9 to 13.4 kg (5 % to 95 %)`.
    pub text: String,
}

impl Figure {
    /// A figure from its number and its text.
    pub fn new(number: f64, text: impl Into<String>) -> Self {
        Self { number, text: text.into(), ..Self::default() }
    }

    /// A figure from an SI value, shown in a unit with so many significant digits; the number stays SI.
    pub fn shown(si: f64, unit: &Unit, digits: usize) -> Self {
        Self::new(si, tare_units::show(si, unit, digits))
    }

    /// Sets the anchor of the reason.
    #[must_use]
    pub fn because(mut self, anchor: impl Into<String>) -> Self {
        self.link = Some(anchor.into());
        self
    }

    /// Sets the range: both ends in the unit of the number, and how it reads.
    #[must_use]
    pub fn within(mut self, low: f64, high: f64, text: impl Into<String>) -> Self {
        self.range = Some(Range { low, high, text: text.into() });
        self
    }

    /// Sets what it rests on.
    #[must_use]
    pub fn resting_on(mut self, evidence: impl Into<String>) -> Self {
        self.evidence = Some(evidence.into());
        self
    }
}
