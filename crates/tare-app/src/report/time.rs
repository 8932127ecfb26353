//! Assembly time, lines, strip-down times beside them.

use super::amount::grouped;
use super::filling::Filling;
use crate::view::count_text;
use tare_model::{Field, Kind};
use tare_report::{AssemblyTime, Figure, LineBalance, Station, StripRow, TimeRow};
use tare_study::LineRef;

pub(super) fn time(f: &mut Filling<'_>) -> AssemblyTime {
    f.group = "Assembly time".to_owned();
    let rows = rows(f);
    let needed = f.study.totals.ideal_share.and_then(|share| named(f, share, "needed"));
    AssemblyTime {
        scale: "elementary motions (MTM-1; 1 TMU = 0.036 s) plus process times, no allowance".to_owned(),
        total: f.study.totals.manual.map(|line| {
            let figure = f.figure(line, 4);
            f.about(line, figure)
        }),
        needed: needed.map(|line| f.figure(line, 6)),
        ideal_share: f.study.totals.ideal_share.map(|line| {
            let figure = f.percent(line);
            f.about(line, figure)
        }),
        rows,
        lines: lines(f),
        strip_down: strip_down(f),
        notes: Vec::new(),
    }
}

/// What a name in the formula of a line stands for.
fn named(f: &Filling<'_>, line: LineRef, name: &str) -> Option<LineRef> {
    f.study.step(line).names.iter().find(|n| n.name == name).and_then(|n| n.lines.first().copied())
}

/// The kinds of work of each assembly, then its total.
fn rows(f: &mut Filling<'_>) -> Vec<TimeRow> {
    let mut rows = Vec::new();
    for assembly in f.study.assemblies.clone() {
        let Some(part) = f.study.parts.get(assembly.part).cloned() else { continue };
        let name = format!("{} {}", part.label, part.name);
        let recorded: f64 = assembly.recorded.iter().map(|l| f.study.value(*l)).sum();
        for (kind, line) in &assembly.by_kind {
            rows.push(TimeRow {
                assembly: name.clone(),
                operation: kind.word().to_owned(),
                motions: Some(f.closing(*line, 1.0, 1)),
                ..TimeRow::default()
            });
        }
        rows.push(TimeRow {
            assembly: name,
            operation: String::new(),
            count: count_text(assembly.pieces),
            motions: None,
            process: None,
            total: assembly.manual.map(|line| f.closing(line, 1.0, 1)),
            // the line behind the share has the reason of the number
            needed: assembly.needed.map(|n| {
                let figure = Figure::new(n, count_text(n));
                let line = assembly.ideal_share.and_then(|share| named(f, share, "needed"));
                match line {
                    Some(line) => figure.because(f.anchor(line)),
                    None => figure,
                }
            }),
            ideal_share: assembly.ideal_share.map(|line| f.percent(line)),
            recorded: (!assembly.recorded.is_empty())
                .then(|| Figure::new(recorded, grouped(&format!("{} s", tare_units::show_number(recorded, 4))))),
            note: if assembly.unjudged > 0 { format!("{} parts not judged for need", assembly.unjudged) } else { String::new() },
        });
    }
    rows
}

fn lines(f: &mut Filling<'_>) -> Vec<LineBalance> {
    let mut found = Vec::new();
    for line in f.study.line_balances.clone() {
        let takt = line.takt.map(|t| f.figure(t, 4)).unwrap_or_default();
        let stations = line
            .stations
            .iter()
            .map(|(name, cycle)| Station { name: name.clone(), work: f.closing(*cycle, 1.0, 1), ..Station::default() })
            .collect();
        let used = line.work.zip(line.paid).map(|(w, p)| f.share(w, Some(p))).unwrap_or_default();
        let said = [("operators", line.operators), ("work per product", line.work), ("paid per product", line.paid)];
        let note: Vec<String> =
            said.into_iter().filter_map(|(word, l)| Some(format!("{word} {}", f.figure(l?, 4).text))).collect();
        found.push(LineBalance { title: line.name.clone(), takt, stations, used, note: note.join("; ") });
    }
    found
}

fn strip_down(f: &mut Filling<'_>) -> Vec<StripRow> {
    let mut found = Vec::new();
    for (at, removal) in f.document.of_kind(None, Kind::Removal).enumerate() {
        let values = f.stated(removal.id, "duration");
        let recorded = values.first().and_then(|v| f.recorded(v));
        let joints = removal.all_refers(Field::Joints);
        let computed: Vec<_> = f.study.joints.iter().filter(|j| joints.contains(&j.id)).filter_map(|j| j.manual).collect();
        // what a machine joins takes no time by hand
        let computed: Vec<_> = computed.into_iter().filter(|l| f.study.value(*l) > 0.0).collect();
        let computed = match computed.as_slice() {
            [] => None,
            [one] => Some(f.closing(*one, 1.0, 1)),
            many => {
                let sum: f64 = many.iter().map(|l| f.study.value(*l)).sum();
                Some(Figure::new(sum, grouped(&format!("{sum:.1} s"))))
            }
        };
        let text = |field| removal.text(field).unwrap_or_default().to_owned();
        let due = removal.text(Field::Due).map_or_else(String::new, |d| format!("readings due before: {d}"));
        found.push(StripRow {
            order: (at + 1).to_string(),
            what: text(Field::Name),
            who: super::filling::joined([removal.text(Field::Who), removal.text(Field::When)], ", "),
            tool: text(Field::Tool),
            recorded,
            computed,
            destructive: removal.flag(Field::Destructive),
            note: super::filling::joined([removal.text(Field::Says), Some(due.as_str())], "; "),
        });
    }
    found
}
