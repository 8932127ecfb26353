//! Ideas: undone they leave nothing behind, sets that do not touch add up, and what the demo is said to propose it proposes.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};
use tare_analysis::ideas::groups;
use tare_analysis::{Facts, Rules, Schema};
use tare_app::idea::{self, Evaluation, Findings, Idea, SetAsked};
use tare_app::ranges::threads;
use tare_app::{Document, Field, Id, Kind, Library, Options, Record, Session, Stop, Study, Texts, Workspace, demo, view};
use tare_model::Edit;
use tare_study::generate::{Size, study as generated};
use tare_study::{Sources, compile};

const SIZE: Size = Size { parts: 60, items: 25, joints: 12 };

fn options(draws: u64) -> Options {
    Options { most: draws, least: draws, threads: threads(), ..Options::default() }
}

/// A study with what it is computed with.
struct Bench {
    library: Arc<Library>,
    texts: Texts,
    document: Document,
    study: Study,
}

/// The demo with all that its rules find, evaluated once for all tests.
fn demo() -> &'static (Bench, Findings, Evaluation) {
    static DEMO: OnceLock<(Bench, Findings, Evaluation)> = OnceLock::new();
    DEMO.get_or_init(|| {
        let place = tempfile::tempdir().expect("a folder");
        let (session, _, loaded, _) = demo::open(place.path()).expect("the demo");
        let bench = Bench::of(&session, loaded.document);
        let findings = bench.found();
        let evaluation = bench.evaluate(findings.ideas.clone(), None, 1_024);
        (bench, findings, evaluation)
    })
}

impl Bench {
    fn generated(seed: u64) -> Self {
        let place = tempfile::tempdir().expect("a folder");
        let session = Session::with(Workspace::open_or_create(place.path()).expect("a workspace")).expect("a session");
        Self::of(&session, generated(SIZE, seed))
    }

    fn of(session: &Session, document: Document) -> Self {
        let texts = session.texts(&document).expect("texts");
        let study = session.compile_document(&document).expect("it compiles");
        Self { library: Arc::clone(&session.library), texts, document, study }
    }

    /// Neither the demo nor a generated study has a rate book of its own in its workspace.
    fn compile(&self, document: &Document) -> Study {
        compile(Sources { study: document, books: &[], library: &self.library })
    }

    fn found(&self) -> Findings {
        idea::found(&self.document, &self.study, &self.library)
    }

    fn evaluate(&self, ideas: Vec<Idea>, set: Option<SetAsked>, draws: u64) -> Evaluation {
        let found = idea::evaluate(&self.texts, &self.document, &self.study, ideas, set, options(draws), Stop::default());
        found.expect("not stopped")
    }

    /// Cost of one product with the edits of ideas; none where they do not go together.
    fn cost_with<'i>(&self, ideas: impl Iterator<Item = &'i Idea>) -> Option<f64> {
        let edits: Vec<Edit> = ideas.flat_map(|idea| idea.edits.iter().cloned()).collect();
        let changed = idea::applied(&self.document, &edits)?;
        Some(cost(&self.compile(&changed)))
    }

    /// An idea of edits in words.
    fn idea(&self, number: usize, lines: &[String]) -> Idea {
        let edits = idea::seal(&self.document, &self.library, lines);
        as_idea(number, edits.unwrap_or_else(|problems| panic!("{lines:?}: {problems:?}")))
    }

    /// Simple ideas for a generated study: lighter, cheaper, fewer, gone; more or dearer work; another volume.
    fn simple_ideas(&self, seed: u64) -> Vec<Idea> {
        let mut numbers = Numbers(seed);
        let of = |kind: Kind| self.document.records().filter(|r| r.kind == kind).map(|r| r.id).collect::<Vec<Id>>();
        let (parts, joints) = (of(Kind::Part), of(Kind::Joint));
        let stated = |item: Id, quantity: &str| {
            self.document.of_kind(Some(item), Kind::Value).any(|v| v.text(Field::Quantity) == Some(quantity))
        };
        let having = |quantity: &str| of(Kind::Item).into_iter().filter(|item| stated(*item, quantity)).collect::<Vec<Id>>();
        let (made, bought) = (having("wall_thickness"), having("price"));
        let mut lines: Vec<Vec<String>> = Vec::new();
        for _ in 0..3 {
            lines.push(vec![format!("set @{}/wall_thickness \"2 mm\"", numbers.of(&made))]);
            lines.push(vec![format!("set @{}/mass \"{} g\"", numbers.of(&made), 10 + numbers.next(200))]);
            lines.push(vec![format!("set @{}/price \"{} EUR\"", numbers.of(&bought), 1 + numbers.next(9))]);
            lines.push(vec![format!("set @{}/count {}", numbers.of(&joints), 1 + numbers.next(9))]);
            lines.push(vec![format!("set @{}/count {}", numbers.of(&parts[3..]), 5 + numbers.next(3))]);
            lines.push(vec![format!("remove @{}", numbers.of(&parts[20..]))]);
        }
        lines.push(vec![format!("set scenario/volume \"{} 1/a\"", 30_000 + numbers.next(9))]);
        lines.iter().enumerate().map(|(at, lines)| self.idea(at, lines)).collect()
    }
}

