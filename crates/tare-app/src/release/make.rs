//! Making a release.

use super::frozen::ByKey;
use super::values::{Bits, Values};
use super::{Drawn, Draws, FORM, Frozen, Headline, KIND, Lines, Program, Release, journal_of, layout_word, read};
use crate::basis::Basis;
use crate::clock;
use crate::figure::Figure;
use crate::held::Texts;
use crate::privacy::Class;
use crate::ranges::headlines;
use crate::session::Session;
use crate::view::range_row;
use crate::workspace::DocumentInfo;
use tare_analysis::{Options, Sampling, Stop, spread};
use tare_diag::{Diag, Place};
use tare_model::{Document, Field, Kind};
use tare_store::{AppendError, Entry, Journals};
use tare_study::{LineRef, Study};

/// How often a release is tried again behind those that others made meanwhile.
const TRIES: usize = 5;

/// What is to be released, and how it is drawn.
#[derive(Clone, Debug)]
pub struct Asked {
    /// What it is for.
    pub says: String,
    /// For whom it is meant.
    pub class: Class,
    /// How it is drawn; `least` draws are made whether or not ranges have settled before.
    pub options: Options,
    /// Whether it is made though the study has errors; they are recorded with it.
    pub with_errors: bool,
}

impl Session {
    /// Makes a release of a study as it is: keeps its texts, computes it with exactly those, draws the headlines, and records it under the
    /// next number.
    ///
    /// # Errors
    /// Every reason why not: nothing said, texts that are gone, errors of the study, no headline, draws that were stopped. Nothing is recorded
    /// then.
    pub fn make_release(&self, info: &DocumentInfo, asked: &Asked, author: &str, stop: Stop<'_>) -> Result<Release, Vec<Diag>> {
        let loaded = self.workspace.load(info).map_err(|d| vec![d])?;
        let document = &loaded.document;
        let mut why_not = Vec::new();
        if asked.says.trim().is_empty() {
            let diag = Diag::error("release-says", "a release says what it is for, found nothing");
            why_not.push(diag.at(Place::address("--says")).hint("write it like `--says \"offer to the client\"`"));
        }
        let texts = match self.texts(document) {
            Ok(texts) => texts,
            Err(problems) => {
                why_not.extend(problems);
                return Err(why_not);
            }
        };
        let (used, open) = texts.all_used(document);
        let errors: Vec<&Diag> = open.problems.iter().filter(|problem| problem.is_error()).collect();
        if !errors.is_empty() && !asked.with_errors {
            why_not.extend(errors.iter().copied().cloned());
            let says = format!("the study has {} error{}", errors.len(), if errors.len() == 1 { "" } else { "s" });
            let hint = "put them right, or say `--with-errors` to record with the release that they stood";
            why_not.push(Diag::error("release-errors", says).hint(hint));
        }
        let watched = headlines(document, &open);
        if watched.is_empty() {
            why_not.push(Diag::error("release-empty", "the study has no headline yet: no cost, no mass, no time"));
        }
        if !why_not.is_empty() {
            return Err(why_not);
        }
        let (study, values) = self.computed_alone(&texts, &used, document, &open)?;
        let watched = headlines(document, &study);
        let (drawn, draws) = drawn(&study, &watched, asked.options, stop)
            .ok_or_else(|| vec![Diag::error("release-stopped", "stopped before the draws were made; nothing was recorded")])?;
        let basis = Basis::new(document, &study);
        let kept = self.workspace.store.put_texts(&[&values.names(), &values.values()]).map_err(|e| vec![e.diag()])?;
        let program = Program::this();
        let frozen = Frozen {
            class: asked.class,
            entry: loaded.head,
            journal: self.workspace.digest_of(info.id, loaded.head).map_err(|d| vec![d])?,
            texts: self.freeze(&used)?,
            texts_held: used.len(),
            numerics: program.numerics,
            program: program.version,
            draws,
            lines: Lines { count: values.rows.len(), names: kept[0], values: kept[1] },
            headlines: headline_rows(&study, &watched, drawn),
            basis: basis.line(),
            boundary: basis.boundary_line(),
            illustrative: basis.illustrative,
            holds: holds(document),
            errors: errors.iter().map(|error| words(error)).collect(),
        };
        self.record_release(info, frozen, asked.says.trim(), author)
    }

