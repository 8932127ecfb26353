//! Assembly time, needed parts, lines.

use crate::figure::Figure;
use serde::Serialize;
use std::collections::BTreeMap;
use tare_study::Study;

/// The times of a study.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct TimeView {
    /// Manual assembly time of one product.
    pub manual: Option<Figure>,
    /// Ideal-time share of the product.
    pub ideal_share: Option<Figure>,
    /// Assemblies.
    pub assemblies: Vec<AssemblyRow>,
    /// Lines of stations.
    pub lines: Vec<LineRow>,
}

/// One assembly.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct AssemblyRow {
    /// Label.
    pub label: String,
    /// Name.
    pub name: String,
    /// How many in the product.
    pub pieces: f64,
    /// Manual time of one.
    pub manual: Option<Figure>,
    /// The same by kind of work.
    pub by_kind: BTreeMap<&'static str, Figure>,
    /// Parts put in.
    pub parts: f64,
    /// Needed parts, where all are judged.
    pub needed: Option<f64>,
    /// Parts not judged yet.
    pub unjudged: usize,
    /// Ideal-time share.
    pub ideal_share: Option<Figure>,
    /// Recorded strip-down times.
    pub recorded: Vec<Figure>,
}

/// One line.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct LineRow {
    /// Its name.
    pub name: String,
    /// Stations.
    pub stations: Vec<StationRow>,
    /// Work per product.
    pub work: Option<Figure>,
    /// Takt.
    pub takt: Option<Figure>,
    /// Operators.
    pub operators: Option<Figure>,
    /// Paid time per product.
    pub paid: Option<Figure>,
}

/// One station.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct StationRow {
    /// Its name.
    pub name: String,
    /// Its cycle.
    pub cycle: Figure,
}

/// The times of a compiled study.
pub fn time(study: &Study) -> TimeView {
    let figure = |line| Figure::new(study, line, 4);
    let assemblies = study.assemblies.iter().filter_map(|a| {
        let part = study.parts.get(a.part)?;
        Some(AssemblyRow {
            label: part.label.clone(),
            name: part.name.clone(),
            pieces: a.pieces,
            manual: a.manual.map(figure),
            by_kind: a.by_kind.iter().map(|(k, l)| (k.word(), figure(*l))).collect(),
            parts: a.parts,
            needed: a.needed,
            unjudged: a.unjudged,
            ideal_share: a.ideal_share.map(figure),
            recorded: a.recorded.iter().copied().map(figure).collect(),
        })
    });
    let lines = study.line_balances.iter().map(|l| LineRow {
        name: l.name.clone(),
        stations: l.stations.iter().map(|(name, cycle)| StationRow { name: name.clone(), cycle: figure(*cycle) }).collect(),
        work: l.work.map(figure),
        takt: l.takt.map(figure),
        operators: l.operators.map(figure),
        paid: l.paid.map(figure),
    });
    TimeView {
        manual: study.totals.manual.map(figure),
        ideal_share: study.totals.ideal_share.map(figure),
        assemblies: assemblies.collect(),
        lines: lines.collect(),
    }
}
