//! A document as readable text (docs/study-text.md), both ways.
//!
//! [`read()`] turns files into the changes that build the document, with every problem at its place; [`write()`] turns a document
//! into one file that reads back to the same content. Identifiers are made from the set's name and each record's key, so the
//! same text always gives the same document.

mod edits;
mod fields;
mod identity;
mod keys;
mod read;
mod values;
mod write;

pub(crate) use fields::article;
pub use identity::id_of;
pub use read::{TextDocument, TextFile, read};
pub use write::write;
