//! `tare compare`: where products stand against each other.

use super::{Context, Outcome, percent};
use crate::output::Output;
use crate::progress::Drawing;
use crate::table::Table;
use tare_app::compare;
use tare_app::report;
use tare_app::view::{self, CompareRow, CompareView};
use tare_app::{DocumentKind, Figure};
use tare_diag::Diag;

/// Products side by side: one scenario, same rates, same draws, by function, material, process and joint, per yardstick
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare compare \"Pack A\" \"Pack B\"\n  tare compare --on \"Nominal energy\"\n  tare compare \"Pack A\" \"Pack B\" --by function --by joints --rows 30\n  tare compare --report side-by-side.html\n\n\
                        Without names all studies of the workspace are compared, the first of them gives the scenario (volume, life, money, rates, \
                        build-up). Part of a name will do where it means one study. Functions are those of the parts (`tare edit set P12/function \
                        sealing`), brought together by the library's list (`functions.toml`); words it does not know stand in rows of their own."
)]
pub(crate) struct Args {
    /// Studies; the first gives the scenario
    studies: Vec<String>,
    /// The yardstick products are ranked by
    #[arg(long, value_name = "NAME")]
    on: Option<String>,
    /// Cut shown: function, kind, process, material, joints, mass; as often as wanted
    #[arg(long, value_name = "CUT", value_parser = ["function", "kind", "process", "material", "joints", "mass"])]
    by: Vec<String>,
    /// Rows shown of each cut
    #[arg(long, value_name = "N", default_value_t = 12)]
    rows: usize,
    /// Write the comparison as a page as well
    #[arg(long, value_name = "FILE")]
    report: Option<std::path::PathBuf>,
    /// Draws behind every range
    #[arg(long, value_name = "N", default_value_t = 10_240, value_parser = clap::value_parser!(u64).range(128..=2_000_000))]
    draws: u64,
    /// Names the random numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let session = context.session(false, output)?;
    let names = if args.studies.is_empty() {
        let known = session.workspace.documents().map_err(|d| vec![d])?;
        known.into_iter().filter(|d| d.kind == DocumentKind::Study).map(|d| d.name).collect()
    } else {
        args.studies.clone()
    };
    let studies = compare::load(&session.workspace, &names)?;
    let own = studies.iter().map(|(_, loaded)| session.texts(&loaded.document)).collect::<Result<Vec<_>, _>>()?;
    let texts = session.texts(&studies[0].1.document)?;
    let options = super::ideas::options(args.draws, args.seed);
    let drawing = Drawing::begin();
    let found = compare::compare(&texts, &own, studies, args.on.as_deref(), options, drawing.watch())?;
    drop(drawing);
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the comparison was computed")]) };
    let view = view::compared(&found);
    if let Some(file) = &args.report {
        let invented = view.products.iter().any(|p| p.illustrative);
        let invented = invented.then_some("At least one of the products is invented, or its data are only illustrative.");
        let page = report::comparison_html("Products side by side", &report::comparison(&found), invented);
        tare_app::files::write(file, page.as_bytes()).map_err(|d| vec![d])?;
    }
    let well = view.products.iter().all(|p| p.problems.is_empty()) && view.problems.is_empty();
    if output.json {
        output.json(&serde_json::json!({ "comparison": view }));
        return Ok(well);
    }
    print(&view, args, output);
    Ok(well)
}

fn print(view: &CompareView, args: &Args, output: &Output) {
    for product in &view.products {
        let own = product.own.as_ref().map_or_else(String::new, |f| format!("; under its own scenario {}", f.text));
        output.wrapped(&format!("{}  ", product.letter), &format!("{}{own}", product.study));
        for problem in &product.problems {
            output.wrapped("   ", problem);
        }
        if !product.uncosted.is_empty() {
            output.wrapped("   without cost: ", &product.uncosted.join(", "));
        }
    }
    for problem in &view.problems {
        output.wrapped("", problem);
    }
    output.wrapped("Scenario of A: ", &view.scenario);
    boundary(view, output);
    output.heading("Totals");
    rows(view, &view.headlines, view.headlines.len(), output);
    yards(view, output);
    if let Some(rank) = &view.rank {
        output.heading(&format!("Rank by {}, share of {} draws", rank.by, rank.draws));
        let mut table = Table::new(&["product", ">first", ">second", ">third", ">later"]);
        for (product, places) in view.products.iter().zip(&rank.places) {
            let share = |at: usize| places.get(at).map_or_else(String::new, |p| percent(*p));
            let later: f64 = places.iter().skip(3).sum();
            let later = if places.len() > 3 { percent(later) } else { String::new() };
            table.row([product.letter.clone(), share(0), share(1), share(2), later]);
        }
        table.print(output);
    }
    let asked: Vec<&str> = if args.by.is_empty() { vec!["function"] } else { args.by.iter().map(String::as_str).collect() };
    for cut in &view.cuts {
        let wanted = asked.iter().any(|by| match *by {
            "mass" => cut.cut.starts_with("mass"),
            "joints" => cut.cut.starts_with("joints"),
            by => cut.cut == format!("cost by {by}"),
        });
        if wanted {
            output.heading(&capital(&cut.cut));
            rows(view, &cut.rows, args.rows, output);
            let unmapped: Vec<&str> = cut.rows.iter().filter(|r| r.unmapped).map(|r| r.name.as_str()).collect();
            if !unmapped.is_empty() {
                output.wrapped(
                    "not on the list of functions: ",
                    &format!("{}; `tare edit set LABEL/function ...` says it in a common word", unmapped.join(", ")),
                );
            }
        }
    }
    walks(view, args.rows, output);
    best(view, output);
    output.line("");
    output.wrapped("", &format!("ranges: 95 % of {} common draws; what products share (rates, prices, methods) moves together, so that a difference is surer than from two ranges found apart", view.draws));
}

