//! Ideas: edits not yet made. Recorded ones stand in the study; rules of the library find more.
//!
//! [`Idea`] is one of either; [`found`] asks the rules; [`standing`] says how its edits fit the study as it is now; [`evaluate`] computes what ideas
//! change; [`take`] makes a variant of the study with them, which stays tied to its parent and follows it by [`rebase`].

mod evaluate;
mod found;
mod recorded;
pub(crate) mod sealed;
mod take;
pub(crate) mod words;

pub use evaluate::{Evaluated, Evaluation, Found, SetAsked, detail, evaluate};
pub use found::{Findings, TOGETHER, dropped, found, go_together, kept, together};
pub use recorded::{NewIdea, new_idea, recorded};
pub use sealed::{EditState, Standing, applied, read, seal, standing};
pub use take::{Taken, rebase, take};

use tare_model::{Edit, Id, Record};

/// A proposed change.
#[derive(Clone, Debug)]
pub struct Idea {
    /// Its record: that of the study, or one made from a rule.
    pub record: Record,
    /// What stands under the record: its one-off cost.
    pub values: Vec<Record>,
    /// What it is called: `I3`, or the rule and where it applies.
    pub label: String,
    /// The records whose one-off costs it takes: its own, or those of the ideas it is made of.
    pub id_of_costs: Vec<Id>,
    /// Its edits, sealed.
    pub edits: Vec<Edit>,
    /// Whether the study holds it.
    pub recorded: bool,
    /// What must be settled first, where a rule says so.
    pub advice: String,
    /// What it is about, by address.
    pub place: String,
    /// Why it cannot be carried out as its rule wants, if it cannot.
    pub problems: Vec<tare_diag::Diag>,
}

impl Idea {
    /// Its identifier.
    pub fn id(&self) -> Id {
        self.record.id
    }

    /// Its name.
    pub fn name(&self) -> &str {
        self.record.text(tare_model::Field::Name).unwrap_or_default()
    }
}
