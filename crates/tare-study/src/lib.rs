//! A study compiled into lines: mass, demand, cost, time, census, and the reason behind every number.
//!
//! [`compile`] takes a study, its rate books and the library and gives a [`Study`]: one graph of named [`Lines`] and tables whose
//! rows point at them. Every roll-up is itself a calculation of the library (`library/roll-ups`), so that the same text that is
//! checked against published numbers is what computes, what [`Study::explain`] prints and what a workbook would hold.
//!
//! The way through: [`mod@index`](crate) arranges records; masses are added up; joints and handling give times; demand runs down the
//! tree; cost runs up it; totals and tables follow. A missing input is a located problem and leaves out what depends on it.
//!
//! It reads no files and draws no samples.

mod bind;
mod builder;
mod census;
mod circle;
mod constituents;
mod contains;
mod correlated;
mod cost;
mod demand;
mod evidence;
mod explain;
pub mod generate;
mod holds;
mod index;
mod joined;
mod joint_cost;
mod joint_time;
mod kinds;
mod lines;
mod markup;
mod mass;
mod part_cost;
mod pick;
mod places;
mod rate;
mod reading;
mod refusal;
mod resources;
mod route;
mod rows;
mod scenario;
mod standard;
mod stated;
mod study;
mod tables;
mod time;
mod tool_plan;
mod tooling;
mod totals;
mod twice;
mod value;

pub use constituents::constituents;
pub use correlated::Correlated;
pub use evidence::{Driver, Grounds};
pub use explain::{Explanation, Step};
pub use holds::out_of_order;
pub use index::Sources;
pub use joined::{Joined, Over};
pub use kinds::CostKind;
pub use lines::{Argument, Block, CompiledTemplate, Evidence, Leaf, LineRef, Lines, Subject, SubjectId};
pub use study::{Study, compile};
pub use tables::{AssemblyRow, FastenerRow, ItemRow, JointRow, LineRow, MassHow, MassRow, PartRow, ToolRow, Totals};
pub use time::MotionKind;
pub use totals::NO_FUNCTION;
