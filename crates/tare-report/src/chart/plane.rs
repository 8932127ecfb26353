//! The frame of charts with two axes: numbers to the right and upwards, and places for names beside points.

use super::canvas::{Canvas, Frame, Side};
use super::label::{self, SIZE};
use super::rows::line_class;
use super::scale::{Scale, TICK};

/// Room above the drawing for what the upright axis shows.
const TOP: f64 = 26.0;
/// Room below for the ticks and the unit of the level axis.
const FOOT: f64 = 42.0;

/// A box that holds a text or a point: left, right, top, bottom.
type Taken = (f64, f64, f64, f64);

/// Two axes and what stands between them.
pub(crate) struct Plane {
    width: f64,
    right: Scale,
    up: Scale,
    left: f64,
    bottom: f64,
    end: f64,
    taken: Vec<Taken>,
    avoided: Vec<(f64, f64)>,
}

impl Plane {
    /// Lays out the axes for these numbers.
    pub(crate) fn new(frame: &Frame<'_>, level: impl IntoIterator<Item = f64>, upright: impl IntoIterator<Item = f64>) -> Self {
        let width = frame.width.max(160.0);
        let height = (width * 0.42).clamp(200.0, 330.0);
        let up = Scale::upright(upright, height);
        let ticks = up.ticks().iter().map(|t| label::width(&up.tick_text(*t), TICK)).fold(0.0, f64::max);
        let (left, end) = ((ticks + 8.0).min(width * 0.4), width - 14.0);
        Self {
            width,
            right: Scale::close(level, left, end),
            up,
            left,
            bottom: TOP + height,
            end,
            taken: Vec::new(),
            avoided: Vec::new(),
        }
    }

    /// The place of a pair of numbers.
    pub(crate) fn at(&self, level: f64, upright: f64) -> (f64, f64) {
        (self.right.x(level), self.bottom - self.up.x(upright))
    }

    /// The right end of the level axis.
    pub(crate) fn end(&self) -> f64 {
        self.end
    }

    /// The lower end of the upright axis.
    pub(crate) fn bottom(&self) -> f64 {
        self.bottom
    }

    /// The left end of the level axis.
    pub(crate) fn left(&self) -> f64 {
        self.left
    }

    /// The height of the whole drawing.
    pub(crate) fn height(&self) -> f64 {
        self.bottom + FOOT
    }

    /// Draws grid, ticks and what the axes show.
    pub(crate) fn axes(&self, canvas: &mut Canvas<'_>, level: &str, upright: &str) {
        for tick in self.up.ticks() {
            let y = self.bottom - self.up.x(tick);
            canvas.line((self.left, y), (self.end, y), line_class(&self.up, tick));
            let text = label::fit(&self.up.tick_text(tick), self.left - 8.0 + 0.5, TICK);
            canvas.text(self.left - 7.0, y + 4.0, Side::End, "tick", &text);
        }
        for tick in self.right.ticks() {
            let x = self.right.x(tick);
            canvas.line((x, TOP), (x, self.bottom), line_class(&self.right, tick));
            canvas.centred(x, self.bottom + 17.0, TICK, "tick", &self.right.tick_text(tick));
        }
        canvas.text(0.0, 11.0, Side::Start, "tick", &label::fit(upright, self.width, TICK));
        canvas.centred(f64::midpoint(self.left, self.end), self.bottom + 34.0, TICK, "tick", level);
    }

    /// Keeps names away from a point.
    pub(crate) fn take(&mut self, (x, y): (f64, f64), r: f64) {
        self.taken.push((x - r, x + r, y - r, y + r));
    }

    /// Lets names cover a point, but rather not.
    pub(crate) fn avoid(&mut self, place: (f64, f64)) {
        self.avoided.push(place);
    }

    /// Draws a name near a point where nothing else stands, with a line to the point where it had to go far; false where there is no place.
    pub(crate) fn name(&mut self, canvas: &mut Canvas<'_>, point: (f64, f64), class: &str, name: &str) -> bool {
        let text = label::fit(name, (self.end - self.left) * 0.6, SIZE);
        let half = label::width(&text, SIZE) / 2.0;
        let free = |t: &Taken, space: &Taken| space.1 <= t.0 || t.1 <= space.0 || space.3 <= t.2 || t.3 <= space.2;
        let mut best: Option<(usize, Taken, bool)> = None;
        for (far, middle) in around(point, half) {
            let space = (middle.0 - half - 2.0, middle.0 + half + 2.0, middle.1 - HIGH / 2.0 - 1.0, middle.1 + HIGH / 2.0 + 1.0);
            let inside = space.0 >= self.left && space.1 <= self.end && space.2 >= TOP - 8.0 && space.3 <= self.bottom;
            if !inside || !self.taken.iter().all(|t| free(t, &space)) {
                continue;
            }
            let covered = self.avoided.iter().filter(|(x, y)| !free(&(x - 3.0, x + 3.0, y - 3.0, y + 3.0), &space)).count();
            if best.as_ref().is_none_or(|(least, ..)| covered < *least) {
                best = Some((covered, space, far));
            }
            if covered == 0 {
                break;
            }
        }
        let Some((_, space, far)) = best else { return false };
        if far {
            // to the nearest place of the text's edge
            let edge = (point.0.clamp(space.0, space.1), point.1.clamp(space.2, space.3));
            canvas.line(point, edge, "lead");
        }
        canvas.text(f64::midpoint(space.0, space.1), f64::midpoint(space.2, space.3) + 4.0, Side::Middle, class, &text);
        self.taken.push(space);
        true
    }
}

/// Height of a name.
const HIGH: f64 = 12.0;

/// Middles for a text of a half-width around a point, the nearest first, with whether it is far.
fn around((x, y): (f64, f64), half: f64) -> impl Iterator<Item = (bool, (f64, f64))> {
    const WAYS: [(f64, f64); 8] =
        [(1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
    [10.0, 24.0, 44.0, 70.0, 100.0, 140.0, 180.0].into_iter().flat_map(move |far| {
        WAYS.into_iter().map(move |(dx, dy)| {
            // sideways the text begins or ends beside the point; above and below it is centred on it
            let aside = if dy == 0.0 { far } else { far * 0.7 };
            (far > 12.0, (x + dx * (aside + half), y + dy * (far + HIGH / 2.0 - 4.0)))
        })
    })
}
