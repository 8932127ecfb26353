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
    /// Ideas that cannot be in any set: they need what is not to be had.
    pub barred: Vec<usize>,
    /// The largest group whose every set is computed.
    pub whole: usize,
    /// Sets that are computed at most; 0 for as many as it takes.
    pub most: usize,
}

/// What a search found.
#[derive(Clone, Debug)]
pub struct BestSet {
    /// The best set.
    pub best: Choice,
    /// The best gains that ideas had in any set that was computed, added up over groups that were searched in part: a guide to how far other
    /// sets might go. Where it is the best's own saving, every set was gone through.
    pub bound: f64,
    /// Whether every allowed set was computed, or adds up from such.
    pub exhaustive: bool,
    /// Whether points of the frontier were left out because there were too many.
    pub thinned: bool,
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
        !self.against.iter().any(|(a, b)| has(*a) && has(*b))
            && self.needs.iter().all(|(a, b)| !has(*a) || has(*b))
            && !self.barred.iter().any(|idea| has(*idea))
    }
}

/// What sets come to, each `None` where it cannot be carried out together: asked for several at once, so that they may be computed side by
/// side.
pub type Compute<'c> = dyn FnMut(&[Vec<usize>]) -> Vec<Option<Offer>> + 'c;

/// Searches the best set. `groups` do not touch one another; `compute` gives what sets of one group come to.
pub fn best_set(groups: &[Vec<usize>], bounds: &Bounds, compute: &mut Compute<'_>) -> BestSet {
    let mut computing = Computing { compute, known: BTreeMap::new() };
    let (mut most, mut exhaustive) = (0.0, true);
    let mut options: Vec<Vec<Choice>> = Vec::new();
    for group in groups {
        let choices = if group.len() <= bounds.whole {
            let choices = whole(group, bounds, &mut computing);
            most += choices.iter().map(|choice| choice.offer.saving).fold(0.0, f64::max);
            choices
        } else {
            exhaustive = false;
            let (mut choices, gains) = in_part(group, bounds, Next::MostGain, None, &mut computing);
            most += gains;
            if bounds.stake.is_some() {
                for next in [Next::MostGain, Next::MostForMoney] {
                    choices.extend(in_part(group, bounds, next, bounds.stake, &mut computing).0);
                }
            }
            choices
        };
        options.push(choices);
    }
    let (frontier, thinned) = frontier(&options);
    let within = |choice: &&Choice| bounds.stake.is_none_or(|most| choice.offer.stake <= most);
    let nothing = Choice { ideas: Vec::new(), offer: NOTHING };
    let best = frontier.iter().map(|point| &point.choice).rfind(within).cloned().unwrap_or(nothing);
    let bound = if exhaustive && !thinned { best.offer.saving } else { most.max(best.offer.saving) };
    BestSet { best, bound, exhaustive: exhaustive && !thinned, thinned, computed: computing.known.len(), frontier }
}

/// Points that a frontier holds at most.
const POINTS: usize = 2_048;

/// The sets of which no other saves as much for as little, by rising money: one choice out of each group. Where there are more than two thousand,
/// steps of equal money keep the best each, which is told.
pub fn frontier(groups: &[Vec<Choice>]) -> (Vec<FrontierPoint>, bool) {
    let mut thinned = false;
    let mut front = vec![Choice { ideas: Vec::new(), offer: NOTHING }];
    for group in groups {
        let mut joined = Vec::with_capacity(front.len() * (group.len() + 1));
        joined.extend(front.iter().cloned());
        for choice in group.iter().filter(|choice| !choice.ideas.is_empty()) {
            joined.extend(front.iter().map(|before| {
                let mut ideas = [before.ideas.clone(), choice.ideas.clone()].concat();
                ideas.sort_unstable();
                let offer =
                    Offer { saving: before.offer.saving + choice.offer.saving, stake: before.offer.stake + choice.offer.stake };
                Choice { ideas, offer }
            }));
        }
        front = not_beaten(joined);
        if front.len() > POINTS {
            thinned = true;
            front = thin(front);
        }
    }
    (front.into_iter().map(|choice| FrontierPoint { choice }).collect(), thinned)
}

/// The best of each step of money, of a front in order.
fn thin(front: Vec<Choice>) -> Vec<Choice> {
    let ends = front.first().zip(front.last()).map_or((0.0, 1.0), |(a, b)| (a.offer.stake, b.offer.stake));
    let step = ((ends.1 - ends.0) / POINTS as f64).max(f64::MIN_POSITIVE);
    let mut kept: Vec<(u64, Choice)> = Vec::new();
    for choice in front {
        let at = ((choice.offer.stake - ends.0) / step) as u64;
        match kept.last_mut() {
            // a front rises, so that the last of a step is its best
            Some((step, best)) if *step == at => *best = choice,
            _ => kept.push((at, choice)),
        }
    }
    kept.into_iter().map(|(_, choice)| choice).collect()
}

