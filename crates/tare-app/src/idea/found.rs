//! Ideas that rules of the library find in a study.

use super::{Idea, recorded::recorded};
use crate::view::SafetyRow;
use crate::text_form::id_of;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Change, Document, Field, Kind, Record};
use tare_study::Study;

/// What is proposed for a study.
#[derive(Clone, Debug, Default)]
pub struct Findings {
    /// Safety findings.
    pub safety: Vec<SafetyRow>,
    /// Ideas that are open or taken: recorded ones first, then those of rules.
    pub ideas: Vec<Idea>,
    /// Ideas that were dropped, with a reason.
    pub dropped: Vec<Idea>,
    /// What is wrong in rules.
    pub problems: Vec<Diag>,
}

impl Findings {
    /// The ideas of these labels (or names).
    ///
    /// # Errors
    /// One message for each that there is not, with the nearest.
    pub fn named(&self, labels: &[String]) -> Result<Vec<Idea>, Vec<Diag>> {
        let all = || self.ideas.iter().chain(&self.dropped);
        let (mut found, mut problems) = (Vec::new(), Vec::new());
        for label in labels {
            match all().find(|idea| idea.label.eq_ignore_ascii_case(label) || idea.name() == label) {
                Some(idea) => found.push(idea.clone()),
                None => problems.push(
                    Diag::error("idea-unknown", format!("there is no idea `{label}`"))
                        .did_you_mean(label, all().map(|idea| idea.label.as_str()))
                        .hint("`tare ideas` lists them"),
                ),
            }
        }
        if problems.is_empty() { Ok(found) } else { Err(problems) }
    }
}

/// What several ideas tried together are called.
pub const TOGETHER: &str = "together";

/// Several ideas as one, for trying them together: edits in order, one-off costs of all.
pub fn together(ideas: &[Idea]) -> Idea {
    let labels: Vec<&str> = ideas.iter().map(|idea| idea.label.as_str()).collect();
    let record = Record::new(id_of("ideas", TOGETHER), Kind::Idea).with_text(Field::Name, TOGETHER);
    let record = record.with_text(Field::Says, labels.join(", "));
    Idea {
        id_of_costs: ideas.iter().map(Idea::id).collect(),
        record,
        values: Vec::new(),
        label: TOGETHER.to_owned(),
        edits: ideas.iter().flat_map(|idea| idea.edits.iter().cloned()).collect(),
        recorded: false,
        advice: String::new(),
        place: String::new(),
        problems: Vec::new(),
    }
}

/// The changes that drop ideas with a reason, and what the entry says.
///
/// # Errors
/// No reason is given.
pub fn dropped(document: &Document, ideas: &[Idea], says: &str) -> Result<(Vec<Change>, String), Vec<Diag>> {
    if says.trim().is_empty() {
        return Err(vec![Diag::error("field-missing", "an idea is dropped with a reason").hint("say it with `--says`")]);
    }
    let labels: Vec<&str> = ideas.iter().map(|idea| idea.label.as_str()).collect();
    let entry = format!("idea {} dropped: {}", labels.join(", "), says.trim());
    Ok((super::recorded::states(document, ideas, "dropped", Some(says.trim())), entry))
}

/// What people recorded and what rules find.
pub fn found(document: &Document, _study: &Study, _library: &Library) -> Findings {
    let (dropped, ideas): (Vec<Idea>, Vec<Idea>) =
        recorded(document).into_iter().partition(|idea| idea.record.text(Field::State) == Some("dropped"));
    Findings { safety: Vec::new(), ideas, dropped, problems: Vec::new() }
}
