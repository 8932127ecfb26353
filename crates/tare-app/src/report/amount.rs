//! Numbers as a report prints them: digits in groups, cents only where they say something, one unit for one kind of size.

use tare_units::{Dim, Unit, show, show_number};

/// What stands between groups of three digits: a thin space at which no line breaks.
const THIN: char = '\u{202f}';
/// From this amount on, cents are left out.
const NO_CENTS: f64 = 1e3;

/// Groups the digits of every number in a text that has five or more before its decimal point.
pub(super) fn grouped(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 4);
    let mut rest = text;
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, from) = rest.split_at(at);
        let end = from.find(|c: char| !c.is_ascii_digit()).unwrap_or(from.len());
        let (digits, after) = from.split_at(end);
        out.push_str(before);
        // digits behind a point are decimals, behind a letter a name
        let whole = !out.ends_with(|c: char| c == '.' || c.is_alphanumeric());
        for (i, digit) in digits.chars().enumerate() {
            if whole && digits.len() > 4 && i > 0 && (digits.len() - i).is_multiple_of(3) {
                out.push(THIN);
            }
            out.push(digit);
        }
        rest = after;
    }
    out.push_str(rest);
    out
}

/// The unit a size is printed in: masses in g below 1 kg and in kg above it, everything else as it stands.
fn unit_for(largest: f64, unit: &Unit) -> Unit {
    let text = if largest.abs() < 1.0 && largest != 0.0 { "g" } else { "kg" };
    if unit.dim == Dim::MASS { Unit::parse(text).unwrap_or_else(|_| unit.clone()) } else { unit.clone() }
}

fn currency_of(unit: &Unit, currency: &str) -> String {
    unit.currency.map_or_else(|| currency.to_owned(), |c| c.to_string())
}

/// An SI value as printed, with so many significant digits; amounts of money with cents below 1000 only.
pub(super) fn shown(si: f64, unit: &Unit, currency: &str, digits: usize) -> String {
    if unit.dim == Dim::MONEY {
        let x = unit.from_si(si);
        let small = x != 0.0 && x.abs() < 0.1;
        let decimals = if x.abs() >= NO_CENTS { 0 } else { 2 };
        return if small {
            format!("{} {}", show_number(x, 3), currency_of(unit, currency))
        } else {
            fixed(si, unit, currency, decimals)
        };
    }
    grouped(&show(si, &unit_for(si, unit), digits).replace("money", currency))
}

/// An SI value with a fixed number of decimals, for columns that close or are compared.
pub(super) fn fixed(si: f64, unit: &Unit, currency: &str, decimals: usize) -> String {
    let x = unit.from_si(si);
    if !x.is_finite() {
        return "n/a".to_owned();
    }
    // no minus before a zero
    let text = format!("{x:.decimals$}");
    let text = if text.chars().any(|c| matches!(c, '1'..='9')) { text } else { text.trim_start_matches('-').to_owned() };
    let word = match unit.dim {
        Dim::MONEY => currency_of(unit, currency),
        _ if unit.is_plain() => String::new(),
        _ => unit.text.replace("money", currency),
    };
    grouped(format!("{text} {word}").trim_end())
}

/// A value and its expanded uncertainty in one unit: the uncertainty with two digits, the value to the same place
/// (JCGM 100, 7.2.6).
pub(super) fn with_uncertainty(si: f64, half: f64, unit: &Unit, currency: &str) -> (String, String) {
    let unit = unit_for(si.abs().max(half), unit);
    let u = unit.from_si(half) - unit.from_si(0.0);
    let decimals = usize::try_from(1 - exponent(u)).unwrap_or(0).min(9);
    let word = if unit.dim == Dim::MONEY { currency_of(&unit, currency) } else { unit.text.replace("money", currency) };
    let word = if unit.is_plain() { String::new() } else { format!(" {word}") };
    let rounded: f64 = format!("{u:.1e}").parse().unwrap_or(u);
    (fixed(si, &unit, currency, decimals), grouped(&format!("{rounded:.decimals$}{word}")))
}

/// Numbers rounded to the place of the second digit of their uncertainty, which stands last, and the word of the unit they share.
///
/// Draws say no more than that: 1 480 000 to 2 760 000, not 1 476 777 to 2 760 994.
pub(crate) fn placed(si: &[f64], u: f64, unit: &Unit, currency: &str, per_cent: bool) -> (Vec<String>, String) {
    let largest = si.iter().fold(u.abs(), |most, x| most.max(x.abs()));
    let unit = unit_for(largest, unit);
    let scale = |x: f64| if per_cent { x * 100.0 } else { unit.from_si(x) };
    let spread = (scale(u) - scale(0.0)).abs();
    let place = exponent(spread) - 1;
    let text = |x: f64| {
        if !x.is_finite() {
            return "n/a".to_owned();
        }
        let decimals = usize::try_from(-place).unwrap_or(0).min(9);
        let zeros = usize::try_from(place).unwrap_or(0);
        let step: f64 = format!("1e{zeros}").parse().unwrap_or(1.0);
        let text = format!("{:.decimals$}", x / step);
        let text = if text.chars().any(|c| matches!(c, '1'..='9')) { text } else { text.trim_start_matches('-').to_owned() };
        let zeros = if text == "0" { 0 } else { zeros };
        grouped(&format!("{text}{}", "0".repeat(zeros)))
    };
    let word = match unit.dim {
        _ if per_cent => "%".to_owned(),
        Dim::MONEY => currency_of(&unit, currency),
        _ if unit.is_plain() => String::new(),
        _ => unit.text.replace("money", currency),
    };
    (si.iter().map(|x| text(scale(*x))).chain([text(spread)]).collect(), word)
}

