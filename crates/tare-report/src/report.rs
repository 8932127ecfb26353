//! The report as plain data: what the application fills and the page prints.

use crate::{
    AssemblyTime, Boundary, Comparison, Cost, Cover, DiffersRow, Evidence, Figure, Finding, Hold, Ideas, Joints, Mass, Method,
    PartRow, Photo, Printing, Problem, Ranges, Reason, Source,
};
use serde::{Deserialize, Serialize};

/// A whole report; every list may be empty and its section then says that nothing is recorded or is left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Report {
    /// Title of the report: `Battery pack of a utility vehicle, specimen 1`.
    pub title: String,
    /// What was stripped, in one sentence.
    pub product: String,
    /// Set when the data is invented or only illustrative: the sentence that says so. It is shown on top and on each printed page's first lines.
    pub invented: Option<String>,
    /// For whom the costs hold.
    pub scenario: Scenario,
    /// Cautions about this product, beside the general ones that are always printed.
    pub cautions: Vec<String>,
    /// The few numbers a reader wants first, in order.
    pub headlines: Vec<Headline>,
    /// What the totals contain; printed in short under every total and once in full.
    pub boundary: Vec<Boundary>,
    /// The indented parts list, parents before children.
    pub parts: Vec<PartRow>,
    /// Photos that parts, findings and holds refer to.
    pub photos: Vec<Photo>,
    /// Weighing, mass balance, mass groups.
    pub mass: Mass,
    /// The joint census.
    pub joints: Joints,
    /// Assembly time, line balance, recorded strip-down times.
    pub time: AssemblyTime,
    /// The should-cost.
    pub cost: Cost,
    /// What the results rest on.
    pub evidence: Evidence,
    /// Ranges and what drives them; empty until they are computed.
    pub ranges: Ranges,
    /// Ideas to change the product; none where nobody asked for them, and the page then has no such section.
    pub ideas: Option<Ideas>,
    /// The product beside others; none where it is compared with nothing, and the page then has no such section.
    pub comparison: Option<Comparison>,
    /// Things seen.
    pub findings: Vec<Finding>,
    /// Safety and hand-over points.
    pub holds: Vec<Hold>,
    /// Quantities for which several values stand side by side.
    pub differs: Vec<DiffersRow>,
    /// Messages of the computation, in their order.
    pub problems: Vec<Problem>,
    /// Calculations used, with their own spread.
    pub methods: Vec<Method>,
    /// Published sources, quotes and assumptions.
    pub sources: Vec<Source>,
    /// How each number came about; figures link here by anchor.
    pub reasons: Vec<Reason>,
    /// Remarks on what the report does not show, printed at the end of the summary.
    pub remarks: Vec<String>,
    /// What stands on the cover beside title, product and scenario.
    pub cover: Cover,
    /// What of it is printed, and on which paper.
    pub printing: Printing,
    /// Whether the reasons are left off when the page is printed (they stay on screen).
    pub reasons_off_paper: bool,
}

/// The circumstances every cost depends on; all already as text.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Scenario {
    /// Name of the scenario.
    pub name: String,
    /// Where it is made: `Central Europe`.
    pub place: String,
    /// How many: `2 000 packs a year over 5 years`.
    pub volume: String,
    /// Year of the money: `2025`.
    pub base_year: String,
    /// Currency code.
    pub currency: String,
    /// The arithmetic used: `point values, numerics 1`.
    pub numerics: String,
    /// Version of the program and of its library.
    pub build: String,
    /// Journal position or release the report was made from.
    pub state: String,
    /// Further entries as label and text, in order.
    pub more: Vec<(String, String)>,
}

/// One of the numbers on top of the report.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Headline {
    /// What it is: `Should-cost per pack`.
    pub label: String,
    /// The number, with its first-order spread or its sampled range. Without both the page says so.
    pub value: Figure,
    /// The same number without the dominant bought item, with the words for that: (`without cells`, figure).
    pub without: Option<(String, Figure)>,
    /// One line of explanation.
    pub note: String,
    /// Whether this is a total, so that the boundary is printed under it.
    pub total: bool,
}
