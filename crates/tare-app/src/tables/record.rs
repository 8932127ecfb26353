//! What was recorded: readings, findings, photos, boundary; and what the computation found wrong.

use super::{Cell, Column, Description, Maker, Source, Type};
use tare_diag::Diag;
use tare_model::{Document, Field, Kind, Record};

/// Records of a kind, parents before what stands under them, siblings in order.
fn in_order(document: &Document, kind: Kind) -> impl Iterator<Item = &Record> {
    let mut open: Vec<&Record> = document.children(None).rev().collect();
    std::iter::from_fn(move || {
        let record = open.pop()?;
        open.extend(document.children(Some(record.id)).rev());
        Some(record)
    })
    .filter(move |record| record.kind == kind)
}

pub(super) const READINGS: Maker = Maker {
    of: Description {
        name: "readings",
        says: "One row for each stated value, as it was written.",
        columns: &[
            Column { name: "subject", unit: "", kind: Type::Text, says: "Address of what it is about." },
            Column { name: "quantity", unit: "", kind: Type::Text, says: "Which quantity." },
            Column { name: "stated", unit: "", kind: Type::Text, says: "The value as written." },
            Column { name: "evidence", unit: "", kind: Type::Text, says: "measured, derived, handbook, quoted or assumed." },
            Column { name: "source", unit: "", kind: Type::Text, says: "Where it comes from." },
            Column { name: "who", unit: "", kind: Type::Text, says: "Who read or stated it." },
            Column { name: "when", unit: "", kind: Type::Text, says: "When." },
            Column { name: "instrument", unit: "", kind: Type::Text, says: "Name of the instrument." },
            Column { name: "set", unit: "", kind: Type::Text, says: "Readings of one set repeat one another." },
            Column { name: "number", unit: "1", kind: Type::Number, says: "Pieces read together." },
            Column { name: "mass_state", unit: "", kind: Type::Text, says: "State in which a mass was taken." },
            Column { name: "method", unit: "", kind: Type::Text, says: "How it was read." },
            Column { name: "period", unit: "", kind: Type::Text, says: "Period in which the instrument's errors hold." },
            Column { name: "specimen", unit: "", kind: Type::Text, says: "Name of the specimen." },
            Column {
                name: "calculation",
                unit: "",
                kind: Type::Text,
                says: "Key of the calculation that gives it, where one does.",
            },
            Column { name: "file", unit: "", kind: Type::Text, says: "File it was imported from." },
            Column { name: "cell", unit: "", kind: Type::Text, says: "Cell in that file." },
            Column { name: "raw", unit: "", kind: Type::Text, says: "What the cell held." },
            Column { name: "licence", unit: "", kind: Type::Text, says: "restricted: may not be passed on." },
            Column { name: "says", unit: "", kind: Type::Text, says: "Remark." },
        ],
    },
    rows: |s| Box::new(in_order(s.document, Kind::Value).map(move |value| reading(s, value))),
};

fn reading<'a>(s: &'a Source<'a>, value: &'a Record) -> super::Row<'a> {
    let text = |field| Cell::from(value.text(field));
    let named = |field| value.refers(field).map_or(Cell::None, |id| s.field(id, Field::Name));
    vec![
        value.parent.map_or(Cell::None, |id| Cell::from(s.addresses.of(id))),
        text(Field::Quantity),
        text(Field::Text),
        text(Field::Evidence),
        text(Field::Source),
        text(Field::Who),
        text(Field::When),
        named(Field::Instrument),
        text(Field::Set),
        Cell::from(value.number(Field::Number)),
        text(Field::MassState),
        text(Field::Method),
        text(Field::Period),
        named(Field::Specimen),
        text(Field::Calculation),
        text(Field::File),
        text(Field::Cell),
        text(Field::Raw),
        text(Field::Licence),
        text(Field::Says),
    ]
}

