//! The operations of a tape on all draws of a chunk.

use super::ahead::Ahead;
use super::batch::{Draws, LANES, Lane, Width};
use super::rows::{find, pick};
use crate::math;
use crate::op::Op;
use crate::tape::{OUT, SCALAR, Step, Tape, Then};

/// Where the results of one chunk go.
pub(super) struct Out<'o, 'r> {
    pub(super) results: &'o mut [&'r mut [f64]],
    pub(super) start: usize,
}

/// Which chunk is worked on.
#[derive(Clone, Copy)]
pub(super) struct Chunk {
    pub(super) number: u64,
    /// The one that this thread works on after it, as far as that is known.
    pub(super) next: Option<u64>,
}

impl Out<'_, '_> {
    #[inline(always)]
    fn lane(&mut self, result: u32) -> &mut Lane {
        let lane = self.results[result as usize][self.start..].first_chunk_mut();
        lane.expect("bug: results hold whole chunks")
    }

    fn lanes(&self) -> impl Iterator<Item = &Lane> {
        self.results.iter().filter_map(|result| result[self.start..].first_chunk())
    }
}

/// A lane that starts where vectors of the greatest width may: elsewhere each read and write of one touches two lines of the cache.
#[repr(align(64))]
struct Register(Lane);

impl Register {
    fn new() -> Box<Self> {
        Box::new(Register([0.0; LANES]))
    }
}

/// What a register holds: a lane of its own or, for a leaf drawn before, one that lies elsewhere.
struct Held<'d> {
    own: Box<Register>,
    lent: Option<&'d Lane>,
}

impl<'d> Held<'d> {
    fn new() -> Self {
        Held { own: Register::new(), lent: None }
    }

    #[inline(always)]
    fn lane(&self) -> &Lane {
        self.lent.unwrap_or(&self.own.0)
    }

    /// Takes in what was written aside, and gives its own lane to be written next.
    #[inline(always)]
    fn take(&mut self, spare: &mut Box<Register>) {
        std::mem::swap(&mut self.own, spare);
        self.lent = None;
    }
}

/// The registers of one thread.
pub(super) struct Worker<'d> {
    registers: Vec<Held<'d>>,
    /// Results are written here and swapped in, so that a register may be read and written by one step.
    spare: Box<Register>,
    ahead: Ahead,
}

impl<'d> Worker<'d> {
    pub(super) fn new(tape: &Tape) -> Self {
        let registers = (0..tape.registers).map(|_| Held::new()).collect();
        Worker { registers, spare: Register::new(), ahead: Ahead::default() }
    }

    #[expect(unsafe_code, reason = "instructions that were detected may be used; the compiler cannot see the detection")]
    pub(super) fn chunk<D: Draws>(
        &mut self,
        tape: &Tape,
        draws: &'d D,
        scratch: &mut D::Scratch,
        chunk: Chunk,
        width: Width,
        out: &mut Out<'_, '_>,
    ) {
        match width {
            #[cfg(target_arch = "x86_64")]
            // SAFETY: `run_into` takes no wider instructions than `Width::found` detected
            Width::Most => unsafe { chunk_most(self, tape, draws, scratch, chunk, out) },
            #[cfg(target_arch = "x86_64")]
            // SAFETY: as above
            Width::Middle => unsafe { chunk_middle(self, tape, draws, scratch, chunk, out) },
            _ => chunk_any(self, tape, draws, scratch, chunk, out),
        }
    }
}

/// The work on a chunk, compiled for more instructions than every machine has.
macro_rules! compiled_for {
    ($name:ident, $instructions:literal) => {
        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = $instructions)]
        fn $name<'d, D: Draws>(
            worker: &mut Worker<'d>,
            tape: &Tape,
            draws: &'d D,
            scratch: &mut D::Scratch,
            chunk: Chunk,
            out: &mut Out<'_, '_>,
        ) {
            chunk_any(worker, tape, draws, scratch, chunk, out);
        }
    };
}

compiled_for!(chunk_most, "avx512f,avx512dq,avx512vl,avx512bw");
compiled_for!(chunk_middle, "avx2");

/// Reads operands: a register, or one number for all draws.
pub(super) struct Read<'w> {
    registers: &'w [Held<'w>],
    scalars: &'w [f64],
}

