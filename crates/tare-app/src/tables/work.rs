//! Steps of routes, times, stations.

use super::{Cell, Column, Description, Maker, Rows, Source, Type};
use std::collections::HashMap;
use tare_study::{LineRef, SubjectId};

pub(super) const OPERATIONS: Maker = Maker {
    of: Description {
        name: "operations",
        says: "One row for each step of an item's route. The kinds are those of one started piece and add up to `started`; `total` is of one good piece.",
        columns: &[
            Column { name: "address", unit: "", kind: Type::Text, says: "Address of the step." },
            Column { name: "item", unit: "", kind: Type::Text, says: "Address of the item." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Name of the item." },
            Column { name: "step", unit: "", kind: Type::Text, says: "The step: op1, op2 ..., or a feature." },
            Column { name: "calculation", unit: "", kind: Type::Text, says: "Key of its calculation." },
            Column { name: "title", unit: "", kind: Type::Text, says: "Title of its calculation." },
            Column { name: "cycle", unit: "s", kind: Type::Number, says: "Time of one cycle." },
            Column { name: "pieces", unit: "1", kind: Type::Number, says: "Pieces per cycle." },
            Column { name: "yield", unit: "1", kind: Type::Number, says: "Share of good pieces." },
            Column {
                name: "starts",
                unit: "1",
                kind: Type::Number,
                says: "Pieces started at this step for one good piece at the end.",
            },
            Column { name: "material", unit: "money", kind: Type::Number, says: "Material, less sold scrap." },
            Column { name: "labour", unit: "money", kind: Type::Number, says: "Labour." },
            Column { name: "machine", unit: "money", kind: Type::Number, says: "Machine time without running energy." },
            Column { name: "energy", unit: "money", kind: Type::Number, says: "Running energy." },
            Column { name: "consumable", unit: "money", kind: Type::Number, says: "Consumables." },
            Column { name: "started", unit: "money", kind: Type::Number, says: "All of it for one started piece." },
            Column { name: "scrap", unit: "money", kind: Type::Number, says: "What is started beyond the good pieces." },
            Column { name: "setup", unit: "money", kind: Type::Number, says: "Set-up." },
            Column {
                name: "total",
                unit: "money",
                kind: Type::Number,
                says: "All of it with scrap, set-up and tools for one good piece.",
            },
        ],
    },
    rows: |s| operations(s),
};

/// Blocks by subject and name.
type Blocks<'a> = HashMap<(SubjectId, &'a str), u32>;

fn operations<'a>(s: &'a Source<'a>) -> Rows<'a> {
    let lines = &s.study.lines;
    let by_name: Blocks<'a> =
        lines.blocks.iter().zip(0..).map(|(block, number)| ((block.subject, block.name.as_str()), number)).collect();
    let items: HashMap<_, _> = s.study.items.iter().map(|item| (item.id, item)).collect();
    Box::new(lines.blocks.iter().zip(0..).filter_map(move |(block, number)| {
        let subject = lines.subject(LineRef::Line { block: number, line: 0, element: 0 });
        let item = items.get(&subject.record?)?;
        let cost = by_name
            .get(&(block.subject, format!("{} cost", block.name).as_str()))
            .copied()
            .filter(|at| is(s, *at, "roll-ups/operation-cost"))?;
        let value = |name: &str| values(s, number, name).first().map(|node| s.study.values[*node as usize]);
        let sum = |name: &str| Cell::from(values(s, cost, name).iter().map(|node| s.study.values[*node as usize]).sum::<f64>());
        let beside = |name: &str, result: &str| {
            let block = by_name.get(&(block.subject, format!("{} {name}", block.name).as_str())).copied();
            s.si(block.and_then(|block| line(s, block, result)))
        };
        Some(vec![
            Cell::from(format!("{}/{}", subject.address, block.name)),
            Cell::from(item.address.as_str()),
            Cell::from(item.name.as_str()),
            Cell::from(block.name.as_str()),
            Cell::from(key(s, number)),
            s.title(key(s, number)),
            Cell::from(value("cycle")),
            Cell::from(value("pieces")),
            Cell::from(value("yield")),
            Cell::from(values(s, cost, "starts").first().map(|node| s.study.values[*node as usize])),
            sum("material"),
            sum("labour"),
            sum("machine"),
            sum("energy"),
            sum("consumable"),
            s.si(line(s, cost, "started")),
            s.si(line(s, cost, "scrap")),
            beside("set-up", "cost"),
            beside("total", "total"),
        ])
    }))
}