fn as_idea(number: usize, edits: Vec<Edit>) -> Idea {
    let record = Record::new(Id(0x1dea_0000 + number as u128), Kind::Idea).with_text(Field::Name, format!("Idea {number}"));
    Idea {
        id_of_costs: vec![record.id],
        record,
        values: Vec::new(),
        label: format!("I{number}"),
        edits,
        recorded: false,
        advice: String::new(),
        place: String::new(),
        problems: Vec::new(),
    }
}

fn cost(study: &Study) -> f64 {
    study.value(study.totals.cost.expect("a cost"))
}

/// Small whole numbers that are the same each time.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self, below: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.next(list.len() as u64) as usize]
    }
}

// ---- there and back

/// Every idea taken back leaves the records as they were; what there and back changes is nothing at all, in every draw.
#[track_caller]
fn undone_leaves_nothing(bench: &Bench, ideas: &[Idea]) {
    let mut changed_anything = 0;
    for idea in ideas {
        let mut trial = bench.document.clone();
        idea.edits.iter().for_each(|edit| trial.apply(edit).expect("it fits"));
        changed_anything += usize::from(trial != bench.document);
        idea.edits.iter().rev().for_each(|edit| trial.apply(&edit.invert()).expect("it fits backwards"));
        assert_eq!(trial, bench.document, "{}", idea.label);
    }
    assert_eq!(changed_anything, ideas.len());
    // one after the other as far as they go together, and all back again
    let (mut trial, mut done) = (bench.document.clone(), Vec::new());
    for edit in ideas.iter().flat_map(|idea| &idea.edits) {
        if trial.apply(edit).is_ok() {
            done.push(edit.clone());
        }
    }
    let there = bench.compile(&trial);
    assert_ne!(cost(&there).to_bits(), cost(&bench.study).to_bits());
    done.iter().rev().for_each(|edit| trial.apply(&edit.invert()).expect("it fits backwards"));
    assert_eq!(trial, bench.document);
    let back = bench.compile(&trial);
    assert_eq!(cost(&back).to_bits(), cost(&bench.study).to_bits());

    let there_and_back = ideas.iter().enumerate().map(|(at, idea)| {
        let back = idea.edits.iter().rev().map(Edit::invert);
        as_idea(at, idea.edits.iter().cloned().chain(back).collect())
    });
    let found = bench.evaluate(there_and_back.collect(), None, 512);
    let study = &found.changes.study;
    for (one, named) in found.ideas.iter().zip(ideas) {
        let lines = one.variant.and_then(|at| found.changes.ideas[at].as_ref().ok()).expect("it is carried out");
        let zero = [lines.saving, lines.net_saving, lines.stake, lines.running_saving, lines.parts, lines.joints];
        let more = [lines.mass, lines.seconds, lines.operators];
        for line in zero.into_iter().chain(more.into_iter().flatten()) {
            assert_eq!(study.value(line), 0.0, "{}: {}", named.label, study.lines.address(line));
        }
        let worth = one.worth.as_ref().expect("drawn");
        for draws in [Some(&worth.saving), Some(&worth.net_saving), worth.mass.as_ref(), worth.seconds.as_ref()] {
            let Some(draws) = draws else { continue };
            assert_eq!((draws.quantile(0.0), draws.quantile(1.0), draws.failed()), (0.0, 0.0, 0), "{}", named.label);
        }
        assert_eq!(worth.chance, 0.0, "nothing is no gain");
    }
}

