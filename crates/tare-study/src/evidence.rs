//! What a result rests on: shares of evidence by elasticity, the weakest links, first-order uncertainty.

use crate::lines::{Evidence, LineRef, Lines};
use crate::study::Study;

/// How much of a result's relative change one leaf carries, and how much of its variance.
#[derive(Clone, Debug)]
pub struct Driver {
    /// The leaf.
    pub leaf: LineRef,
    /// Elasticity: relative change of the result per relative change of the leaf.
    pub elasticity: f64,
    /// Contribution to the standard uncertainty of the result, in its SI unit (first order).
    pub contribution: f64,
}

/// What a result rests on.
#[derive(Clone, Debug)]
pub struct Grounds {
    /// Share of the sum of absolute elasticities by class of evidence, strongest first; they add up to one.
    pub shares: Vec<(Evidence, f64)>,
    /// Leaves by absolute contribution to the uncertainty, largest first; those without any are left out.
    pub drivers: Vec<Driver>,
    /// Standard uncertainty, first order (JCGM 100, 5.1.2): shared leaves counted as one, stated correlations counted in. Not a number where it is not
    /// known; [`Grounds::unknown`] then says which leaves are why.
    pub standard_uncertainty: f64,
    /// Leaves with a spread along which the result has no finite slope at the stated values (a root at nothing, a division by nothing):
    /// first order says nothing about them. They are in no share and no driver.
    pub unknown: Vec<LineRef>,
}

impl Study {
    /// What a result rests on. Slopes are taken at the stated values; steps (whole tool sets, machine classes) count as flat,
    /// so that a result near a step can be less certain than this says.
    pub fn grounds(&self, result: LineRef) -> Grounds {
        let mut grounds = self.lines.grounds(&self.values, result);
        grounds.standard_uncertainty = self.with_correlations(&grounds);
        grounds
    }

    /// The standard uncertainty with what leaves do together (JCGM 100, equation 16).
    fn with_correlations(&self, grounds: &Grounds) -> f64 {
        let alone = grounds.standard_uncertainty;
        if self.correlated.is_empty() {
            return alone;
        }
        let linked = self.correlated.iter().flat_map(|c| &c.leaves).map(|leaf| LineRef::Leaf(*leaf));
        let mut of: std::collections::HashMap<LineRef, f64> = linked.map(|leaf| (leaf, 0.0)).collect();
        for driver in &grounds.drivers {
            if let Some(known) = of.get_mut(&driver.leaf) {
                *known = driver.contribution;
            }
        }
        let pairs = self.correlated.iter().flat_map(crate::Correlated::pairs);
        let both: f64 = pairs.map(|(a, b, r)| 2.0 * r * of[&LineRef::Leaf(a)] * of[&LineRef::Leaf(b)]).sum();
        // rounding may leave less than nothing where correlations cancel
        (alone * alone + both).max(0.0).sqrt()
    }

    /// Standard uncertainty of a line, first order; not a number where it is not known.
    pub fn standard_uncertainty(&self, line: LineRef) -> f64 {
        self.grounds(line).standard_uncertainty
    }

    /// Why the uncertainty of a line is not known, in words that name the leaves; nothing where it is known.
    pub fn why_unknown(&self, line: LineRef) -> Option<String> {
        let leaves: Vec<String> = self.grounds(line).unknown.iter().map(|l| self.lines.address(*l)).collect();
        (!leaves.is_empty()).then(|| format!("not known: no finite slope along {}", leaves.join(", ")))
    }
}

impl Lines {
    /// As [`Study::grounds`], from the values of all nodes.
    pub(crate) fn grounds(&self, values: &[f64], result: LineRef) -> Grounds {
        let node = self.node(result);
        let slopes = tare_engine::sensitivities(&self.graph, values, node);
        let value = values[node as usize];
        let mut by_class = [0.0; Evidence::ALL.len()];
        let (mut drivers, mut unknown, mut variance) = (Vec::new(), Vec::new(), 0.0);
        for (number, (leaf, slope)) in self.leaves.iter().zip(&slopes).enumerate() {
            let u = leaf.quantity.standard_uncertainty();
            if *slope == 0.0 {
                continue;
            }
            if !slope.is_finite() {
                // An exact leaf cannot move, however steep the result is along it.
                if u != 0.0 {
                    unknown.push(LineRef::Leaf(number as u32));
                }
                continue;
            }
            let elasticity = if value == 0.0 { 0.0 } else { slope * at_stake(leaf) / value };
            let contribution = slope * u;
            // What holds by definition (one good piece leaves the last step) cannot change, so that no share rests on it.
            if !leaf.source.starts_with("definition") {
                by_class[leaf.evidence as usize] += elasticity.abs();
            }
            variance += contribution * contribution;
            drivers.push(Driver { leaf: LineRef::Leaf(number as u32), elasticity, contribution });
        }
        let all: f64 = by_class.iter().sum();
        let shares = Evidence::ALL.iter().map(|e| (*e, if all > 0.0 { by_class[*e as usize] / all } else { 0.0 })).collect();
        drivers.retain(|d| d.contribution != 0.0);
        drivers.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()).then(a.leaf.cmp(&b.leaf)));
        let standard_uncertainty = if unknown.is_empty() { variance.sqrt() } else { f64::NAN };
        Grounds { shares, drivers, standard_uncertainty, unknown }
    }
}

/// What of a leaf may change by so many per cent: all of it; of a yield, which is a share of one, the loss. Otherwise a dozen stations that
/// reject one piece in a thousand would outweigh everything that is paid.
fn at_stake(leaf: &crate::lines::Leaf) -> f64 {
    if leaf.name == "yield" { leaf.quantity.value - 1.0 } else { leaf.quantity.value }
}
