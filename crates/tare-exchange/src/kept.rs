//! Text in tables that people open in a spreadsheet, save and hand back: what a spreadsheet would change is marked, and the mark is undone.
//!
//! A spreadsheet takes `1.10` for the number 1.1, `100E10` for a million millions, `5 a` for a time, `=cmd()` for a formula. Such a text is
//! written behind an apostrophe, the sign by which spreadsheets themselves know text, and so is one that begins with an apostrophe. Text with
//! letters that no table can hold safely (control characters, a carriage return) is written behind an apostrophe as a string of JSON. An
//! empty text is an apostrophe alone, since an empty cell says nothing at all.

use crate::export::is_risky;
use std::fmt::Write;

/// Writes a text as the content of a cell; [`kept_text`] gives it back unchanged.
///
/// ```
/// use tare_exchange::{keep_text, kept_text};
/// for (text, cell) in [("M5", "M5"), ("7.42 kg", "7.42 kg"), ("64", "64"), ("1.10", "'1.10"), ("=cmd()", "'=cmd()"), ("'a", "''a"), ("", "'")] {
///     assert_eq!(keep_text(text), cell);
///     assert_eq!(kept_text(cell), Ok(Some(text.to_owned())));
/// }
/// assert_eq!(kept_text(""), Ok(None));
/// ```
pub fn keep_text(text: &str) -> String {
    let change = text.is_empty() || would_change(text);
    // behind an apostrophe, a quotation mark begins a string of JSON
    if text.chars().any(is_unsafe) || (change && text.starts_with('"')) {
        return format!("'{}", json(text));
    }
    if change { format!("'{text}") } else { text.to_owned() }
}

/// The text a cell stands for; `None` for an empty cell, which says nothing.
///
/// # Errors
/// The cell begins like a string of JSON behind an apostrophe and does not read as one.
pub fn kept_text(cell: &str) -> Result<Option<String>, String> {
    if cell.is_empty() {
        return Ok(None);
    }
    let Some(marked) = cell.strip_prefix('\'') else { return Ok(Some(cell.to_owned())) };
    if marked.starts_with('"') {
        return serde_json::from_str(marked).map(Some).map_err(|e| e.to_string());
    }
    Ok(Some(marked.to_owned()))
}

/// Writes the content of a cell as a field of a table cut by commas (RFC 4180): in quotation marks where it needs them.
pub fn csv_field(content: &str) -> String {
    let edge = content.starts_with(' ') || content.ends_with(' ');
    if edge || content.contains(['"', ',', ';', '\t', '\n', '\r']) {
        format!("\"{}\"", content.replace('"', "\"\""))
    } else {
        content.to_owned()
    }
}

/// Letters that programs drop, turn into others or take for an end of line.
fn is_unsafe(letter: char) -> bool {
    (letter.is_control() && letter != '\n' && letter != '\t') || matches!(letter, '\u{feff}' | '\u{2028}' | '\u{2029}')
}

