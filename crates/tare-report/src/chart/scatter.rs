//! Two numbers of many things against each other.

use super::canvas::{Canvas, Frame};
use super::label;
use super::plane::Plane;
use super::rows::with_range;
use super::scale::TICK;
use super::{Chart, DataTable};
use crate::Figure;

/// Points with ranges both ways; the chosen ones are named.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scatter {
    /// What the chart shows.
    pub title: String,
    /// What the level axis shows, with its unit.
    pub level: String,
    /// What the upright axis shows, with its unit.
    pub upright: String,
    /// The points. At most [`MOST`](Self::MOST) are drawn, the chosen ones first.
    pub points: Vec<Spot>,
}

/// One point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spot {
    /// What it is.
    pub label: String,
    /// Its number to the right, with or without range.
    pub level: Figure,
    /// Its number upwards, with or without range.
    pub upright: Figure,
    /// Whether it is named in the drawing.
    pub chosen: bool,
}

impl Spot {
    fn is_usable(&self) -> bool {
        self.level.number.is_finite() && self.upright.number.is_finite()
    }
}

/// The finite ends of a figure's range.
fn ends(figure: &Figure) -> Option<(f64, f64)> {
    figure.range.as_ref().map(|r| (r.low, r.high)).filter(|(low, high)| low.is_finite() && high.is_finite())
}

impl Scatter {
    /// How many points are drawn at most.
    pub const MOST: usize = 500;
    /// Up to how many points each shows its ranges and can be reached by keyboard; of more only the chosen ones do.
    const FEW: usize = 60;
}

impl Chart for Scatter {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let (chosen, others): (Vec<&Spot>, Vec<&Spot>) = self.points.iter().filter(|p| p.is_usable()).partition(|p| p.chosen);
        let all = chosen.len() + others.len();
        if all == 0 {
            return String::new();
        }
        let room = Self::MOST.saturating_sub(chosen.len());
        // drawn last, the chosen ones lie on top
        let drawn: Vec<&Spot> = others.into_iter().take(room).chain(chosen.into_iter().take(Self::MOST)).collect();
        let few = drawn.len() <= Self::FEW;
        let ranged = |p: &Spot| few || p.chosen;
        let spread = |of: fn(&Spot) -> &Figure| {
            drawn.iter().flat_map(move |p| {
                let (low, high) = ends(of(p)).filter(|_| ranged(p)).unwrap_or((f64::NAN, f64::NAN));
                [of(p).number, low, high]
            })
        };
        let mut plane = Plane::new(frame, spread(|p| &p.level), spread(|p| &p.upright));
        let mut canvas = Canvas::new(frame);
        plane.axes(&mut canvas, &self.level, &self.upright);
        for point in &drawn {
            let place = plane.at(point.level.number, point.upright.number);
            if ranged(point) { plane.take(place, 5.0) } else { plane.avoid(place) }
        }
        for point in &drawn {
            let (x, y) = plane.at(point.level.number, point.upright.number);
            let says = format!("{}: {}; {}", point.label, with_range(&point.level), with_range(&point.upright));
            if ranged(point) {
                canvas.open(&says, point.upright.link.as_deref());
                if let Some((low, high)) = ends(&point.level) {
                    canvas.line(plane.at(low, point.upright.number), plane.at(high, point.upright.number), "reach");
                }
                if let Some((low, high)) = ends(&point.upright) {
                    canvas.line(plane.at(point.level.number, low), plane.at(point.level.number, high), "reach");
                }
            } else {
                canvas.open_quiet(&says);
            }
            canvas.dot(x, y, 8.0, "hit");
            match (point.chosen, few) {
                (true, _) => canvas.dot(x, y, 5.0, "full"),
                (false, true) => canvas.dot(x, y, 3.4, "point"),
                // so many that they lie on one another: darker where they are close
                (false, false) => canvas.dot(x, y, 2.8, "one-of-many"),
            }
            canvas.close();
        }
        let mut nameless = 0;
        for point in drawn.iter().filter(|p| p.chosen) {
            let place = plane.at(point.level.number, point.upright.number);
            nameless += usize::from(!plane.name(&mut canvas, place, "strong halo", &point.label));
        }
        let left = all - drawn.len();
        let mut height = plane.height();
        let mut words = Vec::new();
        if left > 0 {
            words.push(format!("{left} more are not drawn"));
        }
        if nameless > 0 {
            words.push(format!("{nameless} without room for a name"));
        }
        if !words.is_empty() {
            height += 16.0;
            canvas.centred(frame.width / 2.0, height - 6.0, TICK, "tick", &label::fit(&words.join("; "), frame.width, TICK));
        }
        canvas.finish(height, &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["", &self.level, &self.upright]);
        for point in &self.points {
            table.push([point.label.clone(), with_range(&point.level), with_range(&point.upright)]);
        }
        table
    }
}
