//! The best set of ideas under a limit, and what can be saved for how much money.
//!
//! Groups of ideas that do not touch one another are searched apart. A small group is gone through whole, every set of it computed. A large one is
//! searched from pairs that were computed, and what was found is improved step by step, each step computed; how much better a set might
//! still be is said.

use std::collections::BTreeMap;

/// What a set of ideas comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offer {
    /// Net saving of a year.
    pub saving: f64,
    /// Money to be laid out.
    pub stake: f64,
}

/// A set of ideas with what it comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The ideas, in order.
    pub ideas: Vec<usize>,
    /// What they come to, added up over groups that do not touch one another.
    pub offer: Offer,
}

/// What may be chosen.
#[derive(Clone, Debug, Default)]
pub struct Bounds {
    /// The most money to be laid out.
    pub stake: Option<f64>,
    /// Pairs that exclude one another.
    pub against: Vec<(usize, usize)>,
    /// The first goes only with the second.
    pub needs: Vec<(usize, usize)>,
    /// The largest group whose every set is computed.
    pub whole: usize,
}

/// What a search found.
#[derive(Clone, Debug)]
pub struct BestSet {
    /// The best set.
    pub best: Choice,
    /// No set saves more than this; where it is more than the best, the search was not exact.
    pub bound: f64,
    /// Sets that were computed.
    pub computed: usize,
    /// Best sets for rising limits of money.
    pub frontier: Vec<FrontierPoint>,
}

/// A set that saves more than any other for no more money.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontierPoint {
    /// The set.
    pub choice: Choice,
}

impl Bounds {
    /// Whether a set, in order, holds nothing that excludes another and all that its ideas need.
    pub fn allow(&self, ideas: &[usize]) -> bool {
        let has = |idea: usize| ideas.binary_search(&idea).is_ok();
        !self.against.iter().any(|(a, b)| has(*a) && has(*b)) && self.needs.iter().all(|(a, b)| !has(*a) || has(*b))
    }
}

/// Searches the best set. `groups` do not touch one another; `compute` gives what a set of one group comes to, `None` where it cannot be
/// carried out together.
pub fn best_set(groups: &[Vec<usize>], bounds: &Bounds, compute: &mut dyn FnMut(&[usize]) -> Option<Offer>) -> BestSet {
    let mut computing = Computing { compute, known: BTreeMap::new() };
    let mut slack = 0.0;
    let mut options: Vec<Vec<Choice>> = Vec::new();
    for group in groups {
        let (choices, short) = if group.len() <= bounds.whole {
            (whole(group, bounds, &mut computing), 0.0)
        } else {
            in_part(group, bounds, &mut computing)
        };
        slack += short;
        options.push(choices);
    }
    let frontier = frontier(&options);
    let within = |choice: &&Choice| bounds.stake.is_none_or(|most| choice.offer.stake <= most);
    let nothing = Choice { ideas: Vec::new(), offer: Offer { saving: 0.0, stake: 0.0 } };
    let best = frontier.iter().map(|point| &point.choice).filter(within).next_back().cloned().unwrap_or(nothing);
    let bound = best.offer.saving + slack;
    BestSet { best, bound, computed: computing.known.len(), frontier }
}

/// The sets of which no other saves as much for as little, by rising money: one choice out of each group.
pub fn frontier(groups: &[Vec<Choice>]) -> Vec<FrontierPoint> {
    let mut front = vec![Choice { ideas: Vec::new(), offer: Offer { saving: 0.0, stake: 0.0 } }];
    for group in groups {
        let mut joined = Vec::with_capacity(front.len() * (group.len() + 1));
        joined.extend(front.iter().cloned());
        for choice in group.iter().filter(|choice| !choice.ideas.is_empty()) {
            joined.extend(front.iter().map(|before| {
                let mut ideas = [before.ideas.clone(), choice.ideas.clone()].concat();
                ideas.sort_unstable();
                let offer = Offer {
                    saving: before.offer.saving + choice.offer.saving,
                    stake: before.offer.stake + choice.offer.stake,
                };
                Choice { ideas, offer }
            }));
        }
        front = not_beaten(joined);
    }
    front.into_iter().map(|choice| FrontierPoint { choice }).collect()
}

