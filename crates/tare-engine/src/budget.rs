//! First-order uncertainty budget (JCGM 100): what each leaf's standard uncertainty does to a result.

use crate::eval::batch::{Draws, How, LANES, Lane};
use crate::graph::{Graph, NodeId};
use crate::math;
use crate::tape::Tape;

/// A leaf as a budget sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Input {
    /// The leaf.
    pub leaf: u32,
    /// Its standard uncertainty.
    pub uncertainty: f64,
    /// The degrees of freedom of that; infinite where it is taken as known.
    pub freedom: f64,
}

/// What one leaf does to the result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// The leaf.
    pub input: Input,
    /// How far the result goes while the leaf goes up by its standard uncertainty: half the difference of both sides (JCGM 100, 5.1.3 note 2).
    pub moves: f64,
    /// How far the result is from a straight line: what both sides together leave over, 0 where it is straight. Where it is as large as
    /// `moves` the leaf crosses a step or a turn, and the first order says little.
    pub bend: f64,
}

impl Part {
    /// Whether the first order says little of this leaf: it crosses a step, a corner or a turn.
    pub fn crosses(&self) -> bool {
        self.bend.abs() > 0.5 * self.moves.abs()
    }
}

/// A budget of one result.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// The result with every leaf at its mean.
    pub centre: f64,
    /// Its parts, in the order of the inputs.
    pub parts: Vec<Part>,
}

impl Budget {
    /// Moves each input up and down by its standard uncertainty, all other leaves staying at `means` (one per leaf of the graph).
    ///
    /// `None` when it was stopped from outside.
    pub fn new(graph: &Graph, means: &[f64], inputs: &[Input], result: NodeId, how: How<'_>) -> Option<Self> {
        let moves = inputs.iter().map(|input| {
            let mean = means[input.leaf as usize];
            Move { leaf: input.leaf, low: mean - input.uncertainty, high: mean + input.uncertainty }
        });
        let (centre, found) = one_at_a_time(graph, means, &moves.collect::<Vec<_>>(), result, how)?;
        let parts = inputs.iter().zip(found).map(|(input, [low, high])| Part {
            input: *input,
            moves: 0.5 * (high - low),
            bend: 0.5 * (high + low) - centre,
        });
        Some(Budget { centre, parts: parts.collect() })
    }

    /// The combined standard uncertainty; `correlation` gives that of two leaves (JCGM 100, equation 16).
    pub fn combined(&self, correlation: impl Fn(u32, u32) -> f64) -> f64 {
        let mut variance = 0.0;
        for (number, part) in self.parts.iter().enumerate() {
            variance += part.moves * part.moves;
            for other in &self.parts[..number] {
                variance += 2.0 * correlation(part.input.leaf, other.input.leaf) * part.moves * other.moves;
            }
        }
        // correlations that cancel everything may leave less than nothing by rounding
        variance.max(0.0).sqrt()
    }

    /// The effective degrees of freedom by Welch and Satterthwaite, for leaves that are independent (JCGM 100, G.4.1); infinite where
    /// all are taken as known.
    pub fn freedom(&self) -> f64 {
        let variance: f64 = self.parts.iter().map(|part| part.moves * part.moves).sum();
        variance * variance / self.parts.iter().map(|part| math::pow(part.moves, 4.0) / part.input.freedom).sum::<f64>()
    }
}

/// The factor by which a standard uncertainty is expanded to a coverage: the quantile of Student's t with the degrees of freedom cut to a
/// whole number (JCGM 100, G.4.1).
pub fn coverage_factor(freedom: f64, coverage: f64) -> f64 {
    let share = 0.5 + 0.5 * coverage;
    // with a million degrees of freedom t and normal agree to six digits
    if freedom < 1e6 { crate::sample::t_inv(share, freedom.floor().max(1.0)) } else { math::normal_inv(share) }
}

/// A leaf moved alone to either side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// The leaf.
    pub leaf: u32,
    /// Its lower value.
    pub low: f64,
    /// Its upper value.
    pub high: f64,
}

/// Gives a result with all leaves as in `centre` (one value per leaf of the graph), and for each move with its leaf low and with its leaf high.
///
/// A leaf may be moved once. `None` when it was stopped from outside.
pub fn one_at_a_time(
    graph: &Graph,
    centre: &[f64],
    moves: &[Move],
    result: NodeId,
    how: How<'_>,
) -> Option<(f64, Vec<[f64; 2]>)> {
    let mut values = Vec::new();
    crate::eval_point(graph, centre, &mut values);
    let mut random = vec![false; graph.leaves as usize];
    let mut moved = vec![None; graph.leaves as usize];
    for (number, to) in moves.iter().enumerate() {
        random[to.leaf as usize] = true;
        moved[to.leaf as usize] = Some((number as u64, [to.low, to.high]));
    }
    let tape = Tape::new(graph, &values, &random, &[result]);
    let chunks = (2 * moves.len()).div_ceil(LANES) as u64;
    let found = tape.run(&Steps { centre, moved: &moved }, 0..chunks, how)?;
    let found = found.first().map_or(&[][..], Vec::as_slice);
    Some((values[result as usize], found.chunks_exact(2).take(moves.len()).map(|sides| [sides[0], sides[1]]).collect()))
}

