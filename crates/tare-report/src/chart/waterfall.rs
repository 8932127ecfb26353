//! Steps that add up to totals.

use super::canvas::{Canvas, Frame};
use super::rows::{Rows, with_range};
use super::scale::Scale;
use super::{Chart, DataTable};
use crate::{CostStep, StepKind};

/// Steps from left to right, each beginning where the one before ended.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Waterfall {
    /// What the chart shows.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// Steps and totals in order.
    pub steps: Vec<CostStep>,
}

impl Waterfall {
    /// From where to where each step runs. A total runs from zero to its stated value, and the next step begins there.
    pub fn runs(&self) -> Vec<(f64, f64)> {
        let mut at = 0.0;
        self.steps
            .iter()
            .map(|step| {
                let value = if step.value.number.is_finite() { step.value.number } else { 0.0 };
                let from = if step.kind == StepKind::Total { 0.0 } else { at };
                at = from + value;
                (from, at)
            })
            .collect()
    }

    /// The totals whose steps do not add up to them within one part in a thousand: label, sum of steps, stated total.
    pub fn open_totals(&self) -> Vec<(&str, f64, f64)> {
        let mut at = 0.0;
        let mut largest: f64 = 0.0;
        let mut open = Vec::new();
        let mut any = false;
        for step in &self.steps {
            let value = if step.value.number.is_finite() { step.value.number } else { 0.0 };
            largest = largest.max(value.abs());
            if step.kind == StepKind::Total {
                if any && (value - at).abs() > 1e-3 * largest {
                    open.push((step.label.as_str(), at, value));
                }
                at = value;
            } else {
                at += value;
            }
            any = true;
        }
        open
    }
}

impl Chart for Waterfall {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        if self.steps.is_empty() {
            return String::new();
        }
        let labels: Vec<String> = self.steps.iter().map(|s| s.label.clone()).collect();
        let values: Vec<String> = self.steps.iter().map(|s| s.value.text.clone()).collect();
        let places = Rows::new(frame, &labels, &values, 4.0);
        let runs = self.runs();
        let scale = Scale::with_zero(runs.iter().flat_map(|(a, b)| [*a, *b]), places.x0, places.x1);
        let mut canvas = Canvas::new(frame);
        places.axis(&mut canvas, &scale, &self.unit);
        for (i, (step, (from, to))) in self.steps.iter().zip(&runs).enumerate() {
            let share = if step.share.is_empty() { String::new() } else { format!(", {}", step.share) };
            canvas.open(&format!("{}: {}{share}", step.label, with_range(&step.value)), step.value.link.as_deref());
            let total = step.kind == StepKind::Total;
            places.texts(&mut canvas, i, &step.label, &step.value.text, if total { "label strong" } else { "label" });
            let class = match (total, to < from) {
                (true, _) => "total",
                (false, true) => "c4",
                (false, false) => "c1",
            };
            let (x, w) = (scale.x(*from), scale.x(*to) - scale.x(*from));
            canvas.rect(x, places.y(i) - Rows::HALF, w, 2.0 * Rows::HALF, &format!("{class} edge"));
            canvas.close();
            if i + 1 < runs.len() {
                let x = scale.x(*to);
                canvas.line((x, places.y(i) + Rows::HALF), (x, places.y(i + 1) - Rows::HALF), "join");
            }
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["", "amount", "share", "kind"]);
        for step in &self.steps {
            let kind = if step.kind == StepKind::Total { "total" } else { "step" };
            table.push([step.label.as_str(), step.value.text.as_str(), step.share.as_str(), kind]);
        }
        table
    }
}
