//! `tare calc`: calculations, materials and rate books readably, and one's own file checked.

use super::{Context, Outcome};
use crate::output::Output;
use crate::table::Table;
use std::path::Path;
use tare_app::calculations::{self, CalculationView};
use tare_app::files;

/// Show a calculation, list them, or check a file of one's own
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tare calc                          list the calculations
  tare calc processes                list those of one folder
  tare calc processes/hpdc           show one: inputs, formulas, sources, checks
  tare calc check my-process.toml    check a file of one's own: names, dimensions, published checks
  tare calc materials [KEY]          list materials, or show one
  tare calc books [KEY]              list rate books, or show one
  tare calc quantities               list what a value can state

Own calculations go into the folder `library/` of the workspace: library/processes/my-press.toml is `processes/my-press`.")]
pub(crate) struct Args {
    /// A calculation's key or folder, or `check`, `materials`, `books`, `quantities`
    what: Option<String>,
    /// The file to check, or the material or book to show
    which: Option<String>,
    /// With `check`: the key the file will have (else its folder and name)
    #[arg(long, value_name = "KEY")]
    key: Option<String>,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let own = tare_app::own_files(&context.folder())?;
    for (name, text) in &own {
        output.knows(&format!("library/{name}"), text);
    }
    let (library, problems) = tare_app::library_with(&own);
    let which = args.which.as_deref();
    match args.what.as_deref() {
        None => list(&library, "", output),
        Some("check") => return check(&library, which, args.key.as_deref(), output),
        Some("materials") => match which {
            Some(key) => material(&calculations::material(&library, key).map_err(|d| vec![d])?, output),
            None => materials(&library, output),
        },
        Some("books") => match which {
            Some(key) => book(&calculations::book(&library, key).map_err(|d| vec![d])?, output),
            None => books(&library, output),
        },
        Some("quantities") => quantities(&library, output),
        Some(group)
            if calculations::list(&library).iter().any(|c| c.key.starts_with(&format!("{}/", group.trim_end_matches('/')))) =>
        {
            list(&library, group.trim_end_matches('/'), output);
        }
        Some(key) => show(&calculations::calculation(&library, key).map_err(|d| vec![d])?, output),
    }
    output.messages(&problems);
    Ok(!tare_diag::any_error(&problems))
}

fn list(library: &tare_app::Library, group: &str, output: &Output) {
    let mut rows = calculations::list(library);
    rows.retain(|row| group.is_empty() || row.key.split('/').next() == Some(group));
    if output.json {
        return output.json(&serde_json::json!({ "calculations": rows }));
    }
    let mut table = Table::new(&["~key", "~title", ">checks"]);
    for row in rows {
        table.row([row.key, row.title, row.checks.to_string()]);
    }
    table.print(output);
}

fn check(library: &tare_app::Library, file: Option<&str>, key: Option<&str>, output: &mut Output) -> Outcome {
    let Some(file) = file else {
        let diag =
            tare_diag::Diag::error("calc-check", "no file to check was named").hint("write `tare calc check my-process.toml`");
        return Err(vec![diag]);
    };
    let path = Path::new(file);
    let text = files::read_text(path).map_err(|d| vec![d])?;
    output.knows(file, &text);
    let key = key.map_or_else(|| calculations::key_of(path), str::to_owned);
    let checked = calculations::check(library, &key, file, &text);
    if output.json {
        output.json(&serde_json::json!({ "ok": checked.well(), "key": key, "checks": checked.checks, "problems": tare_app::view::problem_rows(&checked.problems) }));
    } else {
        let mut table = Table::new(&["", "~check", "~line", ">expected", ">got"]);
        for row in checked.checks.iter().filter(|c| !c.ok) {
            table.row(["FAILS".to_owned(), row.id.clone(), row.name.clone(), row.expected.clone(), row.got.clone()]);
        }
        if !table.is_empty() {
            table.print(output);
        }
        let fails = checked.checks.iter().filter(|c| !c.ok).count();
        output.line(format!("{key}: {} checks agree, {fails} fail", checked.checks.len() - fails));
    }
    output.messages(&checked.problems);
    Ok(checked.well())
}