/// Each leaf once low and once high: draws 2k and 2k + 1 are those of move k.
struct Steps<'a> {
    centre: &'a [f64],
    moved: &'a [Option<(u64, [f64; 2])>],
}

impl Draws for Steps<'_> {
    type Scratch = ();

    #[inline(always)]
    fn fill(&self, leaf: u32, chunk: u64, lane: &mut Lane, (): &mut ()) {
        *lane = [self.centre[leaf as usize]; LANES];
        let Some((number, sides)) = self.moved[leaf as usize] else { return };
        let first = 2 * number;
        if first / LANES as u64 == chunk {
            let at = (first % LANES as u64) as usize;
            lane[at] = sides[0];
            lane[at + 1] = sides[1];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Op;

    fn input(leaf: u32, uncertainty: f64, freedom: f64) -> Input {
        Input { leaf, uncertainty, freedom }
    }

    #[test]
    fn a_sum_of_products() {
        // x y + 3 z by hand: u^2 = (5 * 0.1)^2 + (2 * 0.2)^2 + (3 * 0.3)^2
        let mut graph = Graph::default();
        let (x, y, z) = (graph.leaf(), graph.leaf(), graph.leaf());
        let three = graph.constant(3.0);
        let product = graph.push(Op::Mul, &[x, y]);
        let triple = graph.push(Op::Mul, &[three, z]);
        let sum = graph.push(Op::Add, &[product, triple]);
        let inputs = [input(0, 0.1, 4.0), input(1, 0.2, f64::INFINITY), input(2, 0.3, 9.0)];
        let budget = Budget::new(&graph, &[2.0, 5.0, 1.0], &inputs, sum, How::default()).expect("not stopped");
        assert_eq!(budget.centre, 13.0);
        let moves: Vec<f64> = budget.parts.iter().map(|p| p.moves).collect();
        for (found, due) in moves.iter().zip([0.5, 0.4, 0.9]) {
            assert!((found - due).abs() < 1e-14, "{found} {due}");
        }
        assert!((budget.combined(|_, _| 0.0) - 1.22_f64.sqrt()).abs() < 1e-14);
        // fully correlated: the moves add up
        assert!((budget.combined(|_, _| 1.0) - 1.8).abs() < 1e-14);
        let freedom = 1.22 * 1.22 / (0.5_f64.powi(4) / 4.0 + 0.9_f64.powi(4) / 9.0);
        assert!((budget.freedom() - freedom).abs() < 1e-10, "{}", budget.freedom());
        assert!(budget.parts.iter().all(|p| !p.crosses()));
    }

    #[test]
    fn more_inputs_than_one_chunk_and_a_crossed_step() {
        let mut graph = Graph::default();
        let leaves: Vec<NodeId> = (0..200).map(|_| graph.leaf()).collect();
        let mut sum = leaves[0];
        for leaf in &leaves[1..] {
            sum = graph.push(Op::Add, &[sum, *leaf]);
        }
        let step = graph.push(Op::Ceil, &[sum]);
        let inputs: Vec<Input> = (0..200).map(|leaf| input(leaf, f64::from(leaf) / 100.0, f64::INFINITY)).collect();
        let means = vec![0.01; 200];
        let budget = Budget::new(&graph, &means, &inputs, sum, How { threads: 2, ..How::default() }).expect("not stopped");
        for (number, part) in budget.parts.iter().enumerate() {
            assert!((part.moves - number as f64 / 100.0).abs() < 1e-12, "{number}: {}", part.moves);
        }
        assert!(budget.freedom().is_infinite());
        // 2 stays 2 going up to 2.5 in one step and down to 1.5
        let inputs = [input(7, 0.5, f64::INFINITY)];
        let budget = Budget::new(&graph, &means, &inputs, step, How::default()).expect("not stopped");
        assert_eq!((budget.centre, budget.parts[0].moves, budget.parts[0].crosses()), (2.0, 0.5, true));
    }

    #[test]
    fn factors_are_those_of_printed_tables() {
        // JCGM 100, table G.2
        for (freedom, coverage, printed) in
            [(16.9, 0.99, 2.92), (4.0, 0.95, 2.78), (1.0, 0.95, 12.71), (50.0, 0.95, 2.01), (f64::INFINITY, 0.95, 1.96)]
        {
            assert!((coverage_factor(freedom, coverage) - printed).abs() < 0.005, "{freedom}");
        }
    }
}
