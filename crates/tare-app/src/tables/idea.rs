//! Ideas with what they come to.

use super::{Cell, Column, Description, Maker, Row, Type};
use crate::figure::Figure;
use crate::view::{IdeaRow, RangeRow};

pub(super) const IDEAS: Maker = Maker {
    of: Description {
        name: "ideas",
        says: "One row for each idea, recorded or found by a rule, the most gain first; dropped ones last. Gains of two ideas do not add up.",
        columns: &[
            Column { name: "label", unit: "", kind: Type::Text, says: "What it is called." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "kind", unit: "", kind: Type::Text, says: "What kind of change it is." },
            Column { name: "state", unit: "", kind: Type::Text, says: "open, taken or dropped." },
            Column {
                name: "recorded",
                unit: "",
                kind: Type::Flag,
                says: "Whether the study holds it, rather than a rule finding it.",
            },
            Column { name: "place", unit: "", kind: Type::Text, says: "Where." },
            Column { name: "risk", unit: "", kind: Type::Text, says: "low, medium, high, or nothing where nobody has said." },
            Column {
                name: "saving",
                unit: "money",
                kind: Type::Number,
                says: "Saving of one product before the one-off cost, at the stated values.",
            },
            Column {
                name: "net_saving",
                unit: "money",
                kind: Type::Number,
                says: "The same with the one-off cost paid back over the life.",
            },
            Column { name: "net_middle", unit: "money", kind: Type::Number, says: "Middle of the draws of `net_saving`." },
            Column { name: "net_low", unit: "money", kind: Type::Number, says: "Lower end of the middle 95 % of the draws." },
            Column { name: "net_high", unit: "money", kind: Type::Number, says: "Upper end of the middle 95 % of the draws." },
            Column { name: "chance", unit: "1", kind: Type::Number, says: "Share of draws in which it is a gain." },
            Column { name: "one_off", unit: "money", kind: Type::Number, says: "One-off cost, where one is stated." },
            Column { name: "investment", unit: "money", kind: Type::Number, says: "Change of the investment in tools." },
            Column { name: "mass", unit: "kg", kind: Type::Number, says: "Change of the mass of one product." },
            Column { name: "manual", unit: "s", kind: Type::Number, says: "Change of the manual time of one product." },
            Column { name: "parts", unit: "1", kind: Type::Number, says: "Change of the pieces in one product." },
            Column { name: "joints", unit: "1", kind: Type::Number, says: "Change of the joints in one product." },
            Column { name: "edits", unit: "", kind: Type::Text, says: "What it changes." },
            Column { name: "says", unit: "", kind: Type::Text, says: "Why; of a dropped one why it was dropped." },
            Column { name: "advice", unit: "", kind: Type::Text, says: "What must be settled first." },
            Column { name: "source", unit: "", kind: Type::Text, says: "Where it comes from." },
            Column {
                name: "problems",
                unit: "",
                kind: Type::Text,
                says: "Why it cannot be carried out, and what the study says of it only with the idea.",
            },
        ],
    },
    rows: |s| {
        let Some(view) = s.ideas else { return Box::new(std::iter::empty()) };
        Box::new(view.ideas.iter().map(row).chain(view.dropped.iter().map(dropped)))
    },
};

fn row(idea: &IdeaRow) -> Row<'_> {
    let worth = idea.worth.as_ref();
    let stated = |range: Option<&RangeRow>, unit: &str| range.map_or(Cell::None, |range| in_unit(&range.stated, unit));
    let figure = |figure: Option<&Figure>| Cell::from(figure.map(|figure| figure.value));
    let edits: Vec<&str> = idea.edits.iter().map(|edit| edit.text.as_str()).collect();
    vec![
        Cell::from(idea.label.as_str()),
        Cell::from(idea.name.as_str()),
        Cell::from(idea.kind.as_str()),
        Cell::from(idea.state.as_str()),
        Cell::from(idea.recorded),
        Cell::from(idea.place.as_str()),
        Cell::from(idea.risk.as_str()),
        figure(worth.map(|w| &w.saving.stated)),
        figure(worth.map(|w| &w.net_saving.stated)),
        Cell::from(worth.map(|w| w.net_saving.middle)),
        Cell::from(worth.map(|w| w.net_saving.ends.0)),
        Cell::from(worth.map(|w| w.net_saving.ends.1)),
        Cell::from(worth.map(|w| w.chance)),
        figure(worth.and_then(|w| w.one_off.as_ref())),
        figure(worth.map(|w| &w.investment)),
        stated(worth.and_then(|w| w.mass.as_ref()), "kg"),
        stated(worth.and_then(|w| w.seconds.as_ref()), "s"),
        Cell::from(worth.map(|w| w.parts)),
        Cell::from(worth.map(|w| w.joints)),
        Cell::from(edits.join("; ")),
        Cell::from(idea.says.as_str()),
        Cell::from(idea.advice.as_str()),
        Cell::from(idea.source.as_str()),
        Cell::from(idea.problems.join("; ")),
    ]
}

fn dropped([label, name, reason]: &[String; 3]) -> Row<'_> {
    let mut row = vec![Cell::None; IDEAS.of.columns.len()];
    for (column, text) in [("label", label.as_str()), ("name", name), ("state", "dropped"), ("says", reason)] {
        if let Some(at) = IDEAS.of.columns.iter().position(|known| known.name == column) {
            row[at] = Cell::from(text);
        }
    }
    row
}

/// A number in another unit than it is shown in.
fn in_unit(figure: &Figure, unit: &str) -> Cell<'static> {
    let shown = tare_units::Unit::parse(&figure.unit).unwrap_or_else(|_| tare_units::Unit::plain());
    Cell::from(super::unit(unit).from_si(shown.to_si(figure.value)))
}
