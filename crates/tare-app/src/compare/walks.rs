//! Walks: what a change of volume, place or rates comes to, factor by factor.

use crate::edit_command::{intent, parse_line};
use crate::held::Texts;
use tare_analysis::compare::{Factor, Walk, walk as walk_lines};
use tare_diag::Diag;
use tare_model::Document;
use tare_study::{Sources, Study};

/// One factor of a walk, as edits.
#[derive(Clone, Debug)]
pub struct WalkAsked {
    /// What it is called.
    pub name: String,
    /// Edits in the words of `tare edit`.
    pub edits: Vec<String>,
}

/// A walk from a study to itself with all factors changed; each is computed alone as well.
///
/// # Errors
/// Every problem of the first edit that does not fit.
pub fn walk(texts: &Texts, document: &Document, start: &Study, factors: &[WalkAsked]) -> Result<Walk, Vec<Diag>> {
    let with = |asked: &[&WalkAsked]| {
        let mut changed = document.clone();
        for line in asked.iter().flat_map(|a| &a.edits) {
            let command = parse_line(line).map_err(|d| vec![d])?;
            let meant = intent(&changed, &texts.library, &command)?;
            changed.change_all(&meant.changes)?;
        }
        Ok::<Study, Vec<Diag>>(texts.compile(&changed))
    };
    let alone = factors.iter().map(|factor| with(&[factor])).collect::<Result<Vec<Study>, _>>()?;
    let end = with(&factors.iter().collect::<Vec<_>>())?;
    let steps: Vec<Factor<'_>> = factors.iter().zip(&alone).map(|(asked, study)| Factor { name: &asked.name, study }).collect();
    let books: Vec<&Document> = texts.books.iter().collect();
    let sources = Sources { study: document, books: &books, library: &texts.library };
    Ok(walk_lines(sources, start, &steps, &end))
}
