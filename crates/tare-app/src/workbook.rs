//! A study as a workbook of live formulas.

use crate::basis::Basis;
use crate::held::Texts;
use crate::ranges::{Ranges, headlines};
use tare_diag::Diag;
use tare_model::{Document, Kind};
use tare_study::{LineRef, Study};
pub use tare_workbook::Written;
use tare_workbook::{About, Headline};

/// Writes the workbook: with the texts the study is computed with, ranges where they were drawn, and what a reader has to be told.
///
/// # Errors
/// What the form of the file refuses.
pub fn write(
    texts: &Texts,
    document: &Document,
    study: &Study,
    ranges: Option<&Ranges>,
    notes: &[String],
) -> Result<Written, Vec<Diag>> {
    let about = about(document, study, ranges, notes);
    tare_workbook::write(study, &*texts.library, &about).map_err(|e| {
        let diag = Diag::error("workbook", format!("the workbook cannot be written: {e}"));
        vec![diag.hint("a sheet has 1,048,576 rows; a study beyond that leaves as tables or as a study folder")]
    })
}

fn about(document: &Document, study: &Study, ranges: Option<&Ranges>, notes: &[String]) -> About {
    let basis = Basis::new(document, study);
    let facts = [
        ("Scenario", basis.scenario.clone()),
        ("Place", basis.place.clone()),
        ("Volume", basis.volume.as_ref().map_or_else(String::new, |v| v.text.clone())),
        ("Base year", basis.base_year.clone()),
        ("Currency", basis.currency.clone()),
        ("Rates", basis.book.clone()),
    ];
    let mut said = Vec::new();
    if basis.illustrative {
        said.push("Invented data with illustrative rates: no real product, maker or offer.".to_owned());
    }
    said.push("Work on such products can hurt people: high voltage, stored energy, gas, fire, heavy loads. Local codes and qualified people decide; nothing here says that something may be done.".to_owned());
    said.extend(notes.iter().cloned());
    let watched = headlines(document, study);
    let range = |line: LineRef| {
        let ranges = ranges?;
        let at = ranges.watched.iter().position(|(_, l)| *l == line)?;
        let drawn = ranges.spread.ranged.get(at)?.draws.symmetric(0.95);
        Some((drawn.low, drawn.high))
    };
    let headlines = watched.iter().enumerate().map(|(at, (says, line))| Headline {
        says: says.clone(),
        name: format!("headline_{}", at + 1),
        line: *line,
        range: range(*line),
    });
    About {
        title: basis.study.clone(),
        facts: facts.into_iter().filter(|(_, says)| !says.is_empty()).map(|(what, says)| (what.to_owned(), says)).collect(),
        boundary: basis.boundary.iter().map(|b| [b.topic.clone(), b.state.clone(), b.says.clone()]).collect(),
        headlines: headlines.collect(),
        notes: said,
        named: named(document, study),
        day: day(),
    }
}

/// Leaves that get a name: those of rate books and of the scenario.
fn named(document: &Document, study: &Study) -> Vec<(String, LineRef)> {
    let leaves = study.lines.leaves.iter().enumerate();
    let name = |leaf: &tare_study::Leaf| {
        let subject = study.lines.subject_of(leaf);
        let scenario = subject.record.and_then(|id| document.get(id)).is_some_and(|r| r.kind == Kind::Scenario);
        let rate = subject.address == "rate" || subject.address.starts_with("rate (");
        (scenario || rate).then(|| format!("{} {}", if scenario { "scenario" } else { &subject.address }, leaf.name))
    };
    leaves.filter_map(|(at, leaf)| Some((name(leaf)?, LineRef::Leaf(at as u32)))).collect()
}

/// Today as numbers.
fn day() -> (u16, u8, u8) {
    let today = crate::clock::today();
    let mut parts = today.split('-');
    let mut next = || parts.next().unwrap_or_default();
    (next().parse().unwrap_or(0), next().parse().unwrap_or(1), next().parse().unwrap_or(1))
}
