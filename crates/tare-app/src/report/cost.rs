//! The should-cost.

use super::filling::Filling;
use super::mass::grouping;
use crate::view::{count_text, terms};
use tare_model::{Field, Id};
use tare_report::{Cost, CostSplit, CostStep, Figure, ItemCost, QuoteRow, SplitRow, StepKind, ToolRow};
use tare_study::LineRef;

pub(super) fn cost(f: &mut Filling<'_>) -> Cost {
    f.group = "Cost".to_owned();
    let totals = f.study.totals.clone();
    let processes = grouping(f, "Cost by process", &totals.by_process, totals.cost);
    Cost {
        unit: format!("{} per product", f.study.currency),
        total: f.optional(totals.cost, 5),
        piece: None,
        investment: f.optional(totals.investment, 5),
        split: split(f),
        steps: steps(f),
        items: items(f),
        processes: Vec::new(),
        groups: if processes.rows.is_empty() { Vec::new() } else { vec![processes] },
        tools: tools(f),
        quotes: quotes(f),
        notes: notes(f),
    }
}

fn steps(f: &mut Filling<'_>) -> Vec<CostStep> {
    let totals = f.study.totals.clone();
    let mut found = Vec::new();
    for (kind, line) in &totals.by_kind {
        let share = f.share(*line, totals.cost);
        found.push(CostStep { label: kind.word().to_owned(), value: f.figure(*line, 4), kind: StepKind::Add, share });
    }
    if let Some(total) = totals.cost {
        found.push(CostStep {
            label: "should-cost".to_owned(),
            value: f.figure(total, 5),
            kind: StepKind::Total,
            share: "100 %".to_owned(),
        });
    }
    found
}

fn split(f: &mut Filling<'_>) -> Option<CostSplit> {
    let dominant: Vec<_> = f.study.items.iter().filter(|i| i.dominant).cloned().collect();
    let first = dominant.first()?;
    let totals = f.study.totals.clone();
    let mut rows = Vec::new();
    let item = first.contribution.filter(|_| dominant.len() == 1).map(|c| f.figure(c, 5));
    rows.push(SplitRow {
        label: "should-cost per product".to_owned(),
        with: f.optional(totals.cost, 5),
        item,
        without: f.optional(totals.without_dominant, 5),
    });
    let pieces: f64 = f.study.parts.iter().filter(|p| p.item == first.id).map(|p| p.pieces).sum();
    if let (Some(whole), Some(one), 1) = (totals.mass, first.mass, dominant.len()) {
        let unit = f.study.lines.unit(whole).clone();
        let rest = f.study.value(whole) - f.study.value(one) * pieces;
        let without = Figure::new(unit.from_si(rest), crate::figure::shown(rest, &unit, "", 5));
        rows.push(SplitRow {
            label: "mass per product".to_owned(),
            with: Some(f.figure(whole, 5)),
            item: Some(f.scaled(one, pieces, 5)),
            without: Some(without),
        });
    }
    let names: Vec<String> = dominant.iter().map(|i| i.name.clone()).collect();
    let note = "a bought item that outweighs everything else hides what the rest costs; its price has its own reasons below";
    Some(CostSplit { item: names.join(", "), note: note.to_owned(), rows })
}

fn items(f: &mut Filling<'_>) -> Vec<ItemCost> {
    let mut rows: Vec<_> = f.study.items.iter().filter(|i| i.contribution.is_some()).cloned().collect();
    let value = |f: &Filling<'_>, l: Option<LineRef>| l.map_or(0.0, |l| f.study.value(l));
    rows.sort_by(|a, b| value(f, b.contribution).total_cmp(&value(f, a.contribution)).then_with(|| a.address.cmp(&b.address)));
    let total = f.study.totals.cost;
    let mut found = Vec::new();
    for item in rows {
        let Some(contribution) = item.contribution else { continue };
        let places: Vec<_> = f.study.parts.iter().filter(|p| p.item == item.id).cloned().collect();
        let uses: f64 = places.iter().map(|p| p.pieces).sum();
        let note = if item.dominant {
            "dominant bought item"
        } else if item.uncosted {
            "nothing could be said about its cost"
        } else {
            ""
        };
        found.push(ItemCost {
            item: item.name.clone(),
            part: places.first().map(|p| p.label.clone()),
            uses: count_text(uses),
            source: f.document.get(item.id).and_then(|r| r.text(Field::Make)).unwrap_or_default().to_owned(),
            share: f.share(contribution, total),
            cost: f.figure(contribution, 4),
            each: f.optional(item.own, 4),
            note: note.to_owned(),
        });
    }
    found
}

fn tools(f: &mut Filling<'_>) -> Vec<ToolRow> {
    let mut found = Vec::new();
    for tool in f.study.tools.clone() {
        let serves: Vec<String> = tool.serves.iter().map(|id: &Id| f.name(*id)).collect();
        let owner = tool.record.and_then(|r| f.document.get(r)).and_then(|r| r.text(Field::Owner)).unwrap_or_default();
        let paid = if tool.lump { "paid apart" } else { "in the piece price" };
        let text = |f: &mut Filling<'_>, line: Option<LineRef>| line.map(|l| f.figure(l, 3).text).unwrap_or_default();
        found.push(ToolRow {
            tool: tool.title.clone(),
            serves: serves.join(", "),
            cavities: text(f, Some(tool.pieces)),
            life: text(f, Some(tool.life)),
            sets_by_life: text(f, tool.sets),
            sets_by_rate: String::new(),
            cost: Some(f.figure(tool.cost, 4)),
            each: f.optional(tool.per_piece, 3),
            owner: super::filling::joined([Some(owner), Some(paid)], ", "),
            note: tool.investment.map(|i| format!("all sets {}", f.figure(i, 4).text)).unwrap_or_default(),
        });
    }
    found
}

fn quotes(f: &mut Filling<'_>) -> Vec<QuoteRow> {
    let mut found = Vec::new();
    for item in f.study.items.clone().iter().filter(|i| !i.quotes.is_empty()) {
        for (id, price) in &item.quotes {
            let record = f.document.get(*id);
            let state = record.and_then(|r| r.text(Field::State)).unwrap_or_default();
            let difference = item.own.map_or_else(String::new, |own| {
                let (built, quoted) = (f.study.value(own), f.study.value(*price));
                let apart = (built / quoted - 1.0) * 100.0;
                let why = record.and_then(|r| r.text(Field::Says)).unwrap_or("nobody has explained the difference");
                if state == "used" || !apart.is_finite() {
                    why.to_owned()
                } else {
                    format!("built up {apart:+.0} % against the quote; {why}")
                }
            });
            found.push(QuoteRow {
                item: item.name.clone(),
                build_up: f.optional(item.own, 4),
                quoted: Some(f.figure(*price, 4)),
                rough: f.optional(item.rough, 3),
                terms: terms(f.document, *id),
                difference,
                used: if state == "used" { "the quote".to_owned() } else { "the build-up".to_owned() },
            });
        }
    }
    found
}

fn notes(f: &Filling<'_>) -> Vec<String> {
    let uncosted: Vec<&str> = f.study.items.iter().filter(|i| i.uncosted).map(|i| i.name.as_str()).collect();
    if uncosted.is_empty() {
        Vec::new()
    } else {
        vec![format!("Not in the total, because nothing is known of their cost: {}.", uncosted.join(", "))]
    }
}
