//! `tare export figures`: the charts of the report as files.

use crate::command::{Context, Outcome, report as reports};
use crate::output::Output;
use crate::progress::{Drawing, Progress};
use std::path::PathBuf;
use tare_app::browser::Browser;
use tare_app::export::figures_csv;
use tare_app::files;
use tare_app::report::{FIGURE_WIDTH, figures, pngs};

/// Every chart of the report as an SVG file that needs nothing else, with a list
///
/// Files are named by the number the figure has in the report; index.csv lists number, title, file and section.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare export figures figures\n  tare export figures figures --png --width 2400\n  tare export figures figures --draws 0       without what draws bring"
)]
pub(super) struct Args {
    /// Folder to write to; made if it is not there
    folder: PathBuf,
    /// As PNG too, drawn by an installed browser
    #[arg(long)]
    png: bool,
    /// Width of a wide chart in pixels, as PNG
    #[arg(long, value_name = "PX", default_value_t = 1640, value_parser = clap::value_parser!(u32).range(200..=8_000))]
    width: u32,
    #[command(flatten)]
    content: reports::Content,
}

pub(super) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let mut open = context.open(output)?;
    let drawing = Drawing::begin();
    let filled = args.content.filled(&mut open, context, output, drawing.watch())?;
    drop(drawing);
    let found = figures(&filled, FIGURE_WIDTH);
    std::fs::create_dir_all(&args.folder).map_err(|e| vec![files::file_diag(&e, &args.folder)])?;
    let name = |at: usize, ending: &str| {
        let title: String = found[at].title.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
        let words: Vec<&str> = title.split('-').filter(|w| !w.is_empty()).take(6).collect();
        format!("figure-{:02}-{}.{ending}", found[at].number, words.join("-"))
    };
    let mut names: Vec<(String, usize)> = Vec::new();
    for (at, figure) in found.iter().enumerate() {
        let file = name(at, "svg");
        files::write(&args.folder.join(&file), figure.svg.as_bytes()).map_err(|d| vec![d])?;
        names.push((file, at));
    }
    let list = |names: &[(String, usize)]| {
        let rows = names.iter().map(|(file, at)| (&found[*at], file.as_str()));
        files::write(&args.folder.join("index.csv"), figures_csv(rows).as_bytes()).map_err(|d| vec![d])
    };
    // what is there is listed before a browser is needed
    list(&names)?;
    if args.png {
        let _progress = Progress::of("drawing the pictures");
        let hint = "the SVG files are written";
        let pictures = Browser::find().and_then(|browser| pngs(&browser, &found, args.width)).map_err(|d| vec![d.hint(hint)])?;
        for (at, bytes) in pictures.iter().enumerate() {
            let file = name(at, "png");
            files::write(&args.folder.join(&file), bytes).map_err(|d| vec![d])?;
            names.push((file, at));
        }
        list(&names)?;
    }
    if output.json {
        let files: Vec<&str> = names.iter().map(|(file, _)| file.as_str()).collect();
        output.json(&serde_json::json!({ "ok": true, "folder": args.folder.display().to_string(), "figures": found.len(), "files": files }));
    } else {
        output.line(format!("{}: {} figures, {} files, index.csv", args.folder.display(), found.len(), names.len()));
    }
    Ok(true)
}
