//! `tare walk`: what a change of volume, place or rates comes to, factor by factor.

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::Table;
use tare_app::compare::{WalkAsked, quotes, walk};
use tare_app::release::{Program, To};
use tare_app::view::{self, WalkView};
use tare_diag::{Diag, Place};

/// A walk from the study to itself elsewhere: volume, place, rates, each alone and what they do together
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare walk --step 'volume: set scenario/volume \"40000 1/a\"' --step 'life: set scenario/life \"8 a\"'\n  tare walk --step 'place: set \"organisation Pack maker/book\" region-b'\n  tare walk --quote P6.13.2\n  tare walk --release 1 --to 2\n  tare walk --release 2 --to now\n\n\
                        Each step is a name, a colon and edits in the words of `tare edit`, several apart by `;`. Every step is computed alone from the study as it is; what they do \
                        together beyond that is a row of its own, so that the walk closes. Between releases the steps are the entries, then texts of calculations, texts of materials, rates, and the scenario."
)]
pub(crate) struct Args {
    /// A step: `name: edit; edit`
    #[arg(long = "step", value_name = "STEP", required_unless_present_any = ["quote", "to"])]
    steps: Vec<String>,
    /// Instead from nothing to the quotes of this part, over the kinds of cost the model sees in it
    #[arg(long, value_name = "LABEL", conflicts_with = "steps")]
    quote: Option<String>,
    /// Instead from the release that `--release` names to this one, or to the study as it is: a number, or `now`
    #[arg(long, value_name = "N", conflicts_with_all = ["steps", "quote"])]
    to: Option<String>,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    if let Some(to) = &args.to {
        return between(context, to, output);
    }
    context.not_of_a_release("a walk by steps or quotes", "`--to N` or `--to now` walks on from the release")?;
    let factors = read(&args.steps)?;
    let open = context.open(output)?;
    let texts = open.session.texts(&open.loaded.document)?;
    if let Some(label) = &args.quote {
        let found = quotes(&texts, &open.loaded.document, &open.study, label)?;
        let views: Vec<(String, WalkView)> =
            found.iter().filter_map(|(name, walk)| Some((name.clone(), view::walk_rows(walk)?))).collect();
        return Ok(quoted(&open.info.name, label, &views, output));
    }
    let found = walk(&texts, &open.loaded.document, &open.study, &factors)?;
    let Some(view) = view::walk_rows(&found) else {
        return Err(vec![
            Diag::error("walk-open", "the total is not known at both ends of the walk").hint("`tare cost` says why"),
        ]);
    };
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "walk": view }));
        return Ok(true);
    }
    output.line(&open.info.name);
    print(&view, ["as it is", "with all of it"], output);
    Ok(true)
}

/// Prints a walk with the words for its ends.
fn print(view: &WalkView, [start, end]: [&str; 2], output: &Output) {
    let mut table = Table::new(&["~step", ">change"]);
    table.row([start.to_owned(), view.start.text.clone()]);
    for (name, figure) in &view.steps {
        table.row([name.clone(), signed(figure)]);
    }
    table.row(["together, beyond each alone".to_owned(), signed(&view.interaction)]);
    table.row([end.to_owned(), view.end.text.clone()]);
    table.print(output);
    output.line(format!("left unexplained: {}", view.rest));
}

