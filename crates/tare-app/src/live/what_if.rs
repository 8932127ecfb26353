//! What would come out: commands carried out on a copy that is thrown away.

use super::{LiveStudy, Refused, writing::Command};
use crate::edit_command::intent;
use crate::view::{WhatIfRow, what_if};
use serde::Serialize;
use std::time::Instant;
use tare_diag::Diag;

/// Headlines as they are and as they would be.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct WhatIf {
    /// The entry that both are of.
    pub head: u64,
    /// One row a headline.
    pub rows: Vec<WhatIfRow>,
    /// Messages that the change would bring.
    pub problems: Vec<String>,
    /// How long it took, in milliseconds.
    pub milliseconds: f64,
}

impl LiveStudy {
    /// Computes what commands would come to. Nothing is recorded.
    ///
    /// # Errors
    /// Every problem of the first command that does not fit.
    pub fn what_if(&self, commands: &[Command]) -> Result<WhatIf, Refused> {
        let started = Instant::now();
        let now = self.now();
        let (mut document, head) = (tare_model::Document::clone(&now.document), now.head);
        let workspace = self.live.reading();
        let texts = workspace.held(&self.live.library(), &document).map_err(Refused::Wrong)?;
        drop(workspace);
        let before = texts.compile(&document);
        for command in commands {
            let meant = intent(&document, &self.live.library(), &command.edit).map_err(Refused::Wrong)?;
            document.change_all(&meant.changes).map_err(Refused::Wrong)?;
        }
        let after = texts.compile(&document);
        let known: Vec<String> = before.problems.iter().map(Diag::to_string).collect();
        let new = after.problems.iter().map(Diag::to_string).filter(|says| !known.contains(says));
        let problems = new.take(20).collect();
        let rows = what_if(&document, &before, &after);
        Ok(WhatIf { head, rows, problems, milliseconds: started.elapsed().as_secs_f64() * 1e3 })
    }
}
