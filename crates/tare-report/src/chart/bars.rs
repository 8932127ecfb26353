//! Horizontal bars with whiskers for their ranges.

use super::canvas::{Canvas, Frame};
use super::rows::{Rows, with_range};
use super::scale::{self, Scale};
use super::{Chart, DataTable};
use crate::Figure;

/// Bars from zero, one per row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bars {
    /// What the chart shows.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// The rows in order.
    pub rows: Vec<Bar>,
    /// How many rows to draw; those after them are drawn as one. 0 draws all.
    pub most: usize,
}

/// One bar.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bar {
    /// Name.
    pub label: String,
    /// Value, with or without range.
    pub value: Figure,
    /// A share of the value that is drawn darker, in the same unit.
    pub own: Option<f64>,
    /// More words for the title of the mark, such as a share.
    pub note: String,
}

/// Takes the rows after the first `most` together, so that a drawing stays readable.
pub(crate) fn shorten(rows: &mut Vec<Bar>, most: usize, unit: &str) {
    if most == 0 || rows.len() <= most + 1 {
        return;
    }
    let rest = rows.split_off(most);
    rows.push(Bar {
        label: format!("{} others", rest.len()),
        value: together(rest.iter().map(|r| &r.value), unit),
        note: TOGETHER.to_owned(),
        own: rest.iter().any(|r| r.own.is_some()).then(|| rest.iter().map(|r| r.own.unwrap_or(r.value.number)).sum()),
    });
}

/// Several figures of one unit as one.
pub(crate) fn together<'f>(figures: impl Iterator<Item = &'f Figure>, unit: &str) -> Figure {
    let sum: f64 = figures.map(|f| f.number).filter(|n| n.is_finite()).sum();
    let decimals = if sum.abs() < 100.0 { 2 } else { 0 };
    // `EUR per product` is read as an amount of EUR
    let unit = unit.split(" per ").next().unwrap_or_default();
    // signs as figures have them
    let number = scale::group(&format!("{sum:.decimals$}")).replace('\u{2212}', "-");
    Figure::new(sum, format!("{number} {unit}").trim_end())
}

/// Marks the row of [`shorten`].
pub(crate) const TOGETHER: &str = "taken together";

/// The class of a bar.
pub(crate) fn class(bar: &Bar) -> &'static str {
    match (bar.note == TOGETHER, bar.value.number < 0.0) {
        (true, _) => "c8 edge",
        (false, true) => "c4 edge",
        (false, false) => "c1 edge",
    }
}

impl Chart for Bars {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let mut rows: Vec<Bar> = self.rows.iter().filter(|r| r.value.number.is_finite()).cloned().collect();
        shorten(&mut rows, self.most, &self.unit);
        if rows.is_empty() {
            return String::new();
        }
        let labels: Vec<String> = rows.iter().map(|r| r.label.clone()).collect();
        let values: Vec<String> = rows.iter().map(|r| r.value.text.clone()).collect();
        let places = Rows::new(frame, &labels, &values, 4.0);
        let ends = rows.iter().flat_map(|r| {
            let range = r.value.range.as_ref();
            [r.value.number, range.map_or(f64::NAN, |g| g.low), range.map_or(f64::NAN, |g| g.high)]
        });
        let scale = Scale::with_zero(ends, places.x0, places.x1);
        let mut canvas = Canvas::new(frame);
        places.axis(&mut canvas, &scale, &self.unit);
        for (i, row) in rows.iter().enumerate() {
            let note = if row.note.is_empty() { String::new() } else { format!("; {}", row.note) };
            canvas.open(&format!("{}: {}{note}", row.label, with_range(&row.value)), row.value.link.as_deref());
            places.texts(&mut canvas, i, &row.label, &row.value.text, "label");
            let (zero, x, y) = (scale.x(0.0), scale.x(row.value.number), places.y(i));
            canvas.rect(zero, y - Rows::HALF, x - zero, 2.0 * Rows::HALF, class(row));
            if let Some(range) = row.value.range.as_ref().filter(|r| r.low.is_finite() && r.high.is_finite()) {
                places.whisker(&mut canvas, i, scale.x(range.low), scale.x(range.high));
            }
            canvas.close();
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["", "value", "range", "remark"]);
        for row in &self.rows {
            let range = row.value.range.as_ref().map_or("", |r| r.text.as_str());
            table.push([row.label.as_str(), row.value.text.as_str(), range, row.note.as_str()]);
        }
        table
    }
}