    /// The study compiled with nothing but the texts it is said to use. It must come to the same lines, else a text is missing among them.
    fn computed_alone(
        &self,
        texts: &Texts,
        used: &ByKey,
        document: &Document,
        open: &Study,
    ) -> Result<(Study, Values), Vec<Diag>> {
        let study = Texts::only(&texts.library, used).map_err(|d| vec![d])?.compile(document);
        let (then, values) = (Values::of(open), Values::of(&study));
        match then.first_difference(&values).or_else(|| values.first_difference(&then)) {
            None => Ok((study, values)),
            Some(differing) => {
                let says = format!("`{}` rests on a text that would not be held", differing.address);
                let diag = Diag::error("release-open", says).at(Place::address(differing.address));
                Err(vec![diag.hint("this is a bug of the program: please report it")])
            }
        }
    }

    fn record_release(&self, info: &DocumentInfo, frozen: Frozen, says: &str, author: &str) -> Result<Release, Vec<Diag>> {
        let journal = journal_of(info.id);
        let store = &self.workspace.store;
        store.create_document(journal, KIND, &info.name).map_err(|e| vec![e.diag()])?;
        let edits = serde_json::to_string(&frozen).map_err(|e| vec![Diag::error("release-form", e.to_string())])?;
        let mut entry = Entry {
            id: clock::new_id().0,
            document: journal,
            sequence: 0,
            author: author.to_owned(),
            time: clock::now(),
            says: says.replace('\0', ""),
            undoes: None,
            idea: None,
            edits,
            form: FORM,
        };
        for _ in 0..TRIES {
            let head = store.head(journal).map_err(|e| vec![e.diag()])?;
            match store.append(journal, head, &entry) {
                Ok(number) => {
                    entry.sequence = number;
                    return read(entry).map_err(|d| vec![d]);
                }
                // somebody else made one: this one is the next
                Err(AppendError::Stale { .. }) => {}
                Err(AppendError::Store(error)) => return Err(vec![error.diag()]),
                Err(other) => return Err(vec![Diag::error("append", other.to_string())]),
            }
        }
        Err(vec![Diag::error("busy", "other programs kept making releases of this study").hint("try again")])
    }
}

/// Draws headlines: what each says, and how many draws were made; `None` where it was stopped.
pub(super) fn drawn(
    study: &Study,
    watched: &[(String, LineRef)],
    options: Options,
    stop: Stop<'_>,
) -> Option<(Vec<Drawn>, Draws)> {
    let lines: Vec<LineRef> = watched.iter().map(|(_, line)| *line).collect();
    let found = spread(study, &Sampling::new(study, options.seed), &lines, options, stop).filter(|found| !found.stopped)?;
    let each = found.ranged.iter().map(|ranged| {
        let ends = ranged.draws.symmetric(options.coverage);
        let row = range_row(study, ranged.line, &ranged.draws);
        Drawn {
            mean: Bits(ranged.draws.mean()),
            uncertainty: Bits(ranged.draws.deviation()),
            low: Bits(ends.low),
            high: Bits(ends.high),
            failed: ranged.draws.failed(),
            shown: format!("{} to {}", row.low, row.high),
        }
    });
    let ended = match (options.least, found.settled) {
        (1.., _) => "asked",
        (0, true) => "settled",
        (0, false) => "most",
    };
    let draws = Draws {
        made: found.draws,
        seed: options.seed,
        layout: layout_word(options.layout).to_owned(),
        coverage: Bits(options.coverage),
        ended: ended.to_owned(),
    };
    Some((each.collect(), draws))
}

fn headline_rows(study: &Study, watched: &[(String, LineRef)], drawn: Vec<Drawn>) -> Vec<Headline> {
    let row = |((name, line), drawn): (&(String, LineRef), Drawn)| Headline {
        name: name.clone(),
        figure: Figure::new(study, *line, 5),
        value: Bits(study.value(*line)),
        drawn,
    };
    watched.iter().zip(drawn).map(row).collect()
}

/// Holds with who recorded them.
fn holds(document: &Document) -> Vec<String> {
    let hold = |record: &tare_model::Record| {
        let text = |field| record.text(field).unwrap_or_default();
        let state = match (text(Field::State), text(Field::Who), text(Field::When)) {
            ("recorded", who, "") => format!("recorded by {who}"),
            ("recorded", who, when) => format!("recorded by {who}, {when}"),
            _ => "open".to_owned(),
        };
        format!("{}: {state}", text(Field::Name))
    };
    document.of_kind(None, Kind::Hold).map(hold).collect()
}

fn words(diag: &Diag) -> String {
    diag.place.as_ref().map_or_else(|| diag.message.clone(), |place| format!("{place}: {}", diag.message))
}
