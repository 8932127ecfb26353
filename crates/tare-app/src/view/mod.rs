//! What the commands show, as plain rows that print and serialize.

mod compare;
mod cost;
mod desk;
mod drivers;
mod explain;
mod ideas;
mod joints;
mod mass;
mod next;
mod parts;
mod problems;
mod spread;
mod time;

pub use compare::{
    BestRow, CompareRow, CompareView, CutRows, PickedRow, ProductRow, ProductWalk, RankRow, WalkView, YardRow, compared,
    walk_rows,
};
pub use cost::{CostView, ItemRow, KindRow, QuoteRow, ToolRow, cost};
pub use desk::{
    Choices, KeyTitle, PartLine, PartsTable, QuantityRow, RecordView, Shown, Stated, WhatIfRow, choices, outstanding,
    parts_table, record_view, records_of, what_if,
};
pub use drivers::{DriverRow, DriversView, driver_rows};
pub use explain::{ExplainRow, ExplainView, NameRow, explain, find as find_line, headline_address, read_limit};
pub(crate) use ideas::range_row;
pub use ideas::{
    ChangeLine, ChangeRows, EditRow, FrontierRow, IdeaRow, IdeasView, RangeRow, SafetyRow, SetView, WorthRow, change_rows, ideas,
};
pub use joints::{FastenerRow, JointGroup, JointRow, JointsView, joints};
pub use mass::{GroupRow, MassRow, MassView, mass};
pub use next::{StepRow, StuckRow, WorkView, work_rows};
pub use parts::{PartRow, PartsView, parts};
pub use problems::{ProblemRow, problem_rows};
pub use spread::{BudgetRow, CauseRow, FailureRow, FirstOrderRow, SpreadRow, SpreadView, spread_rows};
pub(crate) use spread::{failures, why};
pub use time::{AssemblyRow, LineRow, StationRow, TimeView, time};

/// A count without needless decimals.
pub(crate) fn count_text(number: f64) -> String {
    if number.fract() == 0.0 && number.abs() < 1e15 { format!("{number:.0}") } else { tare_units::show_number(number, 4) }
}
