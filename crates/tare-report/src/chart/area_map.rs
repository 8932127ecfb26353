//! A map of areas in two levels: the area of each cell is its share of the whole.
//!
//! Cells are laid out in strips of nearly square cells (Bruls, M., Huizing, K., van Wijk, J. J., Squarified treemaps, Data
//! Visualization 2000, pp. 33-42; from memory). Groups are told apart by edge, colour and key, not by headings, so that areas stay true.

use super::canvas::{Canvas, Frame, Side};
use super::label::{self, SIZE};
use super::rows::key;
use super::{Chart, DataTable, palette};
use crate::{AreaCell, AreaMap};

/// A rectangle of the map.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Area {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) w: f64,
    pub(crate) h: f64,
}

/// One rectangle per value, in the order given, areas in proportion. Values must be positive and finite.
pub(crate) fn lay_out(values: &[f64], within: Area) -> Vec<Area> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*b].total_cmp(&values[*a]));
    let sum: f64 = values.iter().sum();
    let per = if sum > 0.0 { within.w * within.h / sum } else { 0.0 };
    let mut out = vec![Area::default(); values.len()];
    let mut free = within;
    let mut at = 0;
    while at < order.len() {
        let side = free.w.min(free.h);
        let mut end = at + 1;
        let mut row = values[order[at]] * per;
        let mut worst = squareness(row, row, row, side);
        while end < order.len() {
            let next = values[order[end]] * per;
            let candidate = squareness(values[order[at]] * per, next, row + next, side);
            if candidate > worst {
                break;
            }
            row += next;
            worst = candidate;
            end += 1;
        }
        let last = end == order.len();
        let depth = if last { free.w.max(free.h) } else { (row / side.max(1e-12)).min(free.w.max(free.h)) };
        let upright = free.w >= free.h;
        let mut along = 0.0;
        for &i in &order[at..end] {
            let length = if row > 0.0 { side * (values[i] * per / row) } else { 0.0 };
            out[i] = if upright {
                Area { x: free.x, y: free.y + along, w: depth, h: length }
            } else {
                Area { x: free.x + along, y: free.y, w: length, h: depth }
            };
            along += length;
        }
        if upright {
            free.x += depth;
            free.w = (free.w - depth).max(0.0);
        } else {
            free.y += depth;
            free.h = (free.h - depth).max(0.0);
        }
        at = end;
    }
    out
}

/// How far from square the worst cell of a strip is; 1 is square.
fn squareness(largest: f64, smallest: f64, row: f64, side: f64) -> f64 {
    let side = side * side;
    let row = row * row;
    (side * largest / row).max(row / (side * smallest))
}

/// Cells smaller than this share of the whole are drawn as one per group.
const SMALL: f64 = 0.0015;

/// A cell ready to draw: what it says, its label, its text, its link, its value.
struct Leaf<'a> {
    label: String,
    text: String,
    link: Option<&'a str>,
    value: f64,
}

fn usable(value: f64) -> bool {
    value.is_finite() && value > 0.0
}

impl AreaMap {
    /// Groups with their drawable cells.
    fn leaves(&self) -> Vec<(&AreaCell, Vec<Leaf<'_>>)> {
        let own = |c: &AreaCell| if usable(c.value.number) { c.value.number } else { 0.0 };
        let sum: f64 = self.cells.iter().map(|g| if g.cells.is_empty() { own(g) } else { g.cells.iter().map(own).sum() }).sum();
        let leaf = |c: &'_ AreaCell| (c.label.clone(), c.value.text.clone(), c.value.number);
        let mut groups = Vec::new();
        for group in &self.cells {
            let cells: Vec<&AreaCell> = if group.cells.is_empty() { vec![group] } else { group.cells.iter().collect() };
            let cells: Vec<&AreaCell> = cells.into_iter().filter(|c| usable(c.value.number)).collect();
            let (small, large): (Vec<&AreaCell>, Vec<&AreaCell>) = cells.into_iter().partition(|c| c.value.number < SMALL * sum);
            let (small, large) = if small.len() < 2 { (Vec::new(), [large, small].concat()) } else { (small, large) };
            let mut leaves: Vec<Leaf<'_>> = large
                .into_iter()
                .map(|c| {
                    let (label, text, value) = leaf(c);
                    Leaf { label, text, link: c.value.link.as_deref(), value }
                })
                .collect();
            if !small.is_empty() {
                let value = small.iter().map(|c| c.value.number).sum();
                leaves.push(Leaf { label: format!("{} small entries", small.len()), text: String::new(), link: None, value });
            }
            if !leaves.is_empty() {
                groups.push((group, leaves));
            }
        }
        groups
    }

    /// How many cells have no positive value and so no area.
    fn left_out(&self) -> usize {
        let cells = self.cells.iter().flat_map(|g| if g.cells.is_empty() { std::slice::from_ref(g) } else { &g.cells[..] });
        cells.filter(|c| !usable(c.value.number)).count()
    }
}

