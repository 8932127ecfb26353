//! Sobol' points, scrambled.

use crate::eval::batch::LANES;
use std::sync::LazyLock;

/// Bits of the index that have a direction number.
const BITS: usize = 32;

/// The direction numbers of one dimension by bit of the index, each with its first digit in the lowest bit.
pub(super) type Directions = [u32; BITS];

/// All dimensions, from the table of S. Joe and F. Y. Kuo (its source stands in it).
static DIRECTIONS: LazyLock<Vec<Directions>> = LazyLock::new(|| {
    let rows = include_str!("joe_kuo.txt").lines().filter(|line| !line.starts_with('#'));
    // the first dimension has no polynomial: all its m are 1, and the digits of the point are those of the index, from the other end
    let first = std::array::from_fn(|bit| 1 << bit);
    std::iter::once(first).chain(rows.filter_map(directions)).collect()
});

/// The direction numbers of a dimension from 0; `None` beyond the table.
pub(super) fn dimension(number: u32) -> Option<&'static Directions> {
    DIRECTIONS.get(number as usize)
}

/// One row of the table: v_k = m_k / 2^k, and beyond the m that are given v_k = a_1 v_(k-1) + ... + a_(s-1) v_(k-s+1) + v_(k-s) +
/// v_(k-s) / 2^s with additions bit by bit (P. Bratley, B. L. Fox, ACM Trans. Math. Softw. 14, 1988; from memory).
fn directions(row: &str) -> Option<Directions> {
    let mut numbers = row.split_ascii_whitespace().map_while(|number| number.parse::<u32>().ok());
    let (_, degree, inner) = (numbers.next()?, numbers.next()? as usize, numbers.next()?);
    let given: Vec<u32> = numbers.collect();
    if given.len() != degree || !(1..BITS).contains(&degree) {
        return None;
    }
    let mut found = [0_u32; BITS];
    for k in 0..BITS {
        found[k] = if k < degree {
            given[k] << (BITS - 1 - k)
        } else {
            let last = found[k - degree] ^ (found[k - degree] >> degree);
            let taken = (1..degree).filter(|back| inner >> (degree - 1 - back) & 1 == 1);
            taken.fold(last, |sum, back| sum ^ found[k - back])
        };
    }
    Some(found.map(u32::reverse_bits))
}

/// The point of an index, first digit lowest.
#[inline(always)]
pub(super) fn point(directions: &Directions, index: u32) -> u32 {
    let taken = directions.iter().enumerate().filter(|(bit, _)| index >> bit & 1 == 1);
    taken.fold(0, |sum, (_, direction)| sum ^ direction)
}

/// The points of the indices of a chunk, which starts at a multiple of its length: each half is the one before it, moved by one direction.
#[inline(always)]
pub(super) fn points(directions: &Directions, first: u32, points: &mut [u32; LANES]) {
    points[0] = point(directions, first);
    for (bit, direction) in directions[..LANES.ilog2() as usize].iter().enumerate() {
        let (done, next) = points.split_at_mut(1 << bit);
        for (next, done) in next.iter_mut().zip(done) {
            *next = *done ^ direction;
        }
    }
}

