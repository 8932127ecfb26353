//! Ideas with what they come to, as rows.

use crate::address::Addresses;
use crate::figure::Figure;
use crate::idea::words::{described, is_beside};
use crate::idea::{Evaluated, Evaluation, Findings};
use crate::report::placed;
use serde::Serialize;
use tare_analysis::ideas::{ChangeRow, Changes, Detail, IdeaLines, Worth};
use tare_engine::stats::Sample;
use tare_model::{Document, Field};
use tare_study::{LineRef, Study};

/// The share of draws inside the intervals shown.
const COVERAGE: f64 = 0.95;
/// Ideas of a study.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct IdeasView {
    /// Safety findings: for qualified people, never traded against cost.
    pub safety: Vec<SafetyRow>,
    /// Ideas, the most gain first.
    pub ideas: Vec<IdeaRow>,
    /// The best set, where one was asked for.
    pub set: Option<SetView>,
    /// Ideas that were dropped, with the reason kept: label, name, reason.
    pub dropped: Vec<[String; 3]>,
    /// What was found wrong when the ideas were joined with the study.
    pub problems: Vec<String>,
    /// The currency.
    pub currency: String,
    /// Draws behind the ranges.
    pub draws: u64,
}

/// A safety finding that a rule points at.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct SafetyRow {
    /// Its label: rule and place.
    pub label: String,
    /// What the rule is called.
    pub name: String,
    /// Where.
    pub place: String,
    /// Label of the first part concerned.
    pub part: Option<String>,
    /// What was seen, and what is due.
    pub says: String,
    /// What must be settled, and by whom.
    pub advice: String,
    /// Where the rule comes from.
    pub source: String,
}

/// One idea.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct IdeaRow {
    /// What it is called.
    pub label: String,
    /// Its record, as 32 hexadecimal digits.
    pub id: String,
    /// Its name.
    pub name: String,
    /// What kind of change it is.
    pub kind: String,
    /// Where.
    pub place: String,
    /// Why.
    pub says: String,
    /// Where it comes from.
    pub source: String,
    /// What must be settled first.
    pub advice: String,
    /// low, medium, high, or nothing where nobody has said.
    pub risk: String,
    /// open or taken.
    pub state: String,
    /// Whether the study holds it, rather than a rule finding it.
    pub recorded: bool,
    /// Its edits.
    pub edits: Vec<EditRow>,
    /// What it comes to; none where it cannot be carried out as it stands.
    pub worth: Option<WorthRow>,
    /// Why it cannot, and what the study says of it only with the idea.
    pub problems: Vec<String>,
}

/// One edit of an idea.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct EditRow {
    /// What it does.
    pub text: String,
    /// fits, already so, conflicts or gone.
    pub state: &'static str,
    /// What stands against it.
    pub problem: Option<String>,
}

/// What an idea, or a set of them, comes to.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct WorthRow {
    /// Saving of a product before the one-off cost.
    pub saving: RangeRow,
    /// Saving of a product when the one-off cost is paid back over the life.
    pub net_saving: RangeRow,
    /// The share of draws in which that is a gain.
    pub chance: f64,
    /// Net saving of a year.
    pub yearly: Figure,
    /// One-off cost.
    pub one_off: Option<Figure>,
    /// Change of the investment in tools.
    pub investment: Figure,
    /// Both together.
    pub stake: Figure,
    /// Payback time; none where nothing is saved.
    pub payback: Option<Figure>,
    /// Products a year from which on it pays within the life; none where nothing is saved.
    pub turning_volume: Option<Figure>,
    /// Change of the mass of a product.
    pub mass: Option<RangeRow>,
    /// Change of manual time of a product.
    pub seconds: Option<RangeRow>,
    /// Change of the operators on all lines; seconds alone free nobody.
    pub operators: Option<f64>,
    /// Change of the number of pieces.
    pub parts: f64,
    /// Change of the number of joints.
    pub joints: f64,
    /// Ideal-time share before and after.
    pub ideal_share: Option<(f64, f64)>,
}

/// A number with its range.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct RangeRow {
    /// The number at the stated values.
    pub stated: Figure,
    /// Mean of the draws, in the unit of `stated`.
    pub mean: f64,
    /// The middle of the draws: as many above as below.
    pub middle: f64,
    /// Lower end, shown without its unit.
    pub low: String,
    /// Upper end, shown with the unit of both.
    pub high: String,
    /// Both ends as numbers, in the unit of `stated`.
    pub ends: (f64, f64),
}

