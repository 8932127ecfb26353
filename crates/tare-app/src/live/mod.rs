//! A workspace that several people work in at once.
//!
//! Three copies of a study move one behind the other, so that nobody waits for anybody: the writer's, to which edits are made one by one and
//! recorded durably; the readers', which follows within the same call and is never changed under their eyes; and the computer's, a thread that takes what has gathered and publishes the
//! study computed anew. [`Now::computed`] tells which entry the numbers are of. What other programs record in the same workspace is noticed
//! within two seconds.

mod across;
mod beside;
mod computing;
mod ideas;
mod spares;
mod what_if;
mod writing;

use crate::address::{Addresses, Index};
use crate::history::Log;
use crate::ranges::Ranges;
use crate::session::Session;
use crate::view::{ChangeRows, SetView};
use crate::workspace::{DocumentInfo, Loaded, Workspace, read_edits};
pub use across::{Comparison, Gathered, StudyFor};
use beside::Beside;
pub use beside::{Came, Known};
pub use ideas::{AtLine, IdeasFound, Read, Together};
use spares::Spares;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock};
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Document, DocumentKind, Edit, Id};
use tare_study::Study;
pub use what_if::WhatIf;
pub(crate) use writing::plain;
pub use writing::{Command, Conflicting, Done, NewRecord, Refused, Request, of_the_store};

/// Something that happened to a study, for those who look at it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// An entry was recorded.
    Entry {
        /// Its number.
        number: u64,
        /// Who.
        author: String,
        /// What it says.
        says: String,
        /// The device it came from, where it said so.
        device: String,
        /// Records it concerns.
        records: Vec<Id>,
    },
    /// Numbers of an entry are there.
    Computed {
        /// The entry.
        head: u64,
    },
    /// Ranges of an entry are there.
    Ranges {
        /// The entry.
        head: u64,
    },
}

/// What tells the studies of a workspace apart.
pub type Key = Id;

type Tell = Box<dyn Fn(Id, Event) + Send + Sync>;

/// An open workspace for many.
pub struct Live {
    /// Writes; its workspace has no library, so that recording an entry does not wait for a computation.
    session: Mutex<Session>,
    /// Reads journals, texts and photos beside the writer.
    reader: Mutex<Workspace>,
    /// As it is with the workspace's own files; studies hold on to the texts they use.
    library: RwLock<Arc<Library>>,
    folder: PathBuf,
    studies: Mutex<BTreeMap<Id, Arc<LiveStudy>>>,
    /// Clients of studies, each as of an entry.
    clients: Mutex<BTreeMap<Id, (u64, Option<String>)>>,
    /// Comparisons by what is compared.
    comparisons: Arc<Beside<String, Comparison>>,
    /// Studies read for questions, by which are wanted; each takes as much memory as its facts.
    collections: Arc<Beside<String, Gathered>>,
    tell: Tell,
}

/// Comparisons that are kept.
const COMPARISONS: usize = 8;
/// Collections that are kept.
const COLLECTIONS: usize = 3;
/// Best sets of a study that are kept.
const SETS: usize = 4;
/// Ideas of a study whose changes line by line are kept.
const CHANGES: usize = 32;

/// A study as readers see it: it stays as it is for as long as they look.
#[derive(Clone)]
pub struct Now {
    /// The document.
    pub document: Arc<Document>,
    /// The number of its last entry.
    pub head: u64,
    /// The study computed.
    pub study: Arc<Study>,
    /// The entry the numbers are of; behind `head` for a moment after an edit.
    pub computed: u64,
    /// The library the study computes with.
    pub library: Arc<Library>,
    /// Ranges of the headlines, with the entry they are of.
    pub ranges: Option<(u64, Arc<Ranges>)>,
    /// What is wrong with the computation, where it failed.
    pub trouble: Option<String>,
    /// Counts changes of anything that bears an address.
    shape: u64,
}

