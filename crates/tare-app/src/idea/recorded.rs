//! Ideas a study holds.

use super::{Idea, sealed};
use crate::address::Addresses;
use crate::clock;
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Change, Document, Edit, Field, FieldValue, Id, Kind, Record};

/// A new idea as a person writes it.
#[derive(Clone, Debug, Default)]
pub struct NewIdea {
    /// Its name.
    pub name: String,
    /// The reason.
    pub says: String,
    /// Its edits, one line each.
    pub edits: Vec<String>,
    /// Its one-off cost, such as `20000 .. 35000 EUR`.
    pub one_off: Option<String>,
    /// low, medium or high.
    pub risk: Option<String>,
    /// Ideas it needs, by label or name.
    pub needs: Vec<String>,
    /// Ideas it excludes, by label or name.
    pub against: Vec<String>,
    /// Where it comes from.
    pub source: String,
    /// Who had it.
    pub who: String,
}

/// The ideas a study holds, in order.
pub fn recorded(document: &Document) -> Vec<Idea> {
    let addresses = Addresses::new(document);
    document.of_kind(None, Kind::Idea).map(|record| of_record(document, &addresses, record)).collect()
}

fn of_record(document: &Document, addresses: &Addresses<'_>, record: &Record) -> Idea {
    let (edits, problems) = match record.text(Field::Edits).map(sealed::from_text).transpose() {
        Ok(edits) => (edits.unwrap_or_default(), Vec::new()),
        Err(problem) => (Vec::new(), vec![problem.at(Place::address(addresses.of(record.id)))]),
    };
    let label = record.text(Field::Label).or(record.text(Field::Name)).unwrap_or("idea").to_owned();
    let place = match record.all_refers(Field::Parts) {
        [] => touched(document, addresses, &edits),
        parts => named(addresses, parts),
    };
    let values = document.of_kind(Some(record.id), Kind::Value).cloned().collect();
    Idea {
        id_of_costs: vec![record.id],
        record: record.clone(),
        values,
        label,
        edits,
        recorded: true,
        advice: String::new(),
        place,
        problems,
    }
}

fn named(addresses: &Addresses<'_>, ids: &[Id]) -> String {
    let each: Vec<String> = ids.iter().take(4).map(|id| addresses.of(*id)).collect();
    let more = if ids.len() > each.len() { format!(" and {} more", ids.len() - each.len()) } else { String::new() };
    format!("{}{more}", each.join(", "))
}

/// What edits are about, by the addresses of the records they change.
fn touched(document: &Document, addresses: &Addresses<'_>, edits: &[Edit]) -> String {
    let mut subjects: Vec<Id> = Vec::new();
    for edit in edits {
        let ids: Vec<Id> = match edit {
            Edit::Set(set) => vec![set.id],
            Edit::Move { id, .. } => vec![*id],
            Edit::Add { records, .. } => records.iter().filter_map(|r| r.parent).collect(),
            Edit::Remove { records, .. } => records.first().map(|r| r.id).into_iter().collect(),
        };
        for id in ids {
            let subject = document.get(id).map(|r| if r.kind == Kind::Value { r.parent.unwrap_or(id) } else { id });
            subjects.extend(subject.filter(|id| !subjects.contains(id)));
        }
    }
    named(addresses, &subjects)
}

