//! Variants: made of ideas, tied to their parent, following it; and hits that were dropped.

use super::bench::{HIT, bench, state_of, stated};
use tare_app::{Document, Field, Kind, Stamp, Study, idea};
use tare_model::Edit;

#[test]
fn taking_ideas_makes_a_variant_with_an_entry_for_each() {
    let mut bench = bench();
    bench.add("Lighter cover", &["set P2/mass \"1.5 kg\""], None);
    bench.add("Fewer screws", &["set P3/count 4"], Some("50 EUR"));
    let hit = bench.named(&[HIT]).remove(0);
    assert!(!hit.recorded);
    let together = idea::together(&bench.named(&["I1", "I2", HIT]));
    let wanted = idea::applied(&bench.loaded.document, &together.edits).expect("they go together");
    let base = bench.loaded.head;
    let ids: Vec<u128> = bench.named(&["I1", "I2", HIT]).iter().map(|idea| idea.id().0).collect();
    let taken = bench.take(&["I1", "I2", HIT], "Second design").expect("taken");

    let entries = bench.entries(&taken.info);
    assert!(entries[0].idea.is_none() && entries[0].says.starts_with("variant of Box"), "{:?}", entries[0].says);
    assert_eq!(entries[1..].iter().map(|e| e.idea).collect::<Vec<_>>(), ids.iter().map(|id| Some(*id)).collect::<Vec<_>>());
    for (entry, name) in entries[1..].iter().zip(["Lighter cover", "Fewer screws", "Cheaper cover"]) {
        assert!(entry.says.contains(name), "{}", entry.says);
        assert!(!serde_json::from_str::<Vec<Edit>>(&entry.edits).expect("edits").is_empty());
    }
    assert_eq!((taken.info.head, taken.edits), (4, together.edits.len()));

    let variant = bench.load(&taken.info);
    assert_eq!(stated(&variant.document, "Cover", "mass").as_deref(), Some("1.5 kg"));
    assert_eq!(stated(&variant.document, "Cover", "price").as_deref(), Some("8 EUR"));
    let head = variant.document.of_kind(None, Kind::Study).next().expect("a head");
    assert_eq!(head.text(Field::Name), Some("Second design"));
    assert_eq!(head.text(Field::VariantOf), Some(bench.info.id.to_string().as_str()));
    assert_eq!(head.number(Field::Base), Some(base as f64));
    let cost = |study: &Study| study.value(study.totals.cost.expect("a cost")).to_bits();
    let variant = bench.session.compile_document(&variant.document).expect("it compiles");
    assert_eq!(cost(&variant), cost(&bench.session.compile_document(&wanted).expect("it compiles")));

    // the parent: its records as they were, its ideas taken, the rule's hit recorded as one of its own
    assert_eq!(stated(&bench.loaded.document, "Cover", "mass").as_deref(), Some("2 kg"));
    for label in ["I1", "I2", "I3"] {
        assert_eq!(state_of(&bench.loaded.document, label).as_deref(), Some("taken"), "{label}");
    }
    let bench = bench.reopened();
    let findings = bench.found();
    assert!(findings.ideas.iter().all(|idea| idea.label != HIT), "it is not proposed again");
    let kept = findings.ideas.iter().find(|idea| idea.label == "I3").expect("recorded");
    assert!(kept.recorded && kept.id() == hit.id() && kept.edits == hit.edits);
    assert_eq!(kept.values.len(), 1, "with its one-off cost");
}

#[test]
fn ideas_that_do_not_go_together_make_no_variant() {
    let mut bench = bench();
    bench.add("Lighter cover", &["set P2/mass \"1.5 kg\""], None);
    bench.add("Much lighter cover", &["set P2/mass \"1.1 kg\""], None);
    let documents = bench.session.workspace.documents().expect("documents");
    let before = bench.loaded.clone();
    let refused = bench.take(&["I1", "I2"], "V").expect_err("they do not go together");
    assert!(refused[0].to_string().contains("1.1 kg") && refused[0].to_string().contains("1.5 kg"), "{refused:?}");
    assert!(refused[0].hints.iter().any(|h| h.contains("I2")), "{refused:?}");
    assert_eq!(bench.session.workspace.documents().expect("documents"), documents);
    assert_eq!((&bench.loaded.document, bench.loaded.head), (&before.document, before.head));
    let name = bench.info.name.clone();
    let refused = bench.take(&["I1"], &name).expect_err("the name is taken");
    assert_eq!(refused[0].code, "document-taken");
    assert_eq!(state_of(&bench.loaded.document, "I1").as_deref(), Some("open"));
}

