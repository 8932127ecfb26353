//! What drives the results most, and what to find out next, in the section of ranges.

use super::amount::grouped;
use super::filling::{Filling, axis, number};
use super::ranges::{LEAST, share, stated};
use crate::ranges::Ranges;
use tare_report::{Driver, Drivers, Figure, WorkList, WorkRow};
use tare_study::LineRef;

pub(super) fn drivers(f: &mut Filling<'_>, ranges: &Ranges, found: &tare_analysis::Drivers) -> Drivers {
    let unit = f.study.lines.unit(found.line).clone();
    let name = ranges.watched.iter().find(|(_, line)| *line == found.line).map_or_else(String::new, |(name, _)| name.clone());
    let texts = |f: &Filling<'_>, ends: [f64; 2], line: LineRef| {
        let unit = f.study.lines.unit(line);
        ends.map(|si| super::reasons::typeset(&crate::figure::shown(si, unit, &f.study.currency, 3)))
    };
    let mut rows = Vec::new();
    // shares that are lost in the scatter say nothing
    for row in found.rows.iter().filter(|row| row.indices.total > LEAST) {
        let (input, value) = super::evidence::input(f, row.leaf);
        let input = group(f, row).unwrap_or(input);
        let results = texts(f, row.results, found.line);
        let end = |k: usize| Figure::new(number(row.results[k], &unit), results[k].clone());
        let [low, high] = texts(f, row.between, row.leaf);
        rows.push(Driver {
            input,
            at_low: end(0),
            at_high: end(1),
            interval: if row.with.is_empty() { format!("{low} to {high}") } else { "all together, first order".to_owned() },
            alone: per_cent(row.indices.first),
            with_others: per_cent(row.indices.total),
            link: value.link,
        });
    }
    Drivers {
        title: format!("{}: what moves it", super::reasons::capital(&name)),
        unit: axis(&unit, &f.study.currency),
        base: stated(f, found.line),
        rows,
    }
}

/// What leaves that move together are called: by what they have in common, where that is one cause.
fn group(f: &Filling<'_>, row: &tare_analysis::Driver) -> Option<String> {
    let of = |line: &LineRef| {
        let LineRef::Leaf(leaf) = line else { return None };
        Some(tare_analysis::Cause::of(&f.study.lines, &f.study.lines.leaves[*leaf as usize]))
    };
    let first = of(&row.leaf)?;
    if row.with.is_empty() {
        return None;
    }
    if row.with.iter().all(|line| of(line) == Some(first)) {
        return Some(format!("{} that move together ({})", super::reasons::capital(first.words()), row.with.len() + 1));
    }
    Some(format!("{} and {} that move with it", super::evidence::named(f, row.leaf), row.with.len()))
}

pub(super) fn how(ranges: &Ranges) -> String {
    let Some(first) = ranges.drivers.first() else { return String::new() };
    format!(
        "{} inputs were screened with {} draws; those that stand out were drawn anew one by one. Bars: the result with the input at the ends of \
         its own {} interval, all others as stated. Shares as above, with the same scatter.",
        grouped(&first.screened.to_string()),
        grouped(&first.draws.to_string()),
        share(ranges.options.coverage)
    )
}

pub(super) fn work(f: &mut Filling<'_>, ranges: &Ranges, list: &tare_analysis::WorkList) -> WorkList {
    let unit = f.study.lines.unit(list.line).clone();
    let text = |f: &Filling<'_>, si: f64| crate::figure::shown(si, &unit, &f.study.currency, 3);
    let of = ranges.watched.iter().find(|(_, line)| *line == list.line).map_or_else(String::new, |(name, _)| name.clone());
    let mut rows = Vec::new();
    for step in &list.steps {
        let (input, value) = super::evidence::input(f, step.leaf);
        rows.push(WorkRow {
            input,
            value,
            recipe: step.recipe.title.clone(),
            who: step.recipe.who.clone(),
            effort: format!("{:.0} min", step.recipe.minutes),
            reaches: step.recipe.reaches_text.replace("+-", "\u{b1}"),
            gain: per_cent(1.0 - step.alone / list.deviation),
            then: text(f, step.together),
            source: step.recipe.source.clone(),
        });
    }
    let stuck = list.stuck.iter().map(|(leaf, part)| {
        let (input, _) = super::evidence::input(f, *leaf);
        format!("No recipe goes for {input}, which carries {} of the variance.", share(*part))
    });
    WorkList {
        stuck: stuck.collect(),
        of,
        now: text(f, list.deviation),
        how: format!(
            "By gain per minute of work. Each gain was worked out by drawing the study again ({} draws, the same random numbers) with the input \
             known as well as the recipe says and its mean where it is. Minutes are working minutes; reach and effort are common \
             practice and stand in the library of recipes, where a workspace's own take their place.",
            grouped(&list.draws.to_string())
        ),
        rows,
    }
}

/// A share as whole per cent, small ones with a decimal.
fn per_cent(share: f64) -> String {
    let per_cent = share.max(0.0) * 100.0;
    if per_cent < 9.95 { format!("{per_cent:.1} %") } else { format!("{per_cent:.0} %") }
}
