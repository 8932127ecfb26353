//! Looking up rows for many draws at once: most draws of a chunk need the same few rows, so that whole lanes are chosen and mixed.

use super::batch::{LANES, Lane};
use super::lanes::Read;
use crate::math::{self, Match};
use crate::tape::{Rows, Step};

/// Rows that are mixed lane by lane before each draw is served on its own.
const MIXED: usize = 16;
/// Needs whose bounds are looked at beforehand; tables have one to three.
const BOUNDED: usize = 8;

/// Takes for each draw the operand that its index names.
#[inline(always)]
pub(super) fn pick(read: &Read<'_>, step: &Step, lists: &[u32], to: &mut Lane) {
    let list = &lists[step.list()];
    let Some(index) = read.lane(step.a) else { return };
    let mut place = [0.0; LANES];
    for i in 0..LANES {
        place[i] = math::whole_place(index[i], list.len());
    }
    let (low, high) = bounds(&place);
    if high - low > MIXED as f64 {
        for (draw, to) in to.iter_mut().enumerate() {
            *to = if place[draw] < 0.0 { f64::NAN } else { read.at(list[place[draw] as usize], draw) };
        }
        return;
    }
    if low == high && low >= 0.0 {
        // most chunks need one row
        match read.lane(list[low as usize]) {
            Some(lane) => *to = *lane,
            None => *to = [read.scalar(list[low as usize]); LANES],
        }
        return;
    }
    // what no row overrides had no place
    *to = [f64::NAN; LANES];
    for row in (low.max(0.0) as usize)..=(high.max(0.0) as usize) {
        let Some(packed) = list.get(row) else { break };
        let row = row as f64;
        match read.lane(*packed) {
            Some(lane) => {
                for i in 0..LANES {
                    to[i] = if place[i] == row { lane[i] } else { to[i] };
                }
            }
            None => {
                let value = read.scalar(*packed);
                for i in 0..LANES {
                    to[i] = if place[i] == row { value } else { to[i] };
                }
            }
        }
    }
}

/// What a row does for the draws of a chunk.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Serves {
    None,
    Some,
    All,
    /// A cell is no number, and so is the answer of whoever comes as far as this.
    NoNumber,
}

/// Finds for each draw the first row that suits its needs.
///
/// The smallest and largest need of the chunk settle most rows at once: the first that suits all is the last that matters. What is left is
/// tried from the last to the first, each overriding those behind it, so that no draw has to leave the loop.
#[inline(always)]
pub(super) fn find(read: &Read<'_>, rows: &Rows, needs: &[u32], to: &mut Lane) {
    let keys = rows.keys.len();
    let mut known = [(f64::NAN, f64::NAN); BOUNDED];
    for (known, need) in known.iter_mut().zip(needs) {
        *known = read.lane(*need).map_or_else(|| (read.scalar(*need), read.scalar(*need)), bounds);
    }
    let serves = |cells: &[u32]| serves(read, rows, needs, &known, cells);
    *to = [-1.0; LANES];
    let mut end = rows.cells.len() / keys;
    for (row, cells) in rows.cells.chunks_exact(keys).enumerate() {
        match serves(cells) {
            Serves::All => *to = [row as f64; LANES],
            Serves::NoNumber => *to = [f64::NAN; LANES],
            Serves::None | Serves::Some => continue,
        }
        end = row;
        break;
    }
    for (row, cells) in rows.cells.chunks_exact(keys).enumerate().take(end).rev() {
        if serves(cells) == Serves::None {
            continue;
        }
        let mut suits = [1.0; LANES];
        let mut number = [1.0; LANES];
        for ((way, need), cell) in rows.keys.iter().zip(needs).zip(cells) {
            hold(read, *way, *need, *cell, &mut suits, &mut number);
        }
        let row = row as f64;
        for i in 0..LANES {
            let kept = if suits[i] != 0.0 { row } else { to[i] };
            to[i] = if number[i] != 0.0 { kept } else { f64::NAN };
        }
    }
    for need in needs {
        match read.lane(*need) {
            Some(need) => {
                for i in 0..LANES {
                    to[i] = if need[i].is_nan() { f64::NAN } else { to[i] };
                }
            }
            None if read.scalar(*need).is_nan() => *to = [f64::NAN; LANES],
            None => {}
        }
    }
}

