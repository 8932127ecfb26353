//! Powers.

use super::exponential::{P, ROUNDER, power_of_two, scale};

/// log2 of the breakpoint 1.5 in two parts.
const LOG2_BREAK_HIGH: f64 = 0.5849624872207642;
const LOG2_BREAK_LOW: f64 = 1.350039202129749e-08;

/// The coefficients of fdlibm's e_pow for (3/2) (ln((1 + s) / (1 - s)) - 2 s - 2/3 s^3).
const L: [f64; 6] =
    [0.5999999999999946, 0.4285714285785502, 0.33333332981837743, 0.272728123808534, 0.23066074577556175, 0.20697501780033842];

/// 2 / (3 ln 2), whole and in two parts.
const CP: f64 = 0.9617966939259756;
const CP_HIGH: f64 = 0.9617967009544373;
const CP_LOW: f64 = -7.028461650952758e-09;

/// ln 2, whole and in two parts.
const LN2: f64 = std::f64::consts::LN_2;
const LN2_HIGH: f64 = 0.6931471824645996;
const LN2_LOW: f64 = -1.904654299957768e-09;

/// Cuts the low word, so that products of two such numbers are exact or nearly so.
#[inline]
pub(super) fn cut(x: f64) -> f64 {
    f64::from_bits(x.to_bits() & 0xffff_ffff_0000_0000)
}

/// Gives `x` to the power `y`.
///
/// The exponents -1 and 0 to 4 are multiplied out (x^2 is x * x), 0.5 is the square root; the rest goes through log2 in two parts
/// and is within 1 ulp. A result that is a double is exact wherever the exponent is a whole number from -1 to 4.
/// NaN for a negative base with a fraction as exponent, and whenever one of the two is NaN (also for exponent 0 and base 1, where
/// IEEE 754 would give 1). Zero to the power 0 is 1.
pub fn pow(x: f64, y: f64) -> f64 {
    if x.is_nan() || y.is_nan() {
        return f64::NAN;
    }
    if let Some(product) = multiplied_out(x, y) {
        return product;
    }
    let size = x.abs();
    let whole = y.trunc() == y;
    let odd = whole && (y * 0.5).trunc() != y * 0.5;
    if x < 0.0 && x.is_finite() && !whole {
        return f64::NAN;
    }
    let magnitude = if size == 1.0 {
        1.0
    } else if size == 0.0 || size.is_infinite() || y.is_infinite() {
        if (size > 1.0) == (y > 0.0) { f64::INFINITY } else { 0.0 }
    } else if y == 0.5 {
        size.sqrt()
    } else {
        let (high, low) = log2(size);
        exp2_of_product(y, high, low)
    };
    if x.is_sign_negative() && odd { -magnitude } else { magnitude }
}

/// Multiplies small whole powers out; `None` where that does not apply.
#[inline]
fn multiplied_out(x: f64, y: f64) -> Option<f64> {
    if y == 2.0 {
        Some(x * x)
    } else if y == -1.0 {
        Some(1.0 / x)
    } else if y == 3.0 {
        Some(x * x * x)
    } else if y == 1.0 {
        Some(x)
    } else if y == 4.0 {
        Some((x * x) * (x * x))
    } else if y == 0.0 {
        Some(1.0)
    } else {
        None
    }
}

/// Gives log2 of a positive finite number other than 1 as a sum of two, the first with a cleared low word.
fn log2(x: f64) -> (f64, f64) {
    if x < f64::MIN_POSITIVE { log2_of_normal(x * 1.8014398509481984e+16, -54) } else { log2_of_normal(x, 0) }
}

/// As [`log2`], without branches, of 2^bias times a normal number.
#[inline(always)]
fn log2_of_normal(x: f64, bias: i32) -> (f64, f64) {
    let bits = x.to_bits();
    let n = (bits >> 52) as i32 - 1023 + bias;
    // the mantissa in 1 .. 2, then moved next to 1 or 1.5: at sqrt(1.5) and sqrt(3)
    let mantissa = f64::from_bits((bits & 0x000f_ffff_ffff_ffff) | 0x3ff0_0000_0000_0000);
    let halved = mantissa >= 1.732_050_807_568_877_2;
    let beside = (mantissa >= 1.224_744_871_391_589) & !halved;
    let mantissa = if halved { mantissa * 0.5 } else { mantissa };
    let n = f64::from(n) + if halved { 1.0 } else { 0.0 };
    let middle = if beside { 1.5 } else { 1.0 };
    let (middle_high, middle_low) = if beside { (LOG2_BREAK_HIGH, LOG2_BREAK_LOW) } else { (0.0, 0.0) };
    // s = (m - break) / (m + break) in two parts
    let difference = mantissa - middle;
    let inverse = 1.0 / (mantissa + middle);
    let s = difference * inverse;
    let s_high = cut(s);
    let sum_high = cut(mantissa + middle);
    let sum_low = mantissa - (sum_high - middle);
    let s_low = inverse * ((difference - s_high * sum_high) - s_high * sum_low);
    // (3/2) ln((1 + s) / (1 - s)) = s * (3 + s^2 + r), in two parts
    let z = s * s;
    let r = z * z * (L[0] + z * (L[1] + z * (L[2] + z * (L[3] + z * (L[4] + z * L[5])))));
    let r = r + s_low * (s_high + s);
    let z = s_high * s_high;
    let t_high = cut(3.0 + z + r);
    let t_low = r - ((t_high - 3.0) - z);
    let u = s_high * t_high;
    let v = s_low * t_high + t_low * s;
    let p_high = cut(u + v);
    let p_low = v - (p_high - u);
    // times 2 / (3 ln 2), plus log2 of the breakpoint, plus n
    let z_high = CP_HIGH * p_high;
    let z_low = CP_LOW * p_high + p_low * CP + middle_low;
    let high = cut(((z_high + z_low) + middle_high) + n);
    let low = z_low - (((high - n) - middle_high) - z_high);
    (high, low)
}

