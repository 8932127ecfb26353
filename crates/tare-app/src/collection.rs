//! All studies of a workspace at once: what each says as tables of facts, kept beside the workspace until the study, a book or the library changes.
//!
//! Studies of different clients are never read together: a collection is that of one client with the house's own studies, or of the house alone.

use crate::compare::{client, one_client, under};
use crate::files;
use crate::session::Session;
use crate::workspace::DocumentInfo;
use std::path::{Path, PathBuf};
use tare_analysis::{Facts, Measure, Question, RowKind, Schema};
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Document, DocumentKind, Id};
use tare_store::Sha256;
use tare_units::{Dim, Unit};

/// The folder of what may be deleted and is made again.
const CACHE: &str = "cache";

/// What all studies of a client say.
#[derive(Debug)]
pub struct Collection {
    /// The studies, in the order of their creation, with what each says.
    pub studies: Vec<(DocumentInfo, Facts)>,
    /// Studies of other clients, which were left out: how many.
    pub apart: usize,
    /// Whether only the row of each study as a whole was read.
    pub totals_only: bool,
}

/// Which studies are meant, and under which scenario.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// The client; without one the only client there is, or the house alone.
    pub client: Option<String>,
    /// The study whose scenario all are computed under; each under its own without one.
    pub under: Option<String>,
    /// Only the row of each study as a whole is needed.
    pub totals_only: bool,
    /// The only study that may be read.
    pub only: Option<Id>,
}

impl Collection {
    /// Reads the studies of a workspace, from the cache where nothing changed.
    ///
    /// # Errors
    /// Several clients and none named; a client or study that is not there; messages of loading.
    pub fn load(session: &Session, wanted: &Wanted) -> Result<Self, Vec<Diag>> {
        let all = session.workspace.documents().map_err(|d| vec![d])?;
        let books: Vec<(Id, u64)> = all.iter().filter(|d| d.kind == DocumentKind::Book).map(|d| (d.id, d.head)).collect();
        let reference = match &wanted.under {
            Some(name) => {
                let info = session.workspace.study(Some(name)).map_err(|d| vec![d])?;
                let document = session.workspace.load(&info).map_err(|d| vec![d])?.document;
                own_scenario(&info, &document, wanted.client.as_deref()).map_err(|d| vec![d])?;
                Some((info, document))
            }
            None => None,
        };
        let mut studies = Vec::new();
        let mut clients: Vec<String> = Vec::new();
        let mut meet = |client: &str| {
            if clients.iter().all(|known| !known.eq_ignore_ascii_case(client)) {
                clients.push(client.to_owned());
            }
        };
        let mut apart = 0;
        for info in all.into_iter().filter(|d| d.kind == DocumentKind::Study && wanted.only.is_none_or(|only| only == d.id)) {
            let state = format!(
                "{} {} {} {} {books:?} {:?}",
                // another version of the program may compute otherwise
                env!("CARGO_PKG_VERSION"),
                Facts::FORM,
                info.head,
                session.library.fingerprint(),
                reference.as_ref().map(|(info, _)| (info.id, info.head))
            );
            let kept = Kept { folder: session.workspace.folder().join(CACHE), id: info.id, state, totals: wanted.totals_only };
            let facts = match kept.read() {
                Some(facts) => facts,
                None => {
                    let document = session.workspace.load(&info).map_err(|d| vec![d])?.document;
                    // what one client's study comes to under another's scenario is not computed, nor kept
                    let both = reference.iter().map(|(info, document)| (info.name.as_str(), document));
                    if one_client(both.chain([(info.name.as_str(), &document)])).is_err() {
                        client(&document).into_iter().for_each(&mut meet);
                        apart += 1;
                        continue;
                    }
                    let facts = made(session, document, reference.as_ref().map(|(_, document)| document))?;
                    kept.write(&facts);
                    if wanted.totals_only { facts.only(RowKind::Study) } else { facts }
                }
            };
            client_of(&facts).as_deref().into_iter().for_each(&mut meet);
            studies.push((info, facts));
        }
        let before = studies.len();
        let client = meant(&clients, wanted.client.as_deref())?;
        studies.retain(|(_, facts)| match (client_of(facts), &client) {
            (Some(own), Some(meant)) => own.eq_ignore_ascii_case(meant),
            (Some(_), None) => false,
            (None, _) => true,
        });
        Ok(Self { apart: apart + before - studies.len(), studies, totals_only: wanted.totals_only })
    }

