//! What all sections share: figures that link to their reason, and names of records.

use super::amount::{fixed, percent, shown, with_uncertainty};
use crate::ranges::Ranges;
use std::collections::{BTreeMap, BTreeSet};
use tare_library::Library;
use tare_model::{Document, Field, Id, Kind, Record};
use tare_report::Figure;
use tare_study::{LineRef, Study};
use tare_units::{Dim, Quantity, Unit};

/// A report being filled.
pub(super) struct Filling<'a> {
    pub(super) document: &'a Document,
    pub(super) study: &'a Study,
    pub(super) library: &'a Library,
    /// Ranges of watched lines, where they were drawn.
    pub(super) ranges: Option<&'a Ranges>,
    /// Lines that figures link to, in the order of their first use, with the group they are listed under.
    pub(super) wanted: Vec<(LineRef, String)>,
    anchors: BTreeMap<LineRef, (LineRef, String)>,
    seen: BTreeSet<LineRef>,
    /// Heading under which the figures being made are explained.
    pub(super) group: String,
}

impl<'a> Filling<'a> {
    pub(super) fn new(document: &'a Document, study: &'a Study, library: &'a Library, ranges: Option<&'a Ranges>) -> Self {
        Self {
            document,
            study,
            library,
            ranges,
            wanted: Vec::new(),
            anchors: BTreeMap::new(),
            seen: BTreeSet::new(),
            group: "Headlines".to_owned(),
        }
    }

    pub(super) fn study_name(&self) -> String {
        self.head().and_then(|h| h.text(Field::Name)).unwrap_or("Study").to_owned()
    }

