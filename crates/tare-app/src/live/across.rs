//! Several studies of a live workspace at once: compared, and asked.

use super::beside::Known;
use super::{Live, held};
use crate::collection::{self, Asked, Collection, Wanted};
use crate::compare::{self, Compared};
use crate::session::Session;
use crate::view::{CompareView, compared};
use crate::workspace::{DocumentInfo, Workspace};
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_analysis::{Options, Schema, Stop};
use tare_diag::Diag;
use tare_model::Id;

/// Draws behind the ranges of a comparison.
const DRAWS: u64 = 10_240;

/// A study with the client it is for.
#[derive(Clone, Debug)]
pub struct StudyFor {
    /// The study.
    pub info: DocumentInfo,
    /// The client; none for the house's own.
    pub client: Option<String>,
}

/// A comparison, and where its numbers are explained.
#[derive(Debug)]
pub struct Comparison {
    /// Its rows.
    pub view: CompareView,
    /// Addresses of numbers that stand so in a study under its own scenario too: study and line there.
    pub reasons: BTreeMap<String, (String, String)>,
}

/// Studies read for questions.
#[derive(Debug)]
pub struct Gathered {
    /// What they say.
    pub collection: Collection,
    /// What may be asked.
    pub schema: Schema,
}

impl Live {
    /// The studies of the workspace with their clients.
    ///
    /// # Errors
    /// One message of the store.
    pub fn studies_for(&self) -> Result<Vec<StudyFor>, Diag> {
        let mut found = Vec::new();
        for info in self.studies()? {
            let known =
                held(&self.clients).get(&info.id).filter(|(head, _)| *head == info.head).map(|(_, client)| client.clone());
            let client = match known {
                Some(client) => client,
                None => {
                    let document = self.reading().load(&info)?.document;
                    let client = compare::client(&document).map(str::to_owned);
                    held(&self.clients).insert(info.id, (info.head, client.clone()));
                    client
                }
            };
            found.push(StudyFor { info, client });
        }
        Ok(found)
    }

    /// Everything that results over several studies rest on.
    fn state(&self) -> Result<String, Diag> {
        let all = self.reading().documents()?;
        let heads: Vec<(Id, u64)> = all.iter().map(|d| (d.id, d.head)).collect();
        Ok(format!("{} {heads:?}", self.library().fingerprint()))
    }

    /// Compares studies under the scenario of the first, beside.
    ///
    /// # Errors
    /// One message of the store; what is wrong with the choice is said by the result.
    pub fn compare(self: &Arc<Self>, names: &[String], on: Option<&str>) -> Result<Known<String, Comparison>, Diag> {
        let all = self.reading().documents()?;
        let of = |name: &String| all.iter().find(|d| d.name == *name).map(|d| (d.id, d.head));
        let books = all.iter().filter(|d| d.kind == tare_model::DocumentKind::Book).map(|d| (d.id, d.head));
        let heads: Vec<(Id, u64)> = names.iter().filter_map(of).chain(books).collect();
        let state = format!("{} {heads:?}", self.library().fingerprint());
        let key = format!("{names:?} {on:?}");
        let (live, names, on) = (Arc::clone(self), names.to_vec(), on.map(str::to_owned));
        Ok(self.comparisons.ask(&key, &state, move |stop| {
            let found = live.compared(&names, on.as_deref(), Stop { stop: Some(stop), ..Stop::default() });
            found.transpose().map(|found| found.map(|found| Comparison { view: compared(&found), reasons: reasons(&found) }))
        }))
    }

    fn compared(&self, names: &[String], on: Option<&str>, stop: Stop<'_>) -> Result<Option<Compared>, Vec<Diag>> {
        let library = self.library();
        let (studies, own, texts) = {
            let workspace = self.reading();
            let studies = compare::load(&workspace, names)?;
            let held = |document| workspace.held(&library, document);
            let own = studies.iter().map(|(_, loaded)| held(&loaded.document)).collect::<Result<Vec<_>, _>>()?;
            let texts = held(&studies[0].1.document)?;
            (studies, own, texts)
        };
        let threads = (crate::ranges::threads() / 2).max(1);
        let options = Options { most: DRAWS, least: DRAWS, seed: 1, threads, ..Options::default() };
        compare::compare(&texts, &own, studies, on, options, stop)
    }

    /// The studies a question is put to, read beside.
    ///
    /// # Errors
    /// One message of the store; what is wrong with what is wanted is said by the result.
    pub fn gathered(self: &Arc<Self>, wanted: &Wanted) -> Result<Known<String, Gathered>, Diag> {
        let (state, key) = (self.state()?, format!("{wanted:?}"));
        let (live, wanted) = (Arc::clone(self), wanted.clone());
        Ok(self.collections.ask(&key, &state, move |_| {
            let gathered = live.reader().and_then(|session| {
                let collection = Collection::load(&session, &wanted)?;
                let schema = collection.schema(&session);
                Ok(Gathered { collection, schema })
            });
            Some(gathered)
        }))
    }

    /// A session of its own, so that reading many studies keeps nobody waiting.
    fn reader(&self) -> Result<Session, Vec<Diag>> {
        let workspace = Workspace::open(&self.folder, false).map_err(|d| vec![d])?;
        Ok(Session::of(workspace, self.library()))
    }

    /// Saved questions: of the library the program carries alone, or of the workspace too.
    pub fn questions(&self, own_too: bool) -> (Vec<Asked>, Vec<Diag>) {
        if own_too { collection::saved_in(&self.library()) } else { collection::saved_in(&tare_library::Library::embedded().0) }
    }

    /// Saves a question in the workspace's own library.
    ///
    /// # Errors
    /// A key that is no plain word, or nothing may be written.
    pub fn save_question(&self, asked: &Asked) -> Result<(), Vec<Diag>> {
        collection::save_in(&self.folder, asked).map_err(|d| vec![d])?;
        self.renew_library()
    }
}

/// Where the numbers of a comparison stand so in the study itself.
fn reasons(found: &Compared) -> BTreeMap<String, (String, String)> {
    let comparison = &found.comparison;
    let rows = comparison.headlines.iter().chain(comparison.yards.iter().map(|yard| &yard.costs));
    let rows = rows.chain(comparison.cuts.values().flatten()).flat_map(|row| row.lines.iter());
    let values = comparison.yards.iter().flat_map(|yard| yard.values.iter());
    let mut reasons = BTreeMap::new();
    for line in rows.chain(values).flatten() {
        let address = comparison.study.lines.address(*line);
        let Some((letter, rest)) = address.split_once('/') else { continue };
        let Some(product) = found.products.iter().find(|product| product.letter == letter) else { continue };
        let Some(own) = product.own.lines.find(rest) else { continue };
        // under another scenario the number is another one: its reason is not that of the study
        if product.own.value(own).to_bits() == comparison.study.value(*line).to_bits() {
            let reason = (product.info.name.clone(), rest.to_owned());
            reasons.insert(address, reason);
        }
    }
    reasons
}
