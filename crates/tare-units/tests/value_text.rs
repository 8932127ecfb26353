//! Value text: what is read, what is refused and with which words, and print against parse.

use proptest::prelude::*;
use tare_units::{Quantity, Spread, Unit, Width};

#[track_caller]
fn read(text: &str) -> Quantity {
    Quantity::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"))
}

#[track_caller]
fn refused(text: &str, code: &str, words: &str) {
    let error = Quantity::parse(text).unwrap_err();
    assert_eq!(error.code, code, "{text}: {error}");
    assert!(error.to_string().contains(words), "{text}: {error}");
    assert!(text.get(error.span.clone()).is_some(), "{text}: span {:?}", error.span);
}

#[track_caller]
fn refused_as(text: &str, want: &str, message: &str) {
    let error = Quantity::parse_as(text, &Unit::parse(want).unwrap()).unwrap_err();
    assert_eq!(error.to_string(), message);
}

#[test]
fn the_written_forms_are_read() {
    for (text, value, u) in [
        ("12.5 mm", 0.0125, 0.0),
        ("12.5mm", 0.0125, 0.0),
        ("12.5 +- 0.2 mm", 0.0125, 1e-4),
        ("12.5 \u{b1} 0.2 mm", 0.0125, 1e-4),
        ("12.5\u{b1}0.2 mm", 0.0125, 1e-4),
        ("12.5 +/- 0.2 mm", 0.0125, 1e-4),
        ("12.5 mm +- 0.2 mm", 0.0125, 1e-4),
        ("1 in +- 0.2 mm", 0.0254, 1e-4),
        ("40 mm +- 5 %", 0.04, 1e-3),
        ("-40 mm +- 5 %", -0.04, 1e-3),
        ("95 %", 0.95, 0.0),
        ("95 +- 2 %", 0.95, 0.01),
        ("1.2e3 N", 1200.0, 0.0),
        ("1.2E+3 N", 1200.0, 0.0),
        ("1.2e\u{2212}3 N", 0.0012, 0.0),
        ("23 degC", 296.15, 0.0),
        ("23 +- 1 degC", 296.15, 0.5),
        ("23 degC +- 1 K", 296.15, 0.5),
        ("\u{2212}5 K", -5.0, 0.0),
        ("12\u{202f}mm", 0.012, 0.0),
        ("12\u{a0}mm", 0.012, 0.0),
        ("12\u{2009}mm", 0.012, 0.0),
        (".5 mm", 0.0005, 0.0),
        ("3eV", 4.806529902e-19, 0.0),
        ("5 1/s", 5.0, 0.0),
        ("12", 12.0, 0.0),
        ("0.25 1", 0.25, 0.0),
        ("0.2 +- 0.1 1", 0.2, 0.05),
        ("1 1", 1.0, 0.0),
        ("12 +- 2", 12.0, 1.0),
        ("1 in", 0.0254, 0.0),
        ("25.4 mm", 0.0254, 0.0),
        ("15 USD/kg", 15.0, 0.0),
    ] {
        let quantity = read(text);
        assert_eq!((quantity.value, quantity.standard_uncertainty()), (value, u), "{text}");
    }
    assert_eq!(read(" 12 mm ").text, "12 mm");
    assert_eq!(read("0.01 g .. 3000 kg").spread, Some(Spread::Rectangular { low: 1e-5, high: 3000.0 }));
    assert_eq!(read("12..13 mm").spread, Some(Spread::Rectangular { low: 0.012, high: 0.013 }));
    assert_eq!(read("12 .. 13 mm").value, 0.0125);
    let bent = read("12 .. 12.8 .. 13 mm");
    assert_eq!((bent.value, bent.spread), (0.0128, Some(Spread::Triangular { low: 0.012, mode: 0.0128, high: 0.013 })));
    assert!((bent.mean() - 0.0126).abs() < 1e-15);
}

/// Standard uncertainties from half-width a: a/sqrt 3 and a/sqrt 6. Source: JCGM 100:2008 (GUM), 4.3.7 and 4.3.9 (seen = false).
#[test]
fn standard_uncertainties_follow_the_guide() {
    assert!((read("-1 .. 1 mm").standard_uncertainty() - 1e-3 / 3f64.sqrt()).abs() < 1e-18);
    assert!((read("-1 .. 0 .. 1 mm").standard_uncertainty() - 1e-3 / 6f64.sqrt()).abs() < 1e-18);
    // Lopsided to the end: width / sqrt 18.
    assert!((read("0 .. 0 .. 1 mm").standard_uncertainty() - 1e-3 / 18f64.sqrt()).abs() < 1e-18);
}