    /// The columns that questions about these studies may name.
    pub fn schema(&self, session: &Session) -> Schema {
        Schema::of(&session.library).with(self.studies.iter().map(|(_, facts)| facts))
    }
}

/// The client whose studies are meant.
fn meant(clients: &[String], named: Option<&str>) -> Result<Option<String>, Vec<Diag>> {
    match (named, clients) {
        (Some(name), _) => match clients.iter().find(|known| known.eq_ignore_ascii_case(name)) {
            Some(known) => Ok(Some(known.clone())),
            None => Err(vec![
                Diag::error("client-unknown", format!("no study is for a client `{name}`"))
                    .at(Place::address(name))
                    .did_you_mean(name, clients.iter().map(String::as_str)),
            ]),
        },
        (None, [] | [_]) => Ok(clients.first().cloned()),
        (None, many) => Err(vec![
            Diag::error(
                "clients-apart",
                format!("the workspace holds studies of {} clients, which are not read together", many.len()),
            )
            .hint(format!("name one with `--client`: {}", many.join(", "))),
        ]),
    }
}

/// Refuses the scenario of a study of another client than the one whose studies are meant.
fn own_scenario(info: &DocumentInfo, document: &Document, named: Option<&str>) -> Result<(), Diag> {
    match (client(document), named) {
        (Some(own), Some(named)) if !own.eq_ignore_ascii_case(named) => {
            let says = format!("{} is for {own}, and studies for {named} are not computed under its scenario", info.name);
            let diag = Diag::error("clients-apart", says).at(Place::address(info.name.as_str()));
            Err(diag.hint("name a study of the same client with `--under`, or one of the house's own"))
        }
        _ => Ok(()),
    }
}

fn made(session: &Session, document: Document, reference: Option<&Document>) -> Result<Facts, Vec<Diag>> {
    let document = match reference {
        Some(reference) if reference.id != document.id => under(&document, reference)?,
        _ => document,
    };
    let texts = session.texts(reference.unwrap_or(&document))?;
    let study = texts.compile(&document);
    Ok(Facts::of(&document, &study, &texts.library))
}

fn client_of(facts: &Facts) -> Option<String> {
    let codes = facts.table(RowKind::Study).codes("client")?;
    let text = facts.texts.get(*codes.first()?)?;
    (!text.trim().is_empty()).then(|| text.to_owned())
}

/// Facts of one study in the cache.
struct Kept {
    folder: PathBuf,
    id: Id,
    state: String,
    totals: bool,
}

impl Kept {
    fn path(&self, totals: bool) -> PathBuf {
        self.folder.join(format!("{}.{}", self.id, if totals { "totals" } else { "facts" }))
    }

    /// What was kept, if it is of this state and whole: the file begins with the digest of the rest.
    fn read(&self) -> Option<Facts> {
        let bytes = std::fs::read(self.path(self.totals)).ok()?;
        let (digest, rest) = bytes.split_at_checked(64)?;
        if Sha256::of(rest).to_string().as_bytes() != digest {
            return None;
        }
        let (state, facts): (String, Facts) = postcard::from_bytes(rest).ok()?;
        (state == self.state).then_some(facts)
    }

