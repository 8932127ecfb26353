//! Tables that fit the terminal: one column gives way, numbers stand right.

use crate::output::Output;
use crate::width::{columns, cut};

/// A table being filled.
pub(crate) struct Table {
    heads: Vec<Head>,
    rows: Vec<Vec<String>>,
}

struct Head {
    title: String,
    right: bool,
    /// Whether it is cut when the table is too wide; the widest such column gives way first.
    gives: bool,
}

impl Table {
    /// A table with titles; `>` before a title sets its column right, `~` lets it be cut.
    pub(crate) fn new(titles: &[&str]) -> Self {
        let head = |t: &&str| Head {
            title: t.trim_start_matches(['>', '~']).to_owned(),
            right: t.starts_with('>'),
            gives: t.starts_with('~'),
        };
        Self { heads: titles.iter().map(head).collect(), rows: Vec::new() }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Prints it; columns in which nothing stands are left out.
    pub(crate) fn print(&self, output: &Output) {
        for line in self.lines(output.width) {
            output.line(line);
        }
    }

    fn lines(&self, width: usize) -> Vec<String> {
        let shown: Vec<usize> =
            (0..self.heads.len()).filter(|c| self.rows.iter().any(|r| r.get(*c).is_some_and(|t| !t.is_empty()))).collect();
        let mut widths: Vec<usize> = shown
            .iter()
            .map(|c| {
                self.rows
                    .iter()
                    .filter_map(|r| r.get(*c))
                    .map(|t| columns(t))
                    .max()
                    .unwrap_or(0)
                    .max(columns(&self.heads[*c].title))
            })
            .collect();
        let gaps = 2 * shown.len().saturating_sub(1);
        while widths.iter().sum::<usize>() + gaps > width {
            let widest =
                |give: bool| (0..shown.len()).filter(|i| self.heads[shown[*i]].gives || !give).max_by_key(|i| widths[*i]);
            let Some(at) = widest(true).filter(|i| widths[*i] > 8).or_else(|| widest(false)).filter(|i| widths[*i] > 4) else {
                break;
            };
            widths[at] -= 1;
        }
        let line = |cell: &dyn Fn(usize) -> String| {
            let mut out = String::new();
            for (i, column) in shown.iter().enumerate() {
                let text = cut(&cell(*column), widths[i]);
                let gap = " ".repeat(widths[i].saturating_sub(columns(&text)));
                if self.heads[*column].right {
                    out.push_str(&gap);
                    out.push_str(&text);
                } else {
                    out.push_str(&text);
                    out.push_str(&gap);
                }
                out.push_str("  ");
            }
            out.trim_end().to_owned()
        };
        let mut lines = vec![line(&|c| self.heads[c].title.clone())];
        let rule: usize = widths.iter().sum::<usize>() + gaps;
        lines.push("-".repeat(rule.min(width)));
        lines.extend(self.rows.iter().map(|row| line(&|c| row.get(c).cloned().unwrap_or_default())));
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_to_the_width_and_cuts_where_allowed() {
        let mut table = Table::new(&["label", "~name", ">kg", "empty"]);
        table.row(["P1".into(), "A very long name that does not fit into the line".into(), "12.5".into(), String::new()]);
        table.row(["P2".into(), "電池".into(), "7".into(), String::new()]);
        let lines = table.lines(40);
        assert!(lines.iter().all(|l| columns(l) <= 40), "{lines:#?}");
        assert_eq!(lines[2], "P1     A very long name that does…  12.5");
        assert_eq!(lines[3], "P2     電池                            7");
        assert!(!lines[0].contains("empty"));
    }
}
