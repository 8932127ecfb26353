//! Streams of numbers by counting.

use super::hypercube::{Permutation, bits as bits_of};
use super::sobol;
use crate::eval::batch::{LANES, Lane};

/// 2^64 divided by the golden ratio, odd.
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

/// How the numbers of a stream lie.
///
/// All kinds give even numbers between 0 and 1; they differ in what the draws have to do with one another. Numbers that are laid out fill the
/// range more evenly than chance does, so that a mean over them settles sooner.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Points {
    /// Each draw on its own.
    #[default]
    Random,
    /// A Latin hypercube (M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21, 1979): of every `draws` draws from the first on, each
    /// falls into a stratum of its own out of that many equal ones, somewhere inside it, in an order that is the stream's own. Gains where
    /// a result is nearly a sum of functions of one leaf each. To be exact for a run it should cover whole rounds of `draws`; with 0 numbers
    /// are [`Points::Random`].
    Hypercube {
        /// Draws in which each stratum is met once.
        draws: u32,
    },
    /// One dimension, from 0, of a Sobol' sequence (I. M. Sobol', USSR Comput. Math. and Math. Phys. 7, 1967; direction numbers of S. Joe and
    /// F. Y. Kuo, SIAM J. Sci. Comput. 30, 2008), scrambled by the stream. Gains where a result is smooth and hangs mostly on few leaves at a time;
    /// runs should be a power of two long.
    ///
    /// Each leaf needs a dimension of its own, the weightiest ones the first: two streams of one dimension lie on lines, even under two
    /// seeds. That goes for the second set of [`crate::indices`], too. There are 1024 dimensions; streams of those beyond are
    /// [`Points::Random`]. After 2^32 draws the sequence starts again, scrambled anew.
    Sobol {
        /// The dimension.
        dimension: u32,
    },
}

/// Names an endless sequence of even numbers between 0 and 1, any of which can be asked for directly.
///
/// Draw `n` is a hash of `n` under two keys made from a name and a seed: the output function of SplitMix64 (G. L. Steele, D. Lea, C. H.
/// Flood, Fast splittable pseudorandom number generators, OOPSLA 2014; its constants are D. Stafford's variant 13) over a counter, and
/// once more under the second key, so that streams are not shifted copies of one another. Counter-based in the sense of J. K. Salmon and others,
/// Parallel random numbers: as easy as 1, 2, 3 (SC 2011). They are independent of one another unless [`Points`] lay them out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stream {
    first: u64,
    second: u64,
    points: Points,
}

impl Stream {
    /// The stream of a name under a seed.
    pub fn new(name: &str, seed: u64) -> Self {
        // FNV-1a over the bytes (G. Fowler, L. C. Noll, K.-P. Vo), then mixed with the seed
        let hash =
            name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        let first = mixed(mixed(hash).wrapping_add(mixed(seed.wrapping_add(STEP))));
        // not a number that counting from the first key could reach soon
        Stream { first, second: mixed(!first.rotate_left(29)), points: Points::Random }
    }

    /// Another stream of the same name, independent of this and laid out alike: for a second set of numbers.
    #[must_use]
    pub fn another(self) -> Self {
        let first = mixed(self.first ^ mixed(self.second.wrapping_add(STEP)));
        Stream { first, second: mixed(!first.rotate_left(29)), points: self.points }
    }

    /// The same stream with its numbers laid out.
    #[must_use]
    pub fn with(self, points: Points) -> Self {
        Stream { points, ..self }
    }

    /// How its numbers lie.
    pub fn points(self) -> Points {
        self.points
    }

    /// The number of one draw, above 0 and below 1.
    pub fn at(self, draw: u64) -> f64 {
        match self.points {
            Points::Random => {}
            Points::Hypercube { draws } => {
                if draws > 0 {
                    let mut number = [0.0];
                    self.fill_strata(draws, draw, &mut number);
                    return number[0];
                }
            }
            Points::Sobol { dimension } => {
                if let Some(directions) = sobol::dimension(dimension) {
                    let point = sobol::scrambled(sobol::point(directions, draw as u32), self.scramble(draw));
                    return number(u64::from(point) << 32 | self.bits(draw) >> 32);
                }
            }
        }
        number(self.bits(draw))
    }

    /// The numbers of a chunk of draws.
    #[inline(always)]
    pub(crate) fn fill(self, chunk: u64, lane: &mut Lane) {
        let first = chunk.wrapping_mul(LANES as u64);
        match self.points {
            Points::Random => {}
            Points::Hypercube { draws } => {
                if draws > 0 {
                    return self.fill_strata(draws, first, lane);
                }
            }
            Points::Sobol { dimension } => {
                if let Some(directions) = sobol::dimension(dimension) {
                    let keys = self.scramble(first);
                    let mut points = [0; LANES];
                    sobol::points(directions, first as u32, &mut points);
                    for (place, (to, point)) in lane.iter_mut().zip(&points).enumerate() {
                        let point = sobol::scrambled(*point, keys);
                        *to = number(u64::from(point) << 32 | self.bits(first.wrapping_add(place as u64)) >> 32);
                    }
                    return;
                }
            }
        }
        for (place, to) in lane.iter_mut().enumerate() {
            *to = number(self.bits(first.wrapping_add(place as u64)));
        }
    }

