//! `tare export`: study text, tables, a workbook, the study folder, cards and drawings.

mod cards;
mod figures;

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Drawing;
use clap::Subcommand;
use std::path::Path;
use std::path::PathBuf;
use tare_app::{export, files, ranges, text_form, view, workbook};

/// Write the study as a folder, as a workbook, as text, its parts list as CSV, cards of its parts, the charts of its report
#[derive(Debug, clap::Args)]
#[command(
    args_conflicts_with_subcommands = true,
    arg_required_else_help = true,
    after_help = "Examples:\n  tare export folder pack           everything, to edit in a spreadsheet; read back with `tare import pack`\n  tare export folder pack.zip       the same as one file\n  tare export workbook pack.xlsx    live formulas\n  tare export text pack.toml        read back with `tare new --from pack.toml`\n  tare export parts parts.csv\n  tare export parts                 to standard output\n  tare export cards wall.pdf        four to a page, to be cut apart\n  tare export figures figures --png"
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
    /// The whole study with photos and held texts: tables, as a folder or one zip file
    #[command(after_help = "\
One table for each kind of record, study.toml with the small ones, photos, and
the texts the study computes with. Nothing is lost but the history, which stays
in the workspace. A study folder that is there is replaced if the study has all
that it holds; else see --replace. The form: docs/study-folder.md.

Examples:
  tare export folder pack
  tare export folder pack.zip --study \"Pack A\"
  tare import pack               shows what was changed in it; --yes takes that as one entry
  tare new --from pack.zip       makes the study elsewhere")]
    Folder {
        /// Folder to write, or file that ends in .zip
        path: PathBuf,
        /// Write over a study folder even if it holds edits the study does not have, or is of another study
        #[arg(long)]
        replace: bool,
    },
    /// The study as a workbook of live formulas: change a wage there and the total moves
    #[command(
        after_help = "Examples:\n  tare export workbook pack.xlsx\n  tare export workbook pack.xlsx --draws 0     without ranges of the headlines"
    )]
    Workbook {
        /// File to write
        file: PathBuf,
        /// The most draws for the ranges of the headlines (else 40960, with `--release` those of the release); 0 leaves them out
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(0..=20_000_000))]
        draws: Option<u64>,
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

impl Args {
    /// Whether what is written shows the numbers of one study; its text is that of its records.
    pub(super) fn shows_one_study(&self) -> bool {
        !matches!(self.what, Some(What::Text { .. }))
    }
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let what = match (&args.what, &args.xlsx) {
        (Some(What::Folder { path, replace }), _) => return super::export_folder::run(path, *replace, context, output),
        (Some(What::Workbook { file, draws }), _) => return workbook(file, *draws, context, output),
        (None, Some(file)) => return workbook(file, None, context, output),
        (Some(what), _) => what,
        (None, None) => return Ok(true),
    };
    let (text, file) = match what {
        What::Folder { .. } | What::Workbook { .. } => return Ok(true),
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

fn workbook(file: &Path, draws: Option<u64>, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let texts = open.session.texts(&open.loaded.document)?;
    let drawing = Drawing::begin();
    let (document, study) = (&open.loaded.document, &open.study);
    let options = open.draws(draws)?;
    let found = ranges::of_headlines(document, study, &open.session.library, options, drawing.watch());
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
