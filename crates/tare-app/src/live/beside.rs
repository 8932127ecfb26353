//! Results that take seconds: computed on threads of their own when asked for first, and kept for the state they were computed for.

use super::held;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tare_diag::Diag;

/// How long whoever asks waits for a result: one that is there by then needs no second look.
const PATIENCE: Duration = Duration::from_millis(200);

/// What a computation came to.
pub type Came<X> = Result<Arc<X>, Vec<Diag>>;

/// What is known of a result.
#[derive(Clone, Debug)]
pub struct Known<S, X> {
    /// The last result, and the state it is of.
    pub last: Option<(S, Came<X>)>,
    /// Whether that of the state asked for is being computed.
    pub computing: bool,
}

/// Results by key, each of the last state asked for.
#[derive(Debug)]
pub(super) struct Beside<S, X> {
    slots: Mutex<Vec<Slot<S, X>>>,
    done: Condvar,
    /// How many are kept; the one not asked for longest goes first, and its computation stops.
    most: usize,
}

#[derive(Debug)]
struct Slot<S, X> {
    key: String,
    running: Option<Running<S>>,
    last: Option<(S, Came<X>)>,
}

#[derive(Debug)]
struct Running<S> {
    state: S,
    stop: Arc<AtomicBool>,
}

impl<S, X> Drop for Slot<S, X> {
    fn drop(&mut self) {
        self.stop();
    }
}

impl<S, X> Slot<S, X> {
    fn stop(&mut self) {
        if let Some(running) = self.running.take() {
            running.stop.store(true, Ordering::Relaxed);
        }
    }
}

impl<S, X> Beside<S, X>
where
    S: Clone + PartialEq + Send + 'static,
    X: Send + Sync + 'static,
{
    pub(super) fn new(most: usize) -> Arc<Self> {
        Arc::new(Self { slots: Mutex::default(), done: Condvar::new(), most })
    }

    /// The result under a key for a state. Where it is not there yet it is computed by `work`, and that of an older state is given
    /// meanwhile; a computation for another state stops.
    pub(super) fn ask(
        self: &Arc<Self>,
        key: &str,
        state: &S,
        work: impl FnOnce(&AtomicBool) -> Option<Result<X, Vec<Diag>>> + Send + 'static,
    ) -> Known<S, X> {
        let mut slots = held(&self.slots);
        let mut slot = match slots.iter().position(|slot| slot.key == key) {
            Some(at) => slots.remove(at),
            None => Slot { key: key.to_owned(), running: None, last: None },
        };
        let there = slot.last.as_ref().is_some_and(|(of, _)| of == state);
        if !there && slot.running.as_ref().is_none_or(|running| running.state != *state) {
            slot.stop();
            let stop = Arc::new(AtomicBool::new(false));
            slot.running = self.start(key, state, &stop, work).then(|| Running { state: state.clone(), stop });
        }
        slots.push(slot);
        while slots.len() > self.most {
            slots.remove(0);
        }
        let until = Instant::now() + PATIENCE;
        loop {
            let Some(slot) = slots.iter().find(|slot| slot.key == key) else { return Known { last: None, computing: true } };
            let there = slot.last.as_ref().is_some_and(|(of, _)| of == state);
            let left = until.saturating_duration_since(Instant::now());
            if there || left.is_zero() {
                return Known { last: slot.last.clone(), computing: !there };
            }
            slots = self.done.wait_timeout(slots, left).unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// What is there under a key, without asking for more.
    pub(super) fn peek(&self, key: &str) -> Known<S, X> {
        let slots = held(&self.slots);
        let slot = slots.iter().find(|slot| slot.key == key);
        Known { last: slot.and_then(|slot| slot.last.clone()), computing: slot.is_some_and(|slot| slot.running.is_some()) }
    }

    /// Stops what is being computed under a key.
    pub(super) fn stop(&self, key: &str) {
        held(&self.slots).iter_mut().filter(|slot| slot.key == key).for_each(Slot::stop);
        self.done.notify_all();
    }

    /// Starts a thread; tells whether there is one.
    fn start(
        self: &Arc<Self>,
        key: &str,
        state: &S,
        stop: &Arc<AtomicBool>,
        work: impl FnOnce(&AtomicBool) -> Option<Result<X, Vec<Diag>>> + Send + 'static,
    ) -> bool {
        let (beside, key, state, stop) = (Arc::clone(self), key.to_owned(), state.clone(), Arc::clone(stop));
        let run = move || {
            let came = match catch_unwind(AssertUnwindSafe(|| work(&stop))) {
                Ok(came) => came.map(|came| came.map(Arc::new)),
                Err(_) => {
                    Some(Err(vec![Diag::error("bug", "this computation failed; what it said stands where the program runs")]))
                }
            };
            let mut slots = held(&beside.slots);
            let mine = |running: &Running<S>| Arc::ptr_eq(&running.stop, &stop);
            if let Some(slot) = slots.iter_mut().find(|slot| slot.key == key && slot.running.as_ref().is_some_and(mine)) {
                slot.running = None;
                if let Some(came) = came {
                    slot.last = Some((state, came));
                }
            }
            drop(slots);
            beside.done.notify_all();
        };
        std::thread::Builder::new().name("beside".to_owned()).spawn(run).is_ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::channel;

    fn text(known: &Known<u64, String>) -> Option<(u64, String)> {
        known.last.as_ref().map(|(of, came)| (*of, came.as_ref().expect("no failure").to_string()))
    }

    #[test]
    fn the_last_result_stands_until_the_next_is_there_and_is_not_computed_twice() {
        let beside = Beside::<u64, String>::new(2);
        let first = beside.ask("a", &1, |_| Some(Ok("one".to_owned())));
        assert_eq!((text(&first), first.computing), (Some((1, "one".to_owned())), false));
        let again = beside.ask("a", &1, |_| panic!("it is there"));
        assert_eq!(text(&again), text(&first));

        let (go, wait) = channel::<()>();
        let next = beside.ask("a", &2, move |_| {
            wait.recv().expect("told to go on");
            Some(Ok("two".to_owned()))
        });
        assert_eq!((text(&next), next.computing), (Some((1, "one".to_owned())), true));
        go.send(()).expect("it waits");
        let then = beside.ask("a", &2, |_| panic!("it is on its way"));
        assert_eq!((text(&then), then.computing), (Some((2, "two".to_owned())), false));
    }

    #[test]
    fn another_state_and_a_key_put_away_stop_what_runs() {
        let beside = Beside::<u64, String>::new(1);
        let (told, heard) = channel::<&'static str>();
        let until_stopped = |name: &'static str| {
            let told = told.clone();
            move |stop: &AtomicBool| {
                while !stop.load(Ordering::Relaxed) {
                    std::thread::yield_now();
                }
                told.send(name).expect("somebody listens");
                None
            }
        };
        beside.ask("a", &1, until_stopped("the older state"));
        beside.ask("a", &2, until_stopped("the other key"));
        assert_eq!(heard.recv(), Ok("the older state"));
        beside.ask("b", &1, until_stopped("by hand"));
        assert_eq!(heard.recv(), Ok("the other key"));
        beside.stop("b");
        assert_eq!(heard.recv(), Ok("by hand"));
    }

    #[test]
    fn a_failure_is_said_and_does_not_end_the_keeper() {
        let beside = Beside::<u64, String>::new(1);
        let failed = beside.ask("a", &1, |_| Some(Err(vec![Diag::error("wrong", "it is wrong")])));
        assert!(failed.last.is_some_and(|(_, came)| came.is_err_and(|problems| problems[0].code == "wrong")));
    }
}
