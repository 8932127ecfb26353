//! The order in which formulas can be worked out, and the circles that leave none.

use crate::calculation::{Calculation, Default};
use crate::expr::Expr;
use crate::span::Located;
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};

/// One thing to work out: an input (possibly by its default formula), a used calculation or an equation, by position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Step {
    Input(usize),
    Use(usize),
    Equation(usize),
}

/// Orders a file's inputs, uses and equations by need. What stands in or behind a circle comes last.
pub(crate) fn within(calc: &Calculation) -> (Vec<Step>, Vec<Diag>) {
    let steps: Vec<Step> = (0..calc.inputs.len())
        .map(Step::Input)
        .chain((0..calc.uses.len()).map(Step::Use))
        .chain((0..calc.equations.len()).map(Step::Equation))
        .collect();
    let mut index: BTreeMap<&str, usize> = BTreeMap::new();
    for (i, step) in steps.iter().enumerate() {
        index.entry(&name(calc, *step).value).or_insert(i);
    }
    let needs: Vec<Vec<usize>> = steps.iter().map(|step| needs(calc, *step, &index)).collect();
    let (order, rest) = sorted(&needs);
    let mut circles = Vec::new();
    for path in circular_paths(&needs, &rest) {
        circles.push(report(calc, &path.iter().map(|i| name(calc, steps[*i])).collect::<Vec<_>>()));
    }
    (order.into_iter().chain(rest).map(|i| steps[i]).collect(), circles)
}

fn name(calc: &Calculation, step: Step) -> &Located<String> {
    match step {
        Step::Input(i) => &calc.inputs[i].name,
        Step::Use(i) => &calc.uses[i].name,
        Step::Equation(i) => &calc.equations[i].name,
    }
}

fn needs(calc: &Calculation, step: Step, index: &BTreeMap<&str, usize>) -> Vec<usize> {
    let formulas: Vec<&Expr> = match step {
        Step::Input(i) => match &calc.inputs[i].default {
            Some(Located { value: Default::Formula(formula), .. }) => vec![formula],
            _ => Vec::new(),
        },
        Step::Use(i) => calc.uses[i].given.iter().map(|g| g.formula.as_ref()).collect(),
        Step::Equation(i) => vec![&calc.equations[i].formula],
    };
    let mut found: Vec<usize> = formulas.iter().flat_map(|f| f.names()).filter_map(|n| index.get(n).copied()).collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// Positions in an order by need, lowest first among equals, and those in or behind a circle.
fn sorted(needs: &[Vec<usize>]) -> (Vec<usize>, Vec<usize>) {
    let mut users: Vec<Vec<usize>> = vec![Vec::new(); needs.len()];
    let mut open: Vec<usize> = needs.iter().map(Vec::len).collect();
    for (user, list) in needs.iter().enumerate() {
        for need in list {
            users[*need].push(user);
        }
    }
    let mut ready: std::collections::BTreeSet<usize> = (0..needs.len()).filter(|i| open[*i] == 0).collect();
    let mut order = Vec::with_capacity(needs.len());
    while let Some(i) = ready.pop_first() {
        order.push(i);
        for user in &users[i] {
            open[*user] -= 1;
            if open[*user] == 0 {
                ready.insert(*user);
            }
        }
    }
    let rest = (0..needs.len()).filter(|i| open[*i] > 0).collect();
    (order, rest)
}

/// Most steps taken in search of circles; beyond, a file has more circles than anybody reads.
const MOST_STEPS: usize = 5_000_000;

/// The shortest closed path through each of `rest`, unless a path already found goes through it.
fn circular_paths(needs: &[Vec<usize>], rest: &[usize]) -> Vec<Vec<usize>> {
    let mut found: Vec<Vec<usize>> = Vec::new();
    let mut reported = vec![false; needs.len()];
    let mut steps = 0;
    for start in rest {
        if reported[*start] || steps > MOST_STEPS {
            continue;
        }
        // breadth first; `from` remembers the way
        let mut from: BTreeMap<usize, usize> = BTreeMap::new();
        let mut open = std::collections::VecDeque::from([*start]);
        'search: while let Some(at) = open.pop_front() {
            for next in needs[at].iter().filter(|n| rest.binary_search(n).is_ok()) {
                steps += 1;
                if next == start {
                    let mut path = vec![at];
                    while let Some(before) = from.get(&path[path.len() - 1]) {
                        path.push(*before);
                    }
                    path.reverse();
                    path.iter().for_each(|p| reported[*p] = true);
                    found.push(path);
                    break 'search;
                }
                if !from.contains_key(next) {
                    from.insert(*next, at);
                    open.push_back(*next);
                }
            }
        }
    }
    found
}

fn report(calc: &Calculation, path: &[&Located<String>]) -> Diag {
    let mut names: Vec<&str> = path.iter().map(|n| n.value.as_str()).collect();
    names.push(names[0]);
    let message = format!("`{}` needs itself: {}", names[0], names.join(" -> "));
    let mut diag = Diag::error("circle", message).at(Place::span(&calc.file, path[0].span.range()));
    for step in path.iter().skip(1).take(8) {
        diag = diag.with(Place::span(&calc.file, step.span.range()), format!("`{}` is on the way", step.value));
    }
    diag.hint("break the circle: give one of them without the others")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sorts_by_need_and_finds_each_circle_once() {
        // 0 <- 1 <- 2; 3 <-> 4; 5 behind them; 6 needs itself
        let needs = vec![vec![], vec![0], vec![1], vec![4], vec![3], vec![3], vec![6], vec![3, 8], vec![7]];
        let (order, rest) = sorted(&needs);
        assert_eq!((order, rest.clone()), (vec![0, 1, 2], vec![3, 4, 5, 6, 7, 8]));
        assert_eq!(circular_paths(&needs, &rest), vec![vec![3, 4], vec![6], vec![7, 8]]);
    }
}
