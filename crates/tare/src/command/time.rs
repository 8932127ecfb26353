//! `tare time`: assembly time, needed parts, lines.

use super::{Context, Outcome, concerns_order, count, said, text};
use crate::output::Output;
use crate::table::Table;
use tare_app::view;
use tare_diag::Diag;

/// Assembly time by motions, needed parts, ideal-time share, line balance
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare time\n  tare explain time")]
pub(crate) struct Args {}

pub(crate) fn run(_: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let time = view::time(&open.study);
    let concerns = |d: &&Diag| concerns_order(d) || matches!(d.code, "joint-operation" | "joint-place" | "operation-place");
    let about: Vec<Diag> = open.study.problems.iter().filter(concerns).cloned().collect();
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "time": time, "problems": view::problem_rows(&about) }));
        return Ok(!tare_diag::any_error(&about));
    }
    output.line(&open.info.name);
    output.line(format!("Manual assembly time: {}", text(time.manual.as_ref())));
    output.line(format!("Ideal-time share (3 s for each needed part): {}", text(time.ideal_share.as_ref())));
    output.line("");
    let mut table =
        Table::new(&["label", "~assembly", ">no", ">manual", ">handle", ">insert", ">join", ">other", ">needed", ">stripped"]);
    for row in &time.assemblies {
        let seconds = |f: Option<&tare_app::Figure>| f.map_or_else(String::new, |f| tare_app::show_number(f.value, 4));
        let kind = |word: &str| seconds(row.by_kind.get(word));
        let needed =
            row.needed.map_or_else(|| format!("? of {}", count(row.parts)), |n| format!("{} of {}", count(n), count(row.parts)));
        let stripped: f64 = row.recorded.iter().map(|r| r.value).sum();
        let stripped = if row.recorded.is_empty() { String::new() } else { tare_app::show_number(stripped, 4) };
        table.row([
            row.label.clone(),
            row.name.clone(),
            count(row.pieces),
            seconds(row.manual.as_ref()),
            kind("handling"),
            kind("inserting"),
            kind("joining"),
            kind("other work"),
            needed,
            stripped,
        ]);
    }
    table.print(output);
    output.line("seconds for one assembly; needed: parts that must be parts of their own;");
    output.line("stripped: recorded strip-down times");
    for line in &time.lines {
        output.heading(&format!("Line {}", line.name));
        output.line(format!(
            "takt {}, work {}, operators {}, paid {}",
            text(line.takt.as_ref()),
            text(line.work.as_ref()),
            text(line.operators.as_ref()),
            text(line.paid.as_ref())
        ));
        let mut table = Table::new(&["~station", ">cycle"]);
        for station in &line.stations {
            table.row([station.name.clone(), station.cycle.text.clone()]);
        }
        table.print(output);
    }
    Ok(said(&about, output))
}
