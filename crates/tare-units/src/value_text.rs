//! Reading value text.
//!
//! ```text
//! value  = number [unit]                                   12.5 mm
//!        | number [unit] "+-" number [unit]                12.5 +- 0.2 mm, 40 mm +- 5 %, 23 degC +- 1 K
//!        | number [unit] ".." number [unit]                12 .. 13 mm, 0.01 g .. 3000 kg
//!        | number [unit] ".." number [unit] ".." number [unit]
//! ```
//! The last number carries the unit; numbers without one take it. The plain unit may be written: `0.25 1`.

use crate::exact::Fraction;
use crate::name::{article, ways};
use crate::number::Decimal;
use crate::number_text::{broken_number, no_number, number_length};
use crate::quantity::middle;
use crate::unit::Exact;
use crate::{Quantity, QuantityError, Spread, Unit};
use std::ops::Range;

const MAX_TEXT: usize = 400;

/// A spread on its own, `+- 5 %` or `+- 0.5 mm` (k = 2), to be taken around some value.
#[derive(Clone, Debug, PartialEq)]
pub enum Width {
    /// Half-width as a share of the value, k = 2.
    Relative(f64),
    /// Half-width in SI, k = 2, and the unit it is written in.
    Absolute {
        /// Half-width, SI.
        half: f64,
        /// The unit as written.
        unit: Unit,
    },
}

impl Width {
    /// Reads `+- 5 %` (of the value) or `+- 0.5 mm`; a plain number is absolute.
    ///
    /// # Errors
    /// Text that does not start with `+-` or holds no number that is zero or more.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let trimmed = trimmed(text)?;
        let sign = PLUS_MINUS.iter().find(|sign| text[trimmed.clone()].starts_with(**sign));
        let Some(sign) = sign else {
            return Err(QuantityError::new("spread-form", trimmed, "a spread is due here").hint("write `+- 5 %` or `+- 0.5 mm`"));
        };
        let piece = Piece::read(text, trimmed.start + sign.len()..trimmed.end)?;
        let (unit, exact) = piece.unit_or_plain();
        let half = piece.half_width(&Exact { factor: exact.factor, offset: None })?;
        Ok(if unit.text == "%" { Self::Relative(half) } else { Self::Absolute { half, unit } })
    }

    /// The normal spread it gives around a value in SI.
    pub fn around(&self, value: f64) -> Spread {
        Spread::Normal {
            u: match self {
                Self::Relative(half) => value.abs() * half / 2.0,
                Self::Absolute { half, .. } => half / 2.0,
            },
        }
    }
}

const PLUS_MINUS: [&str; 4] = ["+-", "\u{b1}", "+/-", "+\u{2212}"];

/// Reads value text.
pub(crate) fn read(text: &str) -> Result<Quantity, QuantityError> {
    let whole = trimmed(text)?;
    let inside = &text[whole.clone()];
    if let Some((at, sign)) = PLUS_MINUS.iter().filter_map(|sign| inside.find(sign).map(|i| (i, sign))).min() {
        let (middle, end) = (whole.start + at, whole.start + at + sign.len());
        return plus_minus(text, whole.start..middle, end..whole.end);
    }
    let mut pieces = Vec::new();
    let mut start = whole.start;
    while let Some(at) = text[start..whole.end].find("..") {
        if text[start + at..].starts_with("...") {
            return Err(QuantityError::new("range-form", start + at..start + at + 3, "`...` is not a range")
                .hint("write two points: `12 .. 13 mm`"));
        }
        pieces.push(start..start + at);
        start += at + 2;
        if pieces.len() > 2 {
            return Err(QuantityError::new("range-form", whole, "a range has two or three numbers")
                .hint("write `12 .. 13 mm` or `12 .. 12.8 .. 13 mm`"));
        }
    }
    pieces.push(start..whole.end);
    let pieces = pieces.into_iter().map(|span| Piece::read(text, span)).collect::<Result<Vec<_>, _>>()?;
    match pieces.as_slice() {
        [one] => {
            let (unit, exact) = one.unit_or_plain();
            Ok(Quantity { text: inside.to_owned(), value: one.si(&exact)?, spread: None, unit })
        }
        several => range(text, whole, several),
    }
}

