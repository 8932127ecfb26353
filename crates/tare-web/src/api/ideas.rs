//! Ideas of a study.

use super::Asked;
use crate::answer::{Outcome, Wrong, json, problems};
use crate::state::Who;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use tare_app::idea::NewIdea;
use tare_app::live::{AtLine, Came, Known, LiveStudy, Now};
use tare_app::view::{ChangeRows, IdeaRow, IdeasView, SetView};
use tare_diag::Diag;

/// Ideas computed at once, at most.
const MOST: usize = 100;

/// What is known of ideas at an entry.
#[derive(Debug, Serialize, schemars::JsonSchema)]
pub(crate) struct IdeasAnswer {
    /// The last entry of the study.
    head: u64,
    /// The entry the ideas were evaluated for; none while the first are.
    of: Option<u64>,
    /// Whether those of the last entry are being computed.
    computing: bool,
    /// The ideas.
    ideas: Option<IdeasView>,
    /// What is wrong in rules.
    problems: Vec<String>,
}

/// One idea.
#[derive(Debug, Serialize, schemars::JsonSchema)]
pub(crate) struct IdeaAnswer {
    head: u64,
    of: Option<u64>,
    computing: bool,
    idea: Option<IdeaRow>,
    /// What it changes line by line; none while that is computed, or where it cannot be carried out.
    changes: Option<ChangeRows>,
}

/// The best set.
#[derive(Debug, Serialize, schemars::JsonSchema)]
pub(crate) struct SetAnswer {
    head: u64,
    of: Option<u64>,
    computing: bool,
    set: Option<SetView>,
}

/// Some ideas, by label.
#[derive(Debug, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Labels {
    ideas: Vec<String>,
    /// Why they are dropped.
    #[serde(default)]
    says: String,
    /// The name of the variant.
    #[serde(default)]
    name: String,
}

/// A new idea.
#[derive(Debug, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct New {
    name: String,
    #[serde(default)]
    says: String,
    /// Edits in the words of `tare edit`, one each.
    edits: Vec<String>,
    #[serde(default)]
    one_off: Option<String>,
    /// low, medium or high.
    #[serde(default)]
    risk: Option<String>,
    #[serde(default)]
    source: String,
    #[serde(default)]
    needs: Vec<String>,
    #[serde(default)]
    against: Vec<String>,
    /// Only read it and say what is wrong.
    #[serde(default)]
    check: bool,
}

/// A search that is to end.
#[derive(Debug, Default, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Stop {
    #[serde(default)]
    most: Option<f64>,
}

/// The entry a result is of, whether a newer one is on its way, and the result.
type Last<X> = (Option<u64>, bool, Option<Arc<X>>);

/// The last result.
fn last<X>(known: Known<u64, X>) -> Result<Last<X>, Wrong> {
    let computing = known.computing;
    match known.last {
        None => Ok((None, computing, None)),
        Some((of, Ok(found))) => Ok((Some(of), computing, Some(found))),
        Some((of, Err(_))) if computing => Ok((Some(of), computing, None)),
        Some((_, Err(found))) => Err(found.into()),
    }
}

/// The money of a query: none where nothing is said.
pub(crate) fn money(text: Option<&str>) -> Result<Option<f64>, Diag> {
    let Some(text) = text.map(str::trim).filter(|text| !text.is_empty()) else { return Ok(None) };
    let amount = text.parse::<f64>().ok().filter(|amount| amount.is_finite());
    amount
        .map(Some)
        .ok_or_else(|| Diag::error("number", format!("`{text}` is no amount of money, expected a number such as 200000")))
}

pub(crate) fn read(study: &Arc<LiveStudy>, now: &Now, what: &str, asked: &Asked) -> Option<Outcome> {
    let head = now.head;
    Some(match what {
        "ideas" => last(study.ideas(now)).map(|(of, computing, found)| {
            let problems = found.as_ref().map(|found| found.problems.clone()).unwrap_or_default();
            let current = of == Some(head);
            let ideas = found.map(|found| if current { found.view.clone() } else { found.at(&now.document) });
            json(&IdeasAnswer { head, of, computing, ideas, problems })
        }),
        "idea" => one(study, now, asked),
        "ideas-set" => money(asked.get("most").map(String::as_str)).map_err(Wrong::from).and_then(|most| {
            let (of, computing, found) = last(study.best_set(now, most, asked.contains_key("again")))?;
            Ok(json(&SetAnswer { head, of, computing, set: found.map(|found| SetView::clone(&found)) }))
        }),
        _ => return None,
    })
}