/// Only the sets that save more than all that cost no more; by rising money.
fn not_beaten(mut choices: Vec<Choice>) -> Vec<Choice> {
    choices.sort_by(|a, b| {
        a.offer.stake.total_cmp(&b.offer.stake).then(b.offer.saving.total_cmp(&a.offer.saving)).then(a.ideas.len().cmp(&b.ideas.len()))
    });
    let mut most = f64::NEG_INFINITY;
    choices.retain(|choice| {
        let better = choice.offer.saving > most;
        most = most.max(choice.offer.saving);
        better
    });
    choices
}

struct Computing<'c> {
    compute: &'c mut dyn FnMut(&[usize]) -> Option<Offer>,
    known: BTreeMap<Vec<usize>, Option<Offer>>,
}

impl Computing<'_> {
    fn of(&mut self, ideas: &[usize]) -> Option<Offer> {
        if ideas.is_empty() {
            return Some(Offer { saving: 0.0, stake: 0.0 });
        }
        if let Some(known) = self.known.get(ideas) {
            return *known;
        }
        let found = (self.compute)(ideas).filter(|offer| offer.saving.is_finite() && offer.stake.is_finite());
        self.known.insert(ideas.to_vec(), found);
        found
    }
}

/// Every allowed set of a group.
fn whole(group: &[usize], bounds: &Bounds, computing: &mut Computing<'_>) -> Vec<Choice> {
    let mut choices = Vec::new();
    for bits in 0u32..1 << group.len() {
        let ideas: Vec<usize> = group.iter().enumerate().filter(|(at, _)| bits >> at & 1 == 1).map(|(_, idea)| *idea).collect();
        if bounds.allow(&ideas)
            && let Some(offer) = computing.of(&ideas)
        {
            choices.push(Choice { ideas, offer });
        }
    }
    choices
}

/// Sets of a large group: built up by the best next idea, then improved by leaving out, taking in and exchanging, each computed. Gives also by how
/// much a set might be better still: as if each idea could come with its best gain in any company it was computed in.
fn in_part(group: &[usize], bounds: &Bounds, computing: &mut Computing<'_>) -> (Vec<Choice>, f64) {
    let mut choices = vec![Choice { ideas: Vec::new(), offer: Offer { saving: 0.0, stake: 0.0 } }];
    let mut best_gain: BTreeMap<usize, f64> = BTreeMap::new();
    let mut now: (Vec<usize>, Offer) = (Vec::new(), Offer { saving: 0.0, stake: 0.0 });
    loop {
        let mut next: Option<(Vec<usize>, Offer)> = None;
        for ideas in neighbours(&now.0, group) {
            if !bounds.allow(&ideas) {
                continue;
            }
            let Some(offer) = computing.of(&ideas) else { continue };
            if let (Some(new), true) = (ideas.iter().find(|i| !now.0.contains(i)), ideas.len() == now.0.len() + 1) {
                let gain = best_gain.entry(*new).or_insert(0.0);
                *gain = gain.max(offer.saving - now.1.saving);
            }
            choices.push(Choice { ideas: ideas.clone(), offer });
            if next.as_ref().is_none_or(|(_, best)| offer.saving > best.saving) {
                next = Some((ideas, offer));
            }
        }
        match next {
            Some(better) if better.1.saving > now.1.saving => now = better,
            _ => break,
        }
    }
    let most: f64 = best_gain.values().sum();
    choices.sort_by(|a, b| a.ideas.cmp(&b.ideas));
    choices.dedup();
    (not_beaten(choices), (most - now.1.saving).max(0.0))
}

