//! How much ideas are worth, with range: every variant drawn with the same numbers.

use super::lines::Changes;
use crate::sampling::Sampling;
use crate::spread::{Options, Stop, spread};
use tare_engine::stats::Sample;
use tare_study::LineRef;

/// What the draws say of one idea.
#[derive(Clone, Debug)]
pub struct Worth {
    /// Net saving of a product.
    pub net_saving: Sample,
    /// Saving of a product before the one-off cost.
    pub saving: Sample,
    /// Change of mass.
    pub mass: Option<Sample>,
    /// Change of manual seconds.
    pub seconds: Option<Sample>,
    /// The share of draws in which something is left when the one-off cost is paid.
    pub chance: f64,
}

/// Draws what the variants change; `None` when it was stopped. One entry for each variant, none where its cost is not known.
pub fn worth(changes: &Changes, options: Options, stop: Stop<'_>) -> Option<Vec<Option<Worth>>> {
    let sampling = Sampling::new(&changes.study, options.seed);
    let mut watched: Vec<LineRef> = Vec::new();
    for idea in changes.ideas.iter().filter_map(|idea| idea.as_ref().ok()) {
        watched.extend([idea.net_saving, idea.saving]);
        watched.extend(idea.mass);
        watched.extend(idea.seconds);
    }
    if watched.is_empty() {
        return Some(changes.ideas.iter().map(|_| None).collect());
    }
    let found = spread(&changes.study, &sampling, &watched, options, stop)?;
    let mut draws = found.ranged.into_iter().map(|ranged| ranged.draws);
    let mut next = || draws.next();
    let each = changes.ideas.iter().map(|idea| {
        let idea = idea.as_ref().ok()?;
        let (net_saving, saving) = (next()?, next()?);
        let mass = idea.mass.and_then(|_| next());
        let seconds = idea.seconds.and_then(|_| next());
        let chance = net_saving.share_above(0.0);
        if net_saving.count() == 0 {
            return None;
        }
        Some(Worth { net_saving, saving, mass, seconds, chance })
    });
    Some(each.collect())
}
