//! New documents: empty studies, and documents from study text.

use crate::clock;
use crate::text_form::{self, TextFile, id_of};
use crate::workspace::{DocumentInfo, Loaded, Stamp, Workspace};
use tare_diag::{Diag, any_error};
use tare_library::Library;
use tare_model::{Change, Document, DocumentKind, Field, FieldValue, Kind, Record};

/// What an empty study begins with.
#[derive(Clone, Debug, Default)]
pub struct NewStudy {
    /// Its name.
    pub name: String,
    /// Currency code.
    pub currency: String,
    /// Rate book, by name.
    pub book: Option<String>,
    /// Year of the money.
    pub year: Option<String>,
    /// Pieces a year, as value text.
    pub volume: Option<String>,
    /// Years of production.
    pub life: Option<String>,
    /// Place of making.
    pub place: Option<String>,
}

/// A document that was created.
#[derive(Clone, Debug)]
pub struct Created {
    /// The document.
    pub info: DocumentInfo,
    /// Its content.
    pub loaded: Loaded,
    /// How many records it holds.
    pub records: usize,
    /// What is doubtful.
    pub warnings: Vec<Diag>,
}

/// Begins an empty study with a product, a scenario and a place for rates.
///
/// # Errors
/// The name is taken, the currency or volume does not read, the book is unknown; nothing is created then.
pub fn new_study(workspace: &Workspace, library: &Library, new: &NewStudy, author: &str) -> Result<Created, Vec<Diag>> {
    let mut problems = Vec::new();
    if tare_units::Currency::parse(&new.currency).is_none() {
        let says = format!("`{}` is no currency code, expected three capital letters", new.currency);
        problems.push(Diag::error("currency", says).hint("write it like `--currency EUR`"));
    }
    if let Some(book) = &new.book {
        let own = workspace.books().map_err(|d| vec![d])?;
        let own: Vec<&str> = own.iter().filter_map(crate::workspace::name_of).collect();
        let shipped: Vec<&str> = library.books().map(|b| b.key.as_str()).collect();
        if !own.contains(&book.as_str()) && !shipped.contains(&book.as_str()) {
            let all = own.iter().chain(&shipped).copied();
            let diag = Diag::error("book-unknown", format!("there is no rate book `{book}`")).did_you_mean(book, all);
            problems.push(diag.hint(format!("the library has: {}", shipped.join(", "))));
        }
    }
    for (option, text, unit, such) in [("volume", &new.volume, "1/a", "20000 1/a"), ("life", &new.life, "a", "5 a")] {
        if let (Some(text), Ok(unit)) = (text, tare_units::Unit::parse(unit))
            && let Err(error) = tare_units::Quantity::parse_as(text, &unit)
        {
            problems.push(error.unplaced().hint(format!("write it like `--{option} \"{such}\"`")));
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let mut study =
        Record::new(clock::new_id(), Kind::Study).with_text(Field::Name, &new.name).with_text(Field::Currency, &new.currency);
    let mut scenario = Record::new(clock::new_id(), Kind::Scenario).with_text(Field::Name, "Base");
    for (field, text) in [(Field::Book, &new.book), (Field::Year, &new.year)] {
        if let Some(text) = text {
            study = study.with_text(field, text);
        }
    }
    if let Some(place) = &new.place {
        scenario = scenario.with_text(Field::Place, place);
    }
    let under = scenario.id;
    let mut changes = vec![Change::Add { record: study }, Change::Add { record: scenario }];
    let mut order = tare_model::first_order();
    for (quantity, text) in [("volume", &new.volume), ("life", &new.life)] {
        let Some(text) = text else { continue };
        let value = Record::new(clock::new_id(), Kind::Value)
            .under(under)
            .ordered(order.clone())
            .with_text(Field::Quantity, quantity)
            .with_text(Field::Text, text);
        order = tare_model::order_between(Some(&order), None);
        changes.push(Change::Add { record: value.with_text(Field::Evidence, "assumed") });
    }
    let item = Record::new(clock::new_id(), Kind::Item).with_text(Field::Name, &new.name).with_text(Field::Form, "assembly");
    let part = Record::new(clock::new_id(), Kind::Part)
        .with(Field::Item, FieldValue::Ref(item.id))
        .with(Field::Count, FieldValue::Number(1.0));
    changes.extend([Change::Add { record: item }, Change::Add { record: part.with_text(Field::Label, "P1") }]);
    let stamp = Stamp { author: author.to_owned(), says: format!("study {} begun", new.name) };
    create(workspace, clock::new_id(), DocumentKind::Study, &new.name, &changes, &stamp)
}

/// Creates documents from study text: files with a `[book.*]` table are documents of their own, all others are one study.
///
/// # Errors
/// Every problem of the texts at its place, or a name that is taken; nothing is created then.
pub fn from_text(
    workspace: &Workspace,
    library: &Library,
    set: &str,
    name: Option<&str>,
    files: &[TextFile<'_>],
    author: &str,
) -> Result<Vec<Created>, Vec<Diag>> {
    let (books, study): (Vec<TextFile<'_>>, Vec<TextFile<'_>>) = files.iter().copied().partition(|f| is_book(f.text));
    let mut problems = Vec::new();
    let mut documents = Vec::new();
    for book in &books {
        let stem = book.name.rsplit(['/', '\\']).next().and_then(|n| n.strip_suffix(".toml")).unwrap_or(book.name);
        match text_form::read(&format!("{set}/{stem}"), &[*book], library) {
            Ok(document) => documents.push(document),
            Err(found) => problems.extend(found),
        }
    }
    if !study.is_empty() {
        let set = name.map_or_else(|| set.to_owned(), |name| format!("{set}/{name}"));
        match text_form::read(&set, &study, library) {
            Ok(mut document) => {
                if let Some(name) = name {
                    rename(&mut document.changes, name);
                    document.name = name.to_owned();
                }
                documents.push(document);
            }
            Err(found) => problems.extend(found),
        }
    }
    let standing = workspace.documents().map_err(|d| vec![d])?;
    for document in &documents {
        if let Some(taken) = standing.iter().find(|s| s.kind == document.kind && (s.name == document.name || s.id == document.id))
        {
            let says = format!("the workspace already has `{}`", taken.name);
            problems.push(Diag::error("document-taken", says).hint("give the new one another name with `--name`"));
        }
        // Sealed here first, so that nothing is created when something does not hold.
        let mut trial = Document::new(document.id, document.kind);
        match trial.change_all(&document.changes) {
            Ok(edits) => problems.extend(crate::standing::after(&trial, &edits)),
            Err(found) => problems.extend(found),
        }
    }
    if any_error(&problems) {
        return Err(problems);
    }
    let mut created = Vec::new();
    for document in documents {
        let stamp = Stamp { author: author.to_owned(), says: format!("{} read from text", document.name) };
        let mut one = create(workspace, document.id, document.kind, &document.name, &document.changes, &stamp)?;
        one.warnings = document.warnings;
        created.push(one);
    }
    Ok(created)
}

/// Creates a document from changes that were seen to hold.
pub(crate) fn create(
    workspace: &Workspace,
    id: tare_model::Id,
    kind: DocumentKind,
    name: &str,
    changes: &[Change],
    stamp: &Stamp,
) -> Result<Created, Vec<Diag>> {
    let mut document = Document::new(id, kind);
    let edits = document.change_all(changes)?;
    workspace.create_document(id, kind, name).map_err(|d| vec![d])?;
    let mut loaded = Loaded { document, head: 0 };
    workspace.commit(&mut loaded, edits, stamp, None, clock::new_id())?;
    let info = DocumentInfo { id, kind, name: name.to_owned(), head: loaded.head };
    let records = loaded.document.records().filter(|r| r.kind != Kind::Lock).count();
    Ok(Created { info, records, loaded, warnings: Vec::new() })
}

/// Whether a text describes a rate book rather than a study.
fn is_book(text: &str) -> bool {
    let heads = |kind: &str| text.lines().any(|l| l.trim_start().starts_with(&format!("[{kind}.")));
    heads("book") && !heads("study")
}

fn rename(changes: &mut [Change], name: &str) {
    for change in changes {
        if let Change::Add { record } = change
            && record.kind == Kind::Study
        {
            record.fields.set(Field::Name, Some(FieldValue::Text(name.to_owned())));
        }
    }
}

/// Identifier of the study a set of files makes, to see whether it is there already.
pub fn study_id(set: &str) -> tare_model::Id {
    id_of(set, "document")
}

/// Reads study texts and says everything that is wrong, without a workspace.
///
/// # Errors
/// Every problem at its place.
pub fn check_texts(library: &Library, files: &[TextFile<'_>]) -> Result<(), Vec<Diag>> {
    let (books, study): (Vec<TextFile<'_>>, Vec<TextFile<'_>>) = files.iter().copied().partition(|f| is_book(f.text));
    let mut problems: Vec<Diag> = books.iter().filter_map(|b| text_form::read("check", &[*b], library).err()).flatten().collect();
    if !study.is_empty() {
        problems.extend(text_form::read("check", &study, library).err().into_iter().flatten());
    }
    if problems.is_empty() { Ok(()) } else { Err(problems) }
}