/// The changes that record a new idea, and what its entry says.
///
/// # Errors
/// Every problem of its edits, its one-off cost, or of the ideas it names.
pub fn new_idea(document: &Document, library: &Library, head: u64, new: &NewIdea) -> Result<(Vec<Change>, String), Vec<Diag>> {
    let mut problems = Vec::new();
    if new.name.trim().is_empty() {
        problems.push(Diag::error("field-missing", "an idea needs a name"));
    }
    let edits = sealed::seal(document, library, &new.edits).unwrap_or_else(|found| {
        problems.extend(found);
        Vec::new()
    });
    let ideas = recorded(document);
    let mut find = |text: &String| {
        let found = ideas.iter().find(|idea| idea.label.eq_ignore_ascii_case(text) || idea.name() == text);
        if found.is_none() {
            let known = ideas.iter().map(|idea| idea.label.as_str());
            problems.push(Diag::error("idea-unknown", format!("there is no idea `{text}`")).did_you_mean(text, known));
        }
        found.map(Idea::id)
    };
    let needs: Vec<Id> = new.needs.iter().filter_map(&mut find).collect();
    let against: Vec<Id> = new.against.iter().filter_map(&mut find).collect();
    let label = next_label(&ideas);
    let mut record = Record::new(clock::new_id(), Kind::Idea).ordered(document.last_order(None));
    record = record.with_text(Field::Name, new.name.trim()).with_text(Field::Label, label.clone());
    record = record.with_text(Field::Edits, sealed::to_text(&edits)).with(Field::Base, FieldValue::Number(head as f64));
    record = record.with_text(Field::State, "open");
    let texts = [(Field::Says, &new.says), (Field::Source, &new.source), (Field::Who, &new.who)];
    for (field, text) in texts.into_iter().filter(|(_, text)| !text.trim().is_empty()) {
        record = record.with_text(field, text.trim());
    }
    if let Some(risk) = &new.risk {
        record = record.with_text(Field::Risk, risk.clone());
    }
    for (field, ids) in [(Field::Needs, needs), (Field::Against, against)] {
        if !ids.is_empty() {
            record = record.with(field, FieldValue::Refs(ids));
        }
    }
    let id = record.id;
    let mut changes = vec![Change::Add { record }];
    if let Some(text) = &new.one_off {
        match one_off(library, id, text, &new.source) {
            Ok(value) => changes.push(Change::Add { record: value }),
            Err(found) => problems.extend(found),
        }
    }
    if problems.is_empty() { Ok((changes, format!("idea {label}: {}", new.name.trim()))) } else { Err(problems) }
}

/// The value that holds an idea's one-off cost.
pub(crate) fn one_off(library: &Library, idea: Id, text: &str, source: &str) -> Result<Record, Vec<Diag>> {
    use crate::check_value::{Subject, check_value};
    let found = check_value(library, &Subject { kind: Kind::Idea, calculation: None }, "one_off", text);
    let problems: Vec<Diag> = found.into_iter().map(|(diag, _)| diag.at(Place::address("one_off"))).collect();
    if !problems.is_empty() {
        return Err(problems);
    }
    let id = crate::text_form::id_of("one-off", &idea.to_string());
    let value = Record::new(id, Kind::Value).under(idea).ordered(tare_model::first_order());
    let value = value.with_text(Field::Quantity, "one_off").with_text(Field::Text, text).with_text(Field::Evidence, "assumed");
    Ok(if source.is_empty() { value } else { value.with_text(Field::Source, source) })
}

/// A label no idea has yet.
pub(crate) fn next_label(ideas: &[Idea]) -> String {
    let most = ideas.iter().filter_map(|idea| idea.label.strip_prefix('I')?.parse::<u32>().ok()).max().unwrap_or(0);
    format!("I{}", most + 1)
}

/// The changes that put ideas into a state; those that only a rule knows come to stand in the study.
pub(crate) fn states(document: &Document, ideas: &[Idea], state: &str, says: Option<&str>) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut standing = recorded(document);
    for idea in ideas {
        if idea.recorded {
            let set = |field, text: &str| Change::Set { id: idea.id(), field, to: Some(FieldValue::Text(text.to_owned())) };
            changes.push(set(Field::State, state));
            changes.extend(says.map(|says| set(Field::Reason, says)));
            continue;
        }
        let label = next_label(&standing);
        let mut record = idea.record.clone().ordered(document.last_order(None)).with_text(Field::Label, label.clone());
        record = record.with_text(Field::State, state).with_text(Field::Edits, sealed::to_text(&idea.edits));
        if let Some(says) = says {
            record = record.with_text(Field::Reason, says);
        }
        changes.push(Change::Add { record });
        changes.extend(idea.values.iter().map(|value| Change::Add { record: value.clone() }));
        standing.push(Idea { label, ..idea.clone() });
    }
    changes
}
