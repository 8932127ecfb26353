//! The first-order budget of a line (JCGM 100), to stand beside its draws.

use crate::drivers::number;
use crate::sampling::Sampling;
use tare_engine::budget::{Budget, Input, Part, coverage_factor};
use tare_engine::{How, Tape};
use tare_study::{LineRef, Study};

/// The most leaves that are moved one by one; the others count with their slopes at the stated values.
const MOVED: usize = 4_096;

/// The budget of one line.
#[derive(Clone, Debug)]
pub struct FirstOrder {
    /// The line.
    pub line: LineRef,
    /// The line with every leaf at its mean, SI.
    pub centre: f64,
    /// Combined standard uncertainty, correlations included, SI.
    pub uncertainty: f64,
    /// Effective degrees of freedom; infinite where no leaf has any, not a number where leaves that move together have some (JCGM 100, G.4.1 is
    /// for independent ones).
    pub freedom: f64,
    /// Parts by how far they move the line, farthest first.
    pub parts: Vec<Part>,
    /// Leaves of small effect that were left out of the parts; their slopes are in the uncertainty.
    pub left_out: usize,
}

impl FirstOrder {
    /// The expanded uncertainty of a coverage: Student's t with the effective degrees of freedom.
    pub fn expanded(&self, coverage: f64) -> f64 {
        coverage_factor(self.freedom, coverage) * self.uncertainty
    }

    /// The leaves along which the line turns or steps most, as far as the first order cannot see them; by how much, farthest first.
    pub fn bends(&self) -> Vec<&Part> {
        let mut found: Vec<&Part> = self.parts.iter().filter(|part| part.crosses() && part.bend != 0.0).collect();
        found.sort_by(|a, b| b.bend.abs().total_cmp(&a.bend.abs()).then(a.input.leaf.cmp(&b.input.leaf)));
        found
    }
}

/// Works out the budget of a line: each leaf up and down by its standard uncertainty about the mean, all others at their means.
pub fn first_order(study: &Study, sampling: &Sampling, line: LineRef, threads: usize) -> FirstOrder {
    let lines = &study.lines;
    let node = lines.node(line);
    let tape = Tape::new(&lines.graph, &study.values, &sampling.random, &[node]);
    let slopes = study.grounds(line).drivers;
    let mut weight = vec![0.0; lines.leaves.len()];
    for driver in &slopes {
        weight[number(driver.leaf) as usize] = driver.contribution;
    }
    let mut drawn: Vec<u32> = tape.drawn().to_vec();
    drawn.sort_by(|a, b| weight[*b as usize].abs().total_cmp(&weight[*a as usize].abs()).then(a.cmp(b)));
    let left = drawn.split_off(drawn.len().min(MOVED));
    let means: Vec<f64> = lines.leaves.iter().map(|leaf| leaf.quantity.mean()).collect();
    let input = |leaf: &u32| {
        let at = &lines.leaves[*leaf as usize];
        Input { leaf: *leaf, uncertainty: at.scale(), freedom: at.freedom.unwrap_or(f64::INFINITY) }
    };
    let inputs: Vec<Input> = drawn.iter().map(input).collect();
    let how = How { threads, ..How::default() };
    let budget = Budget::new(&lines.graph, &means, &inputs, node, how).unwrap_or(Budget { centre: f64::NAN, parts: Vec::new() });
    let together = |a: u32, b: u32| sampling.sampler.correlation.as_ref().map_or(0.0, |c| c.of(a, b));
    // correlated leaves are few and are looked at pair by pair; all others add up
    let (linked, alone): (Vec<Part>, Vec<Part>) = budget
        .parts
        .iter()
        .partition(|p| sampling.sampler.correlation.as_ref().is_some_and(|c| c.leaves().contains(&p.input.leaf)));
    // the formula of Welch and Satterthwaite is for inputs that are independent
    let freedom = if linked.iter().any(|p| p.input.freedom.is_finite()) { f64::NAN } else { budget.freedom() };
    let of_linked = Budget { centre: budget.centre, parts: linked }.combined(together);
    let small: f64 = left.iter().map(|leaf| weight[*leaf as usize] * weight[*leaf as usize]).sum();
    let variance = of_linked * of_linked + alone.iter().map(|p| p.moves * p.moves).sum::<f64>() + small;
    let mut parts = budget.parts.clone();
    parts.sort_by(|a, b| b.moves.abs().total_cmp(&a.moves.abs()).then(a.input.leaf.cmp(&b.input.leaf)));
    FirstOrder { line, centre: budget.centre, uncertainty: variance.sqrt(), freedom, parts, left_out: left.len() }
}
