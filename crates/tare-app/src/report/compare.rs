//! A comparison as the report prints it.

use super::amount::{grouped, percent, placed};
use crate::compare::Compared;
use crate::view::{CompareRow, CompareView, RangeRow, compared};
use tare_report as page;
use tare_report::{Figure, Range};

/// The share of draws inside the ranges.
const COVERAGE: f64 = 0.95;

/// Products side by side as a section of a report, or a page of its own.
pub fn comparison(found: &Compared) -> page::Comparison {
    let view = compared(found);
    let making = Making { view: &view };
    page::Comparison {
        products: view
            .products
            .iter()
            .map(|p| page::Compared {
                letter: p.letter.clone(),
                name: p.study.clone(),
                product: p.product.clone(),
                own: p.own.as_ref().map(figure),
                problems: p.problems.iter().cloned().chain(without_cost(&p.uncosted)).collect(),
                invented: p.illustrative,
            })
            .collect(),
        scenario: view.scenario.clone(),
        how: format!(
            "95 % of {} draws; what products share (rates, prices, methods) was drawn once for all of them, so that a difference is surer \
             than from two ranges found apart",
            view.draws
        ),
        boundary: view.boundary.iter().map(boundary).collect(),
        headlines: view.headlines.iter().map(|row| making.row(row)).collect(),
        yardsticks: making.yardsticks(),
        cuts: making.cuts(),
        rank: view.rank.as_ref().map(|rank| page::Rank {
            by: rank.by.clone(),
            places: rank.places.clone(),
            draws: rank.draws as u64,
        }),
        walks: making.walks(),
        best: making.best(),
        notes: view.problems.clone(),
    }
}

/// Items that totals lack, as a message.
fn without_cost(items: &[String]) -> Option<String> {
    (!items.is_empty()).then(|| format!("its totals lack items without a cost: {}", items.join(", ")))
}

fn boundary(row: &crate::compare::BoundaryDifference) -> page::BoundaryDifference {
    let state = |word: &String| match word.as_str() {
        "in" => page::Contained::In,
        "out" => page::Contained::Out,
        _ => page::Contained::Unknown,
    };
    let unnamed = row.states.iter().any(String::is_empty) && !row.states.is_empty();
    let note = if unnamed { "not named in every register" } else { "" };
    page::BoundaryDifference { topic: row.topic.clone(), states: row.states.iter().map(state).collect(), note: note.to_owned() }
}

fn figure(of: &crate::Figure) -> Figure {
    Figure::new(of.value, grouped(&of.text))
}

fn ranged(of: &crate::Figure, range: Option<&RangeRow>, draws: u64) -> Figure {
    let mut figure = figure(of);
    if let Some(range) = range.filter(|r| r.ends.1 > r.ends.0) {
        let (low, high) = range.ends;
        // to the place of the standard uncertainty, about a quarter of the width
        let unit = tare_units::Unit::parse(&of.unit).unwrap_or_else(|_| tare_units::Unit::plain());
        let ends = [low, high].map(|end| unit.to_si(end));
        let (texts, _) = placed(&ends, (ends[1] - ends[0]) / 4.0, &unit, &of.unit, false);
        let text = format!("{} to {}", texts[0], texts[1]);
        figure.range = Some(Range { low, high, text, coverage: COVERAGE, draws });
    }
    figure
}

struct Making<'m> {
    view: &'m CompareView,
}

impl Making<'_> {
    fn row(&self, row: &CompareRow) -> page::ComparedRow {
        let share = row.name == "ideal-time share";
        let all = |figures: &[Option<crate::Figure>], ranges: &[Option<RangeRow>]| {
            let each = figures.iter().zip(ranges).map(|(figure, range)| {
                let figure = figure.as_ref()?;
                if share {
                    return Some(Figure::new(figure.value, percent(figure.value)));
                }
                Some(ranged(figure, range.as_ref(), self.view.draws))
            });
            each.collect()
        };
        page::ComparedRow {
            name: row.name.clone(),
            values: all(&row.figures, &row.ranges),
            changes: all(&row.changes, &row.change_ranges),
            unmapped: row.unmapped,
        }
    }

    fn yardsticks(&self) -> Vec<page::Yardstick> {
        let yard = |yard: &crate::view::YardRow| page::Yardstick {
            name: yard.name.clone(),
            unit: yard.costs.figures.iter().flatten().next().map(|f| f.unit.clone()).unwrap_or_default(),
            qualifiers: yard.qualifiers.clone(),
            values: yard.values.iter().map(|f| f.as_ref().map(figure)).collect(),
            costs: self.row(&yard.costs),
            per_mass: yard.per_mass.iter().map(|f| f.as_ref().map(figure)).collect(),
        };
        self.view.yards.iter().map(yard).collect()
    }

    fn cuts(&self) -> Vec<page::Cut> {
        let cut = |cut: &crate::view::CutRows| {
            let mass = cut.cut.starts_with("mass");
            let unit = if mass { "kg".to_owned() } else { format!("{} per product", self.view.currency) };
            let mut letters = cut.cut.chars();
            let title = letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect());
            page::Cut {
                title,
                unit,
                drawn: cut.cut.ends_with("by function"),
                rows: cut.rows.iter().map(|row| self.row(row)).collect(),
                note: String::new(),
            }
        };
        self.view.cuts.iter().map(cut).collect()
    }

    fn walks(&self) -> Vec<page::Walk> {
        let walk = |walk: &crate::view::ProductWalk| {
            let step = |label: &str, of: &crate::Figure, kind: page::StepKind| page::CostStep {
                label: label.to_owned(),
                value: figure(of),
                kind,
                share: String::new(),
            };
            let mut steps = vec![step(&walk.between[0], &walk.start, page::StepKind::Total)];
            steps.extend(walk.steps.iter().filter(|(_, f)| f.value != 0.0).map(|(name, f)| step(name, f, page::StepKind::Add)));
            steps.push(step(&walk.between[1], &walk.end, page::StepKind::Total));
            page::Walk {
                title: format!("From {} to {}, by function", walk.between[0], walk.between[1]),
                unit: self.view.currency.clone(),
                steps,
                note: "Functions are computed within each product, so that nothing acts together beyond them; the steps close."
                    .to_owned(),
            }
        };
        self.view.walks.iter().map(walk).collect()
    }

    fn best(&self) -> Option<page::BestOfEach> {
        let best = self.view.best.as_ref()?;
        let picked = best.picked.iter().map(|row| page::Picked {
            functions: row.functions.clone(),
            says: row.says.clone(),
            costs: row.costs.iter().map(|f| f.as_ref().map(figure)).collect(),
            from: row.from.clone(),
        });
        Some(page::BestOfEach { total: ranged(&best.total.stated, Some(&best.total), self.view.draws), picked: picked.collect() })
    }
}
