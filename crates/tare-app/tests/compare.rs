//! Comparisons and walks: what is the same differs by nothing, order does not matter, rows add up, a walk closes.

use tare_analysis::compare::{Cut, Row, rank};
use tare_app::compare::{Compared, WalkAsked, compare, under, walk};
use tare_app::edit_command::{intent, parse_line};
use tare_app::ranges::threads;
use tare_app::{
    Document, DocumentInfo, DocumentKind, Field, FieldValue, Id, Kind, LineRef, Loaded, Options, Record, Session, Stop, Study,
    Workspace, demo, view,
};
use tare_engine::stats::Sample;
use tare_model::Change;
use tare_study::generate::{Size, study as generated};

fn options(draws: u64) -> Options {
    Options { most: draws, least: draws, threads: threads(), ..Options::default() }
}

/// Studies that may stand beside one another, with what they are computed with.
struct Shelf {
    _place: tempfile::TempDir,
    session: Session,
    studies: Vec<(DocumentInfo, Loaded)>,
}

fn demo_shelf() -> Shelf {
    let place = tempfile::tempdir().expect("a folder");
    let (session, first, _, _) = demo::open(place.path()).expect("the demo");
    let mut infos: Vec<DocumentInfo> = session.workspace.documents().expect("documents");
    infos.retain(|d| d.kind == DocumentKind::Study);
    infos.sort_by_key(|info| info.id != first.id);
    let studies: Vec<_> = infos.into_iter().map(|info| (info.clone(), session.workspace.load(&info).expect("loads"))).collect();
    assert_eq!(studies.len(), 3, "the demo has a product and two rivals");
    Shelf { _place: place, session, studies }
}

/// What parts of generated studies are for: words of the list, one that is not on it, and none.
const FUNCTIONS: [&str; 6] = ["housing", "sealing", "thermal", "mounting", "of no list", ""];

/// Generated studies of several sizes, with functions and a yardstick.
fn generated_shelf(seeds: &[u64]) -> Shelf {
    let place = tempfile::tempdir().expect("a folder");
    let session = Session::with(Workspace::open_or_create(place.path()).expect("a workspace")).expect("a session");
    let studies = seeds.iter().map(|seed| {
        let size = Size { parts: 40 + 10 * *seed as usize, items: 20 + *seed as usize, joints: 8 + *seed as usize };
        let made = generated(size, *seed);
        let mut records: Vec<Record> = made.records().cloned().collect();
        for (at, record) in records.iter_mut().filter(|r| r.kind == Kind::Item).enumerate() {
            let function = FUNCTIONS[(at + *seed as usize) % FUNCTIONS.len()];
            if !function.is_empty() {
                record.fields.set(Field::Function, Some(FieldValue::Text(function.to_owned())));
            }
        }
        let next = records.iter().map(|r| r.id.0).max().unwrap_or(0) + 1;
        let yardstick = Record::new(Id(next), Kind::Yardstick).with_text(Field::Name, "Space");
        let value = Record::new(Id(next + 1), Kind::Value).under(yardstick.id).with_text(Field::Quantity, "volume");
        records.push(yardstick);
        records.push(value.with_text(Field::Text, format!("{} +- 1 l", 30 + seed)).with_text(Field::Evidence, "measured"));
        let document = Document::from_records(Id(0xface + u128::from(*seed)), DocumentKind::Study, records);
        let info = DocumentInfo { id: document.id, kind: DocumentKind::Study, name: format!("Generated {seed}"), head: 1 };
        (info, Loaded { document, head: 1 })
    });
    let studies = studies.collect();
    Shelf { _place: place, session, studies }
}

impl Shelf {
    fn compare(&self, studies: Vec<(DocumentInfo, Loaded)>, yardstick: Option<&str>, draws: u64) -> Compared {
        let texts = |document: &Document| self.session.texts(document).expect("texts");
        let own: Vec<_> = studies.iter().map(|(_, loaded)| texts(&loaded.document)).collect();
        let first = texts(&studies[0].1.document);
        compare(&first, &own, studies, yardstick, options(draws), Stop::default()).expect("it compares").expect("not stopped")
    }

    fn all(&self, draws: u64) -> Compared {
        self.compare(self.studies.clone(), None, draws)
    }

    fn twice(&self, at: usize) -> Compared {
        let (info, loaded) = &self.studies[at];
        let other = DocumentInfo { name: format!("{} again", info.name), ..info.clone() };
        self.compare(vec![(info.clone(), loaded.clone()), (other, loaded.clone())], None, 512)
    }
}

