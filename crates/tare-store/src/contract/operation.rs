//! Operations to be done in any order on two journals that must agree.

use crate::entry::Entry;
use crate::error::{AppendError, Error};
use crate::journals::Journals;
use crate::sha256::Sha256;
use std::fmt::Debug;

/// One call, with small numbers in place of ids so that random calls meet.
#[derive(Clone, Debug)]
#[expect(missing_docs, reason = "the fields are the arguments of the calls of the same name")]
pub enum Operation {
    /// Creates a document with one of a few names.
    Create { document: u8, name: u8 },
    /// Adds an entry, expecting the head moved by `off`.
    Append { document: u8, id: u8, off: i8, says: String, undoes: Option<u8>, edits: u8 },
    /// Reads everything about a document.
    Look { document: u8, after: u8 },
    /// Puts a snapshot.
    Snapshot { document: u8, sequence: u8, form: u8 },
    /// Puts and reads texts and photos.
    Content { put: Option<u8>, get: u8 },
    /// Remembers and recalls.
    Memory { key: u8, value: Option<u8> },
    /// Indexes a text.
    Index { document: u8, subject: u8, text: String },
    /// Searches.
    Search { text: String },
    /// Leases labels.
    Lease { document: u8, device: u8, count: u32 },
}

/// Does the operation and writes down the answer, with the kind alone of a failure.
pub fn perform(journals: &dyn Journals, operation: &Operation) -> String {
    use Operation as O;
    match operation {
        O::Create { document, name } => {
            let done = journals.create_document(u128::from(*document), "study", &name.to_string());
            answer(done) + &answer(journals.documents())
        }
        O::Append { document, id, off, says, undoes, edits } => {
            let document = u128::from(*document);
            let head = journals.head(document).unwrap_or(0);
            let entry = Entry {
                id: u128::from(*id),
                document,
                sequence: 99,
                author: "a".into(),
                time: "2026-03-02T09:30:00Z".into(),
                says: says.clone(),
                undoes: undoes.map(u128::from),
                idea: None,
                edits: edits.to_string(),
                form: 1,
            };
            match journals.append(document, head.saturating_add_signed(i64::from(*off)), &entry) {
                Err(AppendError::Store(error)) => answer::<()>(Err(error)),
                other => format!("{other:?}"),
            }
        }
        O::Look { document, after } => {
            let document = u128::from(*document);
            let entries = answer(journals.since(document, u64::from(*after)));
            entries + &answer(journals.head(document)) + &answer(journals.snapshot(document)) + &answer(journals.leases(document))
        }
        O::Snapshot { document, sequence, form } => {
            answer(journals.put_snapshot(u128::from(*document), u64::from(*sequence), u32::from(*form), &[*sequence, *form]))
        }
        O::Content { put, get } => {
            let put =
                put.map(|n| answer(journals.put_texts(&[&n.to_string(), "twice", "twice"])) + &answer(journals.put_blob(&[n])));
            let text = journals.text(Sha256::of(get.to_string().as_bytes()));
            put.unwrap_or_default() + &answer(text) + &answer(journals.blob(Sha256::of(&[*get])))
        }
        O::Memory { key, value } => {
            let key = key.to_string();
            let kept = value.map(|value| answer(journals.remember(&key, &value.to_string())));
            kept.unwrap_or_default() + &answer(journals.recall(&key))
        }
        O::Index { document, subject, text } => answer(journals.index(u128::from(*document), &subject.to_string(), text)),
        O::Search { text } => answer(journals.search(text)),
        O::Lease { document, device, count } => answer(journals.lease_labels(u128::from(*document), &device.to_string(), *count)),
    }
}

fn answer<T: Debug>(result: Result<T, Error>) -> String {
    format!("{:?}", result.map_err(|error| error.kind))
}
