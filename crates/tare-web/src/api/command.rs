//! Commands as they come in.

use serde::Deserialize;
use std::collections::BTreeMap;
use tare_app::edit_command::{About, EditCommand};
use tare_app::live::Command;
use tare_app::{Id, id_of_text};

/// An entry as it comes in.
#[derive(Debug, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Entry {
    /// 32 hexadecimal digits; sent again it is recorded once.
    pub(crate) id: String,
    /// What it says; from the commands where nothing is given.
    #[serde(default)]
    pub(crate) says: Option<String>,
    /// At least one, in order.
    pub(crate) commands: Vec<Sent>,
}

/// A command as it comes in.
#[derive(Debug, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum Sent {
    Set(Box<Set>),
    Clear {
        target: String,
        #[serde(default)]
        from: Option<String>,
    },
    Add(Box<Add>),
    Remove {
        target: String,
    },
    Choose {
        target: String,
        which: String,
        #[serde(default)]
        says: Option<String>,
    },
    Move {
        target: String,
        #[serde(default)]
        under: Option<String>,
        #[serde(default)]
        after: Option<String>,
    },
}

#[derive(Debug, Deserialize, schemars::JsonSchema)]
pub(crate) struct Set {
    target: String,
    to: String,
    #[serde(default)]
    from: Option<String>,
    #[serde(default)]
    beside: bool,
    #[serde(flatten)]
    about: Said,
}

#[derive(Debug, Deserialize, schemars::JsonSchema)]
pub(crate) struct Add {
    kind: String,
    #[serde(default)]
    under: Option<String>,
    #[serde(default)]
    id: Option<String>,
    fields: BTreeMap<String, String>,
    #[serde(flatten)]
    about: Said,
}

/// What is said beside a value.
#[derive(Debug, Default, Deserialize, schemars::JsonSchema)]
struct Said {
    evidence: Option<String>,
    source: Option<String>,
    instrument: Option<String>,
    state: Option<String>,
    who: Option<String>,
    when: Option<String>,
    set: Option<String>,
    number: Option<f64>,
    period: Option<String>,
    method: Option<String>,
    specimen: Option<String>,
}

impl From<Said> for Box<About> {
    fn from(said: Said) -> Self {
        let Said { evidence, source, instrument, state, who, when, set, number, period, method, specimen } = said;
        Box::new(About { evidence, source, instrument, state, who, when, set, number, period, method, specimen })
    }
}

/// Reads an identifier of 32 hexadecimal digits.
pub(crate) fn id(text: &str) -> Result<Id, tare_diag::Diag> {
    id_of_text(text).ok_or_else(|| {
        let says = format!("`{}` is no identifier, expected 32 hexadecimal digits", text.chars().take(60).collect::<String>());
        tare_diag::Diag::error("identifier", says)
    })
}

impl Sent {
    /// The command as the application takes it.
    pub(crate) fn command(self) -> Result<Command, tare_diag::Diag> {
        let plain = |edit| Ok(Command { edit, from: None });
        match self {
            Self::Set(set) => Ok(Command {
                edit: EditCommand::Set { target: set.target, to: set.to, about: set.about.into(), beside: set.beside },
                from: set.from,
            }),
            Self::Clear { target, from } => Ok(Command { edit: EditCommand::Clear { target }, from }),
            Self::Add(add) => plain(EditCommand::Add {
                kind: add.kind,
                under: add.under,
                fields: add.fields.into_iter().map(|(word, text)| format!("{word}={text}")).collect(),
                about: add.about.into(),
                id: add.id.as_deref().map(id).transpose()?,
            }),
            Self::Remove { target } => plain(EditCommand::Remove { target }),
            Self::Choose { target, which, says } => plain(EditCommand::Choose { target, which, says }),
            Self::Move { target, under, after } => plain(EditCommand::Move { target, under, after }),
        }
    }
}
