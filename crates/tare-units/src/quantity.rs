//! A quantity: a number with a unit and a spread, as one person stated it.

use crate::exact::Fraction;
use crate::number::Decimal;
use crate::unit::Exact;
use crate::{QuantityError, Unit, value_text};

/// How far a value may lie from what is stated, in SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spread {
    /// Normal; written `+-` with half-width 2u.
    Normal {
        /// Standard uncertainty.
        u: f64,
    },
    /// Anything between two ends, equally likely.
    Rectangular {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Between two ends, most likely at the mode.
    Triangular {
        /// Lower end.
        low: f64,
        /// Most likely value.
        mode: f64,
        /// Upper end.
        high: f64,
    },
}

/// A stated value with its spread and the unit it was written in.
///
/// Two quantities are equal when value, spread and unit are, whatever the wording of `text`. The stated value of a rectangular
/// spread is its midpoint and that of a triangular one its mode; [`Quantity::new`] keeps that.
#[derive(Clone, Debug)]
pub struct Quantity {
    /// As written.
    pub text: String,
    /// The stated value, SI.
    pub value: f64,
    /// The spread, if one is stated.
    pub spread: Option<Spread>,
    /// The unit it is written in (the last one, where several are).
    pub unit: Unit,
}

impl PartialEq for Quantity {
    fn eq(&self, o: &Self) -> bool {
        self.value == o.value && self.spread == o.spread && self.unit == o.unit
    }
}

impl Quantity {
    /// Makes a quantity from SI numbers; its text is how it prints.
    pub fn new(value: f64, spread: Option<Spread>, unit: Unit) -> Self {
        let value = match spread {
            Some(Spread::Rectangular { low, high }) => middle(low, high),
            Some(Spread::Triangular { mode, .. }) => mode,
            _ => value,
        };
        let mut quantity = Self { text: String::new(), value, spread, unit };
        quantity.text = quantity.print();
        quantity
    }

    /// Reads `12.5 mm`, `12.5 +- 0.2 mm`, `12 .. 13 mm`, `12 .. 12.8 .. 13 mm`, `40 mm +- 5 %`.
    ///
    /// # Errors
    /// One error with the offending bytes: not a number, thousands marks, decimal comma, unknown unit, falling range, negative spread.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        value_text::read(text)
    }

    /// Reads a quantity that must have the dimension of `want`; its own unit is kept.
    ///
    /// A bare number is taken only where `want` is a plain number. Money in another currency passes: binding converts it.
    ///
    /// # Errors
    /// As [`Quantity::parse`], and a missing unit or another dimension, showing how to write it.
    pub fn parse_as(text: &str, want: &Unit) -> Result<Self, QuantityError> {
        value_text::read_as(text, want)
    }

    /// The mean of the distribution; differs from the stated value where a triangle is lopsided.
    pub fn mean(&self) -> f64 {
        match self.spread {
            Some(Spread::Triangular { low, mode, high }) => low / 3.0 + mode / 3.0 + high / 3.0,
            _ => self.value,
        }
    }

    /// The standard deviation of the distribution, SI; zero without a spread.
    ///
    /// Rectangular: width / sqrt 12 (JCGM 100:2008, 4.3.7). Triangular: the general form of 4.3.9, exact for lopsided ones too.
    pub fn standard_uncertainty(&self) -> f64 {
        match self.spread {
            None => 0.0,
            Some(Spread::Normal { u }) => u,
            Some(Spread::Rectangular { low, high }) => (high - low) / 12_f64.sqrt(),
            Some(Spread::Triangular { low, mode, high }) => {
                let (below, above) = (mode - low, high - mode);
                ((below * below + below * above + above * above) / 18.0).sqrt()
            }
        }
    }

    /// The text that reads back to exactly this quantity, bit for bit.
    ///
    /// Numbers that are not finite print as `n/a`, which does not read back. SI base units stand in for a unit assembled by hand
    /// whose text does not mean what its fields say, and for `degC` and `degF` within 1e-15 K of absolute zero.
    pub fn print(&self) -> String {
        let base = || (self.unit.dim.to_string(), Exact { factor: Fraction::one(), offset: None });
        let (unit, exact) = match self.unit.exact() {
            Some(exact) if self.numbers().all(|si| !si.is_finite() || Decimal::printing(si, &exact).is_some()) => {
                (self.unit.text.clone(), exact)
            }
            _ => base(),
        };
        let number = |si: f64| written(si, &exact);
        let body = match self.spread {
            None => number(self.value),
            Some(Spread::Normal { u }) => {
                let half = Exact { factor: exact.factor.half(), offset: None };
                format!("{} +- {}", number(self.value), written(u, &half))
            }
            Some(Spread::Rectangular { low, high }) => format!("{} .. {}", number(low), number(high)),
            Some(Spread::Triangular { low, mode, high }) => format!("{} .. {} .. {}", number(low), number(mode), number(high)),
        };
        if unit == "1" || unit.is_empty() { body } else { format!("{body} {unit}") }
    }

    /// The numbers that are written in the unit itself.
    fn numbers(&self) -> impl Iterator<Item = f64> {
        match self.spread {
            Some(Spread::Rectangular { low, high }) => [low, high, high],
            Some(Spread::Triangular { low, mode, high }) => [low, mode, high],
            _ => [self.value; 3],
        }
        .into_iter()
    }
}

/// The middle of a range, without overflow.
pub(crate) fn middle(low: f64, high: f64) -> f64 {
    low / 2.0 + high / 2.0
}

fn written(si: f64, exact: &Exact) -> String {
    Decimal::printing(si, exact).map_or_else(|| "n/a".to_owned(), Decimal::text)
}
