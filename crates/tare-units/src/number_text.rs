//! The extent of a number in text, and what to say about numbers written another way.

use crate::QuantityError;
use std::ops::Range;

/// Bytes of the number at the start of a text: sign, digits, point, exponent; none if there is no digit.
pub(crate) fn number_length(text: &str) -> usize {
    let digits = |from: usize| text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let mut at = text.chars().next().filter(|c| matches!(c, '+' | '-' | '\u{2212}')).map_or(0, char::len_utf8);
    let whole = digits(at);
    at += whole;
    let mut part = 0;
    if text[at..].starts_with('.') {
        part = digits(at + 1);
        if whole + part > 0 {
            at += 1 + part;
        }
    }
    if whole + part == 0 {
        return 0;
    }
    if text[at..].starts_with(['e', 'E']) {
        let sign = text[at + 1..].chars().next().filter(|c| matches!(c, '+' | '-' | '\u{2212}')).map_or(0, char::len_utf8);
        let exponent = digits(at + 1 + sign);
        if exponent > 0 {
            at += 1 + sign + exponent;
        }
    }
    at
}

/// Number texts that go on after their first part: thousands marks, decimal commas, dashes for ranges, fractions.
pub(crate) fn broken_number(text: &str, length: usize, span: &Range<usize>) -> Option<QuantityError> {
    let after = &text[length..];
    let spaced = after.trim_start();
    let first = spaced.chars().next()?;
    let then_digit = spaced[first.len_utf8()..].trim_start().starts_with(|c: char| c.is_ascii_digit());
    let through = after.len() - spaced.len() + spaced.len()
        - spaced.trim_start_matches(|c: char| c.is_ascii_digit() || c == first || c == '.').len();
    let shown = text[..length + through].trim_end();
    let place = span.start..span.start + shown.len();
    let joined: String = shown.chars().filter(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '\u{2212}')).collect();
    let error = |code, message: String| Some(QuantityError::new(code, place.clone(), message));
    match first {
        ',' if then_digit && after.matches(',').count() == 1 => {
            let point = shown.replace(',', ".");
            let message = format!("`{shown}` has a comma, which may mark decimals or thousands");
            let as_point = if point.matches('.').count() == 1 { format!("`{point}` or ") } else { String::new() };
            error("number-comma", message)
                .map(|e| e.hint(format!("write {as_point}`{joined}`: a decimal point and no thousands mark")))
        }
        '\'' if then_digit && spaced[1..].chars().take_while(char::is_ascii_digit).count() < 3 => {
            error("number-form", format!("`{shown}` looks like feet and inches"))
                .map(|e| e.hint("write one number with one unit: `74 in` or `6.17 ft`; thousands take no mark"))
        }
        ',' | '\'' | '\u{2019}' | '_' if then_digit => {
            error("number-thousands", format!("`{shown}` has thousands marks")).map(|e| e.hint(format!("write `{joined}`")))
        }
        '.' if then_digit => error("number-form", format!("`{shown}` has two decimal points"))
            .map(|e| e.hint("write one decimal point and no thousands mark")),
        '-' | '\u{2010}'..='\u{2014}' | '\u{2212}' | '~' | '\u{2026}' if then_digit => {
            error("range-form", format!("`{shown}` looks like a range"))
                .map(|e| e.hint("write a range with two points: `12 .. 13 mm`"))
        }
        '/' if then_digit => error("number-fraction", format!("`{shown}` is a fraction")).map(|e| e.hint(as_decimal("0", text))),
        '*' | '\u{d7}' | '\u{b7}' if then_digit => error("number-form", format!("`{shown}` is a product"))
            .map(|e| e.hint("write a power of ten as `1.2e3`, several dimensions as several values")),
        c if c.is_ascii_digit() && spaced.trim_end() != "1" && !per_unit(spaced) => {
            let next = spaced.trim_start_matches(|c: char| c.is_ascii_digit());
            if next.starts_with('/') {
                return error("number-fraction", format!("`{shown}` goes on with a fraction"))
                    .map(|e| e.hint(as_decimal(&text[..length], spaced)));
            }
            let group = spaced.len() - next.len();
            let (code, message, hint) = if group.is_multiple_of(3) {
                (
                    "number-thousands",
                    format!("`{shown}` has spaces inside the number"),
                    format!("write `{joined}`: no thousands marks"),
                )
            } else {
                (
                    "number-form",
                    format!("`{shown}` is two numbers in a row"),
                    "write one number with one unit: `12.5 mm`".to_owned(),
                )
            };
            error(code, message).map(|e| e.hint(hint))
        }
        't' if range_word(spaced) => error("range-form", format!("`{} to` looks like a range", &text[..length]))
            .map(|e| e.hint("write a range with two points: `12 .. 13 mm`")),
        _ => None,
    }
}

/// Whether `to` and a number follow, as in `12 to 13 mm`.
fn range_word(text: &str) -> bool {
    text.strip_prefix("to ").is_some_and(|rest| rest.trim_start().starts_with(|c: char| c.is_ascii_digit()))
}

/// A whole number and a fraction such as `1/8 in` as the decimal to write.
fn as_decimal(whole: &str, fraction: &str) -> String {
    let digits = |text: &str| text.chars().take_while(char::is_ascii_digit).collect::<String>();
    let above = digits(fraction);
    let rest = fraction[above.len()..].trim_start().trim_start_matches('/').trim_start();
    let below = digits(rest);
    let unit = rest[below.len()..].split_whitespace().next().filter(|u| u.chars().all(char::is_alphabetic)).unwrap_or("in");
    match (whole.parse::<f64>(), above.parse::<f64>(), below.parse::<f64>()) {
        (Ok(whole), Ok(above), Ok(below)) if below > 0.0 => {
            let value = if whole < 0.0 { whole - above / below } else { whole + above / below };
            let rounded = (value * 1e6).round() / 1e6;
            format!("write it as a decimal: `{rounded} {unit}`")
        }
        _ => "write it as a decimal: `1.5 in`".to_owned(),
    }
}

/// Whether a unit such as `1/min` starts here, rather than a fraction such as `1/2`.
fn per_unit(text: &str) -> bool {
    text.strip_prefix("1/").is_some_and(|rest| !rest.trim_start().starts_with(|c: char| c.is_ascii_digit()))
}

/// What to say where a number is due and none starts.
pub(crate) fn no_number(text: &str, span: Range<usize>) -> QuantityError {
    if text.is_empty() {
        let start = span.start;
        return QuantityError::new("number-missing", start..start, "a number is missing here")
            .hint("write `12.5 +- 0.2 mm` or `12 .. 13 mm`");
    }
    let error = QuantityError::new("number-form", span, format!("`{text}` does not start with a number"));
    let lower = text.trim_start_matches(['+', '-', '\u{2212}']).to_lowercase();
    match text.chars().next() {
        _ if lower.starts_with("nan") || lower.starts_with("inf") || text.contains('\u{221e}') => {
            error.hint("leave the value out if it is not known")
        }
        Some('~' | '<' | '>' | '\u{2248}' | '\u{2264}' | '\u{2265}') => {
            error.hint("state a spread instead: `12 .. 13 mm` or `12.5 +- 0.5 mm`")
        }
        Some('$' | '\u{20ac}' | '\u{a3}' | '\u{a5}') => {
            error.hint("write the amount first and a currency code after it: `15 USD`")
        }
        Some(',') => error.hint("write a decimal point: `0.5`"),
        _ => error,
    }
}
