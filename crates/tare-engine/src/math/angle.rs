//! Sine, cosine, tangent and their inverses; angles in radians.

use super::power::cut;

const PI_2_HIGH: f64 = std::f64::consts::FRAC_PI_2;
const PI_2_LOW: f64 = 6.123233995736766e-17;
const PI_4_HIGH: f64 = std::f64::consts::FRAC_PI_4;
const PI_4_LOW: f64 = 3.061616997868383e-17;

const TWO_TO_MINUS_53: f64 = f64::EPSILON * 0.5;

/// The binary digits of 2 / pi (computed with whole numbers from Machin's formula), after 64 zeros.
const TWO_OVER_PI: [u64; 21] = [
    0x0000000000000000,
    0xa2f9836e4e441529,
    0xfc2757d1f534ddc0,
    0xdb6295993c439041,
    0xfe5163abdebbc561,
    0xb7246e3a424dd2e0,
    0x06492eea09d1921c,
    0xfe1deb1cb129a73e,
    0xe88235f52ebb4484,
    0xe99c7026b45f7e41,
    0x3991d639835339f4,
    0x9c845f8bbdf9283b,
    0x1ff897ffde05980f,
    0xef2f118b5a0a6d1f,
    0x6d367ecf27cb09b7,
    0x4f463f669e5fea2d,
    0x7527bac7ebe5f17b,
    0x3d0739f78a5292ea,
    0x6bfb5fb11f8d5d08,
    0x56033046fc7b6bab,
    0xf0cfbc209af4361d,
];

/// Splits a finite angle into a number of quarter turns (0 to 3) and a rest within an eighth, as a sum of two.
///
/// The method is that of M. H. Payne and R. N. Hanek (1983), in whole numbers: of the product of the 53-bit mantissa and 2 / pi only
/// the 192 bits below the multiples of four are computed, so every angle is reduced as exactly as a small one.
fn quarter_turns(x: f64) -> (u64, f64, f64) {
    if x.abs() <= PI_4_HIGH {
        return (0, x, 0.0);
    }
    let bits = x.abs().to_bits();
    let mantissa = u128::from((bits & 0x000f_ffff_ffff_ffff) | 0x0010_0000_0000_0000);
    // |x| = mantissa * 2^e; the window starts where a digit is worth 2 in the product; e >= -53, so start >= 9
    let e = (bits >> 52) as i64 - 1075;
    let start = (e - 2 + 64) as usize;
    let (limb, shift) = (start / 64, start % 64);
    let digits = |k: usize| {
        let pair = u128::from(TWO_OVER_PI[limb + k]) << 64 | u128::from(TWO_OVER_PI[limb + k + 1]);
        ((pair << shift) >> 64) & u128::from(u64::MAX)
    };
    // the product modulo 4, as two bits before and 190 after the point
    let low = mantissa * digits(2);
    let middle = mantissa * digits(1) + (low >> 64);
    let high = (mantissa * digits(0) + (middle >> 64)) as u64;
    let (middle, low) = (middle as u64, low as u64);
    let mut quarters = high >> 62;
    let mut fraction = u128::from(high << 2 | middle >> 62) << 64 | u128::from(middle << 2 | low >> 62);
    let mut sign = 1.0;
    if fraction >> 127 == 1 {
        quarters += 1;
        sign = -1.0;
        fraction = fraction.wrapping_neg();
    }
    // the fraction as two doubles of 53 bits each
    let zeros = fraction.leading_zeros();
    let fraction = fraction << zeros;
    let unit = sign * f64::from_bits(u64::from(1023 - zeros) << 52);
    let head = (fraction >> 75) as f64 * (unit * TWO_TO_MINUS_53);
    let tail = ((fraction >> 22) & 0x1f_ffff_ffff_ffff) as f64 * (unit * (TWO_TO_MINUS_53 * TWO_TO_MINUS_53));
    // times pi / 2
    let (product, error) = exact_product(head, PI_2_HIGH);
    let rest = error + (head * PI_2_LOW + tail * PI_2_HIGH);
    let y = product + rest;
    let y_low = (product - y) + rest;
    if x < 0.0 { (quarters.wrapping_neg() & 3, -y, -y_low) } else { (quarters & 3, y, y_low) }
}

/// Gives a product and its rounding error (T. J. Dekker, 1971).
fn exact_product(a: f64, b: f64) -> (f64, f64) {
    let split = |x: f64| {
        let c = 134217729.0 * x;
        let high = c - (c - x);
        (high, x - high)
    };
    let product = a * b;
    let ((a_high, a_low), (b_high, b_low)) = (split(a), split(b));
    (product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low)
}