    /// 64 random bits of one draw.
    #[inline(always)]
    fn bits(self, draw: u64) -> u64 {
        let counted = mixed(self.first.wrapping_add(draw.wrapping_add(1).wrapping_mul(STEP)));
        mixed(counted ^ self.second)
    }

    /// A key for one round of a layout, apart from all numbers of the stream.
    fn key(self, round: u64) -> u64 {
        mixed(mixed(self.second.wrapping_add(round.wrapping_mul(STEP))) ^ !self.first)
    }

    /// The keys by which Sobol' points around a draw are scrambled.
    #[inline(always)]
    fn scramble(self, draw: u64) -> [u32; 4] {
        let [a, b] = [0, 1].map(|half| self.key(2 * (draw >> 32) + half));
        [a as u32, (a >> 32) as u32, b as u32, (b >> 32) as u32]
    }

    /// Draws from `first` on, each inside its stratum of a round of `count`.
    #[inline(always)]
    fn fill_strata(self, count: u32, first: u64, numbers: &mut [f64]) {
        let bits = bits_of(count);
        // both exact: the number is worked out on `bits` more bits than it has strata
        let stretch = (1_u64 << bits) as f64;
        let mut strata = [0_u32; LANES];
        let mut done = 0;
        while done < numbers.len() {
            let draw = first.wrapping_add(done as u64);
            let (round, place) = (draw / u64::from(count), (draw % u64::from(count)) as u32);
            let length = ((count - place) as usize).min(numbers.len() - done);
            let strata = &mut strata[..length];
            Permutation::new(count, self.key(round)).fill(place, strata);
            for (place, (to, stratum)) in numbers[done..][..length].iter_mut().zip(strata).enumerate() {
                let inside = self.bits(draw.wrapping_add(place as u64)) >> bits;
                // a share of the next power of two, exact to its 53 bits; one division rounds it once, and never up to 1
                *to = number(u64::from(*stratum).rotate_right(bits) | inside) * stretch / f64::from(count);
            }
            done += length;
        }
    }
}

/// 52 bits behind 1., less 1, in the middle of its step: never 0, never 1.
#[inline(always)]
fn number(bits: u64) -> f64 {
    f64::from_bits(0x3ff0_0000_0000_0000 | bits >> 12) - (1.0 - f64::EPSILON / 2.0)
}

#[inline(always)]
pub(super) fn mixed(x: u64) -> u64 {
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_lie_inside_zero_and_one_and_do_not_depend_on_the_way_asked() {
        let stream = Stream::new("study/P12/mass", 7);
        let mut lane = [0.0; LANES];
        stream.fill(9, &mut lane);
        for (place, number) in lane.iter().enumerate() {
            assert!(*number > 0.0 && *number < 1.0);
            assert_eq!(number.to_bits(), stream.at(9 * LANES as u64 + place as u64).to_bits());
        }
        // both ends of the range of bits
        assert!(f64::from_bits(0x3ff0_0000_0000_0000) - (1.0 - f64::EPSILON / 2.0) > 0.0);
        assert!(f64::from_bits(0x3fff_ffff_ffff_ffff) - (1.0 - f64::EPSILON / 2.0) < 1.0);
    }

    #[test]
    fn names_and_seeds_give_streams_of_their_own() {
        let of = |name: &str, seed: u64| Stream::new(name, seed).at(0).to_bits();
        let all = [of("a", 1), of("a", 2), of("b", 1), of("", 1), of("ab", 1)];
        for (k, one) in all.iter().enumerate() {
            assert!(!all[..k].contains(one));
        }
    }

    #[test]
    fn bits_are_the_recorded_ones() {
        // changing the generator changes every published range: that must not happen unseen
        let stream = Stream::new("x", 0);
        assert_eq!([stream.at(0).to_bits(), stream.at(1 << 40).to_bits()], [RECORDED[0], RECORDED[1]]);
    }

    const RECORDED: [u64; 2] = [4604558561527732407, 4602042011133820266];

    /// Pearson's chi square over cells of two neighbouring numbers: of one stream, of two streams at one draw, of a stream and itself
    /// one draw on.
    #[test]
    fn pairs_fill_the_square_evenly() {
        let (a, b) = (Stream::new("item 1/mass", 1), Stream::new("item 2/mass", 1));
        let pairs: [&dyn Fn(u64) -> (f64, f64); 3] =
            [&|n| (a.at(2 * n), a.at(2 * n + 1)), &|n| (a.at(n), b.at(n)), &|n| (a.at(n), a.at(n + 1))];
        for pair in pairs {
            let mut cells = vec![0_u32; 1024];
            let draws = 400_000;
            for n in 0..draws {
                let (x, y) = pair(n);
                cells[(x * 32.0) as usize * 32 + (y * 32.0) as usize] += 1;
            }
            let due = draws as f64 / 1024.0;
            let chi: f64 = cells.iter().map(|c| (f64::from(*c) - due).powi(2) / due).sum();
            // 1023 degrees of freedom: five standard deviations of 45
            assert!((chi - 1023.0).abs() < 5.0 * 2046_f64.sqrt(), "{chi}");
        }
    }
}