/// One study of a live workspace.
pub struct LiveStudy {
    /// Its identifier.
    pub id: Id,
    /// Its name.
    pub name: String,
    live: Arc<Live>,
    now: RwLock<Arc<Now>>,
    writing: Mutex<Writing>,
    /// The journal as rows; entries by their own identifiers, so that what is sent twice is recorded once.
    log: Mutex<Log>,
    /// Addresses of the last shape asked about.
    index: Mutex<Option<(u64, Arc<Index>)>>,
    work: Mutex<Sender<computing::Work>>,
    /// Ends draws whose study is out of date.
    stop: Mutex<Arc<AtomicBool>>,
    /// Its ideas.
    ideas: Arc<Beside<u64, IdeasFound>>,
    /// What ideas change line by line, by label.
    changes: Arc<Beside<u64, ChangeRows>>,
    /// The best set of its ideas, by stake.
    sets: Arc<Beside<u64, SetView>>,
}

/// The writer's copy.
struct Writing {
    loaded: Loaded,
    shape: u64,
    /// Copies that readers saw before.
    shown: Spares<Document, Edit>,
}

/// A lock whose holder panicked is used on: nothing behind it is changed in steps, but for the writer's copy, which
/// [`LiveStudy::writing`] sees to.
fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Live {
    /// Opens a workspace; `tell` hears what happens to its studies.
    ///
    /// # Errors
    /// Messages of the workspace or of its own library.
    pub fn open(folder: &Path, tell: impl Fn(Id, Event) + Send + Sync + 'static) -> Result<Arc<Self>, Vec<Diag>> {
        let mut session = Session::open(folder, true)?;
        session.workspace.library = None;
        let reader = Workspace::open(folder, true).map_err(|d| vec![d])?;
        let library = RwLock::new(Arc::clone(&session.library));
        Ok(Arc::new(Self {
            session: Mutex::new(session),
            reader: Mutex::new(reader),
            library,
            folder: folder.to_path_buf(),
            studies: Mutex::default(),
            clients: Mutex::default(),
            comparisons: Beside::new(COMPARISONS),
            collections: Beside::new(COLLECTIONS),
            tell: Box::new(tell),
        }))
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The library.
    pub fn library(&self) -> Arc<Library> {
        Arc::clone(&self.library.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// Writes a calculation into the workspace's own library and takes it in. Studies that hold another text of it go on with that.
    ///
    /// # Errors
    /// A key that is no plain name, or a file that cannot be written.
    pub fn keep_calculation(&self, key: &str, text: &str) -> Result<(), Vec<Diag>> {
        let plain =
            |part: &str| !part.is_empty() && part.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
        if key.split('/').count() != 2 || !key.split('/').all(plain) {
            let says = format!(
                "`{key}` is no key of a calculation, expected a folder and a name in small letters, such as `processes/own-press`"
            );
            return Err(vec![Diag::error("calculation-key", says)]);
        }
        let file = self.folder.join("library").join(format!("{key}.toml"));
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder).map_err(|error| vec![crate::files::file_diag(&error, folder)])?;
        }
        crate::files::write(&file, text.as_bytes()).map_err(|d| vec![d])?;
        self.renew_library()
    }

    /// Takes in what stands in the workspace's own library now.
    fn renew_library(&self) -> Result<(), Vec<Diag>> {
        let (library, _) = crate::session::library_with(&crate::session::own_files(&self.folder)?);
        *self.library.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(library);
        Ok(())
    }

    /// The studies of the workspace.
    ///
    /// # Errors
    /// One message of the store.
    pub fn studies(&self) -> Result<Vec<DocumentInfo>, Diag> {
        Ok(self.reading().documents()?.into_iter().filter(|d| d.kind == DocumentKind::Study).collect())
    }

    /// The workspace for reading: journals, photos, books.
    pub fn reading(&self) -> MutexGuard<'_, Workspace> {
        held(&self.reader)
    }

    /// The study of a name, opened and computed when it is first asked for.
    ///
    /// # Errors
    /// Nothing is called so, or it does not load.
    pub fn study(self: &Arc<Self>, name: &str) -> Result<Arc<LiveStudy>, Vec<Diag>> {
        let info = self.reading().study(Some(name)).map_err(|d| vec![d])?;
        let mut studies = held(&self.studies);
        if let Some(study) = studies.get(&info.id) {
            return Ok(Arc::clone(study));
        }
        let study = LiveStudy::open(self, &info)?;
        studies.insert(info.id, Arc::clone(&study));
        Ok(study)
    }
}

