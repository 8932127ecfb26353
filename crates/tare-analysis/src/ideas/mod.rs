//! What ideas change: each computed anew with the same draws, differences as lines of their own.
//!
//! [`changes`] joins a study with variants of it and writes what differs as lines; [`worth`] draws them; [`detail`] explains one change line by
//! line; [`groups`] tells which ideas can be added up and which have to be computed together; [`best_set`] and [`frontier`] choose among them.

mod detail;
mod groups;
mod lines;
mod sets;
mod worth;

pub use detail::{ChangeRow, Detail, detail};
pub use groups::groups;
pub(crate) use lines::counted;
pub use lines::{Changes, IdeaLines, Variant, changes};
pub use sets::{BestSet, Bounds, Choice, Compute, FrontierPoint, Offer, best_set, frontier};
pub use worth::{Worth, worth};
