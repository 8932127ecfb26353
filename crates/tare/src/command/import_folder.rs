//! `tare import` of a study folder: its edits shown first, then taken as one entry.

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Progress;
use serde_json::json;
use std::path::Path;
use tare_app::Recorded;
use tare_app::folder::{FolderEdit, FolderPlan, accept, disk, plan};
use tare_app::idea::EditState;
use tare_diag::{Diag, Place};

/// Edits that are shown; `--json` gives all.
const SHOWN: usize = 60;

pub(crate) fn run(path: &Path, yes: bool, remove_gone: bool, context: &Context, output: &mut Output) -> Outcome {
    let _progress = Progress::of("reading the folder");
    let files = disk::load(path)?;
    super::new::show_lines(&files, output);
    let session = context.session(yes, output)?;
    let plan = plan(&session, &files, remove_gone)?;
    if let Some(named) = context.study_named().filter(|named| *named != plan.info.name) {
        let says = format!("the folder is of the study `{}`, not of `{named}`", plan.info.name);
        return Err(vec![Diag::error("folder-stranger", says).at(Place::File(path.display().to_string()))]);
    }
    let name = path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    let wrong: Vec<Diag> = plan.conflicts.iter().chain(&plan.problems).cloned().collect();
    if !output.json {
        show(&name, &plan, output);
        output.messages(&plan.notes);
    }
    if !wrong.is_empty() {
        if output.json {
            output.json(&json!({ "ok": false, "plan": as_json(&plan), "problems": tare_app::view::problem_rows(&wrong) }));
        } else {
            output.line("Nothing was taken.");
        }
        output.messages(&wrong);
        return Ok(false);
    }
    let shown = as_json(&plan);
    let again = format!("Before editing the folder further, write it again: `tare export folder {}`.", path.display());
    let recorded = if yes { accept(&session.workspace, plan, &name, &context.author)? } else { None };
    if output.json {
        output.json(&json!({ "ok": true, "entry": recorded.as_ref().map(|r| r.number), "plan": shown }));
    } else {
        end(recorded.as_ref(), yes, &shown, &again, output);
    }
    Ok(true)
}

fn show(name: &str, plan: &FolderPlan, output: &Output) {
    let now = plan.info.head;
    let since = if now == plan.entry { String::new() } else { format!("; the study is at entry {now}") };
    output.wrapped("", &format!("{name}: {} as of entry {}{since}", plan.info.name, plan.entry));
    output.line("");
    for edit in plan.edits.iter().filter(|edit| edit.state == EditState::Fits).take(SHOWN) {
        line(edit, "", output);
    }
    let fits = plan.count(EditState::Fits);
    if fits > SHOWN {
        output.line(format!("... and {} more; `--json` lists them all", fits - SHOWN));
    }
    for edit in plan.edits.iter().filter(|edit| matches!(edit.state, EditState::Conflicts | EditState::Gone)).take(SHOWN) {
        line(edit, edit.state.word(), output);
    }
    let conflicts = plan.count(EditState::Conflicts) + plan.count(EditState::Gone);
    output.line(format!("Edits: {fits} fit, {} are there already, {conflicts} conflict.", plan.count(EditState::AlreadySo)));
    if plan.left > 0 {
        let says = format!("{} records have no row in the folder and stay; `--remove-gone` removes them", plan.left);
        output.wrapped("", &says);
    }
}

fn line(edit: &FolderEdit, state: &str, output: &Output) {
    let state = if state.is_empty() { String::new() } else { format!(" ({state})") };
    output.wrapped(&format!("  {:<8}", edit.what), &format!("{}{state}: {}", edit.address, edit.says));
}

fn end(recorded: Option<&Recorded>, yes: bool, plan: &serde_json::Value, again: &str, output: &Output) {
    match recorded {
        Some(entry) => {
            let number = entry.number;
            output.wrapped("", &format!("Entry {number}: {}. `tare undo {number}` takes it back.", entry.says));
            output.wrapped("", again);
        }
        None if yes || plan["fits"] == 0 => output.line("Nothing differs; nothing was changed."),
        None => output.line("Nothing was taken; add --yes to take it."),
    }
}

fn as_json(plan: &FolderPlan) -> serde_json::Value {
    json!({
        "study": plan.info.name, "entry": plan.entry, "head": plan.info.head, "known": plan.known, "fits": plan.count(EditState::Fits),
        "already": plan.count(EditState::AlreadySo), "left": plan.left, "edits": plan.edits,
        "notes": tare_app::view::problem_rows(&plan.notes),
    })
}
