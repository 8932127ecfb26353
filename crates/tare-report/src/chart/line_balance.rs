//! Stations of a line against the takt.

use super::canvas::{Canvas, Frame};
use super::label::SIZE;
use super::rows::Rows;
use super::scale::Scale;
use super::{Chart, DataTable};
use crate::LineBalance;

impl Chart for LineBalance {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let stations: Vec<_> = self.stations.iter().filter(|s| s.work.number.is_finite()).collect();
        if stations.is_empty() {
            return String::new();
        }
        let labels: Vec<String> = stations.iter().map(|s| s.name.clone()).collect();
        let values: Vec<String> = stations.iter().map(|s| s.work.text.clone()).collect();
        let places = Rows::new(frame, &labels, &values, 24.0);
        let takt = self.takt.number;
        let known = takt.is_finite() && takt > 0.0;
        let ends = stations.iter().map(|s| s.work.number).chain(known.then_some(takt));
        let scale = Scale::with_zero(ends, places.x0, places.x1);
        let mut canvas = Canvas::new(frame);
        places.axis(&mut canvas, &scale, "seconds per product at each station");
        for (i, station) in stations.iter().enumerate() {
            let over = known && station.work.number > takt;
            let words = if over { ", more than the takt" } else { "" };
            let does = if station.does.is_empty() { String::new() } else { format!(" ({})", station.does) };
            canvas.open(&format!("{}{does}: {}{words}", station.name, station.work.text), station.work.link.as_deref());
            places.texts(&mut canvas, i, &station.name, &station.work.text, if over { "label strong" } else { "label" });
            let (zero, x) = (scale.x(0.0), scale.x(station.work.number));
            let class = if over { "c4 edge" } else { "c1 edge" };
            canvas.rect(zero, places.y(i) - Rows::HALF, x - zero, 2.0 * Rows::HALF, class);
            canvas.close();
        }
        if known {
            let x = scale.x(takt);
            let text = format!("takt {}", self.takt.text);
            canvas.open(&text, self.takt.link.as_deref());
            canvas.line((x, 18.0), (x, places.bottom()), "takt");
            canvas.centred(x, 12.0, SIZE, "strong", &text);
            canvas.close();
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["station", "work", "operators", "paid"]);
        for s in &self.stations {
            let paid = s.paid.as_ref().map_or("", |p| p.text.as_str());
            table.push([s.name.as_str(), s.work.text.as_str(), s.operators.as_str(), paid]);
        }
        table
    }
}
