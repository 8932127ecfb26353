//! The section of ideas.

use super::amount::{percent, placed, shown};
use super::filling::{Filling, joined, number};
use super::reasons::beside;
use crate::idea::{EditState, Evaluated, Evaluation, Findings};
use crate::view::{IdeasView, ideas as view_ideas};
use std::collections::BTreeMap;
use tare_analysis::ideas::{ChangeRow as Changed, Detail, IdeaLines, Worth};
use tare_engine::stats::Sample;
use tare_model::Document;
use tare_report as page;
use tare_report::{Figure, Range, Report};
use tare_study::{LineRef, Study};

/// The share of draws inside the ranges.
const COVERAGE: f64 = 0.95;

/// What a report says of ideas.
#[derive(Debug)]
pub struct IdeasOf<'a> {
    /// The study as it is.
    pub study: &'a Study,
    /// The ideas as they were evaluated.
    pub evaluation: &'a Evaluation,
    /// What was found.
    pub findings: &'a Findings,
    /// Changes line by line by the place of the idea in the evaluation, where they are to be shown.
    pub details: BTreeMap<usize, (Detail, Study)>,
}

/// Puts the section of ideas into a report, with the reasons behind its numbers.
pub fn put_ideas(report: &mut Report, document: &Document, library: &tare_library::Library, of: &IdeasOf<'_>) {
    let view = view_ideas(document, of.study, of.evaluation, of.findings);
    let mut f = Filling::new(document, &of.evaluation.changes.study, library, None);
    f.group = "Ideas".to_owned();
    let draws = of.evaluation.draws;
    let rows = of.evaluation.ideas.iter().enumerate().map(|(at, one)| idea(&mut f, of, at, one, draws)).collect();
    let set = of.evaluation.set.as_ref().and_then(|found| {
        let shown = view.set.as_ref()?;
        let mut g = found.changes.as_ref().map(|changes| Filling::new(document, &changes.study, library, None));
        if let Some(g) = &mut g {
            g.group = "The best set of ideas".to_owned();
        }
        let lines = found.changes.as_ref().and_then(|c| c.ideas.first()?.as_ref().ok());
        let worth = match (&mut g, lines, &found.worth) {
            (Some(g), Some(lines), Some(draws_of)) => Some(worth(g, lines, draws_of, draws)),
            _ => None,
        };
        if let Some(mut g) = g {
            let known = report.reasons.iter().map(|r| r.anchor.clone()).collect();
            report.reasons.extend(beside(&mut g, &known, "idea set"));
        }
        Some(set(of, shown, worth))
    });
    let unit = format!("{} for each product", of.study.currency);
    report.ideas = Some(page::Ideas {
        unit,
        how: how(of, draws),
        safety: safety(of, &view),
        rows,
        set,
        dropped: view
            .dropped
            .iter()
            .map(|[label, name, reason]| page::DroppedIdea { name: name.clone(), place: label.clone(), reason: reason.clone() })
            .collect(),
        notes: of.findings.problems.iter().map(ToString::to_string).chain(view.problems.clone()).collect(),
    });
    let known = report.reasons.iter().map(|r| r.anchor.clone()).collect();
    report.reasons.extend(beside(&mut f, &known, "idea "));
}

fn how(of: &IdeasOf<'_>, draws: u64) -> String {
    let volume = of.study.totals.volume.map(|line| shown(of.study.value(line), of.study.lines.unit(line), &of.study.currency, 4));
    format!(
        "Each idea was carried out on a copy of the study, which was computed anew and drawn {draws} times with the same random numbers; at {}. \
         One-off costs are paid back with interest over the years of production.",
        volume.unwrap_or_else(|| "the stated volume".to_owned())
    )
}

fn part_label(of: &IdeasOf<'_>, place: &str) -> Option<String> {
    of.study.parts.iter().find(|part| part.label == place).map(|part| part.label.clone())
}

fn safety(of: &IdeasOf<'_>, view: &IdeasView) -> Vec<page::SafetyFinding> {
    let row = |row: &crate::view::SafetyRow| page::SafetyFinding {
        name: row.name.clone(),
        place: row.place.clone(),
        part: row.part.clone().or_else(|| part_label(of, &row.place)),
        says: row.says.clone(),
        advice: row.advice.clone(),
        source: row.source.clone(),
    };
    view.safety.iter().map(row).collect()
}

