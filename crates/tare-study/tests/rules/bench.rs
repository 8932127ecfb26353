//! Makes small studies by hand and reads numbers from what they compile to.

use super::files::OWN;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use tare_library::Library;
use tare_model::{Document, DocumentKind, Field, FieldValue, Id, Kind, Record, first_order, order_between};
use tare_study::{CostKind, ItemRow, LineRef, Sources, Study, compile};

/// Seconds of a year as the units know it.
pub(super) const YEAR: f64 = 365.25 * 86_400.0;

/// The library that ships with Tare, with the tests' own calculations laid over it.
pub(super) fn library() -> &'static Library {
    static LIBRARY: OnceLock<Library> = OnceLock::new();
    LIBRARY.get_or_init(|| {
        let (library, problems) = Library::embedded().0.with_own(OWN.iter().copied());
        assert!(problems.is_empty(), "{problems:?}");
        let wrong: Vec<_> = library.check().into_iter().filter(|d| format!("{d:?}").contains("test-")).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
        library
    })
}

/// A study under construction: in EUR, without a rate book, with the few rates that most rules need.
#[derive(Clone)]
pub(super) struct Bench {
    records: Vec<Record>,
    next: u128,
    order: String,
    pub(super) study: Id,
    pub(super) scenario: Id,
}

impl Bench {
    /// A study of 1000 products a year over 5 years: wages of 36 EUR/h without on-costs, 4000 machine hours a year, 10 % interest.
    pub(super) fn new() -> Self {
        let mut bench = Self { records: Vec::new(), next: 1, order: first_order(), study: Id(1), scenario: Id(2) };
        bench.study = bench.add(Kind::Study, None, &[(Field::Name, text("Bench")), (Field::Currency, text("EUR"))]);
        bench.scenario = bench.add(Kind::Scenario, None, &[(Field::Name, text("Bench"))]);
        bench.value(bench.scenario, "volume", "1000 1/a");
        bench.value(bench.scenario, "life", "5 a");
        let rates = [
            ("wage.operator", "36 EUR/h"),
            ("wage.setter", "40 EUR/h"),
            ("labour.fringe", "0"),
            ("machine.hours", "4000 h/a"),
            ("interest", "0.1 1/a"),
        ];
        for (key, rate) in rates {
            bench.rate(bench.study, key, rate);
        }
        bench
    }

    pub(super) fn add(&mut self, kind: Kind, parent: Option<Id>, fields: &[(Field, FieldValue)]) -> Id {
        let id = Id(self.next);
        self.next += 1;
        self.order = order_between(Some(&self.order), None);
        let mut record = Record::new(id, kind).ordered(self.order.clone());
        record.parent = parent;
        for (field, value) in fields {
            record = record.with(*field, value.clone());
        }
        self.records.push(record);
        id
    }

    /// Sets a field of a record made before.
    pub(super) fn set(&mut self, id: Id, field: Field, value: FieldValue) {
        let record = self.records.iter_mut().find(|r| r.id == id).expect("the record was made before");
        record.fields.set(field, Some(value));
    }

    /// States a value, replacing what stood there.
    pub(super) fn value(&mut self, subject: Id, quantity: &str, said: &str) -> Id {
        self.forget(subject, quantity);
        self.another(subject, quantity, said, "derived")
    }

    /// Takes away what is stated of a quantity.
    pub(super) fn forget(&mut self, subject: Id, quantity: &str) {
        self.records
            .retain(|r| !(r.parent == Some(subject) && r.kind == Kind::Value && r.text(Field::Quantity) == Some(quantity)));
    }

    /// Takes back every choice among values.
    pub(super) fn drop_choices(&mut self) {
        self.records.retain(|r| r.kind != Kind::Choose);
    }

    /// States a value beside others, with its evidence.
    pub(super) fn another(&mut self, subject: Id, quantity: &str, said: &str, evidence: &str) -> Id {
        self.add(
            Kind::Value,
            Some(subject),
            &[(Field::Quantity, text(quantity)), (Field::Text, text(said)), (Field::Evidence, text(evidence))],
        )
    }

    pub(super) fn values(&mut self, subject: Id, stated: &[(&str, &str)]) {
        for (quantity, said) in stated {
            self.value(subject, quantity, said);
        }
    }

    /// States a rate of the study or an organisation, replacing what stood there.
    pub(super) fn rate(&mut self, owner: Id, key: &str, said: &str) {
        self.records.retain(|r| !(r.parent == Some(owner) && r.text(Field::Key) == Some(key)));
        self.add(
            Kind::Rate,
            Some(owner),
            &[(Field::Key, text(key)), (Field::Text, text(said)), (Field::Evidence, text("assumed"))],
        );
    }

    /// Takes away a rate of the study.
    pub(super) fn forget_rate(&mut self, key: &str) {
        let study = self.study;
        self.records.retain(|r| !(r.parent == Some(study) && r.kind == Kind::Rate && r.text(Field::Key) == Some(key)));
    }

    /// A made item.
    pub(super) fn item(&mut self, name: &str) -> Id {
        self.add(Kind::Item, None, &[(Field::Name, text(name)), (Field::Make, text("make"))])
    }

