//! The published checks of the library, and what they do not cover.

use crate::Library;
use tare_calc::{CheckResult, Constant};

/// Runs every check of every calculation, in order of key.
pub fn verify(library: &Library) -> Vec<CheckResult> {
    library.calculations().flat_map(|c| tare_calc::run_checks(c, library)).collect()
}

/// Constants of one calculation that no check holds.
#[derive(Clone, Debug)]
pub struct Coverage {
    /// The calculation.
    pub key: String,
    /// How many constants it has.
    pub constants: usize,
    /// Those that can change by 5 % without any check failing.
    pub uncovered: Vec<Constant>,
}

/// Changes every constant of every calculation by 5 % and lists those that no check notices.
pub fn coverage(library: &Library) -> Vec<Coverage> {
    library
        .calculations()
        .map(|c| Coverage {
            key: c.key.clone(),
            constants: tare_calc::constants(c).len(),
            uncovered: tare_calc::uncovered(c, library),
        })
        .collect()
}