/// A walk from a release to another, or to the study as it is.
fn between(context: &Context, to: &str, output: &mut Output) -> Outcome {
    let Some(from) = context.release else {
        let says = "a walk to a release begins at one, found no `--release`";
        return Err(vec![Diag::error("walk-release", says).hint(format!("write it like `tare walk --release 1 --to {to}`"))]);
    };
    let end = match to.parse() {
        Ok(number) => To::Release(number),
        Err(_) if to == "now" => To::Now,
        Err(_) => {
            let diag = Diag::error("walk-release", format!("`{to}` is no release, expected a number or `now`"));
            return Err(vec![diag.at(Place::address("--to"))]);
        }
    };
    let _progress = Progress::of("computing the steps");
    let session = context.session(false, output)?;
    let (info, _) = context.document(&session.workspace)?;
    let found = session.walk_releases(&info, from, end, &Program::this())?;
    output.messages(&found.doubts);
    let Some(view) = view::walk_rows(&found.walk) else {
        return Err(vec![
            Diag::error("walk-open", "the total is not known at both ends of the walk")
                .hint(format!("`tare cost --release {from}` says why")),
        ]);
    };
    if output.json {
        output.json(&serde_json::json!({ "study": info.name, "from": from, "to": to, "stages": found.stages, "walk": view }));
        return Ok(true);
    }
    let shown = match end {
        To::Release(number) => format!("release {number}"),
        To::Now => "the study as it is".to_owned(),
    };
    output.line(&info.name);
    if found.stages.is_empty() {
        output.line(format!("nothing differs between release {from} and {shown}"));
        return Ok(true);
    }
    print(&view, [&format!("release {from}"), &shown], output);
    for stage in found.stages.iter().filter(|stage| !stage.texts.is_empty()) {
        output.wrapped("", &format!("{}: {}", stage.name, stage.texts.join(", ")));
    }
    Ok(true)
}

fn signed(figure: &tare_app::Figure) -> String {
    format!("{}{}", if figure.value > 0.0 { "+" } else { "" }, figure.text)
}

/// Prints walks from nothing to quotes.
fn quoted(study: &str, label: &str, views: &[(String, WalkView)], output: &Output) -> bool {
    if output.json {
        let each: Vec<_> = views.iter().map(|(name, walk)| serde_json::json!({ "quote": name, "walk": walk })).collect();
        output.json(&serde_json::json!({ "study": study, "part": label, "quotes": each }));
        return true;
    }
    output.line(study);
    for (name, view) in views {
        output.heading(&format!("{label}: from the model to the quote {name}"));
        let mut table = Table::new(&["~step", ">amount"]);
        for (kind, figure) in view.steps.iter().filter(|(_, figure)| figure.value != 0.0) {
            table.row([kind.clone(), signed(figure)]);
        }
        table.row(["not explained by the model".to_owned(), signed(&view.interaction)]);
        table.row(["quoted".to_owned(), view.end.text.clone()]);
        table.print(output);
    }
    true
}

/// Reads steps: a name, a colon, edits.
fn read(steps: &[String]) -> Result<Vec<WalkAsked>, Vec<Diag>> {
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    for step in steps {
        match step.split_once(':') {
            Some((name, edits)) if !name.trim().is_empty() && !edits.trim().is_empty() => {
                let edits = apart(edits).into_iter().map(str::trim).filter(|e| !e.is_empty()).map(str::to_owned).collect();
                found.push(WalkAsked { name: name.trim().to_owned(), edits });
            }
            _ => problems.push(
                Diag::error("walk-step", format!("`{step}` is no step, expected a name, a colon and edits"))
                    .hint("write it like `volume: set scenario/volume \"40000 1/a\"`"),
            ),
        }
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

/// Edits apart at each `;` that stands neither in quotes nor behind `\`: as the words of an edit are read.
fn apart(edits: &str) -> Vec<&str> {
    let (mut found, mut begun, mut quote) = (Vec::new(), 0, None);
    let mut letters = edits.char_indices();
    while let Some((at, letter)) = letters.next() {
        match (letter, quote) {
            ('\\', _) => {
                letters.next();
            }
            (mark @ ('"' | '\''), None) => quote = Some(mark),
            (mark, Some(open)) if mark == open => quote = None,
            (';', None) => {
                found.push(&edits[begun..at]);
                begun = at + 1;
            }
            _ => {}
        }
    }
    found.push(&edits[begun..]);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edits_stand_apart_outside_quotes() {
        let step = r#"a: set P1/says "x; y" ; set P1/name 'it"s; z';set P2/says one\;two; "#;
        let found = read(&[step.to_owned()]).expect("a step");
        assert_eq!(found[0].edits, [r#"set P1/says "x; y""#, r#"set P1/name 'it"s; z'"#, r"set P2/says one\;two"]);
        assert!(read(&["no step".to_owned()]).is_err() && read(&["a: ".to_owned()]).is_err());
    }
}
