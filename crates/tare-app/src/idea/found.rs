//! Ideas that rules of the library find in a study.

use super::recorded::{next_label, one_off, recorded, states};
use super::{Idea, sealed};
use crate::text_form::id_of;
use crate::view::SafetyRow;
use tare_analysis::{Facts, Hit, Rules, Schema};
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Change, Document, Field, FieldValue, Id, Kind, Record};
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
                // named twice is meant once
                Some(idea) if found.iter().any(|known: &Idea| known.id() == idea.id()) => {}
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

/// Whether ideas may be carried out together: none excludes another, and what they need is among them (or taken).
///
/// # Errors
/// One message for each pair that does not go together, each need that is not met, and each idea without edits.
pub fn go_together(document: &Document, ideas: &[Idea]) -> Result<(), Vec<Diag>> {
    let label = |id: Id| {
        let known = ideas.iter().find(|idea| idea.id() == id).map(|idea| idea.label.clone());
        known.or_else(|| document.get(id)?.text(Field::Label).map(str::to_owned)).unwrap_or_else(|| id.to_string())
    };
    let mut problems = Vec::new();
    for idea in ideas {
        let place = Place::address(format!("idea {}", idea.label));
        if idea.edits.is_empty() {
            let diag =
                Diag::error("idea-empty", format!("the idea {} has no edits that can be made", idea.label)).at(place.clone());
            problems.push(diag.hint("`tare idea show` says what it lacks"));
        }
        if idea.record.text(Field::State) == Some("dropped") {
            problems.push(Diag::error("idea-dropped", format!("the idea {} was dropped", idea.label)).at(place.clone()));
        }
        for other in idea.record.all_refers(Field::Against).iter().filter(|id| ideas.iter().any(|i| i.id() == **id)) {
            let says = format!("{} and {} exclude one another", idea.label, label(*other));
            problems.push(Diag::error("ideas-exclude", says).at(place.clone()));
        }
        let taken = |id: &Id| document.get(*id).is_some_and(|r| r.text(Field::State) == Some("taken"));
        let missing = |id: &&Id| !ideas.iter().any(|i| i.id() == **id) && !taken(id);
        for needed in idea.record.all_refers(Field::Needs).iter().filter(missing) {
            let says = format!("{} needs {}", idea.label, label(*needed));
            problems.push(Diag::error("idea-needs", says).at(place.clone()).hint("name both"));
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(problems) }
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
    Ok((states(document, ideas, "dropped", Some(says.trim())), entry))
}

/// The changes that record ideas of rules in the study as its own, open; those it holds already are left. With what the entry says.
pub fn kept(document: &Document, ideas: &[Idea]) -> (Vec<Change>, String) {
    let new: Vec<Idea> = ideas.iter().filter(|idea| !idea.recorded).cloned().collect();
    let mut label = next_label(&recorded(document));
    let mut named = Vec::new();
    for idea in &new {
        named.push(format!("{label} ({})", idea.label));
        let number = label.trim_start_matches('I').parse::<u32>().unwrap_or(0) + 1;
        label = format!("I{number}");
    }
    (states(document, &new, "open", None), format!("ideas kept: {}", named.join(", ")))
}

/// What people recorded and what rules find. A rule's hit that somebody has recorded, taken or dropped stands as that record.
pub fn found(document: &Document, study: &Study, library: &Library) -> Findings {
    let own = recorded(document);
    let facts = Facts::of(document, study, library);
    let schema = Schema::of(library).with([&facts]);
    let (rules, problems) = Rules::read(library.opportunities(), &schema);
    let mut findings = Findings { problems, ..Findings::default() };
    let met = |hit: &Hit| {
        let subject = hit.subject.to_string();
        own.iter()
            .any(|idea| idea.record.text(Field::Rule) == Some(&hit.rule) && idea.record.text(Field::Subject) == Some(&subject))
    };
    let mut by_rule = Vec::new();
    for hit in rules.hits(&facts) {
        if met(&hit) {
            continue;
        }
        if hit.safety {
            findings.safety.push(safety(study, &hit));
        } else {
            by_rule.push(of_hit(document, library, hit));
        }
    }
    let (dropped, standing): (Vec<Idea>, Vec<Idea>) =
        own.into_iter().partition(|idea| idea.record.text(Field::State) == Some("dropped"));
    findings.dropped = dropped;
    findings.ideas = standing;
    findings.ideas.extend(by_rule);
    findings
}

/// The rule and where it hits, without blanks, as labels are typed.
fn label_of(hit: &Hit) -> String {
    format!("{}:{}", hit.rule, hit.address.trim_start_matches("item ").replace(' ', "-"))
}

fn safety(study: &Study, hit: &Hit) -> SafetyRow {
    SafetyRow {
        label: label_of(hit),
        name: hit.title.clone(),
        place: hit.address.clone(),
        part: study.parts.iter().find(|part| hit.parts.contains(&part.id)).map(|part| part.label.clone()),
        says: hit.says.clone(),
        advice: hit.advice.clone(),
        source: hit.source.clone(),
    }
}

fn of_hit(document: &Document, library: &Library, hit: Hit) -> Idea {
    let id = id_of(&format!("rule/{}", hit.rule), &hit.subject.to_string());
    let mut problems = Vec::new();
    if !hit.lacking.is_empty() {
        let says = format!("the study does not say what its edits need: {}", hit.lacking.join("; "));
        problems.push(Diag::warning("idea-lacks", says));
    }
    let edits = sealed::seal(document, library, &hit.commands).map(|edits| made_alike(edits, id)).unwrap_or_else(|found| {
        problems.extend(found);
        Vec::new()
    });
    let mut record = Record::new(id, Kind::Idea).ordered(tare_model::first_order());
    record = record.with_text(Field::Name, hit.title.clone()).with_text(Field::Says, hit.says.clone());
    record = record.with_text(Field::State, "open").with_text(Field::Group, hit.kind.clone());
    record = record.with_text(Field::Rule, hit.rule.clone()).with_text(Field::Subject, hit.subject.to_string());
    record = record.with_text(Field::Source, hit.source.clone());
    if let Some(risk) = hit.risk {
        record = record.with_text(Field::Risk, risk.word());
    }
    let parts: Vec<Id> = hit.parts.iter().copied().filter(|part| document.get(*part).is_some()).collect();
    if !parts.is_empty() {
        record = record.with(Field::Parts, FieldValue::Refs(parts));
    }
    let cost = hit.one_off.as_ref().map(|cost| one_off(library, id, &cost.text, &cost.source));
    let values = match cost {
        Some(Ok(value)) => vec![value],
        Some(Err(found)) => {
            problems.extend(found);
            Vec::new()
        }
        None => Vec::new(),
    };
    Idea {
        id_of_costs: vec![id],
        label: label_of(&hit),
        place: hit.address.clone(),
        record,
        values,
        edits,
        recorded: false,
        advice: hit.advice.clone(),
        problems,
    }
}

/// Records that a rule's edits add get the same identifiers each time the rule is asked, so that their random numbers stay and an idea that was
/// carried out is known again.
fn made_alike(edits: Vec<tare_model::Edit>, idea: Id) -> Vec<tare_model::Edit> {
    let mut new: Vec<Id> = Vec::new();
    for edit in &edits {
        if let tare_model::Edit::Add { records, .. } = edit {
            new.extend(records.iter().map(|record| record.id));
        }
    }
    if new.is_empty() {
        return edits;
    }
    let mut text = sealed::to_text(&edits);
    for (number, id) in new.iter().enumerate() {
        text = text.replace(&id.to_string(), &id_of(&idea.to_string(), &number.to_string()).to_string());
    }
    sealed::from_text(&text).unwrap_or(edits)
}
