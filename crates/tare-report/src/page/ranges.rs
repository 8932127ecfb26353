//! Ranges of results, and where they come from.

use super::setting::{Setting, Size, notes};
use super::summary::count;
use super::table::{Kind, Table, text};
use crate::FailedRow;
use crate::chart::{Bar, Bars};
use maud::{Markup, html};

/// Failed draws stand here; the summary points to it.
pub(crate) const FAILED: &str = "failed-draws";

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let ranges = &s.report.ranges;
    html! {
        section id="ranges" {
            h2 { "Ranges" }
            @if !ranges.how.is_empty() { p.note { (ranges.how) } }
            @if ranges.distributions.is_empty() && ranges.drivers.is_empty() && ranges.rows.is_empty() {
                p.none {
                    "No ranges were drawn. The spreads in this report are first order (k = 2), taken at the stated values; no number \
                     is exact."
                }
            }
            div.charts {
                @for d in &ranges.distributions { (s.chart(d, Size::Half)) }
            }
            @if !ranges.rows.is_empty() {
                h3 { "Watched results" }
                (rows(s))
                p.note {
                    "Numbers are in the unit of the stated value. Symmetric: as many draws below as above. Inputs at their means: each input \
                     at the mean of its own spread, nothing drawn."
                }
            }
            (notes(&ranges.notes))
            @if !ranges.causes.is_empty() { (causes(s)) }
            @if !ranges.drivers.is_empty() { (drivers(s)) }
            @if !ranges.work.rows.is_empty() { (work(s)) }
            @if !ranges.cuts.is_empty() { h3 { "Spreads cut at zero" } (cuts(s)) }
            @if !ranges.failed.is_empty() {
                h3 id=(FAILED) { "Draws without a number" }
                p.note {
                    "These draws are left out of the ranges of the results named, so that their ends are less sure than the number of \
                     draws says."
                }
                @for row in &ranges.failed { (failed(row)) }
            }
        }
    }
}

fn rows(s: &Setting<'_>) -> Markup {
    let share = &s.report.ranges.coverage;
    let columns = [
        ("Result".into(), Kind::Name),
        ("Stated".into(), Kind::Number),
        ("Inputs at their means".into(), Kind::Number),
        ("Mean of draws".into(), Kind::Number),
        ("u".into(), Kind::Number),
        (format!("{share}: symmetric, shortest beneath").into(), Kind::Number),
    ];
    let mut table = Table::of("Ranges of the watched results", columns.into());
    for r in &s.report.ranges.rows {
        // the columns beside it give the range
        let stated = s.number_of(&r.stated);
        table.row(vec![
            html! { (r.result) @if !r.note.is_empty() { small { (r.note) } } },
            stated,
            text(&r.at_means),
            text(&r.mean),
            text(&r.uncertainty),
            html! { span.n { (r.symmetric) } small.n { (r.shortest) } },
        ]);
    }
    table.html()
}

fn causes(s: &Setting<'_>) -> Markup {
    let ranges = &s.report.ranges;
    let columns = [("Cause", Kind::Name), ("Alone", Kind::Number), ("With others", Kind::Number), ("Inputs", Kind::Number)];
    let title = format!("Where the range of the {} comes from", ranges.causes_of);
    let mut table = Table::new(&title, &columns);
    for c in &ranges.causes {
        table.row(vec![text(&c.cause), s.number_of(&c.alone), s.number_of(&c.with_others), text(&c.inputs)]);
    }
    let bar = |c: &crate::CauseRow| Bar {
        label: c.cause.clone(),
        value: c.with_others.clone(),
        own: None,
        note: format!("alone {}", c.alone.text),
    };
    let chart = Bars {
        title: "Share of the variance, with others".to_owned(),
        unit: "% of the variance".to_owned(),
        rows: ranges.causes.iter().map(bar).collect(),
        most: 0,
    };
    html! {
        h3 { (title) }
        div.beside {
            (s.chart(&chart, Size::Half))
            div {
                (table.html())
                p.note {
                    b { "Alone: " } "how much narrower the range would get if every input of this cause were known exactly, as a share of \
                     the variance (the square of u). " b { "With others: " } "how much of the variance would stay if every other input \
                     were known. The second is the larger one where causes act together, such as a price on an uncertain mass. Inputs \
                     of one cause need not move together; a cause only says what kind of knowledge would narrow the range."
                }
                @if !ranges.causes_how.is_empty() { p.note { (ranges.causes_how) } }
            }
        }
    }
}

fn drivers(s: &Setting<'_>) -> Markup {
    let ranges = &s.report.ranges;
    html! {
        h3 { "What moves the results most" }
        @for d in &ranges.drivers {
            (s.chart(d, Size::Full))
            @let columns = [("Input", Kind::Name), ("Its interval", Kind::Text), ("Alone", Kind::Number), ("With others", Kind::Number)];
            @let table = {
                let mut table = Table::new(format!("Shares of the variance: {}", d.title), &columns).first(6);
                for row in &d.rows {
                    table.row(vec![s.because(&row.input, row.link.as_deref(), "where it comes from"), text(&row.interval), text(&row.alone), text(&row.with_others)]);
                }
                table
            };
            (table.html())
        }
        @if !ranges.drivers_how.is_empty() { p.note { (ranges.drivers_how) } }
    }
}

fn work(s: &Setting<'_>) -> Markup {
    let list = &s.report.ranges.work;
    let columns = [
        ("Find out", Kind::Name),
        ("Stated now", Kind::Number),
        ("Known then", Kind::Word),
        ("Effort", Kind::Word),
        ("u less by", Kind::Number),
        ("u after all so far", Kind::Number),
    ];
    let mut table = Table::new(format!("What to find out next about the {}", list.of), &columns);
    for row in &list.rows {
        table.row(vec![
            html! { (row.input) small { (row.recipe) } },
            s.figure(&row.value),
            text(&row.reaches),
            text(format!("{}, {}", row.effort, row.who)),
            text(&row.gain),
            text(&row.then),
        ]);
    }
    html! {
        h3 { "What to find out next about the " (list.of) }
        p { "Its standard uncertainty u is " b { (list.now) } " now." }
        (table.html())
        p.note { (list.how) }
        @for stuck in &list.stuck { p.note { (stuck) } }
    }
}

fn cuts(s: &Setting<'_>) -> Markup {
    let mut table =
        Table::new("Spreads cut at zero", &[("Input", Kind::Name), ("Value", Kind::Number), ("Cut off", Kind::Number)]);
    for c in &s.report.ranges.cuts {
        table.row(vec![text(&c.input), s.figure(&c.value), text(&c.share)]);
    }
    table.html()
}

fn failed(row: &FailedRow) -> Markup {
    html! {
        div.failed {
            p { b { (row.results.join("; ")) } ": " (row.draws) }
            @for says in &row.says { p.note { (says) } }
            @if !row.formula.is_empty() {
                details.behind {
                    summary { "Where it went wrong first, and with which values" }
                    pre.formula { (row.formula) }
                    @if !row.inputs.is_empty() { ul.inputs { @for input in &row.inputs { li { (input) } } } }
                }
            }
        }
    }
}

/// What the summary says of failed draws.
pub(crate) fn watch(s: &Setting<'_>) -> Option<Markup> {
    let results: usize = s.report.ranges.failed.iter().map(|f| f.results.len()).sum();
    (results > 0).then(|| {
        html! { a.ref href={ "#" (FAILED) } { (count(results, "result", "results")) } " without a number in some draws of the range." }
    })
}
