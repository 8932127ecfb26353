//! Powers.

use super::exponential::{P, scale};

/// The breakpoints 1 and 1.5 and log2 of the second one in two parts.
const BREAK: [f64; 2] = [1.0, 1.5];
const LOG2_BREAK_HIGH: [f64; 2] = [0.0, 0.5849624872207642];
const LOG2_BREAK_LOW: [f64; 2] = [0.0, 1.350039202129749e-08];

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
    let small = x < f64::MIN_POSITIVE;
    let x = if small { x * 1.8014398509481984e+16 } else { x };
    let bits = x.to_bits();
    let mut n = (bits >> 52) as i32 - 1023 - if small { 54 } else { 0 };
    // the mantissa in 1 .. 2, then moved next to 1 or 1.5
    let mut mantissa = f64::from_bits((bits & 0x000f_ffff_ffff_ffff) | 0x3ff0_0000_0000_0000);
    let mut k = 0;
    if mantissa >= 1.732_050_807_568_877_2 {
        mantissa *= 0.5;
        n += 1;
    } else if mantissa >= 1.224_744_871_391_589 {
        k = 1;
    }
    // s = (m - break) / (m + break) in two parts
    let difference = mantissa - BREAK[k];
    let inverse = 1.0 / (mantissa + BREAK[k]);
    let s = difference * inverse;
    let s_high = cut(s);
    let sum_high = cut(mantissa + BREAK[k]);
    let sum_low = mantissa - (sum_high - BREAK[k]);
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
    let z_low = CP_LOW * p_high + p_low * CP + LOG2_BREAK_LOW[k];
    let n = f64::from(n);
    let high = cut(((z_high + z_low) + LOG2_BREAK_HIGH[k]) + n);
    let low = z_low - (((high - n) - LOG2_BREAK_HIGH[k]) - z_high);
    (high, low)
}

/// Gives 2 to the power y * (high + low).
fn exp2_of_product(y: f64, high: f64, low: f64) -> f64 {
    let y_high = cut(y);
    let p_low = (y - y_high) * high + y * low;
    let p_high = y_high * high;
    let z = p_low + p_high;
    if z > 1025.0 {
        return f64::INFINITY;
    }
    if z < -1080.0 {
        return 0.0;
    }
    let whole = z.round();
    let p_high = p_high - whole;
    let t = cut(p_low + p_high);
    let u = t * LN2_HIGH;
    let v = (p_low - (t - p_high)) * LN2 + t * LN2_LOW;
    let z = u + v;
    let w = v - (z - u);
    let t = z * z;
    let c = z - t * (P[0] + t * (P[1] + t * (P[2] + t * (P[3] + t * P[4]))));
    let r = (z * c) / (c - 2.0) - (w + z * w);
    scale(1.0 - (r - z), whole as i64)
}
