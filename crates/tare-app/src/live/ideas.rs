//! Ideas of a live study: evaluated beside, kept for the entry they were computed for; and what is done with them.

use super::beside::Known;
use super::writing::{Done, Refused};
use super::{LiveStudy, Now, held};
use crate::clock;
use crate::idea::{self, Findings, Idea, NewIdea, SetAsked, Taken};
use crate::view::{ChangeRows, IdeaRow, IdeasView, SetView, change_rows, ideas as rows};
use crate::workspace::{DocumentInfo, Recorded, Stamp, read_edits};
use serde::Serialize;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use tare_analysis::{Options, Stop};
use tare_diag::Diag;
use tare_model::{Change, Document, DocumentKind, Field, Id};
use tare_store::Journals;
use tare_study::Study;

/// Draws behind the ranges of ideas.
const DRAWS: u64 = 10_240;

/// The ideas of a study at one entry.
#[derive(Debug)]
pub struct IdeasFound {
    /// With what they come to.
    pub view: IdeasView,
    /// What is wrong in rules.
    pub problems: Vec<String>,
    findings: Findings,
}

impl IdeasFound {
    /// The ideas as a later state of the study holds them, with the numbers of the entry they were computed for: what was dropped since is dropped,
    /// what was recorded stands there without numbers.
    pub fn at(&self, document: &Document) -> IdeasView {
        let mut view = self.view.clone();
        let own = idea::recorded(document);
        let dropped = |idea: &Idea| idea.record.text(Field::State) == Some("dropped");
        for idea in &own {
            let text = |field: Field| idea.record.text(field).unwrap_or_default().to_owned();
            let id = idea.id().to_string();
            let place = view.ideas.iter().position(|row| row.id == id);
            match place {
                Some(at) if dropped(idea) => drop(view.ideas.remove(at)),
                None if dropped(idea) => {}
                Some(at) => {
                    let row = &mut view.ideas[at];
                    (row.label, row.state, row.recorded) = (idea.label.clone(), text(Field::State), true);
                }
                None => view.ideas.push(IdeaRow {
                    label: idea.label.clone(),
                    id,
                    name: idea.name().to_owned(),
                    kind: text(Field::Group),
                    place: idea.place.clone(),
                    says: text(Field::Says),
                    source: text(Field::Source),
                    advice: idea.advice.clone(),
                    risk: text(Field::Risk),
                    state: text(Field::State),
                    recorded: true,
                    edits: Vec::new(),
                    worth: None,
                    problems: vec!["its numbers are being computed".to_owned()],
                }),
            }
        }
        // a record that was taken back may be a rule's hit again, which shows when the ideas are found anew
        view.ideas.retain(|row| !row.recorded || own.iter().any(|idea| idea.id().to_string() == row.id));
        let reason = |idea: &Idea| idea.record.text(Field::Reason).unwrap_or_default().to_owned();
        let away = own.iter().filter(|idea| dropped(idea));
        view.dropped = away.map(|idea| [idea.label.clone(), idea.name().to_owned(), reason(idea)]).collect();
        view
    }
}

/// Ideas computed as one, beside each of them alone.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct Together {
    /// The entry they were computed for.
    pub head: u64,
    /// All of them as one.
    pub whole: IdeaRow,
    /// Each alone.
    pub each: Vec<IdeaRow>,
    /// The sum of the net savings of each, shown; none where one of them is not known.
    pub sum: Option<String>,
    /// What the set as a whole saves, in the same form.
    pub as_one: Option<String>,
    /// The set less the sum, shown.
    pub difference: Option<String>,
}

/// The lines of a new idea, read before it is recorded.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct Read {
    /// What each edit does, in words.
    pub edits: Vec<String>,
}

/// A problem of a new idea: of its line, counted from 1, or of the whole where there is none.
pub type AtLine = (Option<usize>, Diag);

impl LiveStudy {
    /// The ideas at the entry the numbers are of, evaluated beside; those of an earlier entry meanwhile.
    pub fn ideas(self: &Arc<Self>, now: &Now) -> Known<u64, IdeasFound> {
        if now.head != now.computed {
            // records and numbers are of two entries; in a moment they are of one
            return Known { computing: true, ..self.ideas.peek("") };
        }
        let (study, of) = (Arc::clone(self), now.clone());
        self.ideas.ask("", &now.head, move |stop| study.evaluated(&of, stop))
    }

    fn evaluated(&self, now: &Now, stop: &AtomicBool) -> Option<Result<IdeasFound, Vec<Diag>>> {
        let findings = idea::found(&now.document, &now.study, &now.library);
        let view = self.evaluate(now, findings.ideas.clone(), None, &findings, Some(stop))?;
        let problems = findings.problems.iter().map(ToString::to_string).collect();
        Some(view.map(|view| IdeasFound { view, problems, findings }))
    }

