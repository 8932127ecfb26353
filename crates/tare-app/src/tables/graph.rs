//! Leaves and lines of the graph, and the sources of leaves.

use super::{Cell, Column, Description, Maker, Source, Type};
use crate::figure::shown;
use std::collections::BTreeMap;
use tare_study::{Leaf, LineRef};
use tare_units::{Dim, Spread, Unit};

/// Digits of values as shown.
const DIGITS: usize = 6;

pub(super) const LEAVES: Maker = Maker {
    of: Description {
        name: "leaves",
        says: "One row for each number that comes from outside: a reading, a price, a table cell, a method error, a default.",
        columns: &[
            Column { name: "address", unit: "", kind: Type::Text, says: "Its address." },
            Column { name: "subject", unit: "", kind: Type::Text, says: "What it is about." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "si_value", unit: "", kind: Type::Number, says: "The stated value, in `si_unit`." },
            Column { name: "si_unit", unit: "", kind: Type::Text, says: "SI base units and money; empty for plain numbers." },
            Column { name: "value", unit: "", kind: Type::Number, says: "The stated value, in `unit`." },
            Column { name: "unit", unit: "", kind: Type::Text, says: "The unit it is stated in." },
            Column { name: "stated", unit: "", kind: Type::Text, says: "As written, with its spread; the word of a choice." },
            Column { name: "spread", unit: "", kind: Type::Text, says: "none, normal, t, rectangular or triangular." },
            Column { name: "low", unit: "", kind: Type::Number, says: "Lower end of a range, in `si_unit`." },
            Column { name: "high", unit: "", kind: Type::Number, says: "Upper end of a range, in `si_unit`." },
            Column { name: "freedom", unit: "1", kind: Type::Number, says: "Degrees of freedom of a spread from few readings." },
            Column {
                name: "uncertainty",
                unit: "",
                kind: Type::Number,
                says: "Standard deviation of its distribution, in `si_unit`.",
            },
            Column { name: "evidence", unit: "", kind: Type::Text, says: "measured, derived, handbook, quoted or assumed." },
            Column { name: "source", unit: "", kind: Type::Text, says: "Where it comes from." },
            Column { name: "shared", unit: "", kind: Type::Flag, says: "Whether one variable serves many uses." },
        ],
    },
    rows: |s| Box::new(s.study.lines.leaves.iter().zip(0..).map(move |(leaf, at)| leaf_row(s, leaf, at))),
};

fn leaf_row<'a>(s: &'a Source<'a>, leaf: &'a Leaf, at: u32) -> super::Row<'a> {
    let quantity = &leaf.quantity;
    let (spread, low, high) = match quantity.spread {
        None => ("none", None, None),
        Some(Spread::Normal { .. }) if leaf.freedom.is_some() => ("t", None, None),
        Some(Spread::Normal { .. }) => ("normal", None, None),
        Some(Spread::Rectangular { low, high }) => ("rectangular", Some(low), Some(high)),
        Some(Spread::Triangular { low, high, .. }) => ("triangular", Some(low), Some(high)),
    };
    vec![
        Cell::from(s.study.lines.address(LineRef::Leaf(at))),
        Cell::from(s.study.lines.subject_of(leaf).title.as_str()),
        Cell::from(leaf.name.as_str()),
        Cell::from(quantity.value),
        si_unit(s, &quantity.unit),
        Cell::from(quantity.unit.from_si(quantity.value)),
        unit_text(s, &quantity.unit),
        Cell::from(leaf.word.as_deref().unwrap_or(&quantity.text)),
        Cell::from(spread),
        Cell::from(low),
        Cell::from(high),
        Cell::from(leaf.freedom),
        Cell::from(quantity.standard_uncertainty()),
        Cell::from(leaf.evidence.word()),
        Cell::from(leaf.source.as_str()),
        Cell::from(leaf.shared),
    ]
}

