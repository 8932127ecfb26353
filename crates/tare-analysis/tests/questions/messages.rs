//! What is said of questions that cannot be asked.

use super::bench::schema;
use tare_analysis::{Measure, Question, RowKind};
use tare_diag::{Diag, render};

fn problems(kind: RowKind, text: &str) -> Vec<Diag> {
    Question::read(kind, text, schema()).map(|_| Vec::new()).unwrap_or_else(|problems| problems)
}

/// One problem with its code, the text it points at, and a hint that holds some words.
#[track_caller]
fn refused(text: &str, code: &str, pointed: &str, hint: &str) {
    let found = problems(RowKind::Part, text);
    let shown: Vec<String> = found.iter().map(|d| render(d, |_| Some(text))).collect();
    assert_eq!(found.len(), 1, "{text}: {shown:?}");
    assert_eq!(found[0].code, code, "{shown:?}");
    let Some(tare_diag::Place::Span { file, span }) = &found[0].place else { panic!("{shown:?}") };
    assert_eq!((file.as_str(), &text[span.clone()]), ("question", pointed), "{shown:?}");
    assert!(found[0].hints.iter().any(|h| h.contains(hint)) || hint.is_empty(), "{shown:?}");
}

#[test]
fn each_mistake_has_its_place_and_a_way_out() {
    refused("mas > 1 [kg]", "unknown-name", "mas", "did you mean `mass`?");
    refused("method == 'joints/clip'", "unknown-name", "method", "joints.method");
    refused("any(joints.metod == 'joints/clip')", "unknown-name", "joints.metod", "did you mean `method`?");
    refused("any(joints.method == 'joints/rivett')", "unknown-choice", "'joints/rivett'", "did you mean `joints/rivet`?");
    refused("make == 'made'", "unknown-choice", "'made'", "did you mean `make`?");
    refused("joints and leaf", "not-a-condition", "joints", "any(joints.");
    refused("joints", "not-a-condition", "joints", "any(joints.");
    refused("parent", "not-a-condition", "parent", "given(parent)");
    refused("any(children)", "not-a-condition", "children", "count(children) > 0");
    refused("joints.count > 4", "list", "joints.count > 4", "any(joints.count > 4)");
    refused("any(joints.count > children.count)", "lists-mixed", "joints.count > children.count", "any(joints");
    refused("any(mass > 1 [kg])", "not-a-list", "mass > 1 [kg]", "name a relation");
    refused("has(mass, 'x')", "not-a-text", "mass", "");
    refused("has(name, material)", "not-a-text", "material", "has(name, 'cover')");
    refused("given(joints)", "given-of-list", "joints", "count(joints) > 0");
    refused("floor(length) > 1", "dimension-mismatch", "length", "x / 1 [mm]");
    refused("name > 'a'", "not-a-number", "name > 'a'", "has(text");
    refused("mass", "not-a-condition", "mass", "mass > 1 [kg]");
    refused("mas", "unknown-name", "mas", "mass");
    refused("parent == parent.parent", "rows-compared", "parent == parent.parent", "parent.name");
    refused("hass(name, 'x')", "unknown-function", "hass", "did you mean");
    refused("mass > 1 kg", "formula-syntax", "kg", "[kg]");
}

#[test]
fn dimensions_are_checked_when_a_question_is_read() {
    for text in ["mass > 1 [mm]", "mass + length > 1 [kg]", "length * width > 1 [m]", "cost > 1 [kg]", "length^width > 1"] {
        let found = problems(RowKind::Part, text);
        assert_eq!(found.iter().map(|d| d.code).collect::<Vec<_>>(), ["dimension-mismatch"], "{text}: {found:?}");
    }
    assert!(
        problems(RowKind::Part, "length^2 > 1 [m^2] and (length * width)^0.5 > 1 [m] and cost / mass > 1 [EUR/kg]").is_empty()
    );
    assert!(problems(RowKind::Part, "mass > 0 and length - 0 > 0").is_empty());
}

#[test]
fn all_problems_come_at_once() {
    let found = problems(RowKind::Joint, "mas > 1 [kg] and cont > 4 and metod == 'x'");
    assert_eq!(found.len(), 3, "{found:?}");
}

#[test]
fn functions_of_calculations_are_refused_by_name() {
    for text in ["pick(table, count) > 1", "at(children.count, 1) > 1", "normal_inv(0.5) > 0", "sin(count) > 0"] {
        let found = problems(RowKind::Part, text);
        assert!(found.iter().any(|d| d.code == "function-not-here"), "{text}: {found:?}");
    }
}

#[test]
fn no_text_costs_more_than_a_message() {
    let long = vec!["joints"; 40].join(".parts.") + ".count > 1";
    assert_eq!(problems(RowKind::Part, &format!("any({long})"))[0].code, "path-too-long");
    let deep = format!("{}mass > 1 [kg]{}", "(".repeat(5000), ")".repeat(5000));
    assert!(!problems(RowKind::Part, &deep).is_empty());
    for text in ["", "§", "'", "mass >", "any()", "if(leaf, 1)", "x.y.z", "1.count > 2", "true.count > 1"] {
        assert!(!problems(RowKind::Part, text).is_empty(), "{text}");
    }
}

#[test]
fn a_measure_is_a_number_of_each_row() {
    let measure = |text| Measure::read(RowKind::Part, text, schema()).map(|_| ()).map_err(|d| (d[0].code, d[0].hints.join(" ")));
    assert_eq!(measure("mass / count"), Ok(()));
    assert_eq!(measure("name").unwrap_err().0, "not-a-number");
    assert_eq!(measure("leaf").unwrap_err().0, "not-a-number");
    assert!(measure("joints.count").unwrap_err().1.contains("sum(joints.count)"));
    assert!(measure("joints").unwrap_err().1.contains("count(joints)"));
}
