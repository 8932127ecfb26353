//! The most that can be had for so much money.

use super::canvas::{Canvas, Frame};
use super::plane::Plane;
use super::{Chart, DataTable};
use crate::FrontierPoint;

/// Saving of a year against money laid out, in steps: between two points the money buys what the point to the left saves.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frontier {
    /// What the chart shows.
    pub title: String,
    /// What the level axis shows.
    pub level: String,
    /// What the upright axis shows.
    pub upright: String,
    /// The points in any order.
    pub points: Vec<FrontierPoint>,
}

impl Frontier {
    fn sorted(&self) -> Vec<&FrontierPoint> {
        let usable = |p: &&FrontierPoint| p.stake.number.is_finite() && p.saving.number.is_finite();
        let mut points: Vec<&FrontierPoint> = self.points.iter().filter(usable).collect();
        points.sort_by(|a, b| a.stake.number.total_cmp(&b.stake.number));
        points
    }

    /// The corners of the steps, as pairs of numbers.
    pub fn steps(&self) -> Vec<(f64, f64)> {
        let mut corners: Vec<(f64, f64)> = Vec::new();
        for point in self.sorted() {
            let (x, y) = (point.stake.number, point.saving.number);
            if let Some((_, before)) = corners.last() {
                corners.push((x, *before));
            }
            corners.push((x, y));
        }
        corners
    }
}

fn ideas(n: usize) -> String {
    if n == 1 { "1 idea".to_owned() } else { format!("{n} ideas") }
}

impl Chart for Frontier {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let points = self.sorted();
        if points.is_empty() {
            return String::new();
        }
        let level = points.iter().map(|p| p.stake.number).chain([0.0]);
        let mut plane = Plane::new(frame, level, points.iter().map(|p| p.saving.number).chain([0.0]));
        let mut canvas = Canvas::new(frame);
        plane.axes(&mut canvas, &self.level, &self.upright);
        let mut path: Vec<(f64, f64)> = self.steps().into_iter().map(|(x, y)| plane.at(x, y)).collect();
        // more money than the last point asks for saves as much as it does
        path.extend(path.last().map(|(_, y)| (plane.end(), *y)));
        canvas.path(&path, "sum");
        for point in &points {
            plane.take(plane.at(point.stake.number, point.saving.number), 6.0);
        }
        for point in points.iter().filter(|p| p.chosen) {
            let (x, y) = plane.at(point.stake.number, point.saving.number);
            canvas.line((x, y), (x, plane.bottom()), "join");
            canvas.line((x, y), (plane.left(), y), "join");
        }
        for point in points {
            let place = plane.at(point.stake.number, point.saving.number);
            let set = if point.chosen { "the set shown: " } else { "" };
            let says = format!("{set}{} laid out, {} saved, {}", point.stake.text, point.saving.text, ideas(point.ideas.len()));
            canvas.open(&says, point.saving.link.as_deref().filter(|_| !point.chosen));
            canvas.dot(place.0, place.1, 9.0, "hit");
            canvas.dot(place.0, place.1, if point.chosen { 6.0 } else { 3.6 }, if point.chosen { "full" } else { "point" });
            if point.chosen {
                plane.name(&mut canvas, place, "strong halo", &format!("set shown: {}", ideas(point.ideas.len())));
            }
            canvas.close();
        }
        canvas.finish(plane.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["laid out", "saved", "ideas", ""]);
        for point in self.sorted() {
            let set = if point.chosen { "the set shown" } else { "" };
            table.push([point.stake.text.clone(), point.saving.text.clone(), point.ideas.len().to_string(), set.to_owned()]);
        }
        table
    }
}
