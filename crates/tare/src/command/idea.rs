//! `tare idea`: one idea or a few: written down, looked into, tried, taken, dropped.

use super::history::print_entry;
use super::ideas::{evaluated, options, print_worth};
use super::{Context, Outcome};
use crate::output::Output;
use crate::table::Table;
use clap::Subcommand;
use serde_json::json;
use tare_app::Stamp;
use tare_app::idea::{self, NewIdea, SetAsked};
use tare_app::view::{self, IdeaRow};

/// One idea: write it down, look into it, try it, take it into a variant, drop it with a reason
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare idea add \"Thinner cover\" --edit 'set P12/wall_thickness \"0.7 mm\"' --one-off \"15000 EUR\" --risk medium\n  tare idea show I1\n  tare idea try I1 I2\n  tare idea take I1 I2 --name \"Pack, second design\"\n  tare idea drop I2 --says \"the flange would leak\"\n  tare idea rebase --study \"Pack, second design\""
)]
pub(crate) struct Args {
    #[command(subcommand)]
    command: Do,
}

#[derive(Debug, Subcommand)]
enum Do {
    /// Record an idea: edits, reason, one-off cost, risk
    #[command(
        after_help = "Examples:\n  tare idea add \"Thinner cover\" --says \"stiff enough by the beads\" --edit 'set P12/wall_thickness \"0.7 mm\"'\n  tare idea add \"Drop the eyes\" --edit \"remove J12\" --edit \"remove P1.10\" --one-off \"2000 .. 5000 EUR\" --needs I1"
    )]
    Add {
        /// Its name
        name: String,
        /// An edit in the words of `tare edit`; as often as needed, in order
        #[arg(long = "edit", value_name = "EDIT")]
        edits: Vec<String>,
        /// The reason
        #[arg(long, default_value = "")]
        says: String,
        /// One-off cost, such as "20000 .. 35000 EUR"
        #[arg(long, value_name = "TEXT")]
        one_off: Option<String>,
        /// How risky it is
        #[arg(long, value_parser = ["low", "medium", "high"])]
        risk: Option<String>,
        /// An idea it needs
        #[arg(long, value_name = "LABEL")]
        needs: Vec<String>,
        /// An idea it excludes
        #[arg(long, value_name = "LABEL")]
        against: Vec<String>,
        /// Where it comes from
        #[arg(long, default_value = "")]
        source: String,
    },
    /// Show an idea: why, what it does, what it comes to line by line
    #[command(after_help = "Examples:\n  tare idea show I1\n  tare idea show screw-to-snap:J34")]
    Show {
        /// Its label
        label: String,
    },
    /// Compute ideas together; nothing is recorded
    #[command(after_help = "Examples:\n  tare idea try I1\n  tare idea try I1 I2 screw-to-snap:J34")]
    Try {
        /// Their labels
        #[arg(required = true)]
        labels: Vec<String>,
    },
    /// Take ideas: a variant of the study with them, tied to it
    #[command(after_help = "Examples:\n  tare idea take I1 I2 --name \"Pack, second design\"")]
    Take {
        /// Their labels
        #[arg(required = true)]
        labels: Vec<String>,
        /// Name of the variant
        #[arg(long)]
        name: String,
    },
    /// Drop an idea with a reason that is kept
    #[command(after_help = "Examples:\n  tare idea drop screw-to-snap:J34 --says \"opened at every service\"")]
    Drop {
        /// Its label
        label: String,
        /// Why
        #[arg(long)]
        says: String,
    },
    /// Let a variant follow the study it was made from
    #[command(after_help = "Examples:\n  tare idea rebase --study \"Pack, second design\"")]
    Rebase,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    match &args.command {
        Do::Add { name, edits, says, one_off, risk, needs, against, source } => {
            let new = NewIdea {
                name: name.clone(),
                says: says.clone(),
                edits: edits.clone(),
                one_off: one_off.clone(),
                risk: risk.clone(),
                needs: needs.clone(),
                against: against.clone(),
                source: source.clone(),
                who: context.author.clone(),
            };
            add(&new, context, output)
        }
        Do::Show { label } => show(label, context, output),
        Do::Try { labels } => attempt(labels, context, output),
        Do::Take { labels, name } => take(labels, name, context, output),
        Do::Drop { label, says } => put_away(label, says, context, output),
        Do::Rebase => rebase(context, output),
    }
}

fn add(new: &NewIdea, context: &Context, output: &mut Output) -> Outcome {
    let session = context.session(true, output)?;
    let (written, mut loaded) = context.document_to_write(&session.workspace)?;
    let (changes, says) = idea::new_idea(&loaded.document, &session.library, loaded.head, new)?;
    let done = session.workspace.record(&mut loaded, &changes, &Stamp { author: context.author.clone(), says })?;
    print_entry(&done, &written, output);
    Ok(true)
}

