//! Decimal numbers as people write them: exact from text, and back to the fewest digits that read the same.

use crate::QuantityError;
use crate::exact::{Fraction, Natural, nearest, parts};
use crate::unit::Exact;
use std::ops::Range;

/// Significant digits kept exactly; more is refused rather than cut.
const MAX_DIGITS: usize = 37;
/// Largest power of ten: beyond any float in any unit.
const MAX_EXPONENT: i32 = 700;

/// An exact decimal: `digits * 10^exponent`, with a sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Decimal {
    pub(crate) negative: bool,
    pub(crate) digits: u128,
    pub(crate) exponent: i32,
}

impl Decimal {
    /// Reads the text of one number, already cut to its extent, at `span` of the whole text.
    pub(crate) fn read(text: &str, span: Range<usize>) -> Result<Self, QuantityError> {
        let too = |what: &str| QuantityError::new("number-size", span.clone(), format!("`{text}` has too {what}"));
        let (negative, unsigned) = match text.strip_prefix(['-', '\u{2212}']) {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let (mantissa, exponent) = unsigned.split_once(['e', 'E']).unwrap_or((unsigned, "0"));
        let exponent = exponent.replace('\u{2212}', "-");
        let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        let all = format!("{whole}{part}");
        let leading = all.trim_start_matches('0');
        let significant = leading.trim_end_matches('0');
        if significant.len() > MAX_DIGITS || part.len() > 400 {
            return Err(too("many digits"));
        }
        let shift = i32::try_from(part.len()).unwrap_or(i32::MAX) - i32::try_from(leading.len() - significant.len()).unwrap_or(0);
        let exponent =
            exponent.parse::<i32>().ok().filter(|e| e.abs() <= MAX_EXPONENT).ok_or_else(|| too("large an exponent"))? - shift;
        if significant.is_empty() {
            return Ok(Self { negative, digits: 0, exponent: 0 });
        }
        if exponent.abs() > MAX_EXPONENT {
            return Err(too("many digits"));
        }
        Ok(Self { negative, digits: significant.parse().map_err(|_| too("many digits"))?, exponent })
    }

    /// As a signed fraction.
    fn fraction(self) -> Fraction {
        let ten = Fraction::ten_to(self.exponent);
        Fraction { num: ten.num.mul(&Natural::from_u128(self.digits)), den: ten.den }
    }

    /// The float nearest to this number times the factor plus the offset, rounded once.
    pub(crate) fn in_si(self, exact: &Exact) -> f64 {
        let product = self.fraction().mul(&exact.factor);
        let signed = |negative: bool, x: f64| if negative { -x } else { x };
        match &exact.offset {
            None => signed(self.negative, product.to_f64()),
            Some(offset) => {
                let (a, b) = (product.num.mul(&offset.den), offset.num.mul(&product.den));
                let den = product.den.mul(&offset.den);
                match (self.negative, a <= b) {
                    (false, _) => nearest(&a.add(&b), &den),
                    (true, true) => nearest(&b.sub(&a), &den),
                    (true, false) => -nearest(&a.sub(&b), &den),
                }
            }
        }
    }

    /// The product with another decimal, as a magnitude: for relative spreads.
    pub(crate) fn product(self, other: Self) -> Fraction {
        self.fraction().mul(&other.fraction())
    }

    /// The fewest digits that read back to exactly `si` in a unit; none for NaN and infinities.
    pub(crate) fn printing(si: f64, exact: &Exact) -> Option<Self> {
        if !si.is_finite() {
            return None;
        }
        if si == 0.0 && exact.offset.is_none() {
            return Some(Self { negative: si.is_sign_negative(), digits: 0, exponent: 0 });
        }
        let (mantissa, power) = parts(si.abs());
        let (one, mantissa) = (Natural::from_u128(1), Natural::from_u128(mantissa));
        let by = u32::try_from(power.unsigned_abs()).unwrap_or(0);
        let (mut num, mut den) = if power >= 0 { (mantissa.shl(by), one) } else { (mantissa, one.shl(by)) };
        let mut negative = si < 0.0;
        if let Some(offset) = &exact.offset {
            let (a, b) = (num.mul(&offset.den), offset.num.mul(&den));
            den = den.mul(&offset.den);
            (negative, num) = match (negative, a >= b) {
                (true, _) => (true, a.add(&b)),
                (false, true) => (false, a.sub(&b)),
                (false, false) => (true, b.sub(&a)),
            };
        }
        let (num, den) = (num.mul(&exact.factor.den), den.mul(&exact.factor.num));
        if num.is_zero() {
            return Some(Self { negative: false, digits: 0, exponent: 0 });
        }
        let same = |d: &Self| d.in_si(exact).to_bits() == si.to_bits();
        // Fifteen digits nearly always do, and a number that needs fewer ends in zeros there; behind an offset the last bit of the
        // sum is coarser, so the search starts from one digit.
        let fewest = if exact.offset.is_some() { 1 } else { 15 };
        (fewest..=36).map(|digits| rounded(&num, &den, digits, negative)).find(same)
    }

    /// The text: plain where that is short, otherwise with an exponent.
    pub(crate) fn text(self) -> String {
        let (digits, exponent) = (self.digits.to_string(), self.exponent);
        let length = i32::try_from(digits.len()).unwrap_or(0);
        let point = length + exponent;
        let zeros = |n: i32| "0".repeat(usize::try_from(n).unwrap_or(0));
        let cut = |at: i32| digits.split_at(usize::try_from(at).unwrap_or(0));
        let body = if self.digits == 0 {
            "0".to_owned()
        } else if exponent >= 0 && point <= 15 {
            format!("{digits}{}", zeros(exponent))
        } else if exponent < 0 && point > 0 {
            let (whole, part) = cut(point);
            format!("{whole}.{part}")
        } else if exponent < 0 && point > -5 {
            format!("0.{}{digits}", zeros(-point))
        } else {
            let (first, rest) = cut(1);
            format!("{first}{}{rest}e{}", if rest.is_empty() { "" } else { "." }, point - 1)
        };
        format!("{}{body}", if self.negative { "-" } else { "" })
    }
}

/// `num / den` to a number of significant digits, trailing zeros dropped.
fn rounded(num: &Natural, den: &Natural, wanted: i32, negative: bool) -> Decimal {
    // A first guess of the leading digit's place from the bit lengths; the loop mends it.
    let mut place = i32::try_from((num.bits() - den.bits()) * 30103 / 100_000).unwrap_or(0);
    let limit = 10_u128.pow(wanted.unsigned_abs());
    for _ in 0..6 {
        let scale = wanted - 1 - place;
        let ten = Natural::ten_to(scale.unsigned_abs());
        let (upper, lower) = if scale >= 0 { (num.mul(&ten), den.clone()) } else { (num.clone(), den.mul(&ten)) };
        let (quotient, rest) = upper.div_rem(&lower);
        let quotient = quotient.to_u128().unwrap_or(u128::MAX);
        if quotient >= limit {
            place += 1;
        } else if quotient < limit / 10 {
            place -= 1;
        } else {
            let up = rest.shl(1) >= lower;
            let (mut digits, mut exponent) = (quotient + u128::from(up), -scale);
            while digits % 10 == 0 {
                digits /= 10;
                exponent += 1;
            }
            return Decimal { negative, digits, exponent };
        }
    }
    Decimal { negative, digits: 0, exponent: 0 }
}
