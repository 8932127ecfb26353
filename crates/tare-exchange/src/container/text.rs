//! Text files with a separator: comma, semicolon, tab or bar; ragged rows and lone inch marks are taken as they are.

use crate::book::{Cell, Sheet};
use crate::limits;
use tare_diag::{Diag, Place};

const SEPARATORS: [char; 4] = [';', '\t', ',', '|'];

/// Splits text into the cells of one sheet.
pub(crate) fn read(file: &str, text: &str, remarks: &mut Vec<Diag>) -> Result<(Sheet, char), Vec<Diag>> {
    let (separator, body) = named_separator(text).map_or_else(|| (separator(text), text), |(s, rest)| (s, rest));
    let skipped = u32::from(body.len() != text.len());
    let mut cells = Vec::new();
    let mut widths: Vec<(u32, u32, usize)> = Vec::new();
    let mut scanner = Scanner { text: body, at: 0, separator };
    let mut row = skipped;
    let mut cut = None;
    while scanner.at < body.len() {
        let mut column = 0u32;
        let mut last_filled = 0;
        loop {
            let (mut field, end) = scanner.field();
            if !field.trim().is_empty() {
                last_filled = column + 1;
                if limits::cut_text(&mut field) {
                    cut.get_or_insert((row, column));
                }
                if cells.len() >= limits::CELLS {
                    let place = Place::cell(file, None, row as usize, column as usize);
                    return Err(vec![super::xlsx::too_many_cells(place)]);
                }
                cells.push(Cell::text(row, column, field));
            }
            column = column.saturating_add(1);
            if end {
                break;
            }
        }
        widths.push((row, column, last_filled as usize));
        row = row.saturating_add(1);
    }
    if let Some((row, column)) = cut {
        let message = format!("a text longer than {} bytes was cut", limits::CELL_BYTES);
        remarks.push(Diag::warning("text-cut", message).at(Place::cell(file, None, row as usize, column as usize)));
    }
    ragged(file, &widths, remarks);
    Ok((Sheet::new("", false, cells, Vec::new()), separator))
}

/// Some programs write the separator into a first line of its own: `sep=;`.
fn named_separator(text: &str) -> Option<(char, &str)> {
    let rest = text.get(..4).filter(|s| s.eq_ignore_ascii_case("sep="))?;
    let rest = &text[rest.len()..];
    let separator = rest.chars().next()?;
    let after = rest[separator.len_utf8()..].trim_start_matches('\r');
    Some((separator, after.strip_prefix('\n')?))
}

/// The separator that cuts most lines into the same number of fields.
fn separator(text: &str) -> char {
    let mut best = (0usize, ',');
    for candidate in SEPARATORS {
        let mut scanner = Scanner { text, at: 0, separator: candidate };
        let mut counts = std::collections::BTreeMap::new();
        let (mut lines, mut fields) = (0usize, 0usize);
        while scanner.at < text.len() && lines < 200 && scanner.at < 400_000 {
            let (mut width, mut filled) = (0usize, false);
            loop {
                let (field, end) = scanner.field();
                width += 1;
                filled |= !field.is_empty();
                if end {
                    break;
                }
            }
            if filled {
                *counts.entry(width).or_insert(0usize) += 1;
                lines += 1;
                fields += width;
            }
        }
        // Most lines alike weighs most; the number of fields breaks ties, so that decimal commas lose against semicolons.
        let alike = counts.iter().filter(|(w, _)| **w > 1).map(|(_, n)| *n).max().unwrap_or(0);
        let score = alike * 1000 / lines.max(1) * 100 + (fields * 10 / lines.max(1)).min(99);
        if alike > 0 && score > best.0 {
            best = (score, candidate);
        }
    }
    // Without any filled line the most frequent mark decides.
    let frequent = || SEPARATORS.into_iter().rev().max_by_key(|c| text.matches(*c).take(100).count()).unwrap_or(',');
    if best.0 == 0 { frequent() } else { best.1 }
}

fn ragged(file: &str, widths: &[(u32, u32, usize)], remarks: &mut Vec<Diag>) {
    let mut counts = std::collections::BTreeMap::new();
    for (_, width, filled) in widths {
        if *filled > 0 {
            *counts.entry(*width).or_insert(0usize) += 1;
        }
    }
    let Some((usual, n)) = counts.iter().max_by_key(|(_, n)| **n).map(|(w, n)| (*w, *n)) else { return };
    if usual < 2 || n * 2 < widths.len() {
        return;
    }
    let odd: Vec<&(u32, u32, usize)> = widths.iter().filter(|(_, w, filled)| *filled > 1 && *w != usual).collect();
    for (row, width, _) in odd.iter().take(limits::MESSAGES) {
        let message = format!("found {width} fields where the other lines have {usual}; the cells were taken in order");
        remarks.push(
            Diag::warning("row-ragged", message)
                .at(Place::cell(file, None, *row as usize, width.min(&usual).saturating_sub(1) as usize))
                .hint("look for a separator inside a text without quotation marks"),
        );
    }
    if odd.len() > limits::MESSAGES {
        let message = format!("{} more lines have a different number of fields", odd.len() - limits::MESSAGES);
        remarks.push(Diag::warning("row-ragged", message).at(Place::File(file.to_owned())));
    }
}

