//! Each item of the parts tree is either costed here or the sum of its children; both is an error.

use crate::builder::Builder;
use std::collections::BTreeSet;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

impl Builder<'_> {
    /// Says where a part below an item marked `costed = here` states a cost of its own, which would be dropped in silence. A bought
    /// item has its supplier's price whatever is known of its insides, so that nothing is dropped there.
    pub(crate) fn costed_twice(&mut self) {
        let mut said: BTreeSet<(Id, Id)> = BTreeSet::new();
        for part in 0..self.index.parts.len() {
            let item = self.index.parts[part].item;
            let above = std::iter::successors(self.index.parts[part].parent, |p| self.index.parts[*p].parent)
                .map(|p| self.index.parts[p].item)
                .find(|above| above.text(Field::Costed) == Some("here") && above.text(Field::Make) == Some("make"));
            let Some(above) = above else { continue };
            let Some(what) = self.own_cost_of(item.id) else { continue };
            if !said.insert((above.id, item.id)) {
                continue;
            }
            let named = |r: &tare_model::Record| r.text(Field::Name).unwrap_or("?").to_owned();
            let diag = Diag::error(
                "costed-twice",
                format!("{} is costed as a whole, and {} inside it states {what}", named(above), named(item)),
            )
            .at(Place::address(self.item_address(item.id)));
            self.problem(diag.hint(format!(
                "clear `costed` of {} so that it is the sum of its parts, or remove what {} states",
                self.item_address(above.id),
                self.item_address(item.id)
            )));
        }
    }

    /// Says where work is recorded on an item that has its supplier's price, or is said to be costed as a whole: it would add nothing.
    pub(crate) fn work_on_bought(&mut self, item: Id) {
        if self.index.work_of(item).is_empty() || !self.costed_here(item) {
            return;
        }
        let record = self.sources.study.get(item);
        let name = record.and_then(|r| r.text(Field::Name)).unwrap_or("?").to_owned();
        let address = self.item_address(item);
        let says = format!("{name} is bought or costed as a whole, so the operations recorded on it add nothing to its price");
        let diag = Diag::error("costed-twice", says).at(Place::address(address));
        self.problem(diag.hint("record what is worked on after buying as an item of its own, made, with the bought one in it"));
    }

    /// What an item states that would cost it by itself.
    fn own_cost_of(&self, item: Id) -> Option<&'static str> {
        let record = self.sources.study.get(item)?;
        let used = |q: &Id| self.sources.study.get(*q).and_then(|r| r.text(Field::State)) == Some("used");
        if !self.index.operations(item).is_empty() {
            Some("operations of its own")
        } else if self.quotes(item).iter().any(used) {
            Some("a quote in use")
        } else if self.index.of(item, "price").next().is_some() {
            Some("a price of its own")
        } else {
            record.text(Field::Calculation).map(|_| "a purchase calculation")
        }
    }
}
