//! Charts as SVG and the self-contained HTML report.

mod anchor;
pub mod chart;
mod cost;
mod evidence;
mod figure;
mod joints;
mod mass;
mod page;
mod parts;
mod reason;
mod record;
mod report;
mod time;

pub use cost::{Cost, CostSplit, CostStep, ItemCost, ProcessCost, QuoteRow, SplitRow, StepKind, ToolRow};
pub use evidence::{Bin, Distribution, Driver, Drivers, Evidence, EvidenceBar, Mark, Ranges, WeakLink};
pub use figure::{Figure, Range};
pub use joints::{FastenerRow, JointRow, Joints};
pub use mass::{AreaCell, AreaMap, GapVerdict, GroupRow, Grouping, Mass, MassBalance};
pub use page::html;
pub use parts::{Boundary, Callout, Contained, PartRow, Photo};
pub use reason::{Method, Reason, ReasonRow, Source};
pub use record::{DiffersRow, DiffersValue, Finding, Hold, Level, Problem};
pub use report::{Headline, Report, Scenario};
pub use time::{AssemblyTime, LineBalance, Station, StripRow, TimeRow};