impl Chart for AreaMap {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let groups = self.leaves();
        if groups.is_empty() {
            return String::new();
        }
        let width = frame.width.max(160.0);
        let height = if width < 480.0 { width * 1.1 } else { width * 0.56 };
        let whole = Area { x: 1.0, y: 1.0, w: width - 2.0, h: height - 2.0 };
        let sums: Vec<f64> = groups.iter().map(|(_, leaves)| leaves.iter().map(|l| l.value).sum()).collect();
        let mut canvas = Canvas::new(frame);
        let mut entries = Vec::new();
        // the largest groups get the colours
        let mut ranks: Vec<usize> = (0..groups.len()).collect();
        ranks.sort_by(|a, b| sums[*b].total_cmp(&sums[*a]).then(a.cmp(b)));
        let areas = lay_out(&sums, whole);
        for (n, at) in ranks.into_iter().enumerate() {
            let ((group, leaves), area) = (&groups[at], areas[at]);
            let class = palette::class(n);
            let values: Vec<f64> = leaves.iter().map(|l| l.value).collect();
            for (leaf, cell) in leaves.iter().zip(lay_out(&values, area)) {
                let text = if leaf.text.is_empty() { String::new() } else { format!(": {}", leaf.text) };
                let within = if leaf.label == group.label { String::new() } else { format!(" ({})", group.label) };
                canvas.open(&format!("{}{within}{text}", leaf.label), leaf.link);
                canvas.rect(cell.x, cell.y, cell.w, cell.h, &format!("{class} tint"));
                let room = cell.w - 10.0;
                let shown = label::fit(&leaf.label, room, SIZE);
                // two letters and an ellipsis tell nothing; the title has the name
                if cell.h >= 18.0 && (shown == leaf.label || shown.chars().count() > 5) {
                    canvas.text(cell.x + 5.0, cell.y + 14.0, Side::Start, "label", &shown);
                    // a number is shown whole or not at all
                    if cell.h >= 33.0 && label::width(&leaf.text, 11.0) <= room {
                        canvas.text(cell.x + 5.0, cell.y + 28.0, Side::Start, "tick", &leaf.text);
                    }
                }
                canvas.close();
            }
            canvas.rect(area.x, area.y, area.w, area.h, "group");
            let value = if group.value.text.is_empty() { String::new() } else { format!(" {}", group.value.text) };
            if n + 1 < palette::COLOURS {
                entries.push((format!("{class} edge"), format!("{}{value}", group.label)));
            }
        }
        // all further groups share one grey and, in the key, one entry
        if let Some(further) = groups.len().checked_sub(palette::COLOURS - 1).filter(|n| *n > 0) {
            let words = if further == 1 { "1 further group".to_owned() } else { format!("{further} further groups") };
            entries.push((format!("{} edge", palette::class(palette::COLOURS)), words));
        }
        let mut bottom = height + 10.0;
        bottom += key(&mut canvas, width, bottom, &entries);
        let left_out = self.left_out();
        if left_out > 0 {
            let words = format!("not drawn: {left_out} without a positive value");
            canvas.text(0.0, bottom + 11.0, Side::Start, "tick", &label::fit(&words, width, 11.0));
            bottom += 18.0;
        }
        canvas.finish(bottom, &self.title)
    }

    fn table(&self) -> DataTable {
        let mut table = DataTable::new(&["group", "entry", "value"]);
        for group in &self.cells {
            if group.cells.is_empty() {
                table.push([group.label.as_str(), "", group.value.text.as_str()]);
            }
            for cell in &group.cells {
                table.push([group.label.as_str(), cell.label.as_str(), cell.value.text.as_str()]);
            }
        }
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plain generator of pseudo-random numbers (Park and Miller 1988, multiplier 48271; from memory), enough to vary cases.
    fn numbers(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed % 2_147_483_647;
        move || {
            state = state * 48_271 % 2_147_483_647;
            state as f64 / 2_147_483_647.0
        }
    }

    #[test]
    fn areas_are_in_proportion_inside_and_apart() {
        for seed in 1..200u64 {
            let mut next = numbers(seed * 7919);
            let count = 1 + (next() * 40.0) as usize;
            let values: Vec<f64> = (0..count).map(|_| (next() * 10.0).powi(4) + 0.01).collect();
            let within = Area { x: 3.0, y: 5.0, w: 100.0 + next() * 700.0, h: 100.0 + next() * 400.0 };
            let cells = lay_out(&values, within);
            let sum: f64 = values.iter().sum();
            for (value, c) in values.iter().zip(&cells) {
                let want = within.w * within.h * value / sum;
                assert!((c.w * c.h - want).abs() <= 1e-6 * within.w * within.h, "seed {seed}: {c:?} for {want}");
                assert!(c.x >= within.x - 1e-6 && c.y >= within.y - 1e-6, "seed {seed}: {c:?}");
                assert!(c.x + c.w <= within.x + within.w + 1e-6 && c.y + c.h <= within.y + within.h + 1e-6, "seed {seed}: {c:?}");
            }
            for (i, a) in cells.iter().enumerate() {
                for b in &cells[i + 1..] {
                    let across = (a.x + a.w).min(b.x + b.w) - a.x.max(b.x);
                    let down = (a.y + a.h).min(b.y + b.h) - a.y.max(b.y);
                    assert!(across < 1e-6 || down < 1e-6, "seed {seed}: {a:?} and {b:?} overlap");
                }
            }
        }
    }

    #[test]
    fn equal_values_become_squares() {
        let cells = lay_out(&[1.0; 4], Area { x: 0.0, y: 0.0, w: 100.0, h: 100.0 });
        assert!(cells.iter().all(|c| (c.w - 50.0).abs() < 1e-9 && (c.h - 50.0).abs() < 1e-9), "{cells:?}");
    }
}
