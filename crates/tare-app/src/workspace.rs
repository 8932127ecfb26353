//! A workspace folder: its documents, loaded from snapshot and journal, and entries recorded in them.

use crate::clock;
use crate::conflict::conflict_diag;
use crate::standing;
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Change, Document, DocumentKind, Edit, FORM, Field, FieldValue, Id, Kind, Record};
use tare_store::{AppendError, Entry, Journals, OpenMode, Store};
use tare_study::Study;

/// Replayed entries after which a fresh snapshot is worth writing.
const STALE_ENTRIES: usize = 16;
/// Replayed edits after which a fresh snapshot is worth writing.
const STALE_EDITS: usize = 200;
/// How often an entry is tried again behind entries that others recorded meanwhile.
const TRIES: usize = 5;

/// An open workspace.
#[derive(Debug)]
pub struct Workspace {
    pub(crate) store: Store,
    /// The library whose texts studies come to hold; none where nothing is computed.
    pub(crate) library: Option<Arc<Library>>,
    /// The study that was compiled to see what the last entry uses.
    pub(crate) fresh: RefCell<Option<Fresh>>,
    folder: PathBuf,
}

/// A study compiled while its entry was recorded.
#[derive(Debug)]
pub(crate) struct Fresh {
    pub(crate) document: Id,
    /// The entry, once it is recorded.
    pub(crate) head: Option<u64>,
    pub(crate) study: Study,
    pub(crate) library: Arc<Library>,
}

/// Where an entry comes from.
#[derive(Clone, Copy, Debug)]
struct Origin {
    /// The entry it takes back.
    undoes: Option<u128>,
    /// The idea it carries out.
    idea: Option<u128>,
}

/// A document of a workspace, by name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DocumentInfo {
    /// Its identifier.
    pub id: Id,
    /// What it is.
    pub kind: DocumentKind,
    /// The name it was created under.
    pub name: String,
    /// The number of its last entry.
    pub head: u64,
}

/// A document as of its last entry.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// The document.
    pub document: Document,
    /// The number of the last entry in it.
    pub head: u64,
}

/// Who records something, and in which words.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// The author.
    pub author: String,
    /// What the entry says it does, in one line.
    pub says: String,
}

/// An entry that was recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct Recorded {
    /// Its number.
    pub number: u64,
    /// What it says.
    pub says: String,
    /// What it did, beside holding the texts a study came to use.
    pub edits: Vec<Edit>,
}

impl Workspace {
    /// Opens the workspace in a folder, for writing or only for reading.
    ///
    /// # Errors
    /// One message: no workspace there, of a newer program, read-only disk, damaged.
    pub fn open(folder: &Path, write: bool) -> Result<Self, Diag> {
        let mode = if write { OpenMode::ReadWrite } else { OpenMode::ReadOnly };
        let store = Store::open(folder, mode).or_else(|error| {
            // Reading works on a form that is current; an older one is lifted, which needs writing.
            if !write && error.kind == tare_store::Kind::Older { Store::open(folder, OpenMode::ReadWrite) } else { Err(error) }
        });
        let store = store.map_err(|e| match e.kind {
            tare_store::Kind::MissingFolder | tare_store::Kind::NoWorkspace => e
                .diag()
                .hint(format!("`tare demo` makes an example, `tare new NAME --workspace {}` begins a study", folder.display())),
            _ => e.diag(),
        })?;
        Ok(Self { store, library: None, fresh: RefCell::new(None), folder: folder.to_path_buf() })
    }