fn key<'a>(s: &'a Source<'a>, block: u32) -> &'a str {
    let lines = &s.study.lines;
    &lines.templates[lines.blocks[block as usize].template as usize].key
}

fn is(s: &Source<'_>, block: u32, wanted: &str) -> bool {
    key(s, block) == wanted
}

/// A line of a block by name.
fn line(s: &Source<'_>, block: u32, name: &str) -> Option<LineRef> {
    let lines = &s.study.lines;
    let lowered = &lines.templates[lines.blocks[block as usize].template as usize].lowered;
    let at = lowered.lines.iter().position(|line| line.name == name)?;
    Some(LineRef::Line { block, line: at as u32, element: 0 })
}

/// The nodes of a line or an input of a block: one, or one for each entry of a list.
fn values(s: &Source<'_>, block: u32, name: &str) -> Vec<u32> {
    let lines = &s.study.lines;
    let lowered = &lines.templates[lines.blocks[block as usize].template as usize].lowered;
    lowered.values(name).unwrap_or_default().iter().map(|operand| lines.operand(block, *operand)).collect()
}

pub(super) const TIMES: Maker = Maker {
    of: Description {
        name: "times",
        says: "One row for each assembly and kind of manual work.",
        columns: &[
            Column { name: "label", unit: "", kind: Type::Text, says: "Label of the assembly." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "pieces", unit: "1", kind: Type::Number, says: "How many are put together for one product." },
            Column { name: "motion", unit: "", kind: Type::Text, says: "handling, inserting, joining or other work." },
            Column { name: "time", unit: "s", kind: Type::Number, says: "Manual time of one assembly." },
        ],
    },
    rows: |s| {
        Box::new(s.study.assemblies.iter().flat_map(move |assembly| {
            let part = &s.study.parts[assembly.part];
            assembly.by_kind.iter().map(move |(kind, line)| {
                vec![
                    Cell::from(part.label.as_str()),
                    Cell::from(part.name.as_str()),
                    Cell::from(assembly.pieces),
                    Cell::from(kind.word()),
                    s.si(*line),
                ]
            })
        }))
    },
};

pub(super) const STATIONS: Maker = Maker {
    of: Description {
        name: "stations",
        says: "One row for each station of a line.",
        columns: &[
            Column { name: "line", unit: "", kind: Type::Text, says: "Name of the line." },
            Column { name: "station", unit: "", kind: Type::Text, says: "Name of the station." },
            Column { name: "cycle", unit: "s", kind: Type::Number, says: "Its cycle." },
            Column { name: "takt", unit: "s", kind: Type::Number, says: "Takt of the line." },
            Column { name: "work", unit: "s", kind: Type::Number, says: "Work on the line for one product." },
            Column { name: "paid", unit: "s", kind: Type::Number, says: "Time paid on the line for one product." },
            Column { name: "operators", unit: "1", kind: Type::Number, says: "Operators on the line." },
        ],
    },
    rows: |s| {
        Box::new(s.study.line_balances.iter().flat_map(move |row| {
            row.stations.iter().map(move |(name, cycle)| {
                vec![
                    Cell::from(row.name.as_str()),
                    Cell::from(name.as_str()),
                    s.si(*cycle),
                    s.si(row.takt),
                    s.si(row.work),
                    s.si(row.paid),
                    s.si(row.operators),
                ]
            })
        }))
    },
};
