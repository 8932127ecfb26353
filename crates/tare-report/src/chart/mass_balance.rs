//! Weighed against sum of parts, and the gap against its uncertainty.

use super::canvas::{Canvas, Frame};
use super::rows::{Rows, key};
use super::scale::{Scale, TICK};
use super::{Chart, DataTable};
use crate::{Figure, GapVerdict, MassBalance};

/// Two bars per assembly: weighed as a whole, and sum of its parts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Balances {
    /// What the chart shows.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// The assemblies.
    pub rows: Vec<MassBalance>,
}

/// One dot per assembly: its gap in units of the gap's own uncertainty.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gaps {
    /// What the chart shows.
    pub title: String,
    /// The assemblies.
    pub rows: Vec<MassBalance>,
}

fn number(figure: Option<&Figure>) -> f64 {
    figure.map_or(f64::NAN, |f| f.number)
}

fn text(figure: Option<&Figure>) -> &str {
    figure.map_or("", |f| f.text.as_str())
}

/// Gap with its uncertainty in words.
fn gap_words(row: &MassBalance) -> String {
    match (&row.gap, &row.gap_uncertainty) {
        (Some(gap), Some(u)) => format!("{} \u{b1} {}", gap.text, u.text),
        (Some(gap), None) => gap.text.clone(),
        (None, _) => row.verdict.words().to_owned(),
    }
}

fn data(rows: &[MassBalance]) -> DataTable {
    let mut table = DataTable::new(&["assembly", "weighed", "sum of parts", "gap", "uncertainty", "meaning"]);
    for row in rows {
        table.push([
            row.label.as_str(),
            text(row.weighed.as_ref()),
            text(row.parts.as_ref()),
            text(row.gap.as_ref()),
            text(row.gap_uncertainty.as_ref()),
            row.verdict.words(),
        ]);
    }
    table
}

impl Chart for Balances {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let shown = |r: &&MassBalance| number(r.weighed.as_ref()).is_finite() || number(r.parts.as_ref()).is_finite();
        let rows: Vec<&MassBalance> = self.rows.iter().filter(shown).collect();
        if rows.is_empty() {
            return String::new();
        }
        let mut canvas = Canvas::new(frame);
        let entries = [("c1 edge", "weighed as a whole"), ("c2 edge", "sum of parts")];
        let entries: Vec<_> = entries.iter().map(|(c, t)| ((*c).to_owned(), (*t).to_owned())).collect();
        let top = key(&mut canvas, frame.width, 0.0, &entries) + 4.0;
        let labels: Vec<String> = rows.iter().map(|r| r.label.clone()).collect();
        let values: Vec<String> = rows.iter().map(|r| text(r.weighed.as_ref().or(r.parts.as_ref())).to_owned()).collect();
        let places = Rows::new(frame, &labels, &values, top);
        let ends = rows.iter().flat_map(|r| [number(r.weighed.as_ref()), number(r.parts.as_ref())]);
        let scale = Scale::with_zero(ends, places.x0, places.x1);
        places.axis(&mut canvas, &scale, &self.unit);
        for (i, row) in rows.iter().enumerate() {
            let link = row.weighed.as_ref().or(row.parts.as_ref()).and_then(|f| f.link.as_deref());
            let says = format!(
                "{}: weighed {}, sum of parts {}, gap {}",
                row.label,
                row.weighed.as_ref().map_or("not", |f| f.text.as_str()),
                row.parts.as_ref().map_or("unknown", |f| f.text.as_str()),
                gap_words(row)
            );
            canvas.open(&says, link);
            places.texts(&mut canvas, i, &row.label, &values[i], "label");
            for (figure, offset, class) in [(&row.weighed, -8.0, "c1 edge"), (&row.parts, 0.5, "c2 edge")] {
                if let Some(figure) = figure.as_ref().filter(|f| f.number.is_finite()) {
                    canvas.rect(scale.x(0.0), places.y(i) + offset, scale.x(figure.number) - scale.x(0.0), 7.5, class);
                }
            }
            canvas.close();
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        data(&self.rows)
    }
}

/// Gaps beyond so many uncertainties are drawn at the edge.
const FAR: f64 = 4.0;

impl Chart for Gaps {
    fn title(&self) -> String {
        self.title.clone()
    }

    fn draw(&self, frame: &Frame<'_>) -> String {
        let ratio = |r: &MassBalance| number(r.gap.as_ref()) / number(r.gap_uncertainty.as_ref());
        let rows: Vec<&MassBalance> = self.rows.iter().filter(|r| ratio(r).is_finite()).collect();
        if rows.is_empty() {
            return String::new();
        }
        let labels: Vec<String> = rows.iter().map(|r| r.label.clone()).collect();
        let values: Vec<String> = rows.iter().map(|r| gap_words(r)).collect();
        let mut canvas = Canvas::new(frame);
        let places = Rows::new(frame, &labels, &values, 22.0);
        let scale = Scale::over([-FAR, FAR], places.x0, places.x1);
        canvas.rect(scale.x(-1.0), 18.0, scale.x(1.0) - scale.x(-1.0), places.bottom() - 18.0, "band");
        let far = rows.iter().any(|r| ratio(r).abs() > FAR);
        let unit =
            if far { "gap over its uncertainty (k = 2); beyond 4 at the edge" } else { "gap over its uncertainty (k = 2)" };
        places.axis(&mut canvas, &scale, unit);
        canvas.centred(scale.x(0.0), 12.0, TICK, "tick", "within uncertainty");
        for (i, row) in rows.iter().enumerate() {
            let says = format!("{}: gap {}, {}", row.label, values[i], row.verdict.words());
            canvas.open(&says, row.gap.as_ref().and_then(|g| g.link.as_deref()));
            let larger = row.verdict == GapVerdict::Larger;
            let class = match row.verdict {
                GapVerdict::Larger => "c4 spot",
                GapVerdict::Within | GapVerdict::Defined => "c1 spot",
                GapVerdict::NotKnown | GapVerdict::NotWeighed | GapVerdict::Incomplete => "c8 spot",
            };
            places.texts(&mut canvas, i, &row.label, &values[i], if larger { "label strong" } else { "label" });
            let (x, y) = (scale.x(ratio(row).clamp(-FAR, FAR)), places.y(i));
            canvas.line((scale.x(0.0), y), (x, y), "whisker");
            canvas.dot(x, y, 5.0, class);
            canvas.close();
        }
        canvas.finish(places.height(), &self.title)
    }

    fn table(&self) -> DataTable {
        data(&self.rows)
    }
}