fn idea(f: &mut Filling<'_>, of: &IdeasOf<'_>, at: usize, one: &Evaluated, draws: u64) -> page::Idea {
    use tare_model::Field;
    let idea = &one.idea;
    let text = |field: Field| idea.record.text(field).unwrap_or_default().to_owned();
    let addresses = crate::address::Addresses::new(f.document);
    let told = idea
        .edits
        .iter()
        .zip(&one.standing)
        .filter(|(edit, standing)| standing.problem.is_some() || !crate::idea::words::is_beside(f.document, edit));
    let edits = told.map(|(edit, standing)| page::IdeaEdit {
        text: crate::idea::words::described(f.document, &addresses, edit).replace(" -> ", " \u{2192} ").replace('`', ""),
        state: match standing.state {
            EditState::Fits => page::EditState::Fits,
            EditState::AlreadySo => page::EditState::AlreadySo,
            EditState::Conflicts => page::EditState::Conflicts,
            EditState::Gone => page::EditState::Gone,
        },
        problem: standing.problem.as_ref().map(ToString::to_string).unwrap_or_default(),
    });
    let edits = edits.collect();
    let lines = one.variant.and_then(|at| of.evaluation.changes.ideas[at].as_ref().ok());
    let worth = lines.zip(one.worth.as_ref()).map(|(lines, worth_of)| worth(f, lines, worth_of, draws));
    let problems = one.why.iter().cloned().chain(idea.problems.iter().chain(&one.problems).map(|p| p.message.clone())).collect();
    page::Idea {
        id: idea.label.clone(),
        name: idea.name().to_owned(),
        place: idea.place.clone(),
        part: part_label(of, &idea.place),
        kind: text(Field::Group),
        says: text(Field::Says),
        source: text(Field::Source),
        advice: idea.advice.clone(),
        risk: text(Field::Risk),
        state: text(Field::State),
        edits,
        worth,
        problems,
        changes: of.details.get(&at).map(|(detail, after)| tables(of.study, after, detail)).unwrap_or_default(),
    }
}

fn worth(f: &mut Filling<'_>, lines: &IdeaLines, worth: &Worth, draws: u64) -> page::IdeaWorth {
    let net_saving = drawn(f, lines.net_saving, &worth.net_saving, draws);
    let unit = f.study.lines.unit(lines.net_saving).clone();
    let mean = worth.net_saving.mean();
    let mean = Figure::new(number(mean, &unit), shown(mean, &unit, &f.study.currency, 3));
    let saves = f.study.value(lines.running_saving) > 0.0;
    let payback = lines.payback.filter(|_| saves);
    let count = |f: &mut Filling<'_>, line: LineRef| {
        let value = (f.study.value(line) * 10.0).round() / 10.0;
        let figure = Figure::new(value, signed(value));
        let anchor = f.anchor(line);
        figure.because(anchor)
    };
    page::IdeaWorth {
        saving: drawn(f, lines.saving, &worth.saving, draws),
        net_saving,
        mean: Some(mean),
        chance: Some(Figure::new(worth.chance, percent(worth.chance))),
        yearly: Some(f.figure(lines.yearly_net, 3)),
        one_off: lines.one_off.map(|line| f.figure(line, 3)),
        investment: Some(f.figure(lines.investment, 3)),
        stake: Some(f.figure(lines.stake, 3)),
        payback: payback.map(|(years, _)| time_back(f, years)),
        turning_volume: payback.map(|(_, volume)| f.figure(volume, 3)),
        mass: lines.mass.zip(worth.mass.as_ref()).map(|(line, draws_of)| drawn(f, line, draws_of, draws)),
        seconds: lines.seconds.zip(worth.seconds.as_ref()).map(|(line, draws_of)| drawn(f, line, draws_of, draws)),
        operators: lines.operators.map(|line| count(f, line)),
        pieces: Some(count(f, lines.parts)),
        joints: Some(count(f, lines.joints)),
        ideal_share: lines.ideal_share.map(|(old, new)| (f.percent(old), f.percent(new))),
    }
}

