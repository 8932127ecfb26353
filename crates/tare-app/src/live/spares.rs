//! Copies that were shown before: once nobody looks at them any more they take over what changed, instead of a new copy being made.

use std::collections::VecDeque;
use std::sync::Arc;

/// Copies that are kept; each takes as much memory as what is shown.
const KEPT: usize = 3;

/// Copies shown before, each with the changes since.
#[derive(Debug)]
pub(super) struct Spares<T, C> {
    held: VecDeque<(Arc<T>, Vec<C>)>,
}

impl<T, C> Default for Spares<T, C> {
    fn default() -> Self {
        Self { held: VecDeque::new() }
    }
}

impl<T, C: Clone> Spares<T, C> {
    /// A copy that nobody looks at, and the changes it lacks.
    pub(super) fn take(&mut self) -> Option<(T, Vec<C>)> {
        let at = self.held.iter().position(|(copy, _)| Arc::strong_count(copy) == 1)?;
        let (copy, lacks) = self.held.remove(at)?;
        Arc::try_unwrap(copy).ok().map(|copy| (copy, lacks))
    }

    /// Keeps a copy that is shown no longer; it and the others lack these changes.
    pub(super) fn retire(&mut self, copy: Arc<T>, changes: &[C]) {
        self.held.push_back((copy, Vec::new()));
        while self.held.len() > KEPT {
            self.held.pop_front();
        }
        for (_, lacks) in &mut self.held {
            lacks.extend_from_slice(changes);
        }
    }

    /// Lets all go: the changes they lack are not known.
    pub(super) fn clear(&mut self) {
        self.held.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_in_use_is_left_alone_and_each_knows_what_it_lacks() {
        let mut spares = Spares::default();
        let (one, two) = (Arc::new(vec![0]), Arc::new(vec![0, 1]));
        let looked_at = Arc::clone(&one);
        spares.retire(one, &[1]);
        assert!(spares.take().is_none());
        spares.retire(two, &[2]);
        assert_eq!(spares.take(), Some((vec![0, 1], vec![2])));
        drop(looked_at);
        assert_eq!(spares.take(), Some((vec![0], vec![1, 2])));
        assert!(spares.take().is_none());
    }
}