    /// Keeps facts; where nothing may be written they are made again next time.
    fn write(&self, facts: &Facts) {
        if std::fs::create_dir_all(&self.folder).is_err() {
            return;
        }
        for (totals, facts) in [(true, facts.only(RowKind::Study)), (false, facts.clone())] {
            let Ok(rest) = postcard::to_stdvec(&(&self.state, &facts)) else { continue };
            let digest = Sha256::of(&rest).to_string();
            let path = self.path(totals);
            let fresh = path.with_extension("new");
            if std::fs::write(&fresh, [digest.as_bytes(), &rest].concat()).is_ok() {
                let _ = std::fs::rename(&fresh, &path);
            }
        }
    }
}

/// Formulas shown of each hit, at most: letters name them.
pub const MOST_SHOWN: usize = 26;

/// The relations of a study's row to what is in it.
const INSIDE: [&str; 3] = ["parts", "joints", "findings"];

/// A question to a collection: which rows, and what to show of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Its key where it was saved.
    pub key: String,
    /// What it asks, in words.
    pub title: String,
    /// The kind of rows.
    pub rows: String,
    /// The condition.
    pub when: String,
    /// What is shown of each row: formulas, each with its unit behind ` in ` where it has one.
    pub show: Vec<String>,
}

impl Asked {
    /// Whether the row of each study as a whole is all that is needed to answer it: it names no parts, joints or findings.
    pub fn of_totals_alone(&self) -> bool {
        let mut texts = self.show.iter().chain([&self.when]);
        let inside = |text: &String| text.split(|c: char| !c.is_alphanumeric() && c != '_').any(|word| INSIDE.contains(&word));
        row_kind(&self.rows) == Ok(RowKind::Study) && !texts.any(inside)
    }
}

/// Saved questions of library and workspace, by key, with the problems of their files.
pub fn saved(session: &Session) -> (Vec<Asked>, Vec<Diag>) {
    saved_in(&session.library)
}

/// As [`saved`], of a library.
pub(crate) fn saved_in(library: &Library) -> (Vec<Asked>, Vec<Diag>) {
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    for (key, text) in library.questions() {
        match read(key, text) {
            Ok(asked) => found.push(asked),
            Err(problem) => problems.push(problem),
        }
    }
    (found, problems)
}

fn read(key: &str, text: &str) -> Result<Asked, Diag> {
    let file = format!("library/questions/{key}.toml");
    let wrong = |says: String| Diag::error("question-file", says).at(Place::File(file.clone()));
    let table: toml::Table = text.parse().map_err(|e: toml::de::Error| wrong(e.message().to_owned()))?;
    let word = |name: &str| table.get(name).and_then(toml::Value::as_str).map(str::to_owned);
    let needed = |name: &str| word(name).ok_or_else(|| wrong(format!("a question needs its `{name}`")));
    let show = table.get("show").and_then(toml::Value::as_array);
    let show = show.map(|list| list.iter().filter_map(toml::Value::as_str).map(str::to_owned).collect());
    Ok(Asked {
        key: key.to_owned(),
        title: needed("title")?,
        rows: needed("rows")?,
        when: word("when").unwrap_or_else(|| "true".to_owned()),
        show: show.unwrap_or_default(),
    })
}

/// Saves a question in the workspace's own library.
///
/// # Errors
/// A key that is no plain word, or nothing may be written.
pub fn save(session: &Session, asked: &Asked) -> Result<PathBuf, Diag> {
    save_in(session.workspace.folder(), asked)
}

/// As [`save`], in the folder of a workspace.
pub(crate) fn save_in(workspace: &Path, asked: &Asked) -> Result<PathBuf, Diag> {
    let plain = !asked.key.is_empty() && asked.key.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if !plain {
        let diag = Diag::error("question-key", format!("`{}` is no name for a question", asked.key));
        return Err(diag.hint("small letters, digits and `-`"));
    }
    let folder = workspace.join("library/questions");
    std::fs::create_dir_all(&folder).map_err(|e| files::file_diag(&e, &folder))?;
    let mut table = toml::Table::new();
    table.insert("title".into(), asked.title.clone().into());
    table.insert("rows".into(), asked.rows.clone().into());
    table.insert("when".into(), asked.when.clone().into());
    table.insert("show".into(), asked.show.clone().into());
    let path = folder.join(format!("{}.toml", asked.key));
    std::fs::write(&path, table.to_string()).map_err(|e| files::file_diag(&e, &path))?;
    Ok(path)
}

