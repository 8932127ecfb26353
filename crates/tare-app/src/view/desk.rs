//! Records as pages show and change them: with identifiers, fields as plain text, and what stands for a part's own mass.

use crate::address::Addresses;
use crate::figure::Figure;
use crate::live::{Now, plain};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use tare_library::Library;
use tare_model::{Document, Field, Id, Kind, Record};
use tare_study::{Evidence, Study};

/// Everything a parts table shows.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct PartsTable {
    /// The last entry.
    pub head: u64,
    /// The entry the numbers are of.
    pub computed: u64,
    /// The currency.
    pub currency: String,
    /// Parts, depth-first.
    pub rows: Vec<PartLine>,
}

/// One part of the table.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct PartLine {
    /// The part's identifier.
    pub id: String,
    /// Its item's.
    pub item: String,
    /// What it is called.
    pub label: String,
    /// Depth, 0 for the product.
    pub level: usize,
    /// The part it sits in.
    pub parent: Option<String>,
    /// Name of the item.
    pub name: String,
    /// How many in the part above.
    pub count: f64,
    /// How many in the product; none until it is computed.
    pub pieces: Option<f64>,
    /// Material or constituents.
    pub material: String,
    /// make, buy or consigned.
    pub make: String,
    /// Function.
    pub function: String,
    /// single, assembly, fastener or bulk.
    pub form: String,
    /// Remark.
    pub says: String,
    /// Computed mass of one piece.
    pub mass: Option<Shown>,
    /// The same in kilograms.
    pub mass_kg: Option<f64>,
    /// Cost of one piece, children included.
    pub cost: Option<Shown>,
    /// The same as a number.
    pub cost_number: Option<f64>,
    /// Its own mass as stated.
    pub stated_mass: Option<Stated>,
    /// Needed count, where judged.
    pub needed: Option<f64>,
    /// Making steps.
    pub processes: Vec<String>,
    /// Photos that show it.
    pub photos: usize,
    /// Whether a removal names it, or something it sits in.
    pub removed: bool,
    /// Readings due: a mass, a photo.
    pub outstanding: Vec<&'static str>,
}

/// A number as shown, and the address of its reason.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Shown {
    /// As shown.
    pub text: String,
    /// The address.
    pub line: String,
}

/// A value as stated.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Stated {
    /// The value's identifier.
    pub id: String,
    /// The quantity.
    pub quantity: String,
    /// The text as written.
    pub text: String,
    /// Evidence class.
    pub evidence: String,
    /// Where it is from.
    pub source: String,
    /// Mass state.
    pub state: String,
    /// When.
    pub when: String,
    /// Who.
    pub who: String,
    /// How many pieces together.
    pub number: Option<f64>,
    /// Whether a choice names it.
    pub chosen: bool,
}

/// A record with its fields and values.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct RecordView {
    /// Its identifier.
    pub id: String,
    /// What it is.
    pub kind: &'static str,
    /// What it is called.
    pub address: String,
    /// What it stands under.
    pub parent: Option<String>,
    /// Fields as plain text.
    pub fields: BTreeMap<&'static str, String>,
    /// Identifiers behind fields that refer to records.
    pub refs: BTreeMap<&'static str, Vec<String>>,
    /// Values stated of it.
    pub values: Vec<Stated>,
}

