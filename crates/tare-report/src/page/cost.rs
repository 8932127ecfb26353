//! Should-cost, tools, quotes.

use super::setting::{Setting, Size, notes};
use super::summary::waterfall;
use super::table::{Kind, Table, text};
use crate::Grouping;
use crate::chart::{Bar, Bars, Pareto};
use maud::{Markup, html};

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let cost = &s.report.cost;
    let totals = [("Total", &cost.total), ("Piece price", &cost.piece), ("Investment paid apart", &cost.investment)];
    html! {
        section id="cost" {
            h2 { "Should-cost" }
            @if totals.iter().any(|(_, f)| f.is_some()) {
                dl.totals { @for (label, figure) in totals { @if let Some(f) = figure { div { dt { (label) } dd { (s.figure(f)) } } } } }
                (s.boundary())
            } @else { p.none { "No cost is computed." } }
            div.beside { (split(s)) (steps(s)) }
            @if !cost.items.is_empty() { h3 { "By item" } (s.chart_untitled(&items_chart(s), Size::Full)) (items(s)) }
            @if !cost.processes.is_empty() { h3 { "By process" } (processes(s)) }
            @for group in &cost.groups { h3 { (group.title) } (grouped(s, group)) }
            (notes(&cost.notes))
        }
    }
}

fn split(s: &Setting<'_>) -> Markup {
    let Some(split) = &s.report.cost.split else { return html! {} };
    let mut table = Table::new(
        format!("With and without {}", split.item),
        &[("", Kind::Name), ("With", Kind::Number), ("The item alone", Kind::Number), ("Without", Kind::Number)],
    );
    for row in &split.rows {
        table.row(vec![text(&row.label), s.maybe(row.with.as_ref()), s.maybe(row.item.as_ref()), s.maybe(row.without.as_ref())]);
    }
    html! {
        div {
            h3 { "With and without " (split.item) }
            @if !split.note.is_empty() { p.note { (split.note) } }
            (table.html())
        }
    }
}

fn steps(s: &Setting<'_>) -> Markup {
    let chart = waterfall(s);
    if chart.steps.is_empty() {
        return html! {};
    }
    let mut table = Table::new("Cost by kind", &[("Kind", Kind::Name), ("Amount", Kind::Number), ("Share", Kind::Number)]);
    for step in &chart.steps {
        let class = if step.kind == crate::StepKind::Total { "total" } else { "" };
        table.row_as(class, vec![text(&step.label), s.figure(&step.value), text(&step.share)]);
    }
    html! {
        div {
            h3 { "By kind" }
            (table.html())
            @for (label, sum, stated) in chart.open_totals() {
                p.note { "The steps before \u{201c}" (label) "\u{201d} add up to " (format!("{sum:.4}")) ", the total states " (format!("{stated:.4}")) "." }
            }
        }
    }
}

fn items_chart(s: &Setting<'_>) -> Pareto {
    let cost = &s.report.cost;
    let rows = cost.items.iter().map(|i| Bar { label: i.item.clone(), value: i.cost.clone(), note: i.share.clone() }).collect();
    Pareto { title: "Cost by item, largest first".to_owned(), unit: cost.unit.clone(), rows, most: 15 }
}

/// Chart and table of a grouping beside each other.
pub(crate) fn grouped(s: &Setting<'_>, group: &Grouping) -> Markup {
    html! { div.beside { (s.chart_untitled(&group_chart(group), Size::Half)) (grouping(s, group)) } }
}

/// Bars of a grouping.
fn group_chart(group: &Grouping) -> Bars {
    let rows = group.rows.iter().map(|g| Bar { label: g.label.clone(), value: g.value.clone(), note: g.share.clone() }).collect();
    Bars { title: group.title.clone(), unit: group.unit.clone(), rows, most: 16 }
}

/// Table of a grouping.
fn grouping(s: &Setting<'_>, group: &Grouping) -> Markup {
    let columns = [
        ("Group", Kind::Name),
        ("Value", Kind::Number),
        ("Share", Kind::Number),
        ("Count", Kind::Number),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new(group.title.clone(), &columns);
    for g in &group.rows {
        table.row(vec![text(&g.label), s.figure(&g.value), text(&g.share), text(&g.count), text(&g.note)]);
    }
    if let Some(total) = &group.total {
        table.row_as("total", vec![text("Total"), s.figure(total)]);
    }
    table.html()
}

fn items(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Item", Kind::Name),
        ("Cost per product", Kind::Number),
        ("Share", Kind::Number),
        ("Uses", Kind::Number),
        ("Each", Kind::Number),
        ("Make or buy", Kind::Word),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Cost by item", &columns);
    for i in &s.report.cost.items {
        let name = match i.part.as_deref().filter(|p| s.has_part(p)) {
            Some(part) => html! { a.ref href={ "#" (crate::anchor::id("part", part)) } { (i.item) } },
            None => text(&i.item),
        };
        table.row(vec![
            name,
            s.figure(&i.cost),
            text(&i.share),
            text(&i.uses),
            s.maybe(i.each.as_ref()),
            text(&i.source),
            text(&i.note),
        ]);
    }
    table.html()
}

fn processes(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Process", Kind::Name),
        ("Operations", Kind::Number),
        ("Material", Kind::Number),
        ("Labour", Kind::Number),
        ("Machine", Kind::Number),
        ("Other", Kind::Number),
        ("Total", Kind::Number),
        ("Share", Kind::Number),
    ];
    let mut table = Table::new("Cost by process", &columns);
    for p in &s.report.cost.processes {
        let mut cells = vec![text(&p.process), text(&p.operations)];
        cells.extend([&p.material, &p.labour, &p.machine, &p.other, &p.total].map(|f| s.maybe(f.as_ref())));
        cells.push(text(&p.share));
        table.row(cells);
    }
    table.html()
}

pub(crate) fn tools(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Tool", Kind::Name),
        ("Serves", Kind::Text),
        ("Cavities", Kind::Number),
        ("Life", Kind::Number),
        ("Sets by life", Kind::Number),
        ("Sets by rate", Kind::Number),
        ("Cost of a set", Kind::Number),
        ("Per piece", Kind::Number),
        ("Owner", Kind::Word),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Register of tools", &columns);
    for t in &s.report.cost.tools {
        table.row(vec![
            text(&t.tool),
            text(&t.serves),
            text(&t.cavities),
            text(&t.life),
            text(&t.sets_by_life),
            text(&t.sets_by_rate),
            s.maybe(t.cost.as_ref()),
            s.maybe(t.each.as_ref()),
            text(&t.owner),
            text(&t.note),
        ]);
    }
    html! { section id="tools" { h2 { "Tools" } (table.or_words("No tools are recorded.")) } }
}

pub(crate) fn quotes(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Item", Kind::Name),
        ("Build-up", Kind::Number),
        ("Quote", Kind::Number),
        ("Rough route", Kind::Number),
        ("Used", Kind::Word),
        ("Terms of the quote", Kind::Text),
        ("Difference", Kind::Text),
    ];
    let mut table = Table::new("Build-up beside quotes and rough second routes", &columns);
    for q in &s.report.cost.quotes {
        table.row(vec![
            text(&q.item),
            s.maybe(q.build_up.as_ref()),
            s.maybe(q.quoted.as_ref()),
            s.maybe(q.rough.as_ref()),
            text(&q.used),
            text(&q.terms),
            text(&q.difference),
        ]);
    }
    html! { section id="quotes" { h2 { "Second routes" } (table.or_words("No quotes or second routes are recorded.")) } }
}
