//! What to find out next, as rows.

use super::drivers::leaf_words;
use crate::figure::{Figure, shown};
use serde::Serialize;
use tare_analysis::{Step, WorkList, about};
use tare_library::{Library, Reach};
use tare_model::{Document, Field, Kind};
use tare_study::{LineRef, Study};
use tare_units::Width;

/// The work list of a result.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct WorkView {
    /// What the result is, in words.
    pub name: String,
    /// The result at the stated values.
    pub stated: Figure,
    /// Its standard uncertainty now, shown.
    pub now: String,
    /// What to do, the most gain for the effort first.
    pub steps: Vec<StepRow>,
    /// Inputs that matter and that no recipe goes for.
    pub stuck: Vec<StuckRow>,
    /// Draws behind every figure.
    pub draws: u64,
    /// The seed.
    pub seed: u64,
    /// Draws in which the result was no number.
    pub failed: usize,
}

/// One thing to find out.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct StepRow {
    /// The address of the input.
    pub address: String,
    /// What it is about.
    pub subject: String,
    /// The input as stated now.
    pub stated: String,
    /// How well it is known.
    pub evidence: String,
    /// What to do.
    pub recipe: String,
    /// Who does it.
    pub who: String,
    /// Working minutes.
    pub minutes: f64,
    /// How well the input is known afterwards, as the recipe says it.
    pub reaches: String,
    /// Where reach and effort come from.
    pub source: String,
    /// The result's standard uncertainty once this alone is done, shown.
    pub alone: String,
    /// By which share that shrinks it.
    pub gain: f64,
    /// The result's standard uncertainty once all steps up to this are done, shown.
    pub together: String,
    /// By which share that shrinks it.
    pub gain_together: f64,
    /// Share by which it shrinks per hour of work.
    pub per_hour: f64,
    /// How to record what was found; empty where the input has no statement of its own to replace.
    pub edit: String,
}

/// An input that matters and that no recipe goes for.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct StuckRow {
    /// Its address.
    pub address: String,
    /// As stated.
    pub stated: String,
    /// Share of the variance it explains.
    pub share: f64,
}

/// The work list as rows.
pub fn work_rows(document: &Document, study: &Study, library: &Library, name: &str, list: &WorkList, seed: u64) -> WorkView {
    let book = document.of_kind(None, Kind::Study).next().and_then(|s| s.text(Field::Book)).unwrap_or_default();
    let unit = study.lines.unit(list.line);
    let text = |si: f64| shown(si, unit, &study.currency, 3);
    let steps = list.steps.iter().map(|step| {
        let about = leaf_words(study, step.leaf);
        StepRow {
            recipe: step.recipe.title.clone(),
            who: step.recipe.who.clone(),
            minutes: step.recipe.minutes,
            reaches: step.recipe.reaches_text.clone(),
            source: step.recipe.source.clone(),
            alone: text(step.alone),
            gain: 1.0 - step.alone / list.deviation,
            together: text(step.together),
            gain_together: 1.0 - step.together / list.deviation,
            per_hour: step.per_hour,
            edit: edit(study, library, book, step),
            address: about.address,
            subject: about.subject,
            stated: about.stated,
            evidence: about.evidence,
        }
    });
    let stuck = list.stuck.iter().map(|(leaf, share)| {
        let about = leaf_words(study, *leaf);
        StuckRow { address: about.address, stated: about.stated, share: *share }
    });
    WorkView {
        name: name.to_owned(),
        stated: Figure::new(study, list.line, 5),
        now: text(list.deviation),
        steps: steps.collect(),
        stuck: stuck.collect(),
        draws: list.draws,
        seed,
        failed: list.failed,
    }
}

/// The command that records what was found; empty where the input has no statement of its own in the study that could be replaced.
fn edit(study: &Study, library: &Library, book: &str, step: &Step) -> String {
    let LineRef::Leaf(number) = step.leaf else { unreachable!("bug: a line was taken for a leaf") };
    let leaf = &study.lines.leaves[number as usize];
    let address = study.lines.address(step.leaf);
    let subject = study.lines.subject(step.leaf).address.as_str();
    let own_book = subject == "rate" || subject == format!("rate ({book})");
    let target = match about(&study.lines, library, leaf) {
        // a rate of another book or of an organisation is stated there
        "rate" if own_book => format!("rate/{}", leaf.name),
        "rate" => return String::new(),
        "exchange" => format!("rate/exchange.{}", leaf.name),
        "calculation" if leaf.name == "method" => address,
        // a default of a calculation is shared by all its uses; the scatter of a set of readings is not stated by anyone
        "calculation" | "material" | "fastener" | "" => return String::new(),
        "instrument" if leaf.name.contains(' ') => return String::new(),
        _ => address,
    };
    let unit = leaf.quantity.unit.text.replace("money", &study.currency);
    let half = || tare_units::show(2.0 * step.then, &leaf.quantity.unit, 2).replace("money", &study.currency);
    let text = match &step.recipe.reaches {
        // `100 +- 8 %` is in per cent itself, `30 EUR +- 8 %` of thirty; a plain number with a share would be either
        Reach::Within(Width::Relative(_)) if unit == "1" => format!("... +- {}", half()),
        Reach::Within(Width::Relative(_)) if unit == "%" => format!("... {}", step.recipe.reaches_text),
        Reach::Within(Width::Relative(_)) => format!("... {unit} {}", step.recipe.reaches_text),
        Reach::Within(_) => format!("... {}", step.recipe.reaches_text),
        Reach::Share(_) => format!("... +- {}", half()),
    };
    format!("tare edit set \"{target}\" \"{text}\" --evidence {} --source \"...\"", step.recipe.becomes)
}
