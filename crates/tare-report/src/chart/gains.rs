//! What each of several changes saves: bars to both sides of zero, none of which may be added to another.

use super::canvas::{Canvas, Frame};
use super::rows::{Rows, with_range};
use super::scale::Scale;
use super::{Chart, DataTable};
use crate::Figure;

/// Bars of savings, the largest first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gains {
    /// What the chart shows.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// The changes in any order.
    pub rows: Vec<Gain>,
    /// How many to draw; those whose values and ranges stay nearest to zero are only counted. 0 draws all.
    pub most: usize,
}

/// What one change saves.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gain {
    /// What it is.
    pub label: String,
    /// Where.
    pub place: String,
    /// The saving at the stated values, with or without range.
    pub value: Figure,
    /// Mean of the draws.
    pub mean: Option<Figure>,
    /// More words for the title of the mark.
    pub note: String,
}

impl Gain {
    /// How far from zero its value or its range goes.
    fn reach(&self) -> f64 {
        let range = self.value.range.as_ref();
        let ends = [Some(self.value.number), range.map(|r| r.low), range.map(|r| r.high)];
        ends.into_iter().flatten().filter(|x| x.is_finite()).map(f64::abs).fold(0.0, f64::max)
    }
}

impl Gains {
    /// The rows that are drawn, the largest saving first, and how many are not.
    fn drawn(&self, most: usize) -> (Vec<&Gain>, usize) {
        let mut rows: Vec<&Gain> = self.rows.iter().filter(|r| r.value.number.is_finite()).collect();
        let mut left = 0;
        // a fold of one or two would save nothing
        if most > 0 && rows.len() > most + 2 {
            rows.sort_by(|a, b| b.reach().total_cmp(&a.reach()));
            left = rows.len() - most;
            rows.truncate(most);
        }
        rows.sort_by(|a, b| b.value.number.total_cmp(&a.value.number));
        (rows, left)
    }
}

impl Chart for Gains {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let (rows, left) = self.drawn(self.most);
        if rows.is_empty() {
            return String::new();
        }
        let full = |r: &&Gain| if r.place.is_empty() { r.label.clone() } else { format!("{}, {}", r.label, r.place) };
        let mut labels: Vec<String> = rows.iter().map(full).collect();
        let mut values: Vec<String> = rows.iter().map(|r| r.value.text.clone()).collect();
        if left > 0 {
            labels.push(format!("{left} more, nearer to zero"));
            values.push(String::new());
        }
        let places = Rows::new(frame, &labels, &values, 4.0);
        let ends = rows.iter().flat_map(|r| {
            let range = r.value.range.as_ref();
            let mean = r.mean.as_ref().map_or(f64::NAN, |m| m.number);
            [r.value.number, mean, range.map_or(f64::NAN, |g| g.low), range.map_or(f64::NAN, |g| g.high)]
        });
        let scale = Scale::with_zero(ends, places.x0, places.x1);
        let mut canvas = Canvas::new(frame);
        places.axis(&mut canvas, &scale, &self.unit);
        for (i, row) in rows.iter().enumerate() {
            let mean = row.mean.as_ref().map_or(String::new(), |m| format!("; mean of the draws {}", m.text));
            let note = if row.note.is_empty() { String::new() } else { format!("; {}", row.note) };
            canvas.open(&format!("{}: {}{mean}{note}", labels[i], with_range(&row.value)), row.value.link.as_deref());
            places.texts(&mut canvas, i, &places.pair(&row.label, &row.place), &row.value.text, "label");
            let (zero, x, y) = (scale.x(0.0), scale.x(row.value.number), places.y(i));
            let class = if row.value.number < 0.0 { "c4 edge" } else { "c1 edge" };
            canvas.rect(zero, y - Rows::HALF, x - zero, 2.0 * Rows::HALF, class);
            if let Some(range) = row.value.range.as_ref().filter(|r| r.low.is_finite() && r.high.is_finite()) {
                places.whisker(&mut canvas, i, scale.x(range.low), scale.x(range.high));
            }
            if let Some(mean) = row.mean.as_ref().filter(|m| m.number.is_finite()) {
                canvas.dot(scale.x(mean.number), y, 3.2, "point");
            }
            canvas.close();
        }
        if left > 0 {
            places.texts(&mut canvas, rows.len(), &labels[rows.len()], "", "soft");
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["", "where", "saving", "range", "mean of the draws", "remark"]);
        for row in self.drawn(0).0 {
            let range = row.value.range.as_ref().map_or("", |r| r.text.as_str());
            let mean = row.mean.as_ref().map_or("", |m| m.text.as_str());
            table.push([row.label.as_str(), row.place.as_str(), row.value.text.as_str(), range, mean, row.note.as_str()]);
        }
        table
    }
}
