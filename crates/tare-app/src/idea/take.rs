//! Taking ideas: a variant of the study with them, tied to its parent; and following the parent when it has moved.

use super::{EditState, Idea, sealed};
use crate::clock;
use crate::workspace::{DocumentInfo, Loaded, Recorded, Stamp, Workspace, read_edits};
use std::collections::BTreeSet;
use tare_diag::{Diag, Place};
use tare_model::{Change, Document, DocumentKind, Edit, Field, FieldValue, Id, Kind, Record};
use tare_store::Journals;

/// A variant that was made.
#[derive(Clone, Debug)]
pub struct Taken {
    /// The new study.
    pub info: DocumentInfo,
    /// What its second entry says.
    pub says: String,
    /// How many edits the ideas made.
    pub edits: usize,
}

/// Makes a variant: a study of its own that begins as its parent is and goes on with the ideas, one entry each.
///
/// # Errors
/// A name that is taken, or ideas whose edits do not fit (together); nothing is made then.
pub fn take(
    workspace: &Workspace,
    parent: (&DocumentInfo, &mut Loaded),
    ideas: &[Idea],
    name: &str,
    author: &str,
) -> Result<Taken, Vec<Diag>> {
    let (info, loaded) = parent;
    super::go_together(&loaded.document, ideas)?;
    // what marks them as taken is seen to hold before anything is made
    loaded.document.clone().change_all(&super::recorded::states(&loaded.document, ideas, "taken", None))?;
    let mut trial = loaded.document.clone();
    for idea in ideas {
        sealed::carried_out(&mut trial, &idea.edits).map_err(|problem| {
            vec![problem.hint(format!("the idea {} was written for another state of the study", idea.label))]
        })?;
    }
    let id = clock::new_id();
    let mut document = Document::new(id, DocumentKind::Study);
    let records = in_order(&loaded.document);
    let mut edits = vec![Edit::Add { records, references: Vec::new() }];
    document.apply(&edits[0]).map_err(|c| vec![crate::conflict_diag(&document, &c)])?;
    if let Some(head) = loaded.document.of_kind(None, Kind::Study).next() {
        let set = |field, to| Change::Set { id: head.id, field, to: Some(to) };
        edits.extend(document.change_all(&[
            set(Field::Name, FieldValue::Text(name.to_owned())),
            set(Field::VariantOf, FieldValue::Text(info.id.to_string())),
            set(Field::Base, FieldValue::Number(loaded.head as f64)),
        ])?);
    }
    // the variant holds them as taken, as its parent will
    let own: Vec<Idea> = ideas.iter().filter(|idea| idea.recorded).cloned().collect();
    edits.extend(document.change_all(&super::recorded::states(&document, &own, "taken", None))?);
    workspace.create_document(id, DocumentKind::Study, name).map_err(|d| vec![d])?;
    let mut variant = Loaded { document, head: 0 };
    let begun = Stamp { author: author.to_owned(), says: format!("variant of {} as of entry {}", info.name, loaded.head) };
    workspace.commit(&mut variant, edits, &begun, None, clock::new_id())?;
    let (mut says, mut made) = (String::new(), 0);
    for idea in ideas {
        let fits = sealed::carried_out(&mut variant.document, &idea.edits).map_err(|d| vec![d])?;
        made += fits.len();
        says = format!("idea {}: {}", idea.label, idea.name());
        let stamp = Stamp { author: author.to_owned(), says: says.clone() };
        workspace.commit_idea(&mut variant, fits, &stamp, idea.id())?;
    }
    mark_taken(workspace, loaded, ideas, name, author)?;
    let info = DocumentInfo { id, kind: DocumentKind::Study, name: name.to_owned(), head: variant.head };
    Ok(Taken { info, says, edits: made })
}

/// Recorded ideas are marked as taken in the parent; those of rules are recorded there as taken.
fn mark_taken(workspace: &Workspace, loaded: &mut Loaded, ideas: &[Idea], name: &str, author: &str) -> Result<(), Vec<Diag>> {
    let changes = super::recorded::states(&loaded.document, ideas, "taken", None);
    let labels: Vec<&str> = ideas.iter().map(|idea| idea.label.as_str()).collect();
    let stamp = Stamp { author: author.to_owned(), says: format!("taken into {name}: {}", labels.join(", ")) };
    workspace.record(loaded, &changes, &stamp).map(|_| ())
}

/// The records of a document, parents before children, each as it stands.
fn in_order(document: &Document) -> Vec<Record> {
    let tops: Vec<Id> = document.children(None).map(|r| r.id).collect();
    tops.into_iter().flat_map(|top| document.subtree(top)).filter_map(|id| document.get(id).cloned()).collect()
}

