//! Should-cost, tools, quotes.

use super::setting::{Setting, Size, notes};
use super::summary::waterfall;
use super::table::{Kind, Table, text};
use crate::Grouping;
use crate::chart::{Bar, Bars, Pareto};
use maud::{Markup, html};

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let cost = &s.report.cost;
    let totals = [("Cost per product", &cost.total), ("of that, tools", &cost.tools_in_price)];
    html! {
        section id="cost" {
            h2 { "Should-cost" }
            @if totals.iter().any(|(_, f)| f.is_some()) {
                dl.totals { @for (label, figure) in totals { @if let Some(f) = figure { div { dt { (label) } dd { (s.figure(f)) } } } } }
                (s.boundary())
            } @else { p.none { "No cost is computed." } }
            div.beside { (steps(s)) (split(s)) }
            @if !cost.items.is_empty() {
                h3 id="cost-items" { "By item" }
                @if cost.items.iter().any(|i| i.own.is_some()) {
                    p.note {
                        "An item's own work and purchase stands apart from what is added at the place where it is used: rejects of \
                         the assembly, mark-ups and freight. The mark-ups of the maker of the product are in the row of the product."
                    }
                }
                (s.chart_untitled(&items_chart(s), Size::Full)) (items(s))
            }
            @if !cost.processes.is_empty() { h3 { "By process" } (processes(s)) }
            @for group in &cost.groups { (grouped(s, group)) }
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
    let bar = |i: &crate::ItemCost| Bar {
        label: i.item.clone(),
        value: i.cost.clone(),
        note: i.share.clone(),
        own: i.own.as_ref().map(|o| o.number),
    };
    let apart = cost.items.iter().any(|i| i.own.is_some());
    Pareto {
        title: "Cost by item, largest first".to_owned(),
        unit: cost.unit.clone(),
        rows: cost.items.iter().map(bar).collect(),
        most: 15,
        parts: apart.then(|| ("own work and purchase".to_owned(), "rejects, mark-ups, freight".to_owned())),
    }
}

/// Rows of a long table before the rest is folded.
const FIRST: usize = 20;

/// Chart and table of a grouping beside each other.
pub(crate) fn grouped(s: &Setting<'_>, group: &Grouping) -> Markup {
    // what fits on half a page is not split on paper
    html! {
        div.unsplit[group.rows.len() <= FIRST] {
            h3 { (group.title) }
            @if !group.note.is_empty() { p.note { (group.note) } }
            div.beside { (s.chart_untitled(&group_chart(group), Size::Half)) (grouping(s, group)) }
        }
    }
}

/// Bars of a grouping.
fn group_chart(group: &Grouping) -> Bars {
    let bar = |g: &crate::GroupRow| Bar { label: g.label.clone(), value: g.value.clone(), note: g.share.clone(), own: None };
    let rows = group.rows.iter().map(bar).collect();
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
    let mut table = Table::new(group.title.clone(), &columns).first(FIRST);
    for g in &group.rows {
        table.row(vec![text(&g.label), s.figure(&g.value), text(&g.share), text(&g.count), text(&g.note)]);
    }
    if let Some(total) = &group.total {
        let whole = if group.whole.is_empty() { "Total".to_owned() } else { super::setting::capital(&group.whole) };
        table.row_as("total", vec![text(whole), s.figure(total)]);
    }
    table.html()
}

fn items(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Item", Kind::Name),
        ("Cost per product", Kind::Number),
        ("Share", Kind::Number),
        ("Own work, purchase", Kind::Number),
        ("Uses", Kind::Number),
        ("Own, each", Kind::Number),
        ("Make or buy", Kind::Word),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Cost by item", &columns).first(FIRST);
    for i in &s.report.cost.items {
        table.row(vec![
            s.item(&i.item, i.part.as_deref()),
            s.figure(&i.cost),
            text(&i.share),
            s.maybe(i.own.as_ref()),
            text(&i.uses),
            s.maybe(i.each.as_ref()),
            text(&i.source),
            text(&i.note),
        ]);
    }
    if let Some(total) = &s.report.cost.total {
        table.row_as("total", vec![text("Cost per product"), s.number_of(total)]);
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
    let cost = &s.report.cost;
    let columns = [
        ("Tool", Kind::Name),
        ("All sets", Kind::Number),
        ("Sets by life", Kind::Number),
        ("Sets by rate", Kind::Number),
        ("One set", Kind::Number),
        ("Life", Kind::Number),
        ("Pieces a cycle", Kind::Number),
        ("Per piece", Kind::Number),
        ("Owner, paid", Kind::Word),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Register of tools", &columns).first(FIRST);
    for t in &cost.tools {
        table.row(vec![
            html! { (t.tool) @if !t.serves.is_empty() { small { "serves " (t.serves) } } },
            s.maybe(t.investment.as_ref()),
            text(&t.sets_by_life),
            text(&t.sets_by_rate),
            s.maybe(t.cost.as_ref()),
            text(&t.life),
            text(&t.cavities),
            s.maybe(t.each.as_ref()),
            text(&t.owner),
            text(&t.note),
        ]);
    }
    if let Some(all) = cost.investment.as_ref().filter(|_| !cost.tools.is_empty()) {
        table.row_as("total", vec![text("All tools"), s.number_of(all)]);
    }
    html! {
        section id="tools" {
            h2 { "Tools" @if !cost.tools.is_empty() { " " small { (cost.tools.len()) " tools, largest first" } } }
            @if let Some(all) = &cost.investment {
                dl.totals { div { dt { "Investment, all sets over the life" } dd { (s.figure(all)) } } }
                @if !cost.investment_note.is_empty() { p.note { (super::setting::capital(&cost.investment_note)) "." } }
            }
            (table.or_words("No tools are recorded."))
        }
    }
}

pub(crate) fn routes(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Item", Kind::Name),
        ("Route", Kind::Text),
        ("Each", Kind::Number),
        ("Against taken", Kind::Number),
        ("Terms", Kind::Text),
        ("Remark", Kind::Text),
    ];
    let routes = &s.report.cost.routes;
    let mut table = Table::new("Prices side by side", &columns).first(FIRST + 10);
    let mut before = "";
    for r in routes {
        let again = before == r.item;
        before = &r.item;
        let name = if again {
            html! { span.same { (r.item) } }
        } else {
            text(&r.item)
        };
        let route = if r.taken {
            html! { strong { "taken: " (r.route) } }
        } else {
            text(&r.route)
        };
        table.row_as(
            if again { "next" } else { "first" },
            vec![name, route, s.maybe(r.price.as_ref()), text(&r.apart), text(&r.terms), text(&r.note)],
        );
    }
    html! {
        section id="routes" {
            h2 { "Second routes" }
            @if !routes.is_empty() {
                p.note {
                    "Every price known for an item, the one the total rests on first. A price that is not taken changes nothing; it \
                     shows how far apart two ways to the same price are."
                }
            }
            (table.or_words("No quotes are recorded."))
            @if !s.report.cost.rough.is_empty() { h3 { "Build-up beside a rough estimate from mass" } (rough(s)) }
        }
    }
}

fn rough(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Item", Kind::Name),
        ("Build-up, taken", Kind::Number),
        ("Rough, from mass", Kind::Number),
        ("Rough against build-up", Kind::Number),
    ];
    let mut table = Table::new("Build-up beside a rough estimate from mass", &columns).first(FIRST / 2);
    for r in &s.report.cost.rough {
        table.row(vec![text(&r.item), s.maybe(r.taken.as_ref()), s.maybe(r.rough.as_ref()), text(&r.apart)]);
    }
    html! {
        p.note {
            "Mass times the price of the material times a factor of common practice: good for finding a slip, not for a price. \
             Each piece."
        }
        (table.html())
    }
}
