//! Edits invert, conflicts carry both values, nothing half-done.

use proptest::prelude::*;
use tare_model::{Change, Conflict, Document, DocumentKind, Edit, Field, FieldValue, Id, Kind, Record, first_order};

fn text(t: &str) -> Option<FieldValue> {
    Some(FieldValue::Text(t.to_owned()))
}

fn study() -> Document {
    let mut study = Document::new(Id(1), DocumentKind::Study);
    let mut changes = Vec::new();
    for i in 0..8 {
        changes.push(Change::Add { record: Record::new(Id(100 + i), Kind::Item).with_text(Field::Name, format!("item {i}")) });
    }
    for i in 0..8u128 {
        let mut part = Record::new(Id(200 + i), Kind::Part)
            .with(Field::Item, FieldValue::Ref(Id(100 + i)))
            .with(Field::Count, FieldValue::Number(1.0));
        if i > 0 {
            part = part.under(Id(200 + i / 2));
        }
        changes.push(Change::Add { record: part });
    }
    changes.push(Change::Add {
        record: Record::new(Id(300), Kind::Joint)
            .with_text(Field::Name, "bolted")
            .with_text(Field::Calculation, "joints/screw")
            .with(Field::Parts, FieldValue::Refs(vec![Id(202), Id(205), Id(201)])),
    });
    study.change_all(&changes).unwrap();
    study
}

fn any_change() -> impl Strategy<Value = Change> {
    let id = prop_oneof![100..108u128, 200..208u128, 300..302u128].prop_map(Id);
    prop_oneof![
        (id.clone(), prop_oneof![Just(Field::Name), Just(Field::Label), Just(Field::Count)], proptest::option::of("[a-z]{0,4}"))
            .prop_map(|(id, field, to)| Change::Set { id, field, to: to.map(FieldValue::Text) }),
        (200..208u128, 0.0..9.0f64).prop_map(|(id, n)| Change::Set {
            id: Id(id),
            field: Field::Count,
            to: Some(FieldValue::Number(n))
        }),
        id.clone().prop_map(|id| Change::Remove { id }),
        (200..208u128, proptest::option::of(200..208u128), "[1-9A-Z]{1,3}").prop_map(|(id, parent, order)| Change::Move {
            id: Id(id),
            parent: parent.map(Id),
            order
        }),
        (400..420u128, 200..208u128).prop_map(|(id, item)| Change::Add {
            record: Record::new(Id(id), Kind::Value)
                .under(Id(item))
                .with_text(Field::Quantity, "mass")
                .with_text(Field::Text, "1 kg")
                .with_text(Field::Evidence, "measured")
        }),
    ]
}

proptest! {
    #[test]
    fn what_is_applied_can_be_taken_back(changes in proptest::collection::vec(any_change(), 1..40)) {
        let start = study();
        let mut now = start.clone();
        let mut applied = Vec::new();
        for change in &changes {
            let before = now.clone();
            match now.seal(change) {
                Ok(edit) => {
                    now.apply(&edit).unwrap();
                    let rebuilt = Document::from_records(now.id, now.kind, now.records().cloned().collect());
                    prop_assert!(rebuilt.children(None).map(|r| r.id).eq(now.children(None).map(|r| r.id)));
                    applied.push(edit);
                }
                Err(problems) => { prop_assert!(!problems.is_empty()); prop_assert_eq!(&before, &now); }
            }
        }
        for edit in applied.iter().rev() {
            let json = serde_json::to_string(edit).unwrap();
            let again: Edit = serde_json::from_str(&json).unwrap();
            prop_assert_eq!(&again, edit);
            prop_assert_eq!(&edit.invert().invert(), edit);
            now.apply(&edit.invert()).unwrap();
        }
        prop_assert_eq!(now, start);
    }

    /// Edits sealed on the base and carried out late, on a document that went on: applied whole or not at all, no loose end.
    #[test]
    fn a_late_edit_leaves_no_loose_end(
        changes in proptest::collection::vec(any_change(), 1..20),
        late in proptest::collection::vec(any_change(), 1..20),
        turned in any::<bool>(),
    ) {
        let base = study();
        let sealed: Vec<Edit> = late.iter().filter_map(|c| base.seal(c).ok()).collect();
        let mut now = base.clone();
        for change in &changes {
            if let Ok(edit) = now.seal(change) { now.apply(&edit).unwrap(); }
        }
        for edit in sealed {
            let edit = if turned { edit.invert() } else { edit };
            let before = now.clone();
            if now.apply(&edit).is_err() { prop_assert_eq!(&now, &before); }
            for record in now.records() {
                prop_assert!(record.parent.is_none_or(|p| now.get(p).is_some()));
                for (field, _, required) in record.kind.schema().fields {
                    prop_assert!(!required || record.fields.get(*field).is_some(), "{} {field}", record.kind);
                    prop_assert!(record.all_refers(*field).iter().all(|id| now.get(*id).is_some()), "{} {field}", record.kind);
                }
            }
        }
    }

    #[test]
    fn a_failing_group_changes_nothing(changes in proptest::collection::vec(any_change(), 1..20)) {
        let start = study();
        let mut now = start.clone();
        if now.change_all(&changes).is_err() { prop_assert_eq!(now, start); }
    }
}

