//! Questions over the box, each with the rows it must find.

use super::bench::{box_study, schema};
use tare_analysis::{Facts, Measure, Question, RowKind};
use tare_model::{Field, FieldValue, Id, Kind};

fn hits(facts: &Facts, kind: RowKind, text: &str) -> Vec<String> {
    let question = Question::read(kind, text, schema()).unwrap_or_else(|problems| panic!("{text}: {problems:?}"));
    let addresses = facts.table(kind).codes("address").unwrap();
    question.hits(facts).iter().map(|row| facts.texts.get(addresses[*row as usize]).unwrap().to_owned()).collect()
}

#[track_caller]
fn parts(text: &str, expected: &[&str]) {
    assert_eq!(hits(&box_study().bench.facts(), RowKind::Part, text), expected, "{text}");
}

#[track_caller]
fn joints(text: &str, expected: &[&str]) {
    assert_eq!(hits(&box_study().bench.facts(), RowKind::Joint, text), expected, "{text}");
}

#[test]
fn texts_numbers_and_units() {
    parts("has(name, 'cover')", &["B3", "B6"]);
    parts("name == 'cover'", &[]);
    parts("mass > 1.9 [kg]", &["B1", "B2"]);
    parts("mass > 1900 [g] and leaf or make == 'buy' and pieces >= 8", &["B2", "B4"]);
    parts("length * width > 1 [m^2]", &["B2"]);
    parts("sqrt(length * width) > 1 [m]", &["B2"]);
    parts("wall_thickness <= 4 [mm]", &["B2"]);
    parts("family == 'aluminium' or family == 'polymer'", &["B2", "B3", "B6"]);
    parts("min(length, width) < 0.5 [m] and first", &["B3"]);
    parts("if(given(wall_thickness), wall_thickness, 1 [mm]) < 2 [mm] and leaf", &["B3", "B4", "B5", "B6"]);
    parts("cost > 2 [EUR] and not leaf and count(children) == 1", &["B7"]);
}

#[test]
fn what_is_not_known_is_neither_so_nor_otherwise() {
    parts("wall_thickness > 1 [mm]", &["B2"]);
    parts("not (wall_thickness > 1 [mm])", &[]);
    parts("not given(wall_thickness) and first and leaf", &["B3", "B4", "B5"]);
    parts("wall_thickness > 1 [mm] or leaf", &["B2", "B3", "B4", "B5", "B6"]);
    parts("not (wall_thickness > 1 [mm] and leaf)", &["B1", "B7"]);
    parts("handling != 'easy'", &["B3", "B6"]);
    // a quantity that the library declares and nobody stated
    parts("depth > 1 [mm]", &[]);
    parts("not given(depth)", &["B1", "B2", "B3", "B4", "B5", "B7", "B6"]);
    // an amount in another currency than the study's says nothing here
    parts("cost > 0 [USD] or cost <= 0 [USD]", &[]);
}

#[test]
fn lists_of_one_relation_pair() {
    parts("any(joints.method == 'joints/clip' and joints.count > 4)", &[]);
    parts("any(joints.method == 'joints/screw-tapped-hole' and joints.count > 4)", &["B2", "B3"]);
    parts("any(joints.method == 'joints/clip') and any(joints.count > 4)", &["B3"]);
    parts("all(joints.function == 'seal') and count(joints) > 0", &["B2"]);
    parts("count(joints) == 2", &["B3"]);
    parts("count(joints.method == 'joints/clip') == 1", &["B3", "B5"]);
    parts("sum(joints.count) == 11", &["B3"]);
    parts("max(joints.count) == 8 and min(joints.count) == 8", &["B2"]);
    parts("mean(joints.count) == 5.5", &["B3"]);
    parts("any(joints.count > 4 * count)", &["B2", "B3"]);
    parts("count(children) == 5", &["B1"]);
}

#[test]
fn lists_of_lists_take_what_they_stand_in() {
    // the fastener of a joint of a part: of those joints that have one
    parts("any(joints.fastener.mass > 1 [g])", &["B2", "B3"]);
    parts("sum(joints.fastener.mass) > 0 [g]", &["B2", "B3"]);
    parts("count(joints.fastener) == 1 and count(joints) == 2", &["B3"]);
    parts("any(joints.count > 4 and joints.fastener.form == 'fastener')", &["B2", "B3"]);
    parts("count(joints.parts) == 4", &["B3"]);
    parts("any(joints.method == 'joints/clip' and joints.parts.family == 'polymer')", &["B3", "B5"]);
    parts("any(joints.parts.family == 'aluminium' and joints.count == 8)", &["B2", "B3"]);
    parts("parent.make == 'buy'", &["B6"]);
    parts("any(parent.joints.count > 0)", &[]);
    parts("any(parent.children.joints.count > 4)", &["B2", "B3", "B4", "B5", "B7"]);
    parts("given(parent) and not given(parent.parent)", &["B2", "B3", "B4", "B5", "B7"]);
    parts("count(parent) == 0", &["B1"]);
    parts("any(operations.wall == 2.5 [mm])", &["B3", "B6"]);
}

