//! Questions that lead back to themselves: a mass by difference of a whole that needs it, an estimate that reads what it estimates.
//!
//! Whatever follows a study's own references asks through [`Builder::answered`], so that a circle or an endless chain is said where it
//! is instead of running out of room.

use crate::builder::Builder;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

/// How many levels a parts tree may have.
pub(crate) const LEVELS: usize = 100;
/// How many questions may wait for each other: a mass through every level of the deepest tree, and a chain of estimates below it.
const WAITING: usize = LEVELS + 60;

/// Something whose answer may depend on other answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Question {
    /// A quantity of a record, as stated or estimated.
    Stated(Id, String),
    /// The mass of a part.
    PartMass(usize),
    /// The mass of one piece of an item, as made.
    ItemMass(Id),
    /// The mass of a part, as made.
    MadeMass(usize),
}

impl Builder<'_> {
    /// The answer to a question, unless it is asked while it is being answered; then the circle is reported and there is none.
    pub(crate) fn answered<T>(&mut self, question: Question, answer: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        if let Some(first) = self.waiting.iter().position(|q| *q == question) {
            let circle: Vec<Question> = self.waiting[first..].to_vec();
            let mut names: Vec<String> = circle.iter().chain([&question]).map(|q| self.asks(q)).collect();
            names.dedup();
            let diag = Diag::error("circle", format!("`{}` is worked out from itself: {}", names[0], names.join(" needs ")))
                .at(Place::address(names[0].clone()));
            self.problem(diag.hint("state one of these directly (a reading, or an estimate that does not use it)"));
            return None;
        }
        if self.waiting.len() >= WAITING {
            let name = self.asks(&self.waiting[0].clone());
            let says = format!("`{name}` needs more than {WAITING} other values one after the other");
            let diag = Diag::error("too-deep", says).at(Place::address(name));
            self.problem(diag.hint("state some of the values in between directly"));
            return None;
        }
        self.waiting.push(question);
        let answer = answer(self);
        self.waiting.pop();
        answer
    }

    fn asks(&self, question: &Question) -> String {
        let part = |at: usize| format!("{}/mass", self.index.parts[at].label);
        match question {
            Question::PartMass(at) | Question::MadeMass(at) => part(*at),
            Question::ItemMass(item) => {
                let first = self.index.parts_of_item.get(item).and_then(|p| p.first());
                first.map_or_else(|| format!("{}/mass", self.item_address(*item)), |at| part(*at))
            }
            Question::Stated(record, quantity) => {
                let address = match self.index.part_of.get(record) {
                    Some(at) => self.index.parts[*at].label.clone(),
                    None if self.index.items.iter().any(|i| i.id == *record) => self.item_address(*record),
                    None => {
                        let found = self.sources.study.get(*record);
                        found.and_then(|r| r.text(Field::Label).or(r.text(Field::Name))).unwrap_or("?").to_owned()
                    }
                };
                format!("{address}/{quantity}")
            }
        }
    }

    /// Says which parts lie too deep to be followed.
    pub(crate) fn report_depth(&mut self) {
        for label in std::mem::take(&mut self.index.too_deep) {
            let diag = Diag::error("too-deep", format!("the part {label} lies more than {LEVELS} levels deep and is left out"))
                .at(Place::address(label));
            self.problem(diag.hint("put it higher in the tree, or check whether a part was nested in itself"));
        }
    }
}