/// Reads value text of the dimension of `want`.
pub(crate) fn read_as(text: &str, want: &Unit) -> Result<Quantity, QuantityError> {
    let quantity = read(text).map_err(|error| due(error, want))?;
    let whole = trimmed(text)?;
    let shown = &quantity.text;
    let unit = &quantity.unit;
    let refuse = |code, message: String| Err(QuantityError::new(code, whole.clone(), message).hint(how_to_write(shown, want)));
    if unit.is_plain() && !(want.dim.is_one() && want.factor == 1.0) {
        let what = if want.dim.is_one() { format!("`{}`", want.text) } else { article(want.dim) };
        return refuse("unit-missing", format!("`{shown}` has no unit where {what} is due"));
    }
    if unit.dim != want.dim {
        let message = format!("found {} (`{shown}`) where {} is due", article(unit.dim), article(want.dim));
        if let Some(start) = shown.split("+-").next().filter(|_| unit.text == "%" && shown.contains("+-")) {
            let (start, text) = (start.trim(), &want.text);
            let tail = shown.split("+-").nth(1).unwrap_or("").trim();
            return Err(QuantityError::new("dimension", whole, message)
                .hint(format!("write the unit before a relative spread: `{start} {text} +- {tail}`")));
        }
        return refuse("dimension", message);
    }
    if unit.is_point() && !want.is_point() {
        let message = format!(
            "found a temperature point (`{shown}`) where `{}` is due, a difference or an absolute temperature",
            want.text
        );
        let kelvin = crate::show_number(quantity.value, 6);
        let hint = format!("write the difference in `K`, or `{kelvin} K` if the absolute temperature is meant");
        return Err(QuantityError::new("temperature-point", whole, message).hint(hint));
    }
    let with_percent = matches!(quantity.spread, Some(Spread::Normal { .. })) && unit.text == "%" && quantity.value != 0.0;
    if with_percent && want.text != "%" {
        return Err(ambiguous(&quantity, want, whole));
    }
    Ok(quantity)
}

/// `100 +- 5 %` where a plain number is due: the sign may belong to both numbers, or to the spread alone.
fn ambiguous(quantity: &Quantity, want: &Unit, whole: Range<usize>) -> QuantityError {
    let number = |value: f64| crate::show_number(value, 9);
    let half = 2.0 * quantity.standard_uncertainty();
    let (value, share) = (quantity.value * 100.0, half * quantity.value.abs() * 100.0);
    // The unit last, as everywhere; the plain unit is not written.
    let unit = if want.is_plain() { String::new() } else { format!(" {}", want.text) };
    let message = format!("`{}` can be read two ways: both numbers in percent, or a relative spread", quantity.text);
    let relative = format!("`{} +- {}{unit}` for a relative spread", number(value), number(share));
    let points = format!("`{} +- {}{unit}` for percent points", number(want.from_si(quantity.value)), number(want.from_si(half)));
    QuantityError::new("spread-ambiguous", whole, message).hint(format!("write {relative}, or {points}"))
}

/// Adds how to write it to errors that say nothing about the unit due.
fn due(mut error: QuantityError, want: &Unit) -> QuantityError {
    if error.hint.is_none() {
        error.hint = Some(how_to_write("", want));
    }
    error
}

