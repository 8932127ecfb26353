//! Walks: what a change of volume, place or rates comes to, factor by factor.

use crate::edit_command::{intent, parse_line};
use crate::held::Texts;
use tare_analysis::compare::{Factor, Walk, quoted, walk as walk_lines};
use tare_diag::{Diag, Place};
use tare_model::{Document, Field};
use tare_study::{Sources, Study};

/// Walks from nothing to each quote of a part's item, over the kinds of cost the model sees; with the name of the quote.
///
/// # Errors
/// There is no such part, or nobody has quoted it.
pub fn quotes(texts: &Texts, document: &Document, study: &Study, label: &str) -> Result<Vec<(String, Walk)>, Vec<Diag>> {
    let Some(part) = study.parts.iter().position(|part| part.label.eq_ignore_ascii_case(label)) else {
        let known = study.parts.iter().map(|part| part.label.as_str());
        let diag = Diag::error("part-unknown", format!("there is no part `{label}`")).at(Place::address(label));
        return Err(vec![diag.did_you_mean(label, known)]);
    };
    let item = study.parts[part].item;
    let quotes = study.items.iter().find(|row| row.id == item).map(|row| row.quotes.clone()).unwrap_or_default();
    if quotes.is_empty() {
        let quoted: Vec<&str> = study.items.iter().filter(|row| !row.quotes.is_empty()).map(|row| row.address.as_str()).collect();
        let diag = Diag::error("quote-none", format!("nobody has quoted {label}")).at(Place::address(label));
        return Err(vec![diag.hint(format!("quoted are {}", quoted.join(", ")))]);
    }
    let books: Vec<&Document> = texts.books.iter().collect();
    let sources = Sources { study: document, books: &books, library: &texts.library };
    let name = |id| {
        let record = document.get(id);
        let text = |field| record.and_then(|r| r.text(field)).unwrap_or_default();
        let said = [text(Field::Name), text(Field::Supplier), text(Field::Place), text(Field::Date)];
        said.into_iter().filter(|t| !t.is_empty()).collect::<Vec<_>>().join(", ")
    };
    Ok(quotes.into_iter().map(|(id, price)| (name(id), quoted(sources, study, part, price))).collect())
}

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
    let all: Vec<&WalkAsked> = factors.iter().collect();
    let so_far = (1..=all.len()).map(|many| with(&all[..many])).collect::<Result<Vec<Study>, _>>()?;
    let steps: Vec<Factor<'_>> = factors
        .iter()
        .zip(alone.iter().zip(&so_far))
        .map(|(asked, (alone, so_far))| Factor { name: &asked.name, alone, so_far })
        .collect();
    let books: Vec<&Document> = texts.books.iter().collect();
    let sources = Sources { study: document, books: &books, library: &texts.library };
    Ok(walk_lines(sources, start, &steps))
}
