//! `tare cost`: the should-cost.

use super::mass::groups;
use super::{Context, Outcome, percent, print_basis, said, text};
use crate::output::Output;
use crate::table::Table;
use tare_app::view::{self, CostView};

/// The should-cost: by kind, item and process, tools and quotes beside it
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare cost\n  tare cost --items 50\n  tare explain cost")]
pub(crate) struct Args {
    /// Show so many items, largest first
    #[arg(long, value_name = "N", default_value_t = 20)]
    items: usize,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let cost = view::cost(&open.loaded.document, &open.study);
    if output.json {
        output.json(
            &serde_json::json!({ "study": open.info.name, "cost": cost, "problems": view::problem_rows(&open.study.problems) }),
        );
        return Ok(!tare_diag::any_error(&open.study.problems) && cost.total.is_some());
    }
    output.line(&open.info.name);
    headline(&cost, output);
    print_basis(&cost.basis, output);
    output.heading("By kind");
    let mut table = Table::new(&["kind", ">cost", ">share"]);
    for row in &cost.by_kind {
        table.row([row.kind.to_owned(), row.cost.text.clone(), percent(row.share)]);
    }
    table.print(output);
    items(args.items, &cost, output);
    groups("By process", &cost.by_process, output);
    tools(&cost, output);
    quotes(&cost, output);
    for held in open.study.problems.iter().filter(|d| d.code == "in-the-rate") {
        let place = held.place.as_ref().map(ToString::to_string).unwrap_or_default();
        output.wrapped("Note: ", &format!("{place}: {}", held.message));
    }
    if !cost.uncosted.is_empty() {
        output.line("");
        output.wrapped("Without cost: ", &cost.uncosted.join(", "));
    }
    Ok(said(&open.study.problems, output) && cost.total.is_some())
}

/// The total with and without the dominant bought item.
pub(crate) fn headline(cost: &CostView, output: &Output) {
    let spread = match (&cost.total, cost.uncertainty) {
        (Some(total), Some(u)) if u.is_finite() => format!(" +- {u:.2} {} (k = 2, first order)", total.unit),
        _ => String::new(),
    };
    output.line(format!("Should-cost: {}{spread}", text(cost.total.as_ref())));
    if let (Some(without), false) = (&cost.without_dominant, cost.dominant.is_empty()) {
        output.line(format!("  without {}: {}", cost.dominant.join(", "), without.text));
    }
    if let Some(investment) = &cost.investment {
        output.line(format!("  investment in tools, all sets: {}", investment.text));
    }
}

fn items(limit: usize, cost: &CostView, output: &Output) {
    output.heading("By item (own work, purchase, scrap and mark-ups; children not included)");
    let mut table = Table::new(&["item", "~name", ">one piece", ">in product", ">share"]);
    let named: Vec<_> = cost.by_item.iter().filter(|i| i.contribution.is_some()).collect();
    for row in named.iter().take(limit) {
        let address = row.address.trim_start_matches("item ").to_owned();
        table.row([address, row.name.clone(), text(row.own.as_ref()), text(row.contribution.as_ref()), percent(row.share)]);
    }
    table.print(output);
    if named.len() > limit {
        output.line(format!("... and {} more; `--items {}` shows them", named.len() - limit, named.len()));
    }
}

fn tools(cost: &CostView, output: &Output) {
    if cost.tools.is_empty() {
        return;
    }
    output.heading("Tools");
    let mut table = Table::new(&["~tool", ">pieces", ">life", ">sets", ">one set", ">all sets", "paid"]);
    for tool in &cost.tools {
        let paid = if tool.lump { "apart" } else { "in piece" };
        let figure = |f: &Option<tare_app::Figure>| text(f.as_ref());
        table.row([
            tool.title.clone(),
            tool.pieces.text.clone(),
            tool.life.text.clone(),
            figure(&tool.sets),
            tool.cost.text.clone(),
            figure(&tool.investment),
            paid.to_owned(),
        ]);
    }
    table.print(output);
}

fn quotes(cost: &CostView, output: &Output) {
    if cost.quotes.is_empty() {
        return;
    }
    output.heading("Quotes beside the build-up");
    let mut table = Table::new(&["~item", ">built up", ">quoted", ">from mass", "~terms"]);
    for row in &cost.quotes {
        for (terms, price) in &row.quotes {
            table.row([
                row.item.clone(),
                text(row.build_up.as_ref()),
                price.text.clone(),
                text(row.rough.as_ref()),
                terms.clone(),
            ]);
        }
    }
    table.print(output);
}
