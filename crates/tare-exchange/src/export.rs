//! Text for tables that other programs open.

/// Letters that begin a formula in some spreadsheet, with those that a spreadsheet or a conversion takes for them: full-width and small forms, the
/// minus sign.
const FORMULA: [char; 14] = [
    '=', '+', '-', '@', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}', '\u{fe66}', '\u{fe62}', '\u{fe63}', '\u{fe6b}',
    '\u{2212}', '\u{207c}',
];

/// Writes a text as one CSV field that stays text.
///
/// A spreadsheet takes a field that begins with `=`, `+`, `-`, `@` or one of their look-alikes, blanks and marks before it left aside, for a
/// formula; an apostrophe before it keeps it text. A text that begins with an apostrophe gets another, so that [`read_csv_text`] is exact.
/// Separators, quotation marks and line ends are quoted. Numbers are not written through this function.
///
/// ```
/// assert_eq!(tare_exchange::write_csv_text("=1+2"), "'=1+2");
/// assert_eq!(tare_exchange::write_csv_text("a;\"b\""), "\"a;\"\"b\"\"\"");
/// assert_eq!(tare_exchange::write_csv_text("M5"), "M5");
/// ```
pub fn write_csv_text(text: &str) -> String {
    let guarded = if is_risky(text) { format!("'{text}") } else { text.to_owned() };
    if guarded.contains(['"', ',', ';', '\t', '|', '\n', '\r']) {
        format!("\"{}\"", guarded.replace('"', "\"\""))
    } else {
        guarded
    }
}

/// The text that a field (its quotes taken away) was written from.
///
/// ```
/// assert_eq!(tare_exchange::read_csv_text("'=1+2"), "=1+2");
/// assert_eq!(tare_exchange::read_csv_text("''tis"), "'tis");
/// assert_eq!(tare_exchange::read_csv_text("M5"), "M5");
/// ```
pub fn read_csv_text(field: &str) -> &str {
    field.strip_prefix('\'').unwrap_or(field)
}

/// Whether some spreadsheet would take a text for a formula, or for the mark that keeps text from being one.
pub(crate) fn is_risky(text: &str) -> bool {
    let first = text.chars().next();
    let rest = text.trim_start_matches(is_passed_over);
    first.is_some_and(|c| c == '\'' || c.is_control()) || rest.starts_with(FORMULA)
}

/// Blanks, controls and marks without width, before which a formula may hide.
fn is_passed_over(c: char) -> bool {
    c.is_whitespace()
        || c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_looks_like_a_formula_is_guarded_and_reads_back() {
        let risky = [
            "=cmd()",
            "+1",
            "-1",
            "@A1",
            "\t=1",
            "\r=1",
            "\n=1",
            " =1",
            "\u{a0}=1",
            "\u{200b}=1",
            "\u{feff}=1",
            "\u{202e}=1",
            "\u{2067}+1",
            "\0=1",
            "\u{ff1d}1",
            "\u{ff0b}1",
            "\u{ff0d}1",
            "\u{ff20}A1",
            "\u{2212}1",
            "\u{fe66}1",
            "'=1",
            "'",
            "\tplain",
            " \u{200f} =1",
        ];
        for text in risky {
            let field = write_csv_text(text);
            assert!(field.trim_start_matches('"').starts_with('\''), "{text:?}: {field:?}");
            let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(field.as_bytes());
            let read = reader.records().next().expect("a line").expect("a record");
            assert_eq!((read.len(), read_csv_text(&read[0])), (1, text));
        }
        for plain in ["M5", "a=b", "3 - 4", " plain", "\u{5d0}", "a'b", ""] {
            assert!(!write_csv_text(plain).starts_with('\''), "{plain:?}");
        }
    }
}
