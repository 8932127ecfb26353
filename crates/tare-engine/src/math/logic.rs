//! Truth, choice, smaller and larger. NaN stays NaN unless a choice leaves it behind.

/// Gives 1 or 0 for the outcome of a comparison of `a` and `b`; NaN when one of them is NaN.
#[inline]
pub fn truth(outcome: bool, a: f64, b: f64) -> f64 {
    let value = if outcome { 1.0 } else { 0.0 };
    if a.is_nan() | b.is_nan() { f64::NAN } else { value }
}

/// Gives 1 for zero and 0 for any other number.
#[inline]
pub fn not(a: f64) -> f64 {
    truth(a == 0.0, a, a)
}

/// Gives 1 where both are true (not zero), 0 where one is false whatever the other is.
#[inline]
pub fn and(a: f64, b: f64) -> f64 {
    if (a == 0.0) | (b == 0.0) { 0.0 } else { truth(true, a, b) }
}

/// Gives 1 where one is true (not zero) whatever the other is, 0 where both are false.
#[inline]
pub fn or(a: f64, b: f64) -> f64 {
    let holds = |x: f64| (x != 0.0) & !x.is_nan();
    if holds(a) | holds(b) { 1.0 } else { truth(false, a, b) }
}

/// Gives `then` where the condition is true (not zero), `other` where it is false, NaN where it is NaN.
#[inline]
pub fn choose(condition: f64, then: f64, other: f64) -> f64 {
    let chosen = if condition != 0.0 { then } else { other };
    if condition.is_nan() { f64::NAN } else { chosen }
}

/// Gives the smaller; `a` where they are equal, NaN where one is NaN.
#[inline]
pub fn min(a: f64, b: f64) -> f64 {
    let smaller = if b < a { b } else { a };
    if b.is_nan() { b } else { smaller }
}

/// Gives the larger; `a` where they are equal, NaN where one is NaN.
#[inline]
pub fn max(a: f64, b: f64) -> f64 {
    let larger = if b > a { b } else { a };
    if b.is_nan() { b } else { larger }
}
