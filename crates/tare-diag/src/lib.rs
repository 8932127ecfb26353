//! Located messages that a person can act on.
//!
//! A [`Diag`] says what was found and what was expected, where, and what to do next. Operations return diagnostics without
//! printing them; [`render`] turns one into plain text with the offending line underlined.
//!
//! ```
//! use tare_diag::{Diag, Place, render};
//! let text = "wall = 3\n";
//! let d = Diag::error("unit-missing", "found `3` where a length is due")
//!     .at(Place::span("part.toml", 7..8))
//!     .hint("write the unit: `3 mm`");
//! let shown = render(&d, |file| (file == "part.toml").then_some(text));
//! assert!(shown.starts_with("error[unit-missing]: found `3` where a length is due"));
//! assert!(shown.contains("part.toml:1:8"));
//! ```
//!
//! It does not decide how a face (terminal, page) colours a message, and knows nothing of what the places mean.

mod near;
mod place;
mod render;

pub use near::nearest;
pub use place::Place;
pub use render::{line_and_column, render};

/// How bad a message is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// For information.
    Note,
    /// The result stands, but look at it.
    Warning,
    /// No result, or nothing was changed.
    Error,
}

impl Severity {
    /// The word shown to people and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// One message: severity, stable code, what and where, related places, and what to do.
///
/// Wording: lower case, no final stop; say what was found and what was expected; a hint is an action.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diag {
    /// How bad it is.
    pub severity: Severity,
    /// Stable code in kebab case, for tests and look-up.
    pub code: &'static str,
    /// The message itself.
    pub message: String,
    /// Where it is, when there is a place.
    pub place: Option<Place>,
    /// Other places that matter, each with a word on why.
    pub related: Vec<(Place, String)>,
    /// What to do next.
    pub hints: Vec<String>,
}

impl Diag {
    /// Makes a message of a severity.
    pub fn new(severity: Severity, code: &'static str, message: impl Into<String>) -> Self {
        Self { severity, code, message: message.into(), place: None, related: Vec::new(), hints: Vec::new() }
    }

    /// Makes an error.
    pub fn error(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, message)
    }

    /// Makes a warning.
    pub fn warning(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, message)
    }

    /// Makes a note.
    pub fn note(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, message)
    }

    /// Sets the place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(place);
        self
    }

    /// Adds a related place.
    #[must_use]
    pub fn with(mut self, place: Place, why: impl Into<String>) -> Self {
        self.related.push((place, why.into()));
        self
    }

    /// Adds a hint.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// The same as a warning: what stops one use may be no more than a doubt for another.
    #[must_use]
    pub fn as_warning(self) -> Self {
        Self { severity: Severity::Warning, ..self }
    }

    /// Adds "did you mean" for the nearest of `known` names, if one is near.
    #[must_use]
    pub fn did_you_mean<'a>(self, name: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        match nearest(name, known) {
            Some(near) => self.hint(format!("did you mean `{near}`?")),
            None => self,
        }
    }

    /// Whether this is an error.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

impl std::fmt::Display for Diag {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}[{}]: {}", self.severity.word(), self.code, self.message)?;
        if let Some(place) = &self.place {
            write!(f, " ({place})")?;
        }
        for hint in &self.hints {
            write!(f, "; {hint}")?;
        }
        Ok(())
    }
}

/// Whether any of the messages is an error.
pub fn any_error(diags: &[Diag]) -> bool {
    diags.iter().any(Diag::is_error)
}
