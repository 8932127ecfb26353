//! A document as text, both ways: nothing is lost, and the same text always gives the same document.

use proptest::prelude::*;
use tare_app::text_form::{TextFile, id_of, read, write};
use tare_library::Library;
use tare_model::{Document, DocumentKind, Edit, Field, FieldValue, Id, Kind, Record, SetField};
use tare_study::generate::{Size, study};

/// What a text says, as a document.
fn document(text: &str, library: &Library) -> Document {
    let read = read("set", &[TextFile { name: "study.toml", text }], library).expect("the text reads");
    let mut document = Document::new(read.id, read.kind);
    document.change_all(&read.changes).expect("the changes hold");
    document
}

/// Everything a document says, without identifiers and order keys: records in tree order, references by what they refer to.
fn said(document: &Document) -> Vec<String> {
    let path = |id: Id| {
        let up: Vec<Id> = document.ancestors(id).collect();
        let place = |id: &Id| {
            document.get(*id).map_or(String::new(), |r| {
                format!("{}:{}", r.kind, document.of_kind(r.parent, r.kind).position(|s| s.id == *id).unwrap_or(0))
            })
        };
        up.iter().rev().map(place).collect::<Vec<_>>().join("/")
    };
    let value = |v: &FieldValue| match v {
        FieldValue::Ref(id) => path(*id),
        FieldValue::Refs(ids) => ids.iter().map(|id| path(*id)).collect::<Vec<_>>().join("+"),
        other => format!("{other:?}"),
    };
    // in the edits of ideas too; what refers to a record that goes is kept in the order of identifiers
    let named = |text: String| {
        let ids = document.records().map(|r| r.id).filter(|id| text.contains(&id.to_string())).collect::<Vec<_>>();
        ids.into_iter().fold(text.clone(), |text, id| text.replace(&id.to_string(), &path(id)))
    };
    let edits = |text: &str| {
        let mut edits: serde_json::Value = serde_json::from_str(text).expect("edits");
        for edit in edits.as_array_mut().expect("a list") {
            if let Some(serde_json::Value::Array(references)) = edit.pointer_mut("/remove/references") {
                references.sort_by_key(|set| named(set.to_string()));
            }
        }
        named(edits.to_string())
    };
    let value = |field: Field, v: &FieldValue| match (field, v) {
        (Field::Edits, FieldValue::Text(text)) => edits(text),
        _ => value(v),
    };
    let mut lines: Vec<String> = document
        .records()
        .map(|r: &Record| {
            let fields: Vec<String> = r.fields.iter().map(|(f, v)| format!("{f}={}", value(f, v))).collect();
            format!("{} {}", path(r.id), fields.join(" "))
        })
        .collect();
    lines.sort();
    lines
}

#[test]
fn the_demo_survives_the_way_through_text() {
    let (library, _) = Library::embedded();
    let files = tare_app::demo::files();
    let texts: Vec<TextFile<'_>> = files.iter().map(|(name, text)| TextFile { name, text }).collect();
    let first = read("demo", &texts, &library).expect("the demo reads");
    let mut demo = Document::new(first.id, first.kind);
    demo.change_all(&first.changes).expect("the changes hold");
    assert!(demo.records().len() > 1_000);
    let again = document(&write(&demo), &library);
    let (a, b) = (said(&demo), said(&again));
    assert_eq!(a.iter().zip(&b).find(|(a, b)| a != b), None);
    assert_eq!(a.len(), b.len());
    assert_eq!(first.changes, read("demo", &texts, &library).expect("again").changes, "the same text gives the same document");
}

#[test]
fn every_kind_and_odd_text_survives() {
    let (library, _) = Library::embedded();
    let text = r#"
[study.main]
name = "Odd \"quotes\", \\ and\nlines, ä電"
currency = "EUR"
rate."wage.operator" = "24 EUR/h"
rate.wage.skilled = { text = "30 EUR/h", source = "own", evidence = "quoted" }

[instrument.s]
name = "scale"
value.zero = "0 +- 60 g"

[item.a]
name = "A"
value.mass = [
  { text = "1 kg", instrument = "s", mass_state = "cleaned", who = "x", when = 2026-03-02 },
  { text = "1.1 kg", evidence = "quoted", source = "list" },
]
choose.mass = { method = "one", value = 2, says = "why" }

[item.b]
name = "A"

[part.top]
item = "a"
count = 1

[part.in_it]
item = "b"
parent = "top"
count = 2.5
needed = 0

[feature.f]
item = "a"
name = "window"
joint = "j"

[joint.j]
name = "J"
calculation = "joints/clip"
parts = ["top", "in_it"]

[line.l]
name = "line"

[station.s1]
line = "l"
name = "one"

[removal.r]
name = "off"
parts = ["in_it"]
joints = ["j"]
destructive = false

[hold.h]
name = "isolated"
state = "open"
removals = ["r"]

[quote.q]
item = "b"
value.price = { text = "2 EUR", evidence = "quoted" }

[boundary.x]
name = "software"
state = "out"
"#;
    let one = document(text, &library);
    let written = write(&one);
    let two = document(&written, &library);
    assert_eq!(said(&one), said(&two), "{written}");
    assert_eq!(written, write(&two));
    let kinds: std::collections::BTreeSet<Kind> = one.records().map(|r| r.kind).collect();
    assert!(kinds.len() >= 15, "{kinds:?}");
    let top = one.get(id_of("set", "part.top")).expect("the identifier comes from set and key");
    assert_eq!(top.number(Field::Count), Some(1.0));
    let when = one.records().find_map(|r| r.text(Field::When));
    assert_eq!(when, Some("2026-03-02"));
}

