//! Evaluation of a tape over many draws at once, bit for bit as the point evaluator would give each.

use super::lanes::{Chunk, Out, Worker};
use crate::tape::Tape;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};

/// Draws that are worked on together.
pub const LANES: usize = 128;

/// One value for each draw of a chunk.
pub type Lane = [f64; LANES];

/// Gives the values of leaves for each draw.
pub trait Draws: Sync {
    /// What several leaves of a chunk have in common, kept for each thread; `()` where there is nothing.
    type Scratch: Default;

    /// The values of a leaf for the draws `chunk * LANES ..` where they lie ready, to be read there; `fill` is asked for others. It is asked a chunk
    /// ahead too, for the memory to be fetched meanwhile, and always answers the same.
    #[inline(always)]
    fn ready(&self, leaf: u32, chunk: u64) -> Option<&Lane> {
        let _ = (leaf, chunk);
        None
    }

    /// Fills in the values of a leaf for the draws `chunk * LANES ..`.
    fn fill(&self, leaf: u32, chunk: u64, lane: &mut Lane, scratch: &mut Self::Scratch);
}

/// How wide the machine's vector instructions are taken. All give the same bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Width {
    /// What every machine of the kind has.
    Least,
    /// 256 bits (AVX2).
    Middle,
    /// 512 bits (AVX-512 F, DQ, VL, BW).
    Most,
}

impl Width {
    /// The widest this machine has.
    pub fn found() -> Self {
        #[cfg(target_arch = "x86_64")]
        {
            let most = is_x86_feature_detected!("avx512f")
                && is_x86_feature_detected!("avx512dq")
                && is_x86_feature_detected!("avx512vl")
                && is_x86_feature_detected!("avx512bw");
            if most {
                return Width::Most;
            }
            if is_x86_feature_detected!("avx2") {
                return Width::Middle;
            }
        }
        Width::Least
    }
}

/// How a run is carried out; nothing of it changes the bits.
#[derive(Clone, Copy, Debug)]
pub struct How<'a> {
    /// Threads; at least one is used.
    pub threads: usize,
    /// Vector instructions; no wider than the machine has.
    pub width: Width,
    /// Set from outside to stop early.
    pub stop: Option<&'a AtomicBool>,
    /// Counts chunks as they are done.
    pub done: Option<&'a AtomicU64>,
}

impl Default for How<'_> {
    fn default() -> Self {
        How { threads: 1, width: Width::found(), stop: None, done: None }
    }
}

impl Tape {
    /// Evaluates chunks of draws; gives, per result, one value per draw in order. `None` when it was stopped from outside.
    pub fn run<D: Draws>(&self, draws: &D, chunks: Range<u64>, how: How<'_>) -> Option<Vec<Vec<f64>>> {
        let mut results = Vec::new();
        self.run_into(draws, chunks, how, &mut results).then_some(results)
    }

    /// As [`Tape::run`], into arrays that are used again: they are made to fit, and new memory is asked for only where they are too small, which
    /// over many draws costs as much time as thirty operations. Tells whether it went through; where it was stopped from outside, what the arrays
    /// hold means nothing.
    pub fn run_into<D: Draws>(&self, draws: &D, chunks: Range<u64>, how: How<'_>, results: &mut Vec<Vec<f64>>) -> bool {
        let count = usize::try_from(chunks.end.saturating_sub(chunks.start)).unwrap_or(usize::MAX);
        results.resize_with(self.results(), Vec::new);
        for result in results.iter_mut() {
            fit(result, count.saturating_mul(LANES));
        }
        let threads = how.threads.clamp(1, count.max(1));
        let width = how.width.min(Width::found());
        let open = Mutex::new(Open { chunks, block: count.div_ceil(threads * 8).clamp(1, 64), results: slices(results) });
        let stopped = || how.stop.is_some_and(|stop| stop.load(Ordering::Relaxed));
        let work = || {
            let mut worker = Worker::new(self);
            let mut scratch = D::Scratch::default();
            while let Some(mut block) = take(&open) {
                for (result, fixed) in block.results.iter_mut().zip(&self.fixed) {
                    if let Some(value) = fixed {
                        result.fill(*value);
                    }
                }
                let end = block.chunks.end;
                for (place, number) in block.chunks.enumerate() {
                    if stopped() {
                        return false;
                    }
                    let chunk = Chunk { number, next: Some(number + 1).filter(|next| *next < end) };
                    let mut out = Out { results: &mut block.results, start: place * LANES };
                    worker.chunk(self, draws, &mut scratch, chunk, width, &mut out);
                    if let Some(done) = how.done {
                        done.fetch_add(1, Ordering::Relaxed);
                    }
                }
            }
            true
        };
        if threads == 1 {
            return work();
        }
        std::thread::scope(|scope| {
            let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
            let mut through = work();
            for other in others {
                // a thread that panicked found a bug; it goes on here
                through &= other.join().unwrap_or_else(|bug| std::panic::resume_unwind(bug));
            }
            through
        })
    }
}

/// Makes an array as long as asked; what it holds does not matter.
fn fit(values: &mut Vec<f64>, length: usize) {
    if values.capacity() < length {
        // zeros that are asked for as such come from the system untouched: the thread that writes first brings them in
        *values = vec![0.0; length];
    } else {
        values.resize(length, 0.0);
    }
}

fn slices(results: &mut [Vec<f64>]) -> Vec<&mut [f64]> {
    results.iter_mut().map(Vec::as_mut_slice).collect()
}

/// Chunks that nobody has begun, and where their results go.
struct Open<'r> {
    chunks: Range<u64>,
    /// How many are handed out together.
    block: usize,
    results: Vec<&'r mut [f64]>,
}

/// The next chunks.
fn take<'r>(open: &Mutex<Open<'r>>) -> Option<Open<'r>> {
    // what a thread that panicked left behind is whole: nothing in here panics half way
    let mut open = open.lock().unwrap_or_else(PoisonError::into_inner);
    let start = open.chunks.start;
    let end = open.chunks.end.min(start.saturating_add(open.block as u64));
    if start >= end {
        return None;
    }
    open.chunks.start = end;
    let length = (end - start) as usize * LANES;
    let results = open.results.iter_mut().filter_map(|rest| rest.split_off_mut(..length)).collect();
    Some(Open { chunks: start..end, block: open.block, results })
}
