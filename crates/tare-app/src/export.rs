//! Tables for other programs.

use crate::view::PartsView;
use std::fmt::Write;
use tare_exchange::write_csv_text;
use tare_report::FigureFile;

/// The parts list as CSV in UTF-8 with commas. Text that a spreadsheet would take for a formula stays text.
pub fn parts_csv(view: &PartsView) -> String {
    let mut out = String::from(
        "level,label,name,count,pieces in product,material,make or buy,processes,mass of one (kg),cost of one,currency\n",
    );
    for part in &view.parts {
        let text = |t: &str| write_csv_text(t);
        let mass = part.mass.as_ref().map_or_else(String::new, |m| kilograms(m.value, &m.unit));
        let (cost, currency) = part.cost.as_ref().map_or_else(Default::default, |c| (number(c.value), c.unit.clone()));
        let _ = writeln!(
            out,
            "{},{},{},{},{},{},{},{},{mass},{cost},{}",
            part.level,
            text(&part.label),
            text(&part.name),
            number(part.count),
            number(part.pieces),
            text(&part.material),
            text(&part.make),
            text(&part.processes.join("; ")),
            text(&currency),
        );
    }
    out
}

/// The list of drawings as CSV: number, title, file, section.
pub fn figures_csv<'a>(rows: impl IntoIterator<Item = (&'a FigureFile, &'a str)>) -> String {
    let mut out = String::from("number,title,file,section\n");
    for (figure, file) in rows {
        let text = |t: &str| write_csv_text(t);
        let _ = writeln!(out, "{},{},{},{}", figure.number, text(&figure.title), text(file), text(&figure.section));
    }
    out
}

fn number(x: f64) -> String {
    if x.is_finite() { format!("{x}") } else { String::new() }
}

fn kilograms(value: f64, unit: &str) -> String {
    let si = tare_units::Unit::parse(unit).map_or(f64::NAN, |u| u.to_si(value));
    number((si * 1e12).round() / 1e12)
}
