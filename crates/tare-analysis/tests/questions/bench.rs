//! A small invented study, made by hand: a box of a base, a cover, screws and a seal.

use std::sync::OnceLock;
use tare_analysis::{Facts, Schema};
use tare_library::Library;
use tare_model::{Document, DocumentKind, Field, FieldValue, Id, Kind, Record, first_order, order_between};
use tare_study::{Sources, Study, compile};

/// The library that ships.
pub(super) fn library() -> &'static Library {
    static LIBRARY: OnceLock<Library> = OnceLock::new();
    LIBRARY.get_or_init(|| Library::embedded().0)
}

/// What a question may name with that library.
pub(super) fn schema() -> &'static Schema {
    static SCHEMA: OnceLock<Schema> = OnceLock::new();
    SCHEMA.get_or_init(|| Schema::of(library()))
}

/// Records being gathered.
pub(super) struct Bench {
    pub(super) records: Vec<Record>,
    next: u128,
    order: String,
}

impl Bench {
    pub(super) fn new() -> Self {
        let mut bench = Self { records: Vec::new(), next: 1, order: first_order() };
        bench.add(Kind::Study, None, &[(Field::Name, "Box"), (Field::Currency, "EUR"), (Field::Book, "region-a")]);
        let scenario = bench.add(Kind::Scenario, None, &[(Field::Name, "Bench")]);
        bench.value(scenario, "volume", "1000 1/a");
        bench.value(scenario, "life", "5 a");
        bench
    }

    pub(super) fn add(&mut self, kind: Kind, parent: Option<Id>, texts: &[(Field, &str)]) -> Id {
        let id = Id(self.next);
        self.next += 1;
        self.order = order_between(Some(&self.order), None);
        let mut record = Record::new(id, kind).ordered(self.order.clone());
        record.parent = parent;
        self.records.push(texts.iter().fold(record, |record, (field, text)| record.with_text(*field, *text)));
        id
    }

    pub(super) fn set(&mut self, id: Id, field: Field, value: FieldValue) {
        let record = self.records.iter_mut().find(|r| r.id == id).expect("the record was made before");
        record.fields.set(field, Some(value));
    }

    pub(super) fn value(&mut self, subject: Id, quantity: &str, text: &str) -> Id {
        self.add(Kind::Value, Some(subject), &[(Field::Quantity, quantity), (Field::Text, text), (Field::Evidence, "measured")])
    }

    pub(super) fn part(&mut self, under: Option<Id>, label: &str, count: f64, item: &[(Field, &str)]) -> (Id, Id) {
        let item = self.add(Kind::Item, None, item);
        (item, self.place(under, label, count, item))
    }

    pub(super) fn place(&mut self, under: Option<Id>, label: &str, count: f64, item: Id) -> Id {
        let part = self.add(Kind::Part, under, &[(Field::Label, label)]);
        self.set(part, Field::Item, FieldValue::Ref(item));
        self.set(part, Field::Count, FieldValue::Number(count));
        part
    }

    pub(super) fn joint(&mut self, label: &str, method: &str, parts: &[Id], fastener: Option<Id>) -> Id {
        let joint = self.add(Kind::Joint, None, &[(Field::Name, label), (Field::Label, label), (Field::Calculation, method)]);
        self.set(joint, Field::Parts, FieldValue::Refs(parts.to_vec()));
        if let Some(fastener) = fastener {
            self.set(joint, Field::Fastener, FieldValue::Ref(fastener));
        }
        joint
    }

    pub(super) fn document(&self) -> Document {
        Document::from_records(Id(0xb0), DocumentKind::Study, self.records.clone())
    }

    pub(super) fn facts(&self) -> Facts {
        self.compiled().1
    }

    pub(super) fn compiled(&self) -> (Study, Facts) {
        let document = self.document();
        let study = compile(Sources { study: &document, books: &[], library: library() });
        let facts = Facts::of(&document, &study, library());
        (study, facts)
    }
}

/// The box: `B1` with base `B2`, cover `B3`, screws `B4`, seal `B5`, and a second cover `B6` inside a bought lock `B7`.
pub(super) struct BoxStudy {
    pub(super) bench: Bench,
    pub(super) cover: Id,
    pub(super) cover_item: Id,
    pub(super) screwed: Id,
    pub(super) clipped: Id,
}