/// The answer to a question.
#[derive(Clone, Debug, PartialEq, serde::Serialize, schemars::JsonSchema)]
pub struct Answer {
    /// What is shown: formula and unit.
    pub columns: Vec<(String, String)>,
    /// Rows of all studies.
    pub rows: Vec<AnswerRow>,
    /// Studies asked.
    pub studies: usize,
    /// Studies of other clients that were left out.
    pub apart: usize,
}

/// One row of an answer.
#[derive(Clone, Debug, PartialEq, serde::Serialize, schemars::JsonSchema)]
pub struct AnswerRow {
    /// The study.
    pub study: String,
    /// The row's address.
    pub address: String,
    /// Its name.
    pub name: String,
    /// What was asked of it, in the unit of the column; none where it is not known.
    pub values: Vec<Option<f64>>,
}

/// The kind of rows a word means.
///
/// # Errors
/// One message with the words there are.
pub fn row_kind(word: &str) -> Result<RowKind, Diag> {
    let known = RowKind::ALL.map(RowKind::word);
    let single = RowKind::ALL.into_iter().find(|kind| kind.word() == word || kind.plural() == word);
    single.ok_or_else(|| {
        let diag = Diag::error("rows-unknown", format!("there are no rows `{word}`, expected {}", known.join(", ")));
        diag.at(Place::address(word)).did_you_mean(word, known)
    })
}

/// Asks a collection. Amounts of money are shown where all studies with a hit count in one currency.
///
/// # Errors
/// Every problem of the condition and of what is to be shown; amounts in several currencies; more is asked than was read.
pub fn ask(collection: &Collection, schema: &Schema, asked: &Asked) -> Result<Answer, Vec<Diag>> {
    ask_at(collection, schema, asked).map_err(|found| found.into_iter().map(|(_, problem)| problem).collect())
}

/// The part of a question that a problem is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartOf {
    /// Which rows.
    Rows,
    /// The condition.
    When,
    /// One of what is shown, counted from 0.
    Show(usize),
    /// The question as a whole.
    Whole,
}