fn boundary(view: &CompareView, output: &Output) {
    output.heading("Before any number: what the totals do not hold alike");
    if view.boundary.is_empty() {
        output.line("the registers say the same of every topic");
        return;
    }
    let mut table = Table::new(&["~topic", "products"]);
    for row in &view.boundary {
        let each: Vec<String> = view
            .products
            .iter()
            .zip(&row.states)
            .map(|(p, s)| format!("{} {}", p.letter, if s.is_empty() { "not named" } else { s }))
            .collect();
        table.row([row.topic.clone(), each.join(", ")]);
    }
    table.print(output);
}

/// Rows with the products in columns, and the difference of the second to the first with its range.
fn rows(view: &CompareView, rows: &[CompareRow], most: usize, output: &Output) {
    let many = view.products.len();
    let text = |f: &Option<Figure>| f.as_ref().map_or_else(|| "-".to_owned(), |f| f.text.clone());
    if many == 2 {
        let mut table = Table::new(&["~", ">A", ">B", ">B less A", ">range"]);
        for row in rows.iter().take(most) {
            let range = row.change_ranges[1].as_ref().map_or_else(String::new, |r| format!("{} to {}", r.low, r.high));
            table.row([row.name.clone(), text(&row.figures[0]), text(&row.figures[1]), text(&row.changes[1]), range]);
        }
        table.print(output);
    } else {
        let mut table = Table::new(&["~", ">A", ">B", ">C", ">D"]);
        for row in rows.iter().take(most) {
            let at = |at: usize| row.figures.get(at).map_or_else(String::new, text);
            table.row([row.name.clone(), at(0), at(1), at(2), at(3)]);
        }
        table.print(output);
        if many > 4 {
            output.line(format!("... and {} more products: `--json` lists them", many - 4));
        }
    }
    if rows.len() > most {
        output.line(format!("... and {} more; `--rows {}` shows them", rows.len() - most, rows.len()));
    }
}

fn yards(view: &CompareView, output: &Output) {
    if view.yards.is_empty() {
        return;
    }
    output.heading("Per yardstick");
    let mut table = Table::new(&["~yardstick", "of", ">amount", ">cost per unit", ">range", ">per mass"]);
    for yard in &view.yards {
        for (at, product) in view.products.iter().enumerate() {
            let text = |f: Option<&Option<Figure>>| f.and_then(Option::as_ref).map_or_else(|| "-".to_owned(), |f| f.text.clone());
            let range = yard.costs.ranges[at].as_ref().map_or_else(String::new, |r| format!("{} to {}", r.low, r.high));
            let name = if at == 0 { yard.name.clone() } else { String::new() };
            let per_mass = yard.per_mass.get(at).map_or_else(String::new, |f| text(Some(f)));
            table.row([
                name,
                product.letter.clone(),
                text(yard.values.get(at)),
                text(yard.costs.figures.get(at)),
                range,
                per_mass,
            ]);
        }
    }
    table.print(output);
    for yard in view.yards.iter().filter(|y| !y.alike) {
        let each: Vec<String> = view.products.iter().zip(&yard.qualifiers).map(|(p, q)| format!("{}: {q}", p.letter)).collect();
        output.wrapped("not said alike: ", &format!("{} - {}", yard.name, each.join("; ")));
    }
}

fn walks(view: &CompareView, most: usize, output: &Output) {
    for walk in &view.walks {
        output.heading(&format!("From {} to {} by function", walk.between[0], walk.between[1]));
        let mut table = Table::new(&["~step", ">change"]);
        table.row([format!("should-cost of {}", walk.between[0]), walk.start.text.clone()]);
        for (name, figure) in walk.steps.iter().take(most) {
            let sign = if figure.value > 0.0 { "+" } else { "" };
            table.row([name.clone(), format!("{sign}{}", figure.text)]);
        }
        if walk.steps.len() > most {
            table.row([format!("({} smaller steps not shown)", walk.steps.len() - most), String::new()]);
        }
        table.row([format!("should-cost of {}", walk.between[1]), walk.end.text.clone()]);
        table.print(output);
    }
}

fn best(view: &CompareView, output: &Output) {
    let Some(best) = &view.best else { return };
    output.heading("Best of each (functions that share an interface come from one product)");
    let mut table = Table::new(&["~functions", "from", ">A", ">B", ">C", ">D"]);
    for row in &best.picked {
        let at = |at: usize| {
            row.costs.get(at).map_or_else(String::new, |f| f.as_ref().map_or_else(|| "-".to_owned(), |f| f.text.clone()))
        };
        table.row([row.functions.join(", "), row.from.clone(), at(0), at(1), at(2), at(3)]);
    }
    table.print(output);
    output.wrapped(
        "Together: ",
        &format!(
            "{} ({} to {}): what the best of each would come to if every interface could be met; not a design",
            best.total.stated.text, best.total.low, best.total.high
        ),
    );
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
