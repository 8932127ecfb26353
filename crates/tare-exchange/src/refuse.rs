//! Files that are called parts lists and are none: cut plans, task lists, cost summaries, mass models, notes.

use crate::book::{Book, CellKind};
use crate::mapping::{Meaning, TableMapping};
use crate::proposal::PartRow;
use crate::titles::plain;
use tare_diag::{Diag, Place};

const KINDS: &[(&str, &[&str])] = &[
    (
        "a cut plan",
        &[
            "cut length",
            "cut",
            "stock length",
            "bar",
            "bar no",
            "kerf",
            "offcut",
            "waste",
            "cuts",
            "stock",
            "remaining",
            "schnittlänge",
            "reststück",
            "cut list",
            "board",
            "sheet no",
            "stock bar",
            "zuschnitt",
            "stange",
            "rest",
            "verschnitt",
            "zuschnittliste",
            "profile",
            "profil",
        ],
    ),
    (
        "a task list",
        &[
            "task",
            "status",
            "assignee",
            "due",
            "due date",
            "owner",
            "done",
            "deadline",
            "assigned to",
            "progress",
            "aufgabe",
            "priority",
            "start date",
            "end date",
            "milestone",
            "responsible",
            "verantwortlich",
            "termin",
            "erledigt",
            "hours",
        ],
    ),
    (
        "a mass model",
        &[
            "mass fraction",
            "margin",
            "contingency",
            "growth",
            "moment",
            "x cg",
            "y cg",
            "z cg",
            "cg",
            "mass budget",
            "arm",
            "dry mass",
            "wet mass",
            "fraction",
            "predicted mass",
            "x",
            "y",
            "z",
            "ixx",
            "iyy",
            "izz",
            "xcg",
            "ycg",
            "zcg",
            "center of gravity",
            "centre of gravity",
            "cbe mass",
            "mev mass",
        ],
    ),
];
/// A title without its unit, for comparison with the words above.
fn bare(title: &str) -> String {
    plain(title.split(['(', '[']).next().unwrap_or(title))
}

/// Whether a name is a kind of cost and no part: `Labour`, `Gemeinkosten`.
fn is_cost_kind(name: &str) -> bool {
    let p = plain(name);
    let words: Vec<&str> = p.split(' ').collect();
    words.len() <= 3
        && (COST_ROWS.contains(&words[0]) || words.iter().any(|w| w.ends_with("kosten") || matches!(*w, "costs" | "cost")))
}

const COST_ROWS: &[&str] = &[
    "material",
    "materials",
    "labour",
    "labor",
    "overhead",
    "overheads",
    "profit",
    "margin",
    "travel",
    "shipping",
    "machining",
    "assembly",
    "tooling",
    "electronics",
    "mechanical",
    "software",
    "testing",
    "contingency",
    "rent",
    "misc",
    "miscellaneous",
    "other",
    "wages",
    "design",
];

/// Why a table is no parts list, in a few words; `None` if it may be one.
pub(crate) fn why_not(map: &TableMapping, rows: &[PartRow]) -> Option<String> {
    let has = |m: Meaning| map.column(m).is_some();
    let titles: Vec<String> = map.columns.iter().map(|c| bare(&c.title)).collect();
    for (kind, words) in KINDS {
        let found: Vec<&str> =
            map.columns.iter().zip(&titles).filter(|(_, t)| words.contains(&t.as_str())).map(|(c, _)| c.title.trim()).collect();
        if found.len() >= 2 && !has(Meaning::PartNumber) {
            return Some(format!("it looks like {kind} (columns {})", found.join(", ")));
        }
    }
    let money = |c: &crate::mapping::ColumnMapping| {
        matches!(c.meaning, Meaning::Price | Meaning::PriceLine)
            || (c.meaning == Meaning::Quantity && matches!(plain(&c.title).as_str(), "amount" | "betrag" | "montant" | "importe"))
    };
    if !has(Meaning::PartNumber) && !has(Meaning::Designator) && map.columns.iter().any(money) {
        let first = |r: &PartRow| r.name.as_ref().map(|n| n.value.clone()).or_else(|| r.other.first().map(|o| o.1.value.clone()));
        let names: Vec<String> = rows.iter().filter_map(first).collect();
        let costs = names.iter().filter(|n| is_cost_kind(n)).count();
        if costs * 2 >= names.len().max(1) {
            return Some("it looks like a cost summary (kinds of cost, no parts)".to_owned());
        }
    }
    if !has(Meaning::Quantity) && !has(Meaning::PartNumber) && !has(Meaning::Designator) {
        let named = map.columns.iter().any(|c| c.meaning == Meaning::Name && c.decided_by != "content") || has(Meaning::Path);
        if !named {
            return Some("no column names parts and none counts them".to_owned());
        }
    }
    if rows.is_empty() {
        return Some("no row below its titles names a part".to_owned());
    }
    None
}

/// The one message for a file without any parts list.
pub(crate) fn nothing(book: &Book, reasons: &[(Place, String)]) -> Diag {
    if let Some((place, why)) = reasons.first() {
        return Diag::error("no-parts-list", format!("nothing is imported: {why}"))
            .at(place.clone())
            .hint("choose another sheet or file, or map the columns by hand");
    }
    let texts: Vec<_> = book.sheets.iter().flat_map(|s| &s.cells).collect();
    let words = texts.iter().filter(|c| c.kind == CellKind::Text).count();
    let one_column = book.sheets.iter().all(|s| s.cells.iter().all(|c| c.column == s.cells[0].column));
    let all: std::collections::BTreeSet<String> = texts.iter().take(2000).map(|c| bare(&c.text)).collect();
    for (kind, marks) in KINDS {
        if marks.iter().filter(|m| all.contains(**m)).count() >= 2 {
            let message = format!("nothing is imported: it looks like {kind}, and no row holds the titles of a parts list");
            return Diag::error("no-parts-list", message).at(Place::File(book.file.clone())).hint("choose another sheet or file");
        }
    }
    let costs = texts.iter().take(2000).filter(|c| c.is_text() && is_cost_kind(&c.text)).count();
    let numbers = texts.iter().filter(|c| c.kind == CellKind::Number || crate::tables::is_number(&c.text)).count();
    if costs >= 2 && numbers >= 2 {
        return Diag::error("no-parts-list", "nothing is imported: it looks like a cost summary (kinds of cost, no parts)")
            .at(Place::File(book.file.clone()))
            .hint("choose another sheet or file");
    }
    // A letter or a to-do list has commas here and there, but next to no numbers and most lines whole.
    let single = book.sheets.iter().flat_map(|s| s.rows().map(move |r| s.all_in_row(r).len())).filter(|n| *n == 1).count();
    let rows: usize = book.sheets.iter().map(|s| s.rows().count()).sum();
    let one_column = one_column || (numbers == 0 && single * 2 >= rows);
    let what = if one_column && words > 0 {
        "it looks like a note (text in one column)"
    } else {
        "no row holds titles such as name and quantity"
    };
    Diag::error("no-parts-list", format!("nothing is imported: {what}"))
        .at(Place::File(book.file.clone()))
        .hint("add a row of column titles, or choose another sheet or file")
}
