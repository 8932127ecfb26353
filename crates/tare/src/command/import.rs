//! `tare import`: a foreign list, or an edited study folder, shown first, then taken as one entry.

use super::{Context, Outcome, Written, count};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::Table;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::PathBuf;
use tare_app::import::{Plan, RatePlan, Request, accept, accept_rates, look, plan, plan_rates, questions, read};
use tare_app::{Recorded, files};
use tare_diag::{Diag, Place};

/// Rows of a list that are shown before it is taken.
const SHOWN: usize = 30;

/// Take a parts list, rate table or quotes from CSV, XLSX, XLS or ODS, or an edited study folder: shown first, taken with --yes
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Shows the table found, how its columns are read, the tree and what was checked; nothing is taken without --yes.
How a list is read is remembered by its titles; the next revision of a list changes only what differs.
One import is one entry: `tare undo` takes it back.

Examples:
  tare import parts.xlsx                      look at it
  tare import parts.xlsx --yes                take it
  tare import parts.csv --under P2 --yes      put the rows under a part
  tare import parts.xlsx --dry-run --json > plan.json   then edit `mapping` and hand it back:
  tare import parts.xlsx --map plan.json --yes
  tare import wages.csv --rates --yes         rates and prices into the study's own rates
  tare import pack                            what was changed in a study folder since it was written")]
pub(crate) struct Args {
    /// The file, or a study folder (packed or not)
    file: PathBuf,
    /// Take it
    #[arg(long)]
    yes: bool,
    /// Only show what would be taken
    #[arg(long, conflicts_with = "yes")]
    dry_run: bool,
    /// How columns are read: the `mapping` of an earlier `--dry-run --json`
    #[arg(long, value_name = "FILE")]
    map: Option<PathBuf>,
    /// Answer to a question, as `id=answer`
    #[arg(long, value_name = "ID=ANSWER")]
    answer: Vec<String>,
    /// Label of the part the rows go under
    #[arg(long, value_name = "LABEL")]
    under: Option<String>,
    /// With a next revision, or a study folder of another history: remove what has no row any more
    #[arg(long)]
    remove_gone: bool,
    /// Take rows whose quantity does not read (their count is then open) instead of refusing the list
    #[arg(long)]
    keep_unknown: bool,
    /// The file is a table of rates or prices
    #[arg(long)]
    rates: bool,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    if tare_app::folder::disk::is_study_folder(&args.file) {
        return from_folder(args, context, output);
    }
    let _progress = Progress::of("reading the list");
    let name = args.file.file_name().map_or_else(|| args.file.display().to_string(), |n| n.to_string_lossy().into_owned());
    let bytes = files::read_bytes(&args.file).map_err(|d| vec![d])?;
    let book = read(&name, &bytes)?;
    if !args.yes && !args.rates && !context.folder().join("workspace.sqlite").exists() {
        let plan = look(&book, &request(args)?)?;
        if output.json {
            output.json(&as_json(&plan));
        } else {
            show(&plan, output);
            output.line("There is no study yet to take it: `tare new NAME` begins one.");
        }
        output.messages(&plan.proposal.warnings);
        output.messages(&questions(&plan.proposal));
        return Ok(true);
    }
    let session = context.session(args.yes, output)?;
    let (written, mut loaded) = if args.yes {
        context.document_to_write(&session.workspace).map(|(written, loaded)| (Some(written), loaded))?
    } else {
        (None, context.document(&session.workspace)?.1)
    };
    if args.rates {
        let plan = plan_rates(&session, &loaded, &book)?;
        let recorded =
            if args.yes { accept_rates(&session.workspace, &mut loaded, &plan, &name, &context.author)? } else { None };
        show_rates(&plan, recorded.as_ref(), written.as_ref(), output);
        return Ok(true);
    }
    let request = request(args)?;
    let plan = plan(&session, &loaded, &book, &request)?;
    if output.json && !args.yes {
        output.json(&as_json(&plan));
        return Ok(true);
    }
    if !output.json {
        show(&plan, output);
    }
    output.messages(&plan.proposal.warnings);
    let Some(written) = written else {
        output.messages(&questions(&plan.proposal));
        if !output.json {
            output.line(if plan.changes.is_empty() { "Nothing to take." } else { "Nothing was taken; add --yes to take it." });
        }
        return Ok(true);
    };
    let unread = unread(&plan);
    if !args.keep_unknown && !unread.is_empty() {
        return Err(unread);
    }
    let recorded = accept(&session.workspace, &mut loaded, &plan, &context.author)?;
    if output.json {
        output.json(&json!({ "ok": true, "study": written.info.name, "entry": recorded.as_ref().map(|r| r.number), "plan": as_json(&plan) }));
    } else {
        say(recorded.as_ref(), &written, output);
    }
    Ok(true)
}

