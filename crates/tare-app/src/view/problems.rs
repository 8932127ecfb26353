//! Messages as rows.

use serde::Serialize;
use tare_diag::Diag;

/// One message.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct ProblemRow {
    /// `error`, `warning` or `note`.
    pub severity: &'static str,
    /// Stable code.
    pub code: &'static str,
    /// What was found and expected.
    pub message: String,
    /// Where.
    pub place: String,
    /// What to do.
    pub hints: Vec<String>,
}

/// Messages as rows, in their order.
pub fn problem_rows(problems: &[Diag]) -> Vec<ProblemRow> {
    let row = |d: &Diag| ProblemRow {
        severity: d.severity.word(),
        code: d.code,
        message: d.message.clone(),
        place: d.place.as_ref().map(ToString::to_string).unwrap_or_default(),
        hints: d.hints.clone(),
    };
    problems.iter().map(row).collect()
}
