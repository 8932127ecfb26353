//! Numbers and quantities for people to read; not for reading back.

use crate::Unit;

/// The thousands mark of screens: a narrow no-break space.
const MARK: char = '\u{202f}';

/// An SI value in a unit with so many significant digits: `12.5 mm`. NaN and infinities show as `n/a`.
pub fn show(si: f64, unit: &Unit, digits: usize) -> String {
    let x = unit.from_si(si);
    if !x.is_finite() {
        return "n/a".to_owned();
    }
    let number = show_number(x, digits);
    if unit.is_plain() { number } else { format!("{number} {}", unit.text) }
}

/// A number with so many significant digits (1 to 17), trailing zeros dropped; with an exponent below 1e-4 and from 1e9.
pub fn show_number(x: f64, digits: usize) -> String {
    if !x.is_finite() {
        return "n/a".to_owned();
    }
    let rounded = format!("{:.*e}", digits.clamp(1, 17) - 1, x);
    let (mantissa, exponent) = rounded.split_once('e').unwrap_or((&rounded, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    let (sign, mantissa) = mantissa.strip_prefix('-').map_or(("", mantissa), |m| ("-", m));
    let figures: String = mantissa.chars().filter(char::is_ascii_digit).collect();
    let figures = figures.trim_end_matches('0');
    if figures.is_empty() {
        return "0".to_owned();
    }
    let zeros = |n: i32| "0".repeat(usize::try_from(n).unwrap_or(0));
    let length = i32::try_from(figures.len()).unwrap_or(0);
    let body = if !(-4..9).contains(&exponent) {
        let (first, rest) = figures.split_at(1);
        format!("{first}{}{rest}e{exponent}", if rest.is_empty() { "" } else { "." })
    } else if exponent < 0 {
        format!("0.{}{figures}", zeros(-1 - exponent))
    } else if length <= exponent + 1 {
        format!("{figures}{}", zeros(exponent + 1 - length))
    } else {
        let (whole, part) = figures.split_at(usize::try_from(exponent + 1).unwrap_or(0));
        format!("{whole}.{part}")
    };
    format!("{sign}{body}")
}

/// A number with so many decimals and its thousands set apart by U+202F, for screens: `1 234.5`.
///
/// NaN and infinities show as `n/a`; from 1e15 an exponent takes the place of marks. Value text does not take the marks back.
pub fn group(x: f64, decimals: usize) -> String {
    if !x.is_finite() {
        return "n/a".to_owned();
    }
    if x.abs() >= 1e15 {
        return show_number(x, 6);
    }
    let plain = format!("{:.*}", decimals.min(17), x);
    let (sign, plain) = plain.strip_prefix('-').map_or(("", plain.as_str()), |p| ("-", p));
    let sign = if plain.chars().any(|c| matches!(c, '1'..='9')) { sign } else { "" };
    let (whole, part) = plain.split_once('.').map_or((plain, None), |(whole, part)| (whole, Some(part)));
    let mut out = String::from(sign);
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            out.push(MARK);
        }
        out.push(digit);
    }
    if let Some(part) = part {
        out.push('.');
        out.push_str(part);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn shows_significant_digits_without_noise() {
        for (x, digits, text) in [
            (12.5, 3, "12.5"),
            (0.1 + 0.2, 6, "0.3"),
            (12345.0, 3, "12300"),
            (0.000123456, 3, "0.000123"),
            (0.0000123, 3, "1.23e-5"),
            (1.5e9, 3, "1.5e9"),
            (-0.0, 3, "0"),
            (-2.0, 0, "-2"),
            (9.996, 3, "10"),
            (f64::NAN, 3, "n/a"),
        ] {
            assert_eq!(show_number(x, digits), text);
        }
        let unit = |text: &str| Unit::parse(text).unwrap();
        assert_eq!(show(296.15, &unit("degC"), 4), "23 degC");
        assert_eq!(show(0.95, &unit("%"), 3), "95 %");
        assert_eq!(show(3.0, &unit("1"), 3), "3");
        assert_eq!(show(f64::INFINITY, &unit("mm"), 3), "n/a");
        assert_eq!(show(f64::MAX, &unit("mm"), 3), "n/a");
    }

    #[test]
    fn sets_thousands_apart() {
        for (x, decimals, text) in [
            (1234.5, 1, "1\u{202f}234.5"),
            (-1_234_567.0, 0, "-1\u{202f}234\u{202f}567"),
            (999.999, 2, "1\u{202f}000.00"),
            (12.0, 2, "12.00"),
            (-0.001, 1, "0.0"),
            (2e15, 0, "2e15"),
            (f64::NEG_INFINITY, 2, "n/a"),
        ] {
            assert_eq!(group(x, decimals), text);
        }
    }

    proptest! {
        #[test]
        fn never_panics(bits in any::<u64>(), digits in 0usize..40) {
            let x = f64::from_bits(bits);
            let unit = Unit::parse("psi").unwrap();
            prop_assert!(!show(x, &unit, digits).is_empty() && !group(x, digits).is_empty());
        }

        #[test]
        fn shown_numbers_are_near(x in -1e12f64..1e12) {
            let back: f64 = show_number(x, 6).parse().unwrap();
            prop_assert!((back - x).abs() <= x.abs() * 5.001e-6);
        }
    }
}
