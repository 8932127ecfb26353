//! Strings and keys of TOML on one line.

use std::fmt::Write;

/// A basic string. Letters that programs drop or take for an end of line are written by their number.
pub(crate) fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() || matches!(c, '\u{feff}' | '\u{2028}' | '\u{2029}') => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A key, in quotes where it is no plain name.
pub(crate) fn key(word: &str) -> String {
    let plain = !word.is_empty() && word.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-');
    if plain { word.to_owned() } else { quoted(word) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_reads_back() {
        for text in ["", "a", "=cmd()", "\"\\", "a\r\n\tb", "\0\u{7f}\u{85}", "\u{feff}\u{2028}\u{2029}", "電池 كابل"] {
            let table: toml::Table = format!("{} = {}", key(text), quoted(text)).parse().expect("TOML");
            assert_eq!(table[text].as_str(), Some(text), "{text:?}");
        }
    }
}
