//! A word on standard error when work takes longer than half a second.

use std::io::{IsTerminal, Write};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// Says what is going on until it is dropped; says nothing about short work.
pub(crate) struct Progress {
    done: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Progress {
    /// Begins a piece of work. Shown on a terminal, or where `TARE_PROGRESS` is set.
    pub(crate) fn of(what: &str) -> Self {
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
                // One line that is written over; failing to show it is no failure of the work.
                let _ = write!(std::io::stderr(), "\r{what} ... {:.1} s", f64::from(half_seconds) / 2.0);
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
