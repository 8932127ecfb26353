//! Evaluation of a tape over many draws at once, bit for bit as the point evaluator would give each.

use super::rows::{find, pick};
use crate::math;
use crate::op::Op;
use crate::tape::{SCALAR, Step, Tape};
use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Draws that are worked on together.
pub const LANES: usize = 128;

/// One value for each draw of a chunk.
pub type Lane = [f64; LANES];

/// Gives the values of leaves for each draw.
pub trait Draws: Sync {
    /// Fills in the values of a leaf for the draws `chunk * LANES ..`.
    fn fill(&self, leaf: u32, chunk: u64, lane: &mut Lane);
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
        let count = chunks.end.saturating_sub(chunks.start);
        let threads = how.threads.clamp(1, usize::try_from(count.max(1)).unwrap_or(usize::MAX));
        let width = how.width.min(Width::found());
        let next = AtomicU64::new(chunks.start);
        let stopped = || how.stop.is_some_and(|stop| stop.load(Ordering::Relaxed));
        let work = || {
            let mut worker = Worker::new(self);
            let mut found: Vec<(u64, Vec<Lane>)> = Vec::new();
            while !stopped() {
                let chunk = next.fetch_add(1, Ordering::Relaxed);
                if chunk >= chunks.end {
                    break;
                }
                let mut out = vec![[0.0; LANES]; self.results()];
                worker.chunk(self, draws, chunk, width, &mut out);
                found.push((chunk, out));
                if let Some(done) = how.done {
                    done.fetch_add(1, Ordering::Relaxed);
                }
            }
            found
        };
        let mut found: Vec<(u64, Vec<Lane>)> = if threads == 1 {
            work()
        } else {
            std::thread::scope(|scope| {
                let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
                let mut all = work();
                // a thread that panicked found a bug; it goes on here
                all.extend(others.into_iter().flat_map(|t| t.join().unwrap_or_else(|bug| std::panic::resume_unwind(bug))));
                all
            })
        };
        if found.len() as u64 != count {
            return None;
        }
        found.sort_by_key(|(chunk, _)| *chunk);
        let mut results: Vec<Vec<f64>> = vec![Vec::with_capacity(found.len() * LANES); self.results()];
        for (_, lanes) in &found {
            for (result, lane) in results.iter_mut().zip(lanes) {
                result.extend_from_slice(lane);
            }
        }
        Some(results)
    }
}

/// The registers of one thread.
struct Worker {
    #[expect(clippy::vec_box, reason = "registers are swapped with the spare one, which must not copy them")]
    registers: Vec<Box<Lane>>,
    /// Results are written here and swapped in, so that a register may be read and written by one step.
    spare: Box<Lane>,
}

impl Worker {
    fn new(tape: &Tape) -> Self {
        Worker { registers: (0..tape.registers).map(|_| Box::new([0.0; LANES])).collect(), spare: Box::new([0.0; LANES]) }
    }

