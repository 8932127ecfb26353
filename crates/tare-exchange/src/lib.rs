//! Foreign parts lists and rate tables read into proposals: CSV, XLSX, XLS, ODS.
//!
//! [`read()`] turns bytes into a [`Book`] of raw cells; [`propose()`] finds the tables in it, decides what the columns mean and gives a [`Proposal`]:
//! rows whose every value points back to its cell, stated totals as checks, what was skipped or changed and why, and questions for what only a
//! person can decide. Nothing is imported by this crate; the application turns a proposal into edits once it is accepted.
//!
//! ```
//! use tare_exchange::{Hints, Source, propose, read};
//! let text = "Name;Qty;Mass (g)\nFrame;1;812,5\nBolt M5;4x;3,2\nTotal;5;825,3\n";
//! let book = read(&Source { name: "list.csv", bytes: text.as_bytes() }).expect("a table");
//! let proposal = propose(&book, &Hints::default()).expect("a parts list");
//! assert_eq!((proposal.parts, proposal.total_quantity), (2, 5.0));
//! assert_eq!(proposal.rows[1].quantity.origin.cell, "B3");
//! assert_eq!(proposal.rows[1].mass.as_ref().and_then(|m| m.kg), Some(0.0032));
//! assert!(proposal.totals.iter().all(|t| t.verdict == tare_exchange::Verdict::Agrees));
//! ```
//!
//! Main types: [`Source`] and [`Book`] (what the file holds), [`Mapping`] (how it is read; shown, changed, remembered by its fingerprint),
//! [`Proposal`], [`RateProposal`], [`Revision`]. It does not know the study's model, opens no file and guesses nothing that cannot be proven.

mod archive;
mod book;
mod checks;
mod codes;
mod columns;
mod container;
mod export;
mod formula;
mod hierarchy;
mod kept;
mod limits;
mod mapping;
mod number;
mod price;
mod proposal;
mod propose;
mod quantity;
mod rates;
mod read;
mod refuse;
mod relations;
mod revision;
mod rows;
mod strict;
pub mod table;
mod tables;
mod titles;
mod totals;
mod vocabulary;
mod words;

pub use archive::{Files, MAX_BYTES, MAX_FILES, archive_names, is_archive, pack, plain_path, unpack};
pub use book::{Book, Cell, CellKind, Container, Encoding, Merge, Sheet, Source, cell_name, column_name, parse_cell_name};
pub use export::{read_csv_text, write_csv_text};
pub use kept::{csv_field, keep_text, kept_text};
pub use mapping::{ColumnMapping, Hierarchy, Hints, Mapping, Meaning, TableMapping};
pub use number::NumberStyle;
pub use proposal::{
    Amount, Changed, Counts, Distinct, Group, Mass, Origin, PartRow, Per, Price, Proposal, QuantityKind, Question, Skipped,
    TableFound, Tax, Told, TotalCheck, TotalOf, Verdict,
};
pub use propose::propose;
pub use rates::{RateField, RateProposal, RateRow, propose_rates};
pub use read::read;
pub use revision::{Revision, RowChange, RowKey, compare_revision};
pub use strict::{StrictRow, StrictTable, read_strict};
