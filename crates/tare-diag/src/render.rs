//! Plain text of a message, with the offending line underlined.

use crate::{Diag, Place};
use std::fmt::Write;

/// Letters of a line that are shown, at most.
const SHOWN: usize = 160;
/// Letters shown before the place in a line that is longer.
const BEFORE: usize = 40;

/// Line and column (both from 1, the column in characters) of a byte offset.
pub fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    let start = text[..offset].rfind('\n').map_or(0, |i| i + 1);
    (text[..start].matches('\n').count() + 1, text[start..offset].chars().count() + 1)
}

/// Renders a message as plain text. `source` gives the text of a file by name, where it has it.
pub fn render<'a>(diag: &Diag, source: impl Fn(&str) -> Option<&'a str>) -> String {
    let mut out = format!("{}[{}]: {}\n", diag.severity.word(), diag.code, diag.message);
    if let Some(place) = &diag.place {
        excerpt(&mut out, place, &source);
    }
    for (place, why) in &diag.related {
        let _ = writeln!(out, "  note: {why}");
        excerpt(&mut out, place, &source);
    }
    for hint in &diag.hints {
        let _ = writeln!(out, "  help: {hint}");
    }
    out
}

fn excerpt<'a>(out: &mut String, place: &Place, source: &impl Fn(&str) -> Option<&'a str>) {
    let (Place::Span { file, span }, text) = (place, place_file(place).and_then(source)) else {
        let _ = writeln!(out, "  --> {place}");
        return;
    };
    let Some(text) = text else {
        let _ = writeln!(out, "  --> {place}");
        return;
    };
    let (line, column) = line_and_column(text, span.start);
    let shown = text.lines().nth(line - 1).unwrap_or("");
    let (end_line, end_column) = line_and_column(text, span.end.max(span.start));
    let width = if end_line == line {
        end_column.saturating_sub(column)
    } else {
        shown.chars().count() + 1 - column.min(shown.chars().count() + 1)
    };
    let (shown, before, width) = around(shown, column - 1, width);
    let number = line.to_string();
    let gap = " ".repeat(number.len());
    let _ = writeln!(out, "{gap} --> {file}:{line}:{column}");
    let _ = writeln!(out, "{gap} |\n{number} | {shown}");
    let _ = writeln!(out, "{gap} | {}{}", " ".repeat(before), "^".repeat(width.max(1)));
}

/// The part of a line around `width` letters behind `before` others, with what is then before them and how many of them are shown: a line of a
/// machine may be longer than a screen.
fn around(line: &str, before: usize, width: usize) -> (String, usize, usize) {
    let letters = line.chars().count();
    if letters <= SHOWN {
        return (line.to_owned(), before, width);
    }
    let from = before.saturating_sub(BEFORE).min(letters - SHOWN);
    let part: String = line.chars().skip(from).take(SHOWN).collect();
    let (left, right) = (if from > 0 { "..." } else { "" }, if from + SHOWN < letters { "..." } else { "" });
    let inside = before - from.min(before);
    let width = width.min(SHOWN.saturating_sub(inside));
    (format!("{left}{part}{right}"), left.len() + inside, width)
}

fn place_file(place: &Place) -> Option<&str> {
    match place {
        Place::Span { file, .. } => Some(file),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn underlines_the_offending_text() {
        let d = Diag::error("unknown-name", "no input named `densty`")
            .at(Place::span("a.toml", 8..14))
            .hint("did you mean `density`?");
        let shown = render(&d, |_| Some("x = 1\ny=densty*2\n"));
        let expected = "error[unknown-name]: no input named `densty`\n  --> a.toml:2:3\n  |\n2 | y=densty*2\n  |   ^^^^^^\n  help: did you mean `density`?\n";
        assert_eq!(shown, expected);
    }

    #[test]
    fn of_a_long_line_the_part_around_the_place_is_shown() {
        let shown = |source: &str, span| {
            let all = render(&Diag::error("x", "y").at(Place::span("f", span)), |_| Some(source));
            all.lines().skip(3).map(str::to_owned).collect::<Vec<_>>()
        };
        let long = format!("{}WRONG{}", "ä".repeat(5_000), "b".repeat(5_000));
        let lines = shown(&long, 10_000..10_005);
        assert!(lines.iter().all(|line| line.chars().count() < 180), "{lines:?}");
        let at = lines[0].find("WRONG").map(|at| lines[0][..at].chars().count());
        assert_eq!(at, lines[1].find('^'), "{lines:?}");
        assert_eq!(lines[1].matches('^').count(), 5);
        // a place as long as the line, and one at its end
        assert!(shown(&long, 0..15_005)[1].matches('^').count() <= 160);
        assert!(shown(&long, 15_004..15_005)[0].ends_with('b'));
        assert_eq!(shown(&long, 15_005..15_005)[1].matches('^').count(), 1);
    }

    #[test]
    fn an_offset_past_the_end_or_inside_a_letter_is_no_panic() {
        assert_eq!(line_and_column("aä", 2), (1, 2));
        assert_eq!(line_and_column("a\n", 99), (2, 1));
        let d = Diag::error("x", "y").at(Place::span("f", 50..90));
        assert!(render(&d, |_| Some("ä")).contains("f:1:2"));
    }
}
