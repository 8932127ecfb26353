//! The should-cost.

use super::amount::shown;
use super::filling::{Filling, number};
use super::mass::grouping;
use crate::view::count_text;
use tare_model::{Field, Id};
use tare_report::{Cost, CostSplit, CostStep, Figure, ItemCost, RoughRow, RouteRow, SplitRow, StepKind, ToolRow};
use tare_study::{CostKind, ItemRow, LineRef, Study};

pub(super) fn cost(f: &mut Filling<'_>) -> Cost {
    f.group = "Cost".to_owned();
    let totals = f.study.totals.clone();
    let processes = grouping(f, "Cost by process", &totals.by_process, totals.cost, 2);
    Cost {
        unit: format!("{} per product", f.study.currency),
        total: totals.cost.map(|line| {
            let figure = f.closing(line, 1.0, 2);
            f.about(line, figure)
        }),
        investment: totals.investment.map(|line| {
            let figure = f.closing(line, 1.0, 0);
            f.about(line, figure)
        }),
        investment_note: how_paid(f.study),
        tools_in_price: totals.by_kind.iter().find(|(kind, _)| *kind == CostKind::Tooling).map(|(_, line)| f.figure(*line, 4)),
        split: split(f),
        steps: steps(f),
        items: items(f),
        processes: Vec::new(),
        groups: if processes.rows.is_empty() { Vec::new() } else { vec![processes] },
        tools: tools(f),
        routes: routes(f),
        rough: rough(f),
        notes: notes(f),
    }
}

fn steps(f: &mut Filling<'_>) -> Vec<CostStep> {
    let totals = f.study.totals.clone();
    let mut found = Vec::new();
    for (kind, line) in &totals.by_kind {
        let share = f.share(*line, totals.cost);
        found.push(CostStep { label: kind.word().to_owned(), value: f.closing(*line, 1.0, 2), kind: StepKind::Add, share });
    }
    if let Some(total) = totals.cost {
        found.push(CostStep {
            label: "should-cost".to_owned(),
            value: f.closing(total, 1.0, 2),
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
        let without = Figure::new(number(rest, &unit), shown(rest, &unit, "", 5)).because(f.anchor(whole));
        rows.push(SplitRow {
            label: "mass per product".to_owned(),
            with: Some(f.figure(whole, 5)),
            item: Some(f.scaled(one, pieces, 5)),
            without: Some(without),
        });
    }
    let names: Vec<String> = dominant.iter().map(|i| i.name.clone()).collect();
    let note = "A bought item that outweighs everything else hides what the rest costs; its price has its own reasons below.";
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
            cost: f.closing(contribution, 1.0, 2),
            own: item.own.map(|own| f.closing(own, uses, 2)),
            each: f.optional(item.own, 4),
            note: note.to_owned(),
        });
    }
    found
}

/// How the investment in tools is paid, in words, so that it is not added to a price that carries it.
pub(super) fn how_paid(study: &Study) -> String {
    let lump = study.tools.iter().filter(|t| t.lump).count();
    match (lump, study.tools.len() - lump) {
        (0, _) => "carried in the piece price as a charge per piece, not to be added to it".to_owned(),
        (_, 0) => "paid as a lump by the client, not in the piece price".to_owned(),
        (lump, rest) => format!(
            "of {} tools {rest} are carried in the piece price and not to be added to it; {lump} paid as a lump by the client",
            lump + rest
        ),
    }
}

fn tools(f: &mut Filling<'_>) -> Vec<ToolRow> {
    let mut tools = f.study.tools.clone();
    let value = |f: &Filling<'_>, l: Option<LineRef>| l.map_or(0.0, |l| f.study.value(l));
    tools.sort_by(|a, b| value(f, b.investment).total_cmp(&value(f, a.investment)).then_with(|| a.title.cmp(&b.title)));
    let lumps = tools.iter().any(|t| t.lump);
    let mut found = Vec::new();
    for tool in tools {
        let serves: Vec<String> = tool.serves.iter().map(|id: &Id| f.name(*id)).collect();
        let owner = tool.record.and_then(|r| f.document.get(r)).and_then(|r| r.text(Field::Owner)).unwrap_or_default();
        // where all are carried in the piece price, the words above the table say so once
        let paid = match (lumps, tool.lump) {
            (false, _) => "",
            (true, true) => "paid as a lump",
            (true, false) => "in the piece price",
        };
        let text = |f: &mut Filling<'_>, line: Option<LineRef>| line.map(|l| f.figure(l, 3).text).unwrap_or_default();
        // the only item served is mostly in the name of the tool already
        let serves = match serves.as_slice() {
            [one] if tool.title.ends_with(one.as_str()) => String::new(),
            _ => serves.join(", "),
        };
        found.push(ToolRow {
            tool: super::reasons::capital(&tool.title),
            serves,
            cavities: text(f, Some(tool.pieces)),
            life: text(f, Some(tool.life)),
            sets_by_life: text(f, tool.sets),
            sets_by_rate: String::new(),
            cost: Some(f.closing(tool.cost, 1.0, 0)),
            investment: tool.investment.map(|line| f.closing(line, 1.0, 0)),
            each: tool.per_piece.map(|line| f.closing(line, 1.0, 3)),
            owner: super::filling::joined([Some(owner), Some(paid)], ", "),
            note: String::new(),
        });
    }
    found
}

