//! Exact arithmetic behind unit factors: natural numbers of any size, positive fractions, one rounding at the end.
//!
//! Decimal text times an exact factor, rounded once, makes equal quantities equal numbers whatever unit they are written in,
//! and lets printing find digits that read back to the same bits. Platform maths functions are not used: same bits everywhere.

use std::cmp::Ordering;

/// A natural number, little-endian limbs without leading zeros.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Natural(Vec<u32>);

impl Natural {
    pub(crate) fn from_u128(n: u128) -> Self {
        Self((0..4).map(|i| low(n >> (32 * i))).collect()).trimmed()
    }

    pub(crate) fn ten_to(exponent: u32) -> Self {
        Self::from_u128(10).pow(exponent)
    }

    fn trimmed(mut self) -> Self {
        while self.0.last() == Some(&0) {
            self.0.pop();
        }
        self
    }

    pub(crate) fn is_zero(&self) -> bool {
        self.0.is_empty()
    }

    /// The number itself, if it has at most 128 bits.
    pub(crate) fn to_u128(&self) -> Option<u128> {
        (self.0.len() <= 4).then(|| self.0.iter().rev().fold(0, |n, limb| (n << 32) | u128::from(*limb)))
    }

    pub(crate) fn bits(&self) -> i64 {
        let whole = i64::try_from(self.0.len()).unwrap_or(i64::MAX / 64) * 32;
        self.0.last().map_or(0, |top| whole - i64::from(top.leading_zeros()))
    }

    pub(crate) fn mul(&self, o: &Self) -> Self {
        let mut out = vec![0; self.0.len() + o.0.len()];
        for (i, a) in self.0.iter().enumerate() {
            let mut carry = 0_u64;
            for (j, b) in o.0.iter().enumerate() {
                let sum = u64::from(*a) * u64::from(*b) + u64::from(out[i + j]) + carry;
                out[i + j] = low(sum.into());
                carry = sum >> 32;
            }
            out[i + o.0.len()] = low(carry.into());
        }
        Self(out).trimmed()
    }

    pub(crate) fn pow(&self, mut exponent: u32) -> Self {
        let (mut base, mut out) = (self.clone(), Self::from_u128(1));
        while exponent > 0 {
            if exponent & 1 == 1 {
                out = out.mul(&base);
            }
            exponent >>= 1;
            if exponent > 0 {
                base = base.mul(&base);
            }
        }
        out
    }

    pub(crate) fn shl(&self, by: u32) -> Self {
        let mut out = vec![0; usize::try_from(by / 32).unwrap_or(0)];
        let mut carry = 0_u64;
        for limb in &self.0 {
            let wide = (u64::from(*limb) << (by % 32)) | carry;
            out.push(low(wide.into()));
            carry = wide >> 32;
        }
        out.push(low(carry.into()));
        Self(out).trimmed()
    }

    fn shr_one(&mut self) {
        let mut carry = 0;
        for limb in self.0.iter_mut().rev() {
            let next = *limb << 31;
            *limb = (*limb >> 1) | carry;
            carry = next;
        }
        if self.0.last() == Some(&0) {
            self.0.pop();
        }
    }

    pub(crate) fn add(&self, o: &Self) -> Self {
        let (mut out, mut carry) = (Vec::with_capacity(self.0.len().max(o.0.len()) + 1), 0_u64);
        for i in 0..self.0.len().max(o.0.len()) {
            let sum = u64::from(*self.0.get(i).unwrap_or(&0)) + u64::from(*o.0.get(i).unwrap_or(&0)) + carry;
            out.push(low(sum.into()));
            carry = sum >> 32;
        }
        out.push(low(carry.into()));
        Self(out).trimmed()
    }

    /// The difference; `o` must not be larger.
    pub(crate) fn sub(&self, o: &Self) -> Self {
        let mut out = self.clone();
        out.sub_assign(o);
        out
    }

    fn sub_assign(&mut self, o: &Self) {
        let mut borrow = 0_i64;
        for i in 0..self.0.len() {
            let diff = i64::from(self.0[i]) - i64::from(*o.0.get(i).unwrap_or(&0)) - borrow;
            borrow = i64::from(diff < 0);
            self.0[i] = u32::try_from(diff + (borrow << 32)).unwrap_or(0);
        }
        while self.0.last() == Some(&0) {
            self.0.pop();
        }
    }

    /// Quotient and remainder; the divisor must not be zero. Work grows with the bits of the quotient, which callers keep small.
    pub(crate) fn div_rem(&self, divisor: &Self) -> (Self, Self) {
        let steps = self.bits() - divisor.bits();
        if steps < 0 {
            return (Self(Vec::new()), self.clone());
        }
        let mut rest = self.clone();
        let mut shifted = divisor.shl(u32::try_from(steps).unwrap_or(0));
        let mut quotient = vec![0_u32; usize::try_from(steps / 32).unwrap_or(0) + 1];
        for bit in (0..=usize::try_from(steps).unwrap_or(0)).rev() {
            if rest >= shifted {
                rest.sub_assign(&shifted);
                quotient[bit / 32] |= 1 << (bit % 32);
            }
            shifted.shr_one();
        }
        (Self(quotient).trimmed(), rest)
    }