impl LiveStudy {
    fn open(live: &Arc<Live>, info: &DocumentInfo) -> Result<Arc<Self>, Vec<Diag>> {
        let session = held(&live.session);
        let loaded = session.workspace.load(info).map_err(|d| vec![d])?;
        let entries = session.workspace.entries(info.id).map_err(|d| vec![d])?;
        let mut log = Log::default();
        // one that came in between the two readings is caught up with later
        for entry in entries.iter().filter(|entry| entry.sequence <= loaded.head) {
            log.take(entry, &read_edits(entry).map_err(|d| vec![d])?);
        }
        drop(entries);
        let texts = session.workspace.held(&live.library(), &loaded.document)?;
        drop(session);
        let study = Arc::new(texts.compile(&loaded.document));
        let now = Now {
            document: Arc::new(loaded.document.clone()),
            head: loaded.head,
            study,
            computed: loaded.head,
            library: Arc::clone(&texts.library),
            ranges: None,
            trouble: None,
            shape: 0,
        };
        let (work, queue) = std::sync::mpsc::channel();
        let document = loaded.document.clone();
        let head = loaded.head;
        let study = Arc::new(Self {
            id: info.id,
            name: info.name.clone(),
            live: Arc::clone(live),
            now: RwLock::new(Arc::new(now)),
            writing: Mutex::new(Writing { loaded, shape: 0, shown: Spares::default() }),
            log: Mutex::new(log),
            index: Mutex::default(),
            work: Mutex::new(work),
            stop: Mutex::default(),
            ideas: Beside::new(1),
            changes: Beside::new(CHANGES),
            sets: Beside::new(SETS),
        });
        computing::start(&study, queue, document, head, texts.library);
        Ok(study)
    }

    /// The study as it is now.
    pub fn now(&self) -> Arc<Now> {
        Arc::clone(&self.now.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// Shows something else from now on; gives what was shown.
    fn show_now(&self, change: impl FnOnce(&mut Now)) -> Arc<Now> {
        let mut shown = self.now.write().unwrap_or_else(PoisonError::into_inner);
        let mut now = Now::clone(&shown);
        change(&mut now);
        std::mem::replace(&mut *shown, Arc::new(now))
    }

    /// The workspace it belongs to.
    pub fn live(&self) -> &Arc<Live> {
        &self.live
    }

    /// The addresses of a document of this study: of what readers see.
    pub fn addresses<'a>(&self, now: &'a Now) -> Addresses<'a> {
        Addresses::with(&now.document, self.index_of(&now.document, now.shape))
    }

    fn index_of(&self, document: &Document, shape: u64) -> Arc<Index> {
        let mut kept = held(&self.index);
        match kept.as_ref() {
            Some((of, index)) if *of == shape => Arc::clone(index),
            _ => {
                let index = Arc::new(Index::new(document));
                *kept = Some((shape, Arc::clone(&index)));
                index
            }
        }
    }

    /// The entries that name a record, newest first, a few of them.
    pub fn entries_about(&self, id: Id) -> Vec<crate::HistoryRow> {
        held(&self.log).about(id)
    }

    /// The history, oldest first.
    pub fn history(&self) -> Vec<crate::HistoryRow> {
        held(&self.log).rows()
    }
}

impl std::fmt::Debug for Live {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Live").field("folder", &self.folder).finish_non_exhaustive()
    }
}

impl std::fmt::Debug for LiveStudy {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LiveStudy").field("name", &self.name).finish_non_exhaustive()
    }
}