/// A study folder needs none of the options by which a foreign list is read.
fn from_folder(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let of_lists = [
        ("--map", args.map.is_some()),
        ("--answer", !args.answer.is_empty()),
        ("--under", args.under.is_some()),
        ("--keep-unknown", args.keep_unknown),
        ("--rates", args.rates),
    ];
    let problems: Vec<Diag> = of_lists
        .iter()
        .filter(|(_, given)| *given)
        .map(|(option, _)| {
            let says = format!("`{option}` is for lists, found a study folder");
            Diag::error("folder-option", says).at(Place::File(args.file.display().to_string()))
        })
        .collect();
    if !problems.is_empty() {
        return Err(problems);
    }
    super::import_folder::run(&args.file, args.yes, args.remove_gone, context, output)
}

/// Quantities that do not read: a list with such rows is refused unless somebody says that it may stand.
fn unread(plan: &Plan) -> Vec<Diag> {
    let codes = ["number-too-large", "quantity-unknown", "quantity-negative"];
    let found = plan.proposal.warnings.iter().filter(|d| codes.contains(&d.code)).cloned();
    let refused = |mut diag: Diag| {
        diag.severity = tare_diag::Severity::Error;
        diag.hint("mend the cell, or take the row with an open count by `--keep-unknown`; nothing was changed")
    };
    found.map(refused).collect()
}

fn request(args: &Args) -> Result<Request, Vec<Diag>> {
    let mut request = Request { under: args.under.clone(), remove_gone: args.remove_gone, ..Request::default() };
    let mut answers = BTreeMap::new();
    for answer in &args.answer {
        let Some((id, said)) = answer.split_once('=') else {
            return Err(vec![Diag::error("answer-form", format!("an answer is written `id=answer`, found `{answer}`"))]);
        };
        answers.insert(id.to_owned(), said.to_owned());
    }
    request.answers = answers;
    if let Some(path) = &args.map {
        let bytes = files::read_bytes(path).map_err(|d| vec![d])?;
        let unreadable = |e: serde_json::Error| {
            let diag = Diag::error("mapping-form", format!("the mapping does not read ({e})"))
                .at(Place::File(path.display().to_string()));
            vec![diag.hint("use the `mapping` that `tare import FILE --dry-run --json` prints")]
        };
        let whole: serde_json::Value = serde_json::from_slice(&bytes).map_err(unreadable)?;
        let part = whole.get("mapping").cloned().unwrap_or(whole);
        request.mapping = Some(serde_json::from_value(part).map_err(unreadable)?);
    }
    Ok(request)
}

fn as_json(plan: &Plan) -> serde_json::Value {
    let mut value = serde_json::to_value(&plan.proposal).unwrap_or_default();
    if let Some(object) = value.as_object_mut() {
        object.insert("under".into(), json!(plan.under));
        object.insert("changes".into(), json!(plan.changes.len()));
        let revision = plan.revision.as_ref().map(|r| json!({ "earlier": r.earlier, "same_file": r.same_file, "new": r.new, "gone": r.gone, "changed": r.changed, "same": r.same }));
        object.insert("revision".into(), json!(revision));
    }
    value
}