fn cost(study: &Study) -> f64 {
    study.value(study.totals.cost.expect("a cost"))
}

fn rows(found: &Compared) -> impl Iterator<Item = &Row> {
    let comparison = &found.comparison;
    let yards = comparison.yards.iter().map(|yard| &yard.costs);
    comparison.headlines.iter().chain(yards).chain(comparison.cuts.values().flatten())
}

fn headline<'c>(found: &'c Compared, name: &str) -> &'c Row {
    found.comparison.headlines.iter().find(|row| row.name == name).expect("a headline")
}

fn value(found: &Compared, line: Option<LineRef>) -> f64 {
    found.comparison.study.value(line.expect("a line"))
}

// ---- the same

#[track_caller]
fn differs_by_nothing(found: &Compared) {
    let mut changes = 0;
    for row in rows(found) {
        for line in row.changes.iter().flatten() {
            assert_eq!(found.comparison.study.value(*line), 0.0, "{}", row.name);
            changes += 1;
        }
        assert_eq!(row.lines[0].map(|l| found.comparison.study.value(l)), row.lines[1].map(|l| found.comparison.study.value(l)));
    }
    assert!(changes > 20, "{changes}");
    let drawn: Vec<LineRef> = rows(found).flat_map(|row| row.changes.iter().flatten()).copied().collect();
    let ranged: Vec<_> = found.spread.ranged.iter().filter(|r| drawn.contains(&r.line)).collect();
    assert!(ranged.len() > 4, "{}", ranged.len());
    for range in ranged {
        let (low, high) = (range.draws.quantile(0.0), range.draws.quantile(1.0));
        assert_eq!((low, high, range.draws.failed()), (0.0, 0.0, 0), "every draw of a difference");
    }
    assert!(found.boundary.is_empty());
    let rank = found.rank.as_ref().expect("a rank");
    assert_eq!(rank.places, [[1.0, 0.0], [0.0, 1.0]], "of equals the one named first");
    // nothing is better than the same: picking from both gives the cost of one
    let best = found.comparison.best.as_ref().expect("a best");
    let total = value(found, headline(found, "should-cost").lines[0]);
    assert!((found.comparison.study.value(best.total) / total - 1.0).abs() < 1e-9);
}

#[test]
fn a_study_beside_itself_differs_by_nothing_in_any_draw() {
    differs_by_nothing(&demo_shelf().twice(0));
    let generated = generated_shelf(&[1, 2]);
    differs_by_nothing(&generated.twice(0));
    differs_by_nothing(&generated.twice(1));
}

// ---- order

/// Whether ranges are the same up to sign, or as near as so many draws can tell.
#[derive(Clone, Copy, PartialEq)]
enum Ranges {
    Same,
    WithinSampling,
}

const DRAWS: u64 = 2_048;

/// The quantile of the opposite draws lies between quantiles of these that so many draws leave open: four standard errors of the share of draws
/// below it, on both sides (order statistics, whatever the distribution).
fn as_near_as_draws_tell(x: &Sample, opposite: &Sample, share: f64) -> bool {
    let error = 4.0 * (2.0 * share * (1.0 - share) / DRAWS as f64).sqrt();
    let found = -opposite.quantile(1.0 - share);
    found >= x.quantile(share - error) && found <= x.quantile(share + error)
}

