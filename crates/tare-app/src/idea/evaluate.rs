//! What ideas come to: each carried out on a copy of the study, compiled, and drawn with the same numbers.

use super::{Idea, Standing, sealed};
use crate::held::Texts;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicUsize, Ordering};
use tare_analysis::ideas::{BestSet, Bounds, Changes, Detail, Offer, Variant, Worth, best_set, changes, groups, worth};
use tare_analysis::{Options, Stop};
use tare_diag::Diag;
use tare_model::{Change, Document, Edit, Field, Id};
use tare_study::{Sources, Study};

/// Sets that a search computes at most.
const MOST_SETS: usize = 600;
/// The largest group of ideas of which every set is computed.
const WHOLE: usize = 7;

/// A set to be looked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct SetAsked {
    /// The most money to be laid out, in the study's currency.
    pub stake: Option<f64>,
}

/// One idea with what it comes to.
#[derive(Debug)]
pub struct Evaluated {
    /// The idea.
    pub idea: Idea,
    /// How each of its edits fits.
    pub standing: Vec<Standing>,
    /// Its place among the lines of [`Evaluation::changes`]; none where it cannot be carried out or its cost is not known.
    pub variant: Option<usize>,
    /// The study with it.
    pub study: Option<Study>,
    /// What the draws say.
    pub worth: Option<Worth>,
    /// Why nothing is said of its gain, where that is so.
    pub why: Option<String>,
    /// Messages that the study has only with the idea.
    pub problems: Vec<Diag>,
}

/// The best set of ideas.
#[derive(Debug)]
pub struct Found {
    /// What the search found; ideas by their place in [`Evaluation::ideas`].
    pub search: BestSet,
    /// Groups that do not touch one another.
    pub groups: Vec<Vec<usize>>,
    /// The lines of the best set as one variant; none for the empty set.
    pub changes: Option<Changes>,
    /// What the draws say of it as a whole.
    pub worth: Option<Worth>,
}

/// Ideas with what they come to.
#[derive(Debug)]
pub struct Evaluation {
    /// The study and its variants in one graph.
    pub changes: Changes,
    /// The ideas as asked for.
    pub ideas: Vec<Evaluated>,
    /// The best set, where one was asked for.
    pub set: Option<Found>,
    /// How many draws were made.
    pub draws: u64,
}

