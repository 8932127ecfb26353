//! A comparison as rows.

use crate::compare::{BoundaryDifference, Compared};
use crate::figure::{Figure, shown};
use serde::Serialize;
use std::collections::BTreeMap;
use tare_analysis::Spread;
use tare_analysis::compare::{Cut, Row, Walk};
use tare_engine::stats::Sample;
use tare_model::{Field, Kind};
use tare_study::{LineRef, Study};

use super::ideas::{RangeRow, range_row};

/// Products side by side.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct CompareView {
    /// The products, the first of which gives the scenario.
    pub products: Vec<ProductRow>,
    /// The scenario they share, in one line.
    pub scenario: String,
    /// What totals hold in one product and not in another: to be read before any number.
    pub boundary: Vec<BoundaryDifference>,
    /// Headlines.
    pub headlines: Vec<CompareRow>,
    /// Cost by yardstick.
    pub yards: Vec<YardRow>,
    /// Rows by cut.
    pub cuts: Vec<CutRows>,
    /// How sure the order is.
    pub rank: Option<RankRow>,
    /// The best of each group of functions.
    pub best: Option<BestRow>,
    /// The walk from the first product to each other, by function.
    pub walks: Vec<ProductWalk>,
    /// What was found wrong when the studies were joined.
    pub problems: Vec<String>,
    /// The currency.
    pub currency: String,
    /// Draws behind the ranges.
    pub draws: u64,
}

/// One product.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct ProductRow {
    /// Its letter.
    pub letter: String,
    /// The study.
    pub study: String,
    /// The product, as the study says.
    pub product: String,
    /// Its total under its own scenario.
    pub own: Option<Figure>,
    /// What is wrong with it, under its own scenario or the common one.
    pub problems: Vec<String>,
    /// Items without a cost, which its totals lack.
    pub uncosted: Vec<String>,
    /// Whether its data are invented.
    pub illustrative: bool,
}

/// The same thing in each product.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct CompareRow {
    /// What it is.
    pub name: String,
    /// In each product; none where it has nothing of it.
    pub figures: Vec<Option<Figure>>,
    /// Ranges, where they were drawn.
    pub ranges: Vec<Option<RangeRow>>,
    /// Difference to the first product.
    pub changes: Vec<Option<Figure>>,
    /// Ranges of the differences, where they were drawn.
    pub change_ranges: Vec<Option<RangeRow>>,
    /// Whether no list of functions knows the word.
    pub unmapped: bool,
}

/// A yardstick.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct YardRow {
    /// Its name.
    pub name: String,
    /// What each study says it means.
    pub qualifiers: Vec<String>,
    /// Whether they say the same.
    pub alike: bool,
    /// Its value in each product.
    pub values: Vec<Option<Figure>>,
    /// Cost per unit of it.
    pub costs: CompareRow,
    /// Per mass, where it is an energy.
    pub per_mass: Vec<Option<Figure>>,
}

/// Rows of one cut.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct CutRows {
    /// What it is by.
    pub cut: String,
    /// The rows, the largest first.
    pub rows: Vec<CompareRow>,
}

/// How sure an order is.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct RankRow {
    /// What is ranked by.
    pub by: String,
    /// For each product the share of draws in which it has each place, least first.
    pub places: Vec<Vec<f64>>,
    /// Draws counted.
    pub draws: usize,
}

/// The best of each group of functions.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct BestRow {
    /// The sum of the cheapest.
    pub total: RangeRow,
    /// The groups.
    pub picked: Vec<PickedRow>,
}

/// One group of functions that have to come from one product.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct PickedRow {
    /// Its functions.
    pub functions: Vec<String>,
    /// Why they go together.
    pub says: String,
    /// Its cost in each product.
    pub costs: Vec<Option<Figure>>,
    /// Letter of the cheapest.
    pub from: String,
}

/// The walk from the first product to another, by function.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct ProductWalk {
    /// Letters of both.
    pub between: [String; 2],
    /// Where it begins.
    pub start: Figure,
    /// Steps, the largest first.
    pub steps: Vec<(String, Figure)>,
    /// Where it ends.
    pub end: Figure,
}

/// Compared products as rows.
pub fn compared(found: &Compared) -> CompareView {
    let study = &found.comparison.study;
    let ranges = Ranges::new(study, &found.spread);
    let first = &found.products[0];
    let row = |row: &Row| compare_row(study, &ranges, row);
    let cuts = Cut::ALL.into_iter().filter_map(|cut| {
        let rows = found.comparison.cuts.get(&cut)?;
        let mut rows: Vec<CompareRow> = rows.iter().map(&row).collect();
        let size = |r: &CompareRow| r.figures.iter().flatten().map(|f| f.value.abs()).fold(0.0, f64::max);
        rows.sort_by(|a, b| size(b).total_cmp(&size(a)));
        rows.retain(|r| size(r) > 0.0);
        Some(CutRows { cut: cut.word().to_owned(), rows })
    });
    let cuts: Vec<CutRows> = cuts.collect();
    let yards = found.comparison.yards.iter().map(|yard| {
        let figure = |line: &Option<LineRef>| line.map(|line| Figure::new(study, line, 4));
        YardRow {
            name: yard.name.clone(),
            alike: yard.qualifiers.iter().all(|q| *q == yard.qualifiers[0]),
            qualifiers: yard.qualifiers.clone(),
            values: yard.values.iter().map(figure).collect(),
            costs: row(&yard.costs),
            per_mass: yard.per_mass.iter().flatten().map(figure).collect(),
        }
    });
    let basis = crate::Basis::new(&first.document, &first.study);
    CompareView {
        products: found.products.iter().map(product).collect(),
        scenario: basis.line(),
        boundary: found.boundary.clone(),
        headlines: found.comparison.headlines.iter().map(row).collect(),
        yards: yards.collect(),
        walks: walks(found, &cuts),
        cuts,
        rank: found.rank.as_ref().filter(|rank| rank.counted > 0).map(|rank| RankRow {
            by: found.ranked_by.clone(),
            places: rank.places.clone(),
            draws: rank.counted,
        }),
        best: best(found, study, &ranges),
        problems: found.problems.iter().map(ToString::to_string).collect(),
        currency: study.currency.clone(),
        draws: found.spread.draws,
    }
}