/// The parts of a live study.
pub fn parts_table(now: &Now, addresses: &Addresses<'_>) -> PartsTable {
    let (document, study) = (&now.document, &*now.study);
    let computed: HashMap<Id, &tare_study::PartRow> = study.parts.iter().map(|row| (row.id, row)).collect();
    let mut photos: HashMap<Id, usize> = HashMap::new();
    for photo in document.of_kind(None, Kind::Photo) {
        for part in photo.all_refers(Field::Parts) {
            *photos.entry(*part).or_default() += 1;
        }
    }
    // one without a time is planned
    let made = document.of_kind(None, Kind::Removal).filter(|removal| removal.text(Field::When).is_some());
    let removed: BTreeSet<Id> = made.flat_map(|removal| removal.all_refers(Field::Parts)).copied().collect();
    let mut rows = Vec::new();
    let mut open: Vec<(&Record, usize, bool)> = document.of_kind(None, Kind::Part).rev().map(|part| (part, 0, false)).collect();
    while let Some((part, level, inside_removed)) = open.pop() {
        let Some(item) = part.refers(Field::Item).and_then(|id| document.get(id)) else { continue };
        let removed = inside_removed || removed.contains(&part.id);
        open.extend(document.of_kind(Some(part.id), Kind::Part).rev().map(|part| (part, level + 1, removed)));
        let row = computed.get(&part.id);
        let line = |line: Option<tare_study::LineRef>, digits| line.map(|line| Figure::new(study, line, digits));
        let mass = row.and_then(|r| r.mass);
        let cost = line(row.and_then(|r| r.cost), 4);
        let stated = own_mass(document, part, item);
        let photos = photos.get(&part.id).copied().unwrap_or(0);
        let outstanding = [("mass", stated.is_none()), ("photo", photos == 0)];
        let text = |field| part.text(field).or_else(|| item.text(field)).unwrap_or_default().to_owned();
        rows.push(PartLine {
            id: part.id.to_string(),
            item: item.id.to_string(),
            label: addresses.of(part.id),
            level,
            parent: part.parent.map(|id| id.to_string()),
            name: item.text(Field::Name).unwrap_or_default().to_owned(),
            count: part.number(Field::Count).unwrap_or(1.0),
            pieces: row.map(|r| r.pieces),
            material: item.text(Field::Material).or(item.text(Field::Constituents)).unwrap_or_default().to_owned(),
            make: item.text(Field::Make).unwrap_or_default().to_owned(),
            function: text(Field::Function),
            form: item.text(Field::Form).unwrap_or_default().to_owned(),
            says: part.text(Field::Says).unwrap_or_default().to_owned(),
            mass: line(mass, 4).map(shown),
            mass_kg: mass.map(|line| study.value(line)).filter(|x| x.is_finite()),
            cost_number: cost.as_ref().map(|f| f.value).filter(|x| x.is_finite()),
            cost: cost.map(shown),
            stated_mass: stated.map(|value| stated_view(document, value)),
            needed: part.number(Field::Needed),
            processes: row.map(|r| r.processes.clone()).unwrap_or_default(),
            photos,
            removed,
            outstanding: outstanding.into_iter().filter(|(_, due)| *due).map(|(word, _)| word).collect(),
        });
    }
    PartsTable { head: now.head, computed: now.computed, currency: study.currency.clone(), rows }
}

/// How many parts have a mass or a photo outstanding, and how many there are.
pub fn outstanding(document: &Document) -> (usize, usize) {
    let shown: BTreeSet<Id> = document.of_kind(None, Kind::Photo).flat_map(|p| p.all_refers(Field::Parts)).copied().collect();
    let parts = document.records().filter(|record| record.kind == Kind::Part);
    parts.fold((0, 0), |(due, all), part| {
        let item = part.refers(Field::Item).and_then(|id| document.get(id));
        let weighed = item.is_some_and(|item| own_mass(document, part, item).is_some());
        (due + usize::from(!weighed || !shown.contains(&part.id)), all + 1)
    })
}

fn shown(figure: Figure) -> Shown {
    Shown { text: figure.text, line: figure.address }
}

/// The value that stands for the mass of a part or of its item: the chosen one, else that of the strongest evidence, the last among equals.
fn own_mass<'a>(document: &'a Document, part: &Record, item: &Record) -> Option<&'a Record> {
    [item.id, part.id].into_iter().find_map(|subject| {
        let is_mass = |record: &&Record| record.text(Field::Quantity) == Some("mass");
        let choice = document.of_kind(Some(subject), Kind::Choose).find(is_mass).and_then(|c| c.refers(Field::Value));
        let weakness = |value: &&Record| value.text(Field::Evidence).and_then(Evidence::from_word).unwrap_or(Evidence::Assumed);
        choice.and_then(|id| document.get(id)).or_else(|| {
            // of equals the first from behind is the last
            document.of_kind(Some(subject), Kind::Value).rev().filter(is_mass).min_by_key(weakness)
        })
    })
}

fn stated_view(document: &Document, value: &Record) -> Stated {
    let text = |field| value.text(field).unwrap_or_default().to_owned();
    let chosen = value.parent.is_some_and(|subject| {
        document.of_kind(Some(subject), Kind::Choose).any(|choice| choice.refers(Field::Value) == Some(value.id))
    });
    Stated {
        id: value.id.to_string(),
        quantity: text(Field::Quantity),
        text: text(Field::Text),
        evidence: text(Field::Evidence),
        source: text(Field::Source),
        state: text(Field::MassState),
        when: text(Field::When),
        who: text(Field::Who),
        number: value.number(Field::Number),
        chosen,
    }
}

/// A record of a document.
pub fn record_view(document: &Document, addresses: &Addresses<'_>, record: &Record) -> RecordView {
    let refs = record.fields.iter().filter_map(|(field, _)| {
        let ids: Vec<String> = record.all_refers(field).iter().map(ToString::to_string).collect();
        (!ids.is_empty()).then_some((field.word(), ids))
    });
    RecordView {
        id: record.id.to_string(),
        kind: record.kind.word(),
        address: addresses.of(record.id),
        parent: record.parent.map(|id| id.to_string()),
        fields: record.fields.iter().map(|(field, value)| (field.word(), plain(Some(value), addresses))).collect(),
        refs: refs.collect(),
        values: document.of_kind(Some(record.id), Kind::Value).map(|value| stated_view(document, value)).collect(),
    }
}

