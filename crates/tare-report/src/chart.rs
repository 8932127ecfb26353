//! Charts as SVG: one drawing per width, a table of the same numbers, no scripts.
//!
//! A [`Chart`] draws itself at the width asked for, so that a narrow screen gets its own drawing instead of a shrunk one. Colours are
//! classes; [`STYLE`] gives them a value for light, dark and paper. Labels are measured and shortened, the full text is in the title
//! of the mark, which can be reached by keyboard.

mod area_map;
mod bars;
mod canvas;
mod distribution;
mod drivers;
mod frontier;
mod gains;
mod grouped;
mod label;
mod line_balance;
mod mass_balance;
mod palette;
mod pareto;
mod plane;
mod rows;
mod scale;
mod scatter;
mod shares;
#[cfg(test)]
mod tests;
mod waterfall;

pub use bars::{Bar, Bars};
pub use canvas::Frame;
pub use frontier::Frontier;
pub use gains::{Gain, Gains};
pub use grouped::{Group, Grouped};
pub use mass_balance::{Balances, Gaps};
pub use palette::{PALETTE, STYLE};
pub use pareto::Pareto;
pub(crate) use scale::group;
pub use scatter::{Scatter, Spot};
pub use shares::Shares;
pub use waterfall::Waterfall;

/// A drawing that also tells its numbers.
pub trait Chart {
    /// What the chart shows, in one line.
    fn title(&self) -> String;
    /// The drawing as one `svg` element; empty when there is nothing to draw.
    fn draw(&self, frame: &Frame<'_>) -> String;
    /// The numbers behind the drawing.
    fn table(&self) -> DataTable;
}

/// The numbers behind a drawing, as text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DataTable {
    /// Column titles.
    pub head: Vec<String>,
    /// Rows; the first cell names the row.
    pub rows: Vec<Vec<String>>,
}

impl DataTable {
    /// An empty table with these titles.
    pub(crate) fn new(head: &[&str]) -> Self {
        Self { head: head.iter().map(|h| (*h).to_owned()).collect(), rows: Vec::new() }
    }

    /// The table in words: each row with the titles of its columns.
    pub(crate) fn words(&self) -> String {
        let row = |cells: &Vec<String>| {
            let said = cells.iter().zip(&self.head).skip(1).filter(|(cell, _)| !cell.is_empty());
            let said: Vec<String> = said.map(|(cell, head)| format!("{head} {cell}")).collect();
            format!("{}: {}.", cells.first().map_or("", String::as_str), said.join(", "))
        };
        self.rows.iter().map(row).collect::<Vec<_>>().join(" ")
    }

    /// Adds a row.
    pub(crate) fn push(&mut self, cells: impl IntoIterator<Item = impl Into<String>>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }
}

/// The ground left free around a drawing that is a file of its own.
pub(crate) const MARGIN: f64 = 10.0;

/// Makes a drawing a file of its own: with the name space, its size and a margin, what it shows in words, a white ground, and a style in which every colour
/// is written out, so that programs that know neither variables nor a dark screen show the same.
pub fn standalone(svg: &str, title: &str, says: &str) -> String {
    let Some(rest) = svg.strip_prefix("<svg ") else { return String::new() };
    let Some((open, body)) = rest.split_once('>') else { return String::new() };
    let view = open.split("viewBox=\"").nth(1).and_then(|v| v.split('"').next()).unwrap_or("");
    let size: Vec<f64> = view.split(' ').filter_map(|n| n.parse().ok()).collect();
    let [_, _, width, height] = size.as_slice() else { return String::new() };
    let (width, height) = (width + 2.0 * MARGIN, height + 2.0 * MARGIN);
    let open = open.replace(&format!("viewBox=\"{view}\""), &format!("viewBox=\"-{MARGIN} -{MARGIN} {width} {height}\""));
    let (title, says) = (canvas::escape(title), canvas::escape(says));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" {open}><title>{title}</title><desc>{says}</desc>\
         <style>{}</style><rect x=\"-{MARGIN}\" y=\"-{MARGIN}\" width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>{body}",
        palette::plain_style()
    )
}
