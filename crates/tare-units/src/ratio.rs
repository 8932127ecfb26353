//! Exact small rational numbers: the exponents of dimensions.

use std::cmp::Ordering;
use std::fmt;

/// An exact rational number with 32-bit parts, always in lowest terms with a positive denominator.
///
/// Arithmetic that leaves the 32-bit range saturates instead of wrapping or panicking; [`Ratio::is_saturated`] tells. Exponents
/// of real dimensions stay far below that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ratio {
    n: i32,
    d: i32,
}

impl Ratio {
    /// Zero.
    pub const ZERO: Self = Self { n: 0, d: 1 };
    /// One.
    pub const ONE: Self = Self { n: 1, d: 1 };

    /// Makes `n / d` in lowest terms.
    ///
    /// # Panics
    /// If `d` is zero; text goes through [`Ratio::parse`], which refuses it.
    pub fn new(n: i32, d: i32) -> Self {
        assert!(d != 0, "a ratio with denominator zero is a bug of the caller");
        Self::reduced(i64::from(n), i64::from(d))
    }

    /// Makes a whole number.
    pub const fn whole(n: i32) -> Self {
        Self { n, d: 1 }
    }

    /// Reads `2`, `-2`, `0.5` or `1/3`; none for anything else.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (negative, text) = match text.strip_prefix(['-', '\u{2212}']) {
            Some(rest) => (true, rest.trim_start()),
            None => (false, text),
        };
        let (n, d) = match text.split_once('/') {
            Some((n, d)) => (digits(n.trim())?, digits(d.trim())?),
            None => match text.split_once('.') {
                Some((whole, part)) if part.len() <= 6 => {
                    let scale = 10_i64.pow(u32::try_from(part.len()).ok()?);
                    (digits(whole)? * scale + digits(part)?, scale)
                }
                Some(_) => return None,
                None => (digits(text)?, 1),
            },
        };
        if d == 0 {
            return None;
        }
        let ratio = Self::reduced(if negative { -n } else { n }, d);
        (!ratio.is_saturated()).then_some(ratio)
    }

    /// The numerator, with the sign.
    pub const fn numerator(self) -> i32 {
        self.n
    }

    /// The denominator, positive.
    pub const fn denominator(self) -> i32 {
        self.d
    }

    /// Whether it is zero.
    pub const fn is_zero(self) -> bool {
        self.n == 0
    }

    /// Whether it is a whole number.
    pub const fn is_whole(self) -> bool {
        self.d == 1
    }

    /// Whether an operation left the range: the number is then meaningless and equals no real exponent.
    pub const fn is_saturated(self) -> bool {
        self.n == i32::MAX || self.n == i32::MIN
    }

    /// The nearest float.
    pub fn to_f64(self) -> f64 {
        f64::from(self.n) / f64::from(self.d)
    }

    fn reduced(n: i64, d: i64) -> Self {
        let divisor = gcd(n.unsigned_abs(), d.unsigned_abs()).max(1);
        // Both parts come from products of 32-bit numbers, so neither is the 64-bit minimum.
        let divisor = i64::try_from(divisor).unwrap_or(1) * d.signum();
        let (n, d) = (n / divisor, d / divisor);
        match (i32::try_from(n), i32::try_from(d)) {
            (Ok(n), Ok(d)) => Self { n, d },
            _ => Self { n: if n < 0 { i32::MIN } else { i32::MAX }, d: 1 },
        }
    }

    fn combine(self, other: Self, n: i64, d: i64) -> Self {
        if self.is_saturated() || other.is_saturated() { Self { n: i32::MAX, d: 1 } } else { Self::reduced(n, d) }
    }
}

impl std::ops::Add for Ratio {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        let (a, b, c, d) = (i64::from(self.n), i64::from(self.d), i64::from(o.n), i64::from(o.d));
        // Halved against overflow is not needed: each product stays below 2^62.
        self.combine(o, a * d + c * b, b * d)
    }
}

impl std::ops::Sub for Ratio {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        let (a, b, c, d) = (i64::from(self.n), i64::from(self.d), i64::from(o.n), i64::from(o.d));
        self.combine(o, a * d - c * b, b * d)
    }
}

impl std::ops::Mul for Ratio {
    type Output = Self;
    fn mul(self, o: Self) -> Self {
        self.combine(o, i64::from(self.n) * i64::from(o.n), i64::from(self.d) * i64::from(o.d))
    }
}

impl std::ops::Neg for Ratio {
    type Output = Self;
    fn neg(self) -> Self {
        Self { n: self.n.saturating_neg(), d: self.d }
    }
}

impl From<i32> for Ratio {
    fn from(n: i32) -> Self {
        Self::whole(n)
    }
}

impl Ord for Ratio {
    fn cmp(&self, o: &Self) -> Ordering {
        (i64::from(self.n) * i64::from(o.d)).cmp(&(i64::from(o.n) * i64::from(self.d)))
    }
}

impl PartialOrd for Ratio {
    fn partial_cmp(&self, o: &Self) -> Option<Ordering> {
        Some(self.cmp(o))
    }
}

impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.d == 1 { write!(f, "{}", self.n) } else { write!(f, "{}/{}", self.n, self.d) }
    }
}

/// Up to nine decimal digits as a number.
fn digits(text: &str) -> Option<i64> {
    let fits = !text.is_empty() && text.len() <= 9 && text.bytes().all(|b| b.is_ascii_digit());
    fits.then(|| text.parse().ok()).flatten()
}

fn gcd(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_the_written_forms_and_refuses_the_rest() {
        for (text, n, d) in [
            ("2", 2, 1),
            ("-3", -3, 1),
            ("0.5", 1, 2),
            ("1/3", 1, 3),
            ("-2/4", -1, 2),
            ("\u{2212}1.25", -5, 4),
            (" 4 / 6 ", 2, 3),
        ] {
            assert_eq!(Ratio::parse(text), Some(Ratio::new(n, d)), "{text}");
        }
        for text in ["", "1/0", "a", "1/2/3", "1.5/2", "--1", "99999999999", "1e3", "0.12345678", "."] {
            assert_eq!(Ratio::parse(text), None, "{text}");
        }
    }

    #[test]
    fn arithmetic_is_exact_and_overflow_is_marked() {
        assert_eq!(Ratio::new(1, 3) + Ratio::new(1, 6), Ratio::new(1, 2));
        assert_eq!(Ratio::new(1, 3) - Ratio::new(1, 2), Ratio::new(-1, 6));
        assert_eq!(Ratio::new(2, 3) * Ratio::new(-3, 4), Ratio::new(-1, 2));
        assert!(Ratio::new(1, -2) < Ratio::ZERO);
        let mut big = Ratio::whole(2);
        for _ in 0..6 {
            big = big * big;
        }
        assert!(big.is_saturated());
        assert!((big - big).is_saturated(), "an overflow must not cancel into a plausible exponent");
        assert!((-Ratio::whole(i32::MIN)).is_saturated());
    }
}
