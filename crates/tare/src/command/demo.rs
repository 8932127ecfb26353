//! `tare demo`: the example, computed, with its report.

use super::cost::headline;
use super::serve::{PORT, serve};
use super::{Context, Outcome, count, percent, print_basis, said, text};
use crate::output::Output;
use crate::progress::{Drawing, Progress};
use serde_json::json;
use std::path::PathBuf;
use tare_app::view::{self, SpreadView};
use tare_app::{demo, files, ranges, report};

/// Make the example workspace, compute it and write its report
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The example is invented: no existing product, maker or person is meant.\n\nExamples:\n  tare demo\n  tare demo --workspace /tmp/pack --report pack.html"
)]
pub(crate) struct Args {
    /// Where to write the report (else report.html in the workspace)
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
    /// End without opening the desk (as where the output is no terminal)
    #[arg(long)]
    no_serve: bool,
}

/// The drawn range of the first headline and what it comes from most.
fn drawn(view: &SpreadView, output: &Output) {
    let Some(row) = view.rows.first() else { return };
    let causes: Vec<String> = view.causes.iter().take(3).map(|c| format!("{} {:.0} %", c.cause, c.with_others * 100.0)).collect();
    let says = format!(
        "{} to {} ({:.0} % of draws), mean {}; of its variance {}",
        row.low,
        row.high,
        view.coverage * 100.0,
        row.mean,
        causes.join(", ")
    );
    output.wrapped("  range: ", &says);
}

/// What is printed under every demo.
const SAFETY: &str = "A real pack is dangerous when opened: high voltage, stored energy, gas and fire. Holds are recorded by named, \
qualified people; local codes and those people decide, not this program.";

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let progress = Progress::of("making the example");
    let folder = context.folder_or("tare-demo");
    for (name, text) in demo::all_files() {
        output.knows(&format!("demo/{name}"), &text);
    }
    let (mut session, info, loaded, warnings) = demo::open(&folder)?;
    let study = session.compiled(&info, &loaded)?;
    let file = args.report.clone().unwrap_or_else(|| folder.join("report.html"));
    drop(progress);
    let drawing = Drawing::begin();
    let found = ranges::of_headlines(&loaded.document, &study, &session.library, ranges::report_options(), drawing.watch());
    let mut filled = report::fill(&loaded.document, &study, &session.library, loaded.head, found.as_ref());
    let rivals: Vec<String> = demo::rivals(&session.workspace).map_err(|d| vec![d])?.into_iter().map(|d| d.name).collect();
    let draws = super::report::REPORT_IDEA_DRAWS;
    super::report::put_ideas(&mut filled, &session, &loaded.document, &study, draws, false, drawing.watch())?;
    let names: Vec<String> = std::iter::once(info.name.clone()).chain(rivals).collect();
    if names.len() > 1 {
        let compared = tare_app::compare::load(&session.workspace, &names)?;
        super::report::put_comparison(&mut filled, &session, compared, draws, drawing.watch())?;
    }
    report::put_pictures(&mut filled, &loaded.document, |digest| session.workspace.photo(digest).ok().flatten());
    let page = report::html(&filled);
    files::write(&file, page.as_bytes()).map_err(|d| vec![d])?;
    drop(drawing);
    let (parts, cost, time, mass, joints) = (
        view::parts(&study),
        view::cost(&loaded.document, &study),
        view::time(&study),
        view::mass(&study),
        view::joints(&study, &session.library),
    );
    if output.json {
        output.json(&json!({
            "study": info.name, "workspace": folder.display().to_string(), "report": file.display().to_string(),
            "cost": cost.total, "without_dominant": cost.without_dominant, "dominant": cost.dominant, "mass": mass.total,
            "manual_time": time.manual, "lines": parts.lines, "items": parts.items, "pieces": parts.pieces, "joints": joints.total,
            "range": found.as_ref().map(|found| view::spread_rows(&study, found, None)),
            "basis": cost.basis, "problems": view::problem_rows(&study.problems),
        }));
        return Ok(!tare_diag::any_error(&study.problems));
    }
    output.line(format!("{} (invented example)", info.name));
    output.line("");
    headline(&cost, output);
    if let Some(found) = &found {
        drawn(&view::spread_rows(&study, found, None), output);
        let first = found.work.as_ref().and_then(|list| {
            let rows = view::work_rows(&loaded.document, &study, &session.library, "cost", list, found.options.seed);
            rows.steps.into_iter().next()
        });
        if let Some(step) = first {
            let says = format!("{}: {} ({} less uncertainty; `tare next`)", step.address, step.recipe, percent(step.gain));
            output.wrapped("  find out next: ", &says);
        }
    }
    output.wrapped("", &format!("Mass: {} +- {} (k = 2, first order)", text(mass.total.as_ref()), mass.total_uncertainty));
    output.wrapped(
        "",
        &format!("Manual assembly time: {}; ideal-time share {}", text(time.manual.as_ref()), text(time.ideal_share.as_ref())),
    );
    output.wrapped(
        "",
        &format!(
            "Parts: {} lines, {} items, {} pieces; {} joints",
            parts.lines,
            parts.items,
            count(parts.pieces),
            count(joints.total)
        ),
    );
    output.line("");
    print_basis(&cost.basis, output);
    output.line("");
    output.line(format!("Workspace: {}", folder.display()));
    output.line(format!("Report:    {}", file.display()));
    output.wrapped("Safety:    ", SAFETY);
    output.messages(&warnings);
    let well = said(&study.problems, output);
    let shown = std::io::IsTerminal::is_terminal(&std::io::stdout()) && !args.no_serve;
    let desk = Context::of(&folder, &info.name, &context.author);
    output.line("");
    if !shown {
        output.line(format!("Desk:      http://127.0.0.1:{PORT}/ once `tare serve --workspace {}` runs", folder.display()));
        return Ok(well);
    }
    // the desk opens the workspace itself
    drop((session, loaded, study));
    let here = std::net::Ipv4Addr::LOCALHOST.into();
    let served = serve(here, PORT, true, &desk, output).or_else(|problems| {
        // the usual port may be another desk's
        let taken = problems.iter().any(|d| d.code == "serve-address");
        if taken { serve(here, 0, true, &desk, output) } else { Err(problems) }
    });
    Ok(served? && well)
}
