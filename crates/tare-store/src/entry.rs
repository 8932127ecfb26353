//! Documents and the entries of their journals.

use crate::error::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Anything with its own journal: a study, a rate book, a scenario, a shelf of instruments.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Document {
    /// Its id, made by the caller; 32 hexadecimal digits when written as text.
    #[serde(with = "id")]
    pub id: u128,
    /// What sort of document it is, in the caller's words.
    pub kind: String,
    /// The name it was created under.
    pub name: String,
    /// The sequence number of its last entry; 0 when it has none.
    pub head: u64,
}

/// One accepted group of edits in a journal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// Its id, made by the caller; also its idempotency key over the whole workspace.
    #[serde(with = "id")]
    pub id: u128,
    /// The document it belongs to.
    #[serde(with = "id")]
    pub document: u128,
    /// Its place in the journal from 1, without gaps; given by the store, ignored by `append`.
    pub sequence: u64,
    /// Who made it.
    pub author: String,
    /// When, as RFC 3339 text such as `2026-03-02T09:30:00Z`.
    pub time: String,
    /// What it says it does, in one line; searched by `search`.
    pub says: String,
    /// The earlier entry of the same document that this one undoes.
    #[serde(with = "optional_id", default, skip_serializing_if = "Option::is_none")]
    pub undoes: Option<u128>,
    /// The idea this entry came from.
    #[serde(with = "optional_id", default, skip_serializing_if = "Option::is_none")]
    pub idea: Option<u128>,
    /// The edits, as JSON text that the store never looks into.
    pub edits: String,
    /// The form version of the edits.
    pub form: u32,
}

impl Entry {
    /// Refuses what could not be read back by every database or every later program.
    pub(crate) fn check(&self, document: u128) -> Result<(), Error> {
        if self.document != document {
            let (has, given) = (id_text(self.document), id_text(document));
            return Err(Error::invalid(
                format!("the entry belongs to document {has}, not to {given}"),
                "send it to its own document",
            ));
        }
        check_text("author", &self.author)?;
        check_text("summary", &self.says)?;
        if !is_time(&self.time) {
            return Err(Error::invalid(
                format!("the entry's time `{}` is not an RFC 3339 time", self.time.escape_debug()),
                "write it like `2026-03-02T09:30:00Z`",
            ));
        }
        if let Err(wrong) = serde_json::from_str::<serde::de::IgnoredAny>(&self.edits) {
            return Err(Error::invalid(format!("the entry's edits are not JSON ({wrong})"), "send the edits as one JSON value"));
        }
        if self.undoes == Some(self.id) {
            return Err(Error::invalid("the entry says that it undoes itself", "name the earlier entry that it undoes"));
        }
        Ok(())
    }

    /// Whether two entries do the same to the same document.
    ///
    /// Author, time and summary may be stamped anew when a request is sent again, so they do not count.
    pub(crate) fn same_substance(&self, other: &Self) -> bool {
        self.document == other.document
            && self.edits == other.edits
            && self.undoes == other.undoes
            && self.idea == other.idea
            && self.form == other.form
    }
}

/// Refuses a null character, which not every database can hold in a text.
pub(crate) fn check_text(what: &str, text: &str) -> Result<(), Error> {
    if text.contains('\0') {
        return Err(Error::invalid(format!("the {what} holds a null character"), "take the null character out"));
    }
    Ok(())
}

