//! A folder taken elsewhere, and an edited one taken back as one entry.

use crate::small::{Place, exchange, without_line};
use tare_app::Recorded;
use tare_app::folder::{Files, FolderPlan, accept, create, plan};
use tare_app::idea::EditState;
use tare_model::{Field, FieldValue, Kind};

/// Every value the study computes, to the bit.
fn computed(place: &Place) -> Vec<u64> {
    let study = place.session.compile_document(&place.load().document).expect("compiled");
    assert!(study.values.len() > 100 && study.totals.cost.is_some_and(|cost| study.value(cost) > 0.0));
    study.values.iter().map(|value| value.to_bits()).collect()
}

fn planned(place: &Place, files: &Files) -> FolderPlan {
    plan(&place.session, files, false).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

#[track_caller]
fn taken(place: &Place, files: &Files) -> Recorded {
    let plan = planned(place, files);
    accept(&place.session.workspace, plan, "pack", "b").unwrap_or_else(|p| panic!("{p:#?}")).expect("something differs")
}

fn edited(place: &Place) -> Files {
    let mut files = place.export();
    // one count changed, a row added under it, one moved to the front, one removed with what stands under it
    exchange(&mut files, "parts.csv", "P3,P1,screw,4,", "P3,P1,screw,6,");
    exchange(&mut files, "items.csv", "\nscrew,", "\nnut,@nut M5,buy,,,fastener,\nscrew,");
    let text = String::from_utf8(files["parts.csv"].clone()).expect("text");
    files.insert("parts.csv".into(), format!("{text}P4,P1,nut,2,P4,\n").into_bytes());
    exchange(&mut files, "values.csv", "item.plate,width,200 mm", "item.plate,width,210 mm");
    without_line(&mut files, "operations.csv", "deburr,");
    files
}

#[test]
fn a_folder_makes_the_same_study_elsewhere() {
    let (place, other) = (Place::with_study(), Place::empty());
    let files = place.export();
    let made = create(&other.session, &files, None, "b").unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert_eq!(made.warnings, []);
    assert!(tare_app::folder::same_order(&place.load().document, &other.load().document));
    assert_eq!(computed(&place), computed(&other));
    let names: Vec<Option<String>> =
        other.load().document.of_kind(None, Kind::Organisation).map(|r| r.text(Field::Name).map(str::to_owned)).collect();
    assert_eq!(names, [Some("=cmd()".to_owned())]);
    // the entry is another one and so is said in the header; everything else is the same file
    let mut again = other.export();
    assert_ne!(files["study.toml"], again["study.toml"]);
    again.insert("study.toml".into(), files["study.toml"].clone());
    assert_eq!(files, again);
    // twice is refused
    let twice = create(&other.session, &files, Some("Other"), "b").expect_err("refused");
    assert_eq!(twice[0].code, "document-taken");
}

#[test]
fn an_edited_folder_is_one_entry_and_is_taken_back_as_one() {
    let place = Place::with_study();
    let before = place.load();
    let numbers = computed(&place);
    let files = edited(&place);
    let plan = planned(&place, &files);
    let told: Vec<(&str, &str)> = plan.edits.iter().map(|edit| (edit.what, edit.address.as_str())).collect();
    assert!(told.contains(&("changed", "P3 count")) && told.contains(&("added", "P4")), "{told:?}");
    assert_eq!(told.iter().filter(|(what, _)| *what == "removed").count(), 1, "{told:?}");
    assert_eq!((plan.edits.len(), plan.count(EditState::Fits)), (5, 5), "{told:?}");
    let entry = taken(&place, &files);
    assert_eq!((entry.number, place.load().head), (2, 2));
    assert!(entry.says.contains("2 added, 2 changed, 0 moved, 1 removed"), "{}", entry.says);
    assert_ne!(computed(&place), numbers);
    // taken twice, nothing is there twice, though the new rows have no identifier
    assert!(planned(&place, &files).is_empty());
    let mut loaded = place.load();
    place.session.workspace.undo(&mut loaded, Some(2), "b").expect("taken back");
    assert!(place.load().document == before.document, "record by record, order keys included");
    assert_eq!(computed(&place), numbers);
}

#[test]
fn what_came_since_is_kept_and_a_conflict_is_told_with_both_values() {
    let place = Place::with_study();
    let files = edited(&place);
    let session = &place.session;
    let set = |kind: Kind, name: &str, field: Field, to: FieldValue| {
        let mut loaded = place.load();
        let record = loaded
            .document
            .records()
            .find(|r| r.kind == kind && r.fields.iter().any(|(_, v)| *v == FieldValue::Text(name.into())));
        let change = tare_model::Change::Set { id: record.expect("there").id, field, to: Some(to) };
        let stamp = tare_app::Stamp { author: "c".into(), says: "elsewhere".into() };
        session.workspace.record(&mut loaded, &[change], &stamp).expect("recorded");
    };
    // something else was changed since: both stand
    set(Kind::Item, "Screw", Field::Name, FieldValue::Text("Screw M5".into()));
    let plan = planned(&place, &files);
    assert!(plan.conflicts.is_empty() && plan.known);
    // the same field was changed since: nothing is taken
    set(Kind::Part, "P3", Field::Count, FieldValue::Number(8.0));
    let plan = planned(&place, &files);
    assert_eq!((plan.conflicts.len(), plan.count(EditState::Fits)), (1, 4));
    let says = plan.conflicts[0].to_string();
    assert!(["4", "6", "8"].iter().all(|value| says.contains(value)), "{says}");
    assert!(accept(&session.workspace, plan, "pack", "b").is_err());
    assert_eq!(place.load().head, 3);
    // changed to the very same, it is there already
    set(Kind::Part, "P3", Field::Count, FieldValue::Number(6.0));
    let entry = taken(&place, &files);
    assert_eq!(entry.number, 5);
    let names: Vec<String> =
        place.load().document.of_kind(None, Kind::Item).filter_map(|r| r.text(Field::Name).map(str::to_owned)).collect();
    assert!(names.contains(&"Screw M5".to_owned()) && names.contains(&"@nut M5".to_owned()), "{names:?}");
}

#[test]
fn what_is_not_known_comes_and_goes() {
    let (place, other) = (Place::with_study(), Place::empty());
    let mut files = place.export();
    exchange(&mut files, "parts.csv", "label,id", "label,=colour,id");
    exchange(&mut files, "parts.csv", ",P3,", ",P3,'=red,");
    exchange(&mut files, "parts.csv", ",P1,", ",P1,,");
    exchange(&mut files, "parts.csv", "plate,2,P2,", "plate,2,P2,,");
    // the row of P1 begins with its label too
    exchange(&mut files, "parts.csv", "P2,P1,,", "P2,P1,");
    exchange(&mut files, "parts.csv", "P3,P1,,", "P3,P1,");
    exchange(&mut files, "study.toml", "name = \"Base\"", "name = \"Base\"\nfuture = { deep = [1, 2.5, \"x\"] }");
    exchange(&mut files, "study.toml", "form = 1", "form = 1\ngadget = [{ x = 1 }]");
    files.insert("gadgets.csv".into(), b"a;b\n".to_vec());
    files.insert("notes/letter.txt".into(), b"kept".to_vec());
    let made = create(&other.session, &files, None, "b").unwrap_or_else(|problems| panic!("{problems:#?}"));
    let notes: Vec<String> = made.warnings.iter().map(ToString::to_string).collect();
    assert!(notes.len() == 5 && notes.iter().all(|note| note.contains("folder-unknown")), "{notes:?}");
    let again = other.export();
    assert_eq!((&again["gadgets.csv"], &again["notes/letter.txt"]), (&files["gadgets.csv"], &files["notes/letter.txt"]));
    let (parts, study) = (String::from_utf8_lossy(&again["parts.csv"]), String::from_utf8_lossy(&again["study.toml"]));
    assert!(parts.starts_with("ref,under,item,count,label,'=colour,id\n") && parts.contains(",P3,'=red,"), "{parts}");
    assert!(study.contains("gadget = [{ x = 1 }]") && study.contains("future = { deep = [1, 2.5, \"x\"] }"), "{study}");
    // and into the study it came from, as edits that can be taken back
    let entry = taken(&place, &files);
    assert_eq!(place.export()["gadgets.csv"], files["gadgets.csv"]);
    let mut loaded = place.load();
    place.session.workspace.undo(&mut loaded, Some(entry.number), "b").expect("taken back");
    assert!(!place.export().contains_key("gadgets.csv"));
}

#[test]
fn a_folder_of_another_history_removes_nothing_unasked() {
    let (place, other) = (Place::with_study(), Place::empty());
    let files = place.export();
    create(&other.session, &files, None, "b").expect("made");
    let mut files = edited(&place);
    let plan = plan(&other.session, &files, false).expect("reads");
    assert!(!plan.known && plan.left == 1 && plan.notes.iter().any(|note| note.code == "folder-other-history"));
    let gone = tare_app::folder::plan(&other.session, &files, true).expect("reads");
    assert_eq!(gone.edits.len(), plan.edits.len() + 1);
    // a folder of no study that is here
    exchange(&mut files, "study.toml", "[document]\nid = \"", "[document]\nid = \"0");
    let text = String::from_utf8(files["study.toml"].clone()).expect("text");
    let at = text.find("id = \"0").expect("there") + 6;
    let cut = format!("{}{}", &text[..at + 32], &text[at + 33..]);
    files.insert("study.toml".into(), cut.into_bytes());
    let refused = tare_app::folder::plan(&other.session, &files, false).expect_err("refused");
    assert_eq!(refused[0].code, "folder-stranger");
}

/// A PNG of two by two pixels.
const PICTURE: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x02\0\0\0\x02\x08\x02\0\0\0\xfd\xd4\x9as\0\0\0\x10IDATx\x9cc\xf8\xcf\xc0\0D\x0c\x10\n\0\x1f\xee\x03\xfd\x8b_\x14\xd4\0\0\0\0IEND\xaeB`\x82";

#[test]
fn a_new_picture_is_a_file_and_a_row_that_names_it() {
    let (place, other) = (Place::with_study(), Place::empty());
    let mut files = place.export();
    files.insert("photos.csv".into(), "name,parts,file\n電池 front,P1; P2,photos/mine.png\n".into());
    files.insert("photos/mine.png".into(), b"<svg onload=alert(1)>".to_vec());
    let plan = planned(&place, &files);
    assert_eq!(plan.problems.len(), 1);
    let says = plan.problems[0].to_string();
    assert!(says.contains("photo-kind") && says.contains("photos.csv, cell C2"), "{says}");
    assert!(accept(&place.session.workspace, plan, "pack", "b").is_err());
    files.insert("photos/mine.png".into(), PICTURE.to_vec());
    taken(&place, &files);
    let again = place.export();
    assert_eq!(again["photos/電池_front.png"], PICTURE, "{:?}", again.keys());
    create(&other.session, &again, None, "b").unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert_eq!(other.export()["photos/電池_front.png"], PICTURE);
    assert!(planned(&place, &files).is_empty(), "the row without identifier is known again");
}