const S: [f64; 6] = [
    -0.16666666666666632,
    0.00833333333332249,
    -0.0001984126982985795,
    2.7557313707070068e-06,
    -2.5050760253406863e-08,
    1.58969099521155e-10,
];

/// Sine of x + y within an eighth turn.
fn sin_near(x: f64, y: f64) -> f64 {
    // also keeps the sign of zero
    if x.abs() < 7.45e-9 {
        return x;
    }
    let z = x * x;
    let r = S[1] + z * (S[2] + z * (S[3] + z * (S[4] + z * S[5])));
    let v = z * x;
    x - ((z * (0.5 * y - v * r) - y) - v * S[0])
}

const C: [f64; 6] = [
    0.0416666666666666,
    -0.001388888888887411,
    2.480158728947673e-05,
    -2.7557314351390663e-07,
    2.087572321298175e-09,
    -1.1359647557788195e-11,
];

/// Cosine of x + y within an eighth turn.
fn cos_near(x: f64, y: f64) -> f64 {
    let z = x * x;
    let r = z * (C[0] + z * (C[1] + z * (C[2] + z * (C[3] + z * (C[4] + z * C[5])))));
    let half = 0.5 * z;
    let w = 1.0 - half;
    w + (((1.0 - w) - half) + (z * r - x * y))
}

const T: [f64; 13] = [
    0.3333333333333341,
    0.13333333333320124,
    0.05396825397622605,
    0.021869488294859542,
    0.0088632398235993,
    0.0035920791075913124,
    0.0014562094543252903,
    0.0005880412408202641,
    0.0002464631348184699,
    7.817944429395571e-05,
    7.140724913826082e-05,
    -1.8558637485527546e-05,
    2.590730518636337e-05,
];

/// Tangent of x + y within an eighth turn, or minus its inverse.
fn tan_near(x: f64, y: f64, inverse: bool) -> f64 {
    if x.abs() < 7.45e-9 && !inverse {
        return x;
    }
    let sign = if x < 0.0 { -1.0 } else { 1.0 };
    let near_eighth = x.abs() >= 0.67434;
    // near an eighth turn the tangent is taken of the distance to it
    let (x, y) = if near_eighth { ((PI_4_HIGH - sign * x) + (PI_4_LOW - sign * y), 0.0) } else { (x, y) };
    let z = x * x;
    let w = z * z;
    let odd = T[1] + w * (T[3] + w * (T[5] + w * (T[7] + w * (T[9] + w * T[11]))));
    let even = z * (T[2] + w * (T[4] + w * (T[6] + w * (T[8] + w * (T[10] + w * T[12])))));
    let s = z * x;
    let r = y + z * (s * (odd + even) + y) + T[0] * s;
    let w = x + r;
    if near_eighth {
        let one = if inverse { -1.0 } else { 1.0 };
        return sign * (one - 2.0 * (x - (w * w / (w + one) - r)));
    }
    if !inverse {
        return w;
    }
    // -1 / (x + r), with the rounding of the quotient made good
    let w_high = cut(w);
    let w_low = r - (w_high - x);
    let quotient = -1.0 / w;
    let q = cut(quotient);
    q + quotient * ((1.0 + q * w_high) + q * w_low)
}

/// Gives the sine of an angle in radians; NaN for an infinite one.
pub fn sin(x: f64) -> f64 {
    if !x.is_finite() {
        return f64::NAN;
    }
    let (quarters, y, y_low) = quarter_turns(x);
    match quarters {
        0 => sin_near(y, y_low),
        1 => cos_near(y, y_low),
        2 => -sin_near(y, y_low),
        _ => -cos_near(y, y_low),
    }
}

/// Gives the cosine of an angle in radians; NaN for an infinite one.
pub fn cos(x: f64) -> f64 {
    if !x.is_finite() {
        return f64::NAN;
    }
    let (quarters, y, y_low) = quarter_turns(x);
    match quarters {
        0 => cos_near(y, y_low),
        1 => -sin_near(y, y_low),
        2 => -cos_near(y, y_low),
        _ => sin_near(y, y_low),
    }
}

/// Gives the tangent of an angle in radians; NaN for an infinite one.
pub fn tan(x: f64) -> f64 {
    if !x.is_finite() {
        return f64::NAN;
    }
    let (quarters, y, y_low) = quarter_turns(x);
    tan_near(y, y_low, quarters & 1 == 1)
}