/// Whether `text` has the form of an RFC 3339 time (the calendar is not checked beyond 31 days a month).
fn is_time(text: &str) -> bool {
    let two = |at: usize, low: u32, high: u32| {
        text.get(at..at + 2)
            .filter(|digits| digits.bytes().all(|b| b.is_ascii_digit()))
            .and_then(|digits| digits.parse::<u32>().ok())
            .is_some_and(|n| (low..=high).contains(&n))
    };
    let is = |at: usize, among: &[u8]| text.as_bytes().get(at).is_some_and(|b| among.contains(b));
    let date = two(0, 0, 99) && two(2, 0, 99) && is(4, b"-") && two(5, 1, 12) && is(7, b"-") && two(8, 1, 31);
    let clock = is(10, b"Tt") && two(11, 0, 23) && is(13, b":") && two(14, 0, 59) && is(16, b":") && two(17, 0, 60);
    let mut at = 19;
    if is(at, b".") {
        let digits = text.as_bytes().iter().skip(at + 1).take_while(|b| b.is_ascii_digit()).count();
        if digits == 0 {
            return false;
        }
        at += 1 + digits;
    }
    let zone = (is(at, b"Zz") && text.len() == at + 1)
        || (is(at, b"+-") && two(at + 1, 0, 23) && is(at + 3, b":") && two(at + 4, 0, 59) && text.len() == at + 6);
    date && clock && zone
}

/// Writes an id as 32 hexadecimal digits.
pub fn id_text(id: u128) -> String {
    format!("{id:032x}")
}

/// Reads an id of 32 hexadecimal digits, with or without hyphens.
pub fn id_from_text(text: &str) -> Option<u128> {
    let digits: String = text.chars().filter(|c| *c != '-').collect();
    let plain = digits.len() == 32 && digits.bytes().all(|b| b.is_ascii_hexdigit());
    if plain { u128::from_str_radix(&digits, 16).ok() } else { None }
}

/// Ids as text, because a reader in a browser would round a number of 128 bits.
pub(crate) mod id {
    use super::*;

    pub(crate) fn serialize<S: Serializer>(id: &u128, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&id_text(*id))
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u128, D::Error> {
        let text = String::deserialize(deserializer)?;
        id_from_text(&text).ok_or_else(|| serde::de::Error::custom("expected an id of 32 hexadecimal digits"))
    }
}

mod optional_id {
    use super::*;

    pub(super) fn serialize<S: Serializer>(id: &Option<u128>, serializer: S) -> Result<S::Ok, S::Error> {
        id.map(id_text).serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<u128>, D::Error> {
        let read =
            |text: String| id_from_text(&text).ok_or_else(|| serde::de::Error::custom("expected an id of 32 hexadecimal digits"));
        Option::<String>::deserialize(deserializer)?.map(read).transpose()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_have_the_form_of_rfc_3339() {
        // The valid ones are the examples of RFC 3339, section 5.8 (from memory).
        for good in
            ["1985-04-12T23:20:50.52Z", "1996-12-19T16:39:57-08:00", "1990-12-31T23:59:60Z", "1937-01-01T12:00:27.87+00:20"]
        {
            assert!(is_time(good), "{good}");
        }
        for bad in [
            "",
            "yesterday",
            "1985-04-12",
            "1985-04-12 23:20:50Z",
            "1985-13-12T23:20:50Z",
            "1985-04-12T24:20:50Z",
            "1985-04-12T23:20:50",
            "1985-04-12T23:20:50.Z",
            "1985-04-12T23:20:50Zz",
            "1985-04-12T23:20:5\u{e9}Z",
            "1985-04-12T23:20:50+0800",
        ] {
            assert!(!is_time(bad), "{bad}");
        }
    }

    #[test]
    fn an_entry_as_json_keeps_every_bit_of_its_ids() {
        let entry = Entry {
            id: u128::MAX - 1,
            document: 1 << 100,
            sequence: 3,
            author: "a".into(),
            time: "2026-03-02T09:30:00Z".into(),
            says: "s".into(),
            undoes: Some(5),
            idea: None,
            edits: "[]".into(),
            form: 1,
        };
        let text = serde_json::to_string(&entry).unwrap();
        assert!(text.contains(r#""id":"fffffffffffffffffffffffffffffffe""#), "{text}");
        assert_eq!(serde_json::from_str::<Entry>(&text).unwrap(), entry);
        assert!(serde_json::from_str::<Entry>(&text.replace("fffe\"", "fffeff\"")).is_err());
        assert_eq!(id_from_text("00000000-0000-0000-0000-0000000000ff"), Some(255));
        assert_eq!(id_from_text("+0000000000000000000000000000000"), None);
    }
}
