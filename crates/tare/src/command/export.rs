//! `tare export`: study text, tables, a workbook, the study folder, cards and drawings.

mod cards;
mod figures;

use super::ideas::{evaluated, options};
use super::{Context, Outcome, ReaderArgs};
use crate::output::Output;
use crate::progress::Drawing;
use clap::Subcommand;
use serde_json::json;
use std::path::{Path, PathBuf};
use tare_app::privacy::Told;
use tare_app::{export, files, idea, ranges, tables, text_form, view, workbook};
use tare_diag::Diag;

/// Write the study as a folder, a workbook, tables or text, cards of its parts, the charts of its report; masked for others
#[derive(Debug, clap::Args)]
#[command(
    arg_required_else_help = true,
    after_help = "Examples:\n  tare export folder pack           everything, to edit in a spreadsheet; read back with `tare import pack`\n  tare export folder pack.zip       the same as one file\n  tare export workbook pack.xlsx    live formulas\n  tare export tables tables --format jsonl\n  tare export text pack.toml        read back with `tare new --from pack.toml`\n  tare export parts parts.csv\n  tare export parts                 to standard output\n  tare export cards wall.pdf        four to a page, to be cut apart\n  tare export figures figures --png\n  tare export workbook for-them.xlsx --for client"
)]
pub(crate) struct Args {
    #[command(flatten)]
    readers: ReaderArgs,
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
    /// Every table of the study, one file each, with a data dictionary beside them
    #[command(
        after_help = "Examples:\n  tare export tables tables\n  tare export tables tables --format jsonl --only parts,joints\n  tare export tables tables --format parquet      a program built with `--features parquet`\n  tare export --for open tables public"
    )]
    Tables {
        /// Folder to write into; it is made where it is not there
        folder: PathBuf,
        /// Form of the files
        #[arg(long, value_name = "FORM", default_value = "csv", value_parser = ["csv", "jsonl", "parquet"])]
        format: String,
        /// Only these tables, with commas between them
        #[arg(long, value_name = "TABLES", value_delimiter = ',')]
        only: Vec<String>,
        /// Draws behind the ideas; 0 leaves them out
        #[arg(long, value_name = "N", default_value_t = 4_096, value_parser = clap::value_parser!(u64).range(0..=2_000_000))]
        draws: u64,
    },
}

impl Args {
    /// Whether what is written shows the numbers of one study; its text is that of its records.
    pub(super) fn shows_one_study(&self) -> bool {
        !matches!(self.what, Some(What::Text { .. }))
    }
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let context = &context.for_readers(args.readers.readers());
    match (&args.what, &args.xlsx) {
        (Some(_), Some(_)) => {
            Err(vec![Diag::error("two-exports", "`--xlsx` is an export of its own").hint("leave one of the two out")])
        }
        (None, None) => {
            Err(vec![Diag::error("no-export", "name what to export").hint("`tare export --help` lists what there is")])
        }
        (Some(What::Folder { .. }), None) if args.readers.others().is_some() => {
            let diag = Diag::error("folder-for-others", "a study folder holds everything and is not masked for others");
            Err(vec![diag.hint("give them `tables`, a workbook or study text")])
        }
        (Some(What::Folder { path, replace }), None) => super::export_folder::run(path, *replace, context, output),
        (None, Some(file)) => workbook(file, None, context, output),
        (Some(What::Cards(args)), None) => cards::run(args, context, output),
        (Some(What::Figures(args)), None) => figures::run(args, context, output),
        (Some(What::Workbook { file, draws }), None) => workbook(file, *draws, context, output),
        (Some(What::Tables { folder, format, only, draws }), None) => tables(folder, format, only, *draws, context, output),
        (Some(What::Text { file }), None) => {
            let text = text_form::write(&context.read(output)?.2.document);
            put(&text, file.as_deref(), context, output)
        }
        (Some(What::Parts { file }), None) => {
            let text = export::parts_csv(&view::parts(&context.open(output)?.study));
            put(&text, file.as_deref(), context, output)
        }
    }
}

/// Writes a text into a file, or to standard output without one.
fn put(text: &str, file: Option<&Path>, context: &Context, output: &mut Output) -> Outcome {
    match file {
        None if output.json => output.json(&json!({ "ok": true, "text": text, "readers": context.told() })),
        None => output.line(text.trim_end()),
        Some(file) => {
            files::write(file, text.as_bytes()).map_err(|d| vec![d])?;
            if output.json {
                let (file, bytes) = (file.display().to_string(), text.len());
                output.json(&json!({ "ok": true, "file": file, "bytes": bytes, "readers": context.told() }));
            }
        }
    }
    Ok(true)
}

fn tables(folder: &Path, format: &str, only: &[String], draws: u64, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let format = tables::Format::ALL.into_iter().find(|f| f.word() == format).unwrap_or(tables::Format::Csv);
    let named = only.iter().any(|name| name == tables::IDEAS);
    if named {
        context
            .not_of_a_release("the table of ideas", "name other tables; `tare export tables` without `--only` leaves it out")?;
    }
    let wanted = draws > 0 && (named || only.is_empty()) && open.release.is_none();
    let ideas = wanted.then(|| {
        let findings = idea::found(&open.loaded.document, &open.study, &open.session.library);
        // fewer draws than the smallest batch say nothing
        evaluated(&open, findings, None, options(draws.max(128), 1))
    });
    let ideas = ideas.transpose()?;
    let source = tables::Source::new(&open.loaded.document, &open.study, &open.session.library).with_ideas(ideas.as_ref());
    let told = context.told();
    let said = told.iter().map(|told| ("readers".to_owned(), told.line())).collect();
    let written = tables::export(&source, folder, format, only, said, !told.is_empty())?;
    if output.json {
        output.json(&json!({ "ok": true, "folder": folder.display().to_string(), "files": written, "readers": told }));
        return Ok(true);
    }
    let rows: u64 = written.iter().map(|file| file.rows).sum();
    output.line(format!("{}: {} tables, {rows} rows, tables.md, schema.json", folder.display(), written.len()));
    Ok(true)
}

fn workbook(file: &Path, draws: Option<u64>, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let texts = open.session.texts(&open.loaded.document)?;
    let told = context.told();
    let notes: Vec<String> = told.iter().map(Told::line).collect();
    let drawing = Drawing::begin();
    let (document, study) = (&open.loaded.document, &open.study);
    let options = open.draws(draws)?;
    let found = ranges::of_headlines(document, study, &open.session.library, options, drawing.watch());
    drop(drawing);
    let written = workbook::write(&texts, document, study, found.as_ref(), &notes)?;
    files::write(file, &written.bytes).map_err(|d| vec![d])?;
    if output.json {
        output.json(&json!({
            "ok": true, "file": file.display().to_string(), "bytes": written.bytes.len(), "formulas": written.formulas,
            "inputs": written.inputs, "values": written.values, "readers": told,
        }));
    } else {
        output.line(format!("{}: {} formulas, {} values stated", file.display(), written.formulas, written.inputs));
        for what in &written.values {
            output.line(format!("  a value, not a formula: {what}"));
        }
    }
    Ok(true)
}
