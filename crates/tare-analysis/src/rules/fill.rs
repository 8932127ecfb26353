//! Fills templates for the rows of a study.

use super::template::{Piece, Purpose, Template, Value, address};
use crate::facts::{Facts, NONE, RowKind, Truth};
use crate::question::{Asked, Listed, Run, Ty, Values, in_chunks};
use tare_units::{Unit, show, show_number};

/// Significant digits of a number in a text.
const DIGITS: usize = 4;
/// Most entries of a list in a text.
const ENTRIES: usize = 4;

/// A template filled for one row.
#[derive(Clone, Debug, Default)]
pub(super) struct Filled {
    pub(super) text: String,
    /// Formulas that have no value for this row.
    pub(super) lacking: Vec<String>,
}

impl Template {
    /// The text for each row asked about.
    pub(super) fn fill(&self, facts: &Facts, asked: Asked<'_>) -> Vec<Filled> {
        let rows = asked.rows.unwrap_or_default();
        let mut filled = vec![Filled::default(); rows.len()];
        for piece in &self.pieces {
            match piece {
                Piece::Words(words) => filled.iter_mut().for_each(|f| f.text.push_str(words)),
                Piece::Row { outer: of_rule, kind } => {
                    let rows = if *of_rule { asked.outer.unwrap_or(rows) } else { rows };
                    for (f, row) in filled.iter_mut().zip(rows) {
                        f.text.push_str(&self.record(facts, *kind, *row));
                    }
                }
                Piece::Item { outer: of_rule } => {
                    let rows = if *of_rule { asked.outer.unwrap_or(rows) } else { rows };
                    for (f, row) in filled.iter_mut().zip(rows) {
                        let item = facts.table(RowKind::Part).items[*row as usize];
                        let words = || format!("item {}", address(facts, RowKind::Part, *row));
                        f.text.push_str(&if self.purpose == Purpose::Command { format!("@{item}") } else { words() });
                    }
                }
                Piece::Value(value) => {
                    let mut done = 0..0;
                    in_chunks(facts, asked, &value.checked, |run, places| {
                        lacks(value, &mut filled[done.end..places.start]);
                        self.values(run, value, &mut filled[places.clone()]);
                        done = places;
                    });
                    lacks(value, &mut filled[done.end..]);
                }
            }
        }
        filled
    }

    fn record(&self, facts: &Facts, kind: RowKind, row: u32) -> String {
        match self.purpose {
            Purpose::Command => format!("@{}", facts.table(kind).ids[row as usize]),
            Purpose::Words => address(facts, kind, row),
        }
    }

    fn values(&self, run: &Run<'_>, value: &Value, filled: &mut [Filled]) {
        let node = &value.checked.node;
        let listed = run.listed(node);
        let shown = |at: usize| self.entry(run, &listed, node.ty, value.unit.as_ref(), at);
        for (row, f) in filled.iter_mut().enumerate() {
            let mut entries: Vec<String> = listed.entries(row).filter_map(shown).collect();
            // what is said of nothing is lacking; an empty list says `none`
            if entries.is_empty() && node.shape.is_some() && self.purpose == Purpose::Words {
                entries.push("none".to_owned());
            } else if entries.is_empty() {
                lacks(value, std::slice::from_mut(f));
                continue;
            }
            let more = entries.len().saturating_sub(ENTRIES);
            entries.truncate(ENTRIES);
            f.text.push_str(&entries.join(", "));
            if more > 0 {
                f.text.push_str(&format!(" and {more} more"));
            }
        }
    }

    /// One entry as text; `None` where it is not known.
    fn entry(&self, run: &Run<'_>, listed: &Listed<'_>, ty: Ty, unit: Option<&Unit>, at: usize) -> Option<String> {
        if ty == Ty::Rows {
            let (kind, row) = listed.row(at).filter(|(_, row)| *row != NONE)?;
            return Some(self.record(run.facts(), kind, row));
        }
        match &listed.values {
            Values::Numbers(numbers) => number(run.facts(), numbers.at(at), unit),
            Values::Truths(truths) => match truths.at(at) {
                Truth::YES => Some("yes".to_owned()),
                Truth::NO => Some("no".to_owned()),
                _ => None,
            },
            Values::Texts(texts) => {
                let text = run.text_of(texts.at(at))?;
                // Quotes and line ends would end the words of a command before they should.
                let breaks = self.purpose == Purpose::Command && text.contains(['"', '\\', '\n', '\r']);
                (!breaks).then(|| text.to_owned())
            }
        }
    }
}

/// Says of rows that a formula has no value for them.
fn lacks(value: &Value, filled: &mut [Filled]) {
    for f in filled {
        f.lacking.push(value.text.clone());
        f.text.push_str("not known");
    }
}

fn number(facts: &Facts, si: f64, unit: Option<&Unit>) -> Option<String> {
    if !si.is_finite() {
        return None;
    }
    let Some(unit) = unit else {
        // a count is never rounded
        let whole = si.fract() == 0.0 && si.abs() < 1e9;
        return Some(show_number(si, if whole { 10 } else { DIGITS }));
    };
    let text = unit.text.replace("money", &facts.currency);
    Some(show(si, &Unit { text, ..unit.clone() }, DIGITS))
}
