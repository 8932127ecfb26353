//! Ideas: safety findings first, then what each idea comes to alone, then the best set.

use super::setting::{Setting, Size, capital, notes};
use super::summary::count;
use super::table::{Kind, Table, text};
use crate::chart::{Frontier, Gain, Gains};
use crate::{ChangeTable, EditState, Figure, Idea, IdeaSet, IdeaWorth, Ideas, SafetyFinding, anchor};
use maud::{Markup, html};
use std::collections::BTreeSet;

/// Ideas that are drawn; the others are counted.
const DRAWN: usize = 20;
/// Rows of the table before the rest is folded.
const FIRST: usize = 20;
/// Points of the frontier before the rest is folded.
const POINTS: usize = 20;

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let Some(ideas) = &s.report.ideas else {
        return html! { section id="ideas" { h2 { "Ideas" } p.none { "No ideas were looked for." } } };
    };
    let mut rows: Vec<&Idea> = ideas.rows.iter().collect();
    let gain = |idea: &Idea| idea.worth.as_ref().map_or(f64::NEG_INFINITY, |w| w.net_saving.number);
    rows.sort_by(|a, b| gain(b).total_cmp(&gain(a)));
    html! {
        section id="ideas" {
            h2 { "Ideas" @if !rows.is_empty() { " " small { (count(rows.len(), "idea", "ideas")) } } }
            (safety(s, &ideas.safety))
            @if rows.is_empty() {
                p.none { "No ideas are recorded and no rule found any." }
            } @else {
                p.note {
                    b { "Gains do not add up. " }
                    "Each idea is computed alone, as a changed product. Two ideas may save the same second or the same part, or \
                     stand in each other's way; a set of ideas is computed as a whole."
                }
                @if !ideas.how.is_empty() { p.note { (ideas.how) } }
                (s.chart(&gains(ideas), Size::Full))
                p.note {
                    "Bar: net saving at the stated values, to the left of zero where the idea costs more than it saves. Line: range \
                     of the draws. Dot: their mean. A dot far from the end of its bar means that the stated values lie at an edge of \
                     what may be; the mean and the chance are then the better guide."
                }
                (table(s, &rows))
                p.note {
                    "Net saving: of a product, when the one-off cost is paid back over the life. Chance of gain: share of the \
                     draws in which that is above zero. Stake: one-off cost and change of the investment in tools. Manual time, operators, pieces and \
                     mass are changes; less is negative. Seconds alone free nobody: operators are counted apart, whole people on each \
                     line."
                }
                h3 { "Each idea" }
                p.note.paper { "Edits and changes line by line are on paper for the best ideas only; the file on screen has them all." }
                div.ideas { @for idea in &rows { (one(s, idea)) } }
            }
            @if let Some(set) = &ideas.set { (best(s, ideas, set)) }
            @if !ideas.dropped.is_empty() { h3 { "Dropped" } (dropped(ideas)) }
            (notes(&ideas.notes))
        }
    }
}

fn safety(s: &Setting<'_>, findings: &[SafetyFinding]) -> Markup {
    html! {
        aside.safety aria-labelledby="safety-title" {
            h3 id="safety-title" { "Safety findings: for qualified people; never traded against cost" }
            @if findings.is_empty() {
                p { "The rules point at none. That does not mean that there are none." }
            } @else {
                p {
                    (capital(&count(findings.len(), "finding", "findings")))
                    ". No idea below weighs against any of them, and none of them has a price here. Local codes and qualified \
                     people decide."
                }
                ol {
                    @for f in findings {
                        li {
                            p {
                                b { (f.name) }
                                @if !f.place.is_empty() { " " span.where { (s.item(&f.place, f.part.as_deref())) } }
                            }
                            @if !f.says.is_empty() { p { (f.says) } }
                            @if !f.advice.is_empty() { p { i { "To settle: " } (f.advice) } }
                            @if !f.source.is_empty() { p.rests { "From: " (f.source) } }
                        }
                    }
                }
            }
        }
    }
}

