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

/// As [`whole_index`] without branches, for loops over draws: the index as a number, -1 where there is none.
#[inline(always)]
pub(crate) fn whole_place(x: f64, count: usize) -> f64 {
    /// 1.5 * 2^52: adding it and taking it away again rounds what is small to a whole number.
    const ROUNDS: f64 = 6_755_399_441_055_744.0;
    let nearest = (x + ROUNDS) - ROUNDS;
    let size = x.abs();
    let whole = (x - nearest).abs() <= NEAR * if size > 1.0 { size } else { 1.0 };
    // an index is far below 2^51, up to which rounding by adding is exact
    if whole & (nearest >= 0.0) & (nearest < count as f64) & (size < 2_251_799_813_685_248.0) { nearest } else { -1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_of_reading_an_index_agree() {
        let near = [
            0.0,
            -0.0,
            1.0,
            1.0 + 5e-10,
            1.0 - 5e-10,
            1.0 + 2e-9,
            0.5,
            1.5,
            2.5,
            -1e-10,
            -1.0,
            6.999_999_999_5,
            7.0,
            1e300,
            f64::NAN,
            f64::INFINITY,
        ];
        for x in near {
            for count in [0, 1, 7, 8, 1 << 20] {
                let place = whole_place(x, count);
                assert_eq!(whole_index(x, count), (place >= 0.0).then_some(place as usize), "{x} of {count}");
            }
        }
    }
}
