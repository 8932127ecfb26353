//! Mass: balance, groups, map.

use super::cost::grouped;
use super::setting::{Setting, Size, notes};
use super::table::{Kind, Table, text};
use crate::GapVerdict;
use crate::chart::{Balances, Gaps};
use maud::{Markup, html};

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let mass = &s.report.mass;
    html! {
        section id="mass" {
            h2 { "Mass" }
            @if let Some(total) = &mass.total {
                dl.totals {
                    div { dt { "Total" @if !mass.state.is_empty() { ", " (mass.state) } } dd { (s.figure(total)) } }
                }
                (s.boundary())
            }
            h3 { "Balance" }
            (balance(s))
            div.charts {
                (s.chart(&Balances { title: "Weighed against sum of parts".to_owned(), unit: "kg".to_owned(), rows: mass.balance.clone() }, Size::Half))
                (s.chart(&Gaps { title: "Gap against its uncertainty".to_owned(), rows: mass.balance.clone() }, Size::Half))
            }
            @for map in &mass.maps { (s.chart(map, Size::Full)) }
            @if !mass.groups.is_empty() {
                @for group in &mass.groups { (grouped(s, group)) }
            }
            (notes(&mass.notes))
        }
    }
}

fn balance(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Assembly", Kind::Name),
        ("Weighed", Kind::Number),
        ("Sum of parts", Kind::Number),
        ("Gap", Kind::Number),
        ("Uncertainty (k\u{a0}=\u{a0}2)", Kind::Number),
        ("Meaning", Kind::Text),
        ("How, and state", Kind::Text),
        ("Without a mass", Kind::Text),
    ];
    let mut table = Table::new("Mass balance", &columns);
    for b in &s.report.mass.balance {
        let words = if b.verdict == GapVerdict::Larger {
            html! { strong { (b.verdict.words()) } }
        } else {
            text(b.verdict.words())
        };
        let how: Vec<&str> = [b.how.as_str(), b.state.as_str()].into_iter().filter(|w| !w.is_empty()).collect();
        table.row(vec![
            html! { span.ind style={ "--l:" (b.level.min(12)) } { (b.label) } },
            s.maybe(b.weighed.as_ref()),
            s.maybe(b.parts.as_ref()),
            s.maybe(b.gap.as_ref()),
            s.maybe(b.gap_uncertainty.as_ref()),
            words,
            text(how.join("; ")),
            text(b.unknown.join(", ")),
        ]);
    }
    table.or_words("Nothing was weighed as a whole.")
}
