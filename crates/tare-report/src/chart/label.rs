//! How wide a text is, and how to shorten it.

/// Height of ordinary chart text.
pub(crate) const SIZE: f64 = 12.0;

/// How much wider than the common sans fonts the widest of them sets its letters; the reader's font is not known.
const WIDEST: f64 = 1.08;

/// How much wider than plain letters bold ones are.
pub(crate) const BOLD: f64 = 1.13;

/// Width of a text at a font size, as the widest of the usual fonts sets it.
pub(crate) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(advance).sum::<f64>() * size * WIDEST
}

/// Width of a character in units of the font size.
fn advance(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | '\u{202f}' => 0.29,
        ' ' | 'f' | 't' | 'r' | '(' | ')' | '[' | ']' | '/' | '-' | '\u{a0}' => 0.37,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '\u{2026}' => 0.9,
        'A'..='Z' => 0.7,
        '0'..='9' => 0.585,
        c if u32::from(c) >= 0x1100 => 1.05,
        _ => 0.575,
    }
}

/// The text if it fits, otherwise its beginning with an ellipsis; empty when not even two letters fit.
pub(crate) fn fit(text: &str, room: f64, size: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let mut left = room - width("\u{2026}", size);
    let mut out = String::new();
    for c in text.chars() {
        left -= advance(c) * size * WIDEST;
        if left < 0.0 {
            break;
        }
        out.push(c);
    }
    let kept = out.trim_end().len();
    out.truncate(kept);
    if out.chars().count() < 2 {
        return String::new();
    }
    out.push('\u{2026}');
    out
}

/// Two texts with a comma between; where both do not fit, the longer gives way first.
pub(crate) fn pair(first: &str, second: &str, room: f64, size: f64) -> String {
    if second.is_empty() {
        return fit(first, room, size);
    }
    let left = room - width(", ", size);
    let second = fit(second, left - width(first, size).min(left * 0.55), size);
    let first = fit(first, left - width(&second, size), size);
    match (first.is_empty(), second.is_empty()) {
        (true, _) => second,
        (false, true) => first,
        (false, false) => format!("{first}, {second}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_two_texts_both_are_told() {
        let (name, place) = ("Seam welded and sealed: drop the bead", "finding Dry corner under module 3");
        for room in [0.0, 40.0, 120.0, 200.0, 300.0] {
            assert!(width(&pair(name, place, room, SIZE), SIZE) <= room, "{room}");
        }
        assert!(pair(name, "J7", 180.0, SIZE).ends_with(", J7"), "a short place stays whole");
        let both = pair(name, place, 240.0, SIZE);
        assert!(both.starts_with("Seam welded") && both.contains(", finding D"), "{both}");
        assert_eq!(pair(name, place, 1000.0, SIZE), format!("{name}, {place}"));
    }

    #[test]
    fn shortened_text_fits() {
        let text = "Busbar carrier, upper, glass-filled polyamide, 12 inserts";
        for room in [0.0, 10.0, 25.0, 80.0, 200.0, 1000.0] {
            let shown = fit(text, room, SIZE);
            assert!(width(&shown, SIZE) <= room, "{shown:?} in {room}");
            assert!(shown.is_empty() || shown == text || shown.ends_with('\u{2026}'));
        }
        assert_eq!(fit(text, 1000.0, SIZE), text);
        assert_eq!(fit("Größe 電池 ", 30.0, SIZE).chars().last(), Some('\u{2026}'));
    }
}