    fn evaluate(
        &self,
        now: &Now,
        ideas: Vec<Idea>,
        set: Option<SetAsked>,
        findings: &Findings,
        stop: Option<&AtomicBool>,
    ) -> Option<Result<IdeasView, Vec<Diag>>> {
        let texts = match self.texts(now) {
            Ok(texts) => texts,
            Err(problems) => return Some(Err(problems)),
        };
        // half the machine stays for pages
        let threads = (crate::ranges::threads() / 2).max(1);
        let options = Options { most: DRAWS, least: DRAWS, seed: 1, threads, ..Options::default() };
        let stop = Stop { stop, ..Stop::default() };
        let found = idea::evaluate(&texts, &now.document, &now.study, ideas, set, options, stop)?;
        Some(Ok(rows(&now.document, &now.study, &found, findings)))
    }

    fn texts(&self, now: &Now) -> Result<crate::Texts, Vec<Diag>> {
        self.live.reading().held(&self.live.library(), &now.document)
    }

    /// The best set within a stake, looked for beside when it is asked for first, or asked for again at this entry.
    pub fn best_set(self: &Arc<Self>, now: &Now, stake: Option<f64>, again: bool) -> Known<u64, SetView> {
        let key = stake.map_or_else(String::new, |stake| stake.to_string());
        let known = self.sets.peek(&key);
        // a search takes long: that of an earlier entry stands until somebody wants another
        if (known.last.is_some() && !again) || now.head != now.computed {
            return Known { computing: known.computing || known.last.is_none(), ..known };
        }
        let (study, of) = (Arc::clone(self), now.clone());
        self.sets.ask(&key, &now.head, move |stop| {
            let findings = idea::found(&of.document, &of.study, &of.library);
            let view = study.evaluate(&of, findings.ideas.clone(), Some(SetAsked { stake }), &findings, Some(stop))?;
            let none = || vec![Diag::error("set-none", "no set was found")];
            Some(view.and_then(|view| view.set.ok_or_else(none)))
        })
    }

    /// Ends the search for a best set.
    pub fn stop_set(&self, stake: Option<f64>) {
        self.sets.stop(&stake.map_or_else(String::new, |stake| stake.to_string()));
    }

    /// What an idea changes line by line, computed beside.
    pub fn idea_changes(self: &Arc<Self>, now: &Now, label: &str) -> Known<u64, ChangeRows> {
        if now.head != now.computed {
            return Known { computing: true, ..self.changes.peek(label) };
        }
        let (study, of, name) = (Arc::clone(self), now.clone(), label.to_owned());
        self.changes.ask(label, &now.head, move |_| {
            let chosen = study.chosen(&of, &[name]).and_then(|chosen| Ok((study.texts(&of)?, chosen)));
            let changes = chosen.and_then(|(texts, chosen)| {
                let none = || vec![Diag::error("idea-stuck", "its edits do not all fit the study as it is now")];
                let (detail, after): (_, Study) = idea::detail(&texts, &of.document, &of.study, &chosen)
                    .filter(|_| !chosen[0].edits.is_empty())
                    .ok_or_else(none)?;
                Ok(change_rows(&of.study, &after, &detail))
            });
            Some(changes)
        })
    }

    /// Ideas by label: of those found for this entry already, else found anew.
    fn chosen(&self, now: &Now, labels: &[String]) -> Result<Vec<Idea>, Vec<Diag>> {
        if let Some((of, Ok(found))) = self.ideas.peek("").last
            && of == now.head
        {
            return found.findings.named(labels);
        }
        idea::found(&now.document, &now.study, &now.library).named(labels)
    }

    /// Computes ideas as one, beside each alone; nothing is recorded.
    ///
    /// # Errors
    /// An idea that is not there.
    pub fn together(self: &Arc<Self>, labels: &[String]) -> Result<Together, Vec<Diag>> {
        let now = self.now();
        let chosen = self.chosen(&now, labels)?;
        let row = |view: &IdeasView, label: &str| view.ideas.iter().find(|row| row.label == label).cloned();
        // each alone as well: the one-off costs of the whole are theirs
        let asked: Vec<Idea> = std::iter::once(idea::together(&chosen)).chain(chosen.iter().cloned()).collect();
        let stopped = || vec![Diag::error("stopped", "the computation was stopped")];
        let view = self.evaluate(&now, asked, None, &Findings::default(), None).ok_or_else(stopped)??;
        let whole = row(&view, idea::TOGETHER).ok_or_else(stopped)?;
        let each: Vec<IdeaRow> = chosen.iter().filter_map(|idea| row(&view, &idea.label)).collect();
        let mean = |row: &IdeaRow| row.worth.as_ref().map(|worth| worth.net_saving.mean);
        let sum: Option<f64> = each.iter().map(mean).sum();
        let money = |amount: f64| format!("{amount:.2} {}", view.currency);
        Ok(Together {
            head: now.head,
            sum: sum.map(money),
            as_one: mean(&whole).map(money),
            difference: mean(&whole).zip(sum).map(|(whole, sum)| money(whole - sum)),
            whole,
            each,
        })
    }