#[test]
fn an_idea_of_the_demo_taken_back_leaves_nothing() {
    let (bench, findings, _) = demo();
    let ideas: Vec<Idea> = findings.ideas.iter().filter(|idea| !idea.edits.is_empty()).cloned().collect();
    assert!(ideas.len() >= 12, "{}", ideas.len());
    undone_leaves_nothing(bench, &ideas);
}

#[test]
fn an_idea_of_a_generated_study_taken_back_leaves_nothing() {
    for seed in [1, 2] {
        let bench = Bench::generated(seed);
        let ideas = bench.simple_ideas(seed);
        undone_leaves_nothing(&bench, &ideas);
    }
}

// ---- sets

/// Pairs of variants whose edits name the same record: whether they go together is no matter of the graph.
fn same_records(evaluation: &Evaluation) -> Vec<(usize, usize)> {
    let named = |idea: &Idea| -> BTreeSet<Id> {
        let ids = idea.edits.iter().flat_map(|edit| match edit {
            Edit::Set(set) => vec![set.id],
            Edit::Move { id, .. } => vec![*id],
            Edit::Add { references, .. } => references.iter().map(|set| set.id).collect(),
            Edit::Remove { records, references } => {
                records.iter().map(|r| r.id).chain(references.iter().map(|set| set.id)).collect()
            }
        });
        ids.collect()
    };
    let each: Vec<(usize, BTreeSet<Id>)> =
        evaluation.ideas.iter().filter_map(|one| Some((one.variant?, named(&one.idea)))).collect();
    let mut pairs = Vec::new();
    for (a, first) in &each {
        pairs.extend(each.iter().filter(|(b, second)| a < b && !first.is_disjoint(second)).map(|(b, _)| (*a, *b)));
    }
    pairs
}

struct Sets<'b> {
    bench: &'b Bench,
    /// Ideas that can be carried out, by variant.
    ideas: Vec<&'b Idea>,
    savings: BTreeMap<Vec<usize>, Option<f64>>,
}

impl Sets<'_> {
    fn saving(&mut self, set: &[usize]) -> Option<f64> {
        if let Some(known) = self.savings.get(set) {
            return *known;
        }
        let with = self.bench.cost_with(set.iter().map(|at| self.ideas[*at]));
        let saving = with.map(|with| cost(&self.bench.study) - with);
        self.savings.insert(set.to_vec(), saving);
        saving
    }
}

/// Random sets computed as a whole against the sum of their groups. Gives how many sets were computed, and in how many the sum over single
/// ideas would have been wrong.
#[track_caller]
fn groups_add_up(bench: &Bench, evaluation: &Evaluation, tries: u64) -> (usize, usize) {
    let found = groups(&evaluation.changes, &same_records(evaluation));
    let mut carried: Vec<(usize, &Idea)> = evaluation.ideas.iter().filter_map(|one| Some((one.variant?, &one.idea))).collect();
    carried.sort_by_key(|(variant, _)| *variant);
    let mut sets = Sets { bench, ideas: carried.iter().map(|(_, idea)| *idea).collect(), savings: BTreeMap::new() };
    for one in &evaluation.ideas {
        if let (Some(variant), Some(study)) = (one.variant, &one.study) {
            sets.savings.insert(vec![variant], Some(cost(&bench.study) - cost(study)));
        }
    }
    let mut all: Vec<usize> = found.iter().flatten().copied().collect();
    all.sort_unstable();
    assert_eq!(all, (0..sets.ideas.len()).collect::<Vec<_>>(), "every idea is in one group");
    assert!(found.len() > 1, "so that there is something to add up");
    let (mut computed, mut singles_wrong) = (0, 0);
    let total = cost(&bench.study);
    let mut numbers = Numbers(tries);
    for number in 0..tries {
        let share = 2 + number % 3;
        let set: Vec<usize> = all.iter().copied().filter(|_| numbers.next(share) == 0).collect();
        let Some(whole) = sets.saving(&set) else { continue };
        let parts: Vec<Vec<usize>> =
            found.iter().map(|group| group.iter().copied().filter(|at| set.contains(at)).collect()).collect();
        let each = parts.iter().filter(|part| !part.is_empty());
        let sum: f64 = each.map(|part| sets.saving(part).expect("a part of a set that goes together")).sum();
        let named: Vec<&str> = set.iter().map(|at| sets.ideas[*at].label.as_str()).collect();
        assert!((whole - sum).abs() <= 1e-9 * total, "{named:?}: {whole} as a whole, {sum} by groups of {found:?}");
        let singly: f64 = set.iter().filter_map(|at| sets.saving(&[*at])).sum();
        computed += 1;
        singles_wrong += usize::from((whole - singly).abs() > 1e-6 * total);
    }
    (computed, singles_wrong)
}

