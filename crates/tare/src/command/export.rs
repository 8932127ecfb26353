//! `tare export`: study text, tables, cards and drawings.

mod cards;
mod figures;

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Drawing;
use clap::Subcommand;
use std::path::Path;
use std::path::PathBuf;
use tare_app::{export, files, ranges, text_form, view, workbook};

/// Write the study as a workbook or as text, its parts list as CSV, cards of its parts, the charts of its report
#[derive(Debug, clap::Args)]
#[command(
    args_conflicts_with_subcommands = true,
    arg_required_else_help = true,
    after_help = "Examples:\n  tare export workbook pack.xlsx    live formulas\n  tare export text pack.toml        read back with `tare new --from pack.toml`\n  tare export parts parts.csv\n  tare export parts                 to standard output\n  tare export cards wall.pdf        four to a page, to be cut apart\n  tare export figures figures --png"
)]
pub(crate) struct Args {
    #[command(subcommand)]
    what: Option<What>,
    /// The same as `workbook FILE`
    #[arg(long, value_name = "FILE")]
    xlsx: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// The whole study (or rate book) as study text
    #[command(
        after_help = "Examples:\n  tare export text pack.toml\n  tare export text --study \"Pack A\"       to standard output"
    )]
    Text {
        /// File to write; standard output without one
        file: Option<PathBuf>,
    },
    /// The study as a workbook of live formulas: change a wage there and the total moves
    #[command(
        after_help = "Examples:\n  tare export workbook pack.xlsx\n  tare export workbook pack.xlsx --draws 0     without ranges of the headlines"
    )]
    Workbook {
        /// File to write
        file: PathBuf,
        /// The most draws for the ranges of the headlines; 0 leaves them out
        #[arg(long, value_name = "N", default_value_t = ranges::REPORT_DRAWS, value_parser = clap::value_parser!(u64).range(0..=20_000_000))]
        draws: u64,
    },
    /// The parts list as CSV; text that a spreadsheet would take for a formula stays text
    #[command(after_help = "Examples:\n  tare export parts parts.csv\n  tare export parts | sort -t, -k8")]
    Parts {
        /// File to write; standard output without one
        file: Option<PathBuf>,
    },
    Cards(cards::Args),
    Figures(figures::Args),
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let what = match (&args.what, &args.xlsx) {
        (Some(What::Workbook { file, draws }), _) => return workbook(file, *draws, context, output),
        (None, Some(file)) => return workbook(file, ranges::REPORT_DRAWS, context, output),
        (Some(what), _) => what,
        (None, None) => return Ok(true),
    };
    let (text, file) = match what {
        What::Workbook { .. } => return Ok(true),
        What::Text { file } => {
            let workspace = tare_app::Workspace::open(&context.folder(), false).map_err(|d| vec![d])?;
            let (_, loaded) = context.document(&workspace)?;
            (text_form::write(&loaded.document), file)
        }
        What::Parts { file } => (export::parts_csv(&view::parts(&context.open(output)?.study)), file),
        What::Cards(args) => return cards::run(args, context, output),
        What::Figures(args) => return figures::run(args, context, output),
    };
    match file {
        None if output.json => output.json(&serde_json::json!({ "ok": true, "text": text })),
        None => output.line(text.trim_end()),
        Some(file) => {
            files::write(file, text.as_bytes()).map_err(|d| vec![d])?;
            if output.json {
                output.json(&serde_json::json!({ "ok": true, "file": file.display().to_string(), "bytes": text.len() }));
            }
        }
    }
    Ok(true)
}

fn workbook(file: &Path, draws: u64, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let texts = open.session.texts(&open.loaded.document)?;
    let drawing = Drawing::begin();
    let (document, study) = (&open.loaded.document, &open.study);
    let found = ranges::of_headlines(document, study, &open.session.library, draws, ranges::threads(), drawing.watch());
    drop(drawing);
    let written = workbook::write(&texts, document, study, found.as_ref(), &[])?;
    files::write(file, &written.bytes).map_err(|d| vec![d])?;
    if output.json {
        output.json(&serde_json::json!({
            "ok": true, "file": file.display().to_string(), "bytes": written.bytes.len(), "formulas": written.formulas,
            "inputs": written.inputs, "values": written.values,
        }));
    } else {
        output.line(format!("{}: {} formulas, {} values stated", file.display(), written.formulas, written.inputs));
        for what in &written.values {
            output.line(format!("  a value, not a formula: {what}"));
        }
    }
    Ok(true)
}
