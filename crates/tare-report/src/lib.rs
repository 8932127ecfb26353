//! Charts as SVG and the self-contained HTML report.
//!
//! The application fills a [`Report`] (plain structs, all numbers already computed and written out with their units) and gets one HTML
//! page from [`html`]: it loads nothing, needs no script to be read, prints to paper, and every number whose [`Reason`] is in the report
//! links to it. The [`chart`] module draws; each drawing also tells its numbers as a table.
//!
//! ```
//! use tare_report::{Figure, Headline, Reason, Report, html};
//! let report = Report {
//!     title: "Bracket".to_owned(),
//!     headlines: vec![Headline {
//!         label: "Mass".to_owned(),
//!         value: Figure::new(0.412, "412 g").because("study/P1/mass"),
//!         ..Headline::default()
//!     }],
//!     reasons: vec![Reason { anchor: "study/P1/mass".to_owned(), title: "Mass of the bracket".to_owned(), ..Reason::default() }],
//!     ..Report::default()
//! };
//! let page = html(&report);
//! assert!(page.contains("412 g") && page.contains("href=\"#R1\""));
//! ```
//!
//! It knows neither studies nor the graph and does no arithmetic on results: sums it forms (running shares, "others", ends of a
//! waterfall) only place marks in a drawing, except that a waterfall that does not close is said in words.

mod anchor;
mod cards;
pub mod chart;
mod compare;
mod cost;
mod evidence;
mod figure;
mod ideas;
mod joints;
mod mass;
mod page;
mod parts;
mod printing;
mod ranges;
mod reason;
mod record;
mod report;
mod time;

pub use cards::{CARDS_PER_PAGE, Card, Cards, cards_html};
pub use compare::{BestOfEach, BoundaryDifference, Compared, ComparedRow, Comparison, Cut, Picked, Rank, Walk, Yardstick};
pub use cost::{Cost, CostSplit, CostStep, ItemCost, ProcessCost, RoughRow, RouteRow, SplitRow, StepKind, ToolRow};
pub use evidence::{Evidence, EvidenceBar, WeakLink};
pub use figure::{Figure, Range, Spread};
pub use ideas::{
    ChangeRow, ChangeTable, DroppedIdea, EditState, FrontierPoint, Idea, IdeaEdit, IdeaSet, IdeaWorth, Ideas, SafetyFinding,
};
pub use joints::{FastenerRow, JointRow, Joints};
pub use mass::{AreaCell, AreaMap, GapVerdict, GroupRow, Grouping, Mass, MassBalance};
pub use page::{FigureFile, Link, comparison_html, figures, html, page_style, section_names, sections};
pub use parts::{Boundary, Callout, Contained, PartRow, Photo};
pub use printing::{Cover, Paper, Printing, SMALLEST};
pub use ranges::{Bin, CauseRow, CutRow, Distribution, Driver, Drivers, FailedRow, Mark, RangeRow, Ranges, WorkList, WorkRow};
pub use reason::{Method, Reason, ReasonRow, Source};
pub use record::{DiffersRow, DiffersValue, Finding, Hold, Level, Problem};
pub use report::{Headline, Report, Scenario};
pub use time::{AssemblyTime, LineBalance, Station, StripRow, TimeRow};