#[test]
fn broken_text_is_refused_with_a_way_out() {
    for (text, code, words) in [
        ("", "value-missing", "no value"),
        ("  ", "value-missing", "no value"),
        ("abc", "number-form", "does not start with a number"),
        ("NaN", "number-form", "leave the value out"),
        ("inf mm", "number-form", "leave the value out"),
        ("-inf", "number-form", "leave the value out"),
        ("1e400 mm", "number-size", "too large"),
        ("1e-400 mm", "number-size", "too small"),
        ("1e99999 mm", "number-size", "exponent"),
        ("1e99999999999999999999 mm", "number-size", "exponent"),
        ("1.23456789012345678901234567890123456789 mm", "number-size", "many digits"),
        ("12,5 mm", "number-comma", "`12.5`"),
        ("1,234 mm", "number-comma", "`1.234` or `1234`"),
        ("1,234,567 mm", "number-thousands", "`1234567`"),
        ("1 234 mm", "number-thousands", "`1234`"),
        ("1\u{202f}234.5 mm", "number-thousands", "`1234.5`"),
        ("12 34 mm", "number-form", "two numbers"),
        ("1 11", "number-form", "two numbers"),
        ("1'234 mm", "number-thousands", "`1234`"),
        ("1_234 mm", "number-thousands", "`1234`"),
        ("1.2.3 mm", "number-form", "two decimal points"),
        ("12-13 mm", "range-form", "`12 .. 13 mm`"),
        ("12\u{2013}13 mm", "range-form", "`12 .. 13 mm`"),
        ("12 ... 13 mm", "range-form", "`12 .. 13 mm`"),
        ("3/4 in", "number-fraction", "`0.75 in`"),
        ("1 1/2 in", "number-fraction", "`1.5 in`"),
        ("6 1/8 in", "number-fraction", "`6.125 in`"),
        ("5/16 in", "number-fraction", "`0.3125 in`"),
        ("155 to 160 mm", "range-form", "`12 .. 13 mm`"),
        ("6'2", "number-form", "`74 in`"),
        ("1.2\u{d7}10^3 N", "number-form", "`1.2e3`"),
        ("~12 mm", "number-form", "spread"),
        ("$12", "number-form", "`15 USD`"),
        ("12 .. mm", "number-form", "does not start"),
        ("12 ..", "number-missing", "`12 .. 13 mm`"),
        (".. 12 mm", "number-missing", "missing"),
        ("12 +-", "number-missing", "missing"),
        ("1 .. 2 .. 3 .. 4 mm", "range-form", "two or three"),
        ("13 .. 12 mm", "range-falls", "ascend"),
        ("12 .. 12 mm", "range-falls", "ascend"),
        ("12 .. 14 .. 13 mm", "range-falls", "ascend"),
        ("12 .. 13 +- 1 mm", "spread-form", "one spread"),
        ("12 +- 1 +- 1 mm", "spread-form", "one spread"),
        ("12 +- -1 mm", "spread-negative", "negative"),
        ("12 mm +- -5 %", "spread-negative", "negative"),
        ("95 % +- 1 %", "spread-ambiguous", "`95 +- 1 %`"),
        ("23 degC +- 5 %", "spread-relative", "`23 +- 1 degC`"),
        ("0 mm +- 5 %", "spread-relative", "with a unit"),
        ("12 mm +- 1", "unit-missing", "unit last"),
        ("12 mm +- 1 g", "dimension", "one unit"),
        ("12 mm .. 13", "dimension", "unit last"),
        ("1 EUR .. 2 USD", "dimension", "one unit"),
        ("-300 degC", "absolute-zero", "absolute zero"),
        ("12 M", "unit-refused", "metre"),
        ("12 km/h*s", "unit-ambiguous", "parentheses"),
    ] {
        refused(text, code, words);
    }
    let error = Quantity::parse("12 .. 13 qqq").unwrap_err();
    assert_eq!(error.span, 9..12);
}