impl<'w> Read<'w> {
    #[inline(always)]
    pub(super) fn lane(&self, packed: u32) -> Option<&'w Lane> {
        if packed & SCALAR == 0 { Some(self.registers[packed as usize].lane()) } else { None }
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
fn chunk_any<'d, D: Draws>(
    worker: &mut Worker<'d>,
    tape: &Tape,
    draws: &'d D,
    scratch: &mut D::Scratch,
    chunk: Chunk,
    out: &mut Out<'_, '_>,
) {
    let Worker { registers, spare, ahead } = worker;
    let mut due = ahead.plan(tape, draws, chunk.next, out.lanes());
    for (at, step) in (0..).zip(&tape.steps) {
        due.fetch(at, |register| registers[register as usize].lane());
        let read = Read { registers, scalars: &tape.scalars };
        let to = if step.to & OUT == 0 { &mut spare.0 } else { out.lane(step.to & !OUT) };
        match step.op {
            Op::Leaf => match draws.ready(step.a, chunk.number) {
                Some(lane) => {
                    registers[step.to as usize].lent = Some(lane);
                    continue;
                }
                None => draws.fill(step.a, chunk.number, to, scratch),
            },
            Op::Const => {
                *out.lane(step.b) = *registers[step.a as usize].lane();
                continue;
            }
            Op::Pick => pick(&read, step, &tape.lists, to),
            Op::Find => find(&read, &tape.searches[step.a as usize], &tape.lists[step.list()], to),
            op if op < Op::Add => one(&read, op, step.a, to),
            Op::If => choose(&read, step, to),
            Op::BetaInv => {
                for (draw, to) in to.iter_mut().enumerate() {
                    *to = math::beta_inv(read.at(step.a, draw), read.at(step.b, draw), read.at(step.c, draw));
                }
            }
            op => match step.then {
                Some(then) => two_then(&read, step, then, to),
                None => two(&read, op, step.a, step.b, to),
            },
        }
        if step.to & OUT == 0 {
            registers[step.to as usize].take(spare);
        }
    }
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
        Op::Exp => math::exp_each(a, to),
        Op::Ln => math::ln_each(a, to),
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
        Op::Pow => power(read, a, b, to),
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

/// An operation on two operands, of which at least one is a register, and a second one on its value.
#[inline(always)]
fn two_then(read: &Read<'_>, step: &Step, then: Then, to: &mut Lane) {
    macro_rules! each {
        ($of:expr, $then:expr) => {
            match (read.lane(step.a), read.lane(step.b), read.lane(step.c)) {
                (Some(a), Some(b), Some(c)) => each!(to, i, $then($of(a[i], b[i]), c[i])),
                (Some(a), Some(b), None) => {
                    let c = read.scalar(step.c);
                    each!(to, i, $then($of(a[i], b[i]), c));
                }
                (Some(a), None, Some(c)) => {
                    let b = read.scalar(step.b);
                    each!(to, i, $then($of(a[i], b), c[i]));
                }
                (Some(a), None, None) => {
                    let (b, c) = (read.scalar(step.b), read.scalar(step.c));
                    each!(to, i, $then($of(a[i], b), c));
                }
                (None, Some(b), Some(c)) => {
                    let a = read.scalar(step.a);
                    each!(to, i, $then($of(a, b[i]), c[i]));
                }
                (None, Some(b), None) => {
                    let (a, c) = (read.scalar(step.a), read.scalar(step.c));
                    each!(to, i, $then($of(a, b[i]), c));
                }
                (None, None, _) => {}
            }
        };
        ($to:ident, $i:ident, $value:expr) => {
            for $i in 0..LANES {
                $to[$i] = $value;
            }
        };
    }
    macro_rules! then {
        ($of:expr) => {
            match then {
                Then::Add => each!($of, |x: f64, c: f64| x + c),
                Then::Sub => each!($of, |x: f64, c: f64| x - c),
                Then::SubFrom => each!($of, |x: f64, c: f64| c - x),
                Then::Mul => each!($of, |x: f64, c: f64| x * c),
                Then::Div => each!($of, |x: f64, c: f64| x / c),
                Then::DivInto => each!($of, |x: f64, c: f64| c / x),
            }
        };
    }
    match step.op {
        Op::Add => then!(|a: f64, b: f64| a + b),
        Op::Sub => then!(|a: f64, b: f64| a - b),
        Op::Mul => then!(|a: f64, b: f64| a * b),
        Op::Div => then!(|a: f64, b: f64| a / b),
        _ => {}
    }
}

#[inline(always)]
fn power(read: &Read<'_>, a: u32, b: u32, to: &mut Lane) {
    let mut room = [0.0; LANES];
    match (read.lane(a), read.lane(b)) {
        (Some(a), None) => math::pow_each_to(a, read.scalar(b), to),
        (Some(a), Some(b)) => math::pow_each(a, b, to),
        (None, b) => {
            let Some(b) = b else { return };
            math::pow_each(read.spread(a, &mut room), b, to);
        }
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
