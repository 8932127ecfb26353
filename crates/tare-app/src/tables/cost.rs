//! Totals, cost by kind, tools, quotes.

use super::{Cell, Column, Description, Maker, Source, Type};
use tare_model::{Field, Id};
use tare_study::LineRef;

pub(super) const TOTALS: Maker = Maker {
    of: Description {
        name: "totals",
        says: "One row for each total of the product.",
        columns: &[
            Column {
                name: "name",
                unit: "",
                kind: Type::Text,
                says: "What it is: cost, mass, time ...; for yardsticks their name.",
            },
            Column { name: "value", unit: "", kind: Type::Number, says: "The number, in `unit`." },
            Column { name: "unit", unit: "", kind: Type::Text, says: "Its unit." },
            Column { name: "address", unit: "", kind: Type::Text, says: "Address of the line." },
        ],
    },
    rows: |s| {
        Box::new(totals(s).into_iter().map(move |(name, line)| {
            let unit = s.study.lines.unit(line);
            vec![
                Cell::from(name),
                Cell::from(unit.from_si(s.study.value(line))),
                Cell::from(unit.text.replace("money", &s.study.currency)),
                Cell::from(s.study.lines.address(line)),
            ]
        }))
    },
};

fn totals(s: &Source<'_>) -> Vec<(String, LineRef)> {
    let totals = &s.study.totals;
    let named = [
        ("cost", totals.cost),
        ("cost without the dominant bought item", totals.without_dominant),
        ("investment in tools", totals.investment),
        ("mass", totals.mass),
        ("manual assembly time", totals.manual),
        ("ideal-time share", totals.ideal_share),
        ("volume", totals.volume),
    ];
    let mut found: Vec<(String, LineRef)> = named.into_iter().filter_map(|(name, line)| Some((name.to_owned(), line?))).collect();
    for (id, value, cost) in &totals.yardsticks {
        let name = s.document.get(*id).and_then(|r| r.text(Field::Name)).unwrap_or("yardstick");
        found.push((name.to_owned(), *value));
        found.extend(cost.map(|line| (format!("cost per {name}"), line)));
    }
    found
}

pub(super) const COSTS: Maker = Maker {
    of: Description {
        name: "costs",
        says: "One row for each part and kind of cost. Over the kinds they add up to `cost` in `parts`; those of the product are its cost by kind.",
        columns: &[
            Column { name: "label", unit: "", kind: Type::Text, says: "Label of the part." },
            Column { name: "level", unit: "", kind: Type::Whole, says: "Depth, 0 for the product." },
            Column { name: "item", unit: "", kind: Type::Text, says: "Address of its item." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Name of the item." },
            Column { name: "kind", unit: "", kind: Type::Text, says: "Kind of cost." },
            Column { name: "cost", unit: "money", kind: Type::Number, says: "Cost of one piece, children included." },
        ],
    },
    rows: |s| {
        let of_product = s.study.parts.iter().position(|part| part.level == 0);
        Box::new(s.study.parts.iter().enumerate().flat_map(move |(at, part)| {
            let kinds = if Some(at) == of_product && part.kinds.is_empty() { &s.study.totals.by_kind } else { &part.kinds };
            kinds.iter().map(move |(kind, line)| {
                vec![
                    Cell::from(part.label.as_str()),
                    Cell::from(part.level),
                    Cell::from(s.addresses.of(part.item)),
                    Cell::from(part.name.as_str()),
                    Cell::from(kind.word()),
                    s.si(*line),
                ]
            })
        }))
    },
};

pub(super) const TOOLS: Maker = Maker {
    of: Description {
        name: "tools",
        says: "One row for each tool of the register.",
        columns: &[
            Column { name: "tool", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "group", unit: "", kind: Type::Text, says: "Which tool of the calculation." },
            Column { name: "calculation", unit: "", kind: Type::Text, says: "Key of the calculation that owes it." },
            Column { name: "serves", unit: "", kind: Type::Text, says: "Addresses of the items it serves." },
            Column { name: "cost", unit: "money", kind: Type::Number, says: "Cost of one set." },
            Column { name: "life", unit: "1", kind: Type::Number, says: "Cycles of one set." },
            Column { name: "pieces", unit: "1", kind: Type::Number, says: "Pieces per cycle." },
            Column { name: "sets", unit: "1", kind: Type::Number, says: "Sets needed." },
            Column { name: "investment", unit: "money", kind: Type::Number, says: "Investment in all sets." },
            Column { name: "per_piece", unit: "money", kind: Type::Number, says: "In the price of one piece." },
            Column { name: "lump", unit: "", kind: Type::Flag, says: "Whether the client pays it as a lump." },
        ],
    },
    rows: |s| {
        Box::new(s.study.tools.iter().map(move |tool| {
            vec![
                Cell::from(tool.title.as_str()),
                Cell::from(tool.group.as_str()),
                Cell::from(tool.key.as_str()),
                s.called(&tool.serves),
                s.si(tool.cost),
                s.si(tool.life),
                s.si(tool.pieces),
                s.si(tool.sets),
                s.si(tool.investment),
                s.si(tool.per_piece),
                Cell::from(tool.lump),
            ]
        }))
    },
};

pub(super) const QUOTES: Maker = Maker {
    of: Description {
        name: "quotes",
        says: "One row for each quoted price.",
        columns: &[
            Column { name: "item", unit: "", kind: Type::Text, says: "Address of the item." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Name of the item." },
            Column { name: "supplier", unit: "", kind: Type::Text, says: "Who offers." },
            Column { name: "place", unit: "", kind: Type::Text, says: "Place of delivery." },
            Column { name: "date", unit: "", kind: Type::Text, says: "Date." },
            Column { name: "contains", unit: "", kind: Type::Text, says: "What the price contains." },
            Column { name: "state", unit: "", kind: Type::Text, says: "used, or beside the build-up." },
            Column { name: "price", unit: "money", kind: Type::Number, says: "Price of one piece in the study's currency." },
            Column {
                name: "built_up",
                unit: "money",
                kind: Type::Number,
                says: "Own cost of one piece as built up, for comparison.",
            },
            Column { name: "licence", unit: "", kind: Type::Text, says: "restricted: may not be passed on." },
        ],
    },
    rows: |s| {
        Box::new(s.study.items.iter().flat_map(move |item| {
            item.quotes.iter().map(move |(id, price): &(Id, LineRef)| {
                let text = |field| s.field(*id, field);
                vec![
                    Cell::from(item.address.as_str()),
                    Cell::from(item.name.as_str()),
                    text(Field::Supplier),
                    text(Field::Place),
                    text(Field::Date),
                    text(Field::Contains),
                    text(Field::State),
                    s.si(*price),
                    s.si(item.own),
                    text(Field::Licence),
                ]
            })
        }))
    },
};
