//! Parts, items, joints, fasteners, mass balance.

use super::{Cell, Column, Description, Maker, Type, unit};
use tare_model::Field;

pub(super) const PARTS: Maker = Maker {
    of: Description {
        name: "parts",
        says: "One row for each part of the indented parts list, depth-first. `mass` times `count` over the parts of an assembly is its `sum` in `mass`.",
        columns: &[
            Column { name: "label", unit: "", kind: Type::Text, says: "Label: the key between bag and record." },
            Column { name: "level", unit: "", kind: Type::Whole, says: "Depth, 0 for the product." },
            Column { name: "parent", unit: "", kind: Type::Text, says: "Label of the part it sits in; none for the product." },
            Column { name: "item", unit: "", kind: Type::Text, says: "Address of its item." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Name of the item." },
            Column { name: "count", unit: "1", kind: Type::Number, says: "How many sit in the part above." },
            Column { name: "pieces", unit: "1", kind: Type::Number, says: "How many sit in the product." },
            Column {
                name: "needed",
                unit: "1",
                kind: Type::Number,
                says: "How many of them must be parts of their own, where judged.",
            },
            Column { name: "material", unit: "", kind: Type::Text, says: "Key of the material, or constituents with shares." },
            Column { name: "make", unit: "", kind: Type::Text, says: "make, buy or consigned." },
            Column { name: "function", unit: "", kind: Type::Text, says: "What it is for: its own, or the item's." },
            Column { name: "processes", unit: "", kind: Type::Text, says: "Titles of its making steps." },
            Column { name: "mass", unit: "kg", kind: Type::Number, says: "Mass of one piece." },
            Column { name: "cost", unit: "money", kind: Type::Number, says: "Cost of one piece, children included." },
            Column {
                name: "inside_costed",
                unit: "",
                kind: Type::Flag,
                says: "Whether it lies inside an item that is costed as a whole.",
            },
            Column { name: "says", unit: "", kind: Type::Text, says: "Remark." },
        ],
    },
    rows: |s| {
        Box::new(s.study.parts.iter().map(move |part| {
            let record = s.document.get(part.id);
            let own = record.and_then(|r| r.text(Field::Function));
            vec![
                Cell::from(part.label.as_str()),
                Cell::from(part.level),
                Cell::from(part.parent.map(|at| s.study.parts[at].label.as_str())),
                Cell::from(s.addresses.of(part.item)),
                Cell::from(part.name.as_str()),
                Cell::from(part.count),
                Cell::from(part.pieces),
                Cell::from(record.and_then(|r| r.number(Field::Needed))),
                Cell::from(part.material.as_str()),
                Cell::from(part.make.as_str()),
                own.map_or_else(|| s.field(part.item, Field::Function), Cell::from),
                Cell::from(part.processes.join("; ")),
                s.si(part.mass),
                s.si(part.cost),
                Cell::from(part.inside_costed),
                s.field(part.id, Field::Says),
            ]
        }))
    },
};

pub(super) const ITEMS: Maker = Maker {
    of: Description {
        name: "items",
        says: "One row for each item that is made or bought. `contribution` adds up to the cost of the product.",
        columns: &[
            Column { name: "address", unit: "", kind: Type::Text, says: "Address of the item." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "label", unit: "", kind: Type::Text, says: "Its own label, where it has one." },
            Column { name: "make", unit: "", kind: Type::Text, says: "make, buy or consigned." },
            Column { name: "form", unit: "", kind: Type::Text, says: "single, assembly, fastener or bulk." },
            Column { name: "material", unit: "", kind: Type::Text, says: "Key of the material." },
            Column { name: "constituents", unit: "", kind: Type::Text, says: "Constituents with shares, where it has several." },
            Column { name: "function", unit: "", kind: Type::Text, says: "What it is for." },
            Column { name: "organisation", unit: "", kind: Type::Text, says: "Who makes it." },
            Column { name: "supplier", unit: "", kind: Type::Text, says: "Who supplies it." },
            Column { name: "volume", unit: "1/a", kind: Type::Number, says: "Pieces a year, service and rejects included." },
            Column { name: "mass", unit: "kg", kind: Type::Number, says: "Mass of one piece." },
            Column { name: "own_cost", unit: "money", kind: Type::Number, says: "Cost of one piece, children not included." },
            Column {
                name: "contribution",
                unit: "money",
                kind: Type::Number,
                says: "What its own work, purchase, scrap and mark-ups add to one product.",
            },
            Column {
                name: "rough_cost",
                unit: "money",
                kind: Type::Number,
                says: "A rough estimate of one piece from its mass, as a second route.",
            },
            Column { name: "dominant", unit: "", kind: Type::Flag, says: "Whether it is the dominant bought item." },
            Column { name: "uncosted", unit: "", kind: Type::Flag, says: "Whether nothing could be said about its cost." },
            Column { name: "says", unit: "", kind: Type::Text, says: "Remark." },
        ],
    },
    rows: |s| {
        let yearly = unit("1/a");
        Box::new(s.study.items.iter().map(move |item| {
            let record = s.document.get(item.id);
            let text = |field| s.field(item.id, field);
            let maker = record.and_then(|r| r.refers(Field::Organisation));
            vec![
                Cell::from(item.address.as_str()),
                Cell::from(item.name.as_str()),
                text(Field::Label),
                text(Field::Make),
                text(Field::Form),
                text(Field::Material),
                text(Field::Constituents),
                text(Field::Function),
                maker.map_or(Cell::None, |id| s.field(id, Field::Name)),
                text(Field::Supplier),
                s.number(item.volume, &yearly),
                s.si(item.mass),
                s.si(item.own),
                s.si(item.contribution),
                s.si(item.rough),
                Cell::from(item.dominant),
                Cell::from(item.uncosted),
                text(Field::Says),
            ]
        }))
    },
};

pub(super) const JOINTS: Maker = Maker {
    of: Description {
        name: "joints",
        says: "One row for each joint of the census.",
        columns: &[
            Column { name: "joint", unit: "", kind: Type::Text, says: "Address of the joint." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "calculation", unit: "", kind: Type::Text, says: "Key of its method." },
            Column { name: "method", unit: "", kind: Type::Text, says: "Its method in words." },
            Column { name: "count", unit: "1", kind: Type::Number, says: "Points or seams in one assembly." },
            Column { name: "assembly", unit: "", kind: Type::Text, says: "Label of the assembly it belongs to." },
            Column { name: "assemblies", unit: "1", kind: Type::Number, says: "How many of its assembly sit in the product." },
            Column { name: "parts", unit: "", kind: Type::Text, says: "Labels of the parts it holds." },
            Column { name: "fastener", unit: "", kind: Type::Text, says: "Label of the fastener's part." },
            Column { name: "stated", unit: "", kind: Type::Text, says: "Size, length, drive and so on, as stated." },
            Column { name: "manual", unit: "s", kind: Type::Number, says: "Manual time in one assembly." },
            Column { name: "function", unit: "", kind: Type::Text, says: "What it is for." },
            Column { name: "says", unit: "", kind: Type::Text, says: "Remark." },
        ],
    },
    rows: |s| {
        Box::new(s.study.joints.iter().map(move |joint| {
            let stated: Vec<String> = joint.stated.iter().map(|(name, text)| format!("{name} = {text}")).collect();
            let fastener = s.document.get(joint.id).and_then(|r| r.refers(Field::Fastener));
            vec![
                Cell::from(s.addresses.of(joint.id)),
                s.field(joint.id, Field::Name),
                Cell::from(joint.method.as_str()),
                s.title(&joint.method),
                s.si(joint.count),
                Cell::from(joint.assembly.map(|at| s.study.parts[at].label.as_str())),
                Cell::from(joint.assemblies),
                s.called(&joint.parts),
                fastener.map_or(Cell::None, |id| s.called(&[id])),
                Cell::from(stated.join("; ")),
                s.si(joint.manual),
                s.field(joint.id, Field::Function),
                s.field(joint.id, Field::Says),
            ]
        }))
    },
};

pub(super) const FASTENERS: Maker = Maker {
    of: Description {
        name: "fasteners",
        says: "One row for each fastener of the parts list, listed against used.",
        columns: &[
            Column { name: "label", unit: "", kind: Type::Text, says: "Its label." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "listed", unit: "1", kind: Type::Number, says: "Pieces the parts list holds." },
            Column { name: "used", unit: "1", kind: Type::Number, says: "Pieces the joints use." },
        ],
    },
    rows: |s| {
        Box::new(s.study.fasteners.iter().map(move |fastener| {
            let part = &s.study.parts[fastener.part];
            let (label, name) = (Cell::from(part.label.as_str()), Cell::from(part.name.as_str()));
            vec![label, name, Cell::from(fastener.listed), Cell::from(fastener.used)]
        }))
    },
};

pub(super) const MASS: Maker = Maker {
    of: Description {
        name: "mass",
        says: "One row for each part of the mass balance. The mass of the product is that of the part at level 0.",
        columns: &[
            Column { name: "label", unit: "", kind: Type::Text, says: "Label of the part." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Name of the item." },
            Column { name: "level", unit: "", kind: Type::Whole, says: "Depth, 0 for the product." },
            Column { name: "pieces", unit: "1", kind: Type::Number, says: "How many sit in the product." },
            Column { name: "how", unit: "", kind: Type::Text, says: "How the mass is known." },
            Column { name: "mass", unit: "kg", kind: Type::Number, says: "The mass adopted for one piece." },
            Column { name: "sum", unit: "kg", kind: Type::Number, says: "Sum of the parts in it." },
            Column { name: "gap", unit: "kg", kind: Type::Number, says: "Weighed whole less the sum of its parts." },
            Column { name: "unknown", unit: "", kind: Type::Whole, says: "How many parts in it have no mass." },
            Column { name: "states", unit: "", kind: Type::Text, says: "States in which the mass was taken." },
        ],
    },
    rows: |s| {
        Box::new(s.study.mass.iter().map(move |row| {
            let part = &s.study.parts[row.part];
            vec![
                Cell::from(part.label.as_str()),
                Cell::from(part.name.as_str()),
                Cell::from(part.level),
                Cell::from(part.pieces),
                Cell::from(row.how.word()),
                s.si(row.mass),
                s.si(row.sum),
                s.si(row.gap),
                Cell::from(row.unknown),
                Cell::from(row.states.join("; ")),
            ]
        }))
    },
};
