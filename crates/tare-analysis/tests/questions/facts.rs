//! What the tables hold against what the study says.

use super::bench::{box_study, library};
use tare_analysis::{Data, Facts, NONE, RowKind, Truth};
use tare_model::{Field, FieldValue};
use tare_units::Unit;

fn row(facts: &Facts, kind: RowKind, address: &str) -> usize {
    let code = facts.texts.code(address).unwrap_or_else(|| panic!("no text {address}"));
    facts.table(kind).codes("address").unwrap().iter().position(|c| *c == code).unwrap_or_else(|| panic!("no row {address}"))
}

#[track_caller]
fn number(facts: &Facts, kind: RowKind, address: &str, name: &str, unit: &str) -> f64 {
    let unit = Unit::parse(unit).unwrap();
    let values = facts.table(kind).numbers(name, &unit.dim.to_string()).unwrap_or_else(|| panic!("no column {name}"));
    unit.from_si(values[row(facts, kind, address)])
}

#[track_caller]
fn text<'f>(facts: &'f Facts, kind: RowKind, address: &str, name: &str) -> Option<&'f str> {
    facts.texts.get(facts.table(kind).codes(name)?[row(facts, kind, address)])
}

fn related(facts: &Facts, kind: RowKind, address: &str, relation: &str, to: RowKind) -> Vec<String> {
    let rows = facts.table(kind).relation(relation).unwrap().of(row(facts, kind, address));
    let addresses = facts.table(to).codes("address").unwrap();
    rows.iter().map(|r| facts.texts.get(addresses[*r as usize]).unwrap().to_owned()).collect()
}

const P: RowKind = RowKind::Part;
const J: RowKind = RowKind::Joint;

#[test]
fn parts_say_what_their_items_and_the_study_say() {
    let (study, facts) = box_study().bench.compiled();
    assert_eq!(facts.currency, "EUR");
    assert_eq!(facts.table(P).rows(), 7);
    assert_eq!(number(&facts, P, "B2", "mass", "kg"), 2.0);
    assert_eq!(number(&facts, P, "B3", "mass", "g"), 500.0);
    assert_eq!(number(&facts, P, "B3", "length", "mm"), 600.0);
    assert!(number(&facts, P, "B2", "projected_area", "m^2").is_nan());
    assert_eq!(number(&facts, P, "B4", "pieces", "1"), 8.0);
    assert_eq!(number(&facts, P, "B6", "level", "1"), 2.0);
    assert_eq!(number(&facts, P, "B3", "needed", "1"), 1.0);
    assert!(number(&facts, P, "B2", "needed", "1").is_nan());
    assert_eq!(text(&facts, P, "B2", "family"), Some("aluminium"));
    assert_eq!(text(&facts, P, "B3", "family"), Some("polymer"));
    assert_eq!(text(&facts, P, "B5", "family"), None);
    assert_eq!(text(&facts, P, "B3", "function"), Some("protect"));
    assert_eq!(text(&facts, P, "B3", "own_function"), None);
    assert_eq!(text(&facts, P, "B5", "function"), Some("seal"));
    assert_eq!(text(&facts, P, "B3", "handling"), Some("flexible"));
    // the price of eight screws as the study has it, and the screws' volume a year
    let line = study.parts.iter().find(|p| p.label == "B4").unwrap().cost.unwrap();
    assert_eq!(number(&facts, P, "B4", "cost", "money"), study.value(line));
    let line = study.items.iter().find(|i| i.name == "Screw").unwrap().volume.unwrap();
    let volume = facts.table(P).numbers("volume", "1/s").unwrap()[row(&facts, P, "B4")];
    assert_eq!(volume, study.value(line));
    assert!(volume * 365.25 * 86400.0 > 7999.0);
}

