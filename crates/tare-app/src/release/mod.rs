//! Releases: a study frozen under a number, to be computed again bit for bit.
//!
//! A release is an entry in a journal of its own beside the study's, so that its number is given by the store and never again, no undo of the
//! study reaches it, and no snapshot holds it. It names what the numbers come from (entry of the study, texts by content hash, seed, draws,
//! version of the arithmetic) and what they came to (bits of every line and of the draws of the headlines), so that whoever computes again knows
//! whether it is the same.

mod check;
mod filed;
mod frozen;
mod make;
mod values;
mod walk;

pub use check::{Checked, Same};
pub use make::Asked;
pub use values::Bits;
pub(crate) use values::paired;
pub use walk::{Between, Stage, To};

use crate::figure::Figure;
use crate::privacy::Class;
use crate::session::Session;
use crate::workspace::{DocumentInfo, Loaded, Workspace};
use serde::{Deserialize, Serialize};
use tare_analysis::{Layout, Options};
use tare_diag::{Diag, Place};
use tare_model::Id;
use tare_store::{Entry, Journals, Sha256};

/// The version of the form in which releases are written; older forms are read for ever.
const FORM: u32 = 1;
/// The kind under which journals of releases stand in the store. No list of documents shows them.
const KIND: &str = "release";

/// A release of a study.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Release {
    /// Its number, from 1, of this study.
    pub number: u64,
    /// Who made it.
    pub author: String,
    /// When, in universal time.
    pub time: String,
    /// What it is for.
    pub says: String,
    /// What it froze and what that came to.
    #[serde(flatten)]
    pub frozen: Frozen,
}

/// What a release holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Frozen {
    /// For whom it is meant.
    pub class: Class,
    /// The last entry of the study's journal in it.
    pub entry: u64,
    /// The digest of the journal up to there.
    pub journal: Sha256,
    /// The address of the list of texts (calculations, materials, fasteners, quantities, rate books), each with its own.
    pub texts: Sha256,
    /// How many texts that are.
    pub texts_held: usize,
    /// The version of the arithmetic.
    pub numerics: u32,
    /// The program that made it.
    pub program: String,
    /// How it was drawn.
    pub draws: Draws,
    /// All lines.
    pub lines: Lines,
    /// The headlines.
    pub headlines: Vec<Headline>,
    /// The conditions of its totals in one line.
    pub basis: String,
    /// What they contain, leave out and do not know, in one line.
    pub boundary: String,
    /// Whether rates or data are invented for illustration.
    pub illustrative: bool,
    /// Holds of the specimen, each with who recorded it; Tare judges none of them.
    pub holds: Vec<String>,
    /// Errors that stood when it was made.
    pub errors: Vec<String>,
}

/// How a release was drawn: a fixed number of draws, whatever ended them then.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Draws {
    /// How many.
    pub made: u64,
    /// Names the random numbers.
    pub seed: u64,
    /// How the random numbers were laid out: `random`, `hypercube` or `sobol`.
    pub layout: String,
    /// Share of the draws inside an interval.
    pub coverage: Bits,
    /// What ended them: `asked`, `settled` or `most`.
    pub ended: String,
}

/// All lines of a release.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lines {
    /// How many.
    pub count: usize,
    /// The address of the text of their addresses.
    pub names: Sha256,
    /// The address of the text of their values.
    pub values: Sha256,
}

/// A headline of a release.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Headline {
    /// What it is.
    pub name: String,
    /// The number as it was shown.
    pub figure: Figure,
    /// The number in SI.
    pub value: Bits,
    /// What draws said of it.
    pub drawn: Drawn,
}

/// What the draws of a headline said, in SI.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drawn {
    /// The mean.
    pub mean: Bits,
    /// The standard deviation.
    pub uncertainty: Bits,
    /// Lower end of the interval.
    pub low: Bits,
    /// Upper end.
    pub high: Bits,
    /// Draws without a number.
    pub failed: usize,
    /// The interval as it was shown.
    pub shown: String,
}

/// The program that reproduces: what of it decides over bits.
#[derive(Clone, Debug)]
pub struct Program {
    /// The version of its arithmetic.
    pub numerics: u32,
    /// Its name and version.
    pub version: String,
}

impl Program {
    /// The one that runs.
    pub fn this() -> Self {
        Self { numerics: tare_engine::NUMERICS, version: format!("tare {}", env!("CARGO_PKG_VERSION")) }
    }
}

impl Draws {
    fn layout(&self) -> Option<Layout> {
        [Layout::Random, Layout::Hypercube, Layout::Sobol].into_iter().find(|layout| layout_word(*layout) == self.layout)
    }

    /// How the same draws are made again.
    ///
    /// # Errors
    /// A layout this program does not know.
    pub fn options(&self, threads: usize) -> Result<Options, Diag> {
        let layout = self.layout().ok_or_else(|| {
            let says = format!("random numbers laid out as `{}` are not known to {}", self.layout, Program::this().version);
            Diag::error("release-layout", says)
        })?;
        let coverage = self.coverage.0;
        Ok(Options { seed: self.seed, coverage, most: self.made, least: self.made, threads, layout, ..Options::default() })
    }

