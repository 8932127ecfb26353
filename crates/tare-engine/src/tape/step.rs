//! The steps of a tape.

use crate::math::Match;
use crate::op::Op;
use std::ops::Range;
use std::sync::Arc;

/// The bit that tells a number that no draw changes from a register.
pub(crate) const SCALAR: u32 = 1 << 31;

/// The bit that tells the number of a result, written where it is wanted, from a register.
pub(crate) const OUT: u32 = 1 << 31;

/// One operation on registers and unchanging numbers.
///
/// Operands are packed: a register, or with the top bit a position in the tape's scalars. A leaf draws leaf number `a`; a constant stands
/// for handing register `a` out as result `b`; a pick chooses from the list `b .. b + c` by `a`; a find holds the list `b .. b + c` of needs
/// against search `a`. A sum, difference, product or quotient of `a` and `b` may go on with `c` at once.
/// What it gives goes to register `to`, or to the result that [`OUT`] marks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    pub(crate) op: Op,
    pub(crate) then: Option<Then>,
    pub(crate) to: u32,
    pub(crate) a: u32,
    pub(crate) b: u32,
    pub(crate) c: u32,
}

impl Step {
    /// Where the list of a pick or a find is.
    #[inline(always)]
    pub(crate) fn list(&self) -> Range<usize> {
        self.b as usize..(self.b + self.c) as usize
    }
}

/// What happens to a value that only the next step reads, without its being put down in between: on whole chunks plain arithmetic takes no longer than
/// reading and writing its lanes. Both operations round, as they do apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Then {
    /// Plus `c`.
    Add,
    /// Less `c`.
    Sub,
    /// `c` less it.
    SubFrom,
    /// Times `c`.
    Mul,
    /// Divided by `c`.
    Div,
    /// `c` divided by it.
    DivInto,
}

impl Then {
    /// What an operation does to one of its operands, the first or the second.
    pub(super) fn new(op: Op, first: bool) -> Option<Self> {
        match (op, first) {
            (Op::Add, _) => Some(Self::Add),
            (Op::Sub, true) => Some(Self::Sub),
            (Op::Sub, false) => Some(Self::SubFrom),
            (Op::Mul, _) => Some(Self::Mul),
            (Op::Div, true) => Some(Self::Div),
            (Op::Div, false) => Some(Self::DivInto),
            _ => None,
        }
    }
}

/// The rows a find goes through: packed cells, row by row.
#[derive(Clone, Debug)]
pub(crate) struct Rows {
    pub(crate) keys: Arc<[Match]>,
    pub(crate) cells: Vec<u32>,
}
