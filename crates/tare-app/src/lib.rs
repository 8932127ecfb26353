//! Use cases: open, compile, cache, import, report, verify.

pub mod address;
mod check_value;
pub mod clock;
mod conflict;
pub mod files;
mod history;
pub mod text_form;
mod workspace;

pub use conflict::{conflict_diag, shown};
pub use history::HistoryRow;
pub use workspace::{DocumentInfo, Loaded, Recorded, Stamp, Workspace, name_of};