/// The best set of ideas.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct SetView {
    /// Labels of its ideas.
    pub ideas: Vec<String>,
    /// What it comes to as a whole.
    pub worth: Option<WorthRow>,
    /// The best gains of a year that ideas had in any set that was computed, added up and shown: a guide, no proof.
    pub bound: String,
    /// By how much that is more, as a share of what was found.
    pub gap: f64,
    /// Whether every set within its group was computed, so that no other saves more.
    pub exhaustive: bool,
    /// Whether points of the frontier were left out because there were too many.
    pub thinned: bool,
    /// Sets that were computed.
    pub computed: usize,
    /// Groups whose ideas have to be computed together.
    pub groups: Vec<Vec<String>>,
    /// The most saved in a year for so much money: stake, saving (both as numbers and shown), labels.
    pub frontier: Vec<FrontierRow>,
}

/// One point of the frontier of saving against money laid out.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct FrontierRow {
    /// Money laid out.
    pub stake: f64,
    /// The same, shown.
    pub stake_text: String,
    /// Net saving of a year.
    pub saving: f64,
    /// The same, shown.
    pub saving_text: String,
    /// Labels of the ideas.
    pub ideas: Vec<String>,
}

/// Evaluated ideas as rows.
pub fn ideas(document: &Document, base: &Study, evaluation: &Evaluation, findings: &Findings) -> IdeasView {
    let addresses = Addresses::new(document);
    let mut rows: Vec<IdeaRow> = evaluation.ideas.iter().map(|one| row(document, &addresses, &evaluation.changes, one)).collect();
    let gain = |row: &IdeaRow| row.worth.as_ref().map_or(f64::NEG_INFINITY, |w| w.net_saving.middle);
    rows.sort_by(|a, b| gain(b).total_cmp(&gain(a)));
    let label = |at: &usize| evaluation.ideas[*at].idea.label.clone();
    let money = |si: f64| format!("{si:.0} {}", base.currency);
    let set = evaluation.set.as_ref().map(|found| {
        let search = &found.search;
        let lines = found.changes.as_ref().and_then(|c| Some((c, c.ideas.first()?.as_ref().ok()?)));
        let saving = search.best.offer.saving;
        let per_year = 365.25 * 86_400.0;
        // what costs more than it saves is no way to save, however little is laid out
        let listed = search.frontier.iter().filter(|point| point.choice.offer.saving >= 0.0);
        SetView {
            ideas: search.best.ideas.iter().map(label).collect(),
            worth: lines.and_then(|(changes, lines)| Some(worth_row(changes, lines, found.worth.as_ref()?))),
            bound: money(search.bound * per_year),
            gap: if saving > 0.0 { (search.bound - saving) / saving } else { 0.0 },
            exhaustive: search.exhaustive,
            thinned: search.thinned,
            computed: search.computed,
            groups: found.groups.iter().map(|g| g.iter().map(label).collect()).collect(),
            frontier: listed
                .map(|point| FrontierRow {
                    stake: point.choice.offer.stake,
                    stake_text: money(point.choice.offer.stake),
                    saving: point.choice.offer.saving * per_year,
                    saving_text: money(point.choice.offer.saving * per_year),
                    ideas: point.choice.ideas.iter().map(label).collect(),
                })
                .collect(),
        }
    });
    let dropped = findings
        .dropped
        .iter()
        .map(|idea| [idea.label.clone(), idea.name().to_owned(), idea.record.text(Field::Reason).unwrap_or_default().to_owned()]);
    IdeasView {
        safety: findings.safety.clone(),
        ideas: rows,
        set,
        dropped: dropped.collect(),
        problems: evaluation.changes.study.problems.iter().map(ToString::to_string).collect(),
        currency: base.currency.clone(),
        draws: evaluation.draws,
    }
}

fn row(document: &Document, addresses: &Addresses<'_>, changes: &Changes, one: &Evaluated) -> IdeaRow {
    let idea = &one.idea;
    let text = |field: Field| idea.record.text(field).unwrap_or_default().to_owned();
    let told =
        idea.edits.iter().zip(&one.standing).filter(|(edit, standing)| standing.problem.is_some() || !is_beside(document, edit));
    let edits = told.map(|(edit, standing)| EditRow {
        text: described(document, addresses, edit),
        state: standing.state.word(),
        problem: standing.problem.as_ref().map(ToString::to_string),
    });
    let lines = one.variant.and_then(|at| changes.ideas[at].as_ref().ok());
    let worth = lines.zip(one.worth.as_ref()).map(|(lines, worth)| worth_row(changes, lines, worth));
    let problems: Vec<String> =
        one.why.iter().cloned().chain(idea.problems.iter().chain(&one.problems).map(ToString::to_string)).collect();
    IdeaRow {
        label: idea.label.clone(),
        id: idea.id().to_string(),
        name: text(Field::Name),
        kind: text(Field::Group),
        place: idea.place.clone(),
        says: text(Field::Says),
        source: text(Field::Source),
        advice: idea.advice.clone(),
        risk: text(Field::Risk),
        state: idea.record.text(Field::State).unwrap_or("open").to_owned(),
        recorded: idea.recorded,
        edits: edits.collect(),
        worth,
        problems,
    }
}