const ASIN_P: [f64; 6] = [
    0.16666666666666666,
    -0.3255658186224009,
    0.20121253213486293,
    -0.04005553450067941,
    0.0007915349942898145,
    3.479331075960212e-05,
];
const ASIN_Q: [f64; 4] = [-2.403394911734414, 2.0209457602335057, -0.6882839716054533, 0.07703815055590194];

/// (asin(s) - s) / s for z = s^2 up to a quarter.
fn asin_excess(z: f64) -> f64 {
    let p = z * (ASIN_P[0] + z * (ASIN_P[1] + z * (ASIN_P[2] + z * (ASIN_P[3] + z * (ASIN_P[4] + z * ASIN_P[5])))));
    let q = 1.0 + z * (ASIN_Q[0] + z * (ASIN_Q[1] + z * (ASIN_Q[2] + z * ASIN_Q[3])));
    p / q
}

/// Gives the arc sine in radians; NaN outside -1 to 1.
pub fn asin(x: f64) -> f64 {
    let size = x.abs();
    if size < 0.5 {
        return if size < 1.49e-8 { x } else { x + x * asin_excess(x * x) };
    }
    if size.is_nan() || size > 1.0 {
        return f64::NAN;
    }
    // asin(x) = pi/2 - 2 asin(sqrt((1 - x) / 2))
    let z = (1.0 - size) * 0.5;
    let s = z.sqrt();
    let excess = asin_excess(z);
    let angle = if size >= 0.975 {
        PI_2_HIGH - (2.0 * (s + s * excess) - PI_2_LOW)
    } else {
        let s_high = cut(s);
        let s_low = (z - s_high * s_high) / (s + s_high);
        let p = 2.0 * s * excess - (PI_2_LOW - 2.0 * s_low);
        let q = PI_4_HIGH - 2.0 * s_high;
        PI_4_HIGH - (p - q)
    };
    if x < 0.0 { -angle } else { angle }
}

/// Gives the arc cosine in radians; NaN outside -1 to 1.
pub fn acos(x: f64) -> f64 {
    if x.is_nan() || x.abs() > 1.0 {
        return f64::NAN;
    }
    if x.abs() < 0.5 {
        return PI_2_HIGH - (x - (PI_2_LOW - x * asin_excess(x * x)));
    }
    let z = (1.0 - x.abs()) * 0.5;
    let s = z.sqrt();
    let excess = asin_excess(z);
    if x < 0.0 {
        return 2.0 * (PI_2_HIGH - (s + (excess * s - PI_2_LOW)));
    }
    if s == 0.0 {
        return 0.0;
    }
    let s_high = cut(s);
    let s_low = (z - s_high * s_high) / (s + s_high);
    2.0 * (s_high + (excess * s + s_low))
}

/// atan of 0.5, 1, 1.5 and infinity, in two parts.
const ATAN_HIGH: [f64; 4] = [0.4636476090008061, PI_4_HIGH, 0.982793723247329, PI_2_HIGH];
const ATAN_LOW: [f64; 4] = [2.2698777452961687e-17, 3.061616997868383e-17, 1.3903311031230998e-17, 6.123233995736766e-17];
const AT: [f64; 11] = [
    0.3333333333333293,
    -0.19999999999876483,
    0.14285714272503466,
    -0.11111110405462356,
    0.09090887133436507,
    -0.0769187620504483,
    0.06661073137387531,
    -0.058335701337905735,
    0.049768779946159324,
    -0.036531572744216916,
    0.016285820115365782,
];

/// Gives the arc tangent in radians.
pub fn atan(x: f64) -> f64 {
    let size = x.abs();
    if x.is_nan() || size < 7.45e-9 {
        return x;
    }
    // atan(x) = atan(known) + atan((x - known) / (1 + x * known))
    let (known, t) = if size < 0.4375 {
        (None, size)
    } else if size < 0.6875 {
        (Some(0), (2.0 * size - 1.0) / (2.0 + size))
    } else if size < 1.1875 {
        (Some(1), (size - 1.0) / (size + 1.0))
    } else if size < 2.4375 {
        (Some(2), (size - 1.5) / (1.0 + 1.5 * size))
    } else {
        (Some(3), -1.0 / size)
    };
    let z = t * t;
    let w = z * z;
    let odd = z * (AT[0] + w * (AT[2] + w * (AT[4] + w * (AT[6] + w * (AT[8] + w * AT[10])))));
    let even = w * (AT[1] + w * (AT[3] + w * (AT[5] + w * (AT[7] + w * AT[9]))));
    let bend = t * (odd + even);
    let angle = match known {
        None => t - bend,
        Some(k) => ATAN_HIGH[k] - ((bend - ATAN_LOW[k]) - t),
    };
    if x < 0.0 { -angle } else { angle }
}
