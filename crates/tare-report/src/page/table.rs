//! Tables that read well on paper, on a wide screen, and as cards on a narrow one.

use maud::{Markup, html};
use std::borrow::Cow;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Names the row.
    Name,
    /// Running text.
    Text,
    /// A short word that does not break.
    Word,
    /// A number, set right.
    Number,
}

impl Kind {
    fn class(self) -> &'static str {
        match self {
            Self::Name => "k-name",
            Self::Text => "k-text",
            Self::Word => "k-word",
            Self::Number => "k-num",
        }
    }
}

/// One row in the making.
#[derive(Default)]
struct Row {
    id: Option<String>,
    class: String,
    level: Option<u32>,
    cells: Vec<Markup>,
}

/// A table in the making; columns without any content are left off.
pub(crate) struct Table {
    caption: String,
    class: &'static str,
    columns: Vec<(Cow<'static, str>, Kind)>,
    rows: Vec<Row>,
    /// How many rows are shown before the rest is folded; 0 folds nothing.
    first: usize,
}

impl Table {
    pub(crate) fn new(caption: impl Into<String>, columns: &[(&'static str, Kind)]) -> Self {
        Self::of(caption, columns.iter().map(|(title, kind)| (Cow::Borrowed(*title), *kind)).collect())
    }

    /// A table whose columns are known only when it is filled.
    pub(crate) fn of(caption: impl Into<String>, columns: Vec<(Cow<'static, str>, Kind)>) -> Self {
        Self { caption: caption.into(), class: "", columns, rows: Vec::new(), first: 0 }
    }

    /// Folds the rows after the first so many; totals stay, and paper shows everything.
    pub(crate) fn first(mut self, rows: usize) -> Self {
        self.first = rows;
        self
    }

    /// Gives the table a class of its own.
    pub(crate) fn class(mut self, class: &'static str) -> Self {
        self.class = class;
        self
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: Vec<Markup>) {
        self.rows.push(Row { cells, ..Row::default() });
    }

    /// Adds a row with a class, such as `total`.
    pub(crate) fn row_as(&mut self, class: &str, cells: Vec<Markup>) {
        self.rows.push(Row { class: class.to_owned(), cells, ..Row::default() });
    }

    /// Adds a row of a tree.
    pub(crate) fn branch(&mut self, id: Option<String>, class: &str, level: u32, cells: Vec<Markup>) {
        self.rows.push(Row { id, class: class.to_owned(), level: Some(level), cells });
    }

    /// The table, or the words when it has no rows.
    pub(crate) fn or_words(self, words: &str) -> Markup {
        if self.rows.is_empty() {
            html! { p.none { (words) } }
        } else {
            self.html()
        }
    }

    /// The table.
    pub(crate) fn html(self) -> Markup {
        let used: Vec<bool> = (0..self.columns.len())
            .map(|c| c == 0 || self.rows.iter().any(|r| r.cells.get(c).is_some_and(|m| !m.0.is_empty())))
            .collect();
        let count = used.iter().filter(|u| **u).count();
        let texts = self.columns.iter().zip(&used).filter(|((_, kind), used)| **used && *kind == Kind::Text).count();
        let mut class = self.class.to_owned();
        // few columns do not gain from the whole width, nor from being turned into cards on a narrow screen
        if count <= 4 {
            class.push_str(" slim");
        }
        class.push_str(if count <= 3 || (count == 4 && texts == 0) { " keep" } else { " cards" });
        // a short table is not split on paper
        if self.rows.len() <= 10 {
            class.push_str(" short");
        }
        let (totals, rows): (Vec<&Row>, Vec<&Row>) = self.rows.iter().partition(|r| r.class == "total");
        // folding away two or three rows would save nothing
        let shown = if self.first > 0 && rows.len() > self.first + 3 { self.first } else { rows.len() };
        let (rows, rest) = rows.split_at(shown);
        let columns = || self.columns.iter().enumerate().filter(|(c, _)| used[*c]);
        let line = |row: &Row| {
            html! {
                tr id=[row.id.as_deref()] class=[(!row.class.is_empty()).then_some(row.class.as_str())] data-level=[row.level] role="row" {
                    @for (c, (title, kind)) in columns() {
                        @let cell = row.cells.get(c);
                        @let empty = cell.is_none_or(|m| m.0.is_empty());
                        @if c == 0 {
                            th.(kind.class()) scope="row" role="rowheader" { @if let Some(cell) = cell { (cell) } }
                        } @else if empty {
                            td.(kind.class()).empty role="cell" {}
                        } @else {
                            td.(kind.class()) role="cell" data-h=(title) { @if let Some(cell) = cell { (cell) } }
                        }
                    }
                }
            }
        };
        let table = html! {
            div.scroll tabindex="0" role="region" aria-label=(self.caption) {
                table.grid.(class) role="table" {
                    caption { (super::finish::table()) (self.caption) }
                    thead role="rowgroup" {
                        tr role="row" {
                            @for (_, (title, kind)) in columns() { th.(kind.class()) scope="col" role="columnheader" { (title) } }
                        }
                    }
                    @if !rows.is_empty() { tbody role="rowgroup" { @for row in rows { (line(row)) } } }
                    @if !rest.is_empty() { tbody.rest role="rowgroup" { @for row in rest { (line(row)) } } }
                    @if !totals.is_empty() { tbody role="rowgroup" { @for row in totals { (line(row)) } } }
                }
            }
        };
        if rest.is_empty() {
            return table;
        }
        // a box to tick needs no script, keeps the columns in line, and a browser that does not know the rule shows all rows
        html! {
            div.fold-rows {
                (table)
                label.more { input type="checkbox" autocomplete="off"; " Show the other " (rest.len()) " rows" }
            }
        }
    }
}

/// A cell of plain text.
pub(crate) fn text(words: impl AsRef<str>) -> Markup {
    html! { (words.as_ref()) }
}
