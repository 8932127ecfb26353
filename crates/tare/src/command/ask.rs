//! `tare ask`: questions to all studies at once.

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::Table;
use tare_app::collection::{self, Answer, Asked, Collection, Wanted, ask};
use tare_app::show_number;
use tare_diag::Diag;

/// Ask all studies of the workspace: which parts, joints, operations ... are like this, and what of them
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare ask                                  saved questions\n  tare ask sealed-covers\n  tare ask part \"has(name, 'cover') and length * width > 1 [m^2]\" --show \"cost / (length * width)\" --show mass\n  tare ask joint \"has(method, 'screw') and count > 20\" --show \"manual / count\" --save long-screw-rows\n  tare ask study true --show \"cost / nominal_energy\" --under \"Pack A\"\n\n\
                        Conditions and what is shown are formulas as in calculations: texts in single quotes, numbers with their unit in brackets, `and`, `or`, `not`, \
                        any, all, count, sum over relations such as `joints.method`, and `has(text, 'piece')`. What is not known is no hit. Studies of one client are \
                        asked with the house's own; those of other clients are left out."
)]
pub(crate) struct Args {
    /// A saved question; or what is asked for: part, joint, feature, operation, finding, hold, removal, study
    what: Option<String>,
    /// The condition
    when: Option<String>,
    /// What to show of each hit: a formula; as often as wanted
    #[arg(long, value_name = "FORMULA")]
    show: Vec<String>,
    /// Studies of this client, with the house's own
    #[arg(long, value_name = "NAME")]
    client: Option<String>,
    /// Compute all studies under the scenario of this one
    #[arg(long, value_name = "STUDY")]
    under: Option<String>,
    /// Keep the question in the workspace under this name
    #[arg(long, value_name = "KEY")]
    save: Option<String>,
    /// Rows shown
    #[arg(long, value_name = "N", default_value_t = 40)]
    rows: usize,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let session = context.session(args.save.is_some(), output)?;
    let (saved, problems) = collection::saved(&session);
    output.messages(&problems);
    let Some(what) = &args.what else { return Ok(list(&saved, output)) };
    let asked = match (&args.when, saved.iter().find(|q| q.key == *what)) {
        (None, Some(known)) => known.clone(),
        (None, None) if collection::row_kind(what).is_err() => {
            let known = saved.iter().map(|q| q.key.as_str());
            let diag = Diag::error("question-unknown", format!("there is no saved question `{what}`"));
            return Err(vec![
                diag.did_you_mean(what, known).hint("`tare ask` lists them; `tare ask part \"CONDITION\"` asks a new one"),
            ]);
        }
        (when, _) => Asked {
            key: args.save.clone().unwrap_or_default(),
            title: args.save.clone().unwrap_or_default(),
            rows: what.clone(),
            when: when.clone().unwrap_or_else(|| "true".to_owned()),
            show: Vec::new(),
        },
    };
    let asked = Asked { show: if args.show.is_empty() { asked.show.clone() } else { args.show.clone() }, ..asked };
    let progress = Progress::of("reading the studies");
    let totals_only = asked.of_totals_alone();
    let wanted = Wanted { client: args.client.clone(), under: args.under.clone(), totals_only, only: None };
    let collection = Collection::load(&session, &wanted)?;
    let schema = collection.schema(&session);
    let answer = ask(&collection, &schema, &asked)?;
    drop(progress);
    if let Some(key) = &args.save {
        let path = collection::save(&session, &Asked { key: key.clone(), ..asked.clone() }).map_err(|d| vec![d])?;
        output.wrapped("saved: ", &path.display().to_string());
    }
    if output.json {
        output.json(&serde_json::json!({ "question": asked.title, "answer": answer }));
    } else {
        print(&answer, &asked, args.rows, output);
    }
    Ok(true)
}

fn list(saved: &[Asked], output: &Output) -> bool {
    if output.json {
        let each: Vec<_> = saved
            .iter()
            .map(|q| serde_json::json!({ "key": q.key, "title": q.title, "rows": q.rows, "when": q.when, "show": q.show }))
            .collect();
        output.json(&serde_json::json!({ "questions": each }));
        return true;
    }
    let mut table = Table::new(&["question", "~asks"]);
    for asked in saved {
        table.row([asked.key.clone(), asked.title.clone()]);
    }
    table.print(output);
    true
}

fn print(answer: &Answer, asked: &Asked, most: usize, output: &Output) {
    if !asked.title.is_empty() {
        output.line(&asked.title);
    }
    let letter = |at: usize| char::from(b'a' + at as u8).to_string();
    for (at, (text, unit)) in answer.columns.iter().enumerate() {
        output.wrapped(
            &format!("{}: ", letter(at)),
            &format!("{text}{}", if unit == "1" { String::new() } else { format!("  in {unit}") }),
        );
    }
    let letters: Vec<String> = (0..answer.columns.len()).map(|at| format!(">{}", letter(at))).collect();
    let titles: Vec<&str> = ["~study", "what", "~name"].into_iter().chain(letters.iter().map(String::as_str)).collect();
    let mut table = Table::new(&titles);
    for row in answer.rows.iter().take(most) {
        let name = if row.name == row.study { String::new() } else { row.name.clone() };
        let values = row.values.iter().map(|value| value.map_or_else(|| "-".to_owned(), |value| show_number(value, 4)));
        table.row([row.study.clone(), row.address.clone(), name].into_iter().chain(values));
    }
    table.print(output);
    let more = answer.rows.len().saturating_sub(most);
    if more > 0 {
        output.line(format!("... and {more} more; `--rows {}` shows them", answer.rows.len()));
    }
    let apart = if answer.apart > 0 { format!("; {} of other clients left out", answer.apart) } else { String::new() };
    output.line(format!("{} hits in {} studies{apart}", answer.rows.len(), answer.studies));
}
