//! `tare history`, `tare undo`, `tare redo`.

use super::{Context, Outcome, Written};
use crate::output::Output;
use crate::table::Table;
use serde_json::json;
use tare_app::{Recorded, Workspace};

/// What was done to the study, newest last
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare history\n  tare history --last 10\n  tare history --json")]
pub(crate) struct Args {
    /// Show only so many entries, the newest
    #[arg(long, value_name = "N")]
    last: Option<usize>,
}

/// Take an entry back: the last one, or the one of a number
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare undo\n  tare undo 7\n\nThe entry stays in the history; a new one turns its edits round. What came since and touches the same\nfields is a conflict: both values are shown and nothing is changed."
)]
pub(crate) struct UndoArgs {
    /// Number of the entry (see `tare history`)
    number: Option<u64>,
}

/// Bring an undone entry back
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare redo          the entry undone last\n  tare redo 7        the entry of that number, see `tare history`"
)]
pub(crate) struct RedoArgs {
    /// Number of the entry that was undone
    number: Option<u64>,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let workspace = Workspace::open(&context.folder(), false).map_err(|d| vec![d])?;
    let (info, loaded) = context.document(&workspace)?;
    let rows = workspace.history(loaded.document.id).map_err(|d| vec![d])?;
    // a release that does not read is no reason to hide the journal
    let releases = workspace.releases(info.id).unwrap_or_else(|diag| {
        output.messages(&[diag.as_warning()]);
        Vec::new()
    });
    let shown = &rows[rows.len().saturating_sub(args.last.unwrap_or(rows.len()))..];
    if output.json {
        let released: Vec<_> =
            releases.iter().map(|r| json!({ "number": r.number, "entry": r.frozen.entry, "says": r.says })).collect();
        output.json(&json!({ "study": info.name, "entries": shown, "releases": released }));
        return Ok(true);
    }
    let mut table = Table::new(&[">no", "time", "~author", "~says", ">edits", "state"]);
    for row in shown {
        let released = releases.iter().filter(|r| r.frozen.entry == row.number).map(|r| format!("release {}", r.number));
        let state: Vec<String> = row.undone.then(|| "undone".to_owned()).into_iter().chain(released).collect();
        table.row([
            row.number.to_string(),
            row.time.clone(),
            row.author.clone(),
            row.says.clone(),
            row.edits.to_string(),
            state.join(", "),
        ]);
    }
    table.print(output);
    Ok(true)
}

pub(crate) fn undo(args: &UndoArgs, context: &Context, output: &mut Output) -> Outcome {
    let session = context.session(true, output)?;
    let (written, mut loaded) = context.document_to_write(&session.workspace)?;
    let done = session.workspace.undo(&mut loaded, args.number, &context.author)?;
    print_entry(&done, &written, output);
    Ok(true)
}

pub(crate) fn redo(args: &RedoArgs, context: &Context, output: &mut Output) -> Outcome {
    let session = context.session(true, output)?;
    let (written, mut loaded) = context.document_to_write(&session.workspace)?;
    let done = session.workspace.redo(&mut loaded, args.number, &context.author)?;
    print_entry(&done, &written, output);
    Ok(true)
}

/// What was recorded, and where, in one line.
pub(crate) fn print_entry(entry: &Recorded, written: &Written, output: &Output) {
    if output.json {
        let (study, edits) = (&written.info.name, entry.edits.len());
        output.json(&json!({ "ok": true, "study": study, "entry": entry.number, "says": entry.says, "edits": edits }));
    } else {
        output.line(format!("{}  {}{}", entry.number, entry.says, written.place()));
    }
}
