//! A workspace together with the library it computes with, and studies compiled once per state.

use crate::files;
use crate::held::Texts;
use crate::privacy::{Masker, Readers, Told};
use crate::workspace::{DocumentInfo, Loaded, Recorded, Stamp, Workspace};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Change, Document, Edit, Field, Id};
use tare_study::Study;

/// Files of an own library beyond this number are refused.
const MAX_OWN: usize = 2_000;
/// Folders below the own library are followed this deep.
const OWN_DEPTH: usize = 4;

/// An open workspace with its library.
#[derive(Debug)]
pub struct Session {
    /// The workspace.
    pub workspace: Workspace,
    /// The library: what the program carries, with the workspace's own files laid over it.
    pub library: Arc<Library>,
    /// What is doubtful in the workspace's own library files.
    pub library_problems: Vec<Diag>,
    compiled: BTreeMap<Id, Kept>,
    /// The texts of a release, where the session looks at one: nothing of today's is laid under them.
    pub(crate) frozen: Option<Texts>,
    /// For others than the people of the workspace: what they may see.
    others: Option<ForOthers>,
}

/// What others than the people of the workspace may see of it.
#[derive(Debug)]
struct ForOthers {
    masker: Masker,
    /// The texts that documents masked so far are computed with.
    texts: BTreeMap<Id, Texts>,
    /// Photos by the digest of the copy others get: the digest under which the workspace holds them.
    photos: BTreeMap<String, String>,
}

/// A compiled study that is kept, with what it was compiled from.
#[derive(Debug)]
struct Kept {
    state: State,
    study: Arc<Study>,
    library: Arc<Library>,
}

/// What a compiled study depends on: heads of its document and of all books.
#[derive(Clone, Debug, PartialEq, Eq)]
struct State {
    head: u64,
    books: Vec<(Id, u64)>,
}

/// A text file of an own library: name relative to the library's folder, and text.
pub type OwnFile = (String, String);

impl Session {
    /// Opens a workspace and loads the library, with the workspace's own files in `library/` over it.
    ///
    /// # Errors
    /// Messages of the workspace or of reading the own files; broken own calculations are kept as `library_problems`.
    pub fn open(folder: &Path, write: bool) -> Result<Self, Vec<Diag>> {
        Self::with(Workspace::open(folder, write).map_err(|d| vec![d])?)
    }

    /// As [`Session::open`], for a workspace that is open already.
    ///
    /// # Errors
    /// As [`Session::open`].
    pub fn with(mut workspace: Workspace) -> Result<Self, Vec<Diag>> {
        let own = own_files(workspace.folder())?;
        let (library, library_problems) = library_with(&own);
        let library = Arc::new(library);
        // From here on, what an entry makes a study use is held by it.
        workspace.library = Some(Arc::clone(&library));
        Ok(Self { workspace, library, library_problems, compiled: BTreeMap::new(), frozen: None, others: None })
    }

    /// A workspace with a library that was read before.
    pub(crate) fn of(workspace: Workspace, library: Arc<Library>) -> Self {
        Self { workspace, library, library_problems: Vec::new(), compiled: BTreeMap::new(), frozen: None, others: None }
    }

    /// From here on the session is for readers: documents are masked for them by [`Session::masked`] before anything is computed, and what was not
    /// masked is not computed.
    #[must_use]
    pub fn for_readers(mut self, readers: Readers) -> Self {
        self.compiled.clear();
        let masker = readers.are_others().then(|| Masker::new(readers));
        self.others = masker.map(|masker| ForOthers { masker, texts: BTreeMap::new(), photos: BTreeMap::new() });
        self
    }

    /// A document as the session's readers may see it, with its name; the same for the people of the workspace. The library of the session becomes
    /// the one it is computed with.
    ///
    /// # Errors
    /// As [`Session::texts`].
    pub fn masked(&mut self, info: DocumentInfo, loaded: Loaded) -> Result<(DocumentInfo, Loaded, Told), Vec<Diag>> {
        let Some(others) = &mut self.others else { return Ok((info, loaded, Told::default())) };
        // from the embedded library with own files, whatever was masked before
        let texts = match &self.frozen {
            Some(frozen) => frozen.clone(),
            None => self.workspace.held(self.workspace.library.as_ref().unwrap_or(&self.library), &loaded.document)?,
        };
        let mut masked = others.masker.mask(&loaded.document, &texts);
        others.photos.extend(masked.clean_photos(|digest| self.workspace.photo(digest)));
        let name = crate::workspace::name_of(&masked.document).map_or(info.name, str::to_owned);
        self.library = Arc::clone(&masked.texts.library);
        others.texts.insert(loaded.document.id, masked.texts);
        let (info, loaded) = (DocumentInfo { name, ..info }, Loaded { document: masked.document, head: loaded.head });
        Ok((info, loaded, masked.told))
    }