/// "write `3 mm` or `3 in`", with the number that was written where it is a single one.
fn how_to_write(shown: &str, want: &Unit) -> String {
    let length = number_length(shown);
    let tail = shown[length..].trim_start();
    let form = if length == 0 {
        "3"
    } else if tail.contains("..") || tail.contains("+-") || tail.contains('\u{b1}') {
        ""
    } else {
        &shown[..length]
    };
    let number = |unit: &str| -> String {
        // A bare spread keeps its own wording: `12 .. 13` becomes `12 .. 13 mm`.
        let bare = form.is_empty() && !tail.contains(|c: char| c.is_alphabetic() || c == '%');
        let number = if bare {
            shown
        } else if form.is_empty() {
            &shown[..length]
        } else {
            form
        };
        if unit.is_empty() { format!("`{number}`") } else { format!("`{number} {unit}`") }
    };
    format!("write {}", ways(want).iter().map(|unit| number(unit)).collect::<Vec<_>>().join(" or "))
}

fn plus_minus(text: &str, first: Range<usize>, second: Range<usize>) -> Result<Quantity, QuantityError> {
    let whole = first.start..second.end;
    let rest = &text[second.clone()];
    if rest.contains("..") || text[first.clone()].contains("..") || PLUS_MINUS.iter().any(|sign| rest.contains(sign)) {
        return Err(QuantityError::new("spread-form", whole, "one value takes one spread")
            .hint("write `12.5 +- 0.2 mm` or `12 .. 13 mm`"));
    }
    let (value, half) = (Piece::read(text, first)?, Piece::read(text, second)?);
    let written = text[whole.clone()].to_owned();
    let percent = |piece: &Piece| piece.unit.as_ref().is_some_and(|(unit, _)| unit.text == "%");
    let stated = match (&value.unit, &half.unit) {
        (Some((unit, exact)), Some(_)) if percent(&half) => {
            if percent(&value) {
                return Err(QuantityError::new(
                    "spread-ambiguous",
                    whole,
                    "`% +- %` can be read two ways: percent points or percent of the value",
                )
                .hint("write percent points as `95 +- 1 %`, or all as plain numbers"));
            }
            if unit.is_point() {
                return Err(QuantityError::new("spread-relative", half.span, "a temperature point has no relative spread")
                    .hint("write `23 +- 1 degC`"));
            }
            if value.number.digits == 0 {
                return Err(QuantityError::new("spread-relative", half.span, "a relative spread of zero is no spread")
                    .hint("write it with a unit"));
            }
            half.not_negative()?;
            let percent_half = Fraction::of(1, 200);
            let u = value.number.product(half.number).mul(&exact.factor).mul(&percent_half).to_f64();
            return Ok(Quantity {
                text: written,
                value: value.si(exact)?,
                spread: Some(Spread::Normal { u: finite(u, &half)? }),
                unit: unit.clone(),
            });
        }
        (Some(own), _) => own.clone(),
        (None, _) => half.unit_or_plain(),
    };
    let (unit, exact) = stated;
    let width = match &half.unit {
        Some((other, _)) if other.dim != unit.dim || other.currency != unit.currency => {
            let message = format!(
                "the spread `{}` is not of the kind of the value `{}`",
                &text[half.span.clone()],
                &text[value.span.clone()]
            );
            return Err(
                QuantityError::new("dimension", half.span, message).hint("write both in one unit, unit last: `12.5 +- 0.2 mm`")
            );
        }
        Some((_, exact)) => exact.clone(),
        None if value.unit.is_some() => {
            return Err(QuantityError::new("unit-missing", half.span, "the spread has no unit")
                .hint("write the unit last: `12.5 +- 0.2 mm`"));
        }
        None => exact.clone(),
    };
    let u = half.half_width(&Exact { factor: width.factor.half(), offset: None })?;
    Ok(Quantity { text: written, value: value.si(&exact)?, spread: Some(Spread::Normal { u }), unit })
}