/// What a row does, as far as the bounds of the needs tell. Suiting goes one way with the need, so that its bounds speak for all between.
#[inline(always)]
fn serves(read: &Read<'_>, rows: &Rows, needs: &[u32], known: &[(f64, f64); BOUNDED], cells: &[u32]) -> Serves {
    if needs.len() > BOUNDED || cells.iter().any(|cell| read.lane(*cell).is_some()) {
        return Serves::Some;
    }
    if cells.iter().any(|cell| read.scalar(*cell).is_nan()) {
        return Serves::NoNumber;
    }
    let mut found = Serves::All;
    for ((way, cell), (low, high)) in rows.keys.iter().zip(cells).zip(known) {
        let cell = read.scalar(*cell);
        let (all, some) = match way {
            Match::UpTo => (way.suits(*high, cell), way.suits(*low, cell)),
            Match::From => (way.suits(*low, cell), way.suits(*high, cell)),
            Match::Equal => (*low == cell && *high == cell, *low <= cell && cell <= *high),
        };
        if !some {
            return Serves::None;
        }
        if !all {
            found = Serves::Some;
        }
    }
    found
}

/// The smallest and the largest number of a lane; those that are none are passed over.
#[inline(always)]
fn bounds(lane: &Lane) -> (f64, f64) {
    // several at once, so that none waits for the one before
    const AT_ONCE: usize = 32;
    let (mut low, mut high) = ([f64::INFINITY; AT_ONCE], [f64::NEG_INFINITY; AT_ONCE]);
    for part in lane.chunks_exact(AT_ONCE) {
        for i in 0..AT_ONCE {
            low[i] = if part[i] < low[i] { part[i] } else { low[i] };
            high[i] = if part[i] > high[i] { part[i] } else { high[i] };
        }
    }
    let mut half = AT_ONCE / 2;
    while half > 0 {
        for i in 0..half {
            low[i] = if low[i + half] < low[i] { low[i + half] } else { low[i] };
            high[i] = if high[i + half] > high[i] { high[i + half] } else { high[i] };
        }
        half /= 2;
    }
    (low[0], high[0])
}

/// Takes out the draws whose cell does not suit their need, and those whose cell is no number.
#[inline(always)]
fn hold(read: &Read<'_>, way: Match, need: u32, cell: u32, suits: &mut Lane, number: &mut Lane) {
    macro_rules! each {
        ($way:expr) => {
            match (read.lane(need), read.lane(cell)) {
                (need_lane, None) => {
                    let cell = read.scalar(cell);
                    match need_lane {
                        Some(need) => {
                            for i in 0..LANES {
                                suits[i] = if $way.suits(need[i], cell) { suits[i] } else { 0.0 };
                            }
                        }
                        None if $way.suits(read.scalar(need), cell) => {}
                        None => *suits = [0.0; LANES],
                    }
                    if cell.is_nan() {
                        *number = [0.0; LANES];
                    }
                }
                (_, Some(cell)) => {
                    let mut room = [0.0; LANES];
                    let need = read.spread(need, &mut room);
                    for i in 0..LANES {
                        suits[i] = if $way.suits(need[i], cell[i]) { suits[i] } else { 0.0 };
                        number[i] = if cell[i].is_nan() { 0.0 } else { number[i] };
                    }
                }
            }
        };
    }
    match way {
        Match::UpTo => each!(Match::UpTo),
        Match::From => each!(Match::From),
        Match::Equal => each!(Match::Equal),
    }
}
