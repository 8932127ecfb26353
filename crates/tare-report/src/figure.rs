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
    /// The first-order spread, where it was asked for.
    pub spread: Option<Spread>,
    /// What else is to be said of its range or spread: a mean that lies elsewhere, why a spread is not known.
    pub remarks: Vec<String>,
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
    /// The range as read: `11.9 to 13.4 kg`.
    pub text: String,
    /// Share of the draws that lie inside, from 0 to 1; 0 for a range that was not drawn.
    pub coverage: f64,
    /// How many draws it rests on; 0 for a range that was not drawn.
    pub draws: u64,
}

/// The first-order spread of a figure, as an expanded uncertainty about its value.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Spread {
    /// Half-width in the unit of the figure's number.
    pub half: f64,
    /// How it reads: `about ± 410 EUR (k = 2, first order)`.
    pub text: String,
}

impl Range {
    /// The range with what it is: `95 % of draws: 11.9 to 13.4 kg`; one that was not drawn as it reads.
    pub fn words(&self) -> String {
        if self.draws == 0 {
            return self.text.clone();
        }
        let share = format!("{:.1}", self.coverage * 100.0);
        format!("{} % of draws: {}", share.trim_end_matches('0').trim_end_matches('.'), self.text)
    }
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
        self.range = Some(Range { low, high, text: text.into(), ..Range::default() });
        self
    }

    /// Sets a sampled range: both ends in the unit of the number, how it reads, the share of draws inside, and their number.
    #[must_use]
    pub fn sampled(mut self, (low, high): (f64, f64), text: impl Into<String>, coverage: f64, draws: u64) -> Self {
        self.range = Some(Range { low, high, text: text.into(), coverage, draws });
        self
    }

    /// Sets the first-order spread: half-width in the unit of the number, and how it reads.
    #[must_use]
    pub fn about(mut self, half: f64, text: impl Into<String>) -> Self {
        self.spread = Some(Spread { half, text: text.into() });
        self
    }

    /// Adds a remark on its range or spread.
    #[must_use]
    pub fn saying(mut self, remark: impl Into<String>) -> Self {
        self.remarks.push(remark.into());
        self
    }

    /// Sets what it rests on.
    #[must_use]
    pub fn resting_on(mut self, evidence: impl Into<String>) -> Self {
        self.evidence = Some(evidence.into());
        self
    }
}