/// Sets with one idea more, one less, or one exchanged.
fn neighbours(ideas: &[usize], group: &[usize]) -> Vec<Vec<usize>> {
    let others: Vec<usize> = group.iter().copied().filter(|idea| !ideas.contains(idea)).collect();
    let with = |idea: usize, without: Option<usize>| {
        let mut set: Vec<usize> = ideas.iter().copied().filter(|i| Some(*i) != without).chain([idea]).collect();
        set.sort_unstable();
        set
    };
    let more = others.iter().map(|idea| with(*idea, None));
    let less = ideas.iter().map(|idea| ideas.iter().copied().filter(|i| i != idea).collect());
    let exchanged = others.iter().flat_map(|new| ideas.iter().map(move |old| (*new, *old))).map(|(new, old)| with(new, Some(old)));
    more.chain(less).chain(exchanged).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Small whole numbers from a stream of its own, so that sums are exact.
    struct Numbers(u64);

    impl Numbers {
        fn next(&mut self, below: u64) -> u64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 33) % below
        }
    }

    #[test]
    fn the_best_set_is_that_of_going_through_all() {
        for case in 0..200 {
            let mut numbers = Numbers(case);
            let ideas = 2 + numbers.next(6) as usize;
            let groups: Vec<Vec<usize>> = match numbers.next(3) {
                0 => vec![(0..ideas).collect()],
                1 => (0..ideas).map(|idea| vec![idea]).collect(),
                _ => vec![(0..ideas / 2).collect(), (ideas / 2..ideas).collect()],
            };
            let singles: Vec<(f64, f64)> =
                (0..ideas).map(|_| (numbers.next(40) as f64 - 12.0, numbers.next(30) as f64 - 5.0)).collect();
            let pairs: Vec<Vec<f64>> =
                (0..ideas).map(|_| (0..ideas).map(|_| numbers.next(9) as f64 - 4.0).collect()).collect();
            let mut bounds = Bounds { whole: 8, stake: Some(numbers.next(60) as f64), ..Bounds::default() };
            let group_of = |idea: usize| groups.iter().position(|g| g.contains(&idea));
            for (a, b) in [(0, 1), (1, 0)] {
                if numbers.next(3) == 0 && group_of(a) == group_of(b) {
                    bounds.needs.push((a, b));
                }
            }
            let (x, y) = (numbers.next(ideas as u64) as usize, numbers.next(ideas as u64) as usize);
            if x != y && group_of(x) == group_of(y) {
                bounds.against.push((x, y));
            }
            let mut of = |set: &[usize]| {
                let mut offer = Offer { saving: 0.0, stake: 0.0 };
                for a in set {
                    offer.saving += singles[*a].0;
                    offer.stake += singles[*a].1;
                    for b in set.iter().filter(|b| *b > a && group_of(*a) == group_of(**b)) {
                        offer.saving += pairs[*a][*b];
                    }
                }
                Some(offer)
            };
            let mut best = 0.0;
            for bits in 0u32..1 << ideas {
                let set: Vec<usize> = (0..ideas).filter(|at| bits >> at & 1 == 1).collect();
                let offer = of(&set).unwrap();
                if bounds.allow(&set) && offer.stake <= bounds.stake.unwrap() && offer.saving > best {
                    best = offer.saving;
                }
            }
            let found = best_set(&groups, &bounds, &mut of);
            assert_eq!(found.best.offer.saving, best, "case {case}");
            assert_eq!(of(&found.best.ideas).unwrap(), found.best.offer, "case {case}");
            assert_eq!(found.bound, found.best.offer.saving, "case {case}");
            let rising = |pair: &[FrontierPoint]| {
                pair[0].choice.offer.saving < pair[1].choice.offer.saving && pair[0].choice.offer.stake <= pair[1].choice.offer.stake
            };
            assert!(found.frontier.windows(2).all(rising), "case {case}");
        }
    }

    #[test]
    fn a_large_group_is_searched_in_part_and_says_by_how_much_it_may_be_short() {
        // each idea saves 3, any two of them share 1: 20 ideas
        let group: Vec<usize> = (0..20).collect();
        let mut asked = 0;
        let mut of = |set: &[usize]| {
            asked += 1;
            let n = set.len() as f64;
            Some(Offer { saving: 3.0 * n - 0.5 * n * (n - 1.0) * 0.5, stake: 0.0 })
        };
        let found = best_set(&[group], &Bounds { whole: 8, ..Bounds::default() }, &mut of);
        // the best number of ideas is 6 or 7: 3 n - n (n - 1) / 4
        assert_eq!(found.best.offer.saving, 10.5);
        assert!(found.bound >= 10.5 && found.computed < 3_000);
        drop(found);
        assert!(asked < 3_000);
    }
}