/// A payback time in words: months below a year, years to a tenth.
fn time_back(f: &mut Filling<'_>, line: LineRef) -> Figure {
    let years = f.study.lines.unit(line).from_si(f.study.value(line));
    let text = match years {
        y if y <= 0.0 => "at once".to_owned(),
        y if y < 1.0 / 12.0 => "less than a month".to_owned(),
        y if y < 1.0 => format!("{:.0} months", (y * 12.0).max(1.0)),
        y if y > 100.0 => "more than 100 years".to_owned(),
        y => format!("{y:.1} years"),
    };
    let figure = f.figure(line, 2);
    Figure { text, ..figure }
}

fn signed(value: f64) -> String {
    let text = tare_units::show_number(value, 4);
    if value > 0.0 { format!("+{text}") } else { text }
}

/// The figure of a line with the range its draws have, ends and number to one place.
pub(super) fn drawn(f: &mut Filling<'_>, line: LineRef, of: &Sample, draws: u64) -> Figure {
    let ends = of.symmetric(COVERAGE);
    let unit = f.study.lines.unit(line).clone();
    let value = f.study.value(line);
    let (texts, word) = placed(&[value, ends.low, ends.high], of.deviation(), &unit, &f.study.currency, false);
    let with = |text: &str| joined([Some(text), Some(word.as_str())], " ");
    let mut figure = Figure::new(number(value, &unit), with(&texts[0]));
    if of.deviation() > 0.0 {
        let text = format!("{} to {}", texts[1], with(&texts[2]));
        let (low, high) = (number(ends.low, &unit), number(ends.high, &unit));
        figure.range = Some(Range { low, high, text, coverage: COVERAGE, draws });
    }
    let anchor = f.anchor(line);
    figure.because(anchor)
}

/// The tables of one change, the largest changes first; lines that do not change are left out.
fn tables(before: &Study, after: &Study, detail: &Detail) -> Vec<page::ChangeTable> {
    let plain = |study: &Study, line: LineRef| {
        let unit = study.lines.unit(line);
        Figure::new(number(study.value(line), unit), shown(study.value(line), unit, &study.currency, 4))
    };
    let linked = |line: LineRef| plain(before, line).because(before.lines.address(line));
    let table = |title: &str, rows: Vec<&Changed>| {
        let mut rows: Vec<page::ChangeRow> = rows
            .into_iter()
            .map(|row| page::ChangeRow {
                name: row.name.clone(),
                before: row.before.map(linked),
                after: row.after.map(|line| plain(after, line)),
                change: plain(&detail.study, row.change),
            })
            .filter(|row| row.change.number != 0.0)
            .collect();
        rows.sort_by(|a, b| b.change.number.abs().total_cmp(&a.change.number.abs()));
        page::ChangeTable { title: title.to_owned(), rows }
    };
    vec![
        table("By kind of cost", detail.kinds.iter().collect()),
        table("By item", detail.items.iter().map(|(_, row)| row).collect()),
    ]
}

fn set(of: &IdeasOf<'_>, shown_set: &crate::view::SetView, worth: Option<page::IdeaWorth>) -> page::IdeaSet {
    let money = |value: f64, text: &str| Figure::new(value, super::amount::grouped(text));
    let point = |row: &crate::view::FrontierRow| page::FrontierPoint {
        stake: money(row.stake, &row.stake_text),
        saving: money(row.saving, &row.saving_text),
        chosen: row.ideas == shown_set.ideas,
        ideas: row.ideas.clone(),
    };
    let bound = if shown_set.exhaustive {
        format!("Every set within its group was computed ({} sets): no other saves more.", shown_set.computed)
    } else {
        format!(
            "{} sets were computed. No idea added, left out or exchanged saves more. The best gains that ideas had in any of these sets add up to \
             {} a year: a guide to how far sets that were not computed might go, not a proof.",
            shown_set.computed,
            super::amount::grouped(&shown_set.bound)
        )
    };
    page::IdeaSet {
        ideas: shown_set.ideas.clone(),
        worth,
        bound,
        stake_unit: of.study.currency.clone(),
        saving_unit: format!("{} a year", of.study.currency),
        frontier: shown_set.frontier.iter().map(point).collect(),
        groups: shown_set.groups.clone(),
    }
}
