//! `tare joints`: the census.

use super::{Context, Outcome, count, text};
use crate::output::Output;
use crate::table::Table;
use tare_app::view;

/// The joint census, and fasteners listed against those the joints use
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare joints\n  tare joints --each")]
pub(crate) struct Args {
    /// Show every joint
    #[arg(long)]
    each: bool,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let joints = view::joints(&open.study, &open.session.library);
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "joints": joints }));
        return Ok(true);
    }
    output.line(format!("{} joints in one {}, from {} records", count(joints.total), open.info.name, joints.joints.len()));
    output.line("");
    let mut table = Table::new(&["~method", "~size", ">in product", ">records", ">manual time"]);
    for group in &joints.census {
        let seconds = group.seconds.map_or_else(String::new, |s| format!("{} s", tare_app::show_number(s, 3)));
        table.row([group.method.clone(), group.stated.clone(), count(group.count), group.records.to_string(), seconds]);
    }
    table.print(output);
    if args.each {
        output.heading("Each joint");
        let mut table = Table::new(&["joint", "~method", ">count", "in", "~parts", ">manual"]);
        for joint in &joints.joints {
            table.row([
                joint.name.clone(),
                joint.method.clone(),
                joint.count.text.clone(),
                joint.assembly.clone(),
                joint.parts.join(" "),
                text(joint.manual.as_ref()),
            ]);
        }
        table.print(output);
    }
    if !joints.fasteners.is_empty() {
        output.heading("Fasteners: listed against used");
        let mut table = Table::new(&["label", "~fastener", ">listed", ">used", "~finding"]);
        for fastener in &joints.fasteners {
            let left = fastener.listed - fastener.used;
            let finding = if left == 0.0 {
                "agrees".to_owned()
            } else if left > 0.0 {
                format!("{} left over", count(left))
            } else {
                format!("{} not in the list", count(-left))
            };
            table.row([fastener.label.clone(), fastener.name.clone(), count(fastener.listed), count(fastener.used), finding]);
        }
        table.print(output);
    }
    Ok(true)
}
