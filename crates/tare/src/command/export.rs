//! `tare export`: study text, tables, and the study folder.

use super::{Context, Outcome};
use crate::output::Output;
use clap::Subcommand;
use std::path::{Path, PathBuf};
use tare_app::folder::{self, disk};
use tare_app::idea::EditState;
use tare_app::{Loaded, export, files, text_form, view};
use tare_diag::{Diag, Place};

/// Write the study as a folder, as text, or its parts list as CSV
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare export folder pack           everything, to edit in a spreadsheet; read back with `tare import pack`\n  tare export folder pack.zip       the same as one file\n  tare export text pack.toml        read back with `tare new --from pack.toml`\n  tare export parts parts.csv\n  tare export parts                 to standard output"
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
    /// The parts list as CSV; text that a spreadsheet would take for a formula stays text
    #[command(after_help = "Examples:\n  tare export parts parts.csv\n  tare export parts | sort -t, -k8")]
    Parts {
        /// File to write; standard output without one
        file: Option<PathBuf>,
    },
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let (text, file) = match &args.what {
        What::Folder { path, replace } => return write_folder(path, *replace, context, output),
        What::Text { file } => {
            let workspace = tare_app::Workspace::open(&context.folder(), false).map_err(|d| vec![d])?;
            let (_, loaded) = context.document(&workspace)?;
            (text_form::write(&loaded.document), file)
        }
        What::Parts { file } => (export::parts_csv(&view::parts(&context.open(output)?.study)), file),
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

fn write_folder(path: &Path, replace: bool, context: &Context, output: &mut Output) -> Outcome {
    disk::may_write(path).map_err(|d| vec![d])?;
    let session = context.session(false, output)?;
    let (info, loaded) = context.document(&session.workspace)?;
    if !replace && path.exists() && disk::is_study_folder(path) {
        not_yet_taken(&session, path, &loaded)?;
    }
    let (files, notes) = folder::export(&session.workspace, &loaded)?;
    disk::save(path, &files).map_err(|d| vec![d])?;
    output.messages(&notes);
    let bytes: usize = files.values().map(Vec::len).sum();
    if output.json {
        output.json(&serde_json::json!({
            "ok": true, "study": info.name, "entry": loaded.head, "path": path.display().to_string(), "files": files.len(), "bytes": bytes
        }));
    } else {
        output.wrapped("", &format!("{} as of entry {} in {}: {} files", info.name, loaded.head, path.display(), files.len()));
    }
    Ok(true)
}

/// Refuses to write over a folder that holds what the study does not have.
fn not_yet_taken(session: &tare_app::Session, path: &Path, loaded: &Loaded) -> Result<(), Vec<Diag>> {
    let refused = |says: String| {
        let diag = Diag::error("folder-edited", says).at(Place::File(path.display().to_string()));
        vec![diag.hint("`tare import` shows and takes what it holds; `--replace` writes over it")]
    };
    let there = disk::load(path).and_then(|files| folder::plan(session, &files, false)).map_err(|problems| {
        refused(format!("the folder that is there cannot be compared with the study ({})", problems[0].message))
    })?;
    if there.info.id != loaded.document.id {
        return Err(refused(format!("the folder that is there is of another study, `{}`", there.info.name)));
    }
    let edits = there.edits.iter().filter(|edit| edit.state != EditState::AlreadySo).count();
    if edits > 0 || !there.problems.is_empty() {
        return Err(refused(format!("the folder that is there holds edits that the study does not have ({edits})")));
    }
    Ok(())
}