fn show(plan: &Plan, output: &Output) {
    let proposal = &plan.proposal;
    output.heading(&format!("Found in {}", proposal.file));
    let mut tables = Table::new(&["sheet", "range", ">titles in row", ">parts", ">quantity", "~title"]);
    for table in &proposal.tables {
        let title = table.title.clone().unwrap_or_default();
        tables.row([
            table.sheet.clone(),
            table.range.clone(),
            table.header_row.to_string(),
            table.part_rows.to_string(),
            count(table.quantity),
            title,
        ]);
    }
    tables.print(output);
    output.heading("Columns");
    let mut columns = Table::new(&["title", "read as", "numbers", "~decided by"]);
    for column in proposal.mapping.tables.iter().flat_map(|t| &t.columns) {
        let style = column.number.map_or_else(String::new, |n| format!("{n:?}"));
        columns.row([column.title.clone(), format!("{:?}", column.meaning), style, column.decided_by.clone()]);
    }
    columns.print(output);
    if let Some(revision) = &plan.revision {
        output.heading(&format!("Against the earlier import of {}", revision.earlier));
        output.line(format!(
            "{} new, {} changed, {} gone, {} as before",
            revision.new.len(),
            revision.changed.len(),
            revision.gone.len(),
            revision.same
        ));
        for row in &revision.new {
            output.wrapped("  new:     ", row);
        }
        for (row, fields) in &revision.changed {
            let said: Vec<String> = fields.iter().map(|(field, old, new)| format!("{field} {old} -> {new}")).collect();
            output.wrapped("  changed: ", &format!("{row}: {}", said.join("; ")));
        }
        for row in &revision.gone {
            output.wrapped("  gone:    ", row);
        }
    } else {
        output.heading("Tree");
        let mut rows = Table::new(&["~part", ">quantity", "~material", ">row"]);
        for row in proposal.rows.iter().take(SHOWN) {
            let told = row.name.as_ref().or(row.description.as_ref()).or(row.part_number.as_ref());
            let name = format!("{}{}", "  ".repeat(row.level), told.map_or("?", |t| t.value.as_str()));
            let quantity = row.quantity.value.map_or_else(|| "?".to_owned(), count);
            rows.row([name, quantity, row.material.as_ref().map(|m| m.value.clone()).unwrap_or_default(), row.row.to_string()]);
        }
        rows.print(output);
        if proposal.rows.len() > SHOWN {
            output.line(format!("... and {} more rows", proposal.rows.len() - SHOWN));
        }
    }
    output.heading("Checked");
    output.line(format!("{} parts, total quantity {}", proposal.parts, count(proposal.total_quantity)));
    for total in &proposal.totals {
        output.wrapped("  ", &total.says);
    }
    for changed in proposal.changed.iter().take(SHOWN) {
        output.wrapped(
            "  changed: ",
            &format!("{} `{}` became {} ({})", changed.cell.cell, changed.cell.raw, changed.became, changed.cell.rule),
        );
    }
    for skipped in proposal.skipped.iter().take(SHOWN) {
        output.wrapped("  not taken: ", &format!("{} `{}`: {}", skipped.cell.cell, skipped.cell.raw, skipped.why));
    }
    output.line("");
}

fn show_rates(plan: &RatePlan, recorded: Option<&Recorded>, written: Option<&Written>, output: &Output) {
    if output.json {
        output.json(
            &json!({ "proposal": plan.proposal, "new": plan.new, "changed": plan.changed, "entry": recorded.map(|r| r.number) }),
        );
        return;
    }
    output.line(format!("{} new rates, {} changed", plan.new.len(), plan.changed.len()));
    for (key, old, new) in &plan.changed {
        output.wrapped("  ", &format!("{key}: {old} -> {new}"));
    }
    output.messages(&plan.proposal.warnings);
    if let Some(written) = written {
        say(recorded, written, output);
    } else {
        output.line("Nothing was taken; add --yes to take it.");
    }
}

fn say(recorded: Option<&Recorded>, written: &Written, output: &Output) {
    match recorded {
        Some(entry) => {
            let (number, says, place) = (entry.number, &entry.says, written.place());
            output.line(format!("Entry {number}{place}: {says}. `tare undo {number}` takes it back."))
        }
        None => output.line("Nothing differs; nothing was changed."),
    }
}
