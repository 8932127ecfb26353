//! What renewing the texts of a study would change: `tare edit renew --dry-run`.

use super::Outcome;
use super::edit::print_differences;
use crate::output::Output;
use crate::progress::Progress;
use crate::table::Table;
use tare_app::renewal::{Change, Renewal, TextChange};
use tare_app::{Document, Session};
use tare_diag::Diag;

/// Shows what would change; where a held text is lost, only which texts differ.
pub(super) fn preview(session: &Session, document: &Document, output: &Output) -> Outcome {
    let progress = Progress::of("computing what would change");
    let found = session.renewal(document);
    drop(progress);
    // with a held text gone there is nothing to compare with; renewing is then the way out
    let (renewal, lost) = match found {
        Ok(renewal) => (renewal, Vec::new()),
        Err(lost) => (Renewal { differences: session.lock_differences(document)?, ..Renewal::default() }, lost),
    };
    if output.json {
        output.json(&serde_json::to_value(&renewal).unwrap_or_default());
    } else if renewal.headlines.is_empty() {
        print_differences(&renewal.differences, output);
    } else {
        print(&renewal, output);
    }
    output.messages(&lost.into_iter().map(Diag::as_warning).collect::<Vec<_>>());
    Ok(true)
}

fn print(renewal: &Renewal, output: &Output) {
    print_differences(&renewal.differences, output);
    let differing = renewal.headlines.iter().filter(|change| change.differs).count();
    output.heading("With the texts there are now");
    numbers(&renewal.headlines, output);
    if differing == 0 {
        output.line("no headline would change");
    }
    for text in &renewal.texts {
        print_text(text, output);
    }
    output.line("");
    output.wrapped("", "nothing was recorded; `tare edit renew` takes the present texts, `tare undo` goes back");
}

fn numbers(changes: &[Change], output: &Output) {
    let mut table = Table::new(&["~number", ">as it is", ">renewed", ""]);
    for change in changes {
        let text = |figure: &Option<tare_app::Figure>| super::text(figure.as_ref());
        let same = if change.differs { "" } else { "same" };
        table.row([change.name.clone(), text(&change.before), text(&change.after), same.to_owned()]);
    }
    table.print(output);
}

fn print_text(text: &TextChange, output: &Output) {
    output.heading(&format!("{} alone", text.key));
    for place in &text.places {
        output.wrapped("  ", &format!("{}: {} -> {}", place.at, place.before, place.after));
    }
    if text.all_places > text.places.len() {
        output.line(format!("  ... and {} more places", text.all_places - text.places.len()));
    }
    match text.all_lines {
        None => output.wrapped("  ", "not computed alone: so many texts differ that this one is counted only in the whole"),
        Some(0) => output.line("  no line of the study would change"),
        Some(all) => {
            // a cost per unit only says again what the cost says
            let headlines = text.headlines.iter().filter(|change| !change.name.starts_with("cost per unit"));
            let rows: Vec<Change> = headlines.chain(&text.lines).cloned().collect();
            numbers(&rows, output);
            output.line(format!("{all} lines would change; the first {} are shown", text.lines.len()));
        }
    }
}
