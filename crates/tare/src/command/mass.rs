//! `tare mass`: the balance and where the mass is.

use super::{Context, Outcome, concerns_order, percent, said, text};
use crate::output::Output;
use crate::table::Table;
use tare_app::view::{self, GroupRow};
use tare_diag::Diag;

/// The mass balance: weighed wholes against the sums of their parts, and mass by material, function, process
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare mass\n  tare explain mass")]
pub(crate) struct Args {
    /// Show only the balance
    #[arg(long)]
    balance: bool,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let mass = view::mass(&open.study);
    let about: Vec<Diag> = open.study.problems.iter().filter(|d| concerns_mass(d) || concerns_order(d)).cloned().collect();
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "mass": mass, "problems": view::problem_rows(&about) }));
        return Ok(!tare_diag::any_error(&about));
    }
    let spread = if mass.total_uncertainty.is_empty() {
        String::new()
    } else {
        format!(" +- {} (k = 2, first order)", mass.total_uncertainty)
    };
    output.line(&open.info.name);
    output.line(format!("Mass: {}{spread}", text(mass.total.as_ref())));
    output.heading("Balance");
    let mut table = Table::new(&["label", "~part", ">mass kg", ">parts kg", ">gap kg", "~finding"]);
    for row in &mass.balance {
        let [whole, sum, gap, spread] = row.kilograms;
        let number = |x: Option<f64>, digits| {
            x.map_or_else(String::new, |x| tare_app::show_number(if x.abs() < 1e-9 { 0.0 } else { x }, digits))
        };
        let gap = gap.map_or_else(String::new, |g| format!("{} +- {}", number(Some(g), 3), number(spread, 2)));
        let name = format!("{}{}", "  ".repeat(row.level), row.name);
        let finding = match row.verdict.as_str() {
            "" => row.how.to_owned(),
            verdict if verdict.starts_with("within") => "explained".to_owned(),
            verdict if verdict.starts_with("larger") => "unexplained".to_owned(),
            verdict => verdict.to_owned(),
        };
        table.row([row.label.clone(), name, number(whole, 5), number(sum, 5), gap, finding]);
    }
    table.print(output);
    output.wrapped(
        "",
        "gap: weighed less the sum of the parts; explained: no larger than the spread of the readings (k = 2); \
         unexplained: something is missing, counted twice or misread",
    );
    if !args.balance {
        for (title, rows) in
            [("By material", &mass.by_material), ("By function", &mass.by_function), ("By process", &mass.by_process)]
        {
            groups(title, rows, output);
        }
    }
    if !mass.unknown.is_empty() {
        output.line("");
        output.wrapped("Without mass: ", &mass.unknown.join(", "));
    }
    Ok(said(&about, output))
}

/// Groups with value and share.
pub(crate) fn groups(title: &str, rows: &[GroupRow], output: &Output) {
    if rows.is_empty() {
        return;
    }
    output.heading(title);
    let mut table = Table::new(&["~group", ">value", ">share"]);
    for row in rows {
        table.row([row.name.clone(), row.value.text.clone(), percent(row.share)]);
    }
    table.print(output);
}

/// Whether a message bears on masses, rather than on cost or time.
fn concerns_mass(diag: &Diag) -> bool {
    let place = diag.place.as_ref().map(ToString::to_string).unwrap_or_default();
    diag.code.contains("mass")
        || place.contains("mass")
        || diag.message.contains("mass")
        || matches!(diag.code, "difference" | "instrument-errors")
}