#[test]
fn sets_of_the_demos_ideas_are_the_sum_of_their_groups() {
    let (bench, _, evaluation) = demo();
    let (computed, _) = groups_add_up(bench, evaluation, 9);
    assert!(computed >= 3, "{computed} sets go together");
}

#[test]
fn sets_of_ideas_for_generated_studies_are_the_sum_of_their_groups() {
    let (mut computed, mut singles_wrong) = (0, 0);
    for seed in 1..=4 {
        let bench = Bench::generated(seed);
        let evaluation = bench.evaluate(bench.simple_ideas(seed), None, 128);
        let found = groups_add_up(&bench, &evaluation, 12);
        (computed, singles_wrong) = (computed + found.0, singles_wrong + found.1);
        // without the volume, which touches everything, groups are many
        let mut local = bench.simple_ideas(seed);
        local.pop();
        let evaluation = bench.evaluate(local, None, 128);
        let found = groups_add_up(&bench, &evaluation, 12);
        (computed, singles_wrong) = (computed + found.0, singles_wrong + found.1);
    }
    assert!(computed >= 40, "{computed} sets go together");
    assert!(singles_wrong > 0, "the groups are not idle: single savings do not always add up");
}

#[test]
fn the_best_set_is_worth_as_a_whole_what_the_search_says() {
    let bench = Bench::generated(5);
    let mut ideas = bench.simple_ideas(5);
    ideas.truncate(9);
    let evaluation = bench.evaluate(ideas, Some(SetAsked::default()), 256);
    let found = evaluation.set.as_ref().expect("a set");
    let changes = found.changes.as_ref().expect("it is not empty");
    let lines = changes.ideas[0].as_ref().expect("its cost is known");
    let (whole, search) = (changes.study.value(lines.yearly_net), found.search.best.offer.saving);
    assert!((whole - search).abs() <= 1e-9 * search, "{whole} against {search}");
    // no single idea beats it, and it is at least the best of them
    let single = evaluation.changes.ideas.iter().flatten().map(|l| evaluation.changes.study.value(l.yearly_net));
    let best = single.fold(0.0, f64::max);
    assert!(best > 0.0 && search >= best * (1.0 - 1e-12), "{search} against {best}");
    assert!(found.search.bound >= search);
}

// ---- the demo

/// Recording what a rule proposes changes nothing about what it is worth, though the record names the very parts its edits take out.
#[test]
fn hits_that_are_kept_are_worth_what_they_were() {
    let (bench, findings, before) = demo();
    let (changes, _) = idea::kept(&bench.document, &findings.ideas);
    let mut document = bench.document.clone();
    document.change_all(&changes).expect("they can be kept");
    let kept = idea::recorded(&document);
    assert_eq!(kept.len(), findings.ideas.len());
    let after = idea::evaluate(&bench.texts, &document, &bench.study, kept, None, options(128), Stop::default());
    let after = after.expect("not stopped");
    let saving = |evaluation: &Evaluation, id: Id| {
        let one = evaluation.ideas.iter().find(|one| one.idea.id() == id).expect("it is there");
        let lines = one.variant.and_then(|at| evaluation.changes.ideas[at].as_ref().ok());
        lines.map(|lines| evaluation.changes.study.value(lines.saving).to_bits())
    };
    let ids = || findings.ideas.iter().map(|idea| (idea.label.as_str(), idea.id()));
    assert!(ids().filter(|(_, id)| saving(before, *id).is_some()).count() >= 12);
    let other: Vec<&str> = ids().filter(|(_, id)| saving(before, *id) != saving(&after, *id)).map(|(label, _)| label).collect();
    assert!(other.is_empty(), "worth something else once recorded: {other:?}");
}