#[test]
fn places_of_one_item_share_what_is_stated_and_only_one_is_first() {
    let b = box_study();
    let facts = b.bench.facts();
    assert_eq!(number(&facts, P, "B6", "width", "mm"), 400.0);
    let first = |address| facts.table(P).flags("first").unwrap()[row(&facts, P, address)];
    assert_eq!((first("B3"), first("B6")), (Truth::YES, Truth::NO));
    let flag = |name, address| facts.table(P).flags(name).unwrap()[row(&facts, P, address)] == Truth::YES;
    assert!(flag("inside_costed", "B6") && !flag("inside_costed", "B3"));
    assert!(flag("leaf", "B3") && !flag("leaf", "B7") && !flag("leaf", "B1"));
    assert!(flag("dominant", "B6") && !flag("dominant", "B2"));
    assert_eq!(facts.table(P).items[row(&facts, P, "B6")], b.cover_item);
    assert_eq!(facts.table(P).ids[row(&facts, P, "B3")], b.cover);
}

#[test]
fn a_place_may_say_otherwise_than_its_item() {
    let mut b = box_study();
    b.bench.value(b.cover, "width", "410 mm");
    let facts = b.bench.facts();
    assert_eq!(number(&facts, P, "B3", "width", "mm"), 410.0);
    assert_eq!(number(&facts, P, "B6", "width", "mm"), 400.0);
}

#[test]
fn relations_go_both_ways() {
    let facts = box_study().bench.facts();
    assert_eq!(related(&facts, P, "B1", "children", P), ["B2", "B3", "B4", "B5", "B7"]);
    assert_eq!(related(&facts, P, "B6", "parent", P), ["B7"]);
    assert_eq!(related(&facts, P, "B1", "parent", P), [""; 0]);
    assert_eq!(related(&facts, P, "B3", "joints", J), ["J1", "J2"]);
    assert_eq!(related(&facts, J, "J1", "parts", P), ["B3", "B2"]);
    assert_eq!(related(&facts, J, "J1", "fastener", P), ["B4"]);
    assert_eq!(related(&facts, P, "B4", "fastens", J), ["J1"]);
    assert_eq!(related(&facts, J, "J1", "assembly", P), ["B1"]);
    assert_eq!(related(&facts, J, "J1", "features", RowKind::Feature), ["item B2/feature1"]);
    assert_eq!(related(&facts, RowKind::Feature, "item B2/feature1", "joint", J), ["J1"]);
    assert_eq!(related(&facts, RowKind::Operation, "item B3/op1", "part", P), ["B3"]);
    assert_eq!(related(&facts, P, "B6", "operations", RowKind::Operation), ["item B3/op1"]);
    assert_eq!(related(&facts, P, "B3", "findings", RowKind::Finding), ["finding burr"]);
    assert_eq!(related(&facts, RowKind::Hold, "hold voltage absent", "joints", J), ["J1"]);
    assert_eq!(related(&facts, RowKind::Study, "product", "findings", RowKind::Finding), ["finding burr"]);
}

#[test]
fn twins_know_each_other() {
    let mut b = box_study();
    let base_item = b.bench.records.iter().find(|r| r.text(Field::Name) == Some("Base plate")).unwrap().id;
    b.bench.set(b.cover_item, Field::Twin, FieldValue::Ref(base_item));
    let facts = b.bench.facts();
    assert_eq!(related(&facts, P, "B2", "twin", P), ["B3", "B6"]);
    assert_eq!(related(&facts, P, "B6", "twin", P), ["B2"]);
}

#[test]
fn joints_and_work_carry_statements_and_the_lines_they_are_bound_to() {
    let (study, facts) = box_study().bench.compiled();
    assert_eq!(number(&facts, J, "J1", "count", "1"), 8.0);
    assert_eq!(number(&facts, J, "J2", "count", "1"), 3.0);
    assert_eq!(number(&facts, J, "J1", "diameter", "mm"), 6.0);
    assert_eq!(number(&facts, J, "J1", "removals", "1"), 1.0);
    assert_eq!(number(&facts, J, "J2", "removals", "1"), 0.0);
    assert_eq!(text(&facts, J, "J1", "drive"), Some("hexagon"));
    let manual = study.joints.iter().find(|j| j.name.starts_with("J1")).unwrap().manual.unwrap();
    assert_eq!(number(&facts, J, "J1", "manual", "s"), study.value(manual));
    // a line of the joint's calculation, and one of an operation's and a feature's
    let line = |address: &str| study.value(study.lines.find(address).unwrap_or_else(|| panic!("no line {address}")));
    assert_eq!(number(&facts, J, "J1", "run_down", "s"), line("J1/joint/run_down"));
    assert_eq!(number(&facts, RowKind::Operation, "item B3/op1", "cycle", "s"), line("item B3/op1/cycle"));
    assert_eq!(number(&facts, RowKind::Feature, "item B2/feature1", "cycle", "s"), line("item B2/feature1/cycle"));
    // what is stated on the operation stands before any line of that name
    assert_eq!(number(&facts, RowKind::Operation, "item B3/op1", "wall", "mm"), 2.5);
    let flags = facts.table(RowKind::Removal).flags("destructive").unwrap();
    assert_eq!(flags, [Truth::YES]);
}

