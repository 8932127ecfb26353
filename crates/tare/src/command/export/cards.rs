//! `tare export cards`: cards of parts for a wall.

use crate::command::report::{self, counted};
use crate::command::serve::PORT;
use crate::command::{Context, Outcome};
use crate::output::Output;
use crate::progress::Progress;
use std::path::PathBuf;
use tare_app::browser::Browser;
use tare_app::files;
use tare_app::pdf::pages;
use tare_app::report::{CARDS_PER_PAGE, Choice, Paper, cards, cards_html};
use tare_diag::Diag;
use tare_web::labels::{code, part_address};

/// Cards of parts for a wall, four to a page, to be cut apart
///
/// Each with photo, label and its code, count, mass, material, cost with its uncertainty, make or buy. A name that ends in .pdf is printed by an
/// installed browser, any other is written as HTML.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare export cards wall.pdf\n  tare export cards module.pdf --under P3 --level 1 --paper letter\n  tare export cards wall.html --base http://192.168.1.20:8273"
)]
pub(super) struct Args {
    /// File to write: NAME.pdf or NAME.html
    file: PathBuf,
    /// Only this part and what is in it, by its label
    #[arg(long, value_name = "LABEL")]
    under: Option<String>,
    /// Only so deep: 1 for what sits directly in it
    #[arg(long, value_name = "N")]
    level: Option<usize>,
    /// Size of paper: a4 or letter
    #[arg(long, value_name = "SIZE", default_value = "a4", value_parser = report::paper)]
    paper: Paper,
    /// Address of the desk that the codes open (else the one on this machine)
    #[arg(long, value_name = "URL")]
    base: Option<String>,
}

pub(super) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let choice = Choice { under: args.under.clone(), level: args.level };
    let photo = |digest: &str| open.session.photo(digest).ok().flatten();
    let (document, study) = (&open.loaded.document, &open.study);
    let made = cards(document, study, &open.session.library, open.loaded.head, &choice, photo);
    let (mut sheet, parts) = made.map_err(|d| vec![d])?;
    sheet.paper = args.paper;
    let base = args.base.clone().unwrap_or_else(|| format!("http://127.0.0.1:{PORT}"));
    sheet.codes = format!("Codes open the part's page at {base}, where the desk is served.");
    let mut problems: Vec<Diag> = Vec::new();
    for (card, part) in sheet.cards.iter_mut().zip(&parts) {
        match code(&part_address(&base, &part.to_string())) {
            Ok(drawn) => card.code = drawn.into_string(),
            // the address is the same length on every card, so that one message says it
            Err(problem) => problems = vec![problem],
        }
    }
    let page = cards_html(&sheet);
    let as_pdf = args.file.extension().is_some_and(|e| e.eq_ignore_ascii_case("pdf"));
    let (bytes, printed) = if as_pdf {
        let _progress = Progress::of("printing the cards");
        let hint = "`tare export cards NAME.html` writes the same without a browser";
        let bytes = Browser::find().and_then(|browser| browser.pdf(&page)).map_err(|d| vec![d.hint(hint)])?;
        let count = pages(&bytes);
        (bytes, count)
    } else {
        (page.into_bytes(), sheet.cards.len().div_ceil(CARDS_PER_PAGE))
    };
    files::write(&args.file, &bytes).map_err(|d| vec![d])?;
    if output.json {
        output.json(&serde_json::json!({
            "ok": true, "file": args.file.display().to_string(), "cards": sheet.cards.len(), "pages": printed,
        }));
    } else {
        let (cards, pages) = (counted(sheet.cards.len(), "card"), counted(printed, "page"));
        output.line(format!("{}: {cards} on {pages}", args.file.display()));
    }
    output.messages(&problems);
    Ok(true)
}
