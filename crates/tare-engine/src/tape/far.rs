//! Registers whose lanes have left the near caches by the time they are read again.

use super::{OUT, SCALAR, Step, Tape};
use crate::op::Op;

/// Steps after which a lane is taken to have gone: each step writes one of a kilobyte, and a second cache holds 512 to 2048 of them.
const GONE: u32 = 1024;
/// Steps ahead of its reading that a lane is asked for: long enough to come, short enough to stay.
const LEAD: u32 = 8;

/// A register to be asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Far {
    /// The step with which to ask.
    pub(crate) with: u32,
    pub(crate) register: u32,
}

impl Far {
    /// The step with which the first of some is due; none where there are none.
    #[inline(always)]
    pub(crate) fn first(of: &[Self]) -> u32 {
        of.first().map_or(u32::MAX, |far| far.with)
    }
}

/// What to ask for, in the order of steps.
pub(super) fn far(tape: &Tape) -> Vec<Far> {
    let mut touched = vec![0; tape.registers];
    let mut far = Vec::new();
    for (at, step) in (0_u32..).zip(&tape.steps) {
        each_read(tape, step, |register| {
            if at - std::mem::replace(&mut touched[register as usize], at) > GONE {
                far.push(Far { with: at - LEAD, register });
            }
        });
        if step.op != Op::Const && step.to & OUT == 0 {
            touched[step.to as usize] = at;
        }
    }
    far
}

/// Goes through the registers that a step reads.
fn each_read(tape: &Tape, step: &Step, mut read: impl FnMut(u32)) {
    let listed = || tape.lists[step.list()].iter().copied();
    let mut all = |operands: &mut dyn Iterator<Item = u32>| operands.filter(|packed| packed & SCALAR == 0).for_each(&mut read);
    match step.op {
        Op::Leaf => {}
        Op::Const => all(&mut [step.a].into_iter()),
        Op::Pick => all(&mut std::iter::once(step.a).chain(listed())),
        Op::Find => all(&mut listed().chain(tape.searches[step.a as usize].cells.iter().copied())),
        op => {
            let own = op.arity().unwrap_or(0) + usize::from(step.then.is_some());
            all(&mut [step.a, step.b, step.c].into_iter().take(own));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Graph, eval_point};

    /// Sums a leaf up `count` times, each time with a root in between, and adds another leaf that was the first to be drawn.
    fn with_old_leaf(count: u32) -> Tape {
        let mut graph = Graph::default();
        let (old, leaf) = (graph.leaf(), graph.leaf());
        let mut sum = graph.push(Op::Sqrt, &[old]);
        for _ in 0..count {
            let more = graph.push(Op::Sqrt, &[leaf]);
            sum = graph.push(Op::Max, &[sum, more]);
        }
        let result = graph.push(Op::Add, &[sum, old]);
        let mut values = Vec::new();
        eval_point(&graph, &[1.0; 2], &mut values);
        Tape::new(&graph, &values, &[true; 2], &[result])
    }

    #[test]
    fn what_was_just_touched_is_at_hand() {
        assert_eq!(with_old_leaf(10).far, []);
    }

    #[test]
    fn what_was_touched_long_ago_is_asked_for_a_few_steps_before() {
        let tape = with_old_leaf(GONE);
        let last = tape.steps.len() as u32 - 1;
        let [a, b] = [tape.steps[last as usize].a, tape.steps[last as usize].b];
        let old = tape.steps.iter().find(|step| step.op == Op::Leaf).expect("a leaf").to;
        assert!([a, b].contains(&old), "the old leaf is read last");
        assert_eq!(tape.far, [Far { with: last - LEAD, register: old }]);
    }

    #[test]
    fn operands_of_all_kinds_are_read() {
        let mut graph = Graph::default();
        let leaves: [_; 3] = std::array::from_fn(|_| graph.leaf());
        let pick = graph.pick(leaves[0], &[leaves[1], leaves[2]]);
        let mut values = Vec::new();
        eval_point(&graph, &[1.0; 3], &mut values);
        let tape = Tape::new(&graph, &values, &[true; 3], &[pick, leaves[1]]);
        let reads = |op: Op| {
            let step = tape.steps.iter().find(|step| step.op == op).expect("such a step");
            let mut found = Vec::new();
            each_read(&tape, step, |register| found.push(register));
            found.sort_unstable();
            found
        };
        assert_eq!((reads(Op::Pick), reads(Op::Leaf)), (vec![0, 1, 2], vec![]));
        let joined = Step { op: Op::Mul, then: Some(super::super::Then::Add), to: 0, a: 2, b: SCALAR, c: 1 };
        let mut found = Vec::new();
        each_read(&tape, &joined, |register| found.push(register));
        assert_eq!(found, [2, 1]);
        assert_eq!(reads(Op::Const).len(), 1);
    }
}
