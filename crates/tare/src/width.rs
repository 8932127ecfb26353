//! How many columns text takes on a terminal, cutting and wrapping by that.

/// Columns of one letter: none for marks that stand on another, two for wide scripts and pictures.
fn letter(c: char) -> usize {
    match u32::from(c) {
        0..=0x1f | 0x7f..=0x9f | 0x300..=0x36f | 0x200b..=0x200f | 0x202a..=0x202e | 0x2060 | 0xfe00..=0xfe0f | 0xfeff => 0,
        0x1100..=0x115f
        | 0x2e80..=0xa4cf
        | 0xac00..=0xd7a3
        | 0xf900..=0xfaff
        | 0xfe30..=0xfe6f
        | 0xff00..=0xff60
        | 0xffe0..=0xffe6 => 2,
        0x1f300..=0x1faff | 0x20000..=0x3fffd => 2,
        _ => 1,
    }
}

/// Columns a text takes.
pub(crate) fn columns(text: &str) -> usize {
    text.chars().map(letter).sum()
}

/// The text cut to so many columns, with an ellipsis where something is left out. Line breaks become blanks.
pub(crate) fn cut(text: &str, width: usize) -> String {
    let flat: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if columns(&flat) <= width {
        return flat;
    }
    let (mut out, mut used) = (String::new(), 0);
    for c in flat.chars() {
        if used + letter(c) + 1 > width {
            break;
        }
        used += letter(c);
        out.push(c);
    }
    if width > 0 {
        out.push('…');
    }
    out
}

/// Wraps text behind a first piece; further lines stand under the text.
pub(crate) fn wrap(text: &str, first: &str, width: usize) -> Vec<String> {
    let indent = " ".repeat(columns(first));
    let room = width.saturating_sub(columns(first)).max(20);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.is_empty() && columns(&line) + 1 + columns(word) > room {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    lines.push(line);
    lines.iter().enumerate().map(|(i, l)| format!("{}{l}", if i == 0 { first } else { &indent })).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_take_nothing_and_wide_letters_two() {
        assert_eq!(columns("Zelle"), 5);
        assert_eq!(columns("e\u{301}"), 1);
        assert_eq!(columns("電池"), 4);
        assert_eq!(cut("電池パック", 5), "電池…");
        assert_eq!(cut("abc", 3), "abc");
        assert_eq!(cut("abcd", 3), "ab…");
        assert_eq!(cut("a\nb", 9), "a b");
    }

    #[test]
    fn wraps_under_the_text() {
        assert_eq!(wrap("one two three four", "  - ", 24), ["  - one two three four"]);
        assert_eq!(wrap("one two three four five", "- ", 22), ["- one two three four", "  five"]);
    }
}