#[test]
fn joints_of_one_name_keep_their_own_lines() {
    let mut b = box_study();
    for (id, diameter) in [(b.screwed, "6 mm"), (b.clipped, "12 mm")] {
        b.bench.records.retain(|r| !(r.parent == Some(id) && r.text(Field::Quantity) == Some("diameter")));
        b.bench.set(id, Field::Label, FieldValue::Text(String::new()));
        let record = b.bench.records.iter_mut().find(|r| r.id == id).unwrap();
        record.fields.set(Field::Label, None);
        record.fields.set(Field::Name, Some(FieldValue::Text("screws".to_owned())));
        record.fields.set(Field::Calculation, Some(FieldValue::Text("joints/screw-tapped-hole".to_owned())));
        b.bench.value(id, "diameter", diameter);
    }
    let facts = b.bench.facts();
    let engagement = facts.table(J).numbers("engagement", "m").expect("the default of a joint's input is a line");
    assert!((engagement[0] - 1.2 * 0.006).abs() < 1e-12 && (engagement[1] - 1.2 * 0.012).abs() < 1e-12, "{engagement:?}");
}

#[test]
fn the_study_has_its_totals_and_yardsticks() {
    let (study, facts) = box_study().bench.compiled();
    let total = study.value(study.totals.cost.unwrap());
    assert_eq!(number(&facts, RowKind::Study, "product", "cost", "money"), total);
    assert!(total > 0.0);
    assert_eq!(number(&facts, RowKind::Study, "product", "nominal_energy", "kWh"), 82.0);
    assert_eq!(facts.table(RowKind::Study).rows(), 1);
}

#[test]
fn a_mean_of_readings_is_the_number_the_study_uses() {
    let mut b = box_study();
    let item = b.cover_item;
    let mean = |b: &super::bench::BoxStudy| number(&b.bench.facts(), P, "B3", "width", "mm");
    b.bench.value(item, "width", "420 mm");
    let choose = b.bench.add(tare_model::Kind::Choose, Some(item), &[(Field::Quantity, "width"), (Field::Method, "mean")]);
    assert!((mean(&b) - 410.0).abs() < 1e-9, "{}", mean(&b));
    b.bench.records.retain(|r| r.id != choose);
    assert_eq!(mean(&b), 420.0);
}

#[test]
fn facts_can_be_kept_and_read_again() {
    let facts = box_study().bench.facts();
    // JSON has no NaN; what is finite comes back, which is enough to see every table, text and relation
    let text = serde_json::to_string(&facts).unwrap().replace("null", "-1.0");
    let again: Facts = serde_json::from_str(&text).unwrap();
    assert_eq!(again.texts, facts.texts);
    for kind in RowKind::ALL {
        let (a, b) = (facts.table(kind), again.table(kind));
        assert_eq!((&a.ids, &a.items, a.columns().len()), (&b.ids, &b.items, b.columns().len()));
        for (x, y) in a.columns().iter().zip(b.columns()) {
            match (&x.data, &y.data) {
                (Data::Numbers { values: x, .. }, Data::Numbers { values: y, .. }) => {
                    assert!(x.iter().zip(y).all(|(x, y)| x == y || x.is_nan()));
                }
                (x, y) => assert_eq!(x, y),
            }
        }
    }
    assert!(facts.bytes() > 1000);
    assert_ne!(facts.texts.code("hexagon"), Some(NONE));
    assert!(library().quantity("drive").is_some());
}
