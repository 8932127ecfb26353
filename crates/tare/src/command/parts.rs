//! `tare parts`: the indented parts list.

use super::{Context, Outcome, count};
use crate::output::Output;
use crate::table::Table;
use serde_json::json;
use tare_app::view;

/// The indented parts list with mass and cost of one piece
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare parts\n  tare parts --level 1\n  tare parts --find screw --json")]
pub(crate) struct Args {
    /// Show only so many levels below the product
    #[arg(long, value_name = "N")]
    level: Option<usize>,
    /// Show only parts whose name, label or material holds this text
    #[arg(long, value_name = "TEXT")]
    find: Option<String>,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let mut parts = view::parts(&open.study);
    let wanted = args.find.as_deref().map(str::to_lowercase);
    parts.parts.retain(|p| {
        let holds = |text: &str, of: &str| text.to_lowercase().contains(of);
        args.level.is_none_or(|l| p.level <= l)
            && wanted.as_ref().is_none_or(|w| holds(&p.name, w) || holds(&p.label, w) || holds(&p.material, w))
    });
    if output.json {
        output.json(&json!({ "study": open.info.name, "parts": parts.parts, "lines": parts.lines, "items": parts.items, "pieces": parts.pieces }));
        return Ok(true);
    }
    let mut table = Table::new(&["label", "~part", ">count", "~material", ">mass of one", ">cost of one"]);
    for part in &parts.parts {
        let figure = |f: &Option<tare_app::Figure>| f.as_ref().map_or_else(String::new, |f| f.text.clone());
        let name = format!("{}{}", "  ".repeat(part.level), part.name);
        table.row([part.label.clone(), name, count(part.count), part.material.clone(), figure(&part.mass), figure(&part.cost)]);
    }
    if table.is_empty() {
        output.line("no parts");
        return Ok(true);
    }
    table.print(output);
    let many = |number: f64, one: &str| format!("{} {one}{}", count(number), if number == 1.0 { "" } else { "s" });
    let (lines, items) = (many(parts.lines as f64, "line"), many(parts.items as f64, "item"));
    output.line(format!("{lines}, {items}, {} in the product", many(parts.pieces, "piece")));
    Ok(true)
}