fn product(product: &crate::compare::Product) -> ProductRow {
    let head = product.document.of_kind(None, Kind::Study).next();
    ProductRow {
        letter: product.letter.clone(),
        study: product.info.name.clone(),
        product: head.and_then(|r| r.text(Field::Product)).unwrap_or_default().to_owned(),
        own: product.own.totals.cost.map(|line| Figure::new(&product.own, line, 4)),
        problems: product.problems.iter().map(ToString::to_string).collect(),
        uncosted: product.uncosted.clone(),
        illustrative: head.is_some_and(|r| r.flag(Field::Illustrative)),
    }
}

fn best(found: &Compared, study: &Study, ranges: &Ranges<'_>) -> Option<BestRow> {
    let best = found.comparison.best.as_ref()?;
    let picked = best.picked.iter().map(|group| {
        let least = study.value(group.best);
        let from = group.costs.iter().position(|line| line.is_some_and(|line| study.value(line) == least));
        PickedRow {
            functions: group.functions.clone(),
            says: group.says.clone(),
            costs: group.costs.iter().map(|line| line.map(|line| Figure::new(study, line, 4))).collect(),
            from: from.map_or_else(String::new, crate::compare::letter),
        }
    });
    Some(BestRow { total: ranges.of(best.total)?, picked: picked.collect() })
}

/// The walk by function takes its steps from the rows of that cut: they add up to the difference of the totals.
fn walks(found: &Compared, cuts: &[CutRows]) -> Vec<ProductWalk> {
    let study = &found.comparison.study;
    let Some(total) = found.comparison.headlines.first().filter(|r| r.name == "should-cost") else { return Vec::new() };
    let Some(rows) = cuts.iter().find(|c| c.cut == Cut::Function.word()) else { return Vec::new() };
    let to = |at: usize| {
        let (start, end) = (total.lines[0]?, total.lines[at]?);
        let mut steps: Vec<(String, Figure)> =
            rows.rows.iter().filter_map(|row| Some((row.name.clone(), row.changes[at].clone()?))).collect();
        steps.sort_by(|a, b| b.1.value.abs().total_cmp(&a.1.value.abs()));
        let letters = [0, at].map(|at| found.products[at].letter.clone());
        Some(ProductWalk { between: letters, start: Figure::new(study, start, 4), steps, end: Figure::new(study, end, 4) })
    };
    (1..found.products.len()).filter_map(to).collect()
}

/// Draws by line.
struct Ranges<'s> {
    study: &'s Study,
    draws: BTreeMap<LineRef, &'s Sample>,
}

impl<'s> Ranges<'s> {
    fn new(study: &'s Study, spread: &'s Spread) -> Self {
        Self { study, draws: spread.ranged.iter().map(|r| (r.line, &r.draws)).collect() }
    }

    fn of(&self, line: LineRef) -> Option<RangeRow> {
        Some(range_row(self.study, line, self.draws.get(&line)?))
    }
}

fn compare_row(study: &Study, ranges: &Ranges<'_>, row: &Row) -> CompareRow {
    let figure = |line: &Option<LineRef>| line.map(|line| Figure::new(study, line, 4));
    let range = |line: &Option<LineRef>| line.and_then(|line| ranges.of(line));
    CompareRow {
        name: row.name.clone(),
        figures: row.lines.iter().map(figure).collect(),
        ranges: row.lines.iter().map(range).collect(),
        changes: row.changes.iter().map(figure).collect(),
        change_ranges: row.changes.iter().map(range).collect(),
        unmapped: row.unmapped,
    }
}

/// A walk over factors.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct WalkView {
    /// Where it begins.
    pub start: Figure,
    /// Each factor alone, in the order stated.
    pub steps: Vec<(String, Figure)>,
    /// What they do together beyond that.
    pub interaction: Figure,
    /// Where it ends.
    pub end: Figure,
    /// What is left unexplained, shown with every digit.
    pub rest: String,
}

/// A walk as rows; none where one of its totals is not known.
pub fn walk_rows(walk: &Walk) -> Option<WalkView> {
    let lines = walk.lines.as_ref()?;
    let figure = |line: LineRef| Figure::new(&walk.study, line, 4);
    let rest = walk.study.value(lines.rest);
    Some(WalkView {
        start: figure(lines.start),
        steps: lines.steps.iter().map(|(name, line)| (name.clone(), figure(*line))).collect(),
        interaction: figure(lines.interaction),
        end: figure(lines.end),
        rest: if rest.abs() < 1e-9 {
            "0".to_owned()
        } else {
            shown(rest, walk.study.lines.unit(lines.rest), &walk.study.currency, 3)
        },
    })
}