/// Evaluates ideas against a study; `None` when it was stopped. `set` asks for the best set as well.
pub fn evaluate(
    texts: &Texts,
    document: &Document,
    base: &Study,
    ideas: Vec<Idea>,
    set: Option<SetAsked>,
    options: Options,
    stop: Stop<'_>,
) -> Option<Evaluation> {
    let holding = holding(document, &ideas);
    let books: Vec<&Document> = texts.books.iter().collect();
    let sources = Sources { study: &holding, books: &books, library: &texts.library };
    let known: Vec<String> = base.problems.iter().map(Diag::to_string).collect();
    let standing: Vec<Vec<Standing>> = ideas.iter().map(|idea| sealed::standing(document, &idea.edits)).collect();
    let documents: Vec<Option<Document>> =
        ideas.iter().map(|idea| if idea.edits.is_empty() { None } else { sealed::applied(document, &idea.edits) }).collect();
    let compiled = compile_all(texts, &documents, options.threads, stop)?;
    let ids: Vec<Vec<Id>> = ideas.iter().map(|idea| idea.id_of_costs.clone()).collect();
    let carried: Vec<usize> = (0..ideas.len()).filter(|at| compiled[*at].is_some()).collect();
    let variants: Vec<Variant<'_>> = carried
        .iter()
        .filter_map(|at| Some(Variant { name: &ideas[*at].label, ideas: &ids[*at], study: compiled[*at].as_ref()? }))
        .collect();
    let changes = changes(sources, base, &variants);
    let worths = worth(&changes, options, stop)?;
    let ties = ties(&ideas, &carried);
    let found = set.map(|asked| {
        let groups = groups(&changes, &ties.all());
        let computing = Computing { texts, document, base, sources, ideas: &ideas, carried: &carried, stop };
        let bounds = Bounds {
            stake: asked.stake,
            against: ties.against.clone(),
            needs: ties.needs.clone(),
            barred: ties.barred.clone(),
            whole: WHOLE,
            most: MOST_SETS,
        };
        let search = best_set(&groups, &bounds, &mut |sets| computing.offers(sets, options.threads));
        let as_one = computing.changes(&search.best.ideas);
        let worth = as_one.as_ref().and_then(|changes| worth(changes, options, stop)?.into_iter().next().flatten());
        let outside = |ideas: &[usize]| ideas.iter().map(|at| carried[*at]).collect::<Vec<usize>>();
        let mut search = search;
        search.best.ideas = outside(&search.best.ideas);
        search.frontier.iter_mut().for_each(|point| point.choice.ideas = outside(&point.choice.ideas));
        Found { search, groups: groups.iter().map(|g| outside(g)).collect(), changes: as_one, worth }
    });
    if stopped(stop) {
        return None;
    }
    let mut worths: Vec<Option<Worth>> = worths;
    let mut place = vec![None; ideas.len()];
    for (variant, at) in carried.iter().enumerate() {
        place[*at] = Some(variant);
    }
    let each = ideas.into_iter().zip(standing).zip(compiled).zip(place);
    let each = each.map(|(((idea, standing), study), variant)| {
        let problems =
            study.iter().flat_map(|s: &Study| &s.problems).filter(|p| !known.contains(&p.to_string())).cloned().collect();
        let why = match variant.map(|at| &changes.ideas[at]) {
            _ if idea.edits.is_empty() => Some("no edits are stated yet".to_owned()),
            Some(Err(why)) => Some(why.clone()),
            Some(Ok(_)) => None,
            None => Some("its edits do not all fit the study as it is now".to_owned()),
        };
        let variant = variant.filter(|at| changes.ideas[*at].is_ok());
        let worth = variant.and_then(|at| worths[at].take());
        let why = why.or_else(|| worth.is_none().then(|| "no draw of its gain is a number".to_owned()));
        Evaluated { idea, standing, variant, study, worth, why, problems }
    });
    let ideas = each.collect();
    Some(Evaluation { changes, ideas, set: found, draws: options.most })
}

fn stopped(stop: Stop<'_>) -> bool {
    stop.stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
}

/// The document with records of all ideas, so that their one-off costs can be read.
fn holding(document: &Document, ideas: &[Idea]) -> Document {
    let mut holding = document.clone();
    let new = ideas.iter().filter(|idea| !idea.recorded).flat_map(|idea| std::iter::once(&idea.record).chain(&idea.values));
    for record in new {
        // one that does not fit is an idea without a one-off cost; its rule was checked when it was read
        let _ = holding.change_all(&[Change::Add { record: record.clone() }]);
    }
    holding
}

/// What ideas change together, line by line, and the study with them; `None` where they cannot be carried out.
pub fn detail(texts: &Texts, document: &Document, base: &Study, ideas: &[Idea]) -> Option<(Detail, Study)> {
    let edits: Vec<_> = ideas.iter().flat_map(|idea| idea.edits.iter().cloned()).collect();
    let after = texts.compile(&sealed::applied(document, &edits)?);
    let books: Vec<&Document> = texts.books.iter().collect();
    let sources = Sources { study: document, books: &books, library: &texts.library };
    Some((tare_analysis::ideas::detail(sources, base, &after), after))
}

/// Compiles documents on so many threads; `None` when it was stopped.
fn compile_all(texts: &Texts, documents: &[Option<Document>], threads: usize, stop: Stop<'_>) -> Option<Vec<Option<Study>>> {
    let compiled = on_threads(documents, threads, |document| {
        document.as_ref().filter(|_| !stopped(stop)).map(|document| texts.compile(document))
    });
    (!stopped(stop)).then_some(compiled)
}

/// Works through a list on so many threads; results in its order.
fn on_threads<T: Sync, R: Send>(list: &[T], threads: usize, work: impl Fn(&T) -> Option<R> + Sync) -> Vec<Option<R>> {
    let next = AtomicUsize::new(0);
    let made: Vec<(usize, R)> = std::thread::scope(|scope| {
        let share = || {
            let mut made = Vec::new();
            loop {
                let at = next.fetch_add(1, Ordering::Relaxed);
                let Some(one) = list.get(at) else { return made };
                made.extend(work(one).map(|result| (at, result)));
            }
        };
        let running: Vec<_> = (0..threads.max(1)).map(|_| scope.spawn(share)).collect();
        running.into_iter().flat_map(|thread| thread.join().unwrap_or_else(|bug| std::panic::resume_unwind(bug))).collect()
    });
    let mut found: Vec<Option<R>> = list.iter().map(|_| None).collect();
    for (at, result) in made {
        found[at] = Some(result);
    }
    found
}