#[test]
fn a_variant_follows_its_parent() {
    let mut bench = bench();
    bench.add("Lighter cover", &["set P2/mass \"1.5 kg\""], None);
    let taken = bench.take(&["I1"], "V").expect("taken");
    let mut variant = bench.load(&taken.info);
    bench.edit("set P3/count 8");
    bench.edit("add part --under P2 name=Clip label=P9 count=2");
    bench.edit("set P9/count 3");
    bench.edit("set study/name \"Box, renamed\"");
    let done = idea::rebase(&bench.session.workspace, &mut variant, "test").expect("it follows").expect("there was something");
    assert!(done.says.contains(&format!("to entry {}", bench.loaded.head)), "{}", done.says);
    let document = &bench.load(&taken.info).document;
    assert_eq!(document, &variant.document, "what was recorded is what is held");
    let part =
        |label: &str| document.records().find(|r| r.kind == Kind::Part && r.text(Field::Label) == Some(label)).expect("a part");
    assert_eq!((part("P3").number(Field::Count), part("P9").number(Field::Count)), (Some(8.0), Some(3.0)));
    assert_eq!(stated(document, "Cover", "mass").as_deref(), Some("1.5 kg"), "the idea stays");
    let head = document.of_kind(None, Kind::Study).next().expect("a head");
    assert_eq!((head.text(Field::Name), head.number(Field::Base)), (Some("V"), Some(bench.loaded.head as f64)));
    let again = idea::rebase(&bench.session.workspace, &mut variant, "test").expect("nothing against it");
    assert!(again.is_none(), "{again:?}");
}

/// The parent's ideas are its own: whatever is recorded, priced, changed or dropped there, a variant follows.
#[test]
fn a_variant_follows_over_ideas_of_its_parent() {
    let mut bench = bench();
    bench.add("Lighter cover", &["set P2/mass \"1.5 kg\""], None);
    // taking a rule's hit records it with its one-off cost in the parent, after the variant began
    let taken = bench.take(&["I1", HIT], "V").expect("taken");
    let mut variant = bench.load(&taken.info);
    idea::rebase(&bench.session.workspace, &mut variant, "test").expect("it follows what taking itself recorded");
    bench.add("Fewer screws", &["set P3/count 4"], Some("50 EUR"));
    bench.edit("set \"idea I3\" one_off \"70 EUR\"");
    bench.edit("set \"idea I1\" one_off \"20 EUR\"");
    bench.edit("clear \"idea I1\" one_off");
    let (changes, says) = idea::dropped(&bench.loaded.document, &bench.named(&["I3"]), "too few").expect("dropped");
    bench.session.workspace.record(&mut bench.loaded, &changes, &Stamp { author: "test".into(), says }).expect("recorded");
    bench.edit("remove \"idea I3\"");
    bench.edit("set P3/count 8");
    let ideas = |document: &Document| document.of_kind(None, Kind::Idea).count();
    let before = ideas(&variant.document);
    idea::rebase(&bench.session.workspace, &mut variant, "test").expect("it follows").expect("there was something");
    assert_eq!(ideas(&variant.document), before);
    let document = bench.load(&taken.info).document;
    let screws = document.records().find(|r| r.text(Field::Label) == Some("P3")).expect("a part");
    assert_eq!(screws.number(Field::Count), Some(8.0));
}

/// An idea names the parts it is about. That is no reason why they cannot go, neither where it stands nor in a variant that does not hold it.
#[test]
fn ideas_about_a_part_do_not_keep_it() {
    let mut bench = bench();
    bench.add("No cover", &["remove P2"], None);
    bench.add("Fewer screws", &["set P3/count 4"], None);
    let taken = bench.take(&["I2"], "V").expect("taken");
    let mut variant = bench.load(&taken.info);
    let (changes, says) = idea::dropped(&bench.loaded.document, &bench.named(&[HIT]), "it stays").expect("dropped");
    bench.session.workspace.record(&mut bench.loaded, &changes, &Stamp { author: "test".into(), says }).expect("recorded");
    let cover = bench.loaded.document.records().find(|r| r.text(Field::Label) == Some("P2")).expect("a part").id;
    let about =
        |document: &Document| document.of_kind(None, Kind::Idea).filter(|r| r.all_refers(Field::Parts).contains(&cover)).count();
    assert_eq!(about(&bench.loaded.document), 1, "so that the next lines can fail");
    let view = bench.view();
    let row = view.ideas.iter().find(|row| row.label == "I1").expect("it is shown");
    assert!(row.worth.is_some(), "{row:?}");
    let without = bench.take(&["I1"], "W").expect("taken");
    assert!(bench.load(&without.info).document.get(cover).is_none());
    // the parent lets go of the part: so does the variant, which holds no such idea
    bench.edit("remove P2");
    idea::rebase(&bench.session.workspace, &mut variant, "test").expect("it follows").expect("there was something");
    assert!(variant.document.get(cover).is_none());
    assert_eq!(bench.load(&taken.info).document, variant.document);
}