    /// A bought item with its price.
    pub(super) fn bought(&mut self, name: &str, price: &str) -> Id {
        let item = self.add(Kind::Item, None, &[(Field::Name, text(name)), (Field::Make, text("buy"))]);
        self.value(item, "price", price);
        item
    }

    pub(super) fn part(&mut self, item: Id, parent: Option<Id>, count: f64) -> Id {
        self.add(Kind::Part, parent, &[(Field::Item, FieldValue::Ref(item)), (Field::Count, FieldValue::Number(count))])
    }

    /// The part at the top.
    pub(super) fn top(&self) -> Id {
        self.records.iter().find(|r| r.kind == Kind::Part && r.parent.is_none()).expect("a product").id
    }

    /// A part that is not handled by hand, so that no station is assumed for it.
    pub(super) fn bulk(&mut self, item: Id, parent: Id, count: f64) -> Id {
        self.set(item, Field::Form, text("bulk"));
        self.part(item, Some(parent), count)
    }

    /// An operation with its own values.
    pub(super) fn operation(&mut self, under: Id, key: &str, stated: &[(&str, &str)]) -> Id {
        let operation = self.add(Kind::Operation, Some(under), &[(Field::Name, text(key)), (Field::Calculation, text(key))]);
        self.values(operation, stated);
        operation
    }

    /// A product that is one made item with one operation.
    pub(super) fn product(&mut self, key: &str, stated: &[(&str, &str)]) -> (Id, Id) {
        let item = self.item("Product");
        self.part(item, None, 1.0);
        let operation = self.operation(item, key, stated);
        (item, operation)
    }

    pub(super) fn organisation(&mut self, name: &str) -> Id {
        self.add(Kind::Organisation, None, &[(Field::Name, text(name))])
    }

    pub(super) fn joint(&mut self, key: &str, parts: &[Id], stated: &[(&str, &str)]) -> Id {
        let fields =
            [(Field::Name, text("joined")), (Field::Calculation, text(key)), (Field::Parts, FieldValue::Refs(parts.to_vec()))];
        let joint = self.add(Kind::Joint, None, &fields);
        self.values(joint, stated);
        joint
    }

    /// Its records.
    pub(super) fn document(&self) -> Document {
        Document::from_records(Id(0xbe7c), DocumentKind::Study, self.records.clone())
    }

    /// What it compiles to, problems and all.
    pub(super) fn compile(&self) -> Study {
        let document = self.document();
        compile(Sources { study: &document, books: &[], library: library() })
    }

    /// What it compiles to; an error in it fails the test.
    pub(super) fn clean(&self) -> Study {
        let study = self.compile();
        let errors: Vec<String> = study.problems.iter().filter(|d| d.is_error()).map(|d| format!("{d} {:?}", d.place)).collect();
        assert!(errors.is_empty(), "{errors:#?}");
        study
    }

    /// Cost of the product.
    pub(super) fn cost(&self) -> f64 {
        cost(&self.clean())
    }
}

pub(super) fn text(said: &str) -> FieldValue {
    FieldValue::Text(said.to_owned())
}

pub(super) fn cost(study: &Study) -> f64 {
    study.value(study.totals.cost.expect("the product has a cost"))
}

/// One kind of cost of the product; nothing where it does not occur.
pub(super) fn kind(study: &Study, kind: CostKind) -> f64 {
    study.totals.by_kind.iter().find(|(k, _)| *k == kind).map_or(0.0, |(_, line)| study.value(*line))
}

/// The kinds that occur with their amounts, for comparing two studies.
pub(super) fn kinds(study: &Study) -> BTreeMap<CostKind, f64> {
    study.totals.by_kind.iter().map(|(k, line)| (*k, study.value(*line))).collect()
}

pub(super) fn item(study: &Study, id: Id) -> &ItemRow {
    study.items.iter().find(|row| row.id == id).expect("the item is in the parts tree")
}

/// Pieces of an item a year.
pub(super) fn volume(study: &Study, id: Id) -> f64 {
    study.value(item(study, id).volume.expect("the item has a volume")) * YEAR
}

/// The line at an address.
pub(super) fn line(study: &Study, address: &str) -> LineRef {
    let near = || {
        (0..study.lines.blocks.len() as u32)
            .flat_map(|b| study.lines.lines_of(b))
            .map(|l| study.lines.address(l))
            .collect::<Vec<_>>()
    };
    study.lines.find(address).unwrap_or_else(|| panic!("no line `{address}` among {:#?}", near()))
}

/// The value at an address, in SI.
pub(super) fn at(study: &Study, address: &str) -> f64 {
    study.value(line(study, address))
}

/// Whether an error with this code was found; its place and words.
pub(super) fn error(study: &Study, code: &str) -> Option<String> {
    study.problems.iter().find(|d| d.is_error() && d.code == code).map(|d| format!("{d} at {:?}, {:?}", d.place, d.hints))
}

#[track_caller]
pub(super) fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} where {expected} within {within} is due");
}

/// Equal but for rounding of the machine.
#[track_caller]
pub(super) fn same(found: f64, expected: f64) {
    near(found, expected, 1e-9 * expected.abs().max(1.0));
}
