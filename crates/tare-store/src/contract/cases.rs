//! The rules, one case each.

use super::{Bench, Case};
use crate::entry::{Document, Entry};
use crate::error::{AppendError, Kind};
use crate::journals::{Found, Journals, Lease, SEARCH_LIMIT, Snapshot};
use crate::sha256::Sha256;
use std::thread;

/// The rules by name.
pub const CASES: &[(&str, Case)] = &[
    ("documents are listed in the order of their creation", documents),
    ("entries are numbered from 1 and read back as they were sent", entries),
    ("a stale tab is told where the document is", stale),
    ("an id that is sent again keeps its number", duplicate),
    ("an id is never used for something else", reused),
    ("what cannot be kept is refused and leaves no trace", refused),
    ("an unknown document is named as such by every method", unknown),
    ("several writers at once leave no gap and lose nothing", writers),
    ("one snapshot is kept, the later one or the one of another form", snapshots),
    ("texts and photos are found by their content", contents),
    ("what is remembered is what was said last", memory),
    ("search finds beginnings of words in summaries and subjects", search),
    ("search stops at its limit, the last added first", search_limit),
    ("a bag label is given out once", labels),
];

const A: u128 = 0xa;
const B: u128 = u128::MAX;

fn entry(document: u128, id: u128) -> Entry {
    Entry {
        id,
        document,
        sequence: 0,
        author: "bench two".into(),
        time: "2026-03-02T09:30:00.25+01:00".into(),
        says: format!("lid number {id} off"),
        undoes: None,
        idea: None,
        edits: format!(r#"[{{"set":{id}}}]"#),
        form: 1,
    }
}

fn started(bench: &dyn Bench) -> Box<dyn Journals> {
    let journals = bench.open();
    journals.create_document(A, "study", "pack").unwrap();
    journals.create_document(B, "rate book", "2026").unwrap();
    journals
}

fn documents(bench: &dyn Bench) {
    let journals = bench.open();
    assert_eq!(journals.documents(), Ok(vec![]));
    journals.create_document(B, "rate book", "2026").unwrap();
    journals.create_document(A, "study", "pack; \"größe\" 'x'").unwrap();
    journals.create_document(B, "rate book", "2026").unwrap();
    assert_eq!(journals.create_document(B, "rate book", "2027").unwrap_err().kind, Kind::Taken);
    assert_eq!(journals.create_document(B, "study", "2026").unwrap_err().kind, Kind::Taken);
    assert_eq!(journals.create_document(1, "study", "a\0b").unwrap_err().kind, Kind::Invalid);
    journals.append(A, 0, &entry(A, 1)).unwrap();
    let listed = |id, kind: &str, name: &str, head| Document { id, kind: kind.into(), name: name.into(), head };
    let due = vec![listed(B, "rate book", "2026", 0), listed(A, "study", "pack; \"größe\" 'x'", 1)];
    assert_eq!(bench.open().documents(), Ok(due));
}

fn entries(bench: &dyn Bench) {
    let journals = started(bench);
    let first = Entry { says: String::new(), author: "Åsa ✓".into(), form: u32::MAX, ..entry(A, u128::MAX) };
    let second = Entry { undoes: Some(u128::MAX), idea: Some(0), edits: "null".into(), ..entry(A, 0) };
    assert_eq!(journals.append(A, 0, &first), Ok(1));
    assert_eq!(journals.append(A, 1, &Entry { sequence: 50, ..second.clone() }), Ok(2));
    assert_eq!(journals.append(B, 0, &entry(B, 3)), Ok(1));
    let (first, second) = (Entry { sequence: 1, ..first }, Entry { sequence: 2, ..second });
    let other = bench.open();
    assert_eq!(other.since(A, 0), Ok(vec![first, second.clone()]));
    assert_eq!(other.since(A, 1), Ok(vec![second]));
    assert_eq!(other.since(A, 2), Ok(vec![]));
    assert_eq!(other.since(A, u64::MAX), Ok(vec![]));
    assert_eq!((other.head(A), other.head(B)), (Ok(2), Ok(1)));
}

fn stale(bench: &dyn Bench) {
    let (one, two) = (started(bench), bench.open());
    let head = two.head(A).unwrap();
    assert_eq!(one.append(A, 0, &entry(A, 1)), Ok(1));
    assert_eq!(two.append(A, head, &entry(A, 2)), Err(AppendError::Stale { current: 1 }));
    assert_eq!(two.append(A, 2, &entry(A, 2)), Err(AppendError::Stale { current: 1 }), "a number ahead of the journal");
    assert_eq!(two.append(A, u64::MAX, &entry(A, 2)), Err(AppendError::Stale { current: 1 }));
    assert_eq!(one.head(A), Ok(1));
    assert_eq!(one.search("number 2"), Ok(vec![]), "a refused entry is not found");
    assert_eq!(two.append(A, 1, &entry(A, 2)), Ok(2), "the same entry fits after reading again");
}

fn duplicate(bench: &dyn Bench) {
    let journals = started(bench);
    journals.append(A, 0, &entry(A, 1)).unwrap();
    journals.append(A, 1, &entry(A, 2)).unwrap();
    assert_eq!(journals.append(A, 0, &entry(A, 1)), Err(AppendError::Duplicate { sequence: 1 }));
    let stamped = Entry { time: "2026-03-02T09:31:00Z".into(), author: "later".into(), says: "other".into(), ..entry(A, 2) };
    assert_eq!(bench.open().append(A, 7, &stamped), Err(AppendError::Duplicate { sequence: 2 }));
    assert_eq!(journals.head(A), Ok(2));
    assert_eq!(journals.since(A, 1).unwrap()[0].author, "bench two", "the first to arrive is kept");
    assert_eq!(journals.search("other"), Ok(vec![]));
}

fn reused(bench: &dyn Bench) {
    let journals = started(bench);
    journals.append(A, 0, &entry(A, 1)).unwrap();
    journals.append(A, 1, &entry(A, 2)).unwrap();
    let taken = Err(AppendError::Reused { document: A, sequence: 2 });
    assert_eq!(journals.append(B, 0, &entry(B, 2)), taken);
    assert_eq!(journals.append(A, 2, &Entry { edits: "[]".into(), ..entry(A, 2) }), taken);
    assert_eq!(journals.append(A, 2, &Entry { idea: Some(4), ..entry(A, 2) }), taken);
    assert_eq!(journals.append(A, 2, &Entry { undoes: Some(1), ..entry(A, 2) }), taken);
    assert_eq!(journals.append(A, 2, &Entry { form: 2, ..entry(A, 2) }), taken);
    assert_eq!((journals.head(A), journals.head(B)), (Ok(2), Ok(0)));
}

fn refused(bench: &dyn Bench) {
    let journals = started(bench);
    journals.append(B, 0, &entry(B, 9)).unwrap();
    let good = entry(A, 1);
    let bad = [
        Entry { document: B, ..good.clone() },
        Entry { edits: "[1,".into(), ..good.clone() },
        Entry { edits: String::new(), ..good.clone() },
        Entry { edits: "[".repeat(100_000), ..good.clone() },
        Entry { time: "yesterday".into(), ..good.clone() },
        Entry { author: "a\0".into(), ..good.clone() },
        Entry { says: "\0".into(), ..good.clone() },
        Entry { undoes: Some(1), ..good.clone() },
        Entry { undoes: Some(77), ..good.clone() },
        Entry { undoes: Some(9), ..good.clone() },
    ];
    for (n, entry) in bad.iter().enumerate() {
        match journals.append(A, 0, entry) {
            Err(AppendError::Store(error)) => {
                assert_eq!(error.kind, Kind::Invalid, "case {n}");
                assert!(!error.hint.is_empty() && !error.message.ends_with('.'), "case {n}: {error}");
            }
            other => panic!("case {n}: {other:?}"),
        }
    }
    assert_eq!(journals.head(A), Ok(0));
    assert_eq!(journals.append(A, 0, &good), Ok(1));
}

fn unknown(bench: &dyn Bench) {
    let journals = started(bench);
    match journals.append(5, 0, &entry(5, 1)) {
        Err(AppendError::Store(error)) => assert_eq!(error.kind, Kind::UnknownDocument),
        other => panic!("{other:?}"),
    }
    let due = Some(Kind::UnknownDocument);
    assert_eq!(journals.since(5, 0).err().map(|e| e.kind), due);
    assert_eq!(journals.head(5).err().map(|e| e.kind), due);
    assert_eq!(journals.put_snapshot(5, 0, 1, b"").err().map(|e| e.kind), due);
    assert_eq!(journals.snapshot(5).err().map(|e| e.kind), due);
    assert_eq!(journals.index(5, "P1", "lid").err().map(|e| e.kind), due);
    assert_eq!(journals.lease_labels(5, "tablet", 1).err().map(|e| e.kind), due);
    assert_eq!(journals.leases(5).err().map(|e| e.kind), due);
}

fn writers(bench: &dyn Bench) {
    const EACH: u128 = 8;
    started(bench);
    let (shared, apart) = (bench.open(), bench.open());
    let write = |journals: &dyn Journals, writer: u128| {
        for n in 0..EACH {
            let entry = entry(A, writer * EACH + n);
            let mut head = journals.head(A).unwrap();
            while let Err(error) = journals.append(A, head, &entry) {
                match error {
                    AppendError::Stale { current } => head = current,
                    other => panic!("{other}"),
                }
            }
        }
    };
    thread::scope(|scope| {
        scope.spawn(|| write(&*shared, 0));
        scope.spawn(|| write(&*shared, 1));
        scope.spawn(|| write(&*apart, 2));
    });
    let found = apart.since(A, 0).unwrap();
    assert!((1..).zip(&found).all(|(n, entry)| entry.sequence == n), "a gap");
    let mut ids: Vec<u128> = found.iter().map(|entry| entry.id).collect();
    let in_order = |writer: u128| ids.iter().filter(|id| **id / EACH == writer).is_sorted();
    assert!((0..3).all(in_order), "a writer's entries changed order");
    ids.sort_unstable();
    assert_eq!(ids, (0..3 * EACH).collect::<Vec<_>>());
}

fn snapshots(bench: &dyn Bench) {
    let journals = started(bench);
    for n in 0..3 {
        journals.append(A, n, &entry(A, n.into())).unwrap();
    }
    assert_eq!(journals.snapshot(A), Ok(None));
    let put = |sequence, form, bytes: &[u8]| journals.put_snapshot(A, sequence, form, bytes);
    let due = |sequence, form, bytes: &[u8]| Ok(Some(Snapshot { sequence, form, bytes: bytes.to_vec() }));
    put(2, 1, &[0, 255]).unwrap();
    assert_eq!(bench.open().snapshot(A), due(2, 1, &[0, 255]));
    put(1, 1, b"earlier").unwrap();
    assert_eq!(journals.snapshot(A), due(2, 1, &[0, 255]));
    put(2, 1, b"again").unwrap();
    assert_eq!(journals.snapshot(A), due(2, 1, b"again"));
    put(1, 2, b"").unwrap();
    assert_eq!(journals.snapshot(A), due(1, 2, b""));
    assert_eq!(put(4, 2, b"ahead").unwrap_err().kind, Kind::Invalid);
    assert_eq!(put(u64::MAX, 2, b"ahead").unwrap_err().kind, Kind::Invalid);
    assert_eq!(journals.snapshot(A), due(1, 2, b""));
    assert_eq!(journals.snapshot(B), Ok(None));
}

fn contents(bench: &dyn Bench) {
    let journals = bench.open();
    let large: Vec<u8> = (0..300_000_u32).map(|n| (n >> 5) as u8).collect();
    for bytes in [&b""[..], b"\0\xff", &large] {
        let sha256 = Sha256::of(bytes);
        assert_eq!(journals.blob(sha256), Ok(None));
        assert_eq!(journals.put_blob(bytes), Ok(sha256));
        assert_eq!(journals.put_blob(bytes), Ok(sha256));
        assert!(bench.open().blob(sha256).unwrap().is_some_and(|found| found == bytes));
    }
    for text in ["", "title = \"Größe\"\r\n"] {
        let sha256 = Sha256::of(text.as_bytes());
        assert_eq!(journals.text(sha256), Ok(None), "texts and photos are kept apart");
        assert_eq!(journals.put_texts(&[text]), Ok(vec![sha256]));
        assert_eq!(journals.put_texts(&[text, "other", text]), Ok(vec![sha256, Sha256::of(b"other"), sha256]));
        assert_eq!(bench.open().text(sha256), Ok(Some(text.into())));
    }
    assert_eq!(journals.put_texts(&[]), Ok(Vec::new()));
    assert_eq!(journals.put_texts(&["all or none", "a\0"]).unwrap_err().kind, Kind::Invalid);
    assert_eq!(journals.text(Sha256::of(b"all or none")), Ok(None));
}

fn memory(bench: &dyn Bench) {
    let journals = bench.open();
    assert_eq!(journals.recall("headers:1"), Ok(None));
    journals.remember("headers:1", "{}").unwrap();
    journals.remember("Headers:1", "").unwrap();
    journals.remember("headers:1", "{\"qty\":3}").unwrap();
    assert_eq!(bench.open().recall("headers:1"), Ok(Some("{\"qty\":3}".into())));
    assert_eq!(journals.recall("Headers:1"), Ok(Some(String::new())));
    assert_eq!(journals.remember("a\0", "").unwrap_err().kind, Kind::Invalid);
    assert_eq!(journals.remember("a", "\0").unwrap_err().kind, Kind::Invalid);
}

fn search(bench: &dyn Bench) {
    let journals = started(bench);
    journals.append(A, 0, &entry(A, 1)).unwrap();
    journals.index(A, "P12", "Cover plate, EN AW-6082 (M6 x 1.0)").unwrap();
    journals.index(B, "P12", "Größe cover").unwrap();
    let found = |text: &str| -> Vec<(u128, String)> {
        let name = |found| match found {
            Found::Entry(n) => n.to_string(),
            Found::Subject(subject) => subject,
        };
        journals.search(text).unwrap().into_iter().map(|hit| (hit.document, name(hit.found))).collect()
    };
    let at = |document, name: &str| (document, name.to_string());
    assert_eq!(found("LID"), [at(A, "1")]);
    assert_eq!(found("cov"), [at(B, "P12"), at(A, "P12")]);
    assert_eq!(found("cov plat 608"), [at(A, "P12")]);
    assert_eq!(found("aw-6082 m6"), [at(A, "P12")]);
    assert_eq!(found("GRÖSS"), [], "letters are not rewritten");
    assert_eq!(found("gro"), [], "an accent makes another letter");
    assert_eq!(found("GRÖ"), [at(B, "P12")]);
    assert_eq!(found("over"), [], "a word is found from its beginning only");
    assert_eq!(found("cover lid"), [], "every word is due");
    for nothing in ["", "  ", "\"", "*", "- ^ ( NEAR", "cover OR lid", "text : cover \" --", "'; DROP TABLE entry"] {
        assert_eq!(found(nothing), [], "{nothing}");
    }
    journals.index(A, "P12", "base tray").unwrap();
    assert_eq!(found("plate"), []);
    assert_eq!(found("tray"), [at(A, "P12")]);
    journals.index(A, "P12", "").unwrap();
    journals.index(A, "P13", "").unwrap();
    assert_eq!(found("tray"), []);
    assert_eq!(journals.search("lid").unwrap()[0].text, "lid number 1 off");
    assert_eq!(journals.index(A, "\0", "x").unwrap_err().kind, Kind::Invalid);
    assert_eq!(journals.index(A, "x", "\0").unwrap_err().kind, Kind::Invalid);
}

fn search_limit(bench: &dyn Bench) {
    let journals = started(bench);
    for n in 0..SEARCH_LIMIT + 3 {
        journals.index(A, &n.to_string(), "cell").unwrap();
    }
    let found = journals.search("cell").unwrap();
    assert_eq!(found.len(), SEARCH_LIMIT);
    assert_eq!(found[0].found, Found::Subject((SEARCH_LIMIT + 2).to_string()));
}

fn labels(bench: &dyn Bench) {
    let (one, two) = (started(bench), bench.open());
    assert_eq!(one.lease_labels(A, "tablet one", 50), Ok(1..51));
    assert_eq!(two.lease_labels(A, "tablet two", 1), Ok(51..52));
    assert_eq!(one.lease_labels(A, "tablet one", 50), Ok(52..102));
    assert_eq!(one.lease_labels(B, "tablet one", 3), Ok(1..4), "each document counts for itself");
    assert_eq!(one.lease_labels(A, "tablet one", 0).unwrap_err().kind, Kind::Invalid);
    assert_eq!(one.lease_labels(A, "tablet one", u32::MAX).unwrap_err().kind, Kind::Invalid);
    assert_eq!(one.lease_labels(A, "\0", 1).unwrap_err().kind, Kind::Invalid);
    assert_eq!(one.lease_labels(A, "desk", u32::MAX - 102), Ok(102..u32::MAX));
    assert_eq!(one.lease_labels(A, "desk", 1).unwrap_err().kind, Kind::Invalid);
    let lease = |device: &str, labels| Lease { device: device.into(), labels };
    let due =
        [lease("tablet one", 1..51), lease("tablet two", 51..52), lease("tablet one", 52..102), lease("desk", 102..u32::MAX)];
    assert_eq!(two.leases(A), Ok(due.to_vec()));
}
