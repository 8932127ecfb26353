//! The mass balance and where the mass is.

use crate::figure::{Figure, shown};
use serde::Serialize;
use tare_study::{LineRef, Study};

/// The mass part of a study.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct MassView {
    /// Mass of the product.
    pub total: Option<Figure>,
    /// Two standard uncertainties of the total, first order.
    pub total_uncertainty: String,
    /// Assemblies, and parts whose mass stands in some special way.
    pub balance: Vec<MassRow>,
    /// By material.
    pub by_material: Vec<GroupRow>,
    /// By function.
    pub by_function: Vec<GroupRow>,
    /// By making process.
    pub by_process: Vec<GroupRow>,
    /// Parts without a mass.
    pub unknown: Vec<String>,
}

/// One row of the balance.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct MassRow {
    /// Label.
    pub label: String,
    /// Name.
    pub name: String,
    /// Depth.
    pub level: usize,
    /// How the mass is known.
    pub how: &'static str,
    /// The mass adopted for one piece.
    pub mass: Option<Figure>,
    /// Sum of its parts.
    pub sum: Option<Figure>,
    /// Weighed less sum.
    pub gap: Option<Figure>,
    /// Two standard uncertainties of the gap, in the gap's unit.
    pub gap_uncertainty: Option<f64>,
    /// Mass, sum, gap and two standard uncertainties of the gap in kilograms, for tables.
    pub kilograms: [Option<f64>; 4],
    /// What the gap means.
    pub verdict: String,
    /// Children without a mass.
    pub unknown: usize,
    /// States the mass was taken in.
    pub states: Vec<String>,
}

/// One group.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct GroupRow {
    /// The group.
    pub name: String,
    /// Its value.
    pub value: Figure,
    /// Share of the total.
    pub share: f64,
}

/// The mass balance of a compiled study.
pub fn mass(study: &Study) -> MassView {
    let has_children = |at: usize| study.parts.iter().any(|p| p.parent == Some(at));
    let mut balance = Vec::new();
    let mut unknown = Vec::new();
    for row in &study.mass {
        let part = &study.parts[row.part];
        if row.mass.is_none() {
            unknown.push(format!("{} {}", part.label, part.name));
        }
        let special = matches!(row.how, tare_study::MassHow::Difference | tare_study::MassHow::Share);
        if !has_children(row.part) && !special {
            continue;
        }
        let u = row.gap.map(|gap| 2.0 * study.grounds(gap).standard_uncertainty);
        let verdict = match (row.gap, u) {
            _ if row.unknown > 0 => format!("{} parts without mass", row.unknown),
            // Nothing can be said of a gap whose uncertainty is not known.
            (Some(_), Some(u)) if u.is_nan() => "uncertainty not known".to_owned(),
            (Some(gap), Some(u)) if study.value(gap).abs() <= u => "within uncertainty".to_owned(),
            (Some(_), Some(_)) => "larger than uncertainty explains".to_owned(),
            _ => String::new(),
        };
        balance.push(MassRow {
            label: part.label.clone(),
            name: part.name.clone(),
            level: part.level,
            how: row.how.word(),
            mass: row.mass.map(|m| Figure::new(study, m, 5)),
            sum: row.sum.map(|m| Figure::new(study, m, 5)),
            gap: row.gap.map(|m| Figure::new(study, m, 3)),
            gap_uncertainty: row.gap.zip(u).map(|(gap, u)| study.lines.unit(gap).from_si(u)),
            kilograms: [row.mass, row.sum, row.gap]
                .map(|l| l.map(|l| study.value(l)))
                .into_iter()
                .chain([u])
                .collect::<Vec<_>>()
                .try_into()
                .unwrap_or_default(),
            verdict,
            unknown: row.unknown,
            states: row.states.clone(),
        });
    }
    let total = study.totals.mass;
    let total_uncertainty = total
        .map(|t| shown(2.0 * study.grounds(t).standard_uncertainty, study.lines.unit(t), &study.currency, 2))
        .unwrap_or_default();
    MassView {
        total: total.map(|t| Figure::new(study, t, 5)),
        total_uncertainty,
        balance,
        by_material: groups(study, &study.totals.mass_by_material, total),
        by_function: groups(study, &study.totals.mass_by_function, total),
        by_process: groups(study, &study.totals.mass_by_process, total),
        unknown,
    }
}

/// Groups, largest first, with their share of a total.
pub(crate) fn groups(study: &Study, rows: &[(String, LineRef)], total: Option<LineRef>) -> Vec<GroupRow> {
    let whole = total.map_or(f64::NAN, |t| study.value(t));
    let mut found: Vec<GroupRow> = rows
        .iter()
        .map(|(name, line)| GroupRow {
            name: name.clone(),
            value: Figure::new(study, *line, 4),
            share: share(study.value(*line), whole),
        })
        .collect();
    found.sort_by(|a, b| b.value.value.total_cmp(&a.value.value).then_with(|| a.name.cmp(&b.name)));
    found
}

/// A part of a whole; zero where there is no whole.
pub(crate) fn share(part: f64, whole: f64) -> f64 {
    if whole.is_finite() && whole != 0.0 && part.is_finite() { part / whole } else { 0.0 }
}