    /// The largest natural whose `n`-th power does not exceed this one.
    fn root(&self, n: u32) -> Self {
        let top = u32::try_from(self.bits() / i64::from(n) + 1).unwrap_or(0);
        let mut root = Self(Vec::new());
        for bit in (0..=top).rev() {
            let trial = root.add(&Self::from_u128(1).shl(bit));
            if trial.pow(n) <= *self {
                root = trial;
            }
        }
        root
    }
}

impl Ord for Natural {
    fn cmp(&self, o: &Self) -> Ordering {
        self.0.len().cmp(&o.0.len()).then_with(|| self.0.iter().rev().cmp(o.0.iter().rev()))
    }
}

impl PartialOrd for Natural {
    fn partial_cmp(&self, o: &Self) -> Option<Ordering> {
        Some(self.cmp(o))
    }
}

/// The low 32 bits.
fn low(n: u128) -> u32 {
    u32::try_from(n & 0xffff_ffff).unwrap_or(0)
}

/// A positive fraction: the exact factor of a unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Fraction {
    pub(crate) num: Natural,
    pub(crate) den: Natural,
}

impl Fraction {
    pub(crate) fn one() -> Self {
        Self::of(1, 1)
    }

    pub(crate) fn of(num: u128, den: u128) -> Self {
        let divisor = gcd(num, den).max(1);
        Self { num: Natural::from_u128(num / divisor), den: Natural::from_u128(den / divisor) }
    }

    /// A power of ten.
    pub(crate) fn ten_to(exponent: i32) -> Self {
        let (power, one) = (Natural::ten_to(exponent.unsigned_abs()), Natural::from_u128(1));
        if exponent < 0 { Self { num: one, den: power } } else { Self { num: power, den: one } }
    }

    pub(crate) fn mul(&self, o: &Self) -> Self {
        Self { num: self.num.mul(&o.num), den: self.den.mul(&o.den) }.reduced()
    }

    pub(crate) fn div(&self, o: &Self) -> Self {
        Self { num: self.num.mul(&o.den), den: self.den.mul(&o.num) }.reduced()
    }

    pub(crate) fn half(&self) -> Self {
        self.div(&Self::of(2, 1))
    }

    /// A whole power.
    pub(crate) fn pow(&self, exponent: i32) -> Self {
        let n = exponent.unsigned_abs();
        let (num, den) = (self.num.pow(n), self.den.pow(n));
        if exponent < 0 { Self { num: den, den: num } } else { Self { num, den } }
    }

    /// A root: exact where one exists, otherwise cut beyond 128 good bits, far past what a float shows.
    pub(crate) fn root(&self, n: u32) -> Self {
        let (num, den) = (self.num.root(n), self.den.root(n));
        if num.pow(n) == self.num && den.pow(n) == self.den {
            return Self { num, den };
        }
        // a/b = a*b^(n-1) / b^n, so only the upper part needs a scaled root.
        let scale = 160;
        let inside = self.num.mul(&self.den.pow(n - 1)).shl(scale * n);
        Self { num: inside.root(n), den: self.den.shl(scale) }
    }

    /// Fractions that fit 128 bits are kept in lowest terms, so that ordinary values take the fast path.
    fn reduced(self) -> Self {
        match (self.num.to_u128(), self.den.to_u128()) {
            (Some(num), Some(den)) => Self::of(num, den),
            _ => self,
        }
    }

    /// Bits of the larger part: a bound on the work done with it.
    pub(crate) fn bits(&self) -> i64 {
        self.num.bits().max(self.den.bits())
    }

    /// The nearest float, ties to even.
    pub(crate) fn to_f64(&self) -> f64 {
        nearest(&self.num, &self.den)
    }
}

