//! Findings, holds, photos, values side by side.

use super::filling::{Filling, joined};
use crate::address::Addresses;
use std::collections::BTreeMap;
use tare_model::{Field, Id, Kind, Record};
use tare_report::{Callout, DiffersRow, DiffersValue, Finding, Hold, Photo};

pub(super) fn findings(f: &Filling<'_>) -> Vec<Finding> {
    let finding = |r: &Record| Finding {
        kind: r.text(Field::Group).unwrap_or_default().to_owned(),
        severity: r.text(Field::Severity).unwrap_or_default().to_owned(),
        title: r.text(Field::Name).unwrap_or_default().to_owned(),
        text: r.text(Field::Says).unwrap_or_default().to_owned(),
        parts: f.labels(r.all_refers(Field::Parts)),
        photos: r.all_refers(Field::Photos).iter().map(Id::to_string).collect(),
        who: joined([r.text(Field::Who), r.text(Field::When)], ", "),
    };
    f.document.of_kind(None, Kind::Finding).map(finding).collect()
}

pub(super) fn holds(f: &Filling<'_>) -> Vec<Hold> {
    let hold = |r: &Record| Hold {
        name: r.text(Field::Name).unwrap_or_default().to_owned(),
        recorded: r.text(Field::State) == Some("recorded") && r.text(Field::Who).is_some(),
        who: r.text(Field::Who).unwrap_or_default().to_owned(),
        when: r.text(Field::When).unwrap_or_default().to_owned(),
        words: r.text(Field::Says).unwrap_or_default().to_owned(),
        waits: r.all_refers(Field::Removals).iter().map(|id| f.name(*id)).collect::<Vec<_>>().join(", "),
    };
    f.document.of_kind(None, Kind::Hold).map(hold).collect()
}

pub(super) fn photos(f: &Filling<'_>) -> Vec<Photo> {
    let photo = |r: &Record| Photo {
        id: r.id.to_string(),
        caption: r.text(Field::Name).unwrap_or_default().to_owned(),
        taken: joined([r.text(Field::When), r.text(Field::Who)], ", "),
        data: None,
        callouts: callouts(f, r.text(Field::Callouts).unwrap_or_default()),
    };
    f.document.of_kind(None, Kind::Photo).map(photo).collect()
}

/// Call-outs as written: `1 junction box; 2 at 0.31 0.52 clip on @PART`, where places count from the left and upper edge, 0 to 1.
fn callouts(f: &Filling<'_>, text: &str) -> Vec<Callout> {
    let one = |entry: &str| {
        let (number, words) = entry.trim().split_once(' ')?;
        let number = number.parse().ok()?;
        let placed = words.trim().strip_prefix("at ").and_then(|rest| {
            let mut pieces = rest.splitn(3, ' ');
            let share = |text: Option<&str>| text?.parse::<f64>().ok().filter(|x| (0.0..=1.0).contains(x));
            Some((share(pieces.next())?, share(pieces.next())?, pieces.next().unwrap_or_default()))
        });
        let (x, y, words) = placed.unwrap_or((0.5, 0.5, words.trim()));
        let on = words.rsplit_once("on @").and_then(|(words, id)| Some((words, crate::id_of_text(id.trim())?)));
        let (text, part) = on.map_or((words, None), |(words, id)| (words, f.labels(&[id]).into_iter().next()));
        Some(Callout { number, x, y, text: text.trim().to_owned(), part })
    };
    text.split(';').filter_map(one).collect()
}

/// Quantities for which several values stand that are no readings of one set.
pub(super) fn differs(f: &Filling<'_>) -> Vec<DiffersRow> {
    let addresses = Addresses::new(f.document);
    let mut found = Vec::new();
    let mut by_subject: BTreeMap<(String, String), (Id, Vec<&Record>)> = BTreeMap::new();
    for value in f.document.records().filter(|r| r.kind == Kind::Value) {
        if let (Some(parent), Some(quantity)) = (value.parent, value.text(Field::Quantity)) {
            let entry = by_subject.entry((addresses.of(parent), quantity.to_owned())).or_insert_with(|| (parent, Vec::new()));
            entry.1.push(value);
        }
    }
    for ((_, quantity), (subject, mut values)) in by_subject {
        let set = values.first().and_then(|v| v.text(Field::Set));
        let one_set = set.is_some() && values.iter().all(|v| v.text(Field::Set) == set);
        let tare = values.iter().any(|v| v.text(Field::Method) == Some("tare"));
        let lists = f.document.get(subject).is_some_and(|s| matches!(s.kind, Kind::Operation | Kind::Feature | Kind::Quote));
        if values.len() < 2 || one_set || tare || lists {
            continue;
        }
        values.sort_by(|a, b| a.order.cmp(&b.order).then(a.id.cmp(&b.id)));
        let choice = f.document.of_kind(Some(subject), Kind::Choose).find(|c| c.text(Field::Quantity) == Some(&quantity));
        let used: Vec<Id> =
            f.study.lines.leaves.iter().filter_map(|l| l.record).filter(|id| values.iter().any(|v| v.id == *id)).collect();
        let row = |v: &&Record| DiffersValue {
            text: v.text(Field::Text).unwrap_or_default().to_owned(),
            evidence: joined([v.text(Field::Evidence), v.text(Field::Source)], ", "),
            who: joined([v.text(Field::Who), v.text(Field::When)], ", "),
            chosen: used.contains(&v.id),
        };
        // readings of one person on one day that are used alike stand in one row
        let mut rows: Vec<DiffersValue> = Vec::new();
        for value in values.iter().map(row) {
            match rows.last_mut() {
                Some(last) if (&last.evidence, &last.who, last.chosen) == (&value.evidence, &value.who, value.chosen) => {
                    last.text = format!("{}; {}", last.text, value.text);
                }
                _ => rows.push(value),
            }
        }
        found.push(DiffersRow {
            subject: format!("{} {}", addresses.of(subject).trim_start_matches("item "), f.name(subject)),
            quantity: quantity.replace('_', " "),
            values: rows,
            note: choice
                .map_or_else(|| "nobody has chosen".to_owned(), |c| joined([c.text(Field::Method), c.text(Field::Says)], ": ")),
        });
    }
    found
}
