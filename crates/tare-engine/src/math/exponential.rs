//! Exponential and logarithms.

use std::f64::consts::LOG2_E;

/// The high part of ln 2: its last 32 bits are zero, so that a whole multiple up to 2^20 is exact.
const LN2_HIGH: f64 = 0.6931471803691238;
/// ln 2 less its high part.
const LN2_LOW: f64 = 1.9082149292705877e-10;
/// Adding and taking away 1.5 * 2^52 rounds a small number to a whole one and leaves it in the low bits.
pub(super) const ROUNDER: f64 = 6755399441055744.0;

/// The rational approximation of fdlibm's e_exp: r * (exp(r) + 1) / (exp(r) - 1) = 2 + P1 r^2 + P2 r^4 + ...
pub(super) const P: [f64; 5] =
    [0.16666666666666602, -0.0027777777777015593, 6.613756321437934e-05, -1.6533902205465252e-06, 4.1381367970572385e-08];

/// Gives 2^k times `x` for k from -1100 to 1100, rounded once.
#[inline]
pub(super) fn scale(x: f64, k: i64) -> f64 {
    // two steps, because 2^k alone may be outside the range of doubles; the first is exact
    let half = k >> 1;
    x * power_of_two(half) * power_of_two(k.wrapping_sub(half))
}

#[inline(always)]
pub(super) fn power_of_two(k: i64) -> f64 {
    f64::from_bits((k.wrapping_add(1023) as u64) << 52)
}

/// e^x = 2^k y with y next to 1; NaN stays NaN.
#[inline(always)]
fn split(x: f64) -> (f64, i64) {
    // x = k ln 2 + r with |r| <= ln 2 / 2
    let shifted = x * LOG2_E + ROUNDER;
    let k = (shifted.to_bits() as i64).wrapping_sub(ROUNDER.to_bits() as i64);
    let whole = shifted - ROUNDER;
    let high = x - whole * LN2_HIGH;
    let low = whole * LN2_LOW;
    let r = high - low;
    let t = r * r;
    let c = r - t * (P[0] + t * (P[1] + t * (P[2] + t * (P[3] + t * P[4]))));
    (1.0 - ((low - (r * c) / (2.0 - c)) - high), k)
}

/// Gives e to the power `x`.
#[inline]
pub fn exp(x: f64) -> f64 {
    // beyond these the result is infinite or rounds to zero anyway; NaN passes both comparisons
    let x = if x > 710.0 { 710.0 } else { x };
    let x = if x < -746.0 { -746.0 } else { x };
    let (y, k) = split(x);
    scale(y, k)
}

/// [`exp`] of each, the same bits: worked out as though all were ordinary, with nothing that only others need, and anew where one is not.
#[inline(always)]
pub(crate) fn exp_each(from: &[f64], to: &mut [f64]) {
    let mut ordinary = true;
    for (to, x) in to.iter_mut().zip(from) {
        // far from where results stop to be ordinary one step scales as two do
        ordinary &= x.abs() < 700.0;
        let (y, k) = split(*x);
        *to = y * power_of_two(k);
    }
    if !ordinary {
        for (to, x) in to.iter_mut().zip(from) {
            *to = exp(*x);
        }
    }
}

/// The coefficients of fdlibm's e_log: ln((1 + s) / (1 - s)) = 2 s + s * (LG1 s^2 + LG2 s^4 + ...).
const LG: [f64; 7] = [
    0.6666666666666735,
    0.3999999999940942,
    0.2857142874366239,
    0.22222198432149784,
    0.1818357216161805,
    0.15313837699209373,
    0.14798198605116586,
];

/// The bits of sqrt(1/2), cut to the high word: mantissas run from here to twice it.
const ROOT_HALF: u64 = 0x3fe6_a09e_0000_0000;

/// Holds x = 2^k (1 + f) and ln(1 + f) = f - half_square + s (half_square + rest).
struct Parts {
    k: f64,
    f: f64,
    half_square: f64,
    tail: f64,
}

#[inline(always)]
fn parts(x: f64) -> Parts {
    // subnormals are lifted by 2^54 first
    let small = x < f64::MIN_POSITIVE;
    let x = if small { x * 1.8014398509481984e+16 } else { x };
    parts_of_normal(x, if small { -54 } else { 0 })
}

#[inline(always)]
fn parts_of_normal(x: f64, bias: i32) -> Parts {
    let bits = x.to_bits().wrapping_sub(ROOT_HALF);
    let k = ((bits as i64) >> 52) as i32 + bias;
    let mantissa = f64::from_bits((bits & 0x000f_ffff_ffff_ffff).wrapping_add(ROOT_HALF));
    let f = mantissa - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    let w = z * z;
    let even = w * (LG[1] + w * (LG[3] + w * LG[5]));
    let odd = z * (LG[0] + w * (LG[2] + w * (LG[4] + w * LG[6])));
    let half_square = 0.5 * f * f;
    Parts { k: f64::from(k), f, half_square, tail: s * (half_square + (even + odd)) }
}

/// Puts the values at zero, below zero, at infinity and at NaN in place of what the parts made of them.
#[inline(always)]
fn at_the_ends(x: f64, inside: f64) -> f64 {
    let value = if x == 0.0 { f64::NEG_INFINITY } else { inside };
    let value = if x < 0.0 { f64::NAN } else { value };
    if x < f64::INFINITY || x.is_nan() { if x.is_nan() { x } else { value } } else { x }
}

/// Gives the natural logarithm: minus infinity at zero, NaN below.
// always, as `normal_inv` rests on it
#[inline(always)]
pub fn ln(x: f64) -> f64 {
    at_the_ends(x, ln_of(parts(x)))
}

#[inline(always)]
fn ln_of(Parts { k, f, half_square, tail }: Parts) -> f64 {
    tail + k * LN2_LOW - half_square + f + k * LN2_HIGH
}

/// [`ln`] of each, the same bits: worked out as though all were ordinary, with nothing that only others need, and anew where one is not.
#[inline(always)]
pub(crate) fn ln_each(from: &[f64], to: &mut [f64]) {
    let mut ordinary = true;
    for (to, x) in to.iter_mut().zip(from) {
        ordinary &= (*x >= f64::MIN_POSITIVE) & (*x < f64::INFINITY);
        *to = ln_of(parts_of_normal(*x, 0));
    }
    if !ordinary {
        for (to, x) in to.iter_mut().zip(from) {
            *to = ln(*x);
        }
    }
}

const LOG10_E_HIGH: f64 = 0.4342944818781689;
const LOG10_E_LOW: f64 = 2.5082946711645275e-11;
const LOG10_2_HIGH: f64 = 0.30102999566361177;
const LOG10_2_LOW: f64 = 3.694239077158931e-13;

/// Gives the logarithm to base ten: minus infinity at zero, NaN below.
#[inline]
pub fn log10(x: f64) -> f64 {
    let Parts { k, f, half_square, tail } = parts(x);
    // ln(1 + f) in two parts, the high one with its low word cleared, so that products with the high constants are exact
    let high = f64::from_bits((f - half_square).to_bits() & 0xffff_ffff_0000_0000);
    let low = (f - high) - half_square + tail;
    let main = high * LOG10_E_HIGH;
    let shift = k * LOG10_2_HIGH;
    let rest = k * LOG10_2_LOW + (low + high) * LOG10_E_LOW + low * LOG10_E_HIGH;
    let sum = shift + main;
    at_the_ends(x, rest + ((shift - sum) + main) + sum)
}