fn gcd(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// The float nearest to `num / den`, ties to even; infinite when too large, zero when too small.
pub(crate) fn nearest(num: &Natural, den: &Natural) -> f64 {
    const WHOLE: u128 = 1 << 53;
    if num.is_zero() {
        return 0.0;
    }
    if let (Some(n), Some(d)) = (num.to_u128(), den.to_u128())
        && n <= WHOLE
        && d <= WHOLE
    {
        // Both are exact floats and one division rounds once.
        return whole(n) / whole(d);
    }
    let shift = 66 - (num.bits() - den.bits());
    let by = u32::try_from(shift.unsigned_abs()).unwrap_or(u32::MAX);
    let (quotient, rest) = if shift >= 0 { num.shl(by).div_rem(den) } else { num.div_rem(&den.shl(by)) };
    let quotient = quotient.to_u128().unwrap_or(u128::MAX);
    let length = i64::from(128 - quotient.leading_zeros());
    let exponent = length - 1 - shift;
    if exponent > 1023 {
        return f64::INFINITY;
    }
    if exponent < -1080 {
        return 0.0;
    }
    // Below the normal range fewer bits are kept.
    let keep = 53.min(53 + 1022 + exponent);
    let drop = u32::try_from(length - keep).unwrap_or(0);
    let (mut kept, lost, half) = (quotient >> drop, quotient & ((1 << drop) - 1), 1 << (drop - 1));
    if lost > half || (lost == half && (!rest.is_zero() || kept & 1 == 1)) {
        kept += 1;
    }
    scaled(whole(kept), i64::from(drop) - shift)
}

/// A natural up to 2^53 as a float, exact.
fn whole(n: u128) -> f64 {
    u64::try_from(n).map_or(f64::NAN, |n| {
        #[expect(clippy::cast_precision_loss, reason = "callers pass at most 2^53")]
        let exact = n as f64;
        exact
    })
}

/// `x * 2^k` for a result that is exact, without leaving the range on the way.
fn scaled(mut x: f64, mut k: i64) -> f64 {
    while k != 0 {
        let step = k.clamp(-1000, 1000);
        x *= f64::from_bits(u64::try_from(step + 1023).unwrap_or(1023) << 52);
        k -= step;
    }
    x
}

/// The parts of a finite float: `mantissa * 2^exponent`.
pub(crate) fn parts(x: f64) -> (u128, i64) {
    let bits = x.to_bits();
    let (field, fraction) = ((bits >> 52) & 0x7ff, bits & ((1 << 52) - 1));
    let field = i64::try_from(field).unwrap_or(0);
    if field == 0 { (fraction.into(), -1074) } else { ((fraction | (1 << 52)).into(), field - 1075) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn big(n: u128) -> Natural {
        Natural::from_u128(n)
    }

    proptest! {
        #[test]
        fn division_undoes_multiplication(a in any::<u128>(), b in 1u128.., r in any::<u128>()) {
            let r = r % b;
            let (q, rest) = big(a).mul(&big(b)).add(&big(r)).div_rem(&big(b));
            prop_assert_eq!((q.to_u128(), rest.to_u128()), (Some(a), Some(r)));
        }

        #[test]
        fn agrees_with_machine_integers(a in any::<u64>(), b in any::<u64>(), s in 0u32..64) {
            prop_assert_eq!(big(a.into()).mul(&big(b.into())).to_u128(), Some(u128::from(a) * u128::from(b)));
            prop_assert_eq!(big(a.into()).shl(s).to_u128(), Some(u128::from(a) << s));
            prop_assert_eq!(big(a.max(b).into()).sub(&big(a.min(b).into())).to_u128(), Some(u128::from(a.abs_diff(b))));
            prop_assert_eq!(big(a.into()).cmp(&big(b.into())), a.cmp(&b));
        }

        /// The standard library rounds decimal text correctly: an independent oracle for the rounding here.
        #[test]
        fn rounds_as_the_standard_library_reads_text(digits in any::<u64>(), exponent in -345i32..310) {
            let expected: f64 = format!("{digits}e{exponent}").parse().unwrap();
            let ten = Fraction::ten_to(exponent);
            let found = nearest(&ten.num.mul(&big(digits.into())), &ten.den);
            prop_assert_eq!(found.to_bits(), expected.to_bits());
        }

        #[test]
        fn parts_rebuild_the_float(bits in any::<u64>()) {
            let x = f64::from_bits(bits & !(1 << 63));
            prop_assume!(x.is_finite());
            let (mantissa, exponent) = parts(x);
            prop_assert_eq!(scaled(whole(mantissa), exponent).to_bits(), x.to_bits());
        }

        /// The standard's square root is correctly rounded, and whole numbers this small are exact floats.
        #[test]
        fn roots_are_good_to_the_last_bit(n in 1u32.., d in 1u32..) {
            let (whole, part) = (Fraction::of(n.into(), 1), Fraction::of(n.into(), d.into()));
            prop_assert_eq!(whole.root(2).to_f64().to_bits(), f64::from(n).sqrt().to_bits());
            // Here the oracle rounds twice, so its last bit may differ.
            let near = (f64::from(n) / f64::from(d)).sqrt();
            prop_assert!(part.root(2).to_f64().to_bits().abs_diff(near.to_bits()) <= 1);
        }
    }

    #[test]
    fn perfect_roots_are_exact() {
        assert_eq!(Fraction::ten_to(9).root(3), Fraction::of(1000, 1));
        assert_eq!(Fraction::of(2, 1).root(2).to_f64(), 2f64.sqrt());
        assert_eq!(Fraction::of(1, 1000).pow(-2), Fraction::of(1_000_000, 1));
    }
}
