//! Whole numbers: snapping floor and ceiling, rounding, indices.

/// How near to a whole number a value counts as that number: relative to the value where it is above 1 in size.
const NEAR: f64 = 1e-9;

/// Gives the largest whole number not above `x`, after snapping to a whole number within 1e-9 (relative above 1).
///
/// So a quotient that should be 3 and came out as 2.9999999999999996 does not lose a whole piece to rounding. Beyond
/// 5e8 every number is within the snap, and floor and ceiling are the nearest whole number.
#[inline]
pub fn floor(x: f64) -> f64 {
    let nearest = x.round();
    if (x - nearest).abs() <= NEAR * x.abs().max(1.0) { nearest } else { x.floor() }
}

/// Gives the smallest whole number not below `x`, after snapping to a whole number within 1e-9 (relative above 1).
#[inline]
pub fn ceil(x: f64) -> f64 {
    let nearest = x.round();
    if (x - nearest).abs() <= NEAR * x.abs().max(1.0) { nearest } else { x.ceil() }
}

/// Gives the nearest whole number, half away from zero.
#[inline]
pub fn round(x: f64) -> f64 {
    x.round()
}

/// Reads a value as an index below `count`; `None` when it is not a whole number (within 1e-9) or out of range.
#[inline]
pub fn whole_index(x: f64, count: usize) -> Option<usize> {
    let nearest = x.round();
    let whole = (x - nearest).abs() <= NEAR * x.abs().max(1.0);
    (whole && nearest >= 0.0 && nearest < count as f64).then_some(nearest as usize)
}