/// The records of a kind, in the order of the document.
pub fn records_of(document: &Document, addresses: &Addresses<'_>, kind: Kind) -> Vec<RecordView> {
    let mut found: Vec<&Record> = document.records().filter(|record| record.kind == kind).collect();
    found.sort_by(|a, b| (a.parent, &a.order, a.id).cmp(&(b.parent, &b.order, b.id)));
    found.into_iter().map(|record| record_view(document, addresses, record)).collect()
}

/// A key of the library with its title.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct KeyTitle {
    /// The key.
    pub key: String,
    /// The title.
    pub title: String,
}

/// What pages offer to choose from.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Choices {
    /// Methods of joining.
    pub joint_methods: Vec<KeyTitle>,
    /// Making work, of items and of their features.
    pub processes: Vec<KeyTitle>,
    /// Materials.
    pub materials: Vec<KeyTitle>,
    /// States a mass is taken in.
    pub mass_states: Vec<&'static str>,
    /// Classes of evidence, strongest first.
    pub evidence: Vec<&'static str>,
    /// Instruments of the study.
    pub instruments: Vec<KeyTitle>,
    /// Quantities with the unit they are shown in.
    pub quantities: Vec<QuantityRow>,
    /// Unit keys by what they measure.
    pub units: BTreeMap<&'static str, Vec<&'static str>>,
}

/// A quantity that may be stated.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct QuantityRow {
    /// Its name.
    pub key: String,
    /// Its unit; empty for words.
    pub unit: String,
    /// In words.
    pub label: String,
}

/// What the library and a document offer.
pub fn choices(document: &Document, library: &Library) -> Choices {
    let of = |folder: &str| -> Vec<KeyTitle> {
        let keyed = library.calculations().filter(|c| c.key.starts_with(folder));
        keyed.map(|c| KeyTitle { key: c.key.clone(), title: c.title.clone() }).collect()
    };
    let words = |field| {
        Kind::Value.schema().field(field).map_or_else(Vec::new, |ty| match ty {
            tare_model::FieldType::Word(words) => words.to_vec(),
            _ => Vec::new(),
        })
    };
    let instruments = document.of_kind(None, Kind::Instrument);
    Choices {
        joint_methods: of("joints/"),
        processes: of("processes/"),
        materials: library.materials().map(|m| KeyTitle { key: m.key.clone(), title: m.name.clone() }).collect(),
        mass_states: words(Field::MassState),
        evidence: words(Field::Evidence),
        instruments: instruments
            .map(|i| KeyTitle { key: i.id.to_string(), title: i.text(Field::Name).unwrap_or_default().to_owned() })
            .collect(),
        quantities: library
            .quantities()
            .map(|q| QuantityRow {
                key: q.name.clone(),
                unit: q.unit.as_ref().map(|u| u.text.clone()).unwrap_or_default(),
                label: q.label.clone(),
            })
            .collect(),
        units: BTreeMap::from([
            ("mass", vec!["g", "kg", "mg"]),
            ("length", vec!["mm", "cm", "m"]),
            ("torque", vec!["N m"]),
            ("time", vec!["s", "min"]),
            ("temperature", vec!["degC"]),
            ("voltage", vec!["V"]),
        ]),
    }
}

/// How a headline is before and after.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct WhatIfRow {
    /// The headline.
    pub name: String,
    /// As it is.
    pub before: String,
    /// As it would be.
    pub after: String,
    /// The difference, with its sign.
    pub difference: String,
    /// The difference as a share of what is.
    pub share: Option<f64>,
}

/// Headlines of a study beside those of a copy with something changed.
pub fn what_if(document: &Document, before: &Study, after: &Study) -> Vec<WhatIfRow> {
    let headlines = crate::ranges::headlines(document, before);
    let other = crate::ranges::headlines(document, after);
    let rows = headlines.iter().filter_map(|(name, line)| {
        let (_, changed) = other.iter().find(|(other, _)| other == name)?;
        let (old, new) = (before.value(*line), after.value(*changed));
        let unit = before.lines.unit(*line);
        let text = |si: f64| crate::figure::shown(si, unit, &before.currency, 5);
        let sign = if new - old > 0.0 { "+" } else { "" };
        Some(WhatIfRow {
            name: name.clone(),
            before: text(old),
            after: text(new),
            difference: format!("{sign}{}", text(new - old)),
            share: (old != 0.0).then_some((new - old) / old).filter(|x| x.is_finite()),
        })
    });
    rows.collect()
}
