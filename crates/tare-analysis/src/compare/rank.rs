//! How sure the order of products is.

use crate::sampling::Sampling;
use crate::spread::{Options, Stop};
use tare_engine::{How, LANES, NodeId, Tape};
use tare_study::{LineRef, Study};

/// Ranks of products by one line, over common draws.
#[derive(Clone, Debug)]
pub struct Rank {
    /// For each product the share of draws in which it has each place, least first.
    pub places: Vec<Vec<f64>>,
    /// The draws of each product, in order of drawing.
    pub draws: Vec<Vec<f64>>,
    /// Draws in which all products had a number.
    pub counted: usize,
}

/// Draws one line of each product with the same numbers and counts places: the least is first; of equals the one named before. `None` when it was
/// stopped.
pub fn rank(study: &Study, lines: &[LineRef], options: Options, stop: Stop<'_>) -> Option<Rank> {
    let sampling = Sampling::new(study, options.seed);
    let nodes: Vec<NodeId> = lines.iter().map(|line| study.lines.node(*line)).collect();
    let tape = Tape::new(&study.lines.graph, &study.values, &sampling.random, &nodes);
    let how = How { threads: options.threads, width: options.width, stop: stop.stop, done: stop.done };
    let draws = if tape.is_empty() {
        nodes.iter().map(|node| vec![study.values[*node as usize]]).collect()
    } else {
        tape.sample(&sampling.sampler, 0..options.most.div_ceil(LANES as u64).max(1), how)?
    };
    let many = lines.len();
    let mut counts = vec![vec![0usize; many]; many];
    let mut counted = 0;
    let made = draws.iter().map(Vec::len).min().unwrap_or(0);
    let of_draw = |draw: usize| draws.iter().map(|product| product[draw]).collect::<Vec<f64>>();
    for values in (0..made).map(of_draw).filter(|values| values.iter().all(|value| value.is_finite())) {
        counted += 1;
        let mut order: Vec<usize> = (0..many).collect();
        order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
        for (place, at) in order.into_iter().enumerate() {
            counts[at][place] += 1;
        }
    }
    let share = |count: &usize| *count as f64 / counted.max(1) as f64;
    let places = counts.iter().map(|row| row.iter().map(share).collect()).collect();
    Some(Rank { places, draws, counted })
}
