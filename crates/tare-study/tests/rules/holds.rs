//! Holds and readings due: what is recorded out of order is said, and nothing is called safe.

use super::bench::{Bench, error, text};
use tare_model::{Field, FieldValue, Id, Kind};

/// A pack whose cover was taken off behind a hold.
fn cover_off(when: Option<&str>, hold: &[(Field, &str)]) -> (Bench, Id, Id) {
    let mut bench = Bench::new();
    let (pack, cover) = (bench.item("Pack"), bench.bought("Cover", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    let part = bench.bulk(cover, top, 1.0);
    let mut fields =
        vec![(Field::Name, text("Cover")), (Field::Parts, FieldValue::Refs(vec![part])), (Field::Who, text("A. B."))];
    fields.extend(when.map(|w| (Field::When, text(w))));
    let removal = bench.add(Kind::Removal, None, &fields);
    let mut fields = vec![(Field::Name, text("Absence of voltage")), (Field::Removals, FieldValue::Refs(vec![removal]))];
    fields.extend(hold.iter().map(|(field, said)| (*field, text(said))));
    bench.add(Kind::Hold, None, &fields);
    (bench, removal, cover)
}

const RECORDED: [(Field, &str); 3] = [(Field::State, "recorded"), (Field::Who, "C. D."), (Field::When, "2025-03-06 09:20")];

/// A removal that is recorded behind an open hold is a located error; one that is only planned waits in silence.
#[test]
fn a_removal_behind_an_open_hold_is_a_located_error() {
    let open = [(Field::State, "open")];
    let said = error(&cover_off(Some("2025-03-06 09:45"), &open).0.compile(), "removal-before-hold").expect("an error");
    assert!(said.contains("Absence of voltage") && said.contains("removal Cover/when"), "{said}");
    assert!(said.contains("qualified") && !said.to_lowercase().contains("safe"), "{said}");
    assert!(error(&cover_off(None, &open).0.compile(), "removal-before-hold").is_none());
    // A time on the stop watch is a record as well.
    let (mut bench, removal, _) = cover_off(None, &open);
    bench.value(removal, "duration", "60 s");
    assert!(error(&bench.compile(), "removal-before-hold").is_some());
}

/// A hold names the person who recorded it, and is recorded before the removal.
#[test]
fn a_hold_is_recorded_by_a_person_and_before() {
    let found = |when: &str, hold: &[(Field, &str)]| error(&cover_off(Some(when), hold).0.compile(), "removal-before-hold");
    assert!(found("2025-03-06 09:45", &RECORDED).is_none());
    assert!(found("2025-03-06", &RECORDED).is_none());
    let early = found("2025-03-06 09:10", &RECORDED).expect("an error");
    assert!(early.contains("09:10") && early.contains("09:20"), "{early}");
    let nobody = found("2025-03-06 09:45", &[(Field::State, "recorded")]).expect("an error");
    assert!(nobody.contains("nobody"), "{nobody}");
    // Dates in words are for people.
    assert!(found("the day before", &RECORDED).is_none());
}

/// A reading that was due before a removal is missed; other words of `due` are for people.
#[test]
fn a_reading_due_before_a_removal_is_missed() {
    let (mut bench, removal, cover) = cover_off(Some("2025-03-06 09:45"), &RECORDED);
    bench.set(removal, Field::Due, text("photograph of the latch; mass"));
    let said = error(&bench.compile(), "reading-due").expect("an error");
    assert!(said.contains("mass") && said.contains("removal Cover/due"), "{said}");
    // What was not measured is no reading.
    bench.another(cover, "mass", "2 kg", "assumed");
    assert!(error(&bench.compile(), "reading-due").is_some());
    bench.another(cover, "mass", "2.1 kg", "measured");
    assert!(error(&bench.compile(), "reading-due").is_none());
}