#[test]
fn the_demo_has_opportunities_of_many_kinds_and_safety_findings_apart() {
    let (bench, findings, evaluation) = demo();
    assert!(findings.problems.is_empty(), "every rule reads: {:?}", findings.problems);
    let rows = view::ideas(&bench.document, &bench.study, evaluation, findings);
    let gaining: Vec<_> = rows
        .ideas
        .iter()
        .filter(|row| row.worth.as_ref().is_some_and(|w| w.net_saving.mean > 0.0 && w.net_saving.ends.0 < w.net_saving.ends.1))
        .collect();
    let kinds: BTreeSet<&str> = gaining.iter().map(|row| row.kind.as_str()).collect();
    assert!(gaining.len() >= 12, "{} with a gain and a range", gaining.len());
    assert!(kinds.len() >= 8, "{kinds:?}");

    // safety stands apart: no edits, no gain, no place among the ideas
    assert!(rows.safety.len() >= 4, "{:?}", rows.safety);
    let labels: BTreeSet<&str> = rows.ideas.iter().map(|row| row.label.as_str()).collect();
    assert!(rows.safety.iter().all(|row| !labels.contains(row.label.as_str()) && !row.advice.is_empty()));
    let json = serde_json::to_value(&rows.safety).expect("json");
    let fields: BTreeSet<&str> =
        json.as_array().expect("rows").iter().flat_map(|r| r.as_object().expect("a row").keys()).map(String::as_str).collect();
    assert_eq!(
        fields,
        BTreeSet::from(["label", "name", "place", "part", "says", "advice", "source"]),
        "nothing there could hold a gain"
    );
}

#[test]
fn every_rule_reads_and_every_command_of_a_hit_seals() {
    let (bench, _, _) = demo();
    let library = &bench.library;
    let facts = Facts::of(&bench.document, &bench.study, library);
    let files = library.opportunities().count();
    let (rules, problems) = Rules::read(library.opportunities(), &Schema::of(library).with([&facts]));
    assert!(problems.is_empty(), "{problems:?}");
    assert_eq!(rules.rules().len(), files);
    let hits = rules.hits(&facts);
    let (mut sealed, mut safety) = (0, 0);
    for hit in &hits {
        if hit.safety {
            safety += 1;
            assert!(hit.commands.is_empty() && hit.one_off.is_none(), "{hit:?}");
            continue;
        }
        assert!(hit.lacking.is_empty(), "{}: {:?}", hit.address, hit.lacking);
        let edits = idea::seal(&bench.document, library, &hit.commands);
        let edits = edits.unwrap_or_else(|problems| panic!("{} {}: {problems:?}", hit.rule, hit.address));
        assert!(!edits.is_empty(), "{} {} does nothing", hit.rule, hit.address);
        sealed += 1;
    }
    assert!(sealed >= 12 && safety >= 4, "{sealed} and {safety}");
}

#[test]
fn evaluating_on_more_threads_gives_the_same_bits() {
    let bench = Bench::generated(3);
    let of = |threads: usize| {
        let options = Options { threads, ..options(512) };
        let ideas = bench.simple_ideas(3);
        let found = idea::evaluate(&bench.texts, &bench.document, &bench.study, ideas, None, options, Stop::default());
        let found = found.expect("not stopped");
        let each = found.ideas.iter().map(|one| one.worth.as_ref().expect("drawn").net_saving.mean().to_bits());
        each.collect::<Vec<u64>>()
    };
    assert_eq!(of(1), of(3));
}