/// The same two products, named the other way round, under the same scenario.
#[track_caller]
fn order_does_not_matter(shelf: &Shelf, pair: [usize; 2], ranges: Ranges) {
    let [(a, mut first), (b, mut second)] = pair.map(|at| shelf.studies[at].clone());
    if ranges == Ranges::Same {
        for loaded in [&mut first, &mut second] {
            let stated =
                loaded.document.of_kind(None, Kind::Correlation).map(|r| Change::Remove { id: r.id }).collect::<Vec<_>>();
            loaded.document.change_all(&stated).expect("they can go");
        }
    }
    // both under the first one's scenario, so that it does not matter whose it is
    let common = under(&second.document, &first.document).expect("one scenario");
    let second = Loaded { document: common, head: second.head };
    let there = shelf.compare(vec![(a.clone(), first.clone()), (b.clone(), second.clone())], None, DRAWS);
    let back = shelf.compare(vec![(b, second), (a, first)], None, DRAWS);
    let (mut compared, mut ranged) = (0, 0);
    let range = |found: &Compared, line: LineRef| found.spread.ranged.iter().find(|r| r.line == line).map(|r| r.draws.clone());
    let cut_rows = |found: &Compared| -> Vec<(String, Row)> {
        let named = |at: &str, row: &Row| (format!("{at}: {}", row.name), row.clone());
        let comparison = &found.comparison;
        let cuts = comparison.cuts.iter().flat_map(|(cut, rows)| rows.iter().map(|row| named(cut.word(), row)));
        let heads = comparison.headlines.iter().map(|row| named("total", row));
        heads.chain(comparison.yards.iter().map(|yard| named("yard", &yard.costs))).chain(cuts).collect()
    };
    let others = cut_rows(&back);
    for (name, row) in cut_rows(&there) {
        let (_, other) =
            others.iter().find(|(known, _)| *known == name).unwrap_or_else(|| panic!("{name} is only there one way round"));
        let (Some(change), Some(opposite)) = (row.changes[1], other.changes[1]) else {
            assert_eq!((row.changes[1], other.changes[1]), (None, None), "{name}");
            continue;
        };
        let (x, y) = (there.comparison.study.value(change), back.comparison.study.value(opposite));
        let size = row.lines.iter().flatten().map(|l| there.comparison.study.value(*l).abs()).fold(1e-12, f64::max);
        assert!((x + y).abs() <= 1e-12 * size, "{name}: {x} and {y}");
        compared += 1;
        if let (Some(x), Some(y)) = (range(&there, change), range(&back, opposite)) {
            for share in [0.0, 0.025, 0.5, 0.975, 1.0] {
                let (low, high) = (x.quantile(share), y.quantile(1.0 - share));
                match ranges {
                    Ranges::Same => assert!((low + high).abs() <= 1e-9 * size, "{name} at {share}: {low} and {high}"),
                    _ if share == 0.0 || share == 1.0 => {}
                    Ranges::WithinSampling => {
                        assert!(as_near_as_draws_tell(&x, &y, share), "{name} at {share}: {low} and {high}");
                    }
                }
            }
            ranged += usize::from(x.deviation() > 0.0);
        }
    }
    assert_eq!(cut_rows(&there).len(), others.len());
    assert!(compared > 20 && ranged > 3, "{compared} compared, {ranged} with a range");
    let (x, y) = (there.comparison.best.as_ref().expect("a best").total, back.comparison.best.as_ref().expect("a best").total);
    let (x, y) = (there.comparison.study.value(x), back.comparison.study.value(y));
    assert!((x / y - 1.0).abs() < 1e-12, "the best of each is the same: {x} and {y}");
    let (x, y) = (there.rank.as_ref().expect("a rank"), back.rank.as_ref().expect("a rank"));
    for place in 0..2 {
        let (x, y) = (x.places[0][place], y.places[1][place]);
        let apart = if ranges == Ranges::Same { 0.0 } else { 4.0 * (0.5 / DRAWS as f64).sqrt() };
        assert!((x - y).abs() <= apart, "{x} and {y}");
    }
}

/// Leaves that a study says move together are drawn in the order in which they stand in the joined graph, so that their numbers, though not their
/// distribution, hang on who is named first; everything else is the same to the last digits but one.
#[test]
fn which_product_is_named_first_does_not_matter() {
    let shelf = demo_shelf();
    order_does_not_matter(&shelf, [0, 1], Ranges::Same);
    order_does_not_matter(&shelf, [0, 2], Ranges::Same);
    order_does_not_matter(&shelf, [0, 1], Ranges::WithinSampling);
    order_does_not_matter(&generated_shelf(&[1, 4]), [0, 1], Ranges::Same);
}

// ---- adding up