fn gains(ideas: &Ideas) -> Gains {
    let row = |idea: &Idea| {
        let worth = idea.worth.as_ref()?;
        Some(Gain {
            label: idea.name.clone(),
            place: idea.place.clone(),
            value: worth.net_saving.clone(),
            mean: worth.mean.clone(),
            note: worth.chance.as_ref().map_or(String::new(), |c| format!("chance of gain {}", c.text)),
        })
    };
    Gains {
        title: "What each idea saves alone".to_owned(),
        unit: ideas.unit.clone(),
        rows: ideas.rows.iter().filter_map(row).collect(),
        most: DRAWN,
    }
}

/// Whether most draws say the other of gain and loss than the stated values do.
fn turns(worth: &IdeaWorth) -> bool {
    let chance = worth.chance.as_ref().map(|c| c.number).filter(|c| c.is_finite());
    chance.is_some_and(|c| (worth.net_saving.number > 0.0 && c < 0.5) || (worth.net_saving.number < 0.0 && c > 0.5))
}

fn table(s: &Setting<'_>, rows: &[&Idea]) -> Markup {
    let columns = [
        ("Idea", Kind::Name),
        ("Net saving", Kind::Number),
        ("Chance of gain", Kind::Number),
        ("Stake", Kind::Number),
        ("Payback", Kind::Number),
        ("Manual time", Kind::Number),
        ("Operators", Kind::Number),
        ("Pieces", Kind::Number),
        ("Mass", Kind::Number),
    ];
    let mut table = Table::new("Ideas, each alone", &columns).class("ideas-table").first(FIRST);
    for idea in rows {
        let Some(worth) = &idea.worth else {
            let why = idea.problems.first().map_or("its edits do not all fit", String::as_str);
            table.row_as("flag", vec![html! { (name(idea)) small { "not computed: " (why) } }]);
            continue;
        };
        let turned = turns(worth);
        let plain = |f: &Option<Figure>| f.as_ref().map_or_else(|| html! {}, |f| s.number_of(f));
        // many ideas leave many of these alone, and what changes has to be seen
        let change = |f: &Option<Figure>| match f {
            Some(f) if f.number == 0.0 => html! { span.nil { "0" } },
            other => plain(other),
        };
        let cells = vec![
            name(idea),
            html! { (s.number_of(&worth.net_saving)) (ends(&worth.net_saving)) },
            html! { (plain(&worth.chance)) @if turned { small { (if worth.net_saving.number > 0.0 { "most draws lose" } else { "most draws gain" }) } } },
            plain(&worth.stake),
            plain(&worth.payback),
            change(&worth.seconds),
            change(&worth.operators),
            change(&worth.pieces),
            change(&worth.mass),
        ];
        table.row_as(if turned { "flag" } else { "" }, cells);
    }
    table.html()
}

/// The ends of a range under its number; what share of the draws they hold is said once.
fn ends(figure: &Figure) -> Markup {
    html! { @if let Some(range) = figure.range.as_ref().filter(|r| r.low != r.high) { small.range { (range.text) } } }
}

fn name(idea: &Idea) -> Markup {
    html! {
        a.ref href={ "#" (anchor::id("idea", &idea.id)) } { (idea.name) }
        @if !idea.place.is_empty() { small { (idea.place) } }
    }
}

fn one(s: &Setting<'_>, idea: &Idea) -> Markup {
    let facts = [("Why", &idea.says), ("To settle first", &idea.advice), ("From", &idea.source)];
    let words = [("Kind", &idea.kind), ("Risk", &idea.risk), ("State", &idea.state)];
    html! {
        details.group.idea.told[!idea.changes.is_empty()] id=[s.own_id("idea", &idea.id)] {
            summary {
                span { (idea.name) @if !idea.place.is_empty() { " " span.where { (idea.place) } } }
                @match &idea.worth {
                    Some(worth) => {
                        small {
                            (worth.net_saving.text) " net"
                            @if let Some(chance) = &worth.chance { ", chance of gain " (chance.text) }
                        }
                    },
                    None => { small { "not computed" } },
                }
            }
            div.idea-body {
                div {
                    dl.facts-list {
                        @for (label, value) in facts { @if !value.is_empty() { div { dt { (label) } dd { (value) } } } }
                        @if let Some(part) = &idea.part { div.place { dt { "Where" } dd { (s.item(&idea.place, Some(part))) } } }
                    }
                    @if words.iter().any(|(_, v)| !v.is_empty()) {
                        p.facts {
                            @for (n, (label, value)) in words.iter().filter(|(_, v)| !v.is_empty()).enumerate() {
                                @if n > 0 { "; " }
                                i { (label) ": " } (value)
                            }
                        }
                    }
                    @for problem in &idea.problems { p.warn { (capital(problem)) } }
                    (edits(idea))
                }
                @if let Some(worth) = &idea.worth { (numbers(s, worth)) }
            }
            @let used: Vec<&ChangeTable> = idea.changes.iter().filter(|t| !t.rows.is_empty()).collect();
            @if !used.is_empty() {
                div.lines { @for (n, t) in used.iter().enumerate() { (lines(s, idea, n, t)) } }
            }
        }
    }
}

