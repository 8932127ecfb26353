//! Ranges of a study's lines: every leaf drawn at once, every draw the whole study computed again.
//!
//! [`Sampling`] turns the leaves of a compiled study into streams of draws; [`spread`] evaluates watched lines until their ranges have settled;
//! [`next_steps`] what to find out next; [`drivers`] finds the leaves a range comes from; [`causes`] says how much of a range comes from what leaves have in common: method errors, rates, prices, instruments.
//!
//!
//! [`Facts`] are what a study says as columns; [`Question`]s and [`Measure`]s are asked of the facts of any number of studies, and [`Rules`]
//! find opportunities in them.
//!
//! Pure: the seed, the number of threads and the wish to stop come in as arguments.

mod causes;
pub mod compare;
mod drivers;
mod facts;
mod first_order;
mod fuzz;
pub mod ideas;
mod next;
mod question;
mod rules;
mod sampling;
mod spread;

pub use causes::{Cause, CauseShare, causes};
pub use drivers::{Driver, Drivers, Search, drivers, screen};
pub use facts::{Column, ColumnType, Data, Facts, NONE, Relation, RowKind, Schema, Table, Texts, Truth};
pub use first_order::{FirstOrder, first_order};
pub use fuzz::{fuzz_question, fuzz_rule};
pub use next::{Plan, Step, WorkList, about, next_steps};
pub use question::{Measure, Question};
pub use rules::{Hit, OneOff, Risk, Rule, Rules};
pub use sampling::{Cut, Sampling};
pub use spread::{Failure, Layout, Options, Ranged, Spread, Stop, spread};