#[track_caller]
fn rows_add_up(found: &Compared) {
    let study = &found.comparison.study;
    for (cut, total) in [
        (Cut::Function, "should-cost"),
        (Cut::Kind, "should-cost"),
        (Cut::Process, "should-cost"),
        (Cut::Material, "should-cost"),
        (Cut::Joints, "joints"),
    ] {
        let (rows, total) = (&found.comparison.cuts[&cut], headline(found, total));
        assert!(rows.len() > usize::from(cut != Cut::Joints), "{}: {} rows", cut.word(), rows.len());
        for at in 0..found.products.len() {
            let whole = value(found, total.lines[at]);
            let sum: f64 = rows.iter().filter_map(|row| row.lines[at]).map(|line| study.value(line)).sum();
            assert!((sum / whole - 1.0).abs() < 1e-9, "{} of {}: {sum} of {whole}", cut.word(), found.products[at].letter);
            if at > 0 {
                let (change, wanted) = (value(found, total.changes[at]), whole - value(found, total.lines[0]));
                let sum: f64 = rows.iter().filter_map(|row| row.changes[at]).map(|line| study.value(line)).sum();
                assert!((change - wanted).abs() <= 1e-9 * whole && (sum - change).abs() <= 1e-9 * whole, "{}", cut.word());
            }
        }
    }
    // and so do the walks that are shown
    let shown = view::compared(found);
    assert_eq!(shown.walks.len(), found.products.len() - 1);
    for walk in &shown.walks {
        let steps: f64 = walk.steps.iter().map(|(_, figure)| figure.value).sum();
        assert!((walk.start.value + steps - walk.end.value).abs() <= 1e-9 * walk.end.value, "{:?}", walk.between);
    }
}

#[test]
fn rows_of_a_cut_add_up_to_the_difference_of_the_totals() {
    rows_add_up(&demo_shelf().all(128));
    rows_add_up(&generated_shelf(&[1, 2, 3]).all(128));
}

// ---- best of each, rank

#[track_caller]
fn best_is_least_and_ranks_are_whole(found: &Compared) {
    let study = &found.comparison.study;
    let total = headline(found, "should-cost");
    let best = found.comparison.best.as_ref().expect("a best");
    let mut lines: Vec<LineRef> = total.lines.iter().map(|line| line.expect("a cost")).collect();
    // what is not in every product counts at its dearest: no product is beaten by what is only filed elsewhere
    let rest = best.picked.iter().find(|group| group.says.starts_with("not on the list"));
    let dearer =
        |at: usize| rest.map_or(0.0, |rest| study.value(rest.best) - rest.costs[at].map_or(0.0, |line| study.value(line)));
    for (at, total) in lines.iter().enumerate() {
        assert!(dearer(at) >= 0.0);
        let most = study.value(*total) + dearer(at);
        assert!(study.value(best.total) <= most * (1.0 + 1e-12), "{} and {most}", study.value(best.total));
        // every product is the sum of its groups, so that nothing is left out of the best
        let groups: f64 = best.picked.iter().filter_map(|group| group.costs[at]).map(|line| study.value(line)).sum();
        assert!((groups / study.value(*total) - 1.0).abs() < 1e-9, "{groups}");
    }
    // in every draw as well
    let products = lines.len();
    lines.push(best.total);
    let drawn = rank(study, &lines, options(512), Stop::default()).expect("not stopped");
    for draw in (0..drawn.draws[0].len()).filter(|_| rest.is_none()) {
        let least = drawn.draws[..products].iter().map(|d| d[draw]).fold(f64::INFINITY, f64::min);
        assert!(drawn.draws[products][draw] <= least * (1.0 + 1e-12), "draw {draw}");
    }
    let rank = found.rank.as_ref().expect("a rank");
    assert!(rank.counted > 0 && rank.places.len() == products);
    for at in 0..products {
        let (of_one, of_place): (f64, f64) = (rank.places[at].iter().sum(), rank.places.iter().map(|row| row[at]).sum());
        assert!((of_one - 1.0).abs() < 1e-12, "every product has a place in every draw: {of_one}");
        assert!((of_place - 1.0).abs() < 1e-12, "every place has a product in every draw: {of_place}");
    }
    // the places are those of the draws, counted here again
    for at in 0..products {
        let below = |draw: usize| (0..products).filter(|o| (rank.draws[*o][draw], *o) < (rank.draws[at][draw], at)).count();
        let first = (0..rank.counted).filter(|draw| below(*draw) == 0).count();
        assert!((rank.places[at][0] - first as f64 / rank.counted as f64).abs() < 1e-12);
    }
}

#[test]
fn the_best_of_each_costs_no_more_than_the_cheapest_and_ranks_sum_to_one() {
    best_is_least_and_ranks_are_whole(&demo_shelf().all(512));
    for seeds in [[1, 2, 3], [5, 1, 4]] {
        let found = generated_shelf(&seeds).all(512);
        assert_eq!(found.ranked_by, "cost per unit of Space");
        best_is_least_and_ranks_are_whole(&found);
    }
}

