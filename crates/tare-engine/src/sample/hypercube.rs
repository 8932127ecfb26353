//! Permutations of 0 .. n under a key, each place of which can be asked for directly.

use super::stream::mixed;

/// A number stays where it is through all of them once in 2^24 times; with 16, permutations of a million were visibly uneven.
const ROUNDS: usize = 24;

/// A permutation of the numbers below `count`.
///
/// Each round pairs the numbers up by a sum, and a bit of a hash of the pair says whether they change places: the swap-or-not shuffle
/// (V. T. Hoang, B. Morris, P. Rogaway, An enciphering scheme based on a card shuffle, CRYPTO 2012), which takes any `count` as it is. The bit is
/// the first of a product and a sum under keys of the round (multiply-shift: M. Dietzfelbinger, STACS 1996). Both from memory.
#[derive(Clone, Copy)]
pub(super) struct Permutation {
    count: u32,
    rounds: [Round; ROUNDS],
}

#[derive(Clone, Copy)]
struct Round {
    /// What the numbers of a pair add up to, modulo the count.
    sum: u32,
    factor: u32,
    added: u32,
}

impl Permutation {
    /// The permutation of a key; `count` is at least 1.
    pub(super) fn new(count: u32, key: u64) -> Self {
        let rounds = std::array::from_fn(|round| {
            let [one, other] = [1, 2].map(|k| mixed(key.wrapping_add(mixed(2 * round as u64 + k))));
            let sum = ((one >> 32) * u64::from(count)) >> 32;
            Round { sum: sum as u32, factor: other as u32 | 1, added: (other >> 32) as u32 }
        });
        Permutation { count, rounds }
    }

    /// What stands at each place from `first` on.
    #[inline(always)]
    pub(super) fn fill(&self, first: u32, numbers: &mut [u32]) {
        for (place, number) in numbers.iter_mut().enumerate() {
            *number = first + place as u32;
        }
        for round in &self.rounds {
            for number in numbers.iter_mut() {
                let below = round.sum.wrapping_sub(*number);
                let other = if round.sum < *number { below.wrapping_add(self.count) } else { below };
                let larger = if other > *number { other } else { *number };
                let hash = larger.wrapping_mul(round.factor).wrapping_add(round.added);
                *number = if hash >> 31 == 1 { other } else { *number };
            }
        }
    }
}

/// The bits of the numbers below `count`.
#[inline(always)]
pub(super) fn bits(count: u32) -> u32 {
    32 - (count.max(1) - 1).leading_zeros()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_stands_at_one_place() {
        for count in (1..70).chain([127, 128, 129, 1000, 4096, 10_007, 1 << 20]) {
            for key in 0..3 {
                let mut numbers = vec![0; count as usize];
                Permutation::new(count, key).fill(0, &mut numbers);
                let mut seen = vec![false; count as usize];
                for number in &numbers {
                    assert!(!std::mem::replace(&mut seen[*number as usize], true), "{number} twice among {count}");
                }
            }
        }
        // the largest: places far apart, where listing all would take long
        let mut ends = [0, 0, 0, 0];
        let most = Permutation::new(u32::MAX, 5);
        most.fill(0, &mut ends[..2]);
        most.fill(u32::MAX - 2, &mut ends[2..]);
        assert!((0..4).all(|k| ends[k] < u32::MAX && !ends[..k].contains(&ends[k])), "{ends:?}");
    }

    /// Pearson's chi square over many keys: each number is as likely at each place, and each pair at each pair of neighbouring places.
    #[test]
    fn places_and_pairs_are_even_over_keys() {
        for count in [2, 3, 5, 8, 13, 40] {
            let n = count as usize;
            let (mut single, mut pairs) = (vec![0_u32; n * n], vec![0_u32; n * n]);
            let keys = 20_000;
            for key in 0..keys {
                let mut numbers = vec![0; n];
                Permutation::new(count, mixed(key)).fill(0, &mut numbers);
                for (place, number) in numbers.iter().enumerate() {
                    single[place * n + *number as usize] += 1;
                }
                pairs[numbers[0] as usize * n + numbers[1] as usize] += 1;
            }
            let chi = |cells: &[u32], due: f64| cells.iter().map(|c| (f64::from(*c) - due).powi(2) / due).sum::<f64>();
            let within = |chi: f64, free: f64| (chi - free).abs() < 5.0 * (2.0 * free).sqrt().max(1.0);
            let free = ((n - 1) * (n - 1)) as f64;
            let found = chi(&single, keys as f64 / n as f64);
            assert!(within(found, free), "places of {count}: {found} at {free} degrees of freedom");
            let apart: Vec<u32> = (0..n * n).filter(|at| at / n != at % n).map(|at| pairs[at]).collect();
            let found = chi(&apart, keys as f64 / (n * (n - 1)) as f64);
            assert!(within(found, (n * (n - 1) - 1) as f64), "pairs of {count}: {found}");
        }
    }

    /// Pearson's chi square of one permutation against its places, its neighbours and another permutation, on a grid of 8 by 8.
    #[test]
    fn long_permutations_fill_the_square_evenly() {
        for (count, keys) in [(1000, 100), (4096, 100), (1 << 20, 1)] {
            let mut worst = [0.0_f64; 3];
            for key in 0..keys {
                let [one, other] = [key, key + 1000].map(|key| {
                    let mut numbers = vec![0; count as usize];
                    Permutation::new(count, mixed(key)).fill(0, &mut numbers);
                    numbers
                });
                let next = one.iter().skip(1).chain(&one[..1]);
                let chi = |pairs: &mut dyn Iterator<Item = (u32, u32)>| {
                    let mut cells = vec![0_u32; 64];
                    let part = |number: u32| (u64::from(number) * 8 / u64::from(count)) as usize;
                    pairs.for_each(|(a, b)| cells[part(a) * 8 + part(b)] += 1);
                    let due = f64::from(count) / 64.0;
                    cells.iter().map(|c| (f64::from(*c) - due).powi(2) / due).sum::<f64>()
                };
                let found = [
                    chi(&mut (0..count).zip(one.iter().copied())),
                    chi(&mut one.iter().copied().zip(next.copied())),
                    chi(&mut one.iter().copied().zip(other.iter().copied())),
                ];
                for (worst, found) in worst.iter_mut().zip(found) {
                    *worst = worst.max(found);
                }
            }
            // rows and columns are exact, which leaves 49 degrees of freedom: above 104 goes 1 in 160 000
            assert!(worst.iter().all(|chi| *chi < 104.0), "{count}: {worst:?}");
        }
    }

    #[test]
    fn bits_of_counts() {
        assert_eq!([1, 2, 3, 4, 5, 1 << 31, u32::MAX].map(bits), [0, 1, 2, 2, 3, 31, 32]);
    }
}