/// Only the sets that save more than all that cost no more; by rising money.
fn not_beaten(mut choices: Vec<Choice>) -> Vec<Choice> {
    choices.sort_by(|a, b| {
        a.offer
            .stake
            .total_cmp(&b.offer.stake)
            .then(b.offer.saving.total_cmp(&a.offer.saving))
            .then(a.ideas.len().cmp(&b.ideas.len()))
    });
    let mut most = f64::NEG_INFINITY;
    choices.retain(|choice| {
        let better = choice.offer.saving > most;
        most = most.max(choice.offer.saving);
        better
    });
    choices
}

struct Computing<'c, 'f> {
    compute: &'c mut Compute<'f>,
    known: BTreeMap<Vec<usize>, Option<Offer>>,
}

impl Computing<'_, '_> {
    /// What sets come to; those that can be carried out.
    fn choices(&mut self, sets: Vec<Vec<usize>>) -> Vec<Choice> {
        let new: Vec<Vec<usize>> = sets.iter().filter(|set| !set.is_empty() && !self.known.contains_key(*set)).cloned().collect();
        if !new.is_empty() {
            let found = (self.compute)(&new);
            let real = |offer: &Offer| offer.saving.is_finite() && offer.stake.is_finite();
            self.known.extend(new.into_iter().zip(found.into_iter().map(|offer| offer.filter(real))));
        }
        let of = |ideas: Vec<usize>| {
            let offer = if ideas.is_empty() { Some(NOTHING) } else { self.known.get(&ideas).copied().flatten() };
            offer.map(|offer| Choice { ideas, offer })
        };
        sets.into_iter().filter_map(of).collect()
    }
}

/// What no idea comes to.
const NOTHING: Offer = Offer { saving: 0.0, stake: 0.0 };

/// Every allowed set of a group.
fn whole(group: &[usize], bounds: &Bounds, computing: &mut Computing<'_, '_>) -> Vec<Choice> {
    let set = |bits: u32| group.iter().enumerate().filter(|(at, _)| bits >> at & 1 == 1).map(|(_, idea)| *idea).collect();
    let sets: Vec<Vec<usize>> = (0u32..1 << group.len()).map(set).filter(|set: &Vec<usize>| bounds.allow(set)).collect();
    computing.choices(sets)
}

/// Sets of a large group: built up by the best next idea, then improved by leaving out and exchanging, each computed; where there is a limit of
/// money, among sets within it. Gives also what ideas could save if each came with the best gain it had in any company it was computed in.
fn in_part(
    group: &[usize],
    bounds: &Bounds,
    by: Next,
    limit: Option<f64>,
    computing: &mut Computing<'_, '_>,
) -> (Vec<Choice>, f64) {
    let mut all = vec![Choice { ideas: Vec::new(), offer: NOTHING }];
    let mut gains: BTreeMap<usize, f64> = BTreeMap::new();
    let mut now = all[0].clone();
    loop {
        let allowed = |sets: Vec<Vec<usize>>| sets.into_iter().filter(|set| bounds.allow(set)).collect();
        let more = computing.choices(allowed(with_one_more(&now.ideas, group)));
        for choice in &more {
            if let Some(new) = choice.ideas.iter().find(|idea| !now.ideas.contains(idea)) {
                let gain = gains.entry(*new).or_insert(0.0);
                *gain = gain.max(choice.offer.saving - now.offer.saving);
            }
        }
        let better = |choices: &[Choice]| {
            let within = choices.iter().filter(|choice| limit.is_none_or(|most| choice.offer.stake <= most));
            let better = within.filter(|choice| choice.offer.saving > now.offer.saving);
            better.max_by(|a, b| by.of(a.offer, now.offer).total_cmp(&by.of(b.offer, now.offer))).cloned()
        };
        let mut next = better(&more);
        all.extend(more);
        if next.is_none() {
            // what never gained anything is not exchanged in
            let useful: Vec<usize> =
                group.iter().copied().filter(|idea| gains.get(idea).is_some_and(|gain| *gain > 0.0)).collect();
            let others = computing.choices(allowed(with_one_other(&now.ideas, &useful)));
            next = better(&others);
            all.extend(others);
        }
        match next {
            Some(next) if bounds.most == 0 || computing.known.len() < bounds.most => now = next,
            _ => break,
        }
    }
    let most: f64 = gains.values().sum();
    (not_beaten(all), most.max(now.offer.saving))
}

/// What the next idea of a search is chosen by.
#[derive(Clone, Copy, Debug)]
enum Next {
    /// The most gain.
    MostGain,
    /// The most gain for the money.
    MostForMoney,
}

impl Next {
    fn of(self, offer: Offer, before: Offer) -> f64 {
        let (gain, money) = (offer.saving - before.saving, offer.stake - before.stake);
        match self {
            Self::MostGain => gain,
            // what costs nothing comes first
            Self::MostForMoney if money <= 0.0 => f64::MAX / 2.0 + gain,
            Self::MostForMoney => gain / money,
        }
    }
}