/// The decimal exponent of a number rounded to two digits, read off its printed form: platform logarithms differ between machines.
fn exponent(x: f64) -> i32 {
    format!("{x:.1e}").split_once('e').and_then(|(_, e)| e.parse().ok()).unwrap_or(0)
}

/// A plain number as a percentage.
pub(super) fn percent(share: f64) -> String {
    if share.is_finite() { format!("{:.1} %", share * 100.0) } else { String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(text: &str) -> Unit {
        Unit::parse(text).expect("unit")
    }

    #[test]
    fn only_long_whole_numbers_are_grouped() {
        for (text, want) in [
            ("1815945 EUR", "1\u{202f}815\u{202f}945 EUR"),
            ("13400 s", "13\u{202f}400 s"),
            ("5310 s", "5310 s"),
            ("0.000973 EUR", "0.000973 EUR"),
            ("12345.67891; 20000 1/a", "12\u{202f}345.67891; 20\u{202f}000 1/a"),
            ("C11000", "C11000"),
            ("", ""),
        ] {
            assert_eq!(grouped(text), want);
        }
    }

    #[test]
    fn cents_stand_below_a_thousand_only() {
        let eur = unit("EUR");
        for (x, want) in [
            (5710.68, "5711 EUR"),
            (999.5, "999.50 EUR"),
            (0.05, "0.05 EUR"),
            (0.0, "0.00 EUR"),
            (83_349.38, "83\u{202f}349 EUR"),
        ] {
            assert_eq!(shown(x, &eur, "EUR", 5), want);
        }
        assert_eq!(fixed(5710.684, &eur, "EUR", 2), "5710.68 EUR");
        assert_eq!(fixed(-0.001, &eur, "EUR", 2), "0.00 EUR");
    }

    #[test]
    fn masses_are_in_grams_below_a_kilogram() {
        let (kg, g) = (unit("kg"), unit("g"));
        assert_eq!(shown(0.05263, &kg, "EUR", 4), "52.63 g");
        assert_eq!(shown(5.11, &g, "EUR", 4), "5.11 kg");
        assert_eq!(shown(0.0, &kg, "EUR", 4), "0 kg");
    }

    #[test]
    fn a_value_is_rounded_to_the_place_of_its_uncertainty() {
        let kg = unit("kg");
        let pair = |x, u| with_uncertainty(x, u, &kg, "EUR");
        assert_eq!(pair(0.544, 0.522), ("544 g".to_owned(), "520 g".to_owned()));
        assert_eq!(pair(0.00252, 0.0034), ("2.5 g".to_owned(), "3.4 g".to_owned()));
        assert_eq!(pair(402.3593, 0.0982), ("402.359 kg".to_owned(), "0.098 kg".to_owned()));
        assert_eq!(pair(402.3593, 0.0997), ("402.36 kg".to_owned(), "0.10 kg".to_owned()), "rounding up moves the place");
        assert_eq!(with_uncertainty(5710.68, 406.37, &unit("EUR"), "EUR"), ("5711 EUR".to_owned(), "410 EUR".to_owned()));
    }

    #[test]
    fn draws_are_rounded_to_the_second_digit_of_their_uncertainty() {
        let eur = unit("EUR");
        let of = |x: &[f64], u: f64, unit: &Unit| placed(x, u, unit, "EUR", false);
        let texts = |list: &[&str]| list.iter().map(|t| (*t).to_owned()).collect::<Vec<_>>();
        assert_eq!(of(&[5281.25, 4950.55], 169.18, &eur), (texts(&["5280", "4950", "170"]), "EUR".to_owned()));
        assert_eq!(
            of(&[2_059_765.0], 327_011.0, &eur).0,
            texts(&["2\u{202f}060\u{202f}000", "330\u{202f}000"]),
            "above the units too"
        );
        assert_eq!(of(&[-3.0, 12.0], 997.0, &eur).0, texts(&["0", "0", "1000"]), "rounding up moves the place");
        assert_eq!(of(&[402.3593], 0.0523, &unit("kg")).0, texts(&["402.359", "0.052"]));
        assert_eq!(placed(&[0.2497], 0.0143, &unit("1"), "EUR", true), (texts(&["25.0", "1.4"]), "%".to_owned()));
        assert_eq!(of(&[f64::NAN], 1.0, &eur).0[0], "n/a");
    }
}