pub(super) fn box_study() -> BoxStudy {
    let mut b = Bench::new();
    let (_, top) = b.part(None, "B1", 1.0, &[(Field::Name, "Box"), (Field::Make, "make"), (Field::Function, "protect")]);
    let made = |name, material| [(Field::Name, name), (Field::Make, "make"), (Field::Material, material)];
    let (base_item, base) = b.part(Some(top), "B2", 1.0, &made("Base plate", "EN-AW-6082-T6"));
    for (quantity, text) in [("mass", "2 kg"), ("length", "1.2 m"), ("width", "1 m"), ("wall_thickness", "4 mm")] {
        b.value(base_item, quantity, text);
    }
    let (cover_item, cover) = b.part(Some(top), "B3", 1.0, &made("COVER, upper", "PA66-GF30"));
    b.set(cover_item, Field::Dominant, FieldValue::Flag(true));
    for (quantity, text) in [("mass", "500 g"), ("length", "600 mm"), ("width", "400 mm"), ("handling", "flexible")] {
        b.value(cover_item, quantity, text);
    }
    b.set(cover, Field::Needed, FieldValue::Number(1.0));
    let operation =
        b.add(Kind::Operation, Some(cover_item), &[(Field::Name, "mould"), (Field::Calculation, "processes/injection-moulding")]);
    b.value(cover_item, "projected_area", "0.2 m^2");
    b.value(operation, "wall", "2.5 mm");
    b.value(operation, "height", "36 mm");
    let (screw_item, screws) =
        b.part(Some(top), "B4", 8.0, &[(Field::Name, "Screw"), (Field::Make, "buy"), (Field::Form, "fastener")]);
    b.value(screw_item, "price", "0.10 EUR");
    b.value(screw_item, "mass", "5 g");
    let (_, seal) = b.part(Some(top), "B5", 1.0, &[(Field::Name, "Seal"), (Field::Make, "buy"), (Field::Function, "seal")]);
    let (lock_item, lock) = b.part(Some(top), "B7", 1.0, &[(Field::Name, "Lock"), (Field::Make, "buy")]);
    b.value(lock_item, "price", "3 EUR");
    b.place(Some(lock), "B6", 2.0, cover_item);
    let screwed = b.joint("J1", "joints/screw-tapped-hole", &[cover, base], Some(screws));
    b.set(screwed, Field::Function, FieldValue::Text("seal".to_owned()));
    for (quantity, text) in [("count", "8"), ("diameter", "6 mm"), ("drive", "hexagon")] {
        b.value(screwed, quantity, text);
    }
    let clipped = b.joint("J2", "joints/clip", &[seal, cover], None);
    b.value(clipped, "count", "3");
    let tapped = b.add(Kind::Feature, Some(base_item), &[(Field::Name, "threads"), (Field::Calculation, "processes/tapping")]);
    b.set(tapped, Field::Joint, FieldValue::Ref(screwed));
    for (quantity, text) in [("count", "8"), ("diameter", "6 mm"), ("depth", "12 mm")] {
        b.value(tapped, quantity, text);
    }
    let finding = b.add(
        Kind::Finding,
        None,
        &[(Field::Name, "burr"), (Field::Group, "quality"), (Field::Severity, "look"), (Field::Says, "sharp edge")],
    );
    b.set(finding, Field::Parts, FieldValue::Refs(vec![cover]));
    let removal = b.add(Kind::Removal, None, &[(Field::Name, "cover off")]);
    b.set(removal, Field::Joints, FieldValue::Refs(vec![screwed]));
    b.set(removal, Field::Parts, FieldValue::Refs(vec![cover]));
    b.set(removal, Field::Destructive, FieldValue::Flag(true));
    let hold = b.add(Kind::Hold, None, &[(Field::Name, "voltage absent"), (Field::State, "open")]);
    b.set(hold, Field::Removals, FieldValue::Refs(vec![removal]));
    let yardstick = b.add(Kind::Yardstick, None, &[(Field::Name, "Nominal energy")]);
    b.value(yardstick, "energy", "82 kWh");
    BoxStudy { bench: b, cover, cover_item, screwed, clipped }
}
