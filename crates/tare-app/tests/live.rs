//! A workspace that several people work in at once.

use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tare_app::edit_command::EditCommand;
use tare_app::live::{Command, Event, Live, LiveStudy, Refused, Request};
use tare_app::{Id, Stamp, clock, demo, view};

struct Shop {
    _place: tempfile::TempDir,
    study: Arc<LiveStudy>,
    events: Receiver<Event>,
}

fn shop() -> Shop {
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("work");
    let (_, info, _, _) = demo::open(&folder).expect("the demo");
    let (told, events) = channel();
    let told = Mutex::new(told);
    let live = Live::open(&folder, move |_, event| drop(told.lock().expect("no panic here").send(event))).expect("opened");
    let study = live.study(&info.name).expect("the study");
    Shop { _place: place, study, events }
}

impl Shop {
    fn wait(&self, wanted: impl Fn(&Event) -> bool) {
        let till = std::time::Instant::now() + Duration::from_secs(60);
        while std::time::Instant::now() < till {
            if self.events.recv_timeout(Duration::from_millis(500)).is_ok_and(|event| wanted(&event)) {
                return;
            }
        }
        panic!("it did not happen");
    }

    fn computed(&self, number: u64) {
        if self.study.now().computed < number {
            self.wait(|event| matches!(event, Event::Computed { head } if *head >= number));
        }
    }

    fn total(&self) -> f64 {
        let now = self.study.now();
        now.study.value(now.study.totals.cost.expect("a total"))
    }
}

fn set(target: &str, to: &str, from: Option<&str>) -> Command {
    let edit = EditCommand::Set { target: target.to_owned(), to: to.to_owned(), about: Box::default(), beside: false };
    Command { edit, from: from.map(str::to_owned) }
}

fn entry(commands: Vec<Command>) -> Request {
    Request { id: clock::new_id(), author: "one".into(), device: "tablet".into(), says: None, commands }
}

#[test]
fn an_entry_is_shown_at_once_and_computed_soon() {
    let shop = shop();
    let before = shop.total();
    let done = shop.study.edit(&entry(vec![set("P1.7/mass", "9.4 kg", Some("7.412 kg"))])).expect("recorded");
    assert_eq!(shop.study.now().head, done.number);
    shop.computed(done.number);
    let after = shop.total();
    assert!(after > before, "a heavier plate costs more: {before} {after}");
    // the numbers are those of compiling the document as it is
    let mut session = tare_app::Session::open(shop.study.live().folder(), false).expect("opened");
    let info = session.workspace.study(Some("Battery pack for municipal utility vehicles")).expect("the study");
    let loaded = session.workspace.load(&info).expect("loads");
    let study = session.compiled(&info, &loaded).expect("compiled");
    assert_eq!(study.value(study.totals.cost.expect("a total")).to_bits(), after.to_bits());
    let undone = shop.study.undo(None, "two", "").expect("taken back");
    shop.computed(undone.number);
    assert_eq!(shop.total().to_bits(), before.to_bits());
}

#[test]
fn sent_twice_it_is_recorded_once() {
    let shop = shop();
    let mut request = entry(vec![set("P1/says", "first", None)]);
    let done = shop.study.edit(&request).expect("recorded");
    assert_eq!(shop.study.edit(&request).expect("the same answer"), done);
    request.commands = vec![set("P1/says", "other words under the same identifier", None)];
    assert_eq!(shop.study.edit(&request).expect("the same answer"), done);
    assert_eq!(shop.study.history().iter().filter(|row| row.number == done.number).count(), 1);
    // and by a server that was started again
    let live = Live::open(shop.study.live().folder(), |_, _| {}).expect("opened");
    assert_eq!(live.study(&shop.study.name).expect("the study").edit(&request).expect("the same answer"), done);
}

#[test]
fn one_field_changed_twice_gives_both_values_and_other_fields_merge() {
    let shop = shop();
    shop.study.edit(&entry(vec![set("P1.2/count", "2", Some("1"))])).expect("recorded");
    let refused = shop.study.edit(&entry(vec![set("P1.2/function", "frame", None), set("P1.2/count", "3", Some("1"))]));
    let Err(Refused::Conflict(_, Some(conflict))) = refused else { panic!("{refused:?}") };
    assert_eq!((conflict.expected.as_str(), conflict.found.as_str(), conflict.wanted.as_str()), ("1", "2", "3"));
    {
        let now = shop.study.now();
        let addresses = shop.study.addresses(&now);
        let part = view::record_view(&now.document, &addresses, addresses.find("P1.2").expect("a part"));
        assert_eq!((part.fields["count"].as_str(), part.fields.get("function").map(String::as_str)), ("2", None), "all or none");
    }
    shop.study.edit(&entry(vec![set("P1.2/function", "frame", Some("housing"))])).expect("another field merges");
}

