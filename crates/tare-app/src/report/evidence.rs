//! What the results rest on.

use super::amount::with_uncertainty;
use super::filling::Filling;
use tare_report::{Evidence, EvidenceBar, Figure, WeakLink};
use tare_study::{Evidence as Class, LineRef};

/// Links listed for each result.
const LINKS: usize = 12;
/// Smallest share of the variance of a result that is listed.
const LEAST: f64 = 0.01;

pub(super) fn evidence(f: &mut Filling<'_>) -> Evidence {
    f.group = "Inputs".to_owned();
    let totals = f.study.totals.clone();
    let results = [
        ("cost per product", totals.cost),
        ("cost without the dominant bought item", totals.without_dominant),
        ("mass", totals.mass),
        ("manual assembly time", totals.manual),
    ];
    let mut found = Evidence::default();
    for (label, line) in results {
        let Some(line) = line else { continue };
        let grounds = f.study.grounds(line);
        let shares = grounds.shares.iter().map(|(class, share)| (class.word().to_owned(), *share)).collect();
        found.bars.push(EvidenceBar { label: label.to_owned(), shares });
        if label == "cost without the dominant bought item" {
            continue;
        }
        let variance = grounds.standard_uncertainty * grounds.standard_uncertainty;
        let shares = grounds.drivers.iter().map(|d| (d.leaf, d.contribution * d.contribution / variance));
        for (driver, share) in shares.filter(|(_, share)| *share >= LEAST).take(LINKS) {
            let LineRef::Leaf(at) = driver else { continue };
            let leaf = &f.study.lines.leaves[at as usize];
            let link = WeakLink {
                input: named(f, driver),
                class: leaf.evidence.word().to_owned(),
                result: label.to_owned(),
                share: format!("{:.0} %", share * 100.0),
                next: next(leaf.evidence, leaf.shared).to_owned(),
                value: spread(f, driver),
            };
            if Some(line) == totals.cost {
                found.strongest.push(link.clone());
            }
            let weak = !matches!(f.study.lines.leaves[at as usize].evidence, Class::Measured | Class::Derived);
            if weak || Some(line) == totals.mass {
                found.weakest.push(link);
            }
        }
    }
    found.notes.push(
        "Shares by elasticity at the stated values: how strongly a result follows each input, added up by class of evidence. \
         Weakest links: share of the variance of the result, first order; links under 1 % are left out."
            .to_owned(),
    );
    found
}

/// What an input is, in words: the method error of a calculation by its title, others by subject and name.
pub(super) fn named(f: &Filling<'_>, leaf: LineRef) -> String {
    let step = f.study.step(leaf);
    let subject = f.study.lines.subject(leaf).title.clone();
    let named = match (f.library.find(&subject), step.name.as_str()) {
        (Some(calculation), "method") => format!("{}: method error", calculation.title),
        (Some(calculation), name) => format!("{}: {}", calculation.title, name.replace(['_', '.'], " ")),
        (None, name) => format!("{subject}: {}", name.replace(['_', '.'], " ")),
    };
    super::reasons::capital(&named)
}

/// An input by name, and its value as stated, with its spread.
pub(super) fn input(f: &mut Filling<'_>, leaf: LineRef) -> (String, Figure) {
    (named(f, leaf), spread(f, leaf))
}

/// The value of an input as stated, with its spread.
fn spread(f: &mut Filling<'_>, leaf: LineRef) -> Figure {
    let figure = f.figure(leaf, 3);
    match f.study.step(leaf).stated.filter(|text| super::reasons::spreads(text)) {
        Some(text) => Figure { text: super::reasons::typeset(&text), ..figure },
        None => {
            let half = 2.0 * f.study.standard_uncertainty(leaf);
            let (value, half) = with_uncertainty(f.study.value(leaf), half, f.study.lines.unit(leaf), &f.study.currency);
            Figure { text: format!("{value} \u{b1} {half}"), ..figure }
        }
    }
}

fn next(class: Class, shared: bool) -> &'static str {
    match (class, shared) {
        (Class::Measured, _) => "repeat the reading, or read with a finer instrument",
        (Class::Derived, _) => "check what it was derived from",
        (Class::Handbook, _) => "measure it on this product",
        (Class::Quoted, _) => "ask for a second offer",
        (Class::Assumed, true) => "replace the assumption by a rate of the place, or by a timed operation",
        (Class::Assumed, false) => "measure it, or ask for an offer",
    }
}