#[test]
fn a_book_is_a_document_of_its_own() {
    let (library, _) = Library::embedded();
    let text = "[book.own]\nname = \"own\"\ncurrency = \"EUR\"\nrate.\"wage.operator\" = \"24 +- 2 EUR/h\"\n";
    let one = document(text, &library);
    assert_eq!(one.kind, DocumentKind::Book);
    assert_eq!(write(&one), "[book.own]\nname = \"own\"\ncurrency = \"EUR\"\nrate.\"wage.operator\" = \"24 +- 2 EUR/h\"\n");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]
    #[test]
    fn generated_studies_survive(parts in 3usize..120, items in 2usize..60, joints in 0usize..20, seed in any::<u64>()) {
        let (library, _) = Library::embedded();
        let made = study(Size { parts, items, joints }, seed);
        let text = write(&made);
        let again = document(&text, &library);
        prop_assert_eq!(said(&made), said(&again));
        prop_assert_eq!(text, write(&again));
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in "[a-z=\\[\\]\\.\"\n{}, 0-9_#'-]{0,200}") {
        let library = Library::default();
        let _ = read("set", &[TextFile { name: "x.toml", text: &text }], &library);
    }
}

/// What an idea's edits say in words stays as it was said, however much it looks like a record's path or identifier; and a text of edits that
/// does not read is told in a few words at its place.
#[test]
fn edits_of_ideas_keep_hostile_texts() {
    let (library, _) = Library::embedded();
    let cover = id_of("set", "item.cover");
    let says = ["<5 mm gap", "<item.cover>", r#"a "<item.cover>" b"#, r#""<"#, &cover.to_string()];
    let line = |says: &&str| format!(r#"'''set "item Cover/says" "{}"'''"#, says.replace('"', r#"\""#));
    let lines: Vec<String> = says.iter().map(line).chain(["'remove P2'".to_owned()]).collect();
    let text = format!(
        r#"
[study.main]
name = "S"
[item.box]
name = "Box"
[item.cover]
name = "Cover"
[part.box]
item = "box"
count = 1
label = "P1"
[part.cover]
item = "cover"
parent = "box"
count = 1
label = "P2"
[idea.one]
name = "One"
label = "I1"
edits = [{}]
"#,
        lines.join(", ")
    );
    let edits = |document: &Document| -> Vec<Edit> {
        let idea = document.of_kind(None, Kind::Idea).next().expect("an idea");
        serde_json::from_str(idea.text(Field::Edits).expect("edits")).expect("they read")
    };
    let first = document(&text, &library);
    let said: Vec<String> = edits(&first)
        .into_iter()
        .filter_map(|edit| match edit {
            Edit::Set(SetField { field: Field::Says, to: Some(FieldValue::Text(text)), .. }) => Some(text),
            _ => None,
        })
        .collect();
    assert_eq!(said, says);
    let shown = write(&first);
    assert!(shown.contains("<part."), "records are told by their paths: {shown}");
    let again = document(&shown, &library);
    assert_eq!(edits(&again).len(), edits(&first).len());
    assert_eq!(write(&again), shown);

    let broken = shown.replacen(r#"edits = "["#, r#"edits = "[{\"sett\": 1}, "#, 1);
    assert_ne!(broken, shown);
    let long = broken.replacen("sett", &"x".repeat(5_000), 1);
    for text in [broken, long] {
        let problems = read("set", &[TextFile { name: "study.toml", text: &text }], &library).map(|_| ()).expect_err("broken");
        assert_eq!(problems.len(), 1, "{problems:?}");
        let shown = tare_diag::render(&problems[0], |_| Some(&text));
        assert!(shown.contains("idea-edits") && shown.contains("study.toml:") && shown.len() < 900, "{shown}");
    }
}