/// What the lines and draws of one variant say.
pub(crate) fn worth_row(changes: &Changes, lines: &IdeaLines, worth: &Worth) -> WorthRow {
    let study = &changes.study;
    let figure = |line: LineRef| Figure::new(study, line, 4);
    let saves = study.value(lines.running_saving) > 0.0;
    let payback = lines.payback.filter(|_| saves);
    let range = |line: LineRef, draws: &Sample| range_row(study, line, draws);
    let share = |line: LineRef| study.value(line);
    WorthRow {
        saving: range(lines.saving, &worth.saving),
        net_saving: range(lines.net_saving, &worth.net_saving),
        chance: worth.chance,
        yearly: figure(lines.yearly_net),
        one_off: lines.one_off.map(figure),
        investment: figure(lines.investment),
        stake: figure(lines.stake),
        payback: payback.map(|(years, _)| figure(years)),
        turning_volume: payback.map(|(_, volume)| figure(volume)),
        mass: lines.mass.zip(worth.mass.as_ref()).map(|(line, draws)| range(line, draws)),
        seconds: lines.seconds.zip(worth.seconds.as_ref()).map(|(line, draws)| range(line, draws)),
        operators: lines.operators.map(share),
        parts: share(lines.parts),
        joints: share(lines.joints),
        ideal_share: lines.ideal_share.map(|(old, new)| (share(old), share(new))),
    }
}

/// A line with the range its draws give.
pub(crate) fn range_row(study: &Study, line: LineRef, draws: &Sample) -> RangeRow {
    let unit = study.lines.unit(line);
    let ends = draws.symmetric(COVERAGE);
    let (texts, word) = placed(&[ends.low, ends.high], draws.deviation(), unit, &study.currency, false);
    RangeRow {
        stated: Figure::new(study, line, 4),
        mean: unit.from_si(draws.mean()),
        middle: unit.from_si(draws.quantile(0.5)),
        low: texts[0].clone(),
        high: if word.is_empty() { texts[1].clone() } else { format!("{} {word}", texts[1]) },
        ends: (unit.from_si(ends.low), unit.from_si(ends.high)),
    }
}

/// What differs between a study and a variant of it, line by line.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct ChangeRows {
    /// By kind of cost.
    pub kinds: Vec<ChangeLine>,
    /// By process.
    pub processes: Vec<ChangeLine>,
    /// By item.
    pub items: Vec<ChangeLine>,
}

/// One line before and after.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct ChangeLine {
    /// What it is.
    pub name: String,
    /// As it was, shown; a dash where it was not.
    pub before: String,
    /// The line of the study that says so, where there is one.
    pub line: Option<String>,
    /// As it is with the idea.
    pub after: String,
    /// The change.
    pub change: Figure,
}

/// The difference line by line as rows, the largest change first; what does not change is left out.
pub fn change_rows(before: &Study, after: &Study, detail: &Detail) -> ChangeRows {
    let joined = &detail.study;
    let side = |study: &Study, line: Option<LineRef>| line.map_or_else(|| "-".to_owned(), |l| Figure::new(study, l, 4).text);
    let table = |rows: Vec<&ChangeRow>| {
        let mut lines: Vec<ChangeLine> = rows
            .iter()
            .map(|row| ChangeLine {
                name: row.name.clone(),
                before: side(before, row.before),
                line: row.before.map(|line| before.lines.address(line)),
                after: side(after, row.after),
                change: Figure::new(joined, row.change, 4),
            })
            .collect();
        lines.sort_by(|a, b| b.change.value.abs().total_cmp(&a.change.value.abs()));
        lines.retain(|l| l.change.value != 0.0);
        lines
    };
    ChangeRows {
        kinds: table(detail.kinds.iter().collect()),
        processes: table(detail.processes.iter().collect()),
        items: table(detail.items.iter().map(|(_, row)| row).collect()),
    }
}