fn show(label: &str, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let mut findings = idea::found(&open.loaded.document, &open.study, &open.session.library);
    let chosen = findings.named(std::slice::from_ref(&label.to_owned()))?;
    findings.ideas = chosen.clone();
    let view = evaluated(&open, findings, None, options(10_240, 1))?;
    let Some(row) = view.ideas.first() else { return Ok(false) };
    let texts = open.session.texts(&open.loaded.document)?;
    let detail = idea::detail(&texts, &open.loaded.document, &open.study, &chosen);
    let detail = detail.map(|(detail, after)| view::change_rows(&open.study, &after, &detail));
    if output.json {
        output.json(&json!({ "study": open.info.name, "idea": row, "changes": detail }));
        return Ok(row.worth.is_some());
    }
    print_idea(row, output);
    if let Some(detail) = &detail {
        for (title, rows) in [("By kind of cost", &detail.kinds), ("By process", &detail.processes), ("By item", &detail.items)] {
            output.heading(title);
            let mut table = Table::new(&["~what", ">before", ">after", ">change"]);
            for row in rows {
                table.row([row.name.clone(), row.before.clone(), row.after.clone(), row.change.text.clone()]);
            }
            table.print(output);
        }
        output.wrapped("", "lines that do not change are left out; each table adds up to the change of the total");
    }
    Ok(row.worth.is_some())
}

fn print_idea(row: &IdeaRow, output: &Output) {
    output.line(format!("{}  {}", row.label, row.name));
    let said = |first: &str, text: &str| {
        if !text.is_empty() {
            output.wrapped(first, text);
        }
    };
    said("Where:  ", &row.place);
    said("Why:    ", &row.says);
    said("Source: ", &row.source);
    said("First:  ", &row.advice);
    said("Risk:   ", &row.risk);
    if row.state != "open" {
        said("State:  ", &row.state);
    }
    output.heading("Edits");
    for edit in &row.edits {
        output.wrapped(&format!("{:<10} ", edit.state), &edit.text);
        if let Some(problem) = &edit.problem {
            output.wrapped("           ", problem);
        }
    }
    if let Some(worth) = &row.worth {
        output.heading("What it comes to");
        print_worth(worth, output);
    }
    for problem in &row.problems {
        output.wrapped("Note: ", problem);
    }
}

fn attempt(labels: &[String], context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let findings = idea::found(&open.loaded.document, &open.study, &open.session.library);
    let chosen = findings.named(labels)?;
    idea::go_together(&open.loaded.document, &chosen)?;
    let together = idea::together(&chosen);
    let mut findings = findings;
    findings.ideas = std::iter::once(together).chain(chosen).collect();
    let view = evaluated(&open, findings, None::<SetAsked>, options(10_240, 1))?;
    if output.json {
        output.json(&json!({ "study": open.info.name, "ideas": view.ideas }));
        return Ok(view.ideas.iter().all(|row| row.worth.is_some()));
    }
    let whole = view.ideas.iter().find(|row| row.label == idea::TOGETHER);
    output.line(&open.info.name);
    if let Some(row) = whole {
        output.heading(&format!("{} together", labels.join(", ")));
        match &row.worth {
            Some(worth) => print_worth(worth, output),
            None => row.problems.iter().for_each(|problem| output.wrapped("cannot be carried out together: ", problem)),
        }
    }
    if labels.len() > 1 {
        output.heading("Each alone (gains do not add up where ideas touch)");
        let mut table = Table::new(&["~label", "~idea", ">saves each", ">saves a year"]);
        for row in view.ideas.iter().filter(|row| row.label != idea::TOGETHER) {
            let figures = row.worth.as_ref().map(|w| (w.net_saving.stated.text.clone(), w.yearly.text.clone()));
            let (each, year) = figures.unwrap_or_else(|| ("does not fit".to_owned(), String::new()));
            table.row([row.label.clone(), row.name.clone(), each, year]);
        }
        table.print(output);
    }
    Ok(whole.is_some_and(|row| row.worth.is_some()))
}

fn take(labels: &[String], name: &str, context: &Context, output: &mut Output) -> Outcome {
    let mut session = context.session(true, output)?;
    let (written, mut loaded) = context.document_to_write(&session.workspace)?;
    let study = session.compiled(&written.info, &loaded)?;
    let chosen = idea::found(&loaded.document, &study, &session.library).named(labels)?;
    let info = &written.info;
    let taken = idea::take(&session.workspace, (info, &mut loaded), &chosen, name, &context.author)?;
    if output.json {
        output.json(&json!({ "ok": true, "study": taken.info.name, "entry": taken.info.head, "edits": taken.edits }));
    } else {
        output.line(format!(
            "{}: variant of {} with {} edits in {} entries",
            taken.info.name, info.name, taken.edits, taken.info.head
        ));
        output.line(format!(
            "`tare cost --study \"{}\"` computes it; `tare compare \"{}\" \"{}\"` sets both side by side",
            taken.info.name, info.name, taken.info.name
        ));
    }
    Ok(true)
}

fn put_away(label: &str, says: &str, context: &Context, output: &mut Output) -> Outcome {
    let mut session = context.session(true, output)?;
    let (written, mut loaded) = context.document_to_write(&session.workspace)?;
    let study = session.compiled(&written.info, &loaded)?;
    let chosen = idea::found(&loaded.document, &study, &session.library).named(std::slice::from_ref(&label.to_owned()))?;
    let (changes, entry) = idea::dropped(&loaded.document, &chosen, says)?;
    let done = session.workspace.record(&mut loaded, &changes, &Stamp { author: context.author.clone(), says: entry })?;
    print_entry(&done, &written, output);
    Ok(true)
}

fn rebase(context: &Context, output: &mut Output) -> Outcome {
    let session = context.session(true, output)?;
    let (written, mut loaded) = context.document_to_write(&session.workspace)?;
    match idea::rebase(&session.workspace, &mut loaded, &context.author)? {
        Some(done) => print_entry(&done, &written, output),
        None => output.line("the study it was made from has not changed since"),
    }
    Ok(true)
}