    /// The study compiled, from the cache where nothing changed.
    ///
    /// # Errors
    /// Messages of loading rate books or locked texts.
    pub fn compiled(&mut self, info: &DocumentInfo, loaded: &Loaded) -> Result<Arc<Study>, Vec<Diag>> {
        let documents = self.workspace.documents().map_err(|d| vec![d])?;
        let books: Vec<(Id, u64)> =
            documents.iter().filter(|d| d.kind == tare_model::DocumentKind::Book).map(|d| (d.id, d.head)).collect();
        let state = State { head: loaded.head, books };
        if let Some(kept) = self.compiled.get(&info.id)
            && kept.state == state
        {
            return Ok(Arc::clone(&kept.study));
        }
        // Recording the last entry may have compiled the study already, as it is.
        let fresh = self
            .workspace
            .fresh
            .take()
            .filter(|_| self.others.is_none())
            .filter(|f| f.document == info.id && f.head == Some(loaded.head));
        let (study, library) = match fresh {
            Some(fresh) => (fresh.study, fresh.library),
            None => {
                let texts = self.texts(&loaded.document)?;
                (texts.compile(&loaded.document), texts.library)
            }
        };
        let study = Arc::new(study);
        self.compiled.insert(info.id, Kept { state, study: Arc::clone(&study), library });
        Ok(study)
    }

    /// Forgets what was compiled, where texts changed and no entry tells so.
    pub(crate) fn forget(&mut self) {
        self.compiled.clear();
        drop(self.workspace.fresh.take());
    }

    /// Records changes and takes them over into the study compiled before, where the graph stays as it is; else the next
    /// [`Session::compiled`] compiles again. Either way the numbers are the same.
    ///
    /// # Errors
    /// As [`Workspace::record`].
    pub fn record(
        &mut self,
        info: &DocumentInfo,
        loaded: &mut Loaded,
        changes: &[Change],
        stamp: &Stamp,
    ) -> Result<Recorded, Vec<Diag>> {
        let before = loaded.head;
        let recorded = self.workspace.record(loaded, changes, stamp)?;
        if let Some(kept) = self.compiled.get_mut(&info.id) {
            let follows = kept.state.head == before && recorded.number == before + 1;
            let (study, library) = (Arc::make_mut(&mut kept.study), &kept.library);
            let taken = |edit: &Edit| match edit {
                Edit::Set(set) if set.field == Field::Text => study.take_value(&loaded.document, library, set.id),
                _ => false,
            };
            if follows && recorded.edits.iter().all(taken) {
                kept.state.head = recorded.number;
            } else {
                self.compiled.remove(&info.id);
            }
        }
        Ok(recorded)
    }

    /// The texts a document is computed with: those it holds on to, laid over the present ones.
    ///
    /// # Errors
    /// As [`Session::compiled`].
    pub fn texts(&self, document: &Document) -> Result<Texts, Vec<Diag>> {
        match (&self.others, &self.frozen) {
            (None, Some(frozen)) => Ok(frozen.clone()),
            (None, None) => self.workspace.held(&self.library, document),
            (Some(others), _) => {
                others.texts.get(&document.id).cloned().ok_or_else(|| {
                    vec![Diag::error("not-masked", "bug: a study that was not masked was to be computed for others")]
                })
            }
        }
    }

    /// The bytes of a photo by its digest in a document of the session. Others than the people of the workspace get a copy without place, captions,
    /// serial numbers of cameras and embedded previews, by the digest of that copy. `None` where the workspace does not hold it.
    ///
    /// # Errors
    /// As [`Workspace::photo`].
    pub fn photo(&self, digest: &str) -> Result<Option<Vec<u8>>, Diag> {
        let Some(others) = &self.others else { return self.workspace.photo(digest) };
        let Some(stored) = others.photos.get(digest) else { return Ok(None) };
        self.workspace.photo(stored)?.map(|bytes| crate::photo::without_location(&bytes)).transpose()
    }

    /// Compiles a document as it is, with the workspace's books and the texts it holds on to.
    ///
    /// # Errors
    /// As [`Session::compiled`].
    pub fn compile_document(&self, document: &Document) -> Result<Study, Vec<Diag>> {
        Ok(self.texts(document)?.compile(document))
    }
}

/// The library the program carries with own files over it, and what is wrong in those.
pub fn library_with(own: &[OwnFile]) -> (Library, Vec<Diag>) {
    let (library, mut problems) = Library::embedded();
    if own.is_empty() {
        return (library, problems);
    }
    let (library, found) = library.with_own(own.iter().map(|(name, text)| (name.as_str(), text.as_str())));
    problems.extend(found);
    for (name, _) in own {
        if let Some(calculation) = name.strip_suffix(".toml").and_then(|key| library.find(key)) {
            problems.extend(tare_calc::check(calculation, &library));
        }
    }
    (library, problems)
}

/// The files of a workspace's own library, in order of name; none if it has no `library` folder.
///
/// # Errors
/// A file that cannot be read, or too many files.
pub fn own_files(workspace: &Path) -> Result<Vec<OwnFile>, Vec<Diag>> {
    let root = workspace.join("library");
    if !root.is_dir() {
        return Ok(Vec::new());
    }
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    let mut open: Vec<(PathBuf, usize)> = vec![(root.clone(), 0)];
    while let Some((folder, depth)) = open.pop() {
        let entries = std::fs::read_dir(&folder).map_err(|e| vec![files::file_diag(&e, &folder)])?;
        for path in entries.flatten().map(|e| e.path()) {
            if path.is_dir() && depth < OWN_DEPTH {
                open.push((path, depth + 1));
            } else if path.extension().is_some_and(|e| e == "toml") {
                if found.len() >= MAX_OWN {
                    return Err(vec![Diag::error("library-large", format!("more than {MAX_OWN} files in {}", root.display()))]);
                }
                let name = path.strip_prefix(&root).map(|p| p.to_string_lossy().replace('\\', "/")).unwrap_or_default();
                match files::read_text(&path) {
                    Ok(text) => found.push((name, text)),
                    Err(diag) => problems.push(diag),
                }
            }
        }
    }
    found.sort();
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}
