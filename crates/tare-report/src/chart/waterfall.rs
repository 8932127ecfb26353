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
    /// Whether the axis need not begin at zero, because the steps are small beside the totals; totals are then drawn as points.
    pub near: bool,
}

impl Waterfall {
    /// Takes the steps between the totals after the first `most` together, so that the drawing stays readable and still closes.
    #[must_use]
    pub fn shortened(mut self, most: usize) -> Self {
        let adds = |s: &CostStep| s.kind == StepKind::Add;
        if self.steps.iter().filter(|s| adds(s)).count() <= most + 1 {
            return self;
        }
        let mut kept = 0;
        let mut rest: Vec<CostStep> = Vec::new();
        let mut steps: Vec<CostStep> = Vec::new();
        let last = self.steps.iter().rposition(adds);
        for (at, step) in self.steps.into_iter().enumerate() {
            if !adds(&step) {
                steps.push(step);
                continue;
            }
            kept += 1;
            if kept <= most {
                steps.push(step)
            } else {
                rest.push(step)
            }
            if Some(at) == last {
                let mut together = super::bars::together(rest.iter().map(|s| &s.value), &self.unit);
                // steps that are told with their sign
                if together.number > 0.0 && rest.iter().any(|s| s.value.text.starts_with('+')) {
                    together.text.insert(0, '+');
                }
                steps.push(CostStep { label: format!("{} others", rest.len()), value: together, ..CostStep::default() });
            }
        }
        self.steps = steps;
        self
    }

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
        let ends = runs.iter().flat_map(|(a, b)| [*a, *b]);
        let reached = runs.iter().map(|(_, b)| *b);
        let scale =
            if self.near { Scale::over(reached, places.x0, places.x1) } else { Scale::with_zero(ends, places.x0, places.x1) };
        // a bar from an axis that does not begin at zero would tell a wrong length
        let points = self.near && (scale.low > 0.0 || scale.high < 0.0);
        let mut canvas = Canvas::new(frame);
        let unit = if points { format!("{}; the axis does not begin at zero", self.unit) } else { self.unit.clone() };
        places.axis(&mut canvas, &scale, &unit);
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
            if total && points {
                let (x, y) = (scale.x(*to), places.y(i));
                canvas.line((x, y - Rows::HALF), (x, y + Rows::HALF), "whisker");
                canvas.dot(x, y, 4.5, "full");
            } else {
                let (x, w) = (scale.x(*from), scale.x(*to) - scale.x(*from));
                canvas.rect(x, places.y(i) - Rows::HALF, w, 2.0 * Rows::HALF, &format!("{class} edge"));
            }
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