/// Gives 2 to the power y * (high + low).
fn exp2_of_product(y: f64, high: f64, low: f64) -> f64 {
    let Product { whole, fraction, size } = exp2_parts(y, high, low);
    if size > 1025.0 {
        f64::INFINITY
    } else if size < -1080.0 {
        0.0
    } else {
        scale(fraction, whole as i64)
    }
}

/// 2 to the power of a product as 2^whole times a number next to 1.
struct Product {
    whole: f64,
    fraction: f64,
    /// The product itself, rounded.
    size: f64,
}

/// Without branches; means something where the product is below 2000 in size.
#[inline(always)]
fn exp2_parts(y: f64, high: f64, low: f64) -> Product {
    let y_high = cut(y);
    let p_low = (y - y_high) * high + y * low;
    let p_high = y_high * high;
    let size = p_low + p_high;
    // the nearest whole number, half away from zero, which vectors have no instruction for
    let even = (size + ROUNDER) - ROUNDER;
    let (rest, up) = (size - even, size > 0.0);
    let whole = even + if (rest == 0.5) & up { 1.0 } else { 0.0 };
    let whole = whole - if (rest == -0.5) & !up { 1.0 } else { 0.0 };
    let p_high = p_high - whole;
    let t = cut(p_low + p_high);
    let u = t * LN2_HIGH;
    let v = (p_low - (t - p_high)) * LN2 + t * LN2_LOW;
    let z = u + v;
    let w = v - (z - u);
    let t = z * z;
    let c = z - t * (P[0] + t * (P[1] + t * (P[2] + t * (P[3] + t * P[4]))));
    let r = (z * c) / (c - 2.0) - (w + z * w);
    Product { whole, fraction: 1.0 - (r - z), size }
}

/// [`pow`] of each pair, the same bits.
///
/// All are worked out as ordinary ones are; those that are not (a base that is not a positive normal number, an exponent that is multiplied out or
/// not finite, a result that may not be normal) are worked out once more, one by one.
#[inline(always)]
pub(crate) fn pow_each<const N: usize>(base: &[f64; N], exponent: &[f64; N], to: &mut [f64; N]) {
    let mut others = [0_u64; N];
    for i in 0..N {
        let (x, y) = (base[i], exponent[i]);
        let (high, low) = log2_of_normal(x, 0);
        let Product { whole, fraction, size } = exp2_parts(y, high, low);
        let power = power_of_two((whole + ROUNDER).to_bits().wrapping_sub(ROUNDER.to_bits()) as i64);
        to[i] = fraction * power;
        let usual_base = (f64::MIN_POSITIVE..f64::INFINITY).contains(&x) & (x != 1.0);
        // -1, 0, 1, 2, 3, 4 are multiplied out, 0.5 is a root
        let multiplied = (y == 0.0) | (y.abs() == 1.0) | (y == 0.5) | (y == 2.0) | (y == 3.0) | (y == 4.0);
        let usual = usual_base & !multiplied & (size.abs() < 1020.0);
        others[i] = u64::from(!usual);
    }
    if others.iter().fold(0, |any, other| any | other) == 0 {
        return;
    }
    for i in 0..N {
        if others[i] != 0 {
            to[i] = pow(base[i], exponent[i]);
        }
    }
}

/// [`pow`] of each to one power, the same bits.
#[inline(always)]
pub(crate) fn pow_each_to<const N: usize>(base: &[f64; N], exponent: f64, to: &mut [f64; N]) {
    macro_rules! each {
        ($of:expr) => {
            for i in 0..N {
                to[i] = if base[i].is_nan() { f64::NAN } else { $of(base[i]) };
            }
        };
    }
    if exponent == 2.0 {
        each!(|x: f64| x * x);
    } else if exponent == -1.0 {
        each!(|x: f64| 1.0 / x);
    } else if exponent == 3.0 {
        each!(|x: f64| x * x * x);
    } else if exponent == 4.0 {
        each!(|x: f64| (x * x) * (x * x));
    } else if exponent == 0.5 && base.iter().fold(true, |all, x| all & (*x > 0.0)) {
        each!(f64::sqrt);
    } else {
        pow_each(base, &[exponent; N], to);
    }
}
