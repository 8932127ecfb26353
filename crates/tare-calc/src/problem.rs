//! A message about a text whose file is not known yet.

use crate::span::Span;
use tare_diag::{Diag, Place, nearest};
use tare_units::TextError;

/// What is wrong with a piece of text, and where in it; the caller adds the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Stable code in kebab case.
    pub code: &'static str,
    /// The message.
    pub message: String,
    /// Where in the text.
    pub span: Span,
    /// What to do.
    pub hints: Vec<String>,
}

impl Problem {
    pub(crate) fn new(code: &'static str, message: impl Into<String>, span: Span) -> Self {
        Self { code, message: message.into(), span, hints: Vec::new() }
    }

    /// The problem of a unit or quantity that starts at byte `start` of the text.
    pub(crate) fn of_text(error: &TextError, start: usize) -> Self {
        let span = Span::new(start + error.span.start, start + error.span.end);
        Self { code: error.code, message: error.message.clone(), span, hints: error.hint.iter().cloned().collect() }
    }

    pub(crate) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    pub(crate) fn did_you_mean<'a>(self, name: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        match nearest(name, known) {
            Some(near) => self.hint(format!("did you mean `{near}`?")),
            None => self,
        }
    }

    /// The message as a located error in a file, its span moved by `map`.
    pub(crate) fn locate(self, file: &str, map: impl Fn(Span) -> Span) -> Diag {
        let mut diag = Diag::error(self.code, self.message).at(Place::span(file, map(self.span).range()));
        diag.hints = self.hints;
        diag
    }
}
