//! `tare report`: the whole study as one HTML file.

use super::{Context, Outcome, said};
use crate::output::Output;
use crate::progress::Drawing;
use std::path::PathBuf;
use tare_app::{files, ranges, report};

/// Write the report: one HTML file that needs nothing else
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare report\n  tare report --out pack.html\n  tare report --draws 0")]
pub(crate) struct Args {
    /// File to write (else report.html in the workspace)
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The most draws for the ranges of the headlines; 0 leaves ranges out (spreads are then first order)
    #[arg(long, value_name = "N", default_value_t = ranges::REPORT_DRAWS, value_parser = clap::value_parser!(u64).range(0..=20_000_000))]
    draws: u64,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let file = args.out.clone().unwrap_or_else(|| context.folder().join("report.html"));
    let drawing = Drawing::begin();
    let (document, study) = (&open.loaded.document, &open.study);
    let found = ranges::of_headlines(document, study, &open.session.library, args.draws, ranges::threads(), drawing.watch());
    drop(drawing);
    let mut filled = report::fill(document, study, &open.session.library, open.loaded.head, found.as_ref());
    report::put_pictures(&mut filled, document, |digest| open.session.workspace.photo(digest).ok().flatten());
    files::write(&file, report::html(&filled).as_bytes()).map_err(|d| vec![d])?;
    if output.json {
        output.json(&serde_json::json!({ "ok": true, "report": file.display().to_string() }));
    } else {
        output.line(file.display().to_string());
    }
    Ok(said(&open.study.problems, output))
}
