//! Changes to a study.

use super::command::{Entry, Sent, id};
use super::{answered, who};
use crate::answer::{Outcome, Wrong, json};
use crate::state::{State, Who};
use axum::body::Bytes;
use axum::extract::{Path, State as Shared};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::sync::Arc;
use tare_app::live::{Command, LiveStudy, Request};
use tare_diag::Diag;

/// Commands of one entry, at most.
const MOST_COMMANDS: usize = 5_000;

#[derive(Debug, Default, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Turn {
    /// The entry; the last one where none is named.
    #[serde(default)]
    number: Option<u64>,
}

#[derive(Debug, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WhatIf {
    #[serde(default)]
    commands: Vec<Sent>,
    /// Another volume, such as `40000 1/a`.
    #[serde(default)]
    volume: Option<String>,
    /// Another rate book.
    #[serde(default)]
    book: Option<String>,
}

pub(crate) async fn write(
    Shared(state): Shared<State>,
    Path((name, what)): Path<(String, String)>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let who = who(&state, &headers);
    answered(move || {
        let study = state.study(&name)?;
        done(&study, &what, &body, &who, state.only.is_some())
    })
    .await
}

fn done(study: &Arc<LiveStudy>, what: &str, body: &[u8], who: &Who, only: bool) -> Outcome {
    if let Some(answer) = super::ideas::write(study, what, body, who, only) {
        return answer;
    }
    match what {
        "entries" => {
            let entry: Entry = read(body)?;
            let request = Request {
                id: id(&entry.id)?,
                author: who.author.clone(),
                device: who.device.clone(),
                says: entry.says,
                commands: commands(entry.commands)?,
            };
            Ok(json(&study.edit(&request)?))
        }
        "undo" => Ok(json(&study.undo(read_or_default::<Turn>(body)?.number, &who.author, &who.device)?)),
        "redo" => Ok(json(&study.redo(read_or_default::<Turn>(body)?.number, &who.author, &who.device)?)),
        "whatif" => {
            let asked: WhatIf = read(body)?;
            let mut all = commands(asked.commands)?;
            let set = |target: &str, to: String| Command {
                edit: tare_app::edit_command::EditCommand::Set {
                    target: target.to_owned(),
                    to,
                    about: Box::default(),
                    beside: false,
                },
                from: None,
            };
            all.extend(asked.volume.filter(|v| !v.trim().is_empty()).map(|volume| set("scenario/volume", volume)));
            all.extend(asked.book.filter(|b| !b.trim().is_empty()).map(|book| set("product/book", book)));
            let found = study.what_if(&all)?;
            Ok(json(&found))
        }
        "calculation" => calculation(study, &read(body)?, only),
        _ => {
            Err(Wrong::new(StatusCode::NOT_FOUND, "address-unknown", format!("there is nothing called `{what}` to change here")))
        }
    }
}

#[derive(Debug, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Calculation {
    key: String,
    text: String,
    /// Whether it goes into the workspace's own library.
    #[serde(default)]
    keep: bool,
}

/// What is wrong with the text of a calculation and what its checks give; keeps it where that is asked for and nothing is wrong.
fn calculation(study: &LiveStudy, asked: &Calculation, only: bool) -> Outcome {
    if asked.keep && only {
        let says = "the own library belongs to all studies; these pages show one";
        return Err(Wrong::new(StatusCode::FORBIDDEN, "calculation-keep", says));
    }
    let file = format!("{}.toml", asked.key);
    let library = study.live().library();
    let checked = tare_app::calculations::check(&library, &asked.key, &file, &asked.text);
    let kept = asked.keep && checked.well();
    if kept {
        study.live().keep_calculation(&asked.key, &asked.text)?;
    }
    let problems: Vec<_> = crate::answer::problems(&checked.problems);
    Ok(json(&serde_json::json!({ "problems": problems, "checks": checked.checks, "well": checked.well(), "kept": kept })))
}

/// All commands, or every problem of those that do not read.
fn commands(sent: Vec<Sent>) -> Result<Vec<Command>, Wrong> {
    if sent.len() > MOST_COMMANDS {
        let says = format!("{} commands in one entry, at most {MOST_COMMANDS} are taken", sent.len());
        return Err(Wrong::new(StatusCode::PAYLOAD_TOO_LARGE, "entry-large", says));
    }
    let (mut read, mut problems): (Vec<Command>, Vec<Diag>) = (Vec::new(), Vec::new());
    for command in sent {
        match command.command() {
            Ok(command) => read.push(command),
            Err(problem) => problems.push(problem),
        }
    }
    if problems.is_empty() { Ok(read) } else { Err(problems.into()) }
}

pub(crate) fn read<T: DeserializeOwned>(body: &[u8]) -> Result<T, Wrong> {
    serde_json::from_slice(body)
        .map_err(|error| Wrong::new(StatusCode::BAD_REQUEST, "body", format!("the request does not read: {error}")))
}

pub(crate) fn read_or_default<T: DeserializeOwned + Default>(body: &[u8]) -> Result<T, Wrong> {
    if body.iter().all(u8::is_ascii_whitespace) { Ok(T::default()) } else { read(body) }
}
