//! Small drawings within tables: a bar with its range, a difference to the left or right of nothing.

use maud::{Markup, html};

/// The span that all bars of one table share, so that they can be held against each other; nothing lies within it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Span {
    low: f64,
    high: f64,
}

/// Width and height of a bar, in the drawing's own units.
const SIZE: (f64, f64) = (160.0, 18.0);
/// What is left free at both ends.
const EDGE: f64 = 2.0;

impl Span {
    pub(super) fn of(numbers: impl IntoIterator<Item = f64>) -> Self {
        let mut span = Self { low: 0.0, high: 0.0 };
        for number in numbers.into_iter().filter(|n| n.is_finite()) {
            span.low = span.low.min(number);
            span.high = span.high.max(number);
        }
        span
    }

    fn x(self, number: f64) -> f64 {
        let width = self.high - self.low;
        if width > 0.0 { EDGE + (number.clamp(self.low, self.high) - self.low) / width * (SIZE.0 - 2.0 * EDGE) } else { EDGE }
    }

    /// A bar from nothing to a number, with a line over its range. What it shows stands beside it as text.
    pub(super) fn bar(self, number: f64, ends: Option<(f64, f64)>) -> Markup {
        let (zero, at, middle) = (self.x(0.0), self.x(number), SIZE.1 / 2.0);
        let colour = if number < 0.0 { "c4 edge" } else { "c1 edge" };
        html! {
            svg.chart.small viewBox="0 0 160 18" aria-hidden="true" focusable="false" {
                rect class=(colour) x=(tenth(zero.min(at))) y="4" width=(tenth((at - zero).abs())) height="10" {}
                @if let Some((low, high)) = ends {
                    @let (low, high) = (self.x(low), self.x(high));
                    path.sum d={ "M" (tenth(low)) " " (middle) "H" (tenth(high)) "M" (tenth(low)) " " (middle - 3.5) "v7M" (tenth(high)) " " (middle - 3.5) "v7" } {}
                }
                line.zero x1=(tenth(zero)) x2=(tenth(zero)) y1="0" y2="18" {}
            }
        }
    }
}

fn tenth(number: f64) -> String {
    format!("{number:.1}")
}

/// A whole number with thin spaces between thousands.
pub(super) fn whole(number: f64) -> String {
    let rounded = number.round();
    let digits = format!("{:.0}", rounded.abs());
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at) % 3 == 0 {
            out.push('\u{202f}');
        }
        out.push(digit);
    }
    if rounded < 0.0 { format!("\u{2212}{out}") } else { out }
}

/// A number with so many decimals and a minus as wide as a plus; what rounds to nothing is nothing.
pub(super) fn fixed(number: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", number.abs());
    if number < 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b)) { format!("\u{2212}{text}") } else { text }
}

/// A change with its sign.
pub(super) fn signed(number: f64, decimals: usize) -> String {
    let text = fixed(number, decimals);
    if number > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b)) { format!("+{text}") } else { text }
}

/// Text of a figure as the rest of the page writes numbers: a minus as wide as a plus, thin spaces between thousands of long numbers.
pub(super) fn minus(text: &str) -> String {
    let (number, unit) = text.split_once(' ').map_or((text, ""), |(number, unit)| (number, unit));
    let digits = number.trim_start_matches('-');
    let before = digits.find(|c: char| !c.is_ascii_digit()).unwrap_or(digits.len());
    let mut out = String::from(if number.starts_with('-') { "\u{2212}" } else { "" });
    for (at, digit) in digits[..before].chars().enumerate() {
        if at > 0 && before > 4 && (before - at) % 3 == 0 {
            out.push('\u{202f}');
        }
        out.push(digit);
    }
    out.push_str(&digits[before..].replace('-', "\u{2212}"));
    if unit.is_empty() { out } else { format!("{out} {unit}") }
}

/// Two ends of a range with their unit once; nothing where both are the same.
pub(super) fn between(low: &str, high: &str) -> Option<String> {
    let unit = |text: &str| text.split_once(' ').map(|(_, unit)| unit.to_owned());
    let short = if unit(low) == unit(high) { low.split(' ').next().unwrap_or(low) } else { low };
    (low != high).then(|| format!("{} to {}", minus(short), minus(high)))
}

/// Steps of an axis that people read easily: one, two or five times a power of ten.
pub(super) fn ticks(low: f64, high: f64, about: usize) -> Vec<f64> {
    let wide = (high - low).max(f64::MIN_POSITIVE);
    let raw = wide / about.max(1) as f64;
    let mut power = 1.0_f64;
    while power > raw {
        power /= 10.0;
    }
    while power * 10.0 <= raw {
        power *= 10.0;
    }
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|n| n * power).find(|step| *step >= raw).unwrap_or(power * 10.0);
    let first = (low / step).ceil();
    let mut found = Vec::new();
    for n in 0..=(4 * about.max(1)) {
        let at = (first + n as f64) * step;
        if at > high + step * 1e-9 {
            break;
        }
        found.push(if at.abs() < step * 1e-9 { 0.0 } else { at });
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_easily() {
        assert_eq!(whole(1_234_567.4), "1\u{202f}234\u{202f}567");
        assert_eq!(whole(-60_350.4), "\u{2212}60\u{202f}350");
        assert_eq!((whole(-0.2), whole(999.6)), ("0".to_owned(), "1\u{202f}000".to_owned()));
        assert_eq!((fixed(-0.001, 2), fixed(-1.5, 1)), ("0.00".to_owned(), "\u{2212}1.5".to_owned()));
        assert_eq!((signed(0.0, 1), signed(2.0, 0), signed(0.004, 2)), ("0.0".to_owned(), "+2".to_owned(), "0.00".to_owned()));
    }

    #[test]
    fn figures_are_set_as_the_page_sets_numbers() {
        assert_eq!(minus("-1895997 EUR"), "\u{2212}1\u{202f}895\u{202f}997 EUR");
        assert_eq!((minus("5138.97 EUR"), minus("12.3 W*h/kg")), ("5138.97 EUR".to_owned(), "12.3 W*h/kg".to_owned()));
        assert_eq!(minus("-4.72e-6 EUR"), "\u{2212}4.72e\u{2212}6 EUR");
        assert_eq!(minus("n/a"), "n/a");
        assert_eq!(between("-13 kg", "12.9 kg").as_deref(), Some("\u{2212}13 to 12.9 kg"));
        assert_eq!(between("999 g", "1.2 kg").as_deref(), Some("999 g to 1.2 kg"));
        assert_eq!(between("913", "913"), None);
    }

    #[test]
    fn axes_have_round_steps_within_their_ends() {
        assert_eq!(ticks(0.0, 10.0, 5), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(ticks(-0.3, 0.34, 4), [-0.2, 0.0, 0.2]);
        let large = ticks(94_000.0, 131_000.0, 4);
        assert_eq!(large, [100_000.0, 110_000.0, 120_000.0, 130_000.0]);
        assert!(ticks(3.0, 3.0, 4).len() <= 1);
    }

    #[test]
    fn bars_stay_within_their_drawing() {
        let span = Span::of([-5.0, 20.0, f64::NAN]);
        for number in [-9.0, -5.0, 0.0, 20.0, 50.0] {
            assert!((EDGE..=SIZE.0 - EDGE).contains(&span.x(number)), "{number}");
        }
        assert!(span.bar(3.0, Some((1.0, 4.0))).into_string().contains("c1"));
        assert!(span.bar(-3.0, None).into_string().contains("c4"));
        assert!(Span::of([]).bar(0.0, None).into_string().contains("rect"));
    }
}
