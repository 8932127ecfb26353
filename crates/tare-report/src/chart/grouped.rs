//! The same things of several products: one bar each, side by side.

use super::bars::together;
use super::canvas::{Canvas, Frame, Side};
use super::label::{self, SIZE};
use super::rows::{AXIS, NARROW, axis, key, whisker, with_range};
use super::scale::{Scale, TICK};
use super::{Chart, DataTable, palette};
use crate::Figure;

/// Groups of bars, one bar for each product. Each bar carries the letter of its product, so that nothing hangs on its colour.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Grouped {
    /// What the chart shows.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// Letter and name of each product; a key is drawn where there are names.
    pub products: Vec<(String, String)>,
    /// The groups in order.
    pub groups: Vec<Group>,
    /// How many groups to draw; those after them are drawn as one sum. 0 draws all.
    pub most: usize,
}

/// One thing in each product.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// What it is; may be empty where there is only one group.
    pub label: String,
    /// In each product, with or without range; none where the product has nothing of it.
    pub values: Vec<Option<Figure>>,
}

/// Height of a bar with the gap to the next.
const PITCH: f64 = 16.0;
/// Half the height of a bar.
const HALF: f64 = 5.5;
/// The gap between groups.
const GAP: f64 = 10.0;
/// Height of a label that stands above its bars.
const ABOVE: f64 = 19.0;
/// What stands for a value that a product does not have.
const NONE: &str = "none";

impl Grouped {
    /// The groups that are drawn.
    fn drawn(&self) -> Vec<Group> {
        let mut groups: Vec<Group> = self.groups.iter().filter(|g| g.values.iter().flatten().any(usable)).cloned().collect();
        if self.most > 0 && groups.len() > self.most + 1 {
            let rest = groups.split_off(self.most);
            let of = |n: usize| {
                let values: Vec<&Figure> = rest.iter().filter_map(|g| g.values.get(n)?.as_ref()).filter(|f| usable(f)).collect();
                (!values.is_empty()).then(|| together(values.into_iter(), &self.unit))
            };
            let values = (0..self.products.len()).map(of).collect();
            groups.push(Group { label: format!("{} others", rest.len()), values });
        }
        groups
    }
}

fn usable(figure: &Figure) -> bool {
    figure.number.is_finite()
}

impl Chart for Grouped {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let groups = self.drawn();
        if groups.is_empty() || self.products.is_empty() {
            return String::new();
        }
        let width = frame.width.max(160.0);
        let value = |g: &Group, n: usize| g.values.get(n).cloned().flatten().filter(usable);
        let words = |f: &Option<Figure>| f.as_ref().map_or(NONE, |f| f.text.as_str()).to_owned();
        let values = groups.iter().flat_map(|g| (0..self.products.len()).map(|n| words(&value(g, n))).collect::<Vec<_>>());
        let widest =
            |texts: &mut dyn Iterator<Item = String>, size: f64| texts.map(|t| label::width(&t, size)).fold(0.0, f64::max);
        let value_room = widest(&mut values.into_iter(), TICK).min(width * 0.34);
        let letter_room = widest(&mut self.products.iter().map(|p| p.0.clone()), TICK).min(width * 0.1);
        let named = groups.iter().any(|g| !g.label.is_empty());
        let narrow = width < NARROW && named;
        let label_room =
            if narrow || !named { 0.0 } else { widest(&mut groups.iter().map(|g| g.label.clone()), SIZE).min(width * 0.34) };
        let before = if label_room > 0.0 { label_room + 12.0 } else { 0.0 };
        let (x0, x1) = (before + letter_room + 8.0, width - value_room - 12.0);
        let mut canvas = Canvas::new(frame);
        let entry = |(n, (letter, name)): (usize, &(String, String))| {
            (format!("{} edge", palette::class(n)), format!("{letter}  {name}"))
        };
        let keyed = self.products.iter().any(|p| !p.1.is_empty());
        let entries: Vec<_> = if keyed { self.products.iter().enumerate().map(entry).collect() } else { Vec::new() };
        let top = key(&mut canvas, width, 0.0, &entries) + 4.0;
        // so few groups that their sum is exact
        let height = |_: &Group| if narrow { ABOVE } else { 0.0 } + PITCH * self.products.len() as f64 + GAP;
        let bottom = top + groups.iter().map(height).sum::<f64>();
        let ends = groups.iter().flat_map(|g| g.values.iter().flatten()).flat_map(|f| {
            let range = f.range.as_ref();
            [f.number, range.map_or(f64::NAN, |r| r.low), range.map_or(f64::NAN, |r| r.high)]
        });
        let scale = Scale::with_zero(ends, x0, x1);
        axis(&mut canvas, &scale, &self.unit, (x0, x1), (top, bottom));
        let mut at = top;
        for group in &groups {
            let bars = if narrow { at + ABOVE } else { at + GAP / 2.0 };
            let middle = bars + PITCH * self.products.len() as f64 / 2.0;
            let (side, x, y) = if narrow { (Side::Start, 0.0, at + 14.0) } else { (Side::End, label_room, middle + 4.0) };
            let room = if narrow { width } else { label_room };
            canvas.text(x, y, side, "label halo", &label::fit(&group.label, room, SIZE));
            for (n, (letter, name)) in self.products.iter().enumerate() {
                let value = value(group, n);
                let y = bars + PITCH * (n as f64 + 0.5);
                let shown = value.as_ref().map_or_else(|| NONE.to_owned(), with_range);
                let says = [group.label.as_str(), letter.as_str(), name.as_str()].into_iter().filter(|t| !t.is_empty());
                let says = format!("{}: {shown}", says.collect::<Vec<_>>().join(", "));
                canvas.open(&says, value.as_ref().and_then(|v| v.link.as_deref()));
                canvas.rect(before, y - PITCH / 2.0, width - before - 1.0, PITCH - 1.0, "hit");
                canvas.text(x0 - 6.0, y + 4.0, Side::End, "tick halo", &label::fit(letter, letter_room + 0.5, TICK));
                if let Some(value) = &value {
                    let (zero, x) = (scale.x(0.0), scale.x(value.number));
                    canvas.rect(zero, y - HALF, x - zero, 2.0 * HALF, &format!("{} edge", palette::class(n)));
                    if let Some(range) = value.range.as_ref().filter(|r| r.low.is_finite() && r.high.is_finite()) {
                        whisker(&mut canvas, y, scale.x(range.low), scale.x(range.high));
                    }
                }
                canvas.text(width, y + 4.0, Side::End, "tick halo", &label::fit(&words(&value), value_room + 0.5, TICK));
                canvas.close();
            }
            at += height(group);
        }
        canvas.finish(bottom + AXIS, &self.title)
    }

    fn table(&self) -> DataTable {
        let mut head = vec!["".to_owned()];
        head.extend(self.products.iter().map(|p| p.0.clone()));
        let mut table = DataTable { head, rows: Vec::new() };
        for group in &self.groups {
            let shown = |n: usize| group.values.get(n).and_then(Option::as_ref).map_or_else(|| NONE.to_owned(), with_range);
            table.push(std::iter::once(group.label.clone()).chain((0..self.products.len()).map(shown)));
        }
        table
    }
}
