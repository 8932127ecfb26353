//! Words of messages.

use crate::text_form::article;
use tare_model::Kind;

/// A record of a kind, in words.
pub(super) fn one(kind: Kind) -> String {
    format!("{} {kind}", article(kind))
}

/// A record of one of some kinds, in words.
pub(super) fn one_of(kinds: &[Kind]) -> String {
    let each = || kinds.iter().map(|kind| one(*kind)).collect::<Vec<_>>().join(" or ");
    if kinds.len() > 4 { "a kind of record that may be named here".to_owned() } else { each() }
}

pub(super) fn either(kinds: &[Kind]) -> String {
    if kinds.len() > 4 { "record".to_owned() } else { kinds.iter().map(|kind| kind.word()).collect::<Vec<_>>().join(" or ") }
}

/// The beginning of a text, for a message.
pub(super) fn short(text: &str) -> String {
    let line: String = text.chars().take(60).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().count() > 60 { format!("{line}...") } else { line }
}