/// Scrambles a point as A. B. Owen proposed (each digit is kept or flipped by what the digits before it are), the first digit being the
/// lowest on the way in and the highest on the way out.
///
/// The hash by which a digit depends on those before it is of the kind of S. Laine and T. Karras as B. Burley took it up (Practical hash-based
/// Owen scrambling, Journal of Computer Graphics Techniques 9 (4), 2020): sums and products with even numbers carry upwards only. Their
/// factors are constants, under which the flips of some digits hang together whatever the key; here the factors are keys, too.
#[inline(always)]
pub(super) fn scrambled(point: u32, keys: [u32; 4]) -> u32 {
    let mut x = point.wrapping_add(keys[0]);
    x ^= x.wrapping_mul(keys[1] & !1);
    x = x.wrapping_add(keys[2]);
    x ^= x.wrapping_mul(keys[3] & !1);
    x.reverse_bits()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample::stream::mixed;

    fn keys(seed: u64) -> [u32; 4] {
        let [a, b] = [1, 2].map(|k| mixed(mixed(seed) + k));
        [a as u32, (a >> 32) as u32, b as u32, (b >> 32) as u32]
    }

    fn value(number: u32, index: u32) -> u32 {
        point(dimension(number).expect("in the table"), index).reverse_bits()
    }

    #[test]
    fn points_are_those_of_scipy() {
        // scipy.stats.qmc.Sobol(1024, scramble=False, bits=32) of SciPy 1.17.1, times 16; it walks by Gray code
        #[rustfmt::skip]
        let first = [
            (0, [0, 8, 12, 4, 6, 14, 10, 2, 3, 11, 15, 7, 5, 13, 9, 1]),
            (1, [0, 8, 4, 12, 6, 14, 2, 10, 5, 13, 1, 9, 3, 11, 7, 15]),
            (2, [0, 8, 4, 12, 10, 2, 14, 6, 15, 7, 11, 3, 5, 13, 1, 9]),
            (3, [0, 8, 4, 12, 14, 6, 10, 2, 7, 15, 3, 11, 9, 1, 13, 5]),
            (9, [0, 8, 12, 4, 10, 2, 6, 14, 5, 13, 9, 1, 15, 7, 3, 11]),
            (99, [0, 8, 12, 4, 14, 6, 2, 10, 15, 7, 3, 11, 1, 9, 13, 5]),
            (1023, [0, 8, 12, 4, 14, 6, 2, 10, 1, 9, 13, 5, 15, 7, 3, 11]),
        ];
        for (number, points) in first {
            let found: Vec<u32> = (0..16).map(|n| value(number, n ^ (n >> 1)) >> 28).collect();
            assert_eq!(found, points, "dimension {number}");
        }
        // points far out, times 2^32
        let far = [
            (4660, [1960312832, 1681391616, 1303904256, 2431123456, 1917321216, 6815744]),
            (32767, [131072, 2863267840, 1626210304, 1401290752, 3529900032, 200671232]),
            (65535, [65536, 4294901760, 2421489664, 703922176, 2030501888, 1974403072]),
        ];
        for (n, points) in far {
            assert_eq!([0, 1, 2, 9, 99, 1023].map(|number| value(number, n ^ (n >> 1))), points, "point {n}");
        }
    }

    #[test]
    fn direction_numbers_are_those_of_scipy() {
        assert!(DIRECTIONS.len() == 1024 && dimension(1024).is_none());
        // FNV-1a over the direction numbers (Sobol._sv of SciPy 1.17.1, little end first) of all 1024 dimensions, computed with Python
        let bytes = DIRECTIONS.iter().flatten().flat_map(|direction| direction.reverse_bits().to_le_bytes());
        let hash = bytes.fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        assert_eq!(hash, 0x3139_1f5a_f958_55c8);
    }

    #[test]
    fn chunks_hold_the_points_of_their_indices() {
        for first in [0, 128, 0x8000_0080, 0xffff_ff80] {
            let mut found = [0; LANES];
            points(&DIRECTIONS[57], first, &mut found);
            for (place, found) in found.iter().enumerate() {
                assert_eq!(*found, point(&DIRECTIONS[57], first + place as u32));
            }
        }
    }

    /// Every box of 2^-j by 2^-(m - j) holds one of the first 2^m points of the first two dimensions: they are a (0, m, 2)-net.
    fn is_a_net(points: &[(u32, u32)]) -> bool {
        let m = points.len().ilog2();
        (0..=m).all(|j| {
            let mut boxes = vec![0; points.len()];
            for (x, y) in points {
                let (column, row) = (u64::from(*x) >> (32 - j), u64::from(*y) >> (32 - (m - j)));
                boxes[(column << (m - j) | row) as usize] += 1;
            }
            boxes.iter().all(|held| *held == 1)
        })
    }

    #[test]
    fn elementary_boxes_hold_one_point_before_and_after_scrambling() {
        let [a, b, c] = [0, 1, 2].map(|number| &DIRECTIONS[number]);
        for m in 0..=12 {
            // a stretch that starts at a multiple of its length, not only the first
            for start in [0, 5 << m] {
                let plain: Vec<(u32, u32)> = (start..start + (1 << m)).map(|n| (point(a, n), point(b, n))).collect();
                assert!(is_a_net(&plain.iter().map(|(x, y)| (x.reverse_bits(), y.reverse_bits())).collect::<Vec<_>>()));
                for seed in 1..5 {
                    let [one, other] = [keys(seed), keys(seed + 100)];
                    let scrambled: Vec<_> = plain.iter().map(|(x, y)| (scrambled(*x, one), scrambled(*y, other))).collect();
                    assert!(is_a_net(&scrambled), "{m} bits from {start}, seed {seed}");
                }
            }
        }
        // of the first and the third dimension this does not hold, so the test can tell
        let other: Vec<_> = (0..1024).map(|n| (point(a, n).reverse_bits(), point(c, n).reverse_bits())).collect();
        assert!(!is_a_net(&other));
    }

    /// Over many keys each digit is flipped in half of the cases, and flips of neighbouring branches of the tree agree in half of them.
    #[test]
    fn flips_are_even_and_independent() {
        let keys: Vec<[u32; 4]> = (0..4096).map(keys).collect();
        let flip = |keys: [u32; 4], point: u32, digit: u32| (scrambled(point, keys) >> (31 - digit) ^ point >> digit) & 1;
        let bound = 5.0 * (keys.len() as f64 / 4.0).sqrt();
        for digit in 0..20 {
            for point in [0, 1, 0b1011, 0x0005_a5a5] {
                let flipped: u32 = keys.iter().map(|k| flip(*k, point, digit)).sum();
                assert!((f64::from(flipped) - keys.len() as f64 / 2.0).abs() < bound, "digit {digit} of {point}: {flipped}");
                // a point that differs in one earlier digit takes another branch
                for earlier in 0..digit {
                    let apart: u32 = keys.iter().map(|k| flip(*k, point, digit) ^ flip(*k, point ^ 1 << earlier, digit)).sum();
                    assert!((f64::from(apart) - keys.len() as f64 / 2.0).abs() < bound, "digits {earlier}, {digit}: {apart}");
                }
            }
        }
    }
}
