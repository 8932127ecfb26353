//! What all handlers share.

use crate::guard::Guard;
use std::sync::Arc;
use tare_app::live::{Event, Live, LiveStudy};
use tare_app::{DocumentInfo, Field, Kind};
use tare_diag::Diag;
use tokio::sync::broadcast;

/// The server's state.
#[derive(Clone)]
pub(crate) struct State {
    pub(crate) live: Arc<Live>,
    /// The only study that is shown: what belongs to other clients is not there for these pages.
    pub(crate) only: Option<Arc<str>>,
    /// Who records where a page names nobody.
    pub(crate) author: Arc<str>,
    pub(crate) events: broadcast::Sender<(tare_app::live::Key, Event)>,
    pub(crate) guard: Arc<Guard>,
}

impl State {
    pub(crate) fn study(&self, name: &str) -> Result<Arc<LiveStudy>, Vec<Diag>> {
        if self.only.as_deref().is_some_and(|only| only != name) {
            return Err(vec![Diag::error("document-unknown", format!("no study `{name}` is shown here"))]);
        }
        self.live.study(name)
    }

    /// Whether a picture may be shown: where one study is shown, only its own.
    pub(crate) fn shows(&self, digest: &str) -> Result<bool, Vec<Diag>> {
        let Some(only) = self.only.as_deref() else { return Ok(true) };
        let now = self.live.study(only)?.now();
        let shown = now.document.of_kind(None, Kind::Photo).any(|photo| photo.text(Field::Digest) == Some(digest));
        Ok(shown)
    }

    pub(crate) fn studies(&self) -> Result<Vec<DocumentInfo>, Diag> {
        let shown = |study: &DocumentInfo| self.only.as_deref().is_none_or(|only| only == study.name);
        Ok(self.live.studies()?.into_iter().filter(shown).collect())
    }
}

/// Who asks.
#[derive(Clone, Debug)]
pub(crate) struct Who {
    pub(crate) author: String,
    pub(crate) device: String,
}
