//! A word on standard error when work takes longer than half a second.

use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;
use tare_app::Stop;

/// Says what is going on until it is dropped; says nothing about short work.
pub(crate) struct Progress {
    done: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Progress {
    /// Begins a piece of work. Shown on a terminal, or where `TARE_PROGRESS` is set.
    pub(crate) fn of(what: &str) -> Self {
        Self::telling(what, |_| String::new())
    }

    /// As [`Progress::of`], with what `more` has to say after so many seconds.
    fn telling(what: &str, more: impl Fn(f64) -> String + Send + 'static) -> Self {
        let asked = std::env::var_os("TARE_PROGRESS").is_some();
        if !asked && !std::io::stderr().is_terminal() {
            return Self { done: None, thread: None };
        }
        let (done, wait) = channel();
        let what = what.to_owned();
        let thread = std::thread::spawn(move || {
            let mut half_seconds = 0;
            while wait.recv_timeout(Duration::from_millis(500)) == Err(RecvTimeoutError::Timeout) {
                half_seconds += 1;
                let seconds = f64::from(half_seconds) / 2.0;
                // One line that is written over; failing to show it is no failure of the work.
                let _ = write!(std::io::stderr(), "\r{what} ... {seconds:.1} s{}", more(seconds));
                let _ = std::io::stderr().flush();
            }
            if half_seconds > 0 {
                let _ = writeln!(std::io::stderr());
            }
        });
        Self { done: Some(done), thread: Some(thread) }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        drop(self.done.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Draws being made: how many per second, and an ear for the key that stops them.
pub(crate) struct Drawing {
    stop: Arc<AtomicBool>,
    done: Arc<AtomicU64>,
    _progress: Progress,
}

impl Drawing {
    /// Begins. The first interrupt (Ctrl-C) stops the draws and lets the command end in order, the second ends the program.
    pub(crate) fn begin() -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let signal = signal_hook::consts::SIGINT;
        // without an ear the key ends the program at once, as it would anyway
        let _ = signal_hook::flag::register_conditional_shutdown(signal, 130, Arc::clone(&stop));
        let _ = signal_hook::flag::register(signal, Arc::clone(&stop));
        let done = Arc::new(AtomicU64::new(0));
        let counted = Arc::clone(&done);
        let rate = move |seconds: f64| {
            let draws = counted.load(Ordering::Relaxed) as f64 * tare_app::ranges::CHUNK as f64;
            format!(", {draws:.0} draws, {:.0} a second; Ctrl-C stops", draws / seconds)
        };
        Self { stop, done, _progress: Progress::telling("drawing", rate) }
    }

    /// What the draws look at.
    pub(crate) fn watch(&self) -> Stop<'_> {
        Stop { stop: Some(&self.stop), done: Some(&self.done) }
    }
}
