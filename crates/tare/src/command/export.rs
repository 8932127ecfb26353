//! `tare export`: study text, tables, cards and drawings.

mod cards;
mod figures;

use super::{Context, Outcome};
use crate::output::Output;
use clap::Subcommand;
use std::path::PathBuf;
use tare_app::{export, files, text_form, view};

/// Write the study as text, its parts list as CSV, cards of its parts, the charts of its report
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare export text pack.toml        read back with `tare new --from pack.toml`\n  tare export parts parts.csv\n  tare export parts                 to standard output\n  tare export cards wall.pdf        four to a page, to be cut apart\n  tare export figures figures --png"
)]
pub(crate) struct Args {
    #[command(subcommand)]
    what: What,
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
    let (text, file) = match &args.what {
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