#[test]
fn a_conflict_with_the_parent_is_told_with_both_values_and_changes_nothing() {
    let mut bench = bench();
    bench.add("Lighter cover", &["set P2/mass \"1.5 kg\"", "remove P4"], None);
    let taken = bench.take(&["I1"], "V").expect("taken");
    let mut variant = bench.load(&taken.info);
    let before = variant.clone();
    bench.edit("set P3/count 8");
    bench.edit("set P2/mass \"1.8 kg\"");
    bench.edit("set P4/count 3");
    let refused = idea::rebase(&bench.session.workspace, &mut variant, "test").expect_err("a conflict");
    let says = refused.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    assert!(says.contains("1.8 kg") && says.contains("1.5 kg"), "{says}");
    assert!(refused.len() >= 2, "all that meets something else is told: {says}");
    assert!(
        refused.iter().all(|p| p.related.iter().any(|(_, why)| why.contains("Box"))),
        "with the entry it comes from: {refused:?}"
    );
    assert_eq!((&variant.document, variant.head), (&before.document, before.head));
    assert_eq!(bench.entries(&taken.info).len() as u64, before.head, "nothing was recorded");
    assert_eq!(bench.load(&taken.info).document, before.document);
    // once the variant's own edit is taken back, it follows
    let mut variant = bench.load(&taken.info);
    bench.session.workspace.undo(&mut variant, Some(2), "test").expect("taken back");
    idea::rebase(&bench.session.workspace, &mut variant, "test").expect("it follows").expect("there was something");
    assert_eq!(stated(&variant.document, "Cover", "mass").as_deref(), Some("1.8 kg"));
}

#[test]
fn a_study_that_is_no_variant_follows_nothing() {
    let mut bench = bench();
    let refused = idea::rebase(&bench.session.workspace, &mut bench.loaded, "test").expect_err("no variant");
    assert_eq!(refused[0].code, "no-variant");
}

#[test]
fn a_dropped_hit_stays_dropped_with_its_reason() {
    let mut bench = bench();
    let hit = bench.named(&[HIT]);
    for reason in ["", "  \n"] {
        let refused = idea::dropped(&bench.loaded.document, &hit, reason).expect_err("no reason");
        assert_eq!(refused[0].code, "field-missing");
    }
    let (changes, says) = idea::dropped(&bench.loaded.document, &hit, " the flange would leak ").expect("dropped");
    assert!(says.contains(HIT) && says.contains("the flange would leak"), "{says}");
    bench.session.workspace.record(&mut bench.loaded, &changes, &Stamp { author: "test".into(), says }).expect("recorded");
    // the study moves on, and the rule would hit with other words now
    bench.edit("set P2/mass \"1.9 kg\"");
    let mut bench = bench.reopened();
    let findings = bench.found();
    assert!(findings.ideas.iter().all(|idea| idea.name() != "Cheaper cover"), "it does not come back");
    let [dropped] = findings.dropped.as_slice() else { panic!("{:?}", findings.dropped) };
    assert_eq!((dropped.id(), dropped.record.text(Field::Reason)), (hit[0].id(), Some("the flange would leak")));
    assert_eq!(dropped.record.text(Field::Says), hit[0].record.text(Field::Says), "what the rule said stays beside it");
    let view = bench.view();
    assert_eq!(view.dropped, [["I1".to_owned(), "Cheaper cover".to_owned(), "the flange would leak".to_owned()]]);
    // taking the entry back brings the hit back
    let number = bench.loaded.head - 1;
    bench.session.workspace.undo(&mut bench.loaded, Some(number), "test").expect("taken back");
    let findings = bench.found();
    assert!(findings.dropped.is_empty() && findings.ideas.iter().any(|idea| idea.label == HIT));
}
