//! Weighing, where the mass is, and the joint census.

use super::amount::{grouped, with_uncertainty};
use super::filling::{Filling, axis, number};
use crate::view::{self, count_text};
use std::collections::BTreeSet;
use tare_model::Field;
use tare_report::{AreaCell, AreaMap, FastenerRow, Figure, GapVerdict, GroupRow, Grouping, JointRow, Joints, Mass, MassBalance};
use tare_study::{LineRef, MassHow};

pub(super) fn mass(f: &mut Filling<'_>) -> Mass {
    f.group = "Mass".to_owned();
    let total = f.study.totals.mass;
    let totals = f.study.totals.clone();
    let groups = [
        ("Mass by material", &totals.mass_by_material),
        ("Mass by function", &totals.mass_by_function),
        ("Mass by process", &totals.mass_by_process),
    ];
    let groups: Vec<Grouping> =
        groups.into_iter().filter(|(_, rows)| !rows.is_empty()).map(|(title, rows)| grouping(f, title, rows, total, 3)).collect();
    // leaf parts are grouped; what a weighed whole holds beyond its parts is in no group
    let whole = |group| Grouping { whole: "product as weighed".to_owned(), ..group };
    let mut groups: Vec<Grouping> = groups.into_iter().map(whole).collect();
    if let Some(first) = groups.first_mut() {
        first.note = "Groups hold the parts at the ends of the tree. What a weighed whole holds beyond its parts is in none of \
                      them; the balance above shows it."
            .to_owned();
    }
    let first = f.study.mass.first().cloned();
    let states = first.map(|row| readings(f, &row).0).unwrap_or_default();
    Mass {
        total: total.map(|line| {
            let figure = f.figure(line, 5);
            f.about(line, figure)
        }),
        state: states.join(", "),
        balance: balance(f),
        groups,
        maps: vec![map(f)],
        notes: vec![
            "Uncertainties are first order (JCGM 100), k = 2; errors shared by readings of one instrument are taken once."
                .to_owned(),
        ],
    }
}

fn balance(f: &mut Filling<'_>) -> Vec<MassBalance> {
    let mut found = Vec::new();
    for row in f.study.mass.clone() {
        let children: Vec<usize> = (0..f.study.parts.len()).filter(|p| f.study.parts[*p].parent == Some(row.part)).collect();
        if children.is_empty() {
            continue;
        }
        let part = f.study.parts[row.part].clone();
        let unknown: Vec<String> = children
            .iter()
            .filter(|c| f.study.mass.get(**c).is_some_and(|m| m.mass.is_none()))
            .map(|c| f.study.parts[*c].name.clone())
            .collect();
        let u = row.gap.map(|gap| (gap, 2.0 * f.study.grounds(gap).standard_uncertainty));
        // a child that took its mass from this weighing leaves no gap, whatever the scales say
        let taken =
            children.iter().any(|c| f.study.mass.get(*c).is_some_and(|m| matches!(m.how, MassHow::Difference | MassHow::Share)));
        let verdict = verdict(taken, !unknown.is_empty(), u.map(|(gap, u)| (f.study.value(gap), u)));
        let weighed = matches!(row.how, MassHow::Weighed | MassHow::Stated).then_some(row.mass).flatten();
        let (states, instruments) = readings(f, &row);
        let gap = row.gap.map(|line| f.figure(line, 3));
        let rounded = u.map(|(gap, u)| with_uncertainty(f.study.value(gap), u, f.study.lines.unit(gap), ""));
        let (gap, uncertainty) = match (gap, u, rounded) {
            (Some(gap), ..) if verdict == GapVerdict::Defined => {
                (Some(Figure { number: 0.0, text: "0 g".to_owned(), ..gap }), Some(Figure::new(f64::NAN, "by definition")))
            }
            (Some(gap), Some((line, u)), Some((value, half))) if u > 0.0 => {
                let half = Figure { text: half, number: number(u, f.study.lines.unit(line)), ..gap.clone() };
                (Some(Figure { text: value, ..gap }), Some(half))
            }
            (Some(gap), Some((line, u)), _) if u.is_nan() => {
                let why = f.study.why_unknown(line).unwrap_or_default();
                (Some(gap), Some(Figure::new(f64::NAN, "not known").saying(why.trim_start_matches("not known: "))))
            }
            (gap, ..) => (gap, None),
        };
        found.push(MassBalance {
            label: format!("{} {}", part.label, part.name),
            level: u32::try_from(part.level).unwrap_or(u32::MAX),
            weighed: weighed.map(|line| f.rounded(line)),
            parts: row.sum.map(|line| f.rounded(line)),
            gap,
            gap_uncertainty: uncertainty,
            verdict,
            how: instruments.join(", "),
            state: states.join(", "),
            unknown,
        });
    }
    found
}

/// What a gap means against its expanded uncertainty, once it is a gap at all.
fn verdict(taken: bool, incomplete: bool, gap: Option<(f64, f64)>) -> GapVerdict {
    match gap {
        Some(_) if taken => GapVerdict::Defined,
        _ if incomplete => GapVerdict::Incomplete,
        None => GapVerdict::NotWeighed,
        Some((_, u)) if u.is_nan() => GapVerdict::NotKnown,
        Some((gap, u)) if gap.abs() <= u => GapVerdict::Within,
        Some(_) => GapVerdict::Larger,
    }
}