    /// Reads an idea that is being written; nothing is recorded.
    ///
    /// # Errors
    /// Every problem, those of edits with their line.
    pub fn read_idea(&self, new: &NewIdea) -> Result<Read, Vec<AtLine>> {
        let (now, library) = (self.now(), self.live.library());
        let (edits, mut problems) = match idea::read(&now.document, &library, &new.edits) {
            Ok(edits) => (edits, Vec::new()),
            Err(found) => (Vec::new(), found.into_iter().map(|(line, problem)| (Some(line), problem)).collect::<Vec<AtLine>>()),
        };
        let rest = NewIdea { edits: Vec::new(), ..new.clone() };
        if let Err(found) = idea::new_idea(&now.document, &library, now.head, &rest) {
            problems.extend(found.into_iter().map(|problem| (None, problem)));
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let addresses = self.addresses(&now);
        Ok(Read { edits: edits.iter().map(|edit| idea::words::described(&now.document, &addresses, edit)).collect() })
    }

    /// Records a new idea.
    ///
    /// # Errors
    /// Every problem of what it says.
    pub fn add_idea(&self, new: &NewIdea, author: &str, device: &str) -> Result<Done, Refused> {
        let library = self.live.library();
        let mut new = new.clone();
        new.edits.retain(|line| !line.trim().is_empty());
        self.change(author, device, |document, head| idea::new_idea(document, &library, head, &new))
    }

    /// Drops ideas with a reason that is kept.
    ///
    /// # Errors
    /// No reason; an idea that is not there; somebody changed it meanwhile.
    pub fn drop_ideas(&self, labels: &[String], says: &str, author: &str, device: &str) -> Result<Done, Refused> {
        let chosen = self.chosen(&self.now(), labels).map_err(Refused::Wrong)?;
        self.change(author, device, |document, _| idea::dropped(document, &chosen, says))
    }

    /// Records ideas of rules as the study's own.
    ///
    /// # Errors
    /// An idea that is not there; the study holds all of them already.
    pub fn keep_ideas(&self, labels: &[String], author: &str, device: &str) -> Result<Done, Refused> {
        let chosen = self.chosen(&self.now(), labels).map_err(Refused::Wrong)?;
        self.change(author, device, |document, _| Ok(idea::kept(document, &chosen)))
    }

    /// Makes a variant of the study with ideas.
    ///
    /// # Errors
    /// A name that is taken; ideas whose edits do not fit; nothing is made then.
    pub fn take_ideas(&self, labels: &[String], name: &str, author: &str, device: &str) -> Result<Taken, Refused> {
        if name.trim().is_empty() {
            return Err(Refused::Wrong(vec![Diag::error("field-missing", "a variant needs a name")]));
        }
        let chosen = self.chosen(&self.now(), labels).map_err(Refused::Wrong)?;
        let mut guard = self.writing()?;
        let writing = &mut *guard;
        self.catch_up_with(writing).map_err(|d| Refused::from(vec![d]))?;
        let before = writing.loaded.head;
        writing.shape += 1;
        let session = held(&self.live.session);
        let info = DocumentInfo { id: self.id, kind: DocumentKind::Study, name: self.name.clone(), head: before };
        let taken =
            idea::take(&session.workspace, (&info, &mut writing.loaded), &chosen, name.trim(), author).map_err(Refused::from)?;
        let entries = session.workspace.store.since(self.id.0, before).map_err(|e| Refused::from(vec![e.diag()]))?;
        drop(session);
        // what was marked as taken in this study shows at once
        for entry in entries {
            let edits = read_edits(&entry).map_err(|d| Refused::from(vec![d]))?;
            held(&self.log).take(&entry, &edits);
            let recorded = Recorded { number: entry.sequence, says: entry.says, edits };
            self.show(writing, entry.sequence - 1, recorded, &entry.author, device);
        }
        Ok(taken)
    }

    /// Records changes that are made out for the study as it stands.
    fn change(
        &self,
        author: &str,
        device: &str,
        make: impl FnOnce(&Document, u64) -> Result<(Vec<Change>, String), Vec<Diag>>,
    ) -> Result<Done, Refused> {
        let mut guard = self.writing()?;
        let writing = &mut *guard;
        self.catch_up_with(writing).map_err(|d| Refused::from(vec![d]))?;
        let (changes, says) = make(&writing.loaded.document, writing.loaded.head).map_err(Refused::from)?;
        if changes.is_empty() {
            let says = "nothing changes: what is asked for stands already";
            return Err(Refused::Wrong(vec![Diag::error("edit-nothing", says)]));
        }
        let (before, stamp): (u64, Stamp) = (writing.loaded.head, Stamp { author: author.to_owned(), says });
        writing.shape += 1;
        let edits = writing.loaded.document.change_all(&changes).map_err(Refused::from)?;
        let id: Id = clock::new_id();
        let recorded = held(&self.live.session).workspace.commit(&mut writing.loaded, edits, &stamp, None, id);
        let recorded = recorded.map_err(|problems| {
            writing.shape += 1;
            Refused::from(problems)
        })?;
        self.log_since(before).map_err(|d| Refused::from(vec![d]))?;
        Ok(self.show(writing, before, recorded, author, device))
    }
}