fn one(study: &Arc<LiveStudy>, now: &Now, asked: &Asked) -> Outcome {
    let label = asked.get("of").map(String::as_str).unwrap_or_default();
    let (of, computing, found) = last(study.ideas(now))?;
    let row = found.as_ref().and_then(|found| found.view.ideas.iter().find(|row| row.label == label)).cloned();
    if row.is_none() && !computing {
        return Err(Diag::error("address-unknown", format!("there is no idea `{label}`")).into());
    }
    let changes = row.as_ref().filter(|row| row.worth.is_some()).map(|_| study.idea_changes(now, label));
    let waits = changes.as_ref().is_some_and(|known| known.computing);
    let changes: Option<Came<ChangeRows>> = changes.and_then(|known| known.last).map(|(_, came)| came);
    let changes = changes.and_then(Result::ok).map(|rows| ChangeRows::clone(&rows));
    Ok(json(&IdeaAnswer { head: now.head, of, computing: computing || waits, idea: row, changes }))
}

pub(crate) fn write(study: &Arc<LiveStudy>, what: &str, body: &[u8], who: &Who, only: bool) -> Option<Outcome> {
    Some(match what {
        "ideas" => super::write::read::<New>(body).and_then(|new| add(study, new, who)),
        "ideas-together" => chosen(body).and_then(|some| Ok(json(&study.together(&some.ideas)?))),
        "ideas-drop" => {
            chosen(body).and_then(|some| Ok(json(&study.drop_ideas(&some.ideas, &some.says, &who.author, &who.device)?)))
        }
        "ideas-keep" => chosen(body).and_then(|some| Ok(json(&study.keep_ideas(&some.ideas, &who.author, &who.device)?))),
        "ideas-take" => chosen(body).and_then(|some| take(study, &some, who, only)),
        "ideas-stop" => super::write::read_or_default::<Stop>(body).map(|asked| {
            study.stop_set(asked.most);
            json(&serde_json::json!({ "ok": true }))
        }),
        _ => return None,
    })
}

fn chosen(body: &[u8]) -> Result<Labels, Wrong> {
    let some: Labels = super::write::read(body)?;
    if some.ideas.is_empty() || some.ideas.len() > MOST {
        let says = format!("{} ideas are named, expected one to {MOST}", some.ideas.len());
        return Err(Wrong::new(StatusCode::UNPROCESSABLE_ENTITY, "ideas-count", says));
    }
    Ok(some)
}

fn take(study: &LiveStudy, some: &Labels, who: &Who, only: bool) -> Outcome {
    if only {
        let says = "these pages show one study; a variant is a study of its own, made where all are shown";
        return Err(Wrong::new(StatusCode::FORBIDDEN, "one-study", says));
    }
    let taken = study.take_ideas(&some.ideas, &some.name, &who.author, &who.device)?;
    Ok(json(&serde_json::json!({ "study": taken.info.name, "entry": taken.info.head, "edits": taken.edits })))
}

fn add(study: &LiveStudy, new: New, who: &Who) -> Outcome {
    let check = new.check;
    let said = |text: Option<String>| text.filter(|text| !text.trim().is_empty());
    let new = NewIdea {
        name: new.name,
        says: new.says,
        edits: new.edits,
        one_off: said(new.one_off),
        risk: said(new.risk),
        needs: new.needs,
        against: new.against,
        source: new.source,
        who: who.author.clone(),
    };
    match study.read_idea(&new) {
        Ok(read) if check => Ok(json(&serde_json::json!({ "edits": read.edits, "problems": [] }))),
        Ok(_) => Ok(json(&study.add_idea(&new, &who.author, &who.device)?)),
        Err(found) => {
            let mut response = json(&serde_json::json!({ "edits": [], "problems": at_lines(found) }));
            if !check {
                *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
            }
            Ok(response)
        }
    }
}

/// Problems, each with the line of its edit.
fn at_lines(found: Vec<AtLine>) -> Vec<serde_json::Value> {
    let row = |(line, problem): AtLine| {
        let mut row = problems(&[problem]).remove(0);
        row["line"] = serde_json::json!(line);
        row
    };
    found.into_iter().map(row).collect()
}