    pub(super) fn head(&self) -> Option<&'a Record> {
        self.document.of_kind(None, Kind::Study).next()
    }

    /// The figure of a line, linked to its reason.
    pub(super) fn figure(&mut self, line: LineRef, digits: usize) -> Figure {
        self.scaled(line, 1.0, digits)
    }

    /// The figure of a line times an exact count: all pieces of a row.
    pub(super) fn scaled(&mut self, line: LineRef, times: f64, digits: usize) -> Figure {
        let unit = self.study.lines.unit(line);
        let si = self.study.value(line) * times;
        let figure = Figure::new(number(si, unit), shown(si, unit, &self.study.currency, digits));
        let anchor = self.anchor(line);
        figure.because(anchor)
    }

    /// The figure of a line times an exact count with a fixed number of decimals, for a column that closes.
    pub(super) fn closing(&mut self, line: LineRef, times: f64, decimals: usize) -> Figure {
        let unit = self.study.lines.unit(line);
        let si = self.study.value(line) * times;
        let figure = Figure::new(number(si, unit), fixed(si, unit, &self.study.currency, decimals));
        let anchor = self.anchor(line);
        figure.because(anchor)
    }

    /// The figure of a line, rounded to the place of its first-order uncertainty.
    pub(super) fn rounded(&mut self, line: LineRef) -> Figure {
        let figure = self.figure(line, 5);
        let half = 2.0 * self.study.standard_uncertainty(line);
        if half.is_nan() || half <= 0.0 {
            return figure;
        }
        let text = with_uncertainty(self.study.value(line), half, self.study.lines.unit(line), &self.study.currency).0;
        Figure { text, ..figure }
    }

    /// Whether a line is printed as a percentage.
    pub(super) fn is_share(&self, line: LineRef) -> bool {
        self.study.totals.ideal_share == Some(line)
    }

    /// The figure of a plain line as a percentage.
    pub(super) fn percent(&mut self, line: LineRef) -> Figure {
        let si = self.study.value(line);
        let anchor = self.anchor(line);
        Figure::new(si, percent(si)).because(anchor)
    }

    /// Sets the spread of a figure made from a line: first order, and the range where one was drawn. Where there is none, it is said why.
    pub(super) fn about(&self, line: LineRef, figure: Figure) -> Figure {
        let unit = self.study.lines.unit(line);
        let half = 2.0 * self.study.standard_uncertainty(line);
        let figure = if half > 0.0 {
            let text = with_uncertainty(self.study.value(line), half, unit, &self.study.currency).1;
            let text = if figure.text.ends_with('%') { percent(half) } else { text };
            figure.about(number(half, unit), format!("about \u{b1} {text} (k = 2, first order)"))
        } else {
            match self.study.why_unknown(line) {
                Some(why) => figure.saying(format!("first-order uncertainty {why}")),
                None => figure,
            }
        };
        super::ranges::drawn(self, line, figure)
    }

    pub(super) fn optional(&mut self, line: Option<LineRef>, digits: usize) -> Option<Figure> {
        line.map(|line| self.figure(line, digits))
    }

    /// The anchor of a line's reason; the line is then explained.
    pub(super) fn anchor(&mut self, line: LineRef) -> String {
        if !self.anchors.contains_key(&line) {
            let step = self.study.step(line);
            let whole = match step.line {
                LineRef::Line { block, line, .. } => LineRef::Line { block, line, element: 0 },
                leaf @ LineRef::Leaf(_) => leaf,
            };
            self.anchors.insert(line, (whole, step.address));
        }
        let (whole, address) = self.anchors[&line].clone();
        if self.seen.insert(whole) {
            self.wanted.push((whole, self.group.clone()));
        }
        address
    }

    /// The anchor of a line that is explained anyway; `None` for others.
    pub(super) fn known_anchor(&self, line: LineRef) -> Option<String> {
        let (whole, address) = self.anchors.get(&line)?;
        self.seen.contains(whole).then(|| address.clone())
    }

    /// A name of a record.
    pub(super) fn name(&self, id: Id) -> String {
        self.document.get(id).and_then(|r| r.text(Field::Name)).unwrap_or("?").to_owned()
    }

    /// The labels of parts, as rows of the report refer to them.
    pub(super) fn labels(&self, ids: &[Id]) -> Vec<String> {
        let label = |id: &Id| self.study.parts.iter().find(|p| p.id == *id).map(|p| p.label.clone());
        ids.iter().filter_map(label).collect()
    }

    /// The values of a quantity stated of a record.
    pub(super) fn stated(&self, subject: Id, quantity: &str) -> Vec<&'a Record> {
        self.document.of_kind(Some(subject), Kind::Value).filter(|v| v.text(Field::Quantity) == Some(quantity)).collect()
    }

    /// A figure of a stated value that no line carries.
    pub(super) fn recorded(&self, value: &Record) -> Option<Figure> {
        let quantity = Quantity::parse(value.text(Field::Text)?).ok()?;
        Some(Figure::new(number(quantity.value, &quantity.unit), super::amount::grouped(&quantity.text)))
    }

    /// A share as text.
    pub(super) fn share(&self, line: LineRef, whole: Option<LineRef>) -> String {
        percent(whole.map_or(f64::NAN, |w| self.study.value(line) / self.study.value(w)))
    }
}

/// The number a chart draws: in the currency for money, else in SI, whatever unit a value is written in.
pub(super) fn number(si: f64, unit: &Unit) -> f64 {
    let money = unit.currency.is_some() || unit.text.contains("money");
    if money { unit.from_si(si) } else { si }
}

/// The unit of [`number`] as an axis says it.
pub(super) fn axis(unit: &Unit, currency: &str) -> String {
    match unit.dim {
        Dim::MASS => "kg".to_owned(),
        Dim::TIME => "s".to_owned(),
        _ => unit.text.replace("money", currency),
    }
}

/// Texts joined, empty ones left out.
pub(super) fn joined<'t>(texts: impl IntoIterator<Item = Option<&'t str>>, between: &str) -> String {
    texts.into_iter().flatten().filter(|t| !t.is_empty()).collect::<Vec<_>>().join(between)
}