fn show(calculation: &CalculationView, output: &Output) {
    if output.json {
        return output.json(&serde_json::json!(calculation));
    }
    output.line(format!("{}: {}", calculation.key, calculation.title));
    output.wrapped("  ", &format!("{}. {}", calculation.kind, calculation.says));
    if !calculation.method.is_empty() {
        output.wrapped("  method error ", &calculation.method);
    }
    if !calculation.inputs.is_empty() {
        output.heading("Inputs");
        for input in &calculation.inputs {
            let from = if input.from.is_empty() { String::new() } else { format!("from {}", input.from.join(", ")) };
            let default = if input.default.is_empty() { String::new() } else { format!("= {}", input.default) };
            let said: Vec<String> = [from, default].into_iter().filter(|t| !t.is_empty()).collect();
            let said = if said.is_empty() { "to be stated".to_owned() } else { said.join(", else ") };
            output.wrapped(&format!("  {} [{}] ", input.name, input.unit), &said);
            if !input.says.is_empty() {
                output.wrapped("      ", &input.says);
            }
        }
    }
    for used in &calculation.uses {
        output.wrapped("  uses ", used);
    }
    if !calculation.equations.is_empty() {
        output.heading("Formulas");
        for equation in &calculation.equations {
            output.wrapped(&format!("  {} [{}] = ", equation.name, equation.unit), &equation.formula);
            if !equation.source.is_empty() {
                output.wrapped("      ", &equation.source);
            }
        }
    }
    for t in &calculation.tables {
        output.heading(&format!("Table {}", t.name));
        if !t.source.is_empty() {
            output.wrapped("  ", &t.source);
        }
        for row in &t.rows {
            output.wrapped("  ", row);
        }
    }
    if !calculation.owes.is_empty() {
        output.heading("Owes");
        for line in &calculation.owes {
            output.wrapped("  ", line);
        }
    }
    if !calculation.checks.is_empty() {
        output.heading("Checks");
        for check in &calculation.checks {
            output.wrapped("  ", check);
        }
    }
}

fn materials(library: &tare_app::Library, output: &Output) {
    let rows = calculations::materials(library);
    if output.json {
        return output.json(&serde_json::json!({ "materials": rows }));
    }
    let mut table = Table::new(&["~key", "~name", "family", ">density"]);
    for row in rows {
        let density = row.properties.iter().find(|p| p.name == "density").map(|p| p.value.clone()).unwrap_or_default();
        table.row([row.key, row.name, row.family, density]);
    }
    table.print(output);
}

fn material(material: &calculations::MaterialView, output: &Output) {
    if output.json {
        return output.json(&serde_json::json!(material));
    }
    output.line(format!("{}: {} ({})", material.key, material.name, material.family));
    let mut table = Table::new(&["property", "~value", "~source"]);
    for property in &material.properties {
        table.row([property.name.clone(), property.value.clone(), property.source.clone()]);
    }
    table.print(output);
}

fn books(library: &tare_app::Library, output: &Output) {
    let rows = calculations::books(library);
    if output.json {
        return output.json(&serde_json::json!({ "books": rows }));
    }
    let mut table = Table::new(&["key", "~name", "currency", "date", "~place", ">rates"]);
    for row in rows {
        table.row([row.key, row.name, row.currency, row.date, row.place, row.rates.len().to_string()]);
    }
    table.print(output);
}

fn book(book: &calculations::BookView, output: &Output) {
    if output.json {
        return output.json(&serde_json::json!(book));
    }
    output.line(format!("{}: {}, {}, {}, {}", book.key, book.name, book.currency, book.date, book.place));
    if book.illustrative {
        output.line("illustrative: invented figures");
    }
    let mut table = Table::new(&["~rate", "~value", "~source"]);
    for rate in &book.rates {
        table.row([rate.name.clone(), rate.value.clone(), rate.source.clone()]);
    }
    table.print(output);
}

fn quantities(library: &tare_app::Library, output: &Output) {
    let rows = calculations::quantities(library);
    if output.json {
        return output.json(&serde_json::json!({ "quantities": rows }));
    }
    let mut table = Table::new(&["name", "unit", "~meaning", "~of"]);
    for row in rows {
        table.row([row.name, row.unit, row.label, row.on.join(", ")]);
    }
    table.print(output);
}
