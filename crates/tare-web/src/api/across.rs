//! Several studies at once: compared, and asked.

use super::answered;
use crate::answer::{Outcome, Wrong, json, problems};
use crate::state::State;
use axum::body::Bytes;
use axum::extract::{Query, State as Shared};
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use tare_app::collection::{self, Answer, Asked, PartOf, Wanted};
use tare_app::live::{Comparison, Gathered, Known};
use tare_app::view::CompareView;
use tare_diag::Diag;

/// What stands behind the question mark, in order: some names stand there several times.
pub(crate) type Pairs = Vec<(String, String)>;

/// A comparison, once it is computed.
#[derive(Debug, Serialize, schemars::JsonSchema)]
pub(crate) struct CompareAnswer {
    /// Whether it is being computed; what stands here meanwhile is of earlier entries.
    computing: bool,
    /// The comparison.
    comparison: Option<CompareView>,
}

/// A question to all studies.
#[derive(Clone, Debug, Default, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Question {
    /// Which rows: part, joint, feature, operation, finding, hold, removal, study.
    pub(crate) rows: String,
    /// The condition; all rows where there is none.
    #[serde(default)]
    pub(crate) when: String,
    /// What is shown of each: formulas, each with its unit behind ` in `.
    #[serde(default)]
    pub(crate) show: Vec<String>,
    /// The client whose studies are asked, with the house's own.
    #[serde(default)]
    pub(crate) client: Option<String>,
    /// The study whose scenario all are computed under.
    #[serde(default)]
    pub(crate) under: Option<String>,
    /// What it asks, in words.
    #[serde(default)]
    pub(crate) title: String,
    /// The name it is saved under.
    #[serde(default)]
    pub(crate) key: String,
}

/// An answer, once the studies are read.
#[derive(Debug, Serialize, schemars::JsonSchema)]
pub(crate) struct AskAnswer {
    /// Whether the studies are being read.
    computing: bool,
    /// The answer.
    answer: Option<Answer>,
}

impl Question {
    pub(crate) fn asked(&self) -> Asked {
        let when = self.when.trim();
        Asked {
            key: self.key.trim().to_owned(),
            title: self.title.trim().to_owned(),
            rows: self.rows.trim().to_owned(),
            when: if when.is_empty() { "true".to_owned() } else { when.to_owned() },
            show: self.show.iter().map(|text| text.trim().to_owned()).filter(|text| !text.is_empty()).collect(),
        }
    }
}

/// Refuses studies that are not shown here.
pub(crate) fn compare(state: &State, names: &[String], on: Option<&str>) -> Result<Known<String, Comparison>, Wrong> {
    if state.only.is_some() {
        let says = "these pages show one study; studies are compared where all are shown";
        return Err(Wrong::new(StatusCode::FORBIDDEN, "one-study", says));
    }
    Ok(state.live.compare(names, on)?)
}

/// The studies that a question is put to: where one study is shown, that alone.
pub(crate) fn gathered(state: &State, question: &Question) -> Result<Known<String, Gathered>, Wrong> {
    let only = state.only.as_deref().map(|name| state.live.study(name)).transpose()?.map(|study| study.id);
    let text = |text: &Option<String>| text.as_deref().map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned);
    let under = text(&question.under);
    if let Some(under) = &under {
        state.study(under)?;
    }
    let totals_only = collection::row_kind(question.rows.trim()).is_ok_and(|kind| kind.word() == "study");
    Ok(state.live.gathered(&Wanted { client: text(&question.client), under, totals_only, only })?)
}

pub(crate) async fn compared(Shared(state): Shared<State>, Query(pairs): Query<Pairs>) -> Response {
    answered(move || {
        let names: Vec<String> = pairs.iter().filter(|(name, _)| name == "with").map(|(_, text)| text.clone()).collect();
        let on = pairs.iter().find(|(name, text)| name == "on" && !text.is_empty()).map(|(_, text)| text.as_str());
        let known = compare(&state, &names, on)?;
        let comparison = match known.last {
            None => None,
            Some((_, Ok(found))) => Some(found.view.clone()),
            Some((_, Err(_))) if known.computing => None,
            Some((_, Err(found))) => return Err(found.into()),
        };
        Ok(json(&CompareAnswer { computing: known.computing, comparison }))
    })
    .await
}

pub(crate) async fn questions(Shared(state): Shared<State>) -> Response {
    answered(move || {
        let (saved, wrong) = state.live.questions(state.only.is_none());
        let row =
            |q: &Asked| serde_json::json!({ "key": q.key, "title": q.title, "rows": q.rows, "when": q.when, "show": q.show });
        let rows: Vec<_> = saved.iter().map(row).collect();
        Ok(json(&serde_json::json!({ "rows": rows, "problems": problems(&wrong) })))
    })
    .await
}

pub(crate) async fn ask(Shared(state): Shared<State>, body: Bytes) -> Response {
    answered(move || {
        let question: Question = super::write::read(&body)?;
        let known = gathered(&state, &question)?;
        let answer = match known.last.filter(|_| !known.computing) {
            None => None,
            Some((_, Ok(found))) => match collection::ask_at(&found.collection, &found.schema, &question.asked()) {
                Ok(answer) => Some(answer),
                Err(wrong) => return Ok(at_parts(wrong)),
            },
            Some((_, Err(found))) => return Err(found.into()),
        };
        Ok(json(&AskAnswer { computing: known.computing, answer }))
    })
    .await
}

/// Problems, each with the part of the question it is of.
fn at_parts(wrong: Vec<(PartOf, Diag)>) -> Response {
    let row = |(part, problem): (PartOf, Diag)| {
        let mut row = problems(&[problem]).remove(0);
        row["part"] = match part {
            PartOf::Rows => "rows".into(),
            PartOf::When => "when".into(),
            PartOf::Show(at) => format!("show {}", at + 1).into(),
            PartOf::Whole => "question".into(),
        };
        row
    };
    let rows: Vec<_> = wrong.into_iter().map(row).collect();
    let mut response = json(&serde_json::json!({ "problems": rows }));
    *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
    response
}

pub(crate) async fn save(Shared(state): Shared<State>, body: Bytes) -> Response {
    answered(move || saved(&state, &body)).await
}

fn saved(state: &State, body: &[u8]) -> Outcome {
    if state.only.is_some() {
        let says = "the own library belongs to all studies; these pages show one";
        return Err(Wrong::new(StatusCode::FORBIDDEN, "one-study", says));
    }
    let question: Question = super::write::read(body)?;
    let mut asked = question.asked();
    if asked.title.is_empty() {
        asked.title.clone_from(&asked.key);
    }
    if let Some(gathered) = ready(gathered(state, &question)?)
        && let Err(wrong) = collection::ask_at(&gathered.collection, &gathered.schema, &asked)
    {
        return Ok(at_parts(wrong));
    }
    state.live.save_question(&asked)?;
    Ok(json(&serde_json::json!({ "key": asked.key })))
}

fn ready(known: Known<String, Gathered>) -> Option<Arc<Gathered>> {
    known.last.filter(|_| !known.computing).and_then(|(_, came)| came.ok())
}