#[test]
fn a_part_is_added_with_identifiers_of_the_sender_and_found_by_them() {
    let shop = shop();
    let part = Id(0x1234_5678_9abc_def0_1234_5678_9abc_def0);
    let add = EditCommand::Add {
        kind: "part".into(),
        under: Some("P1".into()),
        fields: ["name=<b>Bügel</b>", "count=2", "label=P900", "mass=1.2 kg"].map(str::to_owned).into(),
        about: Box::default(),
        id: Some(part),
    };
    let commands = vec![Command { edit: add, from: None }, set(&format!("@{part}/says"), "seen from below", None)];
    let done = shop.study.edit(&entry(commands)).expect("recorded");
    assert!(done.records.iter().any(|r| r.kind == "part" && r.address == "P900" && r.id == part.to_string()), "{done:?}");
    shop.computed(done.number);
    let now = shop.study.now();
    let table = view::parts_table(&now, &shop.study.addresses(&now));
    let row = table.rows.iter().find(|row| row.label == "P900").expect("a row");
    assert_eq!((row.name.as_str(), row.count, row.says.as_str()), ("<b>Bügel</b>", 2.0, "seen from below"));
    assert_eq!(row.stated_mass.as_ref().map(|m| m.text.as_str()), Some("1.2 kg"));
    assert_eq!(row.mass.as_ref().map(|m| m.text.as_str()), Some("1.2 kg"));
}

#[test]
fn what_other_programs_record_is_noticed() {
    let shop = shop();
    let session = tare_app::Session::open(shop.study.live().folder(), true).expect("opened");
    let info = session.workspace.study(Some("Battery pack for municipal utility vehicles")).expect("the study");
    let mut loaded = session.workspace.load(&info).expect("loads");
    let command = set("P1/says", "from the command line", None).edit;
    let meant = tare_app::edit_command::intent(&loaded.document, &session.library, &command).expect("fits");
    let stamp = Stamp { author: "elsewhere".into(), says: meant.says };
    let done = session.workspace.record(&mut loaded, &meant.changes, &stamp).expect("recorded");
    shop.wait(|event| matches!(event, Event::Entry { number, author, .. } if *number == done.number && author == "elsewhere"));
    assert!(shop.study.now().head >= done.number);
    // an edit on top of what nobody here has seen yet goes behind it
    let meant =
        tare_app::edit_command::intent(&loaded.document, &session.library, &set("P2/says", "again", None).edit).expect("fits");
    let stamp = Stamp { author: "elsewhere".into(), says: meant.says };
    let theirs = session.workspace.record(&mut loaded, &meant.changes, &stamp).expect("recorded");
    let ours = shop.study.edit(&entry(vec![set("P3/says", "ours", None)])).expect("recorded");
    assert!(ours.number > theirs.number);
    shop.computed(ours.number);
    let now = shop.study.now();
    let addresses = shop.study.addresses(&now);
    let says =
        |label: &str| view::record_view(&now.document, &addresses, addresses.find(label).expect("a part")).fields["says"].clone();
    assert_eq!((says("P2"), says("P3")), ("again".to_owned(), "ours".to_owned()));
}

#[test]
fn what_if_changes_nothing() {
    let shop = shop();
    let (before, head) = (shop.total(), shop.study.now().head);
    let found = shop.study.what_if(&[set("scenario/volume", "40000 1/a", None)]).expect("computed");
    assert_eq!(found.rows[0].name, "should-cost");
    assert!(found.rows[0].difference.starts_with('-'), "twice the volume costs less: {found:?}");
    assert!(shop.study.what_if(&[set("P1/mass", "7 furlongs", None)]).is_err());
    assert_eq!((shop.total().to_bits(), shop.study.now().head), (before.to_bits(), head));
    assert_eq!(shop.study.what_if(&[]).expect("computed").rows[0].difference.trim_start_matches('0'), ".00 EUR".to_owned());
}

