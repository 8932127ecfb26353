//! Stated totals are checks: compared with the rows and with their own formula, rows left out are named.

use crate::book::{Book, cell_name};
use crate::formula;
use crate::mapping::{Mapping, Meaning};
use crate::proposal::{PartRow, Per, TotalCheck, TotalOf, Verdict};
use crate::rows::{Gathered, StatedTotal, origin};
use crate::tables::Found;
use tare_diag::Diag;

/// What a row adds to a total of a column.
///
/// A mass is brought to the unit of the total, given in kilograms, where both are known.
pub(crate) fn share(row: &PartRow, meaning: Meaning, kg: Option<f64>) -> Option<f64> {
    let printed = |m: &crate::proposal::Mass| m.kg.zip(kg).map(|(m, k)| m / k).or(m.value);
    match meaning {
        Meaning::Quantity | Meaning::QuantityBought | Meaning::QuantityTotal | Meaning::Multiplier => row.quantity.value,
        Meaning::Mass => row.mass.as_ref().and_then(printed),
        Meaning::MassLine => {
            let mass = row.mass.as_ref()?;
            if matches!(mass.per, Per::Line | Per::Group) { printed(mass) } else { Some(printed(mass)? * row.quantity.value?) }
        }
        Meaning::PriceLine => row.line_price.as_ref().and_then(|p| p.value),
        _ => row.price.as_ref().and_then(|p| p.value),
    }
}

fn times_quantity(row: &PartRow, meaning: Meaning, kg: Option<f64>) -> Option<f64> {
    let per_line = |p: Per| matches!(p, Per::Line | Per::Group);
    let per = match meaning {
        Meaning::Mass => row.mass.as_ref()?.per,
        Meaning::Price => row.price.as_ref()?.per,
        _ => return None,
    };
    let v = share(row, meaning, kg)?;
    Some(if per_line(per) { v } else { v * row.quantity.value? })
}

struct Done {
    sheet: usize,
    row: u32,
    column: u32,
    recomputed: Option<f64>,
}

/// Compares all stated totals and warns where they differ.
pub(crate) fn check(book: &Book, tables: &[Found], mapping: &Mapping, out: &mut Gathered) -> Vec<TotalCheck> {
    let stated = std::mem::take(&mut out.totals);
    let mut done: Vec<Done> = Vec::new();
    let mut checks = Vec::new();
    let mut since: std::collections::BTreeMap<(usize, Meaning), usize> = std::collections::BTreeMap::new();
    for (i, total) in stated.iter().enumerate() {
        if i >= crate::limits::TOTALS {
            let message = format!("only the first {i} totals were compared; {} more were not", stated.len() - i);
            out.warnings.push(Diag::warning("total-differs", message).at(book.place(
                total.sheet,
                total.cell.row,
                total.cell.column,
            )));
            break;
        }
        let start = since.insert((total.table, total.meaning), total.rows_before).unwrap_or(0);
        let (recomputed, by_formula, left_out) = compare(book, tables, mapping, out, total, &done, start);
        done.push(Done { sheet: total.sheet, row: total.cell.row, column: total.cell.column, recomputed });
        let place = book.place(total.sheet, total.cell.row, total.cell.column);
        let (verdict, says) = judge(total, recomputed, by_formula, &left_out);
        match verdict {
            Verdict::Differs => out
                .warnings
                .push(Diag::warning("total-differs", says.clone()).at(place).hint("the rows are taken, the total is not")),
            Verdict::Rounded => out.warnings.push(Diag::note("total-rounded", says.clone()).at(place)),
            Verdict::Agrees | Verdict::Unchecked => {}
        }
        let of = match total.meaning {
            Meaning::Mass | Meaning::MassLine => TotalOf::Mass,
            Meaning::Price | Meaning::PriceLine => TotalOf::Price,
            _ => TotalOf::Quantity,
        };
        let from = origin(book, total.sheet, &total.cell, "a total: a check, not a part");
        checks.push(TotalCheck {
            label: total.label.clone(),
            of,
            stated: total.stated,
            recomputed,
            by_formula,
            verdict,
            left_out,
            says,
            origin: from,
        });
    }
    checks
}

fn judge(total: &StatedTotal, recomputed: Option<f64>, by_formula: Option<f64>, left_out: &[String]) -> (Verdict, String) {
    let label = total.label.trim().trim_end_matches(':').trim();
    let (Some(s), Some(r)) = (total.stated, recomputed) else {
        return (Verdict::Unchecked, format!("the total `{label}` could not be compared with any rows"));
    };
    let difference = s - r;
    if difference.abs() <= 1e-9 * s.abs().max(r.abs()).max(1.0) {
        return (Verdict::Agrees, format!("the total `{label}` of {s} agrees with the rows"));
    }
    let mut says = format!(
        "the stated total {s} (`{label}`) is {} {} the sum of the rows ({})",
        tidy(difference.abs()),
        if difference < 0.0 { "below" } else { "above" },
        tidy(r)
    );
    if !left_out.is_empty() {
        says.push_str(&format!("; its formula leaves out {}", left_out.join(", ")));
    } else if by_formula.is_some_and(|f| (f - s).abs() > 1e-9 * s.abs().max(1.0)) {
        says.push_str("; its stored value is stale");
    }
    // Rounded: the rows' sum, cut to as many places as the stated number shows, is the stated number.
    let rounded = (0..=4).any(|p| {
        let unit = 10f64.powi(p - 2);
        (s / unit - (s / unit).round()).abs() < 1e-6 && difference.abs() <= unit / 2.0 * (1.0 + 1e-9) && unit <= s.abs() * 0.05
    });
    if rounded && left_out.is_empty() && by_formula.is_none() && r.fract() != 0.0 {
        return (Verdict::Rounded, format!("the stated total {s} (`{label}`) is the sum of the rows ({}) rounded", tidy(r)));
    }
    (Verdict::Differs, says)
}

