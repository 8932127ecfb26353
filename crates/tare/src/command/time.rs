//! `tare time`: assembly time, needed parts, lines.

use super::{Context, Outcome, count, text};
use crate::output::Output;
use crate::table::Table;
use tare_app::view;

/// Assembly time by motions, needed parts, ideal-time share, line balance
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare time\n  tare explain time")]
pub(crate) struct Args {}

pub(crate) fn run(_: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let time = view::time(&open.study);
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "time": time }));
        return Ok(true);
    }
    output.wrapped("", &format!("Manual assembly time of one {}: {}", open.info.name, text(time.manual.as_ref())));
    output.line(format!("Ideal-time share (3 s for each needed part): {}", text(time.ideal_share.as_ref())));
    output.line("");
    let mut table = Table::new(&["label", "~assembly", ">in product", ">manual", "~of which", ">parts", ">needed", ">recorded"]);
    for row in &time.assemblies {
        let kinds: Vec<String> = row.by_kind.iter().map(|(k, f)| format!("{k} {}", f.text)).collect();
        let needed = row.needed.map_or_else(|| format!("{} unjudged", row.unjudged), count);
        let recorded: Vec<&str> = row.recorded.iter().map(|r| r.text.as_str()).collect();
        table.row([
            row.label.clone(),
            row.name.clone(),
            count(row.pieces),
            text(row.manual.as_ref()),
            kinds.join(", "),
            count(row.parts),
            needed,
            recorded.join(", "),
        ]);
    }
    table.print(output);
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
    Ok(true)
}