/// Which ideas exclude or need one another, by their place among those that can be carried out.
struct Ties {
    against: Vec<(usize, usize)>,
    needs: Vec<(usize, usize)>,
    touching: Vec<(usize, usize)>,
    /// Ideas that need one that is not to be had.
    barred: Vec<usize>,
}

impl Ties {
    fn all(&self) -> Vec<(usize, usize)> {
        self.against.iter().chain(&self.needs).chain(&self.touching).copied().collect()
    }
}

fn ties(ideas: &[Idea], carried: &[usize]) -> Ties {
    let place = |id: Id| carried.iter().position(|at| ideas[*at].id() == id);
    let of = |field: Field| -> Vec<(usize, usize)> {
        let named = carried
            .iter()
            .enumerate()
            .flat_map(|(at, idea)| ideas[*idea].record.all_refers(field).iter().map(move |other| (at, *other)));
        named.filter_map(|(at, other)| Some((at, place(other)?))).collect()
    };
    let lacks = |at: &usize| ideas[carried[*at]].record.all_refers(Field::Needs).iter().any(|needed| place(*needed).is_none());
    let barred = (0..carried.len()).filter(lacks).collect();
    Ties { against: of(Field::Against), needs: of(Field::Needs), touching: touching(ideas, carried), barred }
}

/// Ideas that change the same record: whether they go together shows when they are carried out together.
fn touching(ideas: &[Idea], carried: &[usize]) -> Vec<(usize, usize)> {
    let changed = |at: &usize| -> BTreeSet<Id> {
        let ids = ideas[*at].edits.iter().flat_map(|edit| match edit {
            Edit::Set(set) => vec![set.id],
            Edit::Move { id, .. } => vec![*id],
            Edit::Add { references, .. } => references.iter().map(|set| set.id).collect(),
            Edit::Remove { records, references } => {
                records.iter().map(|r| r.id).chain(references.iter().map(|set| set.id)).collect()
            }
        });
        ids.collect()
    };
    let each: Vec<BTreeSet<Id>> = carried.iter().map(changed).collect();
    let pairs = (0..each.len()).flat_map(|a| (a + 1..each.len()).map(move |b| (a, b)));
    pairs.filter(|(a, b)| !each[*a].is_disjoint(&each[*b])).collect()
}

/// Computes sets of ideas as a whole.
struct Computing<'c> {
    texts: &'c Texts,
    document: &'c Document,
    base: &'c Study,
    sources: Sources<'c>,
    ideas: &'c [Idea],
    carried: &'c [usize],
    stop: Stop<'c>,
}

impl Computing<'_> {
    fn changes(&self, set: &[usize]) -> Option<Changes> {
        if set.is_empty() {
            return None;
        }
        let edits: Vec<_> = set.iter().flat_map(|at| self.ideas[self.carried[*at]].edits.iter().cloned()).collect();
        let study = self.texts.compile(&sealed::applied(self.document, &edits)?);
        let ids: Vec<Id> = set.iter().map(|at| self.ideas[self.carried[*at]].id()).collect();
        Some(changes(self.sources, self.base, &[Variant { name: "set", ideas: &ids, study: &study }]))
    }

    fn offers(&self, sets: &[Vec<usize>], threads: usize) -> Vec<Option<Offer>> {
        on_threads(sets, threads, |set| self.offer(set))
    }

    fn offer(&self, set: &[usize]) -> Option<Offer> {
        // what is not computed counts as nothing, so that a stopped search ends at once; its result is thrown away
        if stopped(self.stop) {
            return None;
        }
        let changes = self.changes(set)?;
        let lines = changes.ideas.first()?.as_ref().ok()?;
        let value = |line| changes.study.value(line);
        Some(Offer { saving: value(lines.yearly_net), stake: value(lines.stake) })
    }
}
