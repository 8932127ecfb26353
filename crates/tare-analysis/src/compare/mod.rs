//! Several products side by side: computed under one scenario, aligned by what parts are for, divided by common yardsticks.
//!
//! [`compare`] joins the studies into one graph and writes every difference as a line of it; [`Comparison`] holds the rows. [`rank`] reads draws: how
//! sure an order is. Comparison is computing again, never subtracting reports: whoever calls compiles all studies under one scenario.

mod aligned;
mod best;
mod rank;
mod walk;

pub use aligned::{Comparison, Cut, Row, Side, Yard, compare};
pub use best::{BestOf, Picked};
pub use rank::{Rank, rank};
pub use walk::{Factor, Walk, WalkLines, quoted, walk};