/// Every price known for an item, the one its cost rests on first; items in the order of what they cost.
fn routes(f: &mut Filling<'_>) -> Vec<RouteRow> {
    let mut found = Vec::new();
    for item in by_contribution(f, |i| !i.quotes.is_empty()) {
        let state =
            |f: &Filling<'_>, id: Id| f.document.get(id).and_then(|r| r.text(Field::State)).unwrap_or_default().to_owned();
        let taken = item.quotes.iter().find(|(id, _)| state(f, *id) == "used").copied();
        let says = |f: &Filling<'_>, id: Id| f.document.get(id).and_then(|r| r.text(Field::Says)).unwrap_or_default().to_owned();
        let base = taken.map(|(_, line)| line).or(item.own);
        let row = RouteRow { item: item.name.clone(), ..RouteRow::default() };
        match (taken, item.own) {
            (Some((id, line)), _) => found.push(RouteRow {
                route: "quote".to_owned(),
                taken: true,
                price: Some(f.figure(line, 4)),
                terms: terms(f, id),
                note: says(f, id),
                ..row.clone()
            }),
            (None, Some(own)) => found.push(RouteRow {
                route: "build-up from operations".to_owned(),
                taken: true,
                price: Some(f.figure(own, 4)),
                ..row.clone()
            }),
            (None, None) => {}
        }
        for (id, line) in item.quotes.iter().filter(|(id, _)| taken.is_none_or(|(used, _)| used != *id)) {
            let note = says(f, *id);
            found.push(RouteRow {
                route: "quote".to_owned(),
                price: Some(f.figure(*line, 4)),
                apart: base.map_or_else(String::new, |base| apart(f, *line, base)),
                terms: terms(f, *id),
                note: if note.is_empty() { "nobody has explained the difference".to_owned() } else { note },
                ..row.clone()
            });
        }
    }
    found
}

/// Rough estimates from mass, where the model has one beside a built-up cost; largest items first.
fn rough(f: &mut Filling<'_>) -> Vec<RoughRow> {
    let mut found = Vec::new();
    for item in by_contribution(f, |i| i.rough.is_some() && i.own.is_some()) {
        let (Some(rough), Some(own)) = (item.rough, item.own) else { continue };
        found.push(RoughRow {
            item: item.name.clone(),
            taken: Some(f.figure(own, 3)),
            rough: Some(f.figure(rough, 3)),
            apart: apart(f, rough, own),
        });
    }
    found
}

/// Items of a kind in the order of what they add to the product.
fn by_contribution(f: &Filling<'_>, keep: impl Fn(&ItemRow) -> bool) -> Vec<ItemRow> {
    let value = |i: &ItemRow| i.contribution.map_or(0.0, |l| f.study.value(l));
    let mut items: Vec<ItemRow> = f.study.items.iter().filter(|i| keep(i)).cloned().collect();
    items.sort_by(|a, b| value(b).total_cmp(&value(a)).then_with(|| a.address.cmp(&b.address)));
    items
}

/// One price against another, signed.
fn apart(f: &Filling<'_>, price: LineRef, base: LineRef) -> String {
    let share = f.study.value(price) / f.study.value(base) - 1.0;
    if share.is_finite() { format!("{:+.0} %", share * 100.0).replace('-', "\u{2212}") } else { String::new() }
}

/// Who offered, where, when, and what the price contains.
fn terms(f: &Filling<'_>, quote: Id) -> String {
    let Some(record) = f.document.get(quote) else { return String::new() };
    let said = [Field::Supplier, Field::Place, Field::Date, Field::Contains].map(|field| record.text(field));
    super::filling::joined(said, ", ")
}

fn notes(f: &Filling<'_>) -> Vec<String> {
    let uncosted: Vec<&str> = f.study.items.iter().filter(|i| i.uncosted).map(|i| i.name.as_str()).collect();
    if uncosted.is_empty() {
        Vec::new()
    } else {
        vec![format!("Not in the total, because nothing is known of their cost: {}.", uncosted.join(", "))]
    }
}
