//! The contract suite: what every database behind [`Journals`] must do.
//!
//! A database offers a [`Bench`]; [`hold`] runs every case of [`CASES`] on a fresh one and panics, naming the case, where the
//! contract is broken. [`Memory`] is the reference that random operations are compared with ([`perform`]).

mod cases;
mod memory;
mod observed;
mod operation;

pub use cases::CASES;
pub use memory::Memory;
pub use observed::{Observed, Use, Uses};
pub use operation::{Operation, perform};

use crate::journals::Journals;

/// A workspace that can be opened more than once.
pub trait Bench {
    /// Opens another handle to the same workspace.
    fn open(&self) -> Box<dyn Journals>;
}

/// One rule of the contract.
pub type Case = fn(&dyn Bench);

/// Holds a database to the contract; `fresh` makes an empty workspace for each case.
#[track_caller]
pub fn hold(fresh: &dyn Fn() -> Box<dyn Bench>) {
    for (name, case) in CASES {
        let bench = fresh();
        let outcome = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| case(&*bench)));
        assert!(outcome.is_ok(), "the contract is broken in case `{name}` (see the message above)");
    }
}

#[cfg(test)]
mod tests;