fn edits(idea: &Idea) -> Markup {
    let open = idea.edits.iter().filter(|e| e.state != EditState::Fits).count();
    html! {
        @if !idea.edits.is_empty() {
            h4 {
                (count(idea.edits.len(), "edit", "edits")) " to the study"
                @if open > 0 { ", " (open) " of which " (if open == 1 { "does" } else { "do" }) " not fit as they stand" } @else { ", all of which fit" }
            }
            ol.edits {
                @for edit in &idea.edits {
                    li {
                        (edit.text)
                        @if edit.state != EditState::Fits { " " b.state { (edit.state.word()) } }
                        @if !edit.problem.is_empty() { small { (edit.problem) } }
                    }
                }
            }
        }
    }
}

/// Everything an idea comes to, label and number.
fn numbers(s: &Setting<'_>, worth: &IdeaWorth) -> Markup {
    let saving = [("Saving, before one-off cost", Some(&worth.saving)), ("Net saving of a product", Some(&worth.net_saving))];
    let money = [
        ("Mean of the draws, net", &worth.mean),
        ("Chance of gain", &worth.chance),
        ("Net saving of a year", &worth.yearly),
        ("One-off cost", &worth.one_off),
        ("Investment in tools, change", &worth.investment),
        ("Stake", &worth.stake),
        ("Payback", &worth.payback),
        ("Pays from, products a year", &worth.turning_volume),
        ("Mass, change", &worth.mass),
        ("Manual time, change", &worth.seconds),
        ("Operators, change", &worth.operators),
        ("Pieces, change", &worth.pieces),
        ("Joints, change", &worth.joints),
    ];
    let rows = saving.into_iter().chain(money.into_iter().map(|(label, f)| (label, f.as_ref())));
    html! {
        dl.numbers {
            @for (label, figure) in rows { @if let Some(f) = figure { div { dt { (label) } dd { (s.number_of(f)) (ends(f)) } } } }
            @if worth.payback.is_none() { div { dt { "Payback" } dd { "none: nothing is saved" } } }
            @if let Some((before, after)) = &worth.ideal_share {
                div { dt { "Ideal-time share" } dd { (s.number_of(before)) " \u{2192} " (s.number_of(after)) } }
            }
        }
    }
}

fn lines(s: &Setting<'_>, idea: &Idea, n: usize, changes: &ChangeTable) -> Markup {
    let columns = [("Line", Kind::Name), ("Now", Kind::Number), ("With the idea", Kind::Number), ("Change", Kind::Number)];
    let caption = format!("{}: {}, {} ({})", changes.title, idea.name, idea.place, n + 1);
    let mut table = Table::new(caption, &columns).first(8);
    let side = |f: &Option<Figure>| f.as_ref().map_or_else(|| html! { "\u{2013}" }, |f| s.figure(f));
    for row in &changes.rows {
        table.row(vec![text(&row.name), side(&row.before), side(&row.after), s.figure(&row.change)]);
    }
    html! { div { h4 { (changes.title) } (table.html()) } }
}

