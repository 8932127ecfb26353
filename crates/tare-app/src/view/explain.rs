//! The reason behind a number.

use crate::figure::shown;
use serde::Serialize;
use tare_diag::{Diag, Place};
use tare_study::{LineRef, Study};

/// A number explained.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct ExplainView {
    /// The line asked for first, then what it rests on.
    pub steps: Vec<ExplainRow>,
    /// Lines left out by the limit.
    pub left_out: usize,
}

/// One line of an explanation.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct ExplainRow {
    /// Its address.
    pub address: String,
    /// What it is about.
    pub subject: String,
    /// Its name.
    pub name: String,
    /// The formula as authored; empty for a leaf.
    pub formula: String,
    /// Its values, in `unit`.
    pub values: Vec<f64>,
    /// The unit.
    pub unit: String,
    /// As shown.
    pub text: String,
    /// What each name stands for.
    pub names: Vec<NameRow>,
    /// Where the formula or value comes from.
    pub source: String,
    /// The calculation it stands in.
    pub calculation: String,
    /// Evidence class of a leaf.
    pub evidence: String,
    /// A leaf as stated, with its spread.
    pub stated: String,
}

/// A name of a formula.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct NameRow {
    /// The name.
    pub name: String,
    /// As shown.
    pub text: String,
    /// The addresses behind it.
    pub lines: Vec<String>,
}

/// Reads a limit in the dimension of a line, to SI.
///
/// # Errors
/// Text that does not read, or is of another dimension or currency: a limit brings no exchange rate with it.
pub fn read_limit(study: &Study, line: LineRef, text: &str) -> Result<f64, Diag> {
    let unit = study.lines.unit(line);
    let mut due = unit.clone();
    due.text = due.text.replace("money", &study.currency);
    let read = tare_units::Quantity::parse_as(text, &due).map_err(|error| {
        Diag::error("limit", error.to_string()).at(Place::address("--limit")).hint(format!("write it in {}", due.text))
    })?;
    match read.unit.currency {
        Some(currency) if currency.to_string() != study.currency => {
            let says = format!("the limit is in {currency}, the study in {}", study.currency);
            Err(Diag::error("limit", says).at(Place::address("--limit")).hint(format!("write it in {}", due.text)))
        }
        _ => Ok(read.value),
    }
}

/// The address a short word stands for: `cost`, `mass`, `time`.
pub fn headline_address(study: &Study, word: &str) -> Option<LineRef> {
    match word {
        "" | "cost" | "total" => study.totals.cost,
        "mass" => study.totals.mass,
        "time" | "manual" => study.totals.manual,
        "investment" => study.totals.investment,
        "volume" => study.totals.volume,
        "without" => study.totals.without_dominant,
        _ => None,
    }
}

/// Explains the line of an address, at most `limit` lines.
///
/// # Errors
/// Nothing has that address; the nearest ones are named.
pub fn explain(study: &Study, address: &str, limit: usize) -> Result<ExplainView, Diag> {
    let line = find(study, address)?;
    let explanation = study.explain(line, limit);
    let several = |values: &[f64], unit: &tare_units::Unit, word: &Option<String>| match word {
        Some(word) => word.clone(),
        None => {
            let each: Vec<String> = values.iter().take(12).map(|v| shown(*v, unit, &study.currency, 6)).collect();
            let more = if values.len() > 12 { ", ..." } else { "" };
            format!("{}{more}", each.join(", "))
        }
    };
    let steps = explanation.steps.iter().map(|step| ExplainRow {
        address: step.address.clone(),
        subject: step.subject.clone(),
        name: step.name.clone(),
        formula: step.formula.clone(),
        values: step.values.iter().map(|v| step.unit.from_si(*v)).collect(),
        unit: step.unit.text.replace("money", &study.currency),
        text: several(&step.values, &step.unit, &step.word),
        names: step
            .names
            .iter()
            .map(|n| NameRow {
                name: n.name.clone(),
                text: several(&n.values, &n.unit, &n.word),
                lines: n.lines.iter().map(|l| study.lines.address(*l)).collect(),
            })
            .collect(),
        source: step.source.clone(),
        calculation: step.calculation.clone(),
        evidence: step.evidence.map(|e| e.word().to_owned()).unwrap_or_default(),
        stated: step.stated.clone().unwrap_or_default(),
    });
    Ok(ExplainView { steps: steps.collect(), left_out: explanation.left_out })
}

/// The line an address means: a headline, a line's own address, or what the parts list shows.
///
/// # Errors
/// Nothing has that address; the nearest ones are named.
pub fn find(study: &Study, address: &str) -> Result<LineRef, Diag> {
    if let Some(line) = headline_address(study, address).or_else(|| study.lines.find(address)) {
        return Ok(line);
    }
    let lower = address.to_lowercase();
    let (label, name) = lower.split_once('/').unwrap_or((&lower, "cost"));
    // `P12`, `P12/cost` and `P12/mass` mean what the parts list shows.
    if let Some(part) = study.parts.iter().position(|p| p.label.to_lowercase() == label) {
        let row = &study.parts[part];
        let item = study.items.iter().find(|i| i.id == row.item);
        let found = match name {
            "cost" => row.cost,
            "mass" => row.mass,
            "own" | "own cost" => item.and_then(|i| i.own),
            "contribution" => item.and_then(|i| i.contribution),
            "volume" => item.and_then(|i| i.volume),
            _ => study.lines.find(&format!("item {}/{name}", row.label)),
        };
        if let Some(line) = found {
            return Ok(line);
        }
        // `P12/op1/cycle` may be written without the item's own address.
        if let Some(item) = item
            && let Some(line) = study.lines.find(&format!("{}/{name}", item.address))
        {
            return Ok(line);
        }
    }
    let every: Vec<String> = all_addresses(study)
        .filter(|a| {
            a.to_lowercase().contains(&lower) || lower.starts_with(a.split('/').next().unwrap_or("?").to_lowercase().as_str())
        })
        .take(4000)
        .collect();
    let near: Vec<&str> = every.iter().map(String::as_str).collect();
    // What may be written short is suggested short: `P12/mass` for `item P12/mass`.
    let short = near.iter().map(|a| a.strip_prefix("item ").unwrap_or(a));
    let of_parts: Vec<String> =
        study.parts.iter().flat_map(|p| ["mass", "cost"].map(|name| format!("{}/{name}", p.label))).collect();
    let mut diag = Diag::error("address-unknown", format!("no line has the address `{address}`"))
        .at(Place::address(address))
        .did_you_mean(address, short.chain(of_parts.iter().map(String::as_str)));
    if let Some(first) = near.first().filter(|_| diag.hints.is_empty()) {
        let some: Vec<&str> = near.iter().take(6).copied().collect();
        diag = diag.hint(format!("there is {}", if near.len() == 1 { (*first).to_owned() } else { some.join(", ") }));
    }
    Err(diag.hint("begin with `tare explain cost`; every name it shows has an address"))
}

fn all_addresses(study: &Study) -> impl Iterator<Item = String> {
    let blocks = (0..study.lines.blocks.len() as u32).flat_map(|b| study.lines.lines_of(b)).map(|l| study.lines.address(l));
    let leaves = (0..study.lines.leaves.len() as u32).map(|l| study.lines.address(LineRef::Leaf(l)));
    blocks.chain(leaves)
}