#[test]
fn one_row_or_none() {
    joints("fastener.mass < 10 [g]", &["J1"]);
    joints("any(fastener.mass < 10 [g])", &["J1"]);
    joints("not any(fastener.mass < 10 [g])", &["J2"]);
    joints("not (fastener.mass < 10 [g])", &[]);
    joints("method == 'joints/screw-tapped-hole' and diameter <= 8 [mm] and any(parts.family == 'aluminium')", &["J1"]);
    joints("any(parts.family == 'polymer' and parts.mass < 1 [kg])", &["J1", "J2"]);
    joints("assembly.name == 'Box' and removals > 0", &["J1"]);
    joints("drive == 'hexagon' and any(features.calculation == 'processes/tapping')", &["J1"]);
    let facts = box_study().bench.facts();
    assert_eq!(hits(&facts, RowKind::Hold, "state == 'open' and any(removals.destructive)"), ["hold voltage absent"]);
    assert_eq!(hits(&facts, RowKind::Hold, "state == 'open' and any(removals.destructive == 'no')"), [""; 0]);
    assert_eq!(hits(&facts, RowKind::Study, "count(parts) == 7 and cost > 1 [money]"), ["product"]);
    assert_eq!(hits(&facts, RowKind::Operation, "cycle > 1 [s] and part.family == 'polymer'"), ["item B3/op1"]);
}

#[test]
fn columns_of_studies_can_be_asked_for_once_known() {
    let facts = box_study().bench.facts();
    assert!(Question::read(RowKind::Study, "nominal_energy > 80 [kWh]", schema()).is_err());
    let wider = schema().clone().with([&facts]);
    let question = Question::read(RowKind::Study, "nominal_energy > 80 [kWh]", &wider).unwrap();
    assert_eq!(question.hits(&facts), [0]);
    // words that are known stay known, and those of studies come to them
    assert!(Question::read(RowKind::Joint, "method == 'joints/rivett'", &wider).is_err());
    let mut b = box_study();
    b.bench.set(b.clipped, Field::Calculation, FieldValue::Text("joints/own".to_owned()));
    let text = "method == 'joints/own'";
    assert!(Question::read(RowKind::Joint, text, schema()).is_err());
    let facts = b.bench.facts();
    let wider = schema().clone().with([&facts]);
    assert_eq!(Question::read(RowKind::Joint, text, &wider).unwrap().hits(&facts), [1]);
    assert!(Question::read(RowKind::Joint, "method == 'joints/clip'", &wider).is_ok());
}

#[test]
fn a_name_of_two_meanings_takes_the_one_that_fits() {
    // pieces a year, and the room something takes
    parts("volume > 7000 [1/a]", &["B4"]);
    parts("volume > 7 [cm^3]", &[]);
    let mut b = box_study();
    b.bench.value(b.cover_item, "volume", "8 cm^3");
    let facts = b.bench.facts();
    assert_eq!(hits(&facts, RowKind::Part, "volume > 7 [cm^3]"), ["B3", "B6"]);
    assert_eq!(hits(&facts, RowKind::Part, "volume > 7000 [1/a]"), ["B4"]);
}

#[test]
fn measures_have_units() {
    let facts = box_study().bench.facts();
    let measure = Measure::read(RowKind::Part, "cost / (length * width)", schema()).unwrap();
    assert_eq!(measure.unit.text, "money/m^2");
    let values = measure.values(&facts);
    assert_eq!(values.len(), 7);
    assert!(values[0].is_nan());
    let cost = facts.table(RowKind::Part).numbers("cost", "money").unwrap();
    assert!((values[1] - cost[1] / 1.2).abs() < 1e-12, "{values:?}");
    let length = Measure::read(RowKind::Part, "length", schema()).unwrap();
    assert_eq!((length.unit.text.as_str(), length.values(&facts)[1]), ("mm", 1.2));
    assert_eq!(Measure::read(RowKind::Part, "2", schema()).unwrap().values(&facts), [2.0; 7]);
}

#[test]
fn lists_of_lists_are_taken_a_few_rows_at_a_time_and_never_without_end() {
    // 200 findings that all name the same 200 places: 40 000 entries a place, and 8 million one step further
    let mut b = box_study();
    let top = b.bench.records.iter().find(|r| r.text(Field::Label) == Some("B1")).unwrap().id;
    let places: Vec<Id> = (0..200).map(|n| b.bench.place(Some(top), &format!("D{n}"), 1.0, b.cover_item)).collect();
    for n in 0..200 {
        let finding = b.bench.add(Kind::Finding, None, &[(Field::Name, &format!("dust {n}"))]);
        b.bench.set(finding, Field::Parts, FieldValue::Refs(places.clone()));
    }
    let facts = b.bench.facts();
    let found = |text: &str| hits(&facts, RowKind::Part, text);
    assert_eq!(found("count(findings.parts) == 40000").len(), 200);
    assert_eq!(found("count(findings.parts.mass > 0.4 [kg]) == 40000 and first or mass > 1.9 [kg] and leaf"), ["B2"]);
    // what is too much to look at is not known, either way; the places with one finding are
    assert_eq!(found("count(findings.parts.findings) > 1"), [""; 0]);
    assert_eq!(found("not (count(findings.parts.findings) > 1) and count(findings) > 0"), ["B3"]);
    let sums = Measure::read(RowKind::Part, "sum(findings.parts.mass)", schema()).unwrap().values(&facts);
    let row = facts.table(RowKind::Part).ids.iter().position(|id| *id == places[7]).unwrap();
    assert!((sums[row] - 20_000.0).abs() < 1e-6, "{}", sums[row]);
}