#[test]
fn different_fields_merge_and_the_same_field_shows_both_values() {
    let base = study();
    let label = base.seal(&Change::Set { id: Id(100), field: Field::Label, to: text("A1") }).unwrap();
    let name = base.seal(&Change::Set { id: Id(100), field: Field::Name, to: text("lid") }).unwrap();
    let other = base.seal(&Change::Set { id: Id(100), field: Field::Name, to: text("cover") }).unwrap();
    let mut now = base.clone();
    now.apply(&label).unwrap();
    now.apply(&name).unwrap();
    let conflict = now.apply(&other).unwrap_err();
    assert_eq!(
        conflict,
        Conflict::Field { id: Id(100), field: Field::Name, expected: text("item 0"), found: text("lid"), wanted: text("cover") }
    );
    assert_eq!(conflict.to_string(), "the name is `lid` now, the edit expects `item 0` and would write `cover`");
}

#[test]
fn removing_takes_the_subtree_and_every_reference_and_brings_them_back() {
    let mut now = study();
    let edit = now.seal(&Change::Remove { id: Id(202) }).unwrap();
    now.apply(&edit).unwrap();
    assert!(now.get(Id(204)).is_none() && now.get(Id(205)).is_none());
    assert_eq!(now.get(Id(300)).unwrap().all_refers(Field::Parts), [Id(201)]);
    now.apply(&edit.invert()).unwrap();
    assert_eq!(now, study());
}

#[test]
fn a_part_inside_itself_and_other_mistakes_are_refused_together() {
    let now = study();
    let inside = now.seal(&Change::Move { id: Id(201), parent: Some(Id(204)), order: first_order() }).unwrap_err();
    assert_eq!(inside[0].code, "part-in-itself");
    let bad = Record::new(Id(900), Kind::Part)
        .with_text(Field::Count, "two")
        .with(Field::Item, FieldValue::Ref(Id(300)))
        .with_text(Field::Severity, "note");
    let codes: Vec<&str> = now.seal(&Change::Add { record: bad }).unwrap_err().iter().map(|d| d.code).collect();
    assert_eq!(codes, ["reference-kind", "field-type", "field-unknown"]);
}

