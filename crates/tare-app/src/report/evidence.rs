//! What the results rest on.

use super::filling::Filling;
use tare_report::{Evidence, EvidenceBar, WeakLink};
use tare_study::{Evidence as Class, LineRef};

/// Weak links listed for each result.
const LINKS: usize = 12;

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
        for driver in grounds.drivers.iter().take(LINKS) {
            let LineRef::Leaf(at) = driver.leaf else { continue };
            let leaf = &f.study.lines.leaves[at as usize];
            if matches!(leaf.evidence, Class::Measured | Class::Derived) && label != "mass" {
                continue;
            }
            let share = driver.contribution * driver.contribution / variance;
            let subject = f.study.lines.subject(driver.leaf).title.clone();
            found.weakest.push(WeakLink {
                input: format!("{subject}: {}", leaf.name.replace('_', " ")),
                class: leaf.evidence.word().to_owned(),
                result: label.to_owned(),
                share: format!("{:.0} % of the variance", share * 100.0),
                next: next(leaf.evidence, leaf.shared).to_owned(),
                value: f.figure(driver.leaf, 3),
            });
        }
    }
    found.notes.push(
        "Shares by elasticity at the stated values: how strongly a result follows each input, added up by class of evidence."
            .to_owned(),
    );
    found
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
