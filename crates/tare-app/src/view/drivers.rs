//! What drives a range, as rows.

use crate::figure::{Figure, shown};
use serde::Serialize;
use tare_analysis::{Cause, Drivers};
use tare_study::{LineRef, Study};

/// What a result's range comes from.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct DriversView {
    /// What the result is, in words.
    pub name: String,
    /// The result at the stated values.
    pub stated: Figure,
    /// Standard uncertainty, shown.
    pub uncertainty: String,
    /// The leaves that matter, most first.
    pub rows: Vec<DriverRow>,
    /// Share of the variance that none of them carries alone.
    pub rest: f64,
    /// Leaves that were screened.
    pub screened: usize,
    /// Draws in each set of numbers.
    pub draws: u64,
    /// The share of a leaf's values between which it was moved.
    pub coverage: f64,
    /// The seed.
    pub seed: u64,
    /// Draws in which the result was no number.
    pub failed: usize,
}

/// One leaf.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct DriverRow {
    /// Its address.
    pub address: String,
    /// What it is about.
    pub subject: String,
    /// Its value with spread, as stated.
    pub stated: String,
    /// How well it is known.
    pub evidence: String,
    /// Where it comes from.
    pub source: String,
    /// What it has in common with others.
    pub cause: String,
    /// Share of the variance that would go if it were known.
    pub alone: f64,
    /// Share that would stay if all others were known.
    pub with_others: f64,
    /// Standard errors of both shares.
    pub errors: [f64; 2],
    /// The leaf low and high, shown.
    pub between: [String; 2],
    /// The result there, shown.
    pub results: [String; 2],
    /// The same in the unit of the result.
    pub numbers: [f64; 2],
    /// Leaves that move with it, by address.
    pub with: Vec<String>,
}

/// Drivers as rows.
pub fn driver_rows(study: &Study, name: &str, found: &Drivers, coverage: f64, seed: u64) -> DriversView {
    let lines = &study.lines;
    let unit = lines.unit(found.line);
    let rows = found.rows.iter().map(|row| {
        let about = leaf_words(study, row.leaf);
        DriverRow {
            with: row.with.iter().map(|leaf| lines.address(*leaf)).collect(),
            alone: row.indices.first,
            with_others: row.indices.total,
            errors: [row.indices.first_error, row.indices.total_error],
            between: row.between.map(|si| shown(si, lines.unit(row.leaf), &study.currency, 3)),
            results: row.results.map(|si| shown(si, unit, &study.currency, 5)),
            numbers: row.results.map(|si| unit.from_si(si)),
            address: about.address,
            subject: about.subject,
            stated: about.stated,
            evidence: about.evidence,
            source: about.source,
            cause: about.cause,
        }
    });
    DriversView {
        name: name.to_owned(),
        stated: Figure::new(study, found.line, 5),
        uncertainty: shown(found.deviation, unit, &study.currency, 2),
        rows: rows.collect(),
        rest: found.rest(),
        screened: found.screened,
        draws: found.draws,
        coverage,
        seed,
        failed: found.failed,
    }
}

/// What can be said of a leaf in words.
pub(crate) struct LeafWords {
    pub(crate) address: String,
    pub(crate) subject: String,
    pub(crate) stated: String,
    pub(crate) evidence: String,
    pub(crate) source: String,
    pub(crate) cause: String,
}

pub(crate) fn leaf_words(study: &Study, line: LineRef) -> LeafWords {
    let lines = &study.lines;
    let LineRef::Leaf(number) = line else { unreachable!("bug: a line was taken for a leaf") };
    let leaf = &lines.leaves[number as usize];
    LeafWords {
        address: lines.address(line),
        subject: lines.subject(line).title.clone(),
        stated: leaf.quantity.text.clone(),
        evidence: leaf.evidence.word().to_owned(),
        source: leaf.source.clone(),
        cause: Cause::of(lines, leaf).words().to_owned(),
    }
}
