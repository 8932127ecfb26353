//! Dimensions: exact exponents over the seven SI base quantities and money.

use crate::Ratio;
use std::fmt;

/// The base quantities in the order they are written: the order of `kg*m/s`.
const SYMBOLS: [&str; 8] = ["kg", "m", "s", "A", "K", "mol", "cd", "money"];

/// A dimension: eight exact rational exponents.
///
/// Pieces, cycles, radians and percent have dimension [`Dim::ONE`]. Display writes SI base units, `kg/(m*s^2)`, which
/// [`Unit::parse`](crate::Unit::parse) reads back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Dim([Ratio; 8]);

impl Dim {
    /// A plain number.
    pub const ONE: Self = Self([Ratio::ZERO; 8]);
    /// Mass, kg.
    pub const MASS: Self = Self::base(0);
    /// Length, m.
    pub const LENGTH: Self = Self::base(1);
    /// Time, s.
    pub const TIME: Self = Self::base(2);
    /// Electric current, A.
    pub const CURRENT: Self = Self::base(3);
    /// Temperature, K.
    pub const TEMPERATURE: Self = Self::base(4);
    /// Amount of substance, mol.
    pub const AMOUNT: Self = Self::base(5);
    /// Luminous intensity, cd.
    pub const LUMINOUS: Self = Self::base(6);
    /// Money, in whichever currency.
    pub const MONEY: Self = Self::base(7);

    const fn base(index: usize) -> Self {
        let mut exponents = [Ratio::ZERO; 8];
        exponents[index] = Ratio::ONE;
        Self(exponents)
    }

    /// Whole exponents in the order kg, m, s, A, K, mol, cd, money.
    pub(crate) const fn of(whole: [i32; 8]) -> Self {
        let mut exponents = [Ratio::ZERO; 8];
        let mut i = 0;
        while i < 8 {
            exponents[i] = Ratio::whole(whole[i]);
            i += 1;
        }
        Self(exponents)
    }

    /// The dimension of a product.
    #[must_use]
    #[expect(clippy::should_implement_trait, reason = "reads as `a.mul(b)` without importing a trait")]
    pub fn mul(self, o: Self) -> Self {
        self.each(|i, e| e + o.0[i])
    }

    /// The dimension of a quotient.
    #[must_use]
    #[expect(clippy::should_implement_trait, reason = "reads as `a.div(b)` without importing a trait")]
    pub fn div(self, o: Self) -> Self {
        self.each(|i, e| e - o.0[i])
    }

    /// The dimension of a power.
    #[must_use]
    pub fn pow(self, exponent: Ratio) -> Self {
        self.each(|_, e| e * exponent)
    }

    /// Whether it is a plain number.
    pub fn is_one(self) -> bool {
        self == Self::ONE
    }

    /// The exponent of money.
    pub fn money(self) -> Ratio {
        self.0[7]
    }

    /// Whether an exponent left the representable range; such a dimension is meaningless and must be refused.
    pub fn is_saturated(self) -> bool {
        self.0.iter().any(|e| e.is_saturated())
    }

    /// The largest numerator or denominator of any exponent.
    pub(crate) fn extent(self) -> u32 {
        self.0.iter().map(|e| e.numerator().unsigned_abs().max(e.denominator().unsigned_abs())).max().unwrap_or(0)
    }

    fn each(mut self, f: impl Fn(usize, Ratio) -> Ratio) -> Self {
        for (i, e) in self.0.iter_mut().enumerate() {
            *e = f(i, *e);
        }
        self
    }
}

impl fmt::Display for Dim {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let part = |wanted: fn(Ratio) -> bool| -> Vec<String> {
            let exponents = self.0.iter().zip(SYMBOLS).filter(|(e, _)| wanted(**e));
            exponents.map(|(e, symbol)| power(symbol, if *e < Ratio::ZERO { -*e } else { *e })).collect()
        };
        let (over, under) = (part(|e| e > Ratio::ZERO), part(|e| e < Ratio::ZERO));
        f.write_str(&if over.is_empty() { "1".to_owned() } else { over.join("*") })?;
        match under.as_slice() {
            [] => Ok(()),
            [one] => write!(f, "/{one}"),
            several => write!(f, "/({})", several.join("*")),
        }
    }
}

fn power(symbol: &str, exponent: Ratio) -> String {
    if exponent == Ratio::ONE {
        symbol.to_owned()
    } else if exponent.is_whole() {
        format!("{symbol}^{exponent}")
    } else {
        format!("{symbol}^({exponent})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Unit;
    use proptest::prelude::*;

    #[test]
    fn writes_base_units() {
        let pressure = Dim::MASS.div(Dim::LENGTH).div(Dim::TIME.pow(2.into()));
        assert_eq!(pressure.to_string(), "kg/(m*s^2)");
        assert_eq!(Dim::ONE.to_string(), "1");
        assert_eq!(Dim::ONE.div(Dim::TIME).to_string(), "1/s");
        assert_eq!(Dim::MONEY.div(Dim::MASS).to_string(), "money/kg");
        assert_eq!(Dim::LENGTH.pow(Ratio::new(1, 2)).to_string(), "m^(1/2)");
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(exponents in prop::array::uniform8((-6i32..=6, 1i32..=4))) {
            let dim = Dim(exponents.map(|(n, d)| Ratio::new(n, d)));
            prop_assert_eq!(Unit::parse(&dim.to_string()).map(|u| u.dim), Ok(dim));
        }

        #[test]
        fn quotient_undoes_product(a in prop::array::uniform8(-9i32..=9), b in prop::array::uniform8(-9i32..=9)) {
            let (a, b) = (Dim::of(a), Dim::of(b));
            prop_assert_eq!(a.mul(b).div(b), a);
            prop_assert_eq!(a.pow(3.into()).pow(Ratio::new(1, 3)), a);
        }
    }
}
