//! What is wrong with a unit or a quantity, and where in its text.

use std::fmt;
use std::ops::Range;
use tare_diag::{Diag, Place};

/// What is wrong with a text, where in it, and what to do.
///
/// The caller knows the file and adds it: [`TextError::diag`] makes the located message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TextError {
    /// Stable code in kebab case.
    pub code: &'static str,
    /// What was found and what was expected: lower case, no final stop.
    pub message: String,
    /// The offending bytes inside the text that was given.
    pub span: Range<usize>,
    /// What to do, if it can be said.
    pub hint: Option<String>,
}

/// Why a unit expression was refused.
pub type UnitError = TextError;

/// Why a quantity text was refused.
pub type QuantityError = TextError;

impl TextError {
    pub(crate) fn new(code: &'static str, span: Range<usize>, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), span, hint: None }
    }

    pub(crate) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// The same error, `by` bytes further into a longer text.
    #[must_use]
    pub fn shifted(mut self, by: usize) -> Self {
        self.span = self.span.start.saturating_add(by)..self.span.end.saturating_add(by);
        self
    }

    /// The located message, for a text that starts at byte `start` of `file`.
    pub fn diag(&self, file: &str, start: usize) -> Diag {
        let place = Place::span(file, start + self.span.start..start + self.span.end);
        self.unplaced().at(place)
    }

    /// The message without a place, for texts that come from a cell or a command line.
    pub fn unplaced(&self) -> Diag {
        let diag = Diag::error(self.code, self.message.clone());
        match &self.hint {
            Some(hint) => diag.hint(hint.clone()),
            None => diag,
        }
    }
}

impl fmt::Display for TextError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        match &self.hint {
            Some(hint) => write!(f, "; {hint}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for TextError {}
