//! What moves a result most: bars to both sides of the base.

use super::canvas::{Canvas, Frame};
use super::label::SIZE;
use super::rows::{Rows, key};
use super::scale::Scale;
use super::{Chart, DataTable};
use crate::Drivers;

impl Chart for Drivers {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let usable = |r: &&crate::Driver| r.at_low.number.is_finite() && r.at_high.number.is_finite();
        let rows: Vec<_> = self.rows.iter().filter(usable).collect();
        if rows.is_empty() || !self.base.number.is_finite() {
            return String::new();
        }
        let mut canvas = Canvas::new(frame);
        let entries = [("c5 edge", "input at its low end"), ("c2 edge", "input at its high end")];
        let entries: Vec<_> = entries.iter().map(|(c, t)| ((*c).to_owned(), (*t).to_owned())).collect();
        let mut top = key(&mut canvas, frame.width, 0.0, &entries);
        let base_text = format!("base {}", self.base.text);
        let base_y = top + 14.0;
        top += 22.0;
        let labels: Vec<String> = rows.iter().map(|r| r.input.clone()).collect();
        let values: Vec<String> = rows.iter().map(|r| format!("{} \u{2192} {}", r.at_low.text, r.at_high.text)).collect();
        let places = Rows::new(frame, &labels, &values, top);
        let ends = rows.iter().flat_map(|r| [r.at_low.number, r.at_high.number]).chain([self.base.number]);
        let scale = Scale::over(ends, places.x0, places.x1);
        places.axis(&mut canvas, &scale, &self.unit);
        let base = scale.x(self.base.number);
        for (i, row) in rows.iter().enumerate() {
            canvas.open(&format!("{} ({}): {}", row.input, row.interval, values[i]), row.link.as_deref());
            places.texts(&mut canvas, i, &row.input, &values[i], "label");
            for (end, class) in [(&row.at_low, "c5 edge"), (&row.at_high, "c2 edge")] {
                canvas.rect(base, places.y(i) - Rows::HALF, scale.x(end.number) - base, 2.0 * Rows::HALF, class);
            }
            canvas.close();
        }
        canvas.line((base, top - 4.0), (base, places.bottom()), "whisker");
        canvas.centred(base, base_y, SIZE, "strong", &base_text);
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["input", "interval", "result at low", "result at high"]);
        for row in &self.rows {
            table.push([row.input.as_str(), row.interval.as_str(), row.at_low.text.as_str(), row.at_high.text.as_str()]);
        }
        table
    }
}