#[test]
fn what_is_due_is_said_in_plain_words() {
    refused_as("3", "mm", "`3` has no unit where a length is due; write `3 mm` or `3 in`");
    refused_as("12 .. 13", "mm", "`12 .. 13` has no unit where a length is due; write `12 .. 13 mm` or `12 .. 13 in`");
    refused_as("12 +- 1", "kg", "`12 +- 1` has no unit where a mass is due; write `12 +- 1 kg` or `12 +- 1 lb`");
    refused_as("12 mm", "kg", "found a length (`12 mm`) where a mass is due; write `12 kg` or `12 lb`");
    refused_as("12 mm .. 13 mm", "kg", "found a length (`12 mm .. 13 mm`) where a mass is due; write `12 kg` or `12 lb`");
    refused_as("3 J", "MPa", "found energy or torque (`3 J`) where a pressure or stress is due; write `3 MPa` or `3 psi`");
    refused_as(
        "3 EUR",
        "money/kg",
        "found an amount of money (`3 EUR`) where a price per mass is due; write `3 money/kg` or `3 money/lb`",
    );
    refused_as(
        "40 +- 5 %",
        "mm",
        "found a plain number (`40 +- 5 %`) where a length is due; write the unit before a relative spread: `40 mm +- 5 %`",
    );
    refused_as("95", "%", "`95` has no unit where `%` is due; write `95 %`");
    refused_as("3 mm", "1", "found a length (`3 mm`) where a plain number is due; write `3`");
    refused_as("20", "degC", "`20` has no unit where a temperature is due; write `20 degC` or `20 degF`");
    let kelvin = "found a temperature point (`23 degC`) where `K` is due, a difference or an absolute temperature; write the difference in `K`, or `296.15 K` if the absolute temperature is meant";
    refused_as("23 degC", "K", kelvin);
    let two = "`2 +- 10 %` can be read two ways: both numbers in percent, or a relative spread; write `2 +- 0.2` for a relative spread, or `0.02 +- 0.1` for percent points";
    refused_as("2 +- 10 %", "1", two);
    let hundred = "`100 +- 5 %` can be read two ways: both numbers in percent, or a relative spread; write `100 +- 5` for a relative spread, or `1 +- 0.05` for percent points";
    refused_as("100 +- 5 %", "1", hundred);
    let pieces = "`20 +- 5 %` can be read two ways: both numbers in percent, or a relative spread; write `20 +- 1 pcs` for a relative spread, or `0.2 +- 0.05 pcs` for percent points";
    refused_as("20 +- 5 %", "pcs", pieces);
    let share = "`95 +- 1 %` can be read two ways: both numbers in percent, or a relative spread; write `95 +- 0.95` for a relative spread, or `0.95 +- 0.01` for percent points";
    refused_as("95 +- 1 %", "1", share);
    let fits = |text: &str, want: &str| Quantity::parse_as(text, &Unit::parse(want).unwrap()).is_ok();
    for (text, want) in [
        ("95 %", "1"),
        ("0.95", "1"),
        ("3", "pcs"),
        ("3 pcs", "1"),
        ("3 in", "mm"),
        ("296 K", "degC"),
        ("70 degF", "degC"),
        ("5 USD/lb", "money/kg"),
        ("95 +- 1 %", "%"),
        ("0 +- 0.02 %", "1"),
        ("95 .. 97 %", "1"),
        ("100 +- 5", "1"),
        ("100 pcs +- 5 %", "pcs"),
    ] {
        assert!(fits(text, want), "{text} as {want}");
    }
}

#[test]
fn widths_stand_alone() {
    assert_eq!(Width::parse("+- 5 %").unwrap(), Width::Relative(0.05));
    assert_eq!(Width::parse("+- 5 %").unwrap().around(-2.0), Spread::Normal { u: 0.05 });
    assert_eq!(Width::parse("\u{b1} 1 degC").unwrap().around(300.0), Spread::Normal { u: 0.5 });
    assert_eq!(Width::parse(" +- 0.5 mm").unwrap().around(1.0), Spread::Normal { u: 2.5e-4 });
    for text in ["5 %", "+-", "+- -5 %", "+- x", ""] {
        assert!(Width::parse(text).is_err(), "{text}");
    }
}

