//! Documents, records, and the edits that change them.
//!
//! A [`Document`] is a set of [`Record`]s: items, parts, joints, values, rates and so on, each with a [`Kind`] and the fields
//! its [`Schema`] allows. An [`Edit`] is the only way to change one: [`Document::seal`] turns the intent of a [`Change`] into an edit
//! that carries both the old and the new content, [`Document::apply`] carries it out or reports a [`Conflict`] with both values, and
//! [`Edit::invert`] gives the edit that undoes it. The same three functions serve history, undo, import, a tablet's queue and ideas.
//!
//! ```
//! use tare_model::{Change, Document, DocumentKind, Field, FieldValue, Id, Kind, Record};
//! let mut study = Document::new(Id(1), DocumentKind::Study);
//! let item = Record::new(Id(2), Kind::Item).with(Field::Name, FieldValue::Text("Cover".into()));
//! let add = study.seal(&Change::Add { record: item }).unwrap();
//! study.apply(&add).unwrap();
//! let rename = study.seal(&Change::Set { id: Id(2), field: Field::Name, to: Some(FieldValue::Text("Lid".into())) }).unwrap();
//! study.apply(&rename).unwrap();
//! study.apply(&rename.invert()).unwrap();
//! assert_eq!(study.get(Id(2)).unwrap().text(Field::Name), Some("Cover"));
//! ```
//!
//! It reads no clock and makes no ids: both come in from the caller. It does not know what a quantity means; that is the study's.

mod document;
mod edit;
mod holds;
mod id;
mod order;
mod record;
mod references;
mod schema;

pub use document::{Document, DocumentKind};
pub use edit::{Change, Conflict, Edit, SetField};
pub use id::Id;
pub use order::{first_order, order_between};
pub use record::{FieldValue, Record};
pub use schema::{Field, FieldType, Kind, Schema};

/// The version of the form in which edits and snapshots are written; older forms are lifted when read.
pub const FORM: u32 = 1;
