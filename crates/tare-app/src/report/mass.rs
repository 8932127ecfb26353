//! Weighing, where the mass is, and the joint census.

use super::filling::Filling;
use crate::figure::shown;
use crate::view::{self, count_text};
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
    let groups =
        groups.into_iter().filter(|(_, rows)| !rows.is_empty()).map(|(title, rows)| grouping(f, title, rows, total)).collect();
    let states: Vec<String> = f.study.mass.first().map(|m| m.states.clone()).unwrap_or_default();
    Mass {
        total: f.optional(total, 5),
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
        let verdict = match u {
            _ if !unknown.is_empty() => GapVerdict::Incomplete,
            None => GapVerdict::NotWeighed,
            Some((gap, u)) if f.study.value(gap).abs() <= u => GapVerdict::Within,
            Some(_) => GapVerdict::Larger,
        };
        let weighed = matches!(row.how, MassHow::Weighed | MassHow::Stated).then_some(row.mass).flatten();
        let instruments = [part.id, part.item]
            .into_iter()
            .flat_map(|id| f.stated(id, "mass"))
            .filter_map(|v| v.refers(Field::Instrument))
            .map(|i| f.name(i));
        let mut instruments: Vec<String> = instruments.collect();
        instruments.dedup();
        found.push(MassBalance {
            label: format!("{} {}", part.label, part.name),
            level: u32::try_from(part.level).unwrap_or(u32::MAX),
            weighed: f.optional(weighed, 5),
            parts: f.optional(row.sum, 5),
            gap: f.optional(row.gap, 3),
            gap_uncertainty: u.map(|(gap, u)| {
                let unit = f.study.lines.unit(gap);
                Figure::new(unit.from_si(u), format!("{} (k = 2)", shown(u, unit, "", 2)))
            }),
            verdict,
            how: instruments.join(", "),
            state: row.states.join(", "),
            unknown,
        });
    }
    found
}

/// Groups with figures and shares, largest first.
pub(super) fn grouping(f: &mut Filling<'_>, title: &str, rows: &[(String, LineRef)], total: Option<LineRef>) -> Grouping {
    let mut rows: Vec<(String, LineRef)> = rows.to_vec();
    rows.sort_by(|a, b| f.study.value(b.1).total_cmp(&f.study.value(a.1)).then_with(|| a.0.cmp(&b.0)));
    let unit = rows.first().map(|(_, l)| f.study.lines.unit(*l).text.replace("money", &f.study.currency)).unwrap_or_default();
    let rows = rows.iter().map(|(label, line)| GroupRow {
        label: f.library.material(label).map_or_else(|| label.clone(), |m| m.name.clone()),
        share: f.share(*line, total),
        value: f.figure(*line, 4),
        ..GroupRow::default()
    });
    let rows = rows.collect();
    Grouping { title: title.to_owned(), unit, rows, total: total.map(|t| f.figure(t, 5)) }
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
    let unit = f.study.totals.mass.map(|m| f.study.lines.unit(m).text.clone()).unwrap_or_default();
    AreaMap { title: "Where the mass is".to_owned(), unit, cells }
}

pub(super) fn joints(f: &mut Filling<'_>) -> Joints {
    f.group = "Joints".to_owned();
    let census = view::joints(f.study, f.library);
    let mut rows = Vec::new();
    for group in &census.census {
        let of = census.joints.iter().find(|j| j.method == group.method);
        let stated = |name: &str| of.and_then(|j| j.stated.get(name)).cloned().unwrap_or_default();
        rows.push(JointRow {
            method: group.method.clone(),
            kind: String::new(),
            size: group.stated.clone(),
            drive: if group.stated.contains("drive") { String::new() } else { stated("drive") },
            count: Some(Figure::new(group.count, count_text(group.count))),
            length: None,
            seconds: group.seconds.map(|s| Figure::new(s, format!("{} s", tare_units::show_number(s, 3)))),
            note: format!("{} records", group.records),
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
