//! Boundary tests made from a table itself: every key, a little below it and a little above it.

use crate::calculation::{Calculation, Declared};
use crate::check::Resolve;
use crate::expr::{Expr, ExprKind};
use crate::function::Function;
use crate::lower::pick_alone;
use crate::lowered::Lowered;
use crate::run::Run;
use crate::series::key_number;
use crate::span::Span;
use crate::table::{Outside, Rule, Table};

/// One need put to a table: what its rules say, and what the template gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Probe {
    /// The table.
    pub table: String,
    /// The needs, one per key: SI numbers, or positions of texts.
    pub needs: Vec<f64>,
    /// The row's position by the rules, between two rows with the share of the way; none when refused.
    pub expected: Option<f64>,
    /// The row's position from the template; none when refused.
    pub got: Option<f64>,
    /// Whether a refusal was flagged.
    pub flagged: bool,
    /// Whether both agree, and a refusal is flagged exactly when there is one.
    pub ok: bool,
}

/// Most probes of one table.
const MOST: usize = 3_000;

/// Probes every table of a calculation at, below and above each of its keys.
///
/// What is expected is worked out by plain search through the rows, apart from the way templates are built.
pub fn table_probes(calc: &Calculation, lib: &dyn Resolve) -> Vec<Probe> {
    let mut probes = Vec::new();
    for (position, table) in calc.tables.iter().enumerate() {
        let Ok(lowered) = pick_alone(calc, lib, position) else { continue };
        for needs in needs(table) {
            probes.push(probe(table, &lowered, needs));
        }
    }
    probes
}

/// The call that picks from a table with one name per key.
pub(crate) fn pick_call(table: &Table) -> Expr {
    let name = |text: &str| Expr::new(ExprKind::Name(text.to_owned()), Span::default());
    let mut arguments = vec![name(&table.name.value)];
    arguments.extend(table.keys.iter().map(|k| name(&k.name.value)));
    Expr::new(ExprKind::Call(Function::Pick, arguments), Span::default())
}

/// For each key of each row: the row's own needs, and the same with this key moved a little down and up.
fn needs(table: &Table) -> Vec<Vec<f64>> {
    let mut found: Vec<Vec<f64>> = Vec::new();
    for row in 0..table.rows.len() {
        let own: Vec<f64> = (0..table.keys.len()).map(|k| key_number(table, row, k)).collect();
        if own.iter().any(|x| x.is_nan()) {
            continue;
        }
        found.push(own.clone());
        for (k, key) in table.keys.iter().enumerate() {
            if !matches!(key.declared, Declared::Number(_)) {
                continue;
            }
            let step = 1e-6 * own[k].abs().max(1e-6);
            for moved in [own[k] - step, own[k] + step] {
                let mut needs = own.clone();
                needs[k] = moved;
                found.push(needs);
            }
        }
        if found.len() > MOST {
            break;
        }
    }
    found
}

fn probe(table: &Table, lowered: &Lowered, needs: Vec<f64>) -> Probe {
    let run = Run::new(lowered, None, |flat, _| needs.get(flat).copied());
    let got = lowered.line("row").and_then(|l| l.values.first()).map(|o| run.value(*o)).filter(|x| !x.is_nan() && *x != -1.0);
    let expected = by_search(table, &needs);
    let flagged = lowered.refusals.iter().any(|r| run.value(r.operand) == 1.0);
    let same = match (expected, got) {
        (Some(e), Some(g)) => (e - g).abs() <= 1e-9 * e.abs().max(1.0),
        (None, None) => true,
        _ => false,
    };
    let ok = same && flagged == expected.is_none();
    Probe { table: table.name.value.clone(), needs, expected, got, flagged, ok }
}

/// The row for the needs by searching through the rows, as the form of tables is described.
fn by_search(table: &Table, needs: &[f64]) -> Option<f64> {
    let numbers = |row: usize| (0..table.keys.len()).map(move |k| key_number(table, row, k));
    let chosen: Vec<usize> = (0..table.rows.len())
        .filter(|row| numbers(*row).zip(&table.keys).zip(needs).all(|((x, key), need)| key.rule != Rule::Equals || x == *need))
        .collect();
    let last = |key: usize, smallest: bool| {
        let all = chosen.iter().map(|row| key_number(table, *row, key));
        if smallest { all.fold(f64::INFINITY, f64::min) } else { all.fold(f64::NEG_INFINITY, f64::max) }
    };
    let suits = |row: usize| {
        (0..table.keys.len()).all(|k| {
            let x = key_number(table, row, k);
            let hold = table.keys[k].outside == Outside::Hold;
            match table.keys[k].rule {
                Rule::UpTo => x >= needs[k] || (hold && x == last(k, false)),
                Rule::From => x <= needs[k] || (hold && x == last(k, true)),
                Rule::Interpolate | Rule::Equals => true,
            }
        })
    };
    // of the rows that suit: smallest `up_to` keys first, then largest `from` keys
    let mut suited: Vec<usize> = chosen.iter().copied().filter(|row| suits(*row)).collect();
    let rank = |row: &usize| -> Vec<f64> {
        let of = |rule: Rule, sign: f64| {
            let keys = (0..table.keys.len()).filter(move |k| table.keys[*k].rule == rule);
            keys.map(move |k| sign * key_number(table, *row, k))
        };
        of(Rule::UpTo, 1.0).chain(of(Rule::From, -1.0)).collect()
    };
    suited.sort_by(|a, b| rank(a).partial_cmp(&rank(b)).unwrap_or(std::cmp::Ordering::Equal));
    let first = *suited.first()?;
    let Some(key) = table.keys.iter().position(|k| k.rule == Rule::Interpolate) else { return Some(first as f64) };
    let mut line: Vec<(f64, usize)> =
        suited.iter().filter(|row| rank(row) == rank(&first)).map(|row| (key_number(table, *row, key), *row)).collect();
    line.sort_by(|a, b| a.0.total_cmp(&b.0));
    if line.len() < 2 {
        return Some(first as f64);
    }
    let (low, high) = (line.first()?, line.last()?);
    let need = needs[key];
    let need = match table.keys[key].outside {
        Outside::Hold => need.clamp(low.0, high.0),
        Outside::Refuse if need < low.0 || need > high.0 => return None,
        _ => need,
    };
    let upper = line.iter().position(|(x, _)| *x > need).unwrap_or(line.len() - 1).clamp(1, line.len() - 1);
    let ((a, row), (b, _)) = (line[upper - 1], line[upper]);
    Some(row as f64 + (need - a) / (b - a))
}