    /// Opens the workspace in a folder, or makes one there; the folders around it are made too.
    ///
    /// # Errors
    /// One message: as [`Workspace::open`], or nothing may be written there.
    pub fn open_or_create(folder: &Path) -> Result<Self, Diag> {
        if folder.join("workspace.sqlite").exists() {
            return Self::open(folder, true);
        }
        if let Some(around) = folder.parent().filter(|p| !p.as_os_str().is_empty()) {
            std::fs::create_dir_all(around).map_err(|e| crate::files::file_diag(&e, around))?;
        }
        let store = Store::open(folder, OpenMode::Create).map_err(|e| e.diag())?;
        Ok(Self { store, library: None, fresh: RefCell::new(None), folder: folder.to_path_buf() })
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The documents, in the order of their creation.
    ///
    /// # Errors
    /// One message of the store.
    pub fn documents(&self) -> Result<Vec<DocumentInfo>, Diag> {
        let documents = self.store.documents().map_err(|e| e.diag())?;
        // One without entries was never finished: its creation was cut off before its first entry.
        let documents = documents.into_iter().filter(|d| d.head > 0);
        let known =
            documents.filter_map(|d| Some(DocumentInfo { id: Id(d.id), kind: kind_of(&d.kind)?, name: d.name, head: d.head }));
        Ok(known.collect())
    }

    /// The study of a name; without a name the only one there is.
    ///
    /// # Errors
    /// One message: none, several, or none of that name (with the nearest).
    pub fn study(&self, name: Option<&str>) -> Result<DocumentInfo, Diag> {
        self.document(DocumentKind::Study, name)
    }

    /// The document of a kind and name; without a name the only one of its kind. A part of a name will do where it means one.
    ///
    /// # Errors
    /// As [`Workspace::study`].
    pub fn document(&self, kind: DocumentKind, name: Option<&str>) -> Result<DocumentInfo, Diag> {
        self.found(kind, name, true)
    }

    /// The study of a whole name, for what is recorded in it; without a name the only one there is.
    ///
    /// # Errors
    /// As [`Workspace::study`]; a part of a name.
    pub fn study_of_whole_name(&self, name: Option<&str>) -> Result<DocumentInfo, Diag> {
        self.found(DocumentKind::Study, name, false)
    }

    fn found(&self, kind: DocumentKind, name: Option<&str>, parts: bool) -> Result<DocumentInfo, Diag> {
        let word = kind_word(kind);
        let all: Vec<DocumentInfo> = self.documents()?.into_iter().filter(|d| d.kind == kind).collect();
        let names: Vec<&str> = all.iter().map(|d| d.name.as_str()).collect();
        let place = Place::File(self.folder.display().to_string());
        match name {
            Some(name) => match (meant(&all, name).as_slice(), parts) {
                ([one], parts) if parts || is_whole(one, name) => Ok((*one).clone()),
                ([one], _) => {
                    let says = format!("`{name}` is only a part of the name of the {word} `{}`", one.name);
                    Err(Diag::error("document-part", says).at(place).hint("name it in full where something is recorded in it"))
                }
                ([], _) => {
                    let says = format!("the workspace has no {word} `{name}`");
                    let diag = Diag::error("document-unknown", says).at(place).did_you_mean(name, names.iter().copied());
                    Err(diag.hint(listed(word, &names)))
                }
                (several, _) => {
                    let each: Vec<&str> = several.iter().map(|d| d.name.as_str()).collect();
                    let says = format!("`{name}` means several: {}", each.join("; "));
                    Err(Diag::error("document-several", says).at(place).hint("name one of them in full"))
                }
            },
            None => match all.as_slice() {
                [one] => Ok(one.clone()),
                [] => Err(Diag::error("document-none", format!("the workspace holds no {word} yet"))
                    .at(place)
                    .hint("`tare new NAME` begins one, `tare import FILE` brings a parts list in")),
                _ => Err(Diag::error("document-many", format!("the workspace holds {} studies", all.len()))
                    .at(place)
                    .hint(format!("name one with `--study`: {}", names.join(", ")))),
            },
        }
    }

    /// Creates a document.
    ///
    /// # Errors
    /// One message: the name is taken, or nothing may be written.
    pub fn create_document(&self, id: Id, kind: DocumentKind, name: &str) -> Result<(), Diag> {
        let taken = self.documents()?.into_iter().any(|d| d.kind == kind && d.name == name && d.id != id);
        if taken {
            let says = format!("the workspace already has a {} `{name}`", kind_word(kind));
            return Err(Diag::error("document-taken", says).hint("choose another name"));
        }
        self.store.create_document(id.0, kind_word(kind), name).map_err(|e| e.diag())
    }

    /// Loads a document: its snapshot, and the journal since.
    ///
    /// # Errors
    /// One message: damaged journal, or written by a newer program.
    pub fn load(&self, info: &DocumentInfo) -> Result<Loaded, Diag> {
        let (loaded, entries, edits) = self.replayed(info, u64::MAX)?;
        if entries >= STALE_ENTRIES || edits >= STALE_EDITS {
            self.save_snapshot(&loaded.document, loaded.head);
        }
        Ok(loaded)
    }

    /// Loads a document as it was behind an entry.
    ///
    /// # Errors
    /// As [`Workspace::load`]; the journal does not reach so far.
    pub fn load_at(&self, info: &DocumentInfo, entry: u64) -> Result<Loaded, Diag> {
        let (loaded, ..) = self.replayed(info, entry)?;
        if loaded.head != entry {
            let says = format!("the journal of `{}` ends with entry {}, before entry {entry}", info.name, loaded.head);
            return Err(Diag::error("journal-short", says).hint("restore the workspace from a backup"));
        }
        Ok(loaded)
    }

    /// A document behind its last entry up to a number, with how many entries and edits came behind the snapshot.
    fn replayed(&self, info: &DocumentInfo, last: u64) -> Result<(Loaded, usize, usize), Diag> {
        let snapshot = self.store.snapshot(info.id.0).map_err(|e| e.diag())?;
        // A snapshot is a cache: one that does not read is passed over, and so is one of a later state than is wanted.
        let snapshot = snapshot.filter(|s| s.form == FORM && s.sequence <= last);
        let kept = snapshot.and_then(|s| Some((s.sequence, postcard::from_bytes::<Vec<Record>>(&s.bytes).ok()?)));
        let (mut head, mut document) = match kept {
            Some((sequence, records)) => (sequence, Document::from_records(info.id, info.kind, records)),
            None => (0, Document::new(info.id, info.kind)),
        };
        let mut entries = self.store.since(info.id.0, head).map_err(|e| e.diag())?;
        entries.retain(|entry| entry.sequence <= last);
        let mut edits = 0;
        for entry in &entries {
            for edit in read_edits(entry)? {
                document.replay(&edit).map_err(|conflict| damaged(entry, &conflict.to_string()))?;
                edits += 1;
            }
            head = entry.sequence;
        }
        Ok((Loaded { document, head }, entries.len(), edits))
    }

    /// Keeps the state for the next opening; failing is no harm, the journal has everything.
    fn save_snapshot(&self, document: &Document, head: u64) {
        let records: Vec<&Record> = document.records().collect();
        if let Ok(bytes) = postcard::to_allocvec(&records) {
            let _ = self.store.put_snapshot(document.id.0, head, FORM, &bytes);
        }
    }

    /// Seals changes, applies them and records them as one entry. On any problem nothing is changed, here or on disk.
    ///
    /// # Errors
    /// Every problem of the changes; a conflict carries both values.
    pub fn record(&self, loaded: &mut Loaded, changes: &[Change], stamp: &Stamp) -> Result<Recorded, Vec<Diag>> {
        let edits = loaded.document.change_all(changes)?;
        self.commit(loaded, edits, stamp, None, clock::new_id())
    }

    /// Records edits that were already applied to `loaded`, with the texts that a study comes to use by them; where that fails the
    /// edits are taken out of it again. `id` is the entry's: one that is recorded already is not recorded again.
    pub(crate) fn commit(
        &self,
        loaded: &mut Loaded,
        edits: Vec<Edit>,
        stamp: &Stamp,
        undoes: Option<u128>,
        id: Id,
    ) -> Result<Recorded, Vec<Diag>> {
        match self.append(loaded, &edits, stamp, Origin { undoes, idea: None }, id) {
            Ok((number, says)) => Ok(Recorded { number, says, edits }),
            Err(problems) => {
                take_out(&mut loaded.document, &edits);
                Err(problems)
            }
        }
    }

    /// As [`Workspace::commit`], for the edits of an idea: the entry names it.
    pub(crate) fn commit_idea(
        &self,
        loaded: &mut Loaded,
        edits: Vec<Edit>,
        stamp: &Stamp,
        idea: Id,
    ) -> Result<Recorded, Vec<Diag>> {
        match self.append(loaded, &edits, stamp, Origin { undoes: None, idea: Some(idea.0) }, clock::new_id()) {
            Ok((number, says)) => Ok(Recorded { number, says, edits }),
            Err(problems) => {
                take_out(&mut loaded.document, &edits);
                Err(problems)
            }
        }
    }

    /// Appends an entry; gives its number and what it says. On an error `loaded` is as it came.
    fn append(
        &self,
        loaded: &mut Loaded,
        edits: &[Edit],
        stamp: &Stamp,
        origin: Origin,
        id: Id,
    ) -> Result<(u64, String), Vec<Diag>> {
        let wrong = standing::after(&loaded.document, edits);
        if !wrong.is_empty() {
            return Err(wrong);
        }
        let mut entry = Entry {
            id: id.0,
            document: loaded.document.id.0,
            sequence: 0,
            author: stamp.author.clone(),
            time: clock::now(),
            says: stamp.says.clone(),
            undoes: origin.undoes,
            idea: origin.idea,
            edits: String::new(),
            form: FORM,
        };
        entry.says.retain(|c| c != '\0');
        let info = DocumentInfo { id: loaded.document.id, kind: loaded.document.kind, name: String::new(), head: loaded.head };
        // The document behind what others recorded meanwhile, once there is any.
        let mut behind: Option<Loaded> = None;
        self.fresh.replace(None);
        for _ in 0..TRIES {
            let at = behind.as_mut().unwrap_or(loaded);
            let held = match &self.library {
                Some(library) if may_use_more(&at.document, edits) => self.hold_new(library, &mut at.document)?,
                _ => Vec::new(),
            };
            let all: Vec<&Edit> = edits.iter().chain(&held).collect();
            entry.edits = serde_json::to_string(&all)
                .map_err(|e| vec![Diag::error("edit-form", format!("the edits cannot be written ({e})"))])?;
            let appended = self.store.append(entry.document, at.head, &entry);
            if let Ok(number) | Err(AppendError::Duplicate { sequence: number }) = appended {
                if let Some(behind) = behind {
                    *loaded = behind;
                }
                loaded.head = number;
                if let Some(fresh) = self.fresh.borrow_mut().as_mut() {
                    fresh.head = Some(number);
                }
                return Ok((number, entry.says));
            }
            take_out(&mut at.document, &held);
            match appended {
                Err(AppendError::Stale { .. }) => {
                    // Somebody else was faster: what still fits is recorded behind theirs, what does not is a conflict.
                    let mut fresh = self.load(&info).map_err(|d| vec![d])?;
                    apply_all(&mut fresh.document, edits).map_err(|d| vec![d])?;
                    behind = Some(fresh);
                }
                Err(AppendError::Store(error)) => return Err(vec![error.diag()]),
                Err(other) => return Err(vec![Diag::error("append", other.to_string())]),
                Ok(_) => {}
            }
        }
        Err(vec![Diag::error("busy", "other programs kept recording in this document").hint("try again")])
    }

    /// The entries of a document, oldest first.
    pub(crate) fn entries(&self, document: Id) -> Result<Vec<Entry>, Diag> {
        self.store.since(document.0, 0).map_err(|e| e.diag())
    }

    /// The bytes of a photo by its digest; `None` where the workspace does not hold it.
    ///
    /// # Errors
    /// One message: no digest, or damaged on the disk.
    pub fn photo(&self, digest: &str) -> Result<Option<Vec<u8>>, Diag> {
        let digest = digest.parse().map_err(|_| Diag::error("photo-digest", "a photo is named by 64 hexadecimal digits"))?;
        self.store.blob(digest).map_err(|e| e.diag())
    }

    /// Rate books of the workspace, loaded.
    ///
    /// # Errors
    /// As [`Workspace::load`].
    pub fn books(&self) -> Result<Vec<Document>, Diag> {
        let books = self.documents()?.into_iter().filter(|d| d.kind == DocumentKind::Book);
        books.map(|b| Ok(self.load(&b)?.document)).collect()
    }
}

/// Applies edits in order; on a conflict none of them.
pub(crate) fn apply_all(document: &mut Document, edits: &[Edit]) -> Result<(), Diag> {
    for (done, edit) in edits.iter().enumerate() {
        if let Err(conflict) = document.apply(edit) {
            let problem = conflict_diag(document, &conflict);
            take_out(document, &edits[..done]);
            return Err(problem);
        }
    }
    Ok(())
}

/// Whether edits may make a study use a text of the library that it did not use before. Another number in the same unit, and what is said
/// beside a value, do not; compiling a large study to find that out would take longer than the edit.
fn may_use_more(document: &Document, edits: &[Edit]) -> bool {
    let unit = |value: &Option<FieldValue>| match value {
        Some(FieldValue::Text(text)) => tare_units::Quantity::parse(text).ok().map(|q| q.unit),
        _ => None,
    };
    !edits.iter().all(|edit| match edit {
        Edit::Set(set) if document.get(set.id).is_some_and(|record| record.kind == Kind::Value) => match set.field {
            Field::Text => unit(&set.from).is_some() && unit(&set.from) == unit(&set.to),
            Field::Evidence | Field::Source | Field::Says | Field::Who | Field::When | Field::Raw => true,
            _ => false,
        },
        _ => false,
    })
}

/// Takes edits back that were the last to be applied.
pub(crate) fn take_out(document: &mut Document, edits: &[Edit]) {
    for edit in edits.iter().rev() {
        // An edit that was just applied fits backwards; if not, this is a bug of `apply`.
        let undone = document.apply(&edit.invert());
        debug_assert!(undone.is_ok(), "bug: an applied edit does not invert");
    }
}

/// The edits of an entry.
pub(crate) fn read_edits(entry: &Entry) -> Result<Vec<Edit>, Diag> {
    if entry.form > FORM {
        let says = format!("entry {} has form {}, this program reads edits up to form {FORM}", entry.sequence, entry.form);
        return Err(
            Diag::error("entry-newer", says).hint("open the workspace with the newer program that wrote it; nothing was changed")
        );
    }
    serde_json::from_str(&entry.edits).map_err(|e| damaged(entry, &e.to_string()))
}

fn damaged(entry: &Entry, why: &str) -> Diag {
    let says = format!("entry {} of the journal does not read ({why})", entry.sequence);
    Diag::error("journal-damaged", says).hint("run `tare doctor`, and restore the workspace from a backup if it finds damage")
}

fn listed(word: &str, names: &[&str]) -> String {
    if names.is_empty() { format!("it holds no {word} yet") } else { format!("it holds: {}", names.join(", ")) }
}

/// The documents a name means: the one of that name, else those of that name in other letters, else those that hold it.
fn meant<'d>(all: &'d [DocumentInfo], name: &str) -> Vec<&'d DocumentInfo> {
    let part = name.trim().to_lowercase();
    let of = |fits: &dyn Fn(&DocumentInfo) -> bool| all.iter().filter(|d| fits(d)).collect::<Vec<_>>();
    let exact = of(&|d| d.name == name);
    let whole = if exact.is_empty() { of(&|d| is_whole(d, name)) } else { exact };
    if whole.is_empty() && !part.is_empty() { of(&|d| d.name.to_lowercase().contains(&part)) } else { whole }
}

fn is_whole(document: &DocumentInfo, name: &str) -> bool {
    document.name.to_lowercase() == name.to_lowercase()
}

/// The word a kind of document is stored under.
pub(crate) fn kind_word(kind: DocumentKind) -> &'static str {
    match kind {
        DocumentKind::Study => "study",
        DocumentKind::Book => "book",
        DocumentKind::Scenario => "scenario",
        DocumentKind::Library => "library",
        DocumentKind::Shelf => "shelf",
    }
}

/// The kind of document a word stands for.
pub(crate) fn kind_of(word: &str) -> Option<DocumentKind> {
    use DocumentKind::{Book, Library, Scenario, Shelf, Study};
    [Study, Book, Scenario, Library, Shelf].into_iter().find(|k| kind_word(*k) == word)
}

/// The name a document gives itself.
pub fn name_of(document: &Document) -> Option<&str> {
    let head = document.children(None).find(|r| matches!(r.kind, Kind::Study | Kind::Book));
    head.and_then(|h| h.text(Field::Name))
}
