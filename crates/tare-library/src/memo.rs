//! Calculations lowered before, kept for the next study that is compiled with this library.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use tare_calc::{Lowered, Shape};
use tare_units::Currency;

/// Entries kept; when there are more all are dropped, and those still used come back.
const MOST: usize = 2_000;
/// Longest lists of a shape that is kept: sums over many parts are seldom met again.
const LONGEST: usize = 48;

type Kept = HashMap<(Option<Currency>, String), HashMap<Shape, Arc<Lowered>>>;

/// Lowered calculations by money, key and shape. What stands here is what lowering would give again; leaving it out changes nothing but time.
#[derive(Clone, Debug, Default)]
pub(crate) struct Memo(Arc<Mutex<Kept>>);

impl Memo {
    pub(crate) fn get<E>(
        &self,
        money: Option<Currency>,
        key: &str,
        shape: &Shape,
        make: impl FnOnce() -> Result<Lowered, E>,
    ) -> Result<Arc<Lowered>, E> {
        if shape.given.iter().flatten().sum::<usize>() > LONGEST {
            return make().map(Arc::new);
        }
        let place = (money, key.to_owned());
        let known = self.lock().get(&place).and_then(|shapes| shapes.get(shape)).map(Arc::clone);
        if let Some(known) = known {
            return Ok(known);
        }
        let made = Arc::new(make()?);
        let mut kept = self.lock();
        if kept.values().map(HashMap::len).sum::<usize>() >= MOST {
            kept.clear();
        }
        kept.entry(place).or_default().insert(shape.clone(), Arc::clone(&made));
        Ok(made)
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Kept> {
        // what a panic elsewhere left is whole: entries are put in at once
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
