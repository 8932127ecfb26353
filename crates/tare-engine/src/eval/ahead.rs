//! Memory fetched while the steps of a chunk compute.
//!
//! Steps read a lane at a time, so a leaf that lies in main memory would be waited for where it is first read, and a result's place where it is
//! written; the processor guesses neither, as each chunk begins in other places than the last one ended. Asked for all at once they wait for each
//! other, so a few lines are asked for with each step. Registers that the tape marks as far come a few steps ahead.

use super::batch::{Draws, LANES, Lane};
use crate::tape::{Far, Tape};
use std::ops::Range;

/// Doubles in a line of the cache.
const LINE: usize = 8;
/// Lines in a lane.
const LINES: usize = LANES / LINE;
/// Lanes fetched ahead, at most: half the smallest first cache (32 KiB). More would push out what the steps work on.
const MOST: usize = 16;

/// What to ask for during a chunk.
#[derive(Default)]
pub(super) struct Ahead {
    lanes: Vec<*const f64>,
}

impl Ahead {
    /// Plans for a chunk's results, and for the leaves that lie ready for the next one, if there is one.
    pub(super) fn plan<'a, 'l, D: Draws>(
        &'a mut self,
        tape: &'a Tape,
        draws: &'l D,
        next: Option<u64>,
        results: impl Iterator<Item = &'l Lane>,
    ) -> Due<'a> {
        let leaves = tape.drawn().iter().take(MOST).filter_map(|leaf| draws.ready(*leaf, next?));
        self.lanes.clear();
        self.lanes.extend(results.chain(leaves).take(MOST).map(|lane| lane.as_ptr()));
        let lines = self.lanes.len() * LINES;
        let pace = lines.div_ceil(tape.steps.len().max(1)).next_power_of_two().min(LINES);
        Due { lanes: &self.lanes, asked: 0, pace, far: &tape.far, with: Far::first(&tape.far) }
    }
}

/// What is still to be asked for.
pub(super) struct Due<'a> {
    lanes: &'a [*const f64],
    /// Lines of the first lane that were asked for.
    asked: usize,
    /// How many are asked for with each step; a lane is a multiple.
    pace: usize,
    far: &'a [Far],
    /// The step with which the first of them is due.
    with: u32,
}

impl Due<'_> {
    /// Asks for what is due with a step.
    #[inline(always)]
    pub(super) fn fetch<'l>(&mut self, step: u32, register: impl Fn(u32) -> &'l Lane) {
        if let Some((lane, rest)) = self.lanes.split_first() {
            fetch(*lane, self.asked..self.asked + self.pace);
            self.asked += self.pace;
            if self.asked == LINES {
                self.asked = 0;
                self.lanes = rest;
            }
        }
        while self.with == step {
            let Some((far, rest)) = self.far.split_first() else { return };
            fetch(register(far.register).as_ptr(), 0..LINES);
            self.far = rest;
            self.with = Far::first(rest);
        }
    }
}

/// Asks for lines of a lane and goes on.
#[inline(always)]
fn fetch(lane: *const f64, lines: Range<usize>) {
    #[cfg(target_arch = "x86_64")]
    for line in lines {
        use std::arch::x86_64::{_MM_HINT_T0, _mm_prefetch};
        #[expect(unsafe_code, reason = "there is no safe hint")]
        // SAFETY: a hint, which reads nothing and cannot fault, whatever the address
        unsafe {
            _mm_prefetch::<_MM_HINT_T0>(lane.wrapping_add(line * LINE).cast());
        }
    }
    #[cfg(not(target_arch = "x86_64"))]
    let _ = (lane, lines);
}

const _: () = assert!(LINES * LINE == LANES && LINES.is_power_of_two(), "lanes end with lines and come in even parts");
