//! Largest first, with the running share.

use super::bars::{Bar, class, shorten};
use super::canvas::{Canvas, Frame};
use super::rows::{NARROW, Rows, key, with_range};
use super::scale::{Scale, TICK};
use super::{Chart, DataTable};

/// Bars from the largest down, and a line of the running share of the sum.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pareto {
    /// What the chart shows.
    pub title: String,
    /// Unit of the bars.
    pub unit: String,
    /// The rows in any order.
    pub rows: Vec<Bar>,
    /// How many rows to draw; the rest are drawn as one. 0 draws all.
    pub most: usize,
    /// Where rows have a share of their own: the words for that share and for the rest.
    pub parts: Option<(String, String)>,
}

impl Pareto {
    /// Rows from the largest down, with the small ones taken together.
    fn ranked(&self) -> Vec<Bar> {
        let mut rows: Vec<Bar> = self.rows.iter().filter(|r| r.value.number.is_finite()).cloned().collect();
        rows.sort_by(|a, b| b.value.number.total_cmp(&a.value.number));
        shorten(&mut rows, self.most, &self.unit);
        rows
    }

    /// Running shares of the ranked rows, from 0 to 1; empty when there is no positive sum.
    fn running(rows: &[Bar]) -> Vec<f64> {
        let sum: f64 = rows.iter().map(|r| r.value.number).sum();
        if sum.is_nan() || sum <= 0.0 {
            return Vec::new();
        }
        let mut at = 0.0;
        rows.iter()
            .map(|r| {
                at += r.value.number;
                at / sum
            })
            .collect()
    }
}

impl Chart for Pareto {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let rows = self.ranked();
        if rows.is_empty() {
            return String::new();
        }
        // where values stand above the bars there is no room for a line across them; the table behind the chart has the shares
        let running = if frame.width < NARROW { Vec::new() } else { Self::running(&rows) };
        let labels: Vec<String> = rows.iter().map(|r| r.label.clone()).collect();
        let values: Vec<String> = rows.iter().map(|r| r.value.text.clone()).collect();
        let mut canvas = Canvas::new(frame);
        let entries = self.parts.iter().flat_map(|(own, rest)| [("c1 edge", own), ("c2 edge", rest)]);
        let entries: Vec<_> = entries.map(|(class, words)| (class.to_owned(), words.clone())).collect();
        let head = key(&mut canvas, frame.width, 0.0, &entries);
        let top = head + if running.is_empty() { 4.0 } else { 34.0 };
        let places = Rows::new(frame, &labels, &values, top);
        let scale = Scale::with_zero(rows.iter().map(|r| r.value.number), places.x0, places.x1);
        places.axis(&mut canvas, &scale, &self.unit);
        let share_x = |share: f64| places.x0 + share.clamp(0.0, 1.0) * (places.x1 - places.x0);
        if !running.is_empty() {
            canvas.centred(f64::midpoint(places.x0, places.x1), head + 11.0, TICK, "tick", "line: running share of the sum");
            for (share, text) in [(0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")] {
                canvas.centred(share_x(share), head + 28.0, TICK, "tick", text);
            }
        }
        for (i, row) in rows.iter().enumerate() {
            let share = running.get(i).map_or(String::new(), |s| format!("; {:.0} % with all above", s * 100.0));
            canvas.open(&format!("{}: {}{share}", row.label, with_range(&row.value)), row.value.link.as_deref());
            places.texts(&mut canvas, i, &row.label, &row.value.text, "label");
            let (zero, x) = (scale.x(0.0), scale.x(row.value.number));
            match row.own.filter(|own| own.is_finite() && self.parts.is_some()).map(|own| scale.x(own.min(row.value.number))) {
                Some(own) => {
                    canvas.rect(own, places.y(i) - Rows::HALF, x - own, 2.0 * Rows::HALF, "c2 edge");
                    canvas.rect(zero, places.y(i) - Rows::HALF, own - zero, 2.0 * Rows::HALF, class(row));
                }
                None => canvas.rect(zero, places.y(i) - Rows::HALF, x - zero, 2.0 * Rows::HALF, class(row)),
            }
            canvas.close();
        }
        let points: Vec<(f64, f64)> = running.iter().enumerate().map(|(i, s)| (share_x(*s), places.y(i))).collect();
        canvas.path(&points, "sum");
        for (x, y) in points {
            canvas.dot(x, y, 2.6, "point");
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let rows = Self { most: 0, ..self.clone() }.ranked();
        let running = Self::running(&rows);
        let mut table = DataTable::new(&["", "value", "running share"]);
        for (i, row) in rows.iter().enumerate() {
            let share = running.get(i).map_or(String::new(), |s| format!("{:.1} %", s * 100.0));
            table.push([row.label.clone(), row.value.text.clone(), share]);
        }
        table
    }
}