pub(super) const FINDINGS: Maker = Maker {
    of: Description {
        name: "findings",
        says: "One row for each finding.",
        columns: &[
            Column { name: "finding", unit: "", kind: Type::Text, says: "Its name." },
            Column { name: "group", unit: "", kind: Type::Text, says: "safety, quality, design, cost or record." },
            Column { name: "severity", unit: "", kind: Type::Text, says: "note, look or serious." },
            Column { name: "parts", unit: "", kind: Type::Text, says: "Labels of the parts it is about." },
            Column { name: "joints", unit: "", kind: Type::Text, says: "Addresses of the joints it is about." },
            Column { name: "photos", unit: "", kind: Type::Text, says: "Addresses of its photos." },
            Column { name: "says", unit: "", kind: Type::Text, says: "What was seen." },
        ],
    },
    rows: |s| {
        Box::new(in_order(s.document, Kind::Finding).map(move |finding| {
            vec![
                Cell::from(finding.text(Field::Name)),
                Cell::from(finding.text(Field::Group)),
                Cell::from(finding.text(Field::Severity)),
                s.called(finding.all_refers(Field::Parts)),
                s.called(finding.all_refers(Field::Joints)),
                s.called(finding.all_refers(Field::Photos)),
                Cell::from(finding.text(Field::Says)),
            ]
        }))
    },
};

pub(super) const PHOTOS: Maker = Maker {
    of: Description {
        name: "photos",
        says: "One row for each photo. Nothing says where it was taken.",
        columns: &[
            Column { name: "photo", unit: "", kind: Type::Text, says: "Address of the photo." },
            Column { name: "name", unit: "", kind: Type::Text, says: "Its title." },
            Column { name: "sha256", unit: "", kind: Type::Text, says: "SHA-256 of the picture as it was stored." },
            Column { name: "parts", unit: "", kind: Type::Text, says: "Labels of the parts it shows." },
            Column {
                name: "callouts",
                unit: "",
                kind: Type::Text,
                says: "Call-outs: number, place (0 to 1 from the left and upper edge), words.",
            },
            Column { name: "when", unit: "", kind: Type::Text, says: "When it was taken." },
            Column { name: "who", unit: "", kind: Type::Text, says: "Who took it." },
        ],
    },
    rows: |s| {
        Box::new(in_order(s.document, Kind::Photo).map(move |photo| {
            vec![
                Cell::from(s.addresses.of(photo.id)),
                Cell::from(photo.text(Field::Name)),
                Cell::from(photo.text(Field::Digest)),
                s.called(photo.all_refers(Field::Parts)),
                Cell::from(photo.text(Field::Callouts)),
                Cell::from(photo.text(Field::When)),
                Cell::from(photo.text(Field::Who)),
            ]
        }))
    },
};

pub(super) const BOUNDARY: Maker = Maker {
    of: Description {
        name: "boundary",
        says: "One row for each topic of the boundary register: what the totals contain.",
        columns: &[
            Column { name: "topic", unit: "", kind: Type::Text, says: "What it is about." },
            Column { name: "state", unit: "", kind: Type::Text, says: "in, out or unknown." },
            Column { name: "says", unit: "", kind: Type::Text, says: "Why." },
        ],
    },
    rows: |s| {
        Box::new(
            in_order(s.document, Kind::Boundary)
                .map(|row| [Field::Name, Field::State, Field::Says].map(|field| Cell::from(row.text(field))).into()),
        )
    },
};

pub(super) const PROBLEMS: Maker = Maker {
    of: Description {
        name: "problems",
        says: "One row for each message of the computation.",
        columns: &[
            Column { name: "severity", unit: "", kind: Type::Text, says: "error, warning or note." },
            Column { name: "code", unit: "", kind: Type::Text, says: "Stable code." },
            Column { name: "place", unit: "", kind: Type::Text, says: "Where it is." },
            Column { name: "message", unit: "", kind: Type::Text, says: "The message." },
            Column { name: "hints", unit: "", kind: Type::Text, says: "What to do next." },
        ],
    },
    rows: |s| {
        Box::new(s.study.problems.iter().map(|problem: &Diag| {
            vec![
                Cell::from(problem.severity.word()),
                Cell::from(problem.code),
                problem.place.as_ref().map_or(Cell::None, |place| Cell::from(place.to_string())),
                Cell::from(problem.message.as_str()),
                Cell::from(problem.hints.join("; ")),
            ]
        }))
    },
};
