//! Prices under licence: given as a band, or left out.

use tare_units::Quantity;

/// What stands for the source of a price that was withheld.
pub(super) const SOURCE: &str = "withheld: licensed price, given as a band";

/// A band in steps of 1, 2 and 5 around a value, with its geometric middle: `100 .. 141 .. 200 EUR` for anything from 100 to 200. `None` for what has no
/// band: no number, none above zero, a list, a word.
///
/// Only the band a number lies in is told, so that nothing computed from it tells more.
pub(super) fn band(text: &str) -> Option<String> {
    let quantity = Quantity::parse(text).ok()?;
    let value = quantity.unit.from_si(quantity.value);
    if !(value.is_finite() && value > 0.0 && (1e-12..1e15).contains(&value)) {
        return None;
    }
    let mut power = tare_engine::math::log10(value).floor() as i32;
    // at a power of ten the logarithm may lie on either side
    if at(1.0, power + 1) <= value {
        power += 1;
    } else if at(1.0, power) > value {
        power -= 1;
    }
    let steps = [(1.0, 1.41, 2.0), (2.0, 3.16, 5.0), (5.0, 7.07, 10.0)];
    let (low, middle, high) = steps.into_iter().rev().find(|(low, _, _)| at(*low, power) <= value)?;
    let [low, middle, high] = [low, middle, high].map(|step| at(step, power));
    let unit = if quantity.unit.is_plain() { "" } else { quantity.unit.text.as_str() };
    Some(format!("{low} .. {middle} .. {high} {unit}").trim_end().to_owned())
}

/// So many times a power of ten, as the text of it reads.
fn at(step: f64, power: i32) -> f64 {
    format!("{step}e{power}").parse().unwrap_or(f64::NAN)
}

/// The middle of the band of a number that is written in a formula.
pub(super) fn middle(number: f64) -> Option<f64> {
    let text = band(&format!("{number}"))?;
    text.split(" .. ").nth(1)?.trim().parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_price_becomes_the_band_it_lies_in() {
        for (text, wanted) in [
            ("137.91 EUR", "100 .. 141 .. 200 EUR"),
            ("18.40 +- 2 EUR", "10 .. 14.1 .. 20 EUR"),
            ("3.4 EUR/kg", "2 .. 3.16 .. 5 EUR/kg"),
            ("0.08 EUR", "0.05 .. 0.0707 .. 0.1 EUR"),
            ("100 EUR", "100 .. 141 .. 200 EUR"),
            ("5 EUR", "5 .. 7.07 .. 10 EUR"),
            ("999.999 USD", "500 .. 707 .. 1000 USD"),
            ("8 %", "5 .. 7.07 .. 10 %"),
        ] {
            assert_eq!(band(text).as_deref(), Some(wanted), "{text}");
            assert!(Quantity::parse(wanted).is_ok(), "{wanted}");
        }
        for none in ["0 EUR", "-3 EUR", "word", "1 EUR; 2 EUR"] {
            assert_eq!(band(none), None, "{none}");
        }
        assert_eq!(middle(137.91), Some(141.0));
    }

    /// Every price of a band gives the same text: nothing of it is left but the band.
    #[test]
    fn all_prices_of_a_band_are_one() {
        for cents in 2_000..5_000 {
            assert_eq!(band(&format!("{}.{:02} EUR", cents / 100, cents % 100)).as_deref(), Some("20 .. 31.6 .. 50 EUR"));
        }
    }
}