/// Lets a variant follow its parent: the parent's entries since the variant began (or followed last) are made in it too.
///
/// # Errors
/// It is no variant, its parent is gone, or an edit of the parent meets something else in the variant: all such are told with both values, and nothing
/// is changed.
pub fn rebase(workspace: &Workspace, loaded: &mut Loaded, author: &str) -> Result<Option<Recorded>, Vec<Diag>> {
    let head = loaded.document.of_kind(None, Kind::Study).next().map(|r| (r.id, r.clone()));
    let named = head.as_ref().and_then(|(_, r)| Some((r.text(Field::VariantOf)?.to_owned(), r.number(Field::Base)? as u64)));
    let (Some((study, _)), Some((parent, base))) = (head, named) else {
        let diag = Diag::error("no-variant", "the study is no variant of another, so there is nothing to follow");
        return Err(vec![diag.hint("`tare idea take` makes variants")]);
    };
    let known = workspace.documents().map_err(|d| vec![d])?;
    let Some(parent) = known.into_iter().find(|d| d.id.to_string() == parent) else {
        return Err(vec![Diag::error("parent-gone", "the study this one is a variant of is not in the workspace")]);
    };
    if parent.head <= base {
        return Ok(None);
    }
    let entries = workspace.store.since(parent.id.0, base).map_err(|e| vec![e.diag()])?;
    let edits = entries.iter().map(|entry| read_edits(entry).map_err(|d| vec![d])).collect::<Result<Vec<_>, _>>()?;
    let own = of_the_parent_alone(&workspace.load(&parent).map_err(|d| vec![d])?.document, edits.iter().flatten());
    let (mut trial, mut made, mut problems) = (loaded.document.clone(), Vec::new(), Vec::new());
    for (entry, edits) in entries.iter().zip(edits) {
        for edit in edits {
            if concerns_the_parent_alone(&edit, study, &own) {
                continue;
            }
            let edit = sealed::beside_ideas(&trial, &edit, |id| own.contains(&id));
            let standing = sealed::standing(&trial, std::slice::from_ref(&edit)).pop();
            match standing {
                Some(s) if s.state == EditState::Fits => {
                    trial.apply(&edit).map_err(|c| vec![crate::conflict_diag(&trial, &c)])?;
                    made.push(edit);
                }
                Some(s) => problems.extend(s.problem.map(|p| {
                    p.with(Place::address(format!("entry {}", entry.sequence)), format!("{} of {}", entry.says, parent.name))
                })),
                None => {}
            }
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let base = Change::Set { id: study, field: Field::Base, to: Some(FieldValue::Number(parent.head as f64)) };
    made.extend(trial.change_all(&[base])?);
    crate::workspace::apply_all(&mut loaded.document, &made).map_err(|d| vec![d])?;
    let many = parent.head - entries.first().map_or(parent.head, |e| e.sequence - 1);
    let says = format!("followed {} to entry {} ({many} entries)", parent.name, parent.head);
    let stamp = Stamp { author: author.to_owned(), says };
    workspace.commit(loaded, made, &stamp, None, clock::new_id()).map(Some)
}

/// Records of the parent's ideas and of texts it holds, with what stands under them: there now, or in one of the entries.
fn of_the_parent_alone<'e>(parent: &Document, edits: impl Iterator<Item = &'e Edit>) -> BTreeSet<Id> {
    let alone = |kind: Kind| matches!(kind, Kind::Idea | Kind::Lock);
    let there = parent.records().filter(|r| alone(r.kind)).flat_map(|r| parent.subtree(r.id));
    let mut own: BTreeSet<Id> = there.collect();
    let passing: Vec<&Record> = edits
        .flat_map(|edit| match edit {
            Edit::Add { records, .. } | Edit::Remove { records, .. } => records.as_slice(),
            _ => &[],
        })
        .collect();
    // a value may be removed before its idea is, so ideas are known first
    own.extend(passing.iter().filter(|record| alone(record.kind)).map(|record| record.id));
    for record in passing {
        if record.parent.is_some_and(|parent| own.contains(&parent)) {
            own.insert(record.id);
        }
    }
    own
}

/// The parent's own name and ties, its ideas, and the texts it holds are not the variant's.
fn concerns_the_parent_alone(edit: &Edit, study: Id, own: &BTreeSet<Id>) -> bool {
    match edit {
        Edit::Set(set) => {
            (set.id == study && matches!(set.field, Field::Name | Field::VariantOf | Field::Base)) || own.contains(&set.id)
        }
        Edit::Add { records, .. } | Edit::Remove { records, .. } => records.first().is_some_and(|r| own.contains(&r.id)),
        Edit::Move { id, .. } => own.contains(id),
    }
}