    /// The same in words.
    pub fn words(&self) -> String {
        let ended = match self.ended.as_str() {
            "settled" => "settled",
            "most" => "not settled",
            _ => "as many as asked for",
        };
        let layout = if self.layout == "random" { String::new() } else { format!(", laid out as {}", self.layout) };
        format!("{} draws ({ended}), seed {}{layout}", self.made, self.seed)
    }
}

pub(crate) fn layout_word(layout: Layout) -> &'static str {
    match layout {
        Layout::Random => "random",
        Layout::Hypercube => "hypercube",
        Layout::Sobol => "sobol",
    }
}

/// The journal of a study's releases: named by the study, so that two programs that make the first release make one journal.
fn journal_of(study: Id) -> u128 {
    let digest = Sha256::of(format!("releases of {study}").as_bytes());
    digest.0.iter().take(16).fold(0, |id, byte| id << 8 | u128::from(*byte))
}

impl Workspace {
    /// The releases of a study, oldest first.
    ///
    /// # Errors
    /// One message: a release that does not read, or of a newer program.
    pub fn releases(&self, study: Id) -> Result<Vec<Release>, Diag> {
        self.released(study)?.into_iter().map(read).collect()
    }

    /// The entries behind the releases of a study.
    fn released(&self, study: Id) -> Result<Vec<Entry>, Diag> {
        let journal = journal_of(study);
        let there = self.store.documents().map_err(|e| e.diag())?.iter().any(|d| d.id == journal && d.kind == KIND);
        if there { self.store.since(journal, 0).map_err(|e| e.diag()) } else { Ok(Vec::new()) }
    }

    /// A release of a study by its number.
    ///
    /// # Errors
    /// There is none of that number, it does not read, or it is of a newer program.
    pub fn release(&self, info: &DocumentInfo, number: u64) -> Result<Release, Diag> {
        let all = self.released(info.id)?;
        let last = all.len();
        let found = all.into_iter().find(|entry| entry.sequence == number).ok_or_else(|| {
            let diag = Diag::error("release-unknown", format!("`{}` has no release {number}", info.name));
            diag.at(Place::address(format!("release {number}"))).hint(match last {
                0 => "`tare release make --says \"...\"` makes the first".to_owned(),
                1 => "it has release 1".to_owned(),
                last => format!("it has releases 1 to {last}"),
            })
        })?;
        read(found)
    }

    /// The digest of a study's journal up to an entry.
    fn digest_of(&self, study: Id, entry: u64) -> Result<Sha256, Diag> {
        let entries = self.store.since(study.0, 0).map_err(|e| e.diag())?;
        let digest = entries.iter().filter(|e| e.sequence <= entry).try_fold(Sha256::of(b""), |before, entry| {
            let hex = |id: &u128| format!("{id:032x}");
            let links = [Some(entry.id), entry.undoes, entry.idea].map(|id| id.as_ref().map(hex));
            let words = [&entry.author, &entry.time, &entry.says, &entry.edits];
            let whole = serde_json::to_string(&(before, entry.sequence, entry.form, links, words));
            whole.map(|text| Sha256::of(text.as_bytes()))
        });
        digest.map_err(|e| Diag::error("release-form", e.to_string()))
    }
}

impl Session {
    /// Turns to a release: from here on the session computes with exactly its texts; gives the release and the document as it was. For reading
    /// only.
    ///
    /// # Errors
    /// No such release, a journal that does not reach it, or texts that are gone.
    pub fn turn_to_release(&mut self, info: &DocumentInfo, number: u64) -> Result<(Release, Loaded), Vec<Diag>> {
        let release = self.workspace.release(info, number).map_err(|d| vec![d])?;
        let loaded = self.workspace.load_at(info, release.frozen.entry).map_err(|d| vec![d])?;
        let texts = self.thawed(&release).map_err(|d| vec![d])?;
        self.library = std::sync::Arc::clone(&texts.library);
        self.frozen = Some(texts);
        self.forget();
        Ok((release, loaded))
    }
}

fn read(entry: Entry) -> Result<Release, Diag> {
    if entry.form > FORM {
        let says = format!("release {} has form {}, this program reads releases up to form {FORM}", entry.sequence, entry.form);
        return Err(Diag::error("release-newer", says).hint("open the workspace with the newer program that wrote it"));
    }
    let frozen = serde_json::from_str(&entry.edits).map_err(|e| {
        let diag = Diag::error("release-damaged", format!("release {} does not read ({e})", entry.sequence));
        diag.hint("run `tare doctor`, and restore the workspace from a backup if it finds damage")
    })?;
    Ok(Release { number: entry.sequence, author: entry.author, time: entry.time, says: entry.says, frozen })
}
