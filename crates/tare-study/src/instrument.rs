//! Errors of instruments against what they read.

use crate::builder::Builder;
use crate::lines::LineRef;
use tare_diag::{Diag, Place};
use tare_model::Id;

impl Builder<'_> {
    /// Whether an error of an instrument is of the kind it reads; a zero of `5 mm` on a scale is a problem and is left out.
    pub(crate) fn error_fits(&mut self, instrument: Id, error: &str, line: LineRef, shown: LineRef) -> bool {
        let (found, due) = (self.lines.unit(line).clone(), self.lines.unit(shown).clone());
        if found.dim == due.dim {
            return true;
        }
        let name = self.sources.study.get(instrument).map_or_else(String::new, |record| self.name_among_its_kind(record));
        let word = |d| tare_units::name_of(d).map_or_else(|| format!("{d}"), str::to_owned);
        let says = format!("{error} of the instrument {name}: found a {} where it reads a {}", word(found.dim), word(due.dim));
        let diag = Diag::error("dimension", says).at(Place::address(format!("instrument {name}/{error}")));
        self.problem(diag.hint(format!("state it in {}, or take the reading on another instrument", due.text)));
        false
    }
}