fn best(s: &Setting<'_>, ideas: &Ideas, set: &IdeaSet) -> Markup {
    let of = |id: &str| ideas.rows.iter().find(|i| i.id == id);
    let named = |id: &str| html! { @match of(id) { Some(idea) => { (linked(idea)) }, None => { (id) } } };
    let chart = Frontier {
        title: "Money laid out against saving of a year".to_owned(),
        level: format!("money laid out, {}", set.stake_unit).trim_end_matches([',', ' ']).to_owned(),
        upright: format!("net saving, {}", set.saving_unit).trim_end_matches([',', ' ']).to_owned(),
        points: set.frontier.clone(),
    };
    html! {
        h3 id="ideas-set" { "The best set found" }
        @if set.ideas.is_empty() { p.none { "No set of ideas saves anything." } }
        @if let Some(worth) = &set.worth {
            @let totals = [
                ("Net saving of a product", Some(&worth.net_saving)),
                ("Net saving of a year", worth.yearly.as_ref()),
                ("Chance of gain", worth.chance.as_ref()),
                ("Stake", worth.stake.as_ref()),
                ("Payback", worth.payback.as_ref()),
                ("Manual time, change", worth.seconds.as_ref()),
                ("Operators, change", worth.operators.as_ref()),
                ("Pieces, change", worth.pieces.as_ref()),
                ("Mass, change", worth.mass.as_ref()),
            ];
            dl.totals { @for (label, figure) in totals { @if let Some(f) = figure { div { dt { (label) } dd { (s.number_of(f)) (ends(f)) } } } } }
        }
        p.note {
            (capital(&count(set.ideas.len(), "idea", "ideas"))) ", computed together as one changed product. The numbers are those of the \
             whole, not sums."
            @if !set.bound.is_empty() { " " (set.bound) }
        }
        div.beside {
            (s.chart(&chart, Size::Half))
            @if !set.ideas.is_empty() {
                div { h4 { "In the set" } ul.in-set { @for id in &set.ideas { li { (named(id)) } } } }
            }
        }
        @if !set.frontier.is_empty() {
            h4 { "What more money buys" }
            (frontier(s, set, &named))
        }
        @let together: Vec<&Vec<String>> = set.groups.iter().filter(|g| g.len() > 1).collect();
        @if !together.is_empty() {
            details.behind {
                summary { "Ideas that touch one another and were computed together" }
                ul { @for group in together { li { @for (n, id) in group.iter().enumerate() { @if n > 0 { "; " } (named(id)) } } } }
            }
        }
    }
}

/// An idea in running text: names come back, so that the place stands with it.
fn linked(idea: &Idea) -> Markup {
    html! {
        a.ref href={ "#" (anchor::id("idea", &idea.id)) } { (idea.name) @if !idea.place.is_empty() { ", " (idea.place) } }
    }
}

/// Points of the frontier, each against the one before it.
fn frontier(s: &Setting<'_>, set: &IdeaSet, named: &dyn Fn(&str) -> Markup) -> Markup {
    let columns = [
        ("Money laid out", Kind::Name),
        ("Net saving of a year", Kind::Number),
        ("Ideas", Kind::Number),
        ("Against the row above", Kind::Text),
    ];
    let mut table = Table::new("Frontier of saving against money laid out", &columns).class("frontier").first(POINTS);
    let mut points: Vec<_> = set.frontier.iter().collect();
    points.sort_by(|a, b| a.stake.number.total_cmp(&b.stake.number));
    let mut before: BTreeSet<&str> = BTreeSet::new();
    for point in points {
        let now: BTreeSet<&str> = point.ideas.iter().map(String::as_str).collect();
        let list = |word: &str, ids: Vec<&&str>| {
            html! { @if !ids.is_empty() { p { i { (word) " " } @for (n, id) in ids.iter().enumerate() { @if n > 0 { "; " } (named(id)) } } } }
        };
        let changes =
            html! { (list("with", now.difference(&before).collect())) (list("without", before.difference(&now).collect())) };
        let stake = html! { (s.number_of(&point.stake)) @if point.chosen { small { "the set shown" } } };
        table.row(vec![stake, s.number_of(&point.saving), text(point.ideas.len().to_string()), changes]);
        before = now;
    }
    let more = set.frontier.len().saturating_sub(POINTS);
    html! {
        (table.html())
        @if more > 3 { p.paper.note { "The first " (POINTS) " points; the HTML file of this report has the other " (more) "." } }
    }
}

fn dropped(ideas: &Ideas) -> Markup {
    let columns = [("Idea", Kind::Name), ("Where", Kind::Text), ("Why it was dropped", Kind::Text)];
    let mut table = Table::new("Ideas that were dropped", &columns);
    for idea in &ideas.dropped {
        let why = if idea.reason.is_empty() { "no reason is recorded" } else { &idea.reason };
        table.row(vec![text(&idea.name), text(&idea.place), text(why)]);
    }
    table.html()
}