#[test]
fn an_unknown_yardstick_is_told_with_the_nearest() {
    let shelf = demo_shelf();
    let texts = |at: usize| shelf.session.texts(&shelf.studies[at].1.document).expect("texts");
    let own = [texts(0), texts(1), texts(2)];
    let found = compare(&texts(0), &own, shelf.studies.clone(), Some("Nominal enrgy"), options(128), Stop::default());
    let problems = found.expect_err("no such yardstick");
    assert_eq!(problems[0].code, "yardstick-unknown");
    assert!(problems[0].hints.iter().any(|h| h.contains("Nominal energy")), "{problems:?}");
}

// ---- walks

/// Walks over factors: closed, with every step the study computed alone with that factor.
#[track_caller]
fn closes(session: &Session, document: &Document, factors: &[(&str, &[&str])]) -> f64 {
    let with = |lines: &[&str]| {
        let mut changed = document.clone();
        for line in lines {
            let meant = intent(&changed, &session.library, &parse_line(line).expect("a line")).expect("an edit");
            changed.change_all(&meant.changes).expect("it holds");
        }
        cost(&session.compile_document(&changed).expect("it compiles"))
    };
    let asked: Vec<WalkAsked> = factors
        .iter()
        .map(|(name, edits)| WalkAsked { name: (*name).into(), edits: edits.iter().map(|e| (*e).to_owned()).collect() })
        .collect();
    let texts = session.texts(document).expect("texts");
    let start = session.compile_document(document).expect("it compiles");
    let found = walk(&texts, document, &start, &asked).expect("every edit fits");
    let lines = found.lines.as_ref().expect("known at both ends");
    let value = |line: LineRef| found.study.value(line);
    let (from, to) = (value(lines.start), value(lines.end));
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * from.abs().max(to.abs());
    assert!(near(value(lines.rest), 0.0), "rest {}", value(lines.rest));
    let steps: f64 = lines.steps.iter().map(|(_, line)| value(*line)).sum();
    assert!(near(steps + value(lines.interaction), to - from), "{steps} and {} make {}", value(lines.interaction), to - from);
    // against studies that were compiled apart from the walk
    assert_eq!(from.to_bits(), with(&[]).to_bits());
    let all: Vec<&str> = factors.iter().flat_map(|(_, edits)| edits.iter().copied()).collect();
    assert!(near(to, with(&all)), "{to} and {}", with(&all));
    for ((name, line), (asked, edits)) in lines.steps.iter().zip(factors) {
        assert_eq!(name, asked);
        assert!(near(value(*line), with(edits) - from), "{name}");
        assert!(value(*line) != 0.0, "{name} does something");
    }
    assert_eq!(view::walk_rows(&found).expect("rows").rest, "0");
    value(lines.interaction) / from
}

#[test]
fn a_walk_closes_to_zero() {
    let shelf = demo_shelf();
    let document = &shelf.studies[0].1.document;
    let factors: [(&str, &[&str]); 3] = [
        ("volume", &["set scenario/volume \"60000 1/a\""]),
        ("life", &["set scenario/life \"9 a\""]),
        ("place", &["set \"organisation Pack maker/book\" region-b"]),
    ];
    let interaction = closes(&shelf.session, document, &factors);
    assert!(interaction.abs() > 1e-6, "the factors do something together: {interaction}");
    // one factor has nothing to interact with; none is no change
    assert!(closes(&shelf.session, document, &factors[..1]).abs() < 1e-12);
    assert_eq!(closes(&shelf.session, document, &[]), 0.0);
}

#[test]
fn a_walk_of_a_generated_study_closes_to_zero() {
    for seed in [1, 6] {
        let shelf = generated_shelf(&[seed]);
        let document = &shelf.studies[0].1.document;
        let priced =
            document.records().find(|r| r.kind == Kind::Value && r.text(Field::Quantity) == Some("price")).expect("a price");
        let price = format!("set @{}/price \"90 EUR\"", priced.parent.expect("an item"));
        let factors: [(&str, &[&str]); 3] = [
            ("volume and life", &["set scenario/volume \"3000 1/a\"", "set scenario/life \"2 a\""]),
            ("wage", &["set rate/wage.operator \"11 EUR/h\""]),
            ("offer", &[&price]),
        ];
        let interaction = closes(&shelf.session, document, &factors);
        assert!(interaction.abs() > 1e-9, "{interaction}");
    }
}
