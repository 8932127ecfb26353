//! Joints and assembly time.

use super::setting::{Setting, Size, notes};
use super::table::{Kind, Table, text};
use crate::chart::{Bar, Bars};
use crate::{Figure, LineBalance};
use maud::{Markup, html};
use std::collections::BTreeMap;

pub(crate) fn joints(s: &Setting<'_>) -> Markup {
    let joints = &s.report.joints;
    let columns = [
        ("Method", Kind::Name),
        ("Type", Kind::Text),
        ("Size", Kind::Word),
        ("Drive", Kind::Text),
        ("Count", Kind::Number),
        ("Length", Kind::Number),
        ("By hand", Kind::Number),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Joint census", &columns).first(20);
    for j in &joints.rows {
        table.row(vec![
            text(&j.method),
            text(&j.kind),
            text(&j.size),
            text(&j.drive),
            s.maybe(j.count.as_ref()),
            s.maybe(j.length.as_ref()),
            s.maybe(j.seconds.as_ref()),
            text(&j.note),
        ]);
    }
    let columns = [
        ("Fastener", Kind::Name),
        ("In the parts list", Kind::Number),
        ("Used by joints", Kind::Number),
        ("Difference", Kind::Number),
        ("Meaning", Kind::Text),
    ];
    let mut fasteners = Table::new("Fasteners listed and used", &columns).first(10);
    // those that do not agree come first
    let (agree, apart): (Vec<_>, Vec<_>) = joints.fasteners.iter().partition(|f| f.difference.is_empty());
    let agreeing = agree.len();
    for f in apart.into_iter().chain(agree) {
        let class = if f.difference.is_empty() { "" } else { "flag" };
        fasteners.row_as(class, vec![text(&f.item), text(&f.listed), text(&f.used), text(&f.difference), text(&f.words)]);
    }
    html! {
        section id="joints" {
            h2 { "Joints" }
            @if !joints.totals.is_empty() { dl.totals { @for (label, value) in &joints.totals { div { dt { (label) } dd { (value) } } } } }
            (s.chart(&by_method(s), Size::Full))
            (table.or_words("No joints are recorded."))
            @if !joints.fasteners.is_empty() {
                h3 { "Fasteners listed and used" }
                p.note {
                    (agreeing) " of " (super::summary::count(joints.fasteners.len(), "fastener", "fasteners"))
                    " of the parts list agree with what the joints use."
                }
                (fasteners.html())
            }
            (notes(&joints.notes))
        }
    }
}

/// Counts of the census by method, most first.
fn by_method(s: &Setting<'_>) -> Bars {
    let mut sums: BTreeMap<&str, (usize, f64)> = BTreeMap::new();
    for (n, row) in s.report.joints.rows.iter().enumerate() {
        if let Some(count) = row.count.as_ref().filter(|c| c.number.is_finite()) {
            sums.entry(&row.method).or_insert((n, 0.0)).1 += count.number;
        }
    }
    let mut sums: Vec<_> = sums.into_iter().collect();
    sums.sort_by(|(_, a), (_, b)| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let bar = |(method, (_, sum)): (&str, (usize, f64))| Bar {
        label: method.to_owned(),
        value: Figure::new(sum, tare_units::show(sum, &tare_units::Unit::plain(), 6)),
        ..Bar::default()
    };
    Bars { title: "Joints by method".to_owned(), unit: "count".to_owned(), rows: sums.into_iter().map(bar).collect(), most: 0 }
}

pub(crate) fn time(s: &Setting<'_>) -> Markup {
    let time = &s.report.time;
    let totals = [("Total", &time.total), ("Needed parts", &time.needed), ("Ideal-time share", &time.ideal_share)];
    html! {
        section id="time" {
            h2 { "Assembly time" }
            @if !time.scale.is_empty() { p.note { "Scale: " (time.scale) } }
            @if totals.iter().any(|(_, f)| f.is_some()) {
                dl.totals { @for (label, figure) in totals { @if let Some(f) = figure { div { dt { (label) } dd { (s.figure(f)) } } } } }
                (s.boundary())
            }
            (rows(s))
            @for line in &time.lines { (balance(s, line)) }
            @if !time.strip_down.is_empty() { h3 { "Recorded strip-down" } (strip_down(s)) }
            (notes(&time.notes))
        }
    }
}

/// Kinds of work that still fit beside each other as columns.
const ABREAST: usize = 6;

fn rows(s: &Setting<'_>) -> Markup {
    let rows = &s.report.time.rows;
    let mut kinds: Vec<&str> = Vec::new();
    for t in rows.iter().filter(|t| !t.operation.is_empty()) {
        if !kinds.contains(&t.operation.as_str()) {
            kinds.push(&t.operation);
        }
    }
    // the kinds of work of an assembly beside its total, one row each, where the same few kinds come back in every assembly
    if kinds.len() <= ABREAST && rows.iter().any(|t| t.operation.is_empty()) { abreast(s, &kinds) } else { listed(s) }
}

fn abreast(s: &Setting<'_>, kinds: &[&str]) -> Markup {
    let mut columns = vec![("Assembly".into(), Kind::Name), ("Count".into(), Kind::Number)];
    columns.extend(kinds.iter().map(|k| (super::setting::capital(k).into(), Kind::Number)));
    for title in ["Motions", "Process", "Together", "Needed parts", "Ideal-time share", "Recorded strip-down"] {
        columns.push((title.into(), Kind::Number));
    }
    columns.push(("Remark".into(), Kind::Text));
    let mut table = Table::of("Assembly time by assembly", columns);
    for t in s.report.time.rows.iter().filter(|t| t.operation.is_empty()) {
        let of = |kind: &&str| s.report.time.rows.iter().find(|r| r.assembly == t.assembly && r.operation == **kind);
        let spent = |r: &crate::TimeRow| s.maybe(r.total.as_ref().or(r.motions.as_ref()));
        let mut cells = vec![text(&t.assembly), text(&t.count)];
        cells.extend(kinds.iter().map(|k| of(k).map_or_else(|| html! {}, spent)));
        cells.extend([&t.motions, &t.process].map(|f| s.maybe(f.as_ref())));
        cells.push(html! { strong { (s.maybe(t.total.as_ref())) } });
        cells.extend([&t.needed, &t.ideal_share, &t.recorded].map(|f| s.maybe(f.as_ref())));
        cells.push(text(&t.note));
        table.row(cells);
    }
    html! {
        p.note { "Times are for one piece of the assembly, without those of the assemblies inside it." }
        (table.html())
    }
}

fn listed(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Operation", Kind::Name),
        ("Count", Kind::Number),
        ("Motions", Kind::Number),
        ("Process", Kind::Number),
        ("Together", Kind::Number),
        ("Needed parts", Kind::Number),
        ("Ideal-time share", Kind::Number),
        ("Recorded strip-down", Kind::Number),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Assembly time by assembly and operation", &columns);
    let mut assembly = "";
    for t in &s.report.time.rows {
        let total = t.operation.is_empty();
        let name = if total {
            text(&t.assembly)
        } else {
            let shown = t.assembly != assembly && !t.assembly.is_empty();
            html! { span.ind style="--l:1" { (t.operation) @if shown { small { (t.assembly) } } } }
        };
        assembly = &t.assembly;
        let mut cells = vec![name, text(&t.count)];
        cells.extend([&t.motions, &t.process, &t.total, &t.needed, &t.ideal_share, &t.recorded].map(|f| s.maybe(f.as_ref())));
        cells.push(text(&t.note));
        table.row_as(if total { "assembly" } else { "" }, cells);
    }
    table.or_words("No assembly times are computed.")
}

fn balance(s: &Setting<'_>, line: &LineBalance) -> Markup {
    let columns = [
        ("Station", Kind::Name),
        ("Work", Kind::Number),
        ("Operators", Kind::Number),
        ("Paid", Kind::Number),
        ("What is done", Kind::Text),
    ];
    let mut table = Table::new(format!("Stations of {}", line.title), &columns);
    for st in &line.stations {
        let over = line.takt.number > 0.0 && st.work.number > line.takt.number;
        let class = if over { "flag" } else { "" };
        table.row_as(
            class,
            vec![text(&st.name), s.figure(&st.work), text(&st.operators), s.maybe(st.paid.as_ref()), text(&st.does)],
        );
    }
    html! {
        h3 { (line.title) }
        p.note {
            "Takt " (s.figure(&line.takt)) @if !line.used.is_empty() { "; share of paid time that is work: " (line.used) }
            @if !line.note.is_empty() { "; " (line.note) } "."
        }
        div.beside { (s.chart_untitled(line, Size::Half)) (table.html()) }
    }
}

fn strip_down(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Removed", Kind::Name),
        ("Recorded", Kind::Number),
        ("Computed assembly", Kind::Number),
        ("Tool", Kind::Text),
        ("Who, trial", Kind::Text),
        ("Destructive", Kind::Word),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Recorded strip-down times", &columns).first(15);
    for r in &s.report.time.strip_down {
        table.row(vec![
            html! { @if !r.order.is_empty() { span.tag { (r.order) } " " } (r.what) },
            s.maybe(r.recorded.as_ref()),
            s.maybe(r.computed.as_ref()),
            text(&r.tool),
            text(&r.who),
            text(if r.destructive { "yes" } else { "no" }),
            text(&r.note),
        ]);
    }
    table.html()
}