/// As [`ask`]; each problem with the part of the question it is of.
///
/// # Errors
/// As [`ask`].
pub fn ask_at(collection: &Collection, schema: &Schema, asked: &Asked) -> Result<Answer, Vec<(PartOf, Diag)>> {
    let kind = row_kind(&asked.rows).map_err(|d| vec![(PartOf::Rows, d)])?;
    let mut problems: Vec<(PartOf, Diag)> = Vec::new();
    if collection.totals_only && !asked.of_totals_alone() {
        // relations lead nowhere there, and an answer would look like one
        let says = "the question looks into studies of which only the totals were read";
        problems.push((PartOf::Whole, Diag::error("totals-only", says)));
    }
    if asked.show.len() > MOST_SHOWN {
        let says = format!("at most {MOST_SHOWN} formulas are shown of each hit, found {}", asked.show.len());
        problems.push((PartOf::Whole, Diag::error("show-many", says).hint("ask twice")));
    }
    let mut wrong = |part: PartOf, found: Vec<Diag>| problems.extend(found.into_iter().map(|problem| (part, problem)));
    let question = Question::read(kind, &asked.when, schema).map_err(|found| wrong(PartOf::When, found)).ok();
    let mut measures: Vec<(Measure, Unit)> = Vec::new();
    for (at, text) in asked.show.iter().enumerate() {
        match shown_in(kind, text, schema) {
            Ok(measure) => measures.push(measure),
            Err(found) => wrong(PartOf::Show(at), found),
        }
    }
    let Some(question) = question.filter(|_| problems.is_empty()) else { return Err(problems) };
    let mut rows = Vec::new();
    let mut currencies: Vec<&str> = Vec::new();
    for (info, facts) in &collection.studies {
        let hits = question.hits(facts);
        if hits.is_empty() {
            continue;
        }
        if !currencies.contains(&facts.currency.as_str()) {
            currencies.push(&facts.currency);
        }
        let columns: Vec<Vec<f64>> = measures.iter().map(|(measure, _)| measure.values(facts)).collect();
        let table = facts.table(kind);
        let text = |name: &str, row: usize| {
            let code = table.codes(name).and_then(|codes| codes.get(row).copied());
            code.and_then(|code| facts.texts.get(code)).unwrap_or_default().to_owned()
        };
        for row in hits {
            let row = row as usize;
            let value = |at: usize| {
                let si = *columns[at].get(row)?;
                si.is_finite().then(|| measures[at].1.from_si(si))
            };
            rows.push(AnswerRow {
                study: info.name.clone(),
                address: text("address", row),
                name: text("name", row),
                values: (0..measures.len()).map(value).collect(),
            });
        }
    }
    // a unit that names a currency is of money as well
    let amounts = |(measure, _): &(Measure, Unit)| measure.unit.dim.money() != Dim::ONE.money();
    if currencies.len() > 1 && measures.iter().any(amounts) {
        let says = format!("the studies count in {}, and amounts of them do not stand in one column", currencies.join(", "));
        let diag = Diag::error("currencies", says).hint("compute all under one scenario with `--under STUDY`");
        return Err(vec![(PartOf::Whole, diag)]);
    }
    let own = currencies.first().copied().unwrap_or("money");
    let foreign = asked.show.iter().zip(&measures).enumerate().filter_map(|(at, (text, (_, unit)))| {
        let named = unit.currency.as_ref().filter(|named| named.code() != own && !currencies.is_empty())?;
        let says = format!("amounts come in {own}, in which the studies count, and not in {named}");
        let unit = unit.text.replace(named.code(), own);
        let diag = Diag::error("currency-of-unit", says).at(Place::address(text.as_str()));
        Some((PartOf::Show(at), diag.hint(format!("write `in {unit}`"))))
    });
    let foreign: Vec<(PartOf, Diag)> = foreign.collect();
    if !foreign.is_empty() {
        return Err(foreign);
    }
    let column = |(text, (_, unit)): (&String, &(Measure, Unit))| (split(text).0.to_owned(), unit.text.replace("money", own));
    let columns = asked.show.iter().zip(&measures).map(column).collect();
    Ok(Answer { columns, rows, studies: collection.studies.len(), apart: collection.apart })
}

/// A formula and the unit behind its last ` in `.
fn split(text: &str) -> (&str, Option<&str>) {
    match text.rsplit_once(" in ") {
        Some((formula, unit)) => (formula.trim(), Some(unit.trim())),
        None => (text.trim(), None),
    }
}

/// What is to be shown: a formula, and the unit it is shown in: `cost / nominal_energy in EUR/kWh`.
fn shown_in(kind: RowKind, text: &str, schema: &Schema) -> Result<(Measure, Unit), Vec<Diag>> {
    let (formula, unit) = split(text);
    let measure = Measure::read(kind, formula, schema)?;
    let Some(asked) = unit else {
        let unit = measure.unit.clone();
        return Ok((measure, unit));
    };
    let wrong = |says: String| vec![Diag::error("unit", says).at(Place::address(text))];
    let unit = Unit::parse(asked).map_err(|error| wrong(format!("`{asked}` is no unit ({error})")))?;
    if unit.dim != measure.unit.dim {
        return Err(wrong(format!("`{formula}` is of another dimension than `{asked}`; it comes in {}", measure.unit.text)));
    }
    Ok((measure, unit))
}
