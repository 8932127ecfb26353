//! Units: an expression, its dimension, its factor to SI.

use crate::exact::Fraction;
use crate::{Dim, UnitError, expression};
use std::fmt;

/// A currency: an opaque code of three capital letters, such as `EUR`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency([u8; 3]);

impl Currency {
    /// Reads a code of three capital letters that is not a misspelt unit (`KPA`, `RPM`); none for anything else.
    pub fn parse(text: &str) -> Option<Self> {
        let code: [u8; 3] = text.as_bytes().try_into().ok()?;
        let plausible = code.iter().all(u8::is_ascii_uppercase) && crate::table::same_but_case(text).is_empty();
        (plausible && crate::table::refused(text).is_none() && crate::table::refused(&text.to_lowercase()).is_none())
            .then_some(Self(code))
    }

    /// The code.
    pub fn code(&self) -> &str {
        std::str::from_utf8(&self.0).unwrap_or("???")
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

/// A unit expression with its dimension and its factor to SI.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// The expression as written, white space trimmed; `1` for a plain number.
    pub text: String,
    /// The dimension.
    pub dim: Dim,
    /// SI value of one of it.
    pub factor: f64,
    /// Added after the factor: not zero only for the temperature points `degC` and `degF`.
    pub offset: f64,
    /// The currency, when the expression names one. Amounts are then in that currency, not in another.
    pub currency: Option<Currency>,
}

impl Unit {
    /// Reads a unit expression such as `kg/m^3`, `W/(m*K)`, `1/a`, `EUR/h`, `%`; empty text and `1` are the plain unit.
    ///
    /// # Errors
    /// Unknown or ambiguous symbols, `a/b*c` without parentheses, two currencies, temperature points in a product.
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        Ok(Self::with_exact(text)?.0)
    }

    /// The unit together with its exact factor and offset.
    pub(crate) fn with_exact(text: &str) -> Result<(Self, Exact), UnitError> {
        let found = expression::read(text)?;
        let trimmed = text.trim();
        let unit = Self {
            text: if trimmed.is_empty() { "1".to_owned() } else { trimmed.to_owned() },
            dim: found.dim,
            factor: found.factor.to_f64(),
            offset: found.offset.as_ref().map_or(0.0, Fraction::to_f64),
            currency: found.currency,
        };
        Ok((unit, Exact { factor: found.factor, offset: found.offset }))
    }

    /// The exact factor of this unit, where its text still means what its fields say.
    pub(crate) fn exact(&self) -> Option<Exact> {
        let (unit, exact) = Self::with_exact(&self.text).ok()?;
        (unit.factor == self.factor && unit.offset == self.offset && unit.dim == self.dim).then_some(exact)
    }

    /// The unit of a plain number.
    pub fn plain() -> Self {
        Self { text: "1".to_owned(), dim: Dim::ONE, factor: 1.0, offset: 0.0, currency: None }
    }

    /// The coherent SI unit of a dimension.
    pub fn of(dim: Dim) -> Self {
        Self { text: dim.to_string(), dim, ..Self::plain() }
    }

    /// Whether it is the plain unit `1`: a number stands without unit text.
    pub fn is_plain(&self) -> bool {
        self.text == "1" || self.text.is_empty()
    }

    /// Whether it is a temperature point (`degC`, `degF`) rather than an amount.
    pub fn is_point(&self) -> bool {
        self.offset != 0.0
    }

    /// The SI value of a number in this unit.
    pub fn to_si(&self, x: f64) -> f64 {
        match self.whole_divisor() {
            Some(divisor) => x / divisor,
            None => x * self.factor + self.offset,
        }
    }

    /// The number in this unit of an SI value.
    pub fn from_si(&self, si: f64) -> f64 {
        match self.whole_divisor() {
            Some(divisor) => si * divisor,
            None => (si - self.offset) / self.factor,
        }
    }

    /// The whole number this unit is a part of (1000 for mm): dividing by it rounds once, multiplying by its inverse twice.
    fn whole_divisor(&self) -> Option<f64> {
        let divisor = (1.0 / self.factor).round();
        (self.factor < 1.0 && self.offset == 0.0 && divisor < 9e15 && 1.0 / divisor == self.factor).then_some(divisor)
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// Exact factor and offset to SI.
#[derive(Clone, Debug)]
pub(crate) struct Exact {
    pub(crate) factor: Fraction,
    pub(crate) offset: Option<Fraction>,
}
