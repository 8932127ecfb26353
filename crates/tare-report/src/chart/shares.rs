//! Shares of a whole, one stacked bar per row.

use super::canvas::{Canvas, Frame, Side};
use super::label;
use super::rows::{Rows, key};
use super::scale::Scale;
use super::{Chart, DataTable, palette};
use crate::EvidenceBar;

/// Stacked bars, each share given from 0 to 1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shares {
    /// What the chart shows.
    pub title: String,
    /// One bar per row.
    pub rows: Vec<EvidenceBar>,
}

/// The order in which evidence is drawn, firmest first; other classes follow as they come.
const ORDER: [&str; 5] = ["measured", "derived", "handbook", "quoted", "assumed"];

impl Shares {
    /// All classes in the order of drawing.
    fn classes(&self) -> Vec<&str> {
        let mut classes: Vec<&str> = Vec::new();
        let named = self.rows.iter().flat_map(|r| r.shares.iter().map(|(c, _)| c.as_str()));
        let named: Vec<&str> = named.collect();
        for class in ORDER.into_iter().filter(|o| named.contains(o)).chain(named.iter().copied()) {
            if !classes.contains(&class) {
                classes.push(class);
            }
        }
        classes
    }
}

/// Colour of a class: the same on every chart of evidence.
fn colour(class: &str, n: usize) -> String {
    match ORDER.iter().position(|o| *o == class) {
        // blue, sky blue, bluish green, orange, vermilion: firm is cool, weak is warm
        Some(i) => ["c1", "c5", "c3", "c2", "c4"][i].to_owned(),
        None => palette::class(if n.is_multiple_of(2) { 5 } else { 6 }),
    }
}

fn percent(share: f64) -> String {
    if share > 0.0 && share < 0.01 { "<1 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}

impl Chart for Shares {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let classes = self.classes();
        if classes.is_empty() {
            return String::new();
        }
        let mut canvas = Canvas::new(frame);
        let entries: Vec<(String, String)> =
            classes.iter().enumerate().map(|(n, c)| (format!("{} edge", colour(c, n)), (*c).to_owned())).collect();
        let top = key(&mut canvas, frame.width, 0.0, &entries) + 4.0;
        let labels: Vec<String> = self.rows.iter().map(|r| r.label.clone()).collect();
        let places = Rows::new(frame, &labels, &vec![String::new(); labels.len()], top);
        let scale = Scale::over([0.0, 100.0], places.x0, places.x1);
        places.axis(&mut canvas, &scale, "% of the result's relative change");
        for (i, row) in self.rows.iter().enumerate() {
            places.texts(&mut canvas, i, &row.label, "", "label");
            let mut at = 0.0;
            for (n, class) in classes.iter().enumerate() {
                let share: f64 = row.shares.iter().filter(|(c, s)| c == class && s.is_finite() && *s > 0.0).map(|(_, s)| s).sum();
                if share <= 0.0 {
                    continue;
                }
                let (x, end) = (scale.x(at * 100.0), scale.x((at + share) * 100.0));
                at += share;
                let text = percent(share);
                canvas.open(&format!("{}: {text} {class}", row.label), None);
                let colour = colour(class, n);
                canvas.rect(x, places.y(i) - 8.0, end - x, 16.0, &format!("{colour} edge"));
                if label::width(&text, 11.0) + 6.0 <= end - x {
                    let on = if matches!(colour.as_str(), "c1") { "on-dark" } else { "on-light" };
                    canvas.text(f64::midpoint(x, end), places.y(i) + 4.0, Side::Middle, on, &text);
                }
                canvas.close();
            }
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let classes = self.classes();
        let mut table = DataTable::new(&[&["result"][..], &classes[..]].concat());
        for row in &self.rows {
            let share = |c: &&str| row.shares.iter().find(|(k, _)| k == c).map_or(String::new(), |(_, s)| percent(*s));
            table.push(std::iter::once(row.label.clone()).chain(classes.iter().map(share)));
        }
        table
    }
}