fn sorted(ideas: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut set: Vec<usize> = ideas.collect();
    set.sort_unstable();
    set
}

/// Sets with one idea more.
fn with_one_more(ideas: &[usize], group: &[usize]) -> Vec<Vec<usize>> {
    let new = group.iter().filter(|idea| !ideas.contains(idea));
    new.map(|idea| sorted(ideas.iter().copied().chain([*idea]))).collect()
}

/// Sets with one idea less, or with one exchanged for another.
fn with_one_other(ideas: &[usize], group: &[usize]) -> Vec<Vec<usize>> {
    let without = |out: usize| ideas.iter().copied().filter(move |idea| *idea != out);
    let less = ideas.iter().map(|out| sorted(without(*out)));
    let others = group.iter().copied().filter(|idea| !ideas.contains(idea));
    let exchanged = others.flat_map(|new| ideas.iter().map(move |out| sorted(without(*out).chain([new]))));
    less.chain(exchanged).collect()
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
            let pairs: Vec<Vec<f64>> = (0..ideas).map(|_| (0..ideas).map(|_| numbers.next(9) as f64 - 4.0).collect()).collect();
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
            let of = |set: &[usize]| {
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
            let found = best_set(&groups, &bounds, &mut |sets| sets.iter().map(|set| of(set)).collect());
            assert_eq!(found.best.offer.saving, best, "case {case}");
            assert_eq!(of(&found.best.ideas).unwrap(), found.best.offer, "case {case}");
            assert_eq!(found.bound, found.best.offer.saving, "case {case}");
            assert!(found.exhaustive && !found.thinned, "case {case}");
            let rising = |pair: &[FrontierPoint]| {
                pair[0].choice.offer.saving < pair[1].choice.offer.saving
                    && pair[0].choice.offer.stake <= pair[1].choice.offer.stake
            };
            assert!(found.frontier.windows(2).all(rising), "case {case}");
        }
    }

    #[test]
    fn a_large_group_is_searched_in_part_and_says_by_how_much_it_may_be_short() {
        // each idea saves 3, any two of them share 1: 20 ideas
        let group: Vec<usize> = (0..20).collect();
        let mut asked = 0;
        let mut of = |sets: &[Vec<usize>]| {
            asked += sets.len();
            let saving = |n: f64| 3.0 * n - 0.5 * n * (n - 1.0) * 0.5;
            sets.iter().map(|set| Some(Offer { saving: saving(set.len() as f64), stake: 0.0 })).collect()
        };
        let found = best_set(&[group], &Bounds { whole: 8, ..Bounds::default() }, &mut of);
        // the best number of ideas is 6 or 7: 3 n - n (n - 1) / 4
        assert_eq!(found.best.offer.saving, 10.5);
        assert!(found.bound >= 10.5 && found.computed < 3_000 && !found.exhaustive);
        assert!(asked < 3_000);
    }

    #[test]
    fn a_limit_of_money_is_searched_within_it_where_a_group_is_large() {
        // one idea saves most for all the money; two others together save more for the same
        let group: Vec<usize> = (0..9).collect();
        let each =
            [(100.0, 20.0), (80.0, 10.0), (75.0, 10.0), (1.0, 5.0), (1.0, 5.0), (1.0, 5.0), (1.0, 5.0), (1.0, 5.0), (1.0, 5.0)];
        let of = |set: &Vec<usize>| {
            let sum = |of: fn(&(f64, f64)) -> f64| set.iter().map(|at| of(&each[*at])).sum::<f64>();
            Some(Offer { saving: sum(|e| e.0), stake: sum(|e| e.1) })
        };
        let bounds = Bounds { whole: 4, stake: Some(20.0), ..Bounds::default() };
        let found = best_set(&[group], &bounds, &mut |sets| sets.iter().map(of).collect());
        assert_eq!((found.best.ideas.clone(), found.best.offer.saving), (vec![1, 2], 155.0));
        assert!(!found.exhaustive);
    }

    #[test]
    fn many_ideas_of_their_own_do_not_make_the_frontier_endless() {
        let groups: Vec<Vec<usize>> = (0..24).map(|idea| vec![idea]).collect();
        let of = |set: &Vec<usize>| {
            let sum = |at: &usize| f64::from(1 << at);
            Some(Offer { saving: set.iter().map(sum).sum(), stake: set.iter().map(|at| sum(at) * 3.0).sum() })
        };
        let found = best_set(&groups, &Bounds { whole: 4, ..Bounds::default() }, &mut |sets| sets.iter().map(of).collect());
        assert!(found.thinned && found.frontier.len() <= POINTS + 1);
        assert_eq!(found.best.offer.saving, f64::from((1 << 24) - 1));
    }
}
