//! `tare new`: an empty study, or documents from study text or a study folder.

use super::{Context, Outcome};
use crate::output::Output;
use serde_json::json;
use std::path::{Path, PathBuf};
use tare_app::create::{Created, NewStudy, from_text, new_study};
use tare_app::folder::{self, disk};
use tare_app::text_form::TextFile;
use tare_app::{Session, Workspace, files};
use tare_diag::{Diag, Place};

/// Begin a study: empty, from study text, or from a study folder
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare new \"Pack A\" --currency EUR --book region-a --volume \"20000 1/a\" --life \"5 a\"\n  tare new --from pack.toml joints.toml\n  tare new \"Pack B\" --from folder-of-texts/\n  tare new --from pack.zip               a study folder, as `tare export folder` writes it"
)]
pub(crate) struct Args {
    /// Name of the study
    #[arg(required_unless_present = "from")]
    name: Option<String>,
    /// Study text: files, or folders of them; or one study folder, packed or not
    #[arg(long, value_name = "FILE", num_args = 1..)]
    from: Vec<PathBuf>,
    /// Currency code
    #[arg(long, value_name = "CODE", default_value = "EUR")]
    currency: String,
    /// Rate book, by name
    #[arg(long, value_name = "NAME")]
    book: Option<String>,
    /// Pieces a year, such as "20000 1/a"
    #[arg(long, value_name = "TEXT")]
    volume: Option<String>,
    /// Years of production, over which tools are paid, such as "5 a"
    #[arg(long, value_name = "TEXT")]
    life: Option<String>,
    /// Year of the money
    #[arg(long, value_name = "YEAR")]
    year: Option<String>,
    /// Place of making
    #[arg(long, value_name = "TEXT")]
    place: Option<String>,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let folder = context.folder_or("tare-work");
    if let Some(path) = args.from.iter().find(|path| disk::is_study_folder(path)) {
        return from_folder(args, path, &folder, context, output);
    }
    let texts = read_texts(&args.from)?;
    for (name, text) in &texts {
        output.knows(name, text);
    }
    // Problems of the texts are found before a folder is made.
    let fresh = !folder.join("workspace.sqlite").exists();
    if fresh && !texts.is_empty() {
        let (library, _) = tare_app::library_with(&tare_app::own_files(&folder)?);
        tare_app::create::check_texts(&library, &as_files(&texts))?;
    }
    let session = Session::with(Workspace::open_or_create(&folder).map_err(|d| vec![d])?)?;
    let created = if texts.is_empty() {
        let new = NewStudy {
            name: args.name.clone().unwrap_or_default(),
            currency: args.currency.clone(),
            book: args.book.clone(),
            year: args.year.clone(),
            volume: args.volume.clone(),
            life: args.life.clone(),
            place: args.place.clone(),
        };
        vec![new_study(&session.workspace, &session.library, &new, &context.author)?]
    } else {
        let set = args
            .from
            .first()
            .and_then(|p| p.file_stem())
            .map_or_else(|| "study".to_owned(), |s| s.to_string_lossy().into_owned());
        from_text(&session.workspace, &session.library, &set, args.name.as_deref(), &as_files(&texts), &context.author)?
    };
    report(&created, &folder, output);
    Ok(true)
}

fn from_folder(args: &Args, path: &Path, workspace: &Path, context: &Context, output: &mut Output) -> Outcome {
    if args.from.len() > 1 {
        let says = format!("{} is a study folder, which is read alone, found {} files", path.display(), args.from.len());
        return Err(vec![Diag::error("folder-alone", says).at(Place::File(path.display().to_string()))]);
    }
    let files = disk::load(path)?;
    show_lines(&files, output);
    // problems of the folder are found before a workspace is made
    if !workspace.join("workspace.sqlite").exists() {
        folder::check(&files)?;
    }
    let session = Session::with(Workspace::open_or_create(workspace).map_err(|d| vec![d])?)?;
    let created = folder::create(&session, &files, args.name.as_deref(), &context.author)?;
    report(&[created], workspace, output);
    Ok(true)
}

/// Lets messages show the lines of `study.toml`.
pub(crate) fn show_lines(files: &tare_app::folder::Files, output: &mut Output) {
    if let Some(text) = files.get("study.toml").and_then(|bytes| std::str::from_utf8(bytes).ok()) {
        output.knows("study.toml", text);
    }
}

fn as_files(texts: &[(String, String)]) -> Vec<TextFile<'_>> {
    texts.iter().map(|(name, text)| TextFile { name, text }).collect()
}

fn report(created: &[Created], folder: &Path, output: &Output) {
    for one in created {
        output.messages(&one.warnings);
        if !output.json {
            output.line(format!("{} in {}: {} records", one.info.name, folder.display(), one.records));
        }
    }
    if output.json {
        let each: Vec<_> = created.iter().map(|c| json!({ "name": c.info.name, "records": c.records })).collect();
        output.json(&json!({ "ok": true, "workspace": folder.display().to_string(), "created": each }));
    }
}

/// Reads files, and the `.toml` files of folders in order of name.
pub(crate) fn read_texts(paths: &[PathBuf]) -> Result<Vec<(String, String)>, Vec<Diag>> {
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    for path in paths {
        let mut files = vec![path.clone()];
        if path.is_dir() {
            let entries = std::fs::read_dir(path).map_err(|e| vec![files::file_diag(&e, path)])?;
            files = entries.flatten().map(|e| e.path()).filter(|p| p.extension().is_some_and(|e| e == "toml")).collect();
            files.sort();
            if files.is_empty() {
                let says = format!("{} holds no study text, expected files that end in .toml", path.display());
                problems.push(Diag::error("text-none", says).at(Place::File(path.display().to_string())));
            }
        }
        for file in files {
            match files::read_text(&file) {
                Ok(text) => found.push((file.display().to_string(), text)),
                Err(diag) => problems.push(diag),
            }
        }
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}
