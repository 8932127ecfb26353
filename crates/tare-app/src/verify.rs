//! Running the published checks of the library.

use serde::Serialize;
use tare_calc::{CheckResult, ConstantOwner};
use tare_library::{Library, coverage, verify as run};

/// One check as reported.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct CheckRow {
    /// Reference id.
    pub id: String,
    /// Where the example is published.
    pub source: String,
    /// Whether the figures were read there.
    pub seen: bool,
    /// What kind of example it is.
    pub kind: String,
    /// What was expected.
    pub expected: String,
    /// What came out.
    pub got: String,
    /// Whether it agrees.
    pub ok: bool,
    /// The calculation.
    pub calculation: String,
    /// The line.
    pub name: String,
}

/// What `tare verify` reports.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Verification {
    /// Checks from outside that agree.
    pub passed: usize,
    /// Checks from outside that do not.
    pub failed: usize,
    /// Every check, those derived by ourselves included.
    pub checks: Vec<CheckRow>,
    /// Derived checks that agree; they are not counted in `passed`.
    pub derived_passed: usize,
    /// Derived checks that do not.
    pub derived_failed: usize,
    /// Calculations with at least one check.
    pub calculations_checked: usize,
    /// Calculations in all.
    pub calculations: usize,
}

/// Constants of one calculation that no check holds.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct CoverRow {
    /// The calculation.
    pub calculation: String,
    /// How many constants it has.
    pub constants: usize,
    /// Those that can change by 5 % unnoticed.
    pub uncovered: Vec<String>,
}

/// Whether a check is ours and not from outside.
fn derived(check: &CheckResult) -> bool {
    check.kind == "derived" || check.id.starts_with("own-")
}

/// Runs every check of the library.
pub fn verify(library: &Library) -> Verification {
    let results = run(library);
    let count = |d: bool, ok: bool| results.iter().filter(|r| derived(r) == d && r.ok == ok).count();
    let mut keys: Vec<&str> = results.iter().map(|r| r.calculation.as_str()).collect();
    keys.sort_unstable();
    keys.dedup();
    Verification {
        passed: count(false, true),
        failed: count(false, false),
        derived_passed: count(true, true),
        derived_failed: count(true, false),
        calculations_checked: keys.len(),
        calculations: library.calculations().count(),
        checks: results.iter().map(check_row).collect(),
    }
}

/// A check as reported.
pub(crate) fn check_row(r: &CheckResult) -> CheckRow {
    CheckRow {
        id: r.id.clone(),
        source: r.source.clone(),
        seen: r.seen,
        kind: if derived(r) { "derived".to_owned() } else { r.kind.clone() },
        expected: r.expected.clone(),
        got: r.got.clone(),
        ok: r.ok,
        calculation: r.calculation.clone(),
        name: r.name.clone(),
    }
}

/// Lists the constants that no check holds.
pub fn cover(library: &Library) -> Vec<CoverRow> {
    let named = |owner: &ConstantOwner| match owner {
        ConstantOwner::Formula(name) => name.clone(),
        ConstantOwner::Default(name) => format!("default of {name}"),
        ConstantOwner::Cell { table, row, column } => format!("{table}, row {row}, {column}"),
    };
    let row = |c: tare_library::Coverage| CoverRow {
        calculation: c.key,
        constants: c.constants,
        uncovered: c.uncovered.iter().map(|u| format!("{} in {}", u.text, named(&u.owner))).collect(),
    };
    coverage(library).into_iter().map(row).collect()
}