fn tidy(v: f64) -> f64 {
    (v * 1e6).round() / 1e6
}

fn compare(
    book: &Book,
    tables: &[Found],
    mapping: &Mapping,
    out: &Gathered,
    total: &StatedTotal,
    done: &[Done],
    start: usize,
) -> (Option<f64>, Option<f64>, Vec<String>) {
    let sheet = &book.sheets[total.sheet];
    if let Some(f) = &total.cell.formula
        && let Some(areas) = formula::areas(f)
    {
        let by_formula = formula::evaluate(sheet, f);
        // A total of totals: each with its own recomputed value.
        let parts: Vec<&Done> =
            done.iter().filter(|d| d.sheet == total.sheet && areas.iter().any(|a| a.covers(d.row, d.column))).collect();
        let covered =
            |r: &PartRow, column: u32| tables[r.table].sheet == total.sheet && areas.iter().any(|a| a.covers(r.row - 1, column));
        let mut sum: f64 = 0.0;
        let mut any = false;
        let mut left_out = Vec::new();
        for (t, found) in tables.iter().enumerate().filter(|(_, f)| f.sheet == total.sheet) {
            let Some(map) = mapping.tables.get(t) else { continue };
            for column in map.columns.iter().filter(|c| crate::columns::numeric(c.meaning)) {
                let rows: Vec<&PartRow> = out.rows.iter().filter(|r| r.table == t).collect();
                let inside = rows.iter().filter(|r| covered(r, column.column)).count();
                if inside * 2 <= rows.len() || inside == 0 {
                    continue;
                }
                any = true;
                for r in rows {
                    sum += share(r, column.meaning, total.kg).unwrap_or(0.0);
                    if !covered(r, column.column) && share(r, column.meaning, total.kg).is_some_and(|v| v != 0.0) {
                        left_out.push(format!("row {} (cell {})", r.row, cell_name(r.row - 1, column.column)));
                    }
                }
                debug_assert!(found.sheet == total.sheet);
            }
        }
        if any {
            return (Some(sum), by_formula, left_out);
        }
        if !parts.is_empty() && formula::is_sum(f) {
            return (parts.iter().map(|d| d.recomputed).sum(), by_formula, Vec::new());
        }
    }
    let rows: Vec<&PartRow> =
        out.rows.iter().enumerate().filter(|(i, r)| r.table == total.table && *i < total.rows_before).map(|(_, r)| r).collect();
    let tail: Vec<&PartRow> = out
        .rows
        .iter()
        .enumerate()
        .filter(|(i, r)| r.table == total.table && *i >= start && *i < total.rows_before)
        .map(|(_, r)| r)
        .collect();
    let sheet_rows: Vec<&PartRow> = out.rows.iter().filter(|r| tables[r.table].sheet == total.sheet).collect();
    let stated = total.stated;
    let sum = |rows: &[&PartRow], f: &dyn Fn(&PartRow) -> Option<f64>| {
        let found: Vec<f64> = rows.iter().filter(|r| r.counted || r.parent.is_none()).filter_map(|r| f(r)).collect();
        (!found.is_empty()).then(|| found.iter().sum::<f64>())
    };
    let plain = |r: &PartRow| share(r, total.meaning, total.kg);
    let times = |r: &PartRow| times_quantity(r, total.meaning, total.kg);
    let counted = |r: &PartRow| share(r, total.meaning, total.kg).filter(|_| r.counted);
    let charges: Vec<f64> =
        out.charges.iter().filter(|(t, m, _)| *t == total.table && *m == total.meaning).map(|c| c.2).collect();
    let charged = (!charges.is_empty()).then(|| sum(&rows, &plain)).flatten().map(|s| s + charges.iter().sum::<f64>());
    let candidates: Vec<f64> = [
        sum(&rows, &plain),
        sum(&tail, &plain),
        sum(&rows, &times),
        sum(&tail, &times),
        sum(&rows, &counted),
        sum(&sheet_rows, &plain),
        charged,
    ]
    .into_iter()
    .flatten()
    .collect();
    // The reading that comes nearest to the stated number is the one that was meant.
    let best = stated.and_then(|s| candidates.iter().copied().min_by(|a, b| (a - s).abs().total_cmp(&(b - s).abs())));
    (best, None, Vec::new())
}