#[test]
fn a_text_that_comes_into_use_is_held() {
    let shop = shop();
    let held = |shop: &Shop| shop.study.now().document.records().filter(|r| r.kind == tare_app::Kind::Lock).count();
    let before = held(&shop);
    shop.study.edit(&entry(vec![set("P1.1/material", "EN-AW-7075-T6", None)])).expect("recorded");
    shop.wait(|event| matches!(event, Event::Entry { author, .. } if author == "tare"));
    assert!(held(&shop) > before);
}

#[test]
fn labels_are_given_out_once_and_behind_those_in_use() {
    let shop = shop();
    let (a, b) = (shop.study.lease_labels("a", 10).expect("given"), shop.study.lease_labels("b", 10).expect("given"));
    assert_eq!((a.len(), b.len(), b.start), (10, 10, a.end));
    let now = shop.study.now();
    let used =
        now.document.records().filter_map(|r| r.text(tare_app::Field::Label)?.strip_prefix('P')?.parse::<u32>().ok()).max();
    assert!(a.start > used.unwrap_or(0), "{a:?} {used:?}");
}

#[test]
fn everything_wrong_with_an_entry_is_said_at_once_and_nothing_of_it_stays() {
    let shop = shop();
    let (head, before) = (shop.study.now().head, shop.total());
    let commands = vec![set("P1.2/mass", "4 kg", None), set("P1.3/mass", "heavy", None), set("P1.4/count", "many", None)];
    let Err(Refused::Wrong(problems)) = shop.study.edit(&entry(commands)) else { panic!("refused") };
    let places: Vec<String> = problems.iter().filter_map(|d| d.place.as_ref()).map(ToString::to_string).collect();
    assert_eq!(places, ["P1.3/mass", "P1.4/count"], "{problems:?}");
    assert_eq!((shop.study.now().head, shop.total().to_bits()), (head, before.to_bits()));
    let emptied = |from: &str| Command { edit: EditCommand::Clear { target: "P1.2/function".into() }, from: Some(from.into()) };
    assert!(matches!(shop.study.edit(&entry(vec![emptied("something else")])), Err(Refused::Conflict(..))));
}

#[test]
fn taking_back_the_last_entry_passes_over_what_only_holds_texts() {
    let shop = shop();
    let material = |shop: &Shop| {
        let now = shop.study.now();
        let addresses = shop.study.addresses(&now);
        view::record_view(&now.document, &addresses, addresses.find("item P1.1").expect("an item")).fields["material"].clone()
    };
    let before = material(&shop);
    shop.study.edit(&entry(vec![set("P1.1/material", "EN-AW-7075-T6", None)])).expect("recorded");
    shop.wait(|event| matches!(event, Event::Entry { author, .. } if author == "tare"));
    shop.study.undo(None, "one", "").expect("taken back");
    assert_eq!(material(&shop), before);
}

#[test]
fn labels_mean_what_they_mean_after_another_program_wrote() {
    let shop = shop();
    let session = tare_app::Session::open(shop.study.live().folder(), true).expect("opened");
    let info = session.workspace.study(Some("Battery pack for municipal utility vehicles")).expect("the study");
    let mut loaded = session.workspace.load(&info).expect("loads");
    let swap = |loaded: &mut tare_app::Loaded, target: &str, to: &str| {
        let command = set(target, to, None).edit;
        let meant = tare_app::edit_command::intent(&loaded.document, &session.library, &command).expect("fits");
        let stamp = Stamp { author: "elsewhere".into(), says: meant.says };
        session.workspace.record(loaded, &meant.changes, &stamp).expect("recorded").number
    };
    // two labels change places while nobody here looks
    for (target, to) in [("P1.2/label", "P800"), ("P1.3/label", "P1.2"), ("P800/label", "P1.3")] {
        swap(&mut loaded, target, to);
    }
    let done = shop.study.edit(&entry(vec![set("P1.2/says", "front", None)])).expect("recorded");
    let now = shop.study.now();
    let addresses = shop.study.addresses(&now);
    let part = view::record_view(&now.document, &addresses, addresses.find("P1.2").expect("a part"));
    assert_eq!((part.fields["says"].as_str(), part.fields["label"].as_str()), ("front", "P1.2"));
    let rows = shop.study.history();
    assert_eq!(rows.iter().filter(|row| row.author == "elsewhere").count(), 3, "their entries are in the history too");
    assert_eq!(rows.last().map(|row| row.number), Some(done.number));
}
