//! Factors of US and other units against published values.
//!
//! Source: NIST Special Publication 811 (2008 edition), Appendix B.8: factors in bold there are exact, the others are printed to
//! seven digits. Values are from memory (seen = false). SI Brochure (9th edition, 2019) for eV. ISO 80000-3 for the year is not
//! followed: `a` is the Julian year of the IAU by choice.

use tare_units::{Dim, Unit, name_of, units};

#[test]
fn exact_definitions_hold_to_the_bit() {
    for (text, si) in [
        ("in", 0.0254),
        ("ft", 0.3048),
        ("yd", 0.9144),
        ("mil", 2.54e-5),
        ("mile", 1609.344),
        ("lb", 0.453_592_37),
        ("gal", 3.785_411_784e-3),
        ("ton_us", 907.184_74),
        ("lbf", 4.448_221_615_260_5),
        ("kgf", 9.806_65),
        ("atm", 101_325.0),
        ("BTU", 1_055.055_852_62),
        ("eV", 1.602_176_634e-19),
        ("a", 31_557_600.0),
        ("h", 3600.0),
        ("TMU", 0.036),
        ("kWh", 3.6e6),
        ("t", 1000.0),
        ("bar", 1e5),
        ("%", 0.01),
        ("ppm", 1e-6),
        ("deg", std::f64::consts::PI / 180.0),
        ("turn", std::f64::consts::TAU),
    ] {
        assert_eq!(Unit::parse(text).unwrap().factor, si, "{text}");
    }
}

#[test]
fn printed_factors_hold_to_their_last_digit() {
    for (text, printed, half_digit) in [
        ("oz", 2.834_952e-2, 5e-9),
        ("psi", 6.894_757e3, 5e-4),
        ("ksi", 6.894_757e6, 5e-1),
        ("in*lbf", 1.129_848e-1, 5e-8),
        ("ft*lbf", 1.355_818, 5e-7),
        ("hp", 7.456_999e2, 5e-5),
        ("lb/ft^3", 1.601_846e1, 5e-6),
        ("lb/in^3", 2.767_990e4, 5e-2),
        ("mmHg", 1.333_224e2, 5e-5),
        ("gal/min", 6.309_020e-5, 5e-12),
        ("ft^3/min", 4.719_474e-4, 5e-11),
        ("BTU/(lb*degR)", 4.1868e3, 1e-9),
        ("lbf/ft", 1.459_390e1, 5e-6),
    ] {
        let factor = Unit::parse(text).unwrap().factor;
        assert!((factor - printed).abs() <= half_digit, "{text}: {factor} against {printed}");
    }
}

#[test]
fn temperature_points_meet_their_fixed_values() {
    let si = |text: &str, x: f64| Unit::parse(text).unwrap().to_si(x);
    assert_eq!(si("degC", 0.0), 273.15);
    assert!((si("degF", 32.0) - 273.15).abs() < 1e-12);
    assert!((si("degF", 212.0) - 373.15).abs() < 1e-12);
    assert!((Unit::parse("degC").unwrap().from_si(si("degF", -40.0)) + 40.0).abs() < 1e-12);
}

#[test]
fn rpm_is_the_rate_of_counted_revolutions() {
    let rpm = Unit::parse("rpm").unwrap();
    for same in ["1/min", "rev/min"] {
        assert_eq!((Unit::parse(same).unwrap().factor, Unit::parse(same).unwrap().dim), (rpm.factor, rpm.dim));
    }
}

#[test]
fn every_unit_of_the_table_reads_and_says_what_it_is() {
    for info in units() {
        assert!(!info.name.is_empty());
        assert!(name_of(info.dim).is_some(), "{} has no dimension in words", info.symbol);
        for symbol in std::iter::once(&info.symbol).chain(info.aliases) {
            let unit = Unit::parse(symbol).unwrap();
            assert_eq!(unit.dim, info.dim, "{symbol}");
            assert_eq!(unit.is_point(), info.offset.is_some());
            for word in info.factor.split_whitespace().filter(|w| !matches!(*w, "*" | "/" | "pi")) {
                assert!(word.parse::<f64>().is_ok(), "{symbol}: factor text {word}");
            }
        }
    }
}

/// A prefixed symbol that is also another symbol would silently win or lose by table order.
#[test]
fn no_symbol_means_two_things() {
    let mut seen = std::collections::BTreeMap::new();
    for info in units() {
        for symbol in std::iter::once(&info.symbol).chain(info.aliases) {
            for spelled in std::iter::once(String::new()).chain(info.prefixes.chars().map(String::from)).map(|p| p + symbol) {
                let before = seen.insert(spelled.clone(), info.symbol);
                assert_eq!(before, None, "`{spelled}` is both {before:?} and {}", info.symbol);
            }
        }
    }
    assert!(seen.contains_key("cd") && seen.contains_key("min") && seen.contains_key("ft"));
}

#[test]
fn names_are_plain_words() {
    let named = |text: &str| name_of(Unit::parse(text).unwrap().dim);
    assert_eq!(named("bar"), Some("pressure or stress"));
    assert_eq!(named("ft*lbf"), Some("energy or torque"));
    assert_eq!(named("EUR/kg"), Some("price per mass"));
    assert_eq!(named("GPa^(1/3)"), None);
    assert_eq!(name_of(Dim::ONE), Some("plain number"));
}