/// Mass states and instruments of the readings that the adopted mass of a row rests on.
pub(super) fn readings(f: &Filling<'_>, row: &tare_study::MassRow) -> (Vec<String>, Vec<String>) {
    let part = &f.study.parts[row.part];
    let stated: Vec<_> = [part.id, part.item].into_iter().flat_map(|id| f.stated(id, "mass")).collect();
    // the lines under the mass, as far down as readings of this very part go
    let (mut open, mut seen, mut used) = (Vec::from_iter(row.mass), BTreeSet::new(), BTreeSet::new());
    while let Some(line) = open.pop() {
        let step = f.study.step(line);
        if !seen.insert(step.line) {
            continue;
        }
        if let LineRef::Leaf(at) = step.line {
            used.extend(f.study.lines.leaves[at as usize].record);
        }
        open.extend(step.names.iter().flat_map(|n| n.lines.iter().copied()));
    }
    let used: Vec<_> = stated.into_iter().filter(|v| used.contains(&v.id)).collect();
    let once = |mut words: Vec<String>| {
        words.sort();
        words.dedup();
        words
    };
    let states = used.iter().filter_map(|v| v.text(Field::MassState).map(str::to_owned)).collect();
    let instruments = used.iter().filter_map(|v| v.refers(Field::Instrument)).map(|i| f.name(i)).collect();
    (once(states), once(instruments))
}

/// Groups with figures and shares, largest first.
pub(super) fn grouping(
    f: &mut Filling<'_>,
    title: &str,
    rows: &[(String, LineRef)],
    total: Option<LineRef>,
    decimals: usize,
) -> Grouping {
    let mut rows: Vec<(String, LineRef)> = rows.to_vec();
    rows.sort_by(|a, b| f.study.value(b.1).total_cmp(&f.study.value(a.1)).then_with(|| a.0.cmp(&b.0)));
    let unit = rows.first().map(|(_, l)| axis(f.study.lines.unit(*l), &f.study.currency)).unwrap_or_default();
    let rows = rows.iter().map(|(label, line)| GroupRow {
        label: f.library.material(label).map_or_else(|| label.clone(), |m| m.name.clone()),
        share: f.share(*line, total),
        value: f.closing(*line, 1.0, decimals),
        ..GroupRow::default()
    });
    let rows = rows.collect();
    let total = total.map(|t| f.closing(t, 1.0, decimals));
    Grouping { title: title.to_owned(), unit, rows, total, ..Grouping::default() }
}

/// First level of the tree, with what is in each.
fn map(f: &mut Filling<'_>) -> AreaMap {
    let parts = f.study.parts.clone();
    let of = |f: &mut Filling<'_>, at: usize, pieces: f64| {
        let part = &parts[at];
        part.mass.map(|m| AreaCell { label: part.name.clone(), value: f.scaled(m, pieces, 4), cells: Vec::new() })
    };
    let mut cells = Vec::new();
    for at in (0..parts.len()).filter(|p| parts[*p].level == 1) {
        let Some(mut cell) = of(f, at, parts[at].pieces) else { continue };
        for below in (0..parts.len()).filter(|p| parts[*p].parent == Some(at)) {
            cell.cells.extend(of(f, below, parts[at].pieces * parts[below].count));
        }
        cells.push(cell);
    }
    let unit = f.study.totals.mass.map(|m| axis(f.study.lines.unit(m), &f.study.currency)).unwrap_or_default();
    AreaMap { title: "Where the mass is".to_owned(), unit, cells }
}

pub(super) fn joints(f: &mut Filling<'_>) -> Joints {
    f.group = "Joints".to_owned();
    let census = view::joints(f.study, f.library);
    let mut rows = Vec::new();
    for group in &census.census {
        rows.push(JointRow {
            method: group.method.clone(),
            kind: String::new(),
            size: group.stated.clone(),
            // the size as stated names the drive where there is one
            drive: String::new(),
            count: Some(Figure::new(group.count, count_text(group.count))),
            length: None,
            // none by hand: a robot or a press does it
            seconds: group.seconds.filter(|s| *s > 0.0).map(|s| Figure::new(s, grouped(&format!("{s:.1} s")))),
            note: if group.records == 1 { "1 record".to_owned() } else { format!("{} records", group.records) },
        });
    }
    let fasteners = census.fasteners.iter().map(|row| {
        let left = row.listed - row.used;
        FastenerRow {
            item: format!("{} {}", row.label, row.name),
            listed: count_text(row.listed),
            used: count_text(row.used),
            difference: if left == 0.0 { String::new() } else { format!("{left:+}") },
            words: match left {
                0.0 => "agrees".to_owned(),
                l if l > 0.0 => format!("{} left over", count_text(l)),
                l => format!("{} more than the list has", count_text(-l)),
            },
        }
    });
    let totals = vec![
        ("joints in the product".to_owned(), count_text(census.total)),
        ("records".to_owned(), census.joints.len().to_string()),
    ];
    Joints { fasteners: fasteners.collect(), rows, totals, notes: Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_of_unknown_uncertainty_is_neither_within_nor_larger() {
        assert_eq!(verdict(false, false, Some((0.5, f64::NAN))), GapVerdict::NotKnown);
        assert_eq!(verdict(false, false, Some((-0.5, 0.4))), GapVerdict::Larger);
        assert_eq!(verdict(false, false, Some((-0.5, 0.5))), GapVerdict::Within);
        assert_eq!(verdict(false, true, Some((0.5, f64::NAN))), GapVerdict::Incomplete, "what is missing comes first");
        assert_eq!(verdict(true, false, Some((0.5, f64::NAN))), GapVerdict::Defined);
        assert_eq!(verdict(true, false, None), GapVerdict::NotWeighed);
    }
}