struct Scanner<'a> {
    text: &'a str,
    at: usize,
    separator: char,
}

impl Scanner<'_> {
    /// The next field and whether it ends its row.
    fn field(&mut self) -> (String, bool) {
        let rest = &self.text[self.at..];
        if rest.starts_with('"')
            && let Some((field, length)) = quoted(rest, self.separator)
            && !self.lone_mark(&rest[..length])
        {
            self.at += length;
            return (field, self.end());
        }
        let separator = self.separator;
        let length = rest.find([separator, '\n', '\r']).unwrap_or(rest.len());
        self.at += length;
        (rest[..length].to_owned(), self.end())
    }

    /// Whether a quoted text over several lines is really a lone inch mark: read literally, its line and the next one both have as many
    /// fields as the first line of the file.
    fn lone_mark(&self, quoted: &str) -> bool {
        if !quoted.contains('\n') {
            return false;
        }
        let width = |line: &str| line.matches(self.separator).count();
        let titles = self.text.lines().next().unwrap_or("");
        let usual = width(titles);
        if titles.contains('"') {
            return false;
        }
        let start = self.text[..self.at].rfind('\n').map_or(0, |i| i + 1);
        let mut lines = self.text[start..].lines();
        if lines.clone().next().is_none_or(|l| l.matches('"').count() != 1) {
            return false;
        }
        usual > 0 && start > 0 && lines.next().map(width) == Some(usual) && lines.next().map(width) == Some(usual)
    }

    /// Steps over a separator or a line end; tells whether the row ended.
    fn end(&mut self) -> bool {
        let rest = &self.text[self.at..];
        let Some(c) = rest.chars().next() else { return true };
        self.at += c.len_utf8();
        if c == '\r' && rest[1..].starts_with('\n') {
            self.at += 1;
        }
        c != self.separator
    }
}

/// Reads a quoted field; `None` if the mark is a lone inch mark: no closing mark stands before a separator or line end within reach.
fn quoted(text: &str, separator: char) -> Option<(String, usize)> {
    let mut out = String::new();
    let mut rest = &text[1..];
    let mut lines = 0;
    loop {
        let i = rest.find('"')?;
        lines += rest[..i].matches('\n').count();
        if lines > 200 || out.len() + i > 4 * limits::CELL_BYTES {
            return None;
        }
        out.push_str(&rest[..i]);
        rest = &rest[i + 1..];
        if let Some(after) = rest.strip_prefix('"') {
            out.push('"');
            rest = after;
            continue;
        }
        let ends = rest.is_empty() || rest.starts_with([separator, '\n', '\r']);
        if ends {
            return Some((out, text.len() - rest.len()));
        }
        // A mark in the middle: inside one line it may be an inch mark in a quoted text, over lines it is none.
        if lines > 0 {
            return None;
        }
        out.push('"');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(text: &str) -> Vec<(u32, u32, String)> {
        let (sheet, _) = read("t.csv", text, &mut Vec::new()).expect("reads");
        sheet.cells.into_iter().map(|c| (c.row, c.column, c.text)).collect()
    }

    #[test]
    fn a_lone_inch_mark_does_not_swallow_the_file() {
        let seen = cells("Name;Size;Qty\nPipe;\" nominal 2;3\nRod;1/4\";4\n\"a \"\"b\"\"\";\"x;y\";5\n");
        assert!(seen.contains(&(1, 1, "\" nominal 2".to_owned())), "{seen:?}");
        assert!(seen.contains(&(2, 1, "1/4\"".to_owned())));
        assert!(seen.contains(&(3, 0, "a \"b\"".to_owned())));
        assert!(seen.contains(&(3, 1, "x;y".to_owned())));
        assert!(seen.contains(&(3, 2, "5".to_owned())));
    }

    #[test]
    fn the_separator_is_told_from_the_lines() {
        for (text, want) in [
            ("a;b\n1,5;2,5\n3,5;4,5\n", ';'),
            ("a,b,c\n1,2,3\n", ','),
            ("a\tb, c\n1\t2\n", '\t'),
            ("a|b\n1|2\n", '|'),
            ("sep=;\na;b\n", ';'),
        ] {
            assert_eq!(read("t", text, &mut Vec::new()).expect("reads").1, want, "{text}");
        }
    }
}
