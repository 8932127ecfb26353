//! What is kept of an import: how columns were read, and which row became which part.

use crate::session::Session;
use serde::{Deserialize, Serialize};
use tare_diag::Diag;
use tare_exchange::{Mapping, Proposal, RowKey};
use tare_model::{Document, Id};
use tare_store::Journals;

/// The rows of the last import with these titles into a study.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct Remembered {
    /// Rows with the parts they became; rows whose part is gone are left out when read.
    pub(super) rows: Vec<Row>,
}

/// One remembered row.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Row {
    pub(super) key: RowKey,
    pub(super) part: Id,
}

fn rows_key(document: Id, fingerprint: &str) -> String {
    format!("import/rows/{document}/{fingerprint}")
}

fn mapping_key(fingerprint: &str) -> String {
    format!("import/mapping/{fingerprint}")
}

impl Remembered {
    /// What is left in the study of an earlier import with these titles; none if nothing is.
    pub(super) fn of(session: &Session, document: &Document, fingerprint: &str) -> Option<Self> {
        let text = session.workspace.store.recall(&rows_key(document.id, fingerprint)).ok()??;
        let mut known: Self = serde_json::from_str(&text).ok()?;
        known.rows.retain(|r| document.get(r.part).is_some());
        (!known.rows.is_empty()).then_some(known)
    }

    pub(super) fn keys(&self) -> Vec<RowKey> {
        self.rows.iter().map(|r| r.key.clone()).collect()
    }
}

/// The mapping that was accepted for these titles.
pub(super) fn mapping(session: &Session, fingerprint: &str) -> Option<Mapping> {
    let text = session.workspace.store.recall(&mapping_key(fingerprint)).ok()??;
    serde_json::from_str(&text).ok()
}

/// Keeps how a list was read and which row became which part.
pub(super) fn keep(session: &Session, document: &Document, fingerprint: &str, proposal: &Proposal, parts: &[Option<Id>]) -> Result<(), Vec<Diag>> {
    let rows = proposal.row_keys().into_iter().zip(parts).filter_map(|(key, part)| Some(Row { key, part: (*part)? })).collect();
    let store = &session.workspace.store;
    let write = |key: String, text: Result<String, serde_json::Error>| match text {
        Ok(text) => store.remember(&key, &text).map_err(|e| vec![e.diag()]),
        Err(error) => Err(vec![Diag::error("import-memory", format!("the mapping cannot be kept ({error})"))]),
    };
    write(mapping_key(fingerprint), serde_json::to_string(&proposal.mapping))?;
    write(rows_key(document.id, fingerprint), serde_json::to_string(&Remembered { rows }))
}
