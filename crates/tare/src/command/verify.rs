//! `tare verify`: the published checks.

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::Table;
use serde_json::{Value, json};
use tare_app::verify;

/// Run the published examples that stand in the calculations
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare verify\n  tare verify --json\n  tare verify --cover        constants that could change by 5 % unnoticed"
)]
pub(crate) struct Args {
    /// List the constants that no check holds
    #[arg(long)]
    cover: bool,
    /// List every check, not only those that fail
    #[arg(long)]
    each: bool,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let _progress = Progress::of("running the checks of the library");
    let own = tare_app::own_files(&context.folder()).unwrap_or_default();
    for (name, text) in &own {
        output.knows(&format!("library/{name}"), text);
    }
    let (library, problems) = tare_app::library_with(&own);
    output.messages(&problems);
    let found = verify::verify(&library);
    let well = found.failed == 0 && found.derived_failed == 0 && !tare_diag::any_error(&problems);
    let cover = if args.cover { Some(verify::cover(&library)) } else { None };
    if output.json {
        let mut value = json!(found);
        if let (Value::Object(fields), Some(cover)) = (&mut value, &cover) {
            fields.insert("cover".to_owned(), json!(cover));
        }
        output.json(&value);
        return Ok(well);
    }
    let mut table = Table::new(&["", "~check", "~calculation", "~line", ">expected", ">got", "~source"]);
    for check in found.checks.iter().filter(|c| args.each || !c.ok) {
        let mark = if check.ok { "ok" } else { "FAILS" };
        let seen = if check.seen { String::new() } else { " (from memory)".to_owned() };
        table.row([
            mark.to_owned(),
            check.id.clone(),
            check.calculation.clone(),
            check.name.clone(),
            check.expected.clone(),
            check.got.clone(),
            format!("{}{seen}", check.source),
        ]);
    }
    if !table.is_empty() {
        table.print(output);
        output.line("");
    }
    output.line(format!("{} published checks agree, {} fail", found.passed, found.failed));
    output.line(format!("{} derived checks agree, {} fail (ours, counted apart)", found.derived_passed, found.derived_failed));
    output.line(format!("{} of {} calculations are checked", found.calculations_checked, found.calculations));
    if let Some(cover) = cover {
        let (all, open): (usize, usize) =
            (cover.iter().map(|c| c.constants).sum(), cover.iter().map(|c| c.uncovered.len()).sum());
        output.heading(&format!("{open} of {all} constants could change by 5 % without a check failing"));
        for row in cover.iter().filter(|c| !c.uncovered.is_empty()) {
            output.wrapped(&format!("{}: ", row.calculation), &row.uncovered.join("; "));
        }
    }
    Ok(well)
}