fn range(text: &str, whole: Range<usize>, pieces: &[Piece]) -> Result<Quantity, QuantityError> {
    let last = &pieces[pieces.len() - 1];
    let (unit, exact) = last.unit_or_plain();
    let mut ends = Vec::with_capacity(3);
    for piece in pieces {
        match &piece.unit {
            Some((other, _))
                if other.dim != unit.dim || other.currency != unit.currency || other.is_point() != unit.is_point() =>
            {
                let message = format!(
                    "the ends of a range are of different kinds: `{}` and `{}`",
                    &text[piece.span.clone()],
                    &text[last.span.clone()]
                );
                return Err(QuantityError::new("dimension", piece.span.clone(), message)
                    .hint("write both in one unit, unit last: `12 .. 13 mm`"));
            }
            Some((_, own)) => ends.push(piece.si(own)?),
            None => ends.push(piece.si(&exact)?),
        }
    }
    let fall = || QuantityError::new("range-falls", whole.clone(), "a range must ascend").hint("write the smaller number first");
    let (value, spread) = match ends.as_slice() {
        [low, high] if low < high => (middle(*low, *high), Spread::Rectangular { low: *low, high: *high }),
        [low, mode, high] if low <= mode && mode <= high && low < high => {
            (*mode, Spread::Triangular { low: *low, mode: *mode, high: *high })
        }
        _ => return Err(fall()),
    };
    Ok(Quantity { text: text[whole].to_owned(), value, spread: Some(spread), unit })
}

/// One number with the unit that follows it, if any.
struct Piece {
    number: Decimal,
    unit: Option<(Unit, Exact)>,
    span: Range<usize>,
}

impl Piece {
    fn read(text: &str, span: Range<usize>) -> Result<Self, QuantityError> {
        let inside = &text[span.clone()];
        let start = span.start + (inside.len() - inside.trim_start().len());
        let end = start + inside.trim().len();
        let span = start..end;
        let inside = &text[span.clone()];
        let length = number_length(inside);
        if length == 0 {
            return Err(no_number(inside, span));
        }
        let after = &inside[length..];
        if let Some(error) = broken_number(inside, length, &span) {
            return Err(error);
        }
        let number = Decimal::read(&inside[..length], start..start + length)?;
        let unit_start = end - after.trim_start().len();
        let unit = match &text[unit_start..end] {
            "" => None,
            unit => Some(Unit::with_exact(unit).map_err(|error| error.shifted(unit_start))?),
        };
        Ok(Self { number, unit, span })
    }

    fn unit_or_plain(&self) -> (Unit, Exact) {
        self.unit.clone().unwrap_or_else(|| (Unit::plain(), Exact { factor: Fraction::one(), offset: None }))
    }

    fn si(&self, exact: &Exact) -> Result<f64, QuantityError> {
        let si = finite(self.number.in_si(exact), self)?;
        if exact.offset.is_some() && si < 0.0 {
            return Err(QuantityError::new(
                "absolute-zero",
                self.span.clone(),
                "this temperature lies below absolute zero (-273.15 degC)",
            ));
        }
        Ok(si)
    }

    fn half_width(&self, exact: &Exact) -> Result<f64, QuantityError> {
        self.not_negative()?;
        finite(self.number.in_si(exact).abs(), self)
    }

    fn not_negative(&self) -> Result<(), QuantityError> {
        if self.number.negative && self.number.digits != 0 {
            return Err(
                QuantityError::new("spread-negative", self.span.clone(), "a spread cannot be negative").hint("write `+- 0.2 mm`")
            );
        }
        Ok(())
    }
}

fn finite(si: f64, piece: &Piece) -> Result<f64, QuantityError> {
    let lost = si == 0.0 && piece.number.digits != 0;
    if si.is_finite() && !lost {
        return Ok(si);
    }
    let word = if lost { "small" } else { "large" };
    Err(QuantityError::new("number-size", piece.span.clone(), format!("this number is too {word} to calculate with")))
}

fn trimmed(text: &str) -> Result<Range<usize>, QuantityError> {
    let start = text.len() - text.trim_start().len();
    let span = start..start + text.trim().len();
    if span.len() > MAX_TEXT {
        return Err(QuantityError::new("value-too-long", span, "this text is too long for a value"));
    }
    if span.is_empty() {
        return Err(QuantityError::new("value-missing", span, "there is no value"));
    }
    Ok(span)
}