    #[expect(unsafe_code, reason = "instructions that were detected may be used; the compiler cannot see the detection")]
    fn chunk<D: Draws>(&mut self, tape: &Tape, draws: &D, chunk: u64, width: Width, out: &mut [Lane]) {
        match width {
            #[cfg(target_arch = "x86_64")]
            // SAFETY: `run` takes no wider instructions than `Width::found` detected
            Width::Most => unsafe { chunk_most(self, tape, draws, chunk, out) },
            #[cfg(target_arch = "x86_64")]
            // SAFETY: as above
            Width::Middle => unsafe { chunk_middle(self, tape, draws, chunk, out) },
            _ => chunk_any(self, tape, draws, chunk, out),
        }
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl,avx512bw")]
fn chunk_most<D: Draws>(worker: &mut Worker, tape: &Tape, draws: &D, chunk: u64, out: &mut [Lane]) {
    chunk_any(worker, tape, draws, chunk, out);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn chunk_middle<D: Draws>(worker: &mut Worker, tape: &Tape, draws: &D, chunk: u64, out: &mut [Lane]) {
    chunk_any(worker, tape, draws, chunk, out);
}

/// Reads operands: a register, or one number for all draws.
pub(super) struct Read<'w> {
    registers: &'w [Box<Lane>],
    scalars: &'w [f64],
}

impl<'w> Read<'w> {
    #[inline(always)]
    pub(super) fn lane(&self, packed: u32) -> Option<&'w Lane> {
        if packed & SCALAR == 0 { Some(&self.registers[packed as usize]) } else { None }
    }

    #[inline(always)]
    pub(super) fn scalar(&self, packed: u32) -> f64 {
        self.scalars[(packed & !SCALAR) as usize]
    }

    /// The value of any operand in one draw.
    #[inline(always)]
    pub(super) fn at(&self, packed: u32, draw: usize) -> f64 {
        match self.lane(packed) {
            Some(lane) => lane[draw],
            None => self.scalar(packed),
        }
    }

    /// An operand as a lane; one number is spread out into `room`.
    #[inline(always)]
    pub(super) fn spread<'a>(&'a self, packed: u32, room: &'a mut Lane) -> &'a Lane {
        match self.lane(packed) {
            Some(lane) => lane,
            None => {
                *room = [self.scalar(packed); LANES];
                room
            }
        }
    }
}

#[inline(always)]
fn chunk_any<D: Draws>(worker: &mut Worker, tape: &Tape, draws: &D, chunk: u64, out: &mut [Lane]) {
    for (lane, fixed) in out.iter_mut().zip(&tape.fixed) {
        if let Some(value) = fixed {
            *lane = [*value; LANES];
        }
    }
    for step in &tape.steps {
        let read = Read { registers: &worker.registers, scalars: &tape.scalars };
        let to = &mut *worker.spare;
        match step.op {
            Op::Leaf => draws.fill(step.a, chunk, to),
            Op::Const => {
                out[step.b as usize] = *worker.registers[step.a as usize];
                continue;
            }
            Op::Pick => pick(&read, step, &tape.lists, to),
            Op::Find => find(&read, &tape.searches[step.a as usize], &tape.lists[needs(step)], to),
            op if op < Op::Add => one(&read, op, step.a, to),
            Op::If => choose(&read, step, to),
            Op::BetaInv => {
                for (draw, to) in to.iter_mut().enumerate() {
                    *to = math::beta_inv(read.at(step.a, draw), read.at(step.b, draw), read.at(step.c, draw));
                }
            }
            op => two(&read, op, step.a, step.b, to),
        }
        std::mem::swap(&mut worker.registers[step.to as usize], &mut worker.spare);
    }
}

pub(super) fn needs(step: &Step) -> Range<usize> {
    step.b as usize..(step.b + step.c) as usize
}

/// Operators of one operand, which is always a register: one number was worked out before.
#[inline(always)]
fn one(read: &Read<'_>, op: Op, a: u32, to: &mut Lane) {
    let Some(a) = read.lane(a) else { return };
    macro_rules! each {
        ($of:expr) => {
            for (to, a) in to.iter_mut().zip(a) {
                *to = $of(*a);
            }
        };
    }
    match op {
        Op::Neg => each!(|a: f64| -a),
        Op::Abs => each!(f64::abs),
        Op::Sqrt => each!(f64::sqrt),
        Op::Exp => each!(math::exp),
        Op::Ln => each!(math::ln),
        Op::Log10 => each!(math::log10),
        Op::Floor => each!(math::floor),
        Op::Ceil => each!(math::ceil),
        Op::Round => each!(math::round),
        Op::Sin => each!(math::sin),
        Op::Cos => each!(math::cos),
        Op::Tan => each!(math::tan),
        Op::Asin => each!(math::asin),
        Op::Acos => each!(math::acos),
        Op::Atan => each!(math::atan),
        Op::Not => each!(math::not),
        Op::NormalInv => each!(math::normal_inv),
        _ => {}
    }
}

/// Operators of two operands, of which at least one is a register.
#[inline(always)]
fn two(read: &Read<'_>, op: Op, a: u32, b: u32, to: &mut Lane) {
    macro_rules! each {
        ($of:expr) => {
            match (read.lane(a), read.lane(b)) {
                (Some(a), Some(b)) => {
                    for i in 0..LANES {
                        to[i] = $of(a[i], b[i]);
                    }
                }
                (Some(a), None) => {
                    let b = read.scalar(b);
                    for i in 0..LANES {
                        to[i] = $of(a[i], b);
                    }
                }
                (None, b) => {
                    let a = read.scalar(a);
                    let Some(b) = b else { return };
                    for i in 0..LANES {
                        to[i] = $of(a, b[i]);
                    }
                }
            }
        };
    }
    match op {
        Op::Add => each!(|a: f64, b: f64| a + b),
        Op::Sub => each!(|a: f64, b: f64| a - b),
        Op::Mul => each!(|a: f64, b: f64| a * b),
        Op::Div => each!(|a: f64, b: f64| a / b),
        Op::Pow => each!(math::pow),
        Op::Min => each!(math::min),
        Op::Max => each!(math::max),
        Op::Lt => each!(|a: f64, b: f64| math::truth(a < b, a, b)),
        Op::Le => each!(|a: f64, b: f64| math::truth(a <= b, a, b)),
        Op::Gt => each!(|a: f64, b: f64| math::truth(a > b, a, b)),
        Op::Ge => each!(|a: f64, b: f64| math::truth(a >= b, a, b)),
        Op::Eq => each!(|a: f64, b: f64| math::truth(a == b, a, b)),
        Op::Ne => each!(|a: f64, b: f64| math::truth(a != b, a, b)),
        Op::And => each!(math::and),
        Op::Or => each!(math::or),
        _ => {}
    }
}

/// Both sides were worked out; the condition is a register, since one that no draw changes was followed before.
#[inline(always)]
fn choose(read: &Read<'_>, step: &Step, to: &mut Lane) {
    let Some(a) = read.lane(step.a) else { return };
    let (mut then, mut other) = ([0.0; LANES], [0.0; LANES]);
    let (b, c) = (read.spread(step.b, &mut then), read.spread(step.c, &mut other));
    for i in 0..LANES {
        to[i] = math::choose(a[i], b[i], c[i]);
    }
}
