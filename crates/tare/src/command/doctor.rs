//! `tare doctor`: versions, paths and state, for a report of trouble.

use super::{Context, Outcome};
use crate::output::Output;
use serde_json::json;
use tare_app::{doctor, view};

/// Look over program, library and workspace
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare doctor\n  tare doctor --workspace pack --json")]
pub(crate) struct Args {}

pub(crate) fn run(_: &Args, context: &Context, output: &mut Output) -> Outcome {
    for (name, text) in tare_app::own_files(&context.folder()).unwrap_or_default() {
        output.knows(&format!("library/{name}"), &text);
    }
    let (checkup, advice) = doctor::doctor(&context.folder());
    if output.json {
        output.json(&json!({ "checkup": checkup, "problems": view::problem_rows(&advice) }));
        return Ok(checkup.well);
    }
    let [calculations, materials, quantities, books] = checkup.library;
    output.line(format!("program    {}", checkup.program));
    output.line(format!("library    {calculations} calculations, {materials} materials, {quantities} quantities, {books} rate books; {} own files", checkup.own_files));
    match &checkup.workspace {
        None => output.line(format!("workspace  none at {}", context.folder().display())),
        Some(found) => {
            output.line(format!("workspace  {}", found.folder.display()));
            output.line(format!(
                "database   {} bytes, form {} of {}, {} (engine {})",
                found.database_bytes, found.form, found.known_form, found.journal_mode, found.sqlite
            ));
            let kinds: Vec<String> = found
                .counts
                .documents
                .iter()
                .map(|(kind, n)| match (*n, kind.as_str()) {
                    (1, kind) => format!("1 {kind}"),
                    (n, "study") => format!("{n} studies"),
                    (n, kind) => format!("{n} {kind}s"),
                })
                .collect();
            output.line(format!(
                "holds      {}; {} entries, {} texts, {} photos",
                kinds.join(", "),
                found.counts.entries,
                found.counts.texts,
                found.counts.photos
            ));
        }
    }
    output.line(if checkup.well { "nothing wrong was found" } else { "see the messages" });
    output.messages(&advice);
    Ok(checkup.well)
}