pub(super) const LINES: Maker = Maker {
    of: Description {
        name: "lines",
        says: "One row for each computed number: every line of the graph, lists element by element.",
        columns: &[
            Column { name: "address", unit: "", kind: Type::Text, says: "Its address." },
            Column { name: "subject", unit: "", kind: Type::Text, says: "What it is about." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its name in its calculation." },
            Column { name: "formula", unit: "", kind: Type::Text, says: "The formula as authored." },
            Column { name: "si_value", unit: "", kind: Type::Number, says: "Its value, in `si_unit`." },
            Column { name: "si_unit", unit: "", kind: Type::Text, says: "SI base units and money; empty for plain numbers." },
            Column { name: "value", unit: "", kind: Type::Number, says: "Its value, in `unit`." },
            Column { name: "unit", unit: "", kind: Type::Text, says: "The unit it is shown in." },
            Column { name: "shown", unit: "", kind: Type::Text, says: "As shown, rounded." },
            Column { name: "calculation", unit: "", kind: Type::Text, says: "Key of the calculation." },
            Column { name: "source", unit: "", kind: Type::Text, says: "Where the formula comes from." },
        ],
    },
    rows: |s| {
        let lines = &s.study.lines;
        let all = (0..lines.blocks.len() as u32).flat_map(move |block| lines.lines_of(block));
        Box::new(all.filter_map(move |line| line_row(s, line)))
    },
};

fn line_row<'a>(s: &'a Source<'a>, at: LineRef) -> Option<super::Row<'a>> {
    let LineRef::Line { block, line, .. } = at else { return None };
    let lines = &s.study.lines;
    let def = &lines.templates[lines.blocks[block as usize].template as usize].lowered.lines[line as usize];
    if def.kind == tare_calc::LineKind::Outside {
        return None;
    }
    let (unit, value) = (lines.unit(at), s.study.value(at));
    Some(vec![
        Cell::from(lines.address(at)),
        Cell::from(lines.subject(at).title.as_str()),
        Cell::from(def.name.as_str()),
        Cell::from(def.text.as_str()),
        Cell::from(value),
        si_unit(s, unit),
        Cell::from(unit.from_si(value)),
        unit_text(s, unit),
        Cell::from(shown(value, unit, &s.study.currency, DIGITS)),
        Cell::from(def.calculation.as_ref()),
        Cell::from(def.source.as_deref()),
    ])
}

/// The SI unit of a dimension; empty for plain numbers.
fn si_unit(s: &Source<'_>, unit: &Unit) -> Cell<'static> {
    if unit.dim == Dim::ONE { Cell::from("") } else { Cell::from(money(s, &unit.dim.to_string())) }
}

fn unit_text(s: &Source<'_>, unit: &Unit) -> Cell<'static> {
    if unit.is_plain() { Cell::from("") } else { Cell::from(money(s, &unit.text)) }
}

fn money(s: &Source<'_>, unit: &str) -> String {
    unit.replace("money", &s.study.currency)
}

pub(super) const SOURCES: Maker = Maker {
    of: Description {
        name: "sources",
        says: "One row for each source of leaves, in the order of the alphabet.",
        columns: &[
            Column { name: "source", unit: "", kind: Type::Text, says: "The source as stated with the leaves." },
            Column { name: "evidence", unit: "", kind: Type::Text, says: "Evidence class of the leaves." },
            Column { name: "leaves", unit: "", kind: Type::Whole, says: "How many leaves rest on it." },
        ],
    },
    rows: |s| {
        let mut found: BTreeMap<(&str, &'static str), usize> = BTreeMap::new();
        for leaf in &s.study.lines.leaves {
            *found.entry((leaf.source.as_str(), leaf.evidence.word())).or_default() += 1;
        }
        let row =
            |((source, evidence), count): ((_, _), usize)| vec![Cell::from(source), Cell::from(evidence), Cell::from(count)];
        Box::new(found.into_iter().map(row))
    },
};
