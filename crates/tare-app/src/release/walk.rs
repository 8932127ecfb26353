//! From one release to another: what was recorded between them entry by entry, then texts, rates and scenario, as a walk that closes.

use super::filed::{Group, Key};
use super::frozen::ByKey;
use super::{Program, Release};
use crate::held::Texts;
use crate::session::Session;
use crate::workspace::DocumentInfo;
use serde::Serialize;
use std::collections::BTreeMap;
use tare_analysis::compare::{Factor, Walk, walk as walk_lines};
use tare_diag::Diag;
use tare_model::{Document, Id};
use tare_study::{Sources, Study};

/// Where a walk ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum To {
    /// At a release.
    Release(u64),
    /// At the study as it is.
    Now,
}

/// One step of a walk.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stage {
    /// What it is called.
    pub name: String,
    /// The entries behind it.
    pub entries: Vec<u64>,
    /// The texts behind it.
    pub texts: Vec<String>,
}

/// A walk from one release to another, or to the study as it is.
#[derive(Debug)]
pub struct Between {
    /// The steps, in the order of the walk.
    pub stages: Vec<Stage>,
    /// The walk.
    pub walk: Walk,
    /// Warnings: releases at its ends that this program does not compute to the numbers they came to when they were made.
    pub doubts: Vec<Diag>,
}

/// A study with the texts it is computed with.
pub(super) struct State {
    /// The release it is; none for the study as it is.
    release: Option<Release>,
    /// The last entry in it.
    pub(super) entry: u64,
    pub(super) document: Document,
    pub(super) texts: ByKey,
}

impl Session {
    /// Walks from a release to another one or to the study as it is: each step alone from the first, and behind those before it.
    ///
    /// # Errors
    /// A release that is not there or whose texts are gone; two currencies, between which no difference can be taken.
    pub fn walk_releases(&self, info: &DocumentInfo, from: u64, to: To, program: &Program) -> Result<Between, Vec<Diag>> {
        let start = self.state(info, from)?;
        let end = match to {
            To::Release(number) => self.state(info, number)?,
            To::Now => {
                let loaded = self.workspace.load(info).map_err(|d| vec![d])?;
                let texts = self.texts(&loaded.document)?.all_used(&loaded.document).0;
                State { release: None, entry: loaded.head, document: loaded.document, texts }
            }
        };
        let one = |diag| vec![diag];
        let (differing, base) = self.differing_texts(&start, &end).map_err(one)?;
        let groups = self.groups(info, (&start, &end), &differing)?;
        let first = Texts::only(&self.library, &start.texts).map_err(one)?.compile(&start.document);
        let last = Texts::only(&self.library, &end.texts).map_err(one)?.compile(&end.document);
        let ends =
            [(&start, &first), (&end, &last)].into_iter().filter_map(|(state, study)| Some((state.release.as_ref()?, study)));
        let doubts = ends.filter_map(|(release, study)| self.not_as_released(release, study, program)).collect();
        if first.currency != last.currency {
            let says = format!("one end is in {}, the other in {}: no difference can be taken", first.currency, last.currency);
            return Err(vec![Diag::error("walk-currency", says)]);
        }
        let mut known = Known { session: self, base, start: &start, end: &end, texts: BTreeMap::new() };
        let mut alone = Vec::new();
        let mut so_far = Vec::new();
        for (at, group) in groups.iter().enumerate() {
            alone.push(known.with(std::slice::from_ref(group)).map_err(one)?);
            if at + 1 < groups.len() {
                so_far.push(known.with(&groups[..=at]).map_err(one)?);
            }
        }
        // behind the last step stands the end itself
        so_far.push(last);
        let stages = self.stages(info, &groups)?;
        let factors: Vec<Factor<'_>> = stages
            .iter()
            .zip(alone.iter().zip(&so_far))
            .map(|(stage, (alone, so_far))| Factor { name: &stage.name, alone, so_far })
            .collect();
        let sources = Sources { study: &start.document, books: &[], library: &self.library };
        let walk = walk_lines(sources, &first, &factors);
        Ok(Between { stages, walk, doubts })
    }

    fn state(&self, info: &DocumentInfo, number: u64) -> Result<State, Vec<Diag>> {
        let release = self.workspace.release(info, number).map_err(|d| vec![d])?;
        let document = self.workspace.load_at(info, release.frozen.entry).map_err(|d| vec![d])?.document;
        let texts = self.workspace.texts_of(&release).map_err(|d| vec![d])?;
        Ok(State { entry: release.frozen.entry, release: Some(release), document, texts })
    }

    fn stages(&self, info: &DocumentInfo, groups: &[Group]) -> Result<Vec<Stage>, Vec<Diag>> {
        let entries = self.workspace.entries(info.id).map_err(|d| vec![d])?;
        let says = |number: u64| entries.iter().find(|e| e.sequence == number).map(|e| e.says.clone()).unwrap_or_default();
        let stage = |group: &Group| {
            let number = |key: &Key| if let Key::Entry(number) = key { Some(*number) } else { None };
            let numbers: Vec<u64> = group.keys.iter().filter_map(number).collect();
            let mut words = match numbers.as_slice() {
                [] => Vec::new(),
                [one] => vec![format!("{}: {}", Key::Entry(*one).words(), says(*one))],
                several => vec![format!("entries {}", several.iter().map(u64::to_string).collect::<Vec<_>>().join(", "))],
            };
            words.extend(group.keys.iter().filter(|key| number(key).is_none()).map(|key| key.words()));
            Stage { name: words.join("; "), entries: numbers, texts: group.texts.iter().cloned().collect() }
        };
        Ok(groups.iter().map(stage).collect())
    }
}

/// States between start and end, with texts that were read before.
struct Known<'a> {
    session: &'a Session,
    base: ByKey,
    start: &'a State,
    end: &'a State,
    texts: BTreeMap<Vec<String>, Texts>,
}

impl Known<'_> {
    /// The start with some groups as they are at the end.
    fn with(&mut self, groups: &[Group]) -> Result<Study, Diag> {
        let changed: Vec<String> = groups.iter().flat_map(|group| group.texts.iter().cloned()).collect();
        if !self.texts.contains_key(&changed) {
            let mut texts = self.base.clone();
            for key in &changed {
                match self.end.texts.get(key) {
                    Some(text) => drop(texts.insert(key.clone(), text.clone())),
                    None => drop(texts.remove(key)),
                }
            }
            self.texts.insert(changed.clone(), Texts::only(&self.session.library, &texts)?);
        }
        let (a, b) = (&self.start.document, &self.end.document);
        let taken = |id: Id| groups.iter().any(|group| group.records.contains(&id));
        let kept = a.records().filter(|record| !taken(record.id));
        let new = b.records().filter(|record| taken(record.id));
        let document = Document::from_records(a.id, a.kind, kept.chain(new).cloned().collect());
        Ok(self.texts[&changed].compile(&document))
    }
}
