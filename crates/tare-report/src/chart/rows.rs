//! The frame that row charts share: labels left, marks in the middle, values right, axis below.

use super::canvas::{Canvas, Frame, Side};
use super::label::{self, BOLD, SIZE};
use super::scale::{Scale, TICK};

/// Below this width a label stands above its bar instead of beside it.
pub(crate) const NARROW: f64 = 480.0;
/// Height of the axis with its ticks and its unit.
pub(crate) const AXIS: f64 = 38.0;

/// Places of the rows of a chart.
pub(crate) struct Rows {
    width: f64,
    narrow: bool,
    label_room: f64,
    /// Left end of the marks.
    pub(crate) x0: f64,
    /// Right end of the marks.
    pub(crate) x1: f64,
    top: f64,
    pitch: f64,
    count: usize,
}

impl Rows {
    /// Lays out rows with these labels and values; `top` is left free above.
    pub(crate) fn new(frame: &Frame<'_>, labels: &[String], values: &[String], top: f64) -> Self {
        let width = frame.width.max(160.0);
        let widest = |texts: &[String]| texts.iter().map(|t| label::width(t, SIZE)).fold(0.0, f64::max);
        let narrow = width < NARROW;
        let (label_room, x0, x1) = if narrow {
            let value_room = widest(values).min(width * 0.55);
            (width - value_room - 10.0, 6.0, width - 8.0)
        } else {
            let value_room = widest(values).min(width * 0.34);
            // short values leave long names more room; any name may be the bold one
            let label_room = (widest(labels) * BOLD).min((width * 0.6 - value_room).max(width * 0.4));
            (label_room, label_room + 12.0, width - value_room - 12.0)
        };
        Self { width, narrow, label_room, x0, x1, top, pitch: if narrow { 41.0 } else { 24.0 }, count: labels.len() }
    }

    /// Half the height of a bar.
    pub(crate) const HALF: f64 = 7.0;

    /// The middle of the marks of a row.
    pub(crate) fn y(&self, row: usize) -> f64 {
        // a chart has far fewer rows than would lose precision here
        self.top + self.pitch * row as f64 + if self.narrow { 28.0 } else { 12.0 }
    }

    /// The lower end of the rows.
    pub(crate) fn bottom(&self) -> f64 {
        self.top + self.pitch * self.count as f64 + 4.0
    }

    /// The height of the whole chart.
    pub(crate) fn height(&self) -> f64 {
        self.bottom() + AXIS
    }

    /// Draws label and value of a row, and the area that reacts to the pointer.
    pub(crate) fn texts(&self, canvas: &mut Canvas<'_>, row: usize, name: &str, value: &str, class: &str) {
        let base = if self.narrow { self.y(row) - 13.0 } else { self.y(row) + 4.0 };
        let above = if self.narrow { 28.0 } else { 12.0 };
        canvas.rect(1.0, self.y(row) - above, self.width - 2.0, self.pitch - 1.0, "hit");
        let (x, side) = if self.narrow { (0.0, Side::Start) } else { (self.label_room, Side::End) };
        let size = if class.contains("strong") { SIZE * BOLD } else { SIZE };
        canvas.text(x, base, side, &format!("{class} halo"), &label::fit(name, self.label_room, size));
        let room = if self.narrow { self.width - self.label_room - 10.0 } else { self.width - self.x1 - 12.0 };
        canvas.text(self.width, base, Side::End, &format!("{class} halo"), &label::fit(value, room + 0.5, SIZE));
    }

    /// The label of a row of two texts, both still to be told.
    pub(crate) fn pair(&self, name: &str, place: &str) -> String {
        label::pair(name, place, self.label_room, SIZE)
    }

    /// Draws grid, ticks and unit.
    pub(crate) fn axis(&self, canvas: &mut Canvas<'_>, scale: &Scale, unit: &str) {
        axis(canvas, scale, unit, (self.x0, self.x1), (self.top, self.bottom()));
    }

    /// Draws a whisker between two places of a row.
    pub(crate) fn whisker(&self, canvas: &mut Canvas<'_>, row: usize, low: f64, high: f64) {
        whisker(canvas, self.y(row), low, high);
    }
}

/// Draws upright grid lines, ticks and unit between two sides, from a top to a bottom.
pub(crate) fn axis(canvas: &mut Canvas<'_>, scale: &Scale, unit: &str, (x0, x1): (f64, f64), (top, bottom): (f64, f64)) {
    for tick in scale.ticks() {
        let x = scale.x(tick);
        canvas.line((x, top), (x, bottom), line_class(scale, tick));
        canvas.centred(x, bottom + 14.0, TICK, "tick", &scale.tick_text(tick));
    }
    canvas.centred(f64::midpoint(x0, x1), bottom + 30.0, TICK, "tick", unit);
}

/// The class of the grid line at a tick.
pub(crate) fn line_class(scale: &Scale, tick: f64) -> &'static str {
    if tick.abs() < 1e-12 * scale.high.abs().max(scale.low.abs()) { "zero" } else { "grid" }
}

/// Draws a level whisker at a height, on a strip of the ground so that it is seen on any bar.
pub(crate) fn whisker(canvas: &mut Canvas<'_>, y: f64, low: f64, high: f64) {
    canvas.line((low - 1.2, y), (high + 1.2, y), "under");
    for x in [low, high] {
        canvas.line((x, y - 5.0), (x, y + 5.0), "under");
    }
    canvas.line((low, y), (high, y), "whisker");
    for x in [low, high] {
        canvas.line((x, y - 4.0), (x, y + 4.0), "whisker");
    }
}

/// Draws a key of colours from the left edge, in as many lines as needed; returns the height used.
pub(crate) fn key(canvas: &mut Canvas<'_>, width: f64, top: f64, entries: &[(String, String)]) -> f64 {
    let (mut x, mut y) = (0.0, top + 11.0);
    for (class, text) in entries {
        let text = label::fit(text, width - 20.0, SIZE);
        let need = 16.0 + label::width(&text, SIZE);
        if x > 0.0 && x + need > width {
            x = 0.0;
            y += 18.0;
        }
        canvas.rect(x + 0.5, y - 9.5, 10.0, 10.0, class);
        canvas.text(x + 16.0, y, Side::Start, "key", &text);
        x += need + 14.0;
    }
    if entries.is_empty() { 0.0 } else { y - top + 9.0 }
}

/// A value with its range in brackets.
pub(crate) fn with_range(figure: &crate::Figure) -> String {
    match &figure.range {
        Some(range) if !range.text.is_empty() => format!("{}, range {}", figure.text, range.words()),
        _ => figure.text.clone(),
    }
}
