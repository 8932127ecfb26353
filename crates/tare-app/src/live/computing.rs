//! The thread that keeps the numbers of a live study up to date.

use super::spares::Spares;
use super::{Event, LiveStudy, held};
use crate::clock;
use crate::history::PROGRAM;
use crate::ranges::of_headlines;
use crate::workspace::Stamp;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::sync::{Arc, Weak};
use std::time::Duration;
use tare_analysis::Stop;
use tare_library::Library;
use tare_model::{Document, Edit, Field, Id, Kind};
use tare_study::Study;

/// How often entries of other programs are looked for.
const LOOK: Duration = Duration::from_secs(2);
/// How long nothing has to happen before ranges are drawn: while somebody types, they would be out of date when they come. Of a large study, whose
/// draws take seconds, it takes a real pause: pages come first.
const QUIET: [Duration; 2] = [Duration::from_millis(300), Duration::from_secs(5)];
/// Parts of a study that is not large.
const FEW: usize = 1_000;
/// Draws behind the headlines of a desk.
const DRAWS: u64 = 10_240;

/// Fields of a value that do not change how it is computed with, or only by its number and spread.
const SAID: [Field; 9] =
    [Field::Text, Field::Evidence, Field::Source, Field::Says, Field::Who, Field::When, Field::File, Field::Cell, Field::Raw];

/// What the thread is told.
pub(super) enum Work {
    /// An entry was recorded.
    Entry { number: u64, edits: Vec<Edit> },
    /// The document is another one: entries came out of turn.
    Whole { number: u64, document: Box<Document> },
}

/// Starts the thread; it ends when nobody holds the study any more.
pub(super) fn start(study: &Arc<LiveStudy>, queue: Receiver<Work>, document: Document, head: u64, library: Arc<Library>) {
    let computer = Computer {
        study: Arc::downgrade(study),
        document,
        head,
        library,
        shown: Spares::default(),
        values: Vec::new(),
        anew: false,
        drawn: false,
        quiet: quiet(&study.now().study),
    };
    // without a thread the first numbers stand and pages say of which entry they are
    let _ = std::thread::Builder::new().name("computer".to_owned()).spawn(move || computer.run(&queue));
}

fn quiet(study: &Study) -> Duration {
    QUIET[usize::from(study.parts.len() > FEW)]
}

struct Computer {
    study: Weak<LiveStudy>,
    document: Document,
    head: u64,
    /// The library with the texts the study holds.
    library: Arc<Library>,
    /// Studies published before, with the values that changed since.
    shown: Spares<Study, Id>,
    /// Values whose text has changed since the last publication.
    values: Vec<Id>,
    /// Whether something else has changed, so that the study is compiled anew.
    anew: bool,
    /// Whether the ranges of this state were drawn.
    drawn: bool,
    /// How long nothing has to happen before they are.
    quiet: Duration,
}

impl Computer {
    fn run(mut self, queue: &Receiver<Work>) {
        loop {
            let wait = if self.drawn { LOOK } else { self.quiet };
            match queue.recv_timeout(wait) {
                Ok(work) => {
                    self.take(work);
                    while let Ok(work) = queue.try_recv() {
                        self.take(work);
                    }
                    let Some(study) = self.study.upgrade() else { return };
                    held(&study.stop).store(true, Ordering::Relaxed);
                    self.publish_or_say(&study);
                }
                Err(RecvTimeoutError::Timeout) => {
                    let Some(study) = self.study.upgrade() else { return };
                    if self.anew {
                        self.publish_or_say(&study);
                    } else if !std::mem::replace(&mut self.drawn, true) {
                        draw(study);
                    } else {
                        // what another program damaged is said by the next edit
                        let _ = study.catch_up();
                    }
                }
                Err(RecvTimeoutError::Disconnected) => return,
            }
        }
    }

    fn take(&mut self, work: Work) {
        match work {
            Work::Entry { number, edits } => {
                for edit in &edits {
                    self.anew |= self.document.replay(edit).is_err();
                    match edit {
                        // what is said beside a value's text may concern its spread: taking it over finds that out
                        Edit::Set(set) if SAID.contains(&set.field) && is_value(&self.document, set.id) => {
                            self.values.push(set.id)
                        }
                        Edit::Add { records, .. } if records.iter().all(|r| r.kind == Kind::Lock) => {}
                        _ => self.anew = true,
                    }
                }
                self.head = number;
            }
            Work::Whole { number, document } => {
                self.shown.clear();
                (self.document, self.head, self.anew) = (*document, number, true);
            }
        }
    }