/// An edit on a document where a later entry took away what it refers to, or began to refer to what it removes.
#[test]
fn an_edit_whose_references_are_gone_is_a_conflict_and_changes_nothing() {
    let base = study();
    let joint = |part: u128| {
        Record::new(Id(301), Kind::Joint)
            .with_text(Field::Name, "late")
            .with_text(Field::Calculation, "joints/clip")
            .with(Field::Parts, FieldValue::Refs(vec![Id(part)]))
    };
    let add = base.seal(&Change::Add { record: joint(207) }).unwrap();
    let parts = Some(FieldValue::Refs(vec![Id(207)]));
    let set = base.seal(&Change::Set { id: Id(300), field: Field::Parts, to: parts }).unwrap();
    let fewer = base.seal(&Change::Set { id: Id(300), field: Field::Parts, to: Some(FieldValue::Refs(vec![Id(201)])) }).unwrap();
    let remove = base.seal(&Change::Remove { id: Id(207) }).unwrap();

    let mut now = base.clone();
    now.apply(&remove).unwrap();
    let gone = now.clone();
    assert_eq!(now.apply(&add).unwrap_err(), Conflict::Target { id: Id(301), field: Field::Parts, target: Id(207) });
    assert_eq!(now.apply(&set).unwrap_err(), Conflict::Target { id: Id(300), field: Field::Parts, target: Id(207) });
    assert_eq!(now, gone);

    // Taking back a field that named a part which has been removed since.
    let mut now = base.clone();
    now.apply(&fewer).unwrap();
    now.apply(&now.seal(&Change::Remove { id: Id(205) }).unwrap()).unwrap();
    assert_eq!(now.apply(&fewer.invert()).unwrap_err(), Conflict::Target { id: Id(300), field: Field::Parts, target: Id(205) });

    // Taking back the addition of an item that a part came to use.
    let mut now = base.clone();
    let item = now.seal(&Change::Add { record: Record::new(Id(150), Kind::Item).with_text(Field::Name, "new") }).unwrap();
    now.apply(&item).unwrap();
    now.apply(&now.seal(&Change::Set { id: Id(203), field: Field::Item, to: Some(FieldValue::Ref(Id(150))) }).unwrap()).unwrap();
    let used = now.clone();
    assert_eq!(now.apply(&item.invert()).unwrap_err(), Conflict::Referred { id: Id(150), by: Id(203), field: Field::Item });
    assert_eq!(now, used);

    // A removal sealed before somebody else referred to the same record.
    let mut now = base.clone();
    now.apply(&add).unwrap();
    assert_eq!(now.apply(&remove).unwrap_err(), Conflict::Referred { id: Id(207), by: Id(301), field: Field::Parts });
}

#[test]
fn what_others_cannot_stand_without_is_not_removed() {
    let now = study();
    assert_eq!(now.needed_by(Id(103)), [Id(203)]);
    let problems = now.seal(&Change::Remove { id: Id(103) }).unwrap_err();
    assert_eq!(problems[0].code, "reference-needed");
    // With the parts removed in the same group it goes.
    let mut now = study();
    now.change_all(&[Change::Remove { id: Id(203) }, Change::Remove { id: Id(103) }]).unwrap();
    assert!(now.get(Id(103)).is_none());
    assert_eq!(now.needed_by(Id(102)), [Id(202)]);
    // A required field is not emptied by an edit from elsewhere either.
    let from = now.get(Id(202)).unwrap().fields.get(Field::Item).cloned();
    let cut = Edit::Set(tare_model::SetField { id: Id(202), field: Field::Item, from, to: None });
    assert_eq!(now.apply(&cut).unwrap_err(), Conflict::Required { id: Id(202), field: Field::Item });
    // A journal that holds such an entry from before still reads.
    now.replay(&cut).unwrap();
}

#[test]
fn a_moved_subtree_counts_with_its_own_height() {
    let mut now = study();
    let part = |id: u128| {
        Record::new(Id(id), Kind::Part).with(Field::Item, FieldValue::Ref(Id(100))).with(Field::Count, FieldValue::Number(1.0))
    };
    // Two chains of 40 levels.
    let mut changes = Vec::new();
    for chain in [1000, 2000] {
        for level in 0..40 {
            let one = part(chain + level);
            let record = if level == 0 { one } else { one.under(Id(chain + level - 1)) };
            changes.push(Change::Add { record });
        }
    }
    now.change_all(&changes).unwrap();
    let below = |parent: u128| Change::Move { id: Id(2000), parent: Some(Id(parent)), order: first_order() };
    assert_eq!(now.seal(&below(1024)).unwrap_err()[0].code, "too-deep", "25 levels above and 40 below");
    let fits = now.seal(&below(1023)).unwrap();
    now.apply(&fits).unwrap();
    // An edit sealed on a shallower tree is judged on the one it meets.
    let mut other = study();
    other.change_all(&changes).unwrap();
    let deeper = other.seal(&Change::Move { id: Id(1000), parent: Some(Id(201)), order: first_order() }).unwrap();
    other.apply(&deeper).unwrap();
    assert_eq!(other.apply(&fits).unwrap_err(), Conflict::Parent(Id(2000)));
}
