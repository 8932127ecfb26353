//! Streams of numbers by counting.

use crate::eval::batch::{LANES, Lane};

/// 2^64 divided by the golden ratio, odd.
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

/// Names an endless sequence of independent numbers between 0 and 1, any of which can be asked for directly.
///
/// Draw `n` is a hash of `n` under two keys made from a name and a seed: the output function of SplitMix64 (G. L. Steele, D. Lea, C. H.
/// Flood, Fast splittable pseudorandom number generators, OOPSLA 2014; its constants are D. Stafford's variant 13) over a counter, and
/// once more under the second key, so that streams are not shifted copies of one another. Counter-based in the sense of J. K. Salmon and others,
/// Parallel random numbers: as easy as 1, 2, 3 (SC 2011).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stream {
    first: u64,
    second: u64,
}

impl Stream {
    /// The stream of a name under a seed.
    pub fn new(name: &str, seed: u64) -> Self {
        // FNV-1a over the bytes (G. Fowler, L. C. Noll, K.-P. Vo), then mixed with the seed
        let hash =
            name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        let first = mixed(mixed(hash).wrapping_add(mixed(seed.wrapping_add(STEP))));
        // not a number that counting from the first key could reach soon
        Stream { first, second: mixed(!first.rotate_left(29)) }
    }

    /// The number of one draw, above 0 and below 1.
    #[inline(always)]
    pub fn at(self, draw: u64) -> f64 {
        let counted = mixed(self.first.wrapping_add(draw.wrapping_add(1).wrapping_mul(STEP)));
        let bits = mixed(counted ^ self.second);
        // 52 bits behind 1., less 1, in the middle of its step: never 0, never 1
        f64::from_bits(0x3ff0_0000_0000_0000 | bits >> 12) - (1.0 - f64::EPSILON / 2.0)
    }

    /// The numbers of a chunk of draws.
    #[inline(always)]
    pub(crate) fn fill(self, chunk: u64, lane: &mut Lane) {
        let first = chunk.wrapping_mul(LANES as u64);
        for (place, number) in lane.iter_mut().enumerate() {
            *number = self.at(first.wrapping_add(place as u64));
        }
    }
}

#[inline(always)]
fn mixed(x: u64) -> u64 {
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