    /// Publishes; a fault of the program is said on the pages and does not end the thread.
    fn publish_or_say(&mut self, live: &Arc<LiveStudy>) {
        let head = self.head;
        let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| self.publish(live)));
        let trouble = done.is_err().then(|| format!("the computation of entry {head} failed; numbers are of an earlier one"));
        // it is tried again with the next entry
        self.anew &= trouble.is_none();
        if trouble.is_some() || live.now().trouble.is_some() {
            live.show_now(|now| now.trouble = trouble);
        }
    }

    fn publish(&mut self, live: &Arc<LiveStudy>) {
        let values = std::mem::take(&mut self.values);
        let taken = if self.anew { None } else { self.taken(live, &values) };
        let anew = taken.is_none();
        // until it is published: what was taken out of the list must not be forgotten
        self.anew = anew;
        let study = taken.or_else(|| self.compiled(live));
        // texts that do not read leave the last numbers standing; the next edit says why
        let Some(study) = study else { return };
        self.anew = false;
        let head = self.head;
        self.quiet = quiet(&study);
        let old = live.show_now(|now| {
            (now.study, now.computed, now.library) = (Arc::new(study), head, Arc::clone(&self.library));
        });
        if anew {
            self.shown.clear();
        } else {
            self.shown.retire(Arc::clone(&old.study), &values);
        }
        drop(old);
        self.drawn = false;
        (live.live.tell)(live.id, Event::Computed { head });
    }

    /// The study with values taken over, where its graph stays as it is.
    fn taken(&mut self, live: &Arc<LiveStudy>, values: &[Id]) -> Option<Study> {
        let (mut study, mut due) = self.shown.take().unwrap_or_else(|| (Study::clone(&live.now().study), Vec::new()));
        due.extend(values);
        due.sort_unstable();
        due.dedup();
        study.take_values(&self.document, &self.library, &due).then_some(study)
    }

    /// The study compiled, and held to the texts it has come to use.
    fn compiled(&mut self, live: &Arc<LiveStudy>) -> Option<Study> {
        self.shown.clear();
        let workspace = &live.live;
        let texts = held(&workspace.session).workspace.held(&workspace.library(), &self.document).ok()?;
        let (mut used, study) = texts.used(&self.document);
        self.library = texts.library;
        for lock in self.document.of_kind(None, Kind::Lock) {
            lock.text(Field::Key).map(|key| used.remove(key));
        }
        if !used.is_empty() {
            // without them the study follows a newer library, which its pages say
            let _ = live.hold(&used);
        }
        Some(study)
    }
}

fn is_value(document: &Document, id: Id) -> bool {
    document.get(id).is_some_and(|record| record.kind == Kind::Value)
}

impl LiveStudy {
    /// Records that the study holds on to texts it has come to use.
    fn hold(&self, texts: &std::collections::BTreeMap<String, String>) -> Result<(), Vec<tare_diag::Diag>> {
        let mut guard = self.writing().map_err(|refused| refused.problems().to_vec())?;
        let writing = &mut *guard;
        self.catch_up_with(writing).map_err(|d| vec![d])?;
        let session = held(&self.live.session);
        let changes = session.workspace.keep(&writing.loaded.document, texts, |_, _| None)?;
        let edits = writing.loaded.document.change_all(&changes)?;
        let says = match texts.len() {
            1 => "holds on to the text of what it has come to use".to_owned(),
            many => format!("holds on to {many} texts of what it has come to use"),
        };
        let (before, stamp) = (writing.loaded.head, Stamp { author: PROGRAM.to_owned(), says });
        let recorded = session.workspace.commit(&mut writing.loaded, edits, &stamp, None, clock::new_id())?;
        drop(session);
        writing.shape += u64::from(recorded.number != before + 1);
        self.log_since(before).map_err(|d| vec![d])?;
        self.show(writing, before, recorded, PROGRAM, "");
        Ok(())
    }
}

/// Draws the ranges of the headlines in a thread of their own, until another entry comes.
fn draw(live: Arc<LiveStudy>) {
    let stop = Arc::new(AtomicBool::new(false));
    *held(&live.stop) = Arc::clone(&stop);
    let draw = move || {
        let (document, study, library, head) = {
            let now = live.now();
            if now.ranges.as_ref().is_some_and(|(of, _)| *of == now.computed) {
                return;
            }
            (Arc::clone(&now.document), Arc::clone(&now.study), Arc::clone(&now.library), now.computed)
        };
        // half the machine stays for pages
        let threads = (crate::ranges::threads() / 2).max(1);
        let options = tare_analysis::Options { most: DRAWS, threads, ..tare_analysis::Options::default() };
        let found = of_headlines(&document, &study, &library, options, Stop { stop: Some(&*stop), ..Stop::default() });
        drop(study);
        if let Some(found) = found.filter(|_| !stop.load(Ordering::Relaxed)) {
            live.show_now(|now| now.ranges = Some((head, Arc::new(found))));
            (live.live.tell)(live.id, Event::Ranges { head });
        }
    };
    // without a thread pages say that ranges are not drawn
    let _ = std::thread::Builder::new().name("draws".to_owned()).spawn(draw);
}
