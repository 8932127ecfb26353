//! The normal distribution.

use super::{exp, ln};

const A: [f64; 8] = [
    3.3871328727963665,
    133.14166789178438,
    1971.5909503065513,
    13731.69376550946,
    45921.95393154987,
    67265.7709270087,
    33430.57558358813,
    2509.0809287301227,
];
const B: [f64; 8] = [
    1.0,
    42.31333070160091,
    687.1870074920579,
    5394.196021424751,
    21213.794301586597,
    39307.89580009271,
    28729.085735721943,
    5226.495278852854,
];
const C: [f64; 8] = [
    1.4234371107496835,
    4.630337846156546,
    5.769497221460691,
    3.6478483247632045,
    1.2704582524523684,
    0.2417807251774506,
    0.022723844989269184,
    0.0007745450142783414,
];
const D: [f64; 8] = [
    1.0,
    2.053191626637759,
    1.6763848301838038,
    0.6897673349851,
    0.14810397642748008,
    0.015198666563616457,
    0.0005475938084995345,
    1.0507500716444169e-09,
];
const E: [f64; 8] = [
    6.657904643501103,
    5.463784911164114,
    1.7848265399172913,
    0.29656057182850487,
    0.026532189526576124,
    0.0012426609473880784,
    2.7115555687434876e-05,
    2.0103343992922881e-07,
];
const F: [f64; 8] = [
    1.0,
    0.599832206555888,
    0.1369298809227358,
    0.014875361290850615,
    0.0007868691311456133,
    1.8463183175100548e-05,
    1.421511758316446e-07,
    2.0442631033899397e-15,
];

#[inline(always)]
fn polynomial(x: f64, coefficients: &[f64; 8]) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Gives the quantile of the standard normal distribution: the z below which the share `p` lies (AS 241, PPND16).
///
/// Minus infinity at 0, infinity at 1, NaN outside. All three ranges are computed and one is chosen, so that no branch depends on a draw.
// always: only inside the loops of the batch evaluator may it use the vector instructions that were found
#[inline(always)]
pub fn normal_inv(p: f64) -> f64 {
    let outer = tail_share(p);
    let r = (-ln(outer)).sqrt();
    let far = polynomial(r - 5.0, &E) / polynomial(r - 5.0, &F);
    let tail = if r <= 5.0 { near_tail(r) } else { far };
    // far / far overflows to NaN at r = infinity
    let tail = if outer == 0.0 { f64::INFINITY } else { tail };
    chosen(p, tail)
}

/// The quantiles of many shares in place, the same bits as [`normal_inv`]: the far tails are computed only where a share lies there.
#[inline(always)]
pub(crate) fn normal_inv_all(shares: &mut [f64]) {
    /// Shares below this are left to [`normal_inv`]; e^-25 = 1.39e-11 is where the far tail begins.
    const RARE: f64 = 1.4e-11;
    // a number of flags, not a branch: the loop stays a vector loop
    let mut rare = 0;
    for p in shares.iter() {
        let common = tail_share(*p) > RARE;
        rare += u64::from(!common);
    }
    if rare > 0 {
        for p in shares.iter_mut() {
            *p = normal_inv(*p);
        }
        return;
    }
    for p in shares.iter_mut() {
        let r = (-ln(tail_share(*p))).sqrt();
        *p = chosen(*p, near_tail(r));
    }
}

/// The smaller of the shares on both sides.
#[inline(always)]
fn tail_share(p: f64) -> f64 {
    if p - 0.5 < 0.0 { p } else { 1.0 - p }
}

#[inline(always)]
fn near_tail(r: f64) -> f64 {
    polynomial(r - 1.6, &C) / polynomial(r - 1.6, &D)
}

/// The middle or the given tail, by where the share lies.
#[inline(always)]
fn chosen(p: f64, tail: f64) -> f64 {
    let q = p - 0.5;
    let centre = 0.180625 - q * q;
    let middle = q * polynomial(centre, &A) / polynomial(centre, &B);
    let tail = if q < 0.0 { -tail } else { tail };
    let value = if q.abs() <= 0.425 { middle } else { tail };
    if (0.0..=1.0).contains(&p) { value } else { f64::NAN }
}

/// Gives the density of the standard normal distribution.
pub fn normal_pdf(z: f64) -> f64 {
    /// 1 / sqrt(2 pi)
    const TOP: f64 = 0.3989422804014327;
    TOP * exp(-0.5 * z * z)
}

/// Gives the share of the standard normal distribution below `z`.
///
/// Within three deviations by G. Marsaglia's series (Evaluating the normal distribution, Journal of Statistical Software 11 (4), 2004),
/// beyond by the continued fraction of Laplace (Abramowitz and Stegun, 26.2.14; from memory), so that far tails keep their digits.
pub fn normal_cdf(z: f64) -> f64 {
    if z.is_nan() {
        return z;
    }
    if z.abs() <= 3.0 {
        // z + z^3 / 3 + z^5 / (3 * 5) + ...
        let (mut term, mut sum, mut k) = (z, z, 1.0);
        while sum + term != sum {
            k += 2.0;
            term *= z * z / k;
            sum += term;
        }
        return 0.5 + sum * normal_pdf(z);
    }
    let size = z.abs();
    // 1 / (z + 1 / (z + 2 / (z + 3 / ...))), from the inside out; 120 steps are many more than three deviations need
    let fraction = (1..=120).rev().fold(size, |inner, k| size + f64::from(k) / inner);
    let tail = if size.is_infinite() { 0.0 } else { normal_pdf(size) / fraction };
    if z < 0.0 { tail } else { 1.0 - tail }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_quantiles_have_the_bits_of_each() {
        let common: Vec<f64> = (1..1000).map(|k| f64::from(k) / 1000.0).chain([1.5e-11, 0.075, 0.925, 1.0 - 1.5e-11]).collect();
        for extra in [0.5, 1e-11, 1.38e-11, 1e-300, 0.0, 1.0, 1.0 - 1e-12, -0.1, 1.1, f64::NAN] {
            let mut all = common.clone();
            all.push(extra);
            let each: Vec<u64> = all.iter().map(|p| normal_inv(*p).to_bits()).collect();
            normal_inv_all(&mut all);
            assert_eq!(all.iter().map(|z| z.to_bits()).collect::<Vec<_>>(), each, "with {extra}");
        }
    }
}
