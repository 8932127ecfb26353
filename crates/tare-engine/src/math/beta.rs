//! The beta distribution: density, cumulative share, quantile.

use super::{exp, ln};

/// The most steps of the continued fraction; it needs about the square root of the larger shape.
const MOST_TERMS: u32 = 20_000;

/// ln(1 + u) - u without cancellation, for u > -1.
fn ln_less_line(u: f64) -> f64 {
    if u.abs() > 0.5 {
        return ln(1.0 + u) - u;
    }
    // ln(1 + u) = 2 atanh(s) with s = u / (2 + u), and 2 s - u = -s u
    let s = u / (2.0 + u);
    let z = s * s;
    let mut sum = 0.0;
    for k in (1..=17).rev() {
        sum = sum * z + 1.0 / f64::from(2 * k + 1);
    }
    s * (2.0 * z * sum - u)
}

/// ln gamma(a) - ((a - 1/2) ln a - a + ln(2 pi) / 2), the remainder of Stirling's formula.
fn stirling_rest(a: f64) -> f64 {
    let mut rest = 0.0;
    let mut a = a;
    // the recurrence lifts small arguments to where the series is exact to the last bit
    while a < 12.0 {
        rest += if a < 0.5 { (a + 0.5) * (ln(a + 1.0) - ln(a)) - 1.0 } else { lift(a) };
        a += 1.0;
    }
    let inverse = 1.0 / a;
    let z = inverse * inverse;
    let series = 1.0 / 12.0
        + z * (-1.0 / 360.0
            + z * (1.0 / 1260.0 + z * (-1.0 / 1680.0 + z * (1.0 / 1188.0 + z * (-691.0 / 360360.0 + z * (1.0 / 156.0))))));
    rest + inverse * series
}

/// (a + 1/2) ln(1 + 1/a) - 1, from the series of atanh(1 / (2 a + 1)).
fn lift(a: f64) -> f64 {
    let s = 1.0 / (2.0 * a + 1.0);
    let z = s * s;
    let mut sum = 0.0;
    for k in (1..=26).rev() {
        sum = sum * z + 1.0 / f64::from(2 * k + 1);
    }
    z * sum
}

/// ln of x^a y^b / B(a, b), with x + y = 1.
fn ln_weight(x: f64, y: f64, a: f64, b: f64) -> f64 {
    let n = a + b;
    let (x0, y0) = (a / n, b / n);
    // a ln(x / x0) + b ln(y / y0); the linear terms of the two cancel and are left out
    let difference = if x < y { x - x0 } else { y0 - y };
    let (u, v) = (difference / x0, -difference / y0);
    let main = if u.abs() < 0.5 && v.abs() < 0.5 {
        a * ln_less_line(u) + b * ln_less_line(v)
    } else {
        a * (ln(x) - ln(x0)) + b * (ln(y) - ln(y0))
    };
    let scale = 0.5 * ln(a * y0 / std::f64::consts::TAU);
    main + scale + (stirling_rest(n) - stirling_rest(a) - stirling_rest(b))
}