fn json(text: &str) -> String {
    let mut out = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if is_unsafe(c) => {
                let _ = write!(out, "\\u{:04x}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Words that spreadsheets of some language take for a truth value.
const TRUTH: &[&str] =
    &["true", "false", "wahr", "falsch", "vrai", "faux", "verdadero", "falso", "vero", "waar", "onwaar", "sant", "falskt"];
/// How names of months begin, in the languages of the trade's usual spreadsheets.
const MONTHS: &[&str] = &[
    "jan", "feb", "fév", "fev", "mar", "mär", "apr", "avr", "abr", "may", "mai", "mag", "jun", "jui", "giu", "jul", "lug", "aug",
    "aou", "aoû", "ago", "sep", "set", "oct", "okt", "ott", "out", "nov", "dec", "dez", "déc", "dic", "gen", "ene",
];
/// What may stand beside digits in something a spreadsheet turns into a number, a date, a time, a share or an amount of money.
const BESIDE: &[&str] = &["", "e", "d", "a", "p", "am", "pm", "t", "z", "tz", "st", "nd", "rd", "th"];

/// Whether a spreadsheet that opens the text as its language and settings may have it would make something else of it. Rather too often
/// than too seldom: a needless apostrophe does no harm.
fn would_change(text: &str) -> bool {
    let bare = text.trim();
    if bare.len() != text.len() && (text.starts_with(char::is_whitespace) || bare.is_empty()) {
        return true;
    }
    let Some(first) = bare.chars().next() else { return true };
    if first == '#' || is_risky(text) {
        return true;
    }
    let digits = bare.bytes().filter(u8::is_ascii_digit).count();
    if digits == bare.len() {
        // a whole number comes back as it went, as long as it is short and does not begin with a nought
        return bare.len() > 15 || (bare.len() > 1 && bare.starts_with('0'));
    }
    let lower = bare.to_lowercase();
    if bare.chars().count() > 60 {
        return false;
    }
    if TRUTH.contains(&lower.as_str()) {
        return true;
    }
    let word: String = lower.chars().filter(|c| c.is_alphabetic()).collect();
    if digits > 0 && MONTHS.iter().any(|month| word.starts_with(month)) {
        return true;
    }
    if digits == 0 {
        return false;
    }
    let rest: String = bare.chars().filter(|c| !c.is_numeric() && !c.is_whitespace() && !" .,:/-+%'’()٫٬".contains(*c)).collect();
    let currency = rest.len() == 3 && rest.bytes().all(|b| b.is_ascii_uppercase());
    if first.is_alphabetic() {
        return currency && bare.chars().nth(3).is_some_and(char::is_whitespace);
    }
    let money = rest.chars().count() == 1 && !rest.is_ascii() || rest == "$" || currency;
    money || BESIDE.contains(&rest.to_lowercase().as_str())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_a_spreadsheet_would_change_is_marked() {
        for text in [
            "1.10",
            "007",
            "100E10",
            "1e5",
            "1,5",
            "12:30",
            "3/4",
            "2026-03-02",
            "2 EUR",
            "18.40 EUR",
            "70 %",
            "5 a",
            "20000 1/a",
            "+1",
            "-2",
            "@x",
            " =1",
            "\u{202e}=1",
            "\t=1",
            "TRUE",
            "wahr",
            "MAR1",
            "Sept 2",
            "1234567890123456",
            "€ 5",
            "5 €",
            "#N/A",
            "'",
            "＝1",
            "1.",
            ".5",
            "(3)",
            " ",
            "1-2",
        ] {
            assert!(keep_text(text).starts_with('\''), "{text}");
        }
        for text in [
            "7.42 kg",
            "64",
            "0",
            "M5",
            "0.80 +- 0.02 mm",
            "24 EUR/h",
            "P1.1",
            "cover",
            "電池",
            "لوحة",
            "steel-DC04",
            "18 x 3",
            "-",
        ] {
            assert_eq!(keep_text(text) == text, text != "-", "{text}");
        }
        assert_eq!(keep_text("a\r\nb\0"), "'\"a\\u000d\\nb\\u0000\"");
        assert_eq!(keep_text("\"MAR1"), "'\"\\\"MAR1\"");
        assert!(kept_text("'\"a").is_err());
        assert_eq!(kept_text("''\"a"), Ok(Some("'\"a".to_owned())));
        assert_eq!(csv_field("a,\"b\""), "\"a,\"\"b\"\"\"");
    }

    proptest! {
        #[test]
        fn any_text_comes_back(text in "(?s).{0,12}|['\"=+@0-9a \n\r\t]{0,8}|\"?(mar|true|1.1)[\"0-9]?") {
            let cell = keep_text(&text);
            prop_assert!(!cell.chars().any(is_unsafe), "{cell:?}");
            prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', ' ']), "{cell:?}");
            prop_assert_eq!(kept_text(&cell), Ok(Some(text)));
        }
    }
}
