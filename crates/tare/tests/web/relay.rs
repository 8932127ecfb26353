//! A bad network between browser and server: connections that break, and answers that are lost when the work was done.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::atomic::{AtomicU8, AtomicU32, Ordering};
use std::sync::{Arc, Mutex};

const OPEN: u8 = 0;
const CUT: u8 = 1;
const DEAF: u8 = 2;

/// Stands before a server and hands bytes on, as long as it is told to.
pub(crate) struct Relay {
    /// Its address, to be used in place of the server's.
    pub(crate) url: String,
    line: Arc<Line>,
}

#[derive(Default)]
struct Line {
    own: String,
    state: AtomicU8,
    lost: AtomicU32,
    open: Mutex<Vec<TcpStream>>,
}

impl Relay {
    /// A relay before the server at `url`.
    pub(crate) fn before(url: &str) -> Self {
        let server = url.trim_start_matches("http://").trim_end_matches('/').to_owned();
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let own = listener.local_addr().expect("an address").to_string();
        let url = format!("http://{own}/");
        assert_eq!(own.len(), server.len(), "addresses are put in each other's place, so they are of one length");
        let line = Arc::new(Line { own, ..Line::default() });
        let of_thread = Arc::clone(&line);
        std::thread::spawn(move || {
            for browser in listener.incoming().map_while(Result::ok) {
                of_thread.join(browser, &server);
            }
        });
        Self { url, line }
    }

    /// Breaks every connection, streams of events included, and takes no more.
    pub(crate) fn cut(&self) {
        self.line.turn(CUT);
    }

    /// From here on requests reach the server, and its answers get lost on the way back.
    pub(crate) fn lose_answers(&self) {
        self.line.turn(DEAF);
    }

    /// All is well again.
    pub(crate) fn mend(&self) {
        self.line.turn(OPEN);
    }

    /// How many answers were lost so far.
    pub(crate) fn lost(&self) -> u32 {
        self.line.lost.load(Ordering::SeqCst)
    }
}

impl Line {
    fn turn(&self, state: u8) {
        // under the lock, so that no connection slips in between
        let mut open = self.open.lock().expect("no panic in a relay");
        self.state.store(state, Ordering::SeqCst);
        if state == CUT {
            for stream in open.drain(..) {
                let _ = stream.shutdown(Shutdown::Both);
            }
        }
    }

    /// Connects a browser through, or drops it.
    fn join(self: &Arc<Self>, browser: TcpStream, address: &str) {
        let Ok(server) = TcpStream::connect(address) else { return };
        let mut open = self.open.lock().expect("no panic in a relay");
        if self.state.load(Ordering::SeqCst) == CUT {
            return;
        }
        let twin = |stream: &TcpStream| stream.try_clone().expect("a second handle");
        open.extend([twin(&browser), twin(&server)]);
        let (there, back) = ((twin(&browser), twin(&server)), (server, browser));
        let (line, own, address) = (Arc::clone(self), self.own.clone(), address.to_owned());
        // the server answers those alone who ask for it by its own address
        std::thread::spawn(move || pump(there, |bytes| replace(bytes, own.as_bytes(), address.as_bytes())));
        std::thread::spawn(move || pump(back, |_| line.passes()));
    }

    /// Whether an answer gets through now.
    fn passes(&self) -> bool {
        let passes = self.state.load(Ordering::SeqCst) != DEAF;
        self.lost.fetch_add(u32::from(!passes), Ordering::SeqCst);
        passes
    }
}

/// Hands bytes on until either side ends; then both do.
fn pump((mut from, mut to): (TcpStream, TcpStream), passes: impl Fn(&mut [u8]) -> bool) {
    let mut bytes = [0; 16 * 1024];
    while let Ok(length @ 1..) = from.read(&mut bytes) {
        if !passes(&mut bytes[..length]) || to.write_all(&bytes[..length]).is_err() {
            break;
        }
    }
    let _ = from.shutdown(Shutdown::Both);
    let _ = to.shutdown(Shutdown::Both);
}

/// Puts one address in the place of another of the same length: a head comes whole, since browsers write it at once.
fn replace(bytes: &mut [u8], from: &[u8], to: &[u8]) -> bool {
    for at in 0..(bytes.len() + 1).saturating_sub(from.len()) {
        if bytes[at..].starts_with(from) {
            bytes[at..at + to.len()].copy_from_slice(to);
        }
    }
    true
}