const UNITS: &[&str] = &[
    "1",
    "mm",
    "um",
    "m",
    "in",
    "mil",
    "ft",
    "yd",
    "kg",
    "mg",
    "lb",
    "oz",
    "ton_us",
    "s",
    "min",
    "TMU",
    "a",
    "N",
    "lbf",
    "psi",
    "ksi",
    "MPa",
    "in*lbf",
    "ft*lbf",
    "gal",
    "BTU",
    "hp",
    "eV",
    "kWh",
    "degC",
    "degF",
    "K",
    "%",
    "ppm",
    "deg",
    "turn",
    "rpm",
    "kg/m^3",
    "lb/ft^3",
    "W/(m*K)",
    "mm^2/s",
    "1/a",
    "EUR/h",
    "money/kg",
    "USD/lb",
    "GPa^(1/3)",
    "GPa^0.5",
    "mm2",
    "\"",
    "V",
    "uF",
];

fn bits(q: &Quantity) -> (u64, Vec<u64>, Unit) {
    let spread = match q.spread {
        None => vec![],
        Some(Spread::Normal { u }) => vec![u.to_bits()],
        Some(Spread::Rectangular { low, high }) => vec![low.to_bits(), high.to_bits()],
        Some(Spread::Triangular { low, mode, high }) => vec![low.to_bits(), mode.to_bits(), high.to_bits()],
    };
    (q.value.to_bits(), spread, q.unit.clone())
}

#[track_caller]
fn prints_and_reads(q: &Quantity) {
    let text = q.print();
    assert_eq!(bits(&read(&text)), bits(q), "{text}");
}

/// Any float whatever that is not so extreme that its number in the unit leaves what text may hold.
fn any_value() -> impl Strategy<Value = f64> {
    prop_oneof![any::<u64>().prop_map(f64::from_bits), -1e6f64..1e6, (-9999i32..9999).prop_map(|n| f64::from(n) / 100.0)]
        .prop_filter("ordinary", |x| *x == 0.0 || (x.is_finite() && x.abs() > 1e-290 && x.abs() < 1e290))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]
    #[test]
    fn what_is_printed_reads_back_to_the_bit(index in 0..UNITS.len(), kind in 0..4, x in any_value(), y in any_value(), z in any_value()) {
        let unit = Unit::parse(UNITS[index]).unwrap();
        let [x, y, z] = if unit.is_point() { [x, y, z].map(|t| t.abs() + 1e-12) } else { [x, y, z] };
        let mut ends = [x, y, z];
        ends.sort_by(f64::total_cmp);
        let [low, mode, high] = ends;
        let spread = match kind {
            1 => Some(Spread::Normal { u: y.abs() }),
            2 if low < high => Some(Spread::Rectangular { low, high }),
            3 if low < high => Some(Spread::Triangular { low, mode, high }),
            _ => None,
        };
        prints_and_reads(&Quantity::new(x, spread, unit));
    }

    #[test]
    fn short_numbers_print_as_written(index in 0..UNITS.len(), n in 1i64..100_000, places in 0u32..4) {
        let mut number = n.to_string();
        if places > 0 {
            number = format!("{}.{:0width$}", n / 10i64.pow(places), n % 10i64.pow(places), width = places as usize).trim_end_matches('0').trim_end_matches('.').to_owned();
        }
        let text = if UNITS[index] == "1" { number } else { format!("{number} {}", UNITS[index]) };
        prop_assert_eq!(read(&text).print(), text);
    }

    #[test]
    fn never_panics(text in "[0-9.,+\\-±eE %a-zA-Z°/^*()']{0,24}", want in 0..UNITS.len()) {
        let want = Unit::parse(UNITS[want]).unwrap();
        for outcome in [Quantity::parse(&text), Quantity::parse_as(&text, &want)] {
            match outcome {
                Ok(q) => { prints_and_reads(&q); }
                Err(error) => prop_assert!(text.get(error.span).is_some()),
            }
        }
        let _ = Width::parse(&text);
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,24}") {
        let want = Unit::parse("mm").unwrap();
        if let Err(error) = Quantity::parse_as(&text, &want) {
            prop_assert!(text.get(error.span).is_some());
        }
    }
}

#[test]
fn units_made_by_hand_still_print() {
    let odd = Unit { text: "furlong".to_owned(), factor: 201.168, ..Unit::parse("m").unwrap() };
    let printed = Quantity::new(402.336, None, odd).print();
    assert_eq!(read(&printed).value, 402.336);
    // So near absolute zero that no reasonable number of digits in degC tells it from -273.15.
    assert_eq!(Quantity::new(1e-290, None, Unit::parse("degC").unwrap()).print(), "1e-290 K");
    assert_eq!(Quantity::new(f64::NAN, None, Unit::plain()).print(), "n/a");
}
