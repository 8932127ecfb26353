//! How often each value came out.

use super::canvas::{Canvas, Frame};
use super::label;
use super::scale::{Scale, TICK};
use super::{Chart, DataTable};
use crate::Distribution;

/// Height of the bars.
const HIGH: f64 = 150.0;
/// Height of one line of mark labels.
const LANE: f64 = 15.0;

impl Distribution {
    /// Marks to draw: label, value, link, and whether it is the stated value.
    fn lines(&self) -> Vec<(String, f64, Option<&str>, bool)> {
        let point = self.point.iter().map(|p| (format!("stated {}", p.text), p.number, p.link.as_deref(), true));
        let marks =
            self.marks.iter().map(|m| (format!("{} {}", m.label, m.value.text), m.value.number, m.value.link.as_deref(), false));
        let mut lines: Vec<_> = marks.chain(point).filter(|l| l.1.is_finite()).collect();
        lines.sort_by(|a, b| a.1.total_cmp(&b.1));
        lines
    }
}

impl Chart for Distribution {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let bins: Vec<_> = self.bins.iter().filter(|b| b.low.is_finite() && b.high > b.low && b.count >= 0.0).collect();
        if bins.is_empty() {
            return String::new();
        }
        let width = frame.width.max(160.0);
        let scale = Scale::over(bins.iter().flat_map(|b| [b.low, b.high]), 8.0, width - 8.0);
        let mut lanes: Vec<f64> = Vec::new();
        let mut placed = Vec::new();
        for (text, value, link, point) in self.lines() {
            let half = label::width(&text, TICK) / 2.0;
            let x = scale.x(value).clamp(half, (width - half).max(half));
            let lane = lanes.iter().position(|end| *end + 8.0 <= x - half).unwrap_or(lanes.len());
            if lane == lanes.len() {
                lanes.push(0.0);
            }
            lanes[lane] = x + half;
            placed.push((text, value, link, point, x, half, lane));
        }
        let top = LANE * lanes.len() as f64 + 6.0;
        let bottom = top + HIGH;
        // touching bins of unequal width are drawn by density, so that areas compare
        let density = |b: &crate::Bin| b.count / (b.high - b.low);
        let most = bins.iter().map(|b| density(b)).fold(0.0, f64::max).max(f64::MIN_POSITIVE);
        let total: f64 = bins.iter().map(|b| b.count).sum();
        let mut canvas = Canvas::new(frame);
        for tick in scale.ticks() {
            let text = scale.tick_text(tick);
            canvas.line((scale.x(tick), top), (scale.x(tick), bottom), "grid");
            canvas.centred(scale.x(tick), bottom + 14.0, TICK, "tick", &text);
        }
        canvas.centred(width / 2.0, bottom + 30.0, TICK, "tick", &self.unit);
        for b in bins {
            let share = if total > 0.0 { format!(", {:.1} %", b.count / total * 100.0) } else { String::new() };
            canvas.open(&format!("{} to {}: {} draws{share}", number(b.low), number(b.high), b.count), None);
            let h = density(b) / most * HIGH;
            canvas.rect(scale.x(b.low), bottom - h, scale.x(b.high) - scale.x(b.low), h, "c1 edge");
            canvas.close();
        }
        canvas.line((8.0, bottom), (width - 8.0, bottom), "zero");
        for (_, value, _, point, .., lane) in &placed {
            let base = LANE * *lane as f64 + 15.0;
            canvas.line((scale.x(*value), base), (scale.x(*value), bottom), if *point { "whisker" } else { "takt" });
        }
        for (text, _, link, point, x, half, lane) in placed {
            // the line of a mark above runs behind the words
            canvas.rect(x - half - 2.0, LANE * lane as f64, 2.0 * half + 4.0, LANE - 1.0, "ground");
            canvas.open(&text, link);
            let class = if point { "tick strong halo" } else { "tick halo" };
            canvas.centred(x, LANE * lane as f64 + 11.0, TICK, class, &text);
            canvas.close();
        }
        canvas.finish(bottom + 38.0, &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["from", "to", "draws"]);
        for b in &self.bins {
            table.push([number(b.low), number(b.high), number(b.count)]);
        }
        for (text, ..) in self.lines() {
            table.push([text.as_str(), "", ""]);
        }
        table
    }
}

fn number(x: f64) -> String {
    tare_units::show(x, &tare_units::Unit::plain(), 4)
}
