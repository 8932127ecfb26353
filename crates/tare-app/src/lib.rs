//! Use cases: open, compile, cache, import, report, verify.
//!
//! The only crate that sees both the store and the study. Files, the clock, new identifiers and the workspace folder live here;
//! faces (the command line now, a page later) hand in what a person asks for and show what comes back.
//!
//! - [`Workspace`]: documents, loaded from snapshot and journal; entries recorded, taken back, brought back.
//! - [`text_form`]: a document as readable text, both ways. [`edit_command`]: edits in the words of the command line.
//! - [`Session`]: a workspace with its library; studies compiled once per state; texts a study holds on to.
//! - [`live`]: the same workspace for several people at once.
//! - [`view`]: rows for tables and JSON. [`report`], [`verify`], [`import`], [`export`], [`demo`], [`doctor`]: one use case each.
//!
//! It prints nothing and reads no arguments.

pub mod address;
mod basis;
pub mod browser;
pub mod calculations;
mod check_value;
pub mod clock;
pub mod collection;
pub mod compare;
mod conflict;
pub mod create;
pub mod demo;
pub mod doctor;
pub mod edit_command;
pub mod export;
mod figure;
pub mod files;
pub mod folder;
pub mod generated;
mod held;
mod held_text;
mod history;
pub mod idea;
pub mod import;
pub mod live;
mod lock;
pub mod pdf;
pub mod photo;
pub mod privacy;
pub mod ranges;
pub mod release;
pub mod renewal;
pub mod report;
mod session;
mod standing;
pub mod tables;
pub mod text_form;
mod toml_text;
pub mod verify;
pub mod view;
pub mod workbook;
mod workspace;

pub use basis::{Basis, BoundaryRow};
pub use conflict::{conflict_diag, shown};
pub use figure::{Figure, shown as shown_si};
pub use held::Texts;
pub use history::HistoryRow;
pub use lock::Difference;
pub use session::{OwnFile, Session, library_with, own_files};
pub use tare_analysis::{Layout, Options, Plan, Search, Stop};
pub use tare_exchange::{Proposal, RateProposal};
pub use tare_library::Library;
pub use tare_model::{Document, DocumentKind, Field, FieldType, FieldValue, Id, Kind, Record};
pub use tare_study::{Leaf, LineRef, Study};
pub use tare_units::show_number;
/// Reads an identifier of 32 hexadecimal digits.
pub fn id_of_text(text: &str) -> Option<Id> {
    let digits = text.len() == 32 && text.bytes().all(|b| b.is_ascii_hexdigit());
    u128::from_str_radix(text, 16).ok().filter(|_| digits).map(Id)
}

pub use workspace::{DocumentInfo, Loaded, Recorded, Stamp, Workspace, name_of};