/// The continued fraction of the incomplete beta function (NIST Digital Library of Mathematical Functions, 8.17.22), by
/// the modified Lentz method; NaN when it does not settle.
fn fraction(x: f64, a: f64, b: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / away(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for step in 1..=MOST_TERMS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away(1.0 + even * d);
        c = away(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away(1.0 + odd * d);
        c = away(1.0 + odd / c);
        let change = d * c;
        value *= change;
        if (change - 1.0).abs() <= 2.0 * f64::EPSILON {
            return value;
        }
    }
    f64::NAN
}

/// The shares below and above x, with y = 1 - x given for its own accuracy, and the density times x y.
fn shares(x: f64, y: f64, a: f64, b: f64) -> (f64, f64, f64) {
    let weight = exp(ln_weight(x, y, a, b));
    if x <= (a + 1.0) / (a + b + 2.0) {
        let lower = weight / a * fraction(x, a, b);
        (lower, 1.0 - lower, weight)
    } else {
        let upper = weight / b * fraction(y, b, a);
        (1.0 - upper, upper, weight)
    }
}

fn shapes_are_fit(a: f64, b: f64) -> bool {
    a >= 1e-100 && b >= 1e-100 && a < 1e100 && b < 1e100
}

/// Gives the share of the beta distribution with shapes `a` and `b` that lies below `x`: the regularised incomplete beta function.
///
/// NaN for shapes that are not positive (or outside 1e-100 to 1e100), and where the continued fraction does not settle within its
/// bound of steps (not met for equal shapes up to 1e10).
pub fn beta_cdf(x: f64, a: f64, b: f64) -> f64 {
    if x.is_nan() || !shapes_are_fit(a, b) {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    shares(x, 1.0 - x, a, b).0
}

/// Gives the density of the beta distribution with shapes `a` and `b` at `x` (0 outside 0 to 1 and, for shapes above 1, at the ends).
pub fn beta_pdf(x: f64, a: f64, b: f64) -> f64 {
    if x.is_nan() || !shapes_are_fit(a, b) {
        return f64::NAN;
    }
    let at_end = |shape: f64, other: f64| {
        if shape > 1.0 {
            0.0
        } else if shape == 1.0 {
            other
        } else {
            f64::INFINITY
        }
    };
    if x == 0.0 {
        at_end(a, b)
    } else if x == 1.0 {
        at_end(b, a)
    } else if !(0.0..=1.0).contains(&x) {
        0.0
    } else {
        exp(ln_weight(x, 1.0 - x, a, b)) / (x * (1.0 - x))
    }
}

/// Gives the quantile of the beta distribution: the x below which the share `p` lies.
///
/// NaN for a share outside 0 to 1 and for shapes as in [`beta_cdf`]. Relative error seen against arbitrary precision, on 1,500 random
/// cases with shapes from 0.1 to 9,000 and shares down to 1e-13: at most 1.3e-12, half of them below 2e-16. Towards smaller shapes
/// it grows with 1 / shape, because the quantile itself is that sensitive to the share.
pub fn beta_inv(p: f64, a: f64, b: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || !shapes_are_fit(a, b) {
        return f64::NAN;
    }
    if p == 0.0 || p == 1.0 {
        return p;
    }
    // solve for the distance to the nearer end, so that neither end costs accuracy
    let (half, _, _) = shares(0.5, 0.5, a, b);
    if half.is_nan() {
        f64::NAN
    } else if p <= half {
        distance(p, 1.0 - p, a, b)
    } else {
        1.0 - distance(1.0 - p, p, b, a)
    }
}

/// Finds z in 0 .. 1/2 with the share `below` below it and `above` above it: Newton's method in ln z on the logarithm of the smaller
/// share, kept inside a shrinking bracket.
fn distance(below: f64, above: f64, a: f64, b: f64) -> f64 {
    // near 0 the share is z^a / (a B(a, b)); the weight at 1/2 gives B without another formula
    let ln_inverse_beta = ln_weight(0.5, 0.5, a, b) + (a + b) * std::f64::consts::LN_2;
    let ln_start = (ln(below) + ln(a) - ln_inverse_beta) / a;
    if ln_start < -745.0 {
        return 0.0;
    }
    let (mut low, mut high) = (f64::MIN_POSITIVE * f64::EPSILON, 0.5);
    let mut z = exp(ln_start).clamp(low, high);
    for _ in 0..200 {
        let (lower, upper, weight) = shares(z, 1.0 - z, a, b);
        if lower.is_nan() {
            return f64::NAN;
        }
        let excess = if below <= above { lower - below } else { above - upper };
        if excess == 0.0 {
            return z;
        }
        if excess > 0.0 {
            high = z
        } else {
            low = z
        }
        // d lower / d ln z = density * z = weight / (1 - z)
        let slope = weight / (1.0 - z);
        let step = if below <= above { ln(lower / below) * lower / slope } else { ln(above / upper) * upper / slope };
        let newton = z * exp(-step);
        let inside = newton >= low && newton <= high;
        let next = if inside { newton } else { low.sqrt() * high.sqrt() };
        let settled = (next - z).abs() <= f64::EPSILON * z || high - low <= f64::EPSILON * low;
        z = next;
        if settled && (inside || high - low <= f64::EPSILON * low) {
            return z;
        }
    }
    z
}
