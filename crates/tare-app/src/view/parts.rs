//! The indented parts list.

use crate::figure::Figure;
use serde::Serialize;
use tare_study::Study;

/// The parts list of a study.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct PartsView {
    /// Parts, depth-first.
    pub parts: Vec<PartRow>,
    /// How many lines.
    pub lines: usize,
    /// How many distinct items.
    pub items: usize,
    /// How many pieces sit in the product, assemblies not counted.
    pub pieces: f64,
}

/// One part.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct PartRow {
    /// Its label.
    pub label: String,
    /// Depth, 0 for the product.
    pub level: usize,
    /// Name of the item.
    pub name: String,
    /// How many in the part above.
    pub count: f64,
    /// How many in the product.
    pub pieces: f64,
    /// Material.
    pub material: String,
    /// make, buy or consigned.
    pub make: String,
    /// Making steps.
    pub processes: Vec<String>,
    /// Mass of one piece.
    pub mass: Option<Figure>,
    /// Cost of one piece, children included.
    pub cost: Option<Figure>,
}

/// The parts of a compiled study.
pub fn parts(study: &Study) -> PartsView {
    let row = |p: &tare_study::PartRow| PartRow {
        label: p.label.clone(),
        level: p.level,
        name: p.name.clone(),
        count: p.count,
        pieces: p.pieces,
        material: p.material.clone(),
        make: p.make.clone(),
        processes: p.processes.clone(),
        mass: p.mass.map(|m| Figure::new(study, m, 4)),
        cost: p.cost.map(|c| Figure::new(study, c, 4)),
    };
    let mut items: Vec<_> = study.parts.iter().map(|p| p.item).collect();
    items.sort();
    items.dedup();
    let is_leaf = |at: usize| study.parts[at].described_at.is_none() && !study.parts.iter().any(|p| p.parent == Some(at));
    let pieces = study.parts.iter().enumerate().filter(|(i, _)| is_leaf(*i)).map(|(_, p)| p.pieces).sum();
    PartsView { parts: study.parts.iter().map(row).collect(), lines: study.parts.len(), items: items.len(), pieces }
}
