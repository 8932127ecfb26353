//! What a rate contains already: a cost that is in the rate is not added again, and that is said.

use crate::builder::{Builder, LeafSpec};
use crate::lines::{Evidence, LineRef, SubjectId};
use std::collections::BTreeSet;
use tare_calc::ParamKind;
use tare_diag::{Diag, Place};
use tare_model::{Document, Field, Kind};

/// Costs that a rate may hold, in the words by which `contains` of a rate or its book names them. Anything else there is for people.
const WORDS: [&str; 7] = ["energy", "floor", "upkeep", "indirect staff", "set-up crew", "perishables", "depreciation"];

/// Consumables that are tools which wear out in use.
const PERISHABLES: [&str; 8] = ["tap", "cutter", "blade", "abrasive", "bit", "nose", "cap", "media"];

/// Whether a consumable of a calculation is a tool that wears out in use.
pub(crate) fn is_perishable(group: &str) -> bool {
    PERISHABLES.contains(&group)
}

/// What a rate holds.
pub(crate) type Held = BTreeSet<&'static str>;

fn words(text: &str) -> impl Iterator<Item = &'static str> {
    let entries: Vec<String> = text.split([';', ',']).map(|e| e.trim().to_lowercase()).collect();
    WORDS.into_iter().filter(move |w| entries.iter().any(|e| e == w))
}

impl Builder<'_> {
    /// What a rate says it contains: itself, or the book it stands in.
    pub(crate) fn contained(&self, rate: LineRef) -> Held {
        let Some(leaf) = self.leaf_behind(rate, 4) else { return Held::new() };
        let leaf = &self.lines.leaves[leaf];
        if let Some(id) = leaf.record {
            if let Some(own) = self.sources.study.get(id).filter(|r| r.kind == Kind::Rate) {
                return words(own.text(Field::Contains).unwrap_or_default()).collect();
            }
            let of = |book: &&Document| {
                let rate = book.get(id)?;
                let whole = book.of_kind(None, Kind::Book).find_map(|b| b.text(Field::Contains));
                let texts = [rate.text(Field::Contains), whole];
                Some(texts.into_iter().flatten().flat_map(words).collect())
            };
            return self.sources.books.iter().find_map(of).unwrap_or_default();
        }
        let subject = &self.lines.subjects[leaf.subject.0 as usize].address;
        let shipped = subject.strip_prefix("rate (").and_then(|s| s.strip_suffix(')')).and_then(|b| self.sources.library.book(b));
        shipped.map(|b| b.contains.iter().filter_map(|c| WORDS.into_iter().find(|w| w == c)).collect()).unwrap_or_default()
    }

    /// The leaf that a line only passes on: by its name alone, or in another currency.
    fn leaf_behind(&self, line: LineRef, depth: usize) -> Option<usize> {
        let (block, at) = match line {
            LineRef::Leaf(leaf) => return Some(leaf as usize),
            LineRef::Line { block, line, .. } => (block, line as usize),
        };
        let template = &self.lines.templates[self.lines.blocks[block as usize].template as usize];
        let formula = template.lowered.lines[at].text.trim();
        let name = if template.key == "roll-ups/exchange" { "amount" } else { formula };
        let passes = |p: &tare_calc::Param| matches!(p.what, ParamKind::Input(_)) && p.name == name && p.element.is_none();
        let param = template.lowered.params.iter().position(passes).filter(|_| depth > 0)?;
        self.leaf_behind(self.lines.argument(block, param as u32), depth - 1)
    }

    /// Says that a cost is in a rate already.
    pub(crate) fn dropped(&mut self, subject: SubjectId, name: &str, what: &str, rate: &str) {
        let address = format!("{}/{name}", self.lines.subjects[subject.0 as usize].address);
        let says = format!("{what} is not added: {rate} contains it");
        let diag = Diag::note("in-the-rate", says).at(Place::address(address));
        self.problem(diag.hint("correct `contains` of the rate or its book if it does not"));
    }

    /// An exact nothing of a dimension, for a cost that is in a rate already.
    pub(crate) fn held_nothing(&mut self, name: &str, unit: &str) -> LineRef {
        let name = format!("{name} in the rate");
        self.shared_leaf("definition", &name.clone(), |subject| LeafSpec {
            subject,
            name,
            quantity: tare_units::Quantity::parse(&format!("0 {unit}")).unwrap_or_else(|_| crate::builder::plain(0.0)),
            word: None,
            evidence: Evidence::Derived,
            source: "definition: the rate says that it contains this".to_owned(),
            record: None,
            shared: true,
        })
    }
}
