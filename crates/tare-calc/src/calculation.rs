//! What a calculation file says.

use crate::expr::Expr;
use crate::order::Step;
use crate::owed::Owed;
use crate::span::{Located, Span};
use crate::table::Table;
use std::sync::Arc;
use tare_diag::Diag;
use tare_units::{Quantity, Unit};

/// One calculation file, read. Whatever could not be read is left out and has a message.
#[derive(Clone, Debug)]
pub struct Calculation {
    /// The file's path without `.toml`, relative to the library.
    pub key: String,
    /// The file's name as the user knows it.
    pub file: String,
    /// The file's text.
    pub text: String,
    /// What it is called.
    pub title: String,
    /// What it is a calculation of; none when the file does not say (which is an error).
    pub kind: Option<Kind>,
    /// What it covers and what it leaves out.
    pub says: String,
    /// The shared method error.
    pub method: Option<Method>,
    /// The inputs, in the order of the file.
    pub inputs: Vec<Input>,
    /// The tables, in the order of the file.
    pub tables: Vec<Table>,
    /// The equations, in the order of the file.
    pub equations: Vec<Equation>,
    /// The calculations it uses, in the order of the file.
    pub uses: Vec<Use>,
    /// What it owes its caller.
    pub owes: Owed,
    /// For an estimate: which equation estimates which quantity of an item.
    pub gives: Vec<Give>,
    /// For a test: the equation that judges.
    pub verdict: Option<Located<String>>,
    /// The published examples it must reproduce.
    pub checks: Vec<Check>,
    /// Whether all of it could be read. What could not is left out, so such a calculation is never lowered.
    pub complete: bool,
    /// The order in which formulas can be worked out.
    pub(crate) order: Vec<Step>,
    /// Messages found by ordering (circles); [`crate::check`] reports them.
    pub(crate) circles: Vec<Diag>,
}

impl Calculation {
    /// The input of a name, with its position.
    pub fn input(&self, name: &str) -> Option<(usize, &Input)> {
        self.inputs.iter().enumerate().find(|(_, i)| i.name.value == name)
    }

    /// The table of a name, with its position.
    pub fn table(&self, name: &str) -> Option<(usize, &Table)> {
        self.tables.iter().enumerate().find(|(_, t)| t.name.value == name)
    }

    /// The equation of a name.
    pub fn equation(&self, name: &str) -> Option<&Equation> {
        self.equations.iter().find(|e| e.name.value == name)
    }

    /// The used calculation of a name, with its position.
    pub fn used(&self, name: &str) -> Option<(usize, &Use)> {
        self.uses.iter().enumerate().find(|(_, u)| u.name.value == name)
    }
}

/// What a calculation is a calculation of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Making a part.
    Process,
    /// Joining parts.
    Joint,
    /// Buying a part.
    Purchase,
    /// An elementary motion of a person.
    Motion,
    /// A quantity of an item from other quantities.
    Estimate,
    /// A test and its judgement.
    Test,
    /// Building up a rate, a cost or a price.
    BuildUp,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 7] =
        [Self::Process, Self::Joint, Self::Purchase, Self::Motion, Self::Estimate, Self::Test, Self::BuildUp];

    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Process => "process",
            Self::Joint => "joint",
            Self::Purchase => "purchase",
            Self::Motion => "motion",
            Self::Estimate => "estimate",
            Self::Test => "test",
            Self::BuildUp => "build-up",
        }
    }
}

/// The shared method error of a calculation: a factor with mean 1.
#[derive(Clone, Debug)]
pub struct Method {
    /// The factor with its spread.
    pub spread: Quantity,
    /// Why that much.
    pub reason: String,
    /// Where it stands.
    pub span: Span,
}

/// A declared unit: what an input, column or equation is.
#[derive(Clone, Debug, PartialEq)]
pub enum Declared {
    /// A number; a temperature point when the unit is `degC` or `degF`.
    Number(Unit),
    /// A condition.
    Bool,
    /// One of several texts.
    Choice,
    /// A row of a table.
    Row(String),
    /// It could not be read; a message says why.
    Bad,
}

impl Declared {
    /// The unit of a number; the plain unit for everything else.
    pub fn unit(&self) -> Unit {
        match self {
            Self::Number(unit) => unit.clone(),
            _ => Unit::plain(),
        }
    }
}

/// How many entries a list may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length {
    /// The fewest.
    pub least: usize,
    /// The most; none when open.
    pub most: Option<usize>,
}

impl Length {
    /// Exactly `n` entries.
    pub fn exactly(n: usize) -> Self {
        Self { least: n, most: Some(n) }
    }

    /// Whether a list of `n` entries is allowed.
    pub fn allows(self, n: usize) -> bool {
        n >= self.least && self.most.is_none_or(|most| n <= most)
    }

    /// The lengths that both allow, if there are any.
    pub fn and(self, other: Self) -> Option<Self> {
        let least = self.least.max(other.least);
        let most = match (self.most, other.most) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        most.is_none_or(|most| least <= most).then_some(Self { least, most })
    }
}

impl std::fmt::Display for Length {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.most {
            Some(most) if most == self.least => write!(f, "{most}"),
            Some(most) => write!(f, "{}..{most}", self.least),
            None => write!(f, "{}..", self.least),
        }
    }
}

/// An input.
#[derive(Clone, Debug)]
pub struct Input {
    /// Its name.
    pub name: Located<String>,
    /// What it is.
    pub declared: Declared,
    /// The unit's text and place.
    pub unit: Located<String>,
    /// How many entries, for a list.
    pub list: Option<Length>,
    /// For a choice: the texts to choose from; their order gives the level that stands for each.
    pub choices: Vec<String>,
    /// Where a value is looked for, in order.
    pub from: Vec<Located<String>>,
    /// What stands in when no value is given.
    pub default: Option<Located<Default>>,
    /// The default as written.
    pub default_text: String,
    /// The factor (mean 1) on a formula default.
    pub spread: Option<Quantity>,
    /// Where the default comes from.
    pub source: Option<String>,
    /// Whether a default is from a handbook or assumed, as written.
    pub evidence: Option<String>,
    /// What it is, in words.
    pub says: String,
    /// Whether it may stay without a value.
    pub optional: bool,
}

/// What stands in for an input that is not given.
#[derive(Clone, Debug)]
pub enum Default {
    /// A value.
    Value(Quantity),
    /// One value per entry of a list.
    Values(Vec<Quantity>),
    /// A choice (its position in `choices`), a condition (0 or 1) or a row (its position).
    Level(usize),
    /// A formula over the other inputs.
    Formula(Arc<Expr>),
    /// It could not be read; a message says why.
    Bad,
}

/// An equation.
#[derive(Clone, Debug)]
pub struct Equation {
    /// Its name.
    pub name: Located<String>,
    /// What it gives.
    pub declared: Declared,
    /// The unit's text and place.
    pub unit: Located<String>,
    /// The formula.
    pub formula: Arc<Expr>,
    /// The formula as written.
    pub text: String,
    /// Where the formula comes from.
    pub source: Option<String>,
    /// What it is, in words.
    pub says: String,
}

/// Another calculation used inside this one.
#[derive(Clone, Debug)]
pub struct Use {
    /// The name it is read by.
    pub name: Located<String>,
    /// The key of the calculation.
    pub calculation: Located<String>,
    /// Its inputs that are given here.
    pub given: Vec<Given>,
    /// Why it is used, in words.
    pub says: String,
}

/// An input of a used calculation, given by a formula of the caller.
#[derive(Clone, Debug)]
pub struct Given {
    /// The input of the used calculation.
    pub name: Located<String>,
    /// The formula, over the caller's names.
    pub formula: Arc<Expr>,
    /// The formula as written.
    pub text: String,
}

/// Which equation estimates which quantity.
#[derive(Clone, Debug)]
pub struct Give {
    /// The quantity of an item.
    pub quantity: Located<String>,
    /// The equation.
    pub equation: Located<String>,
}

/// A published example that the calculation must reproduce.
#[derive(Clone, Debug)]
pub struct Check {
    /// Reference id, or `own-...`.
    pub id: String,
    /// Where the example is published.
    pub source: String,
    /// Whether the figures were read there; otherwise they are from memory.
    pub seen: bool,
    /// What kind of example it is.
    pub kind: String,
    /// What the example shows, in words.
    pub says: String,
    /// Inputs by name (`wall`, or `blank.wall` for one of a used calculation).
    pub given: Vec<CheckValue>,
    /// Expected results by name.
    pub expect: Vec<CheckValue>,
    /// What is expected once everything given with a spread is drawn.
    pub ranges: Option<RangeCheck>,
    /// Where the check stands.
    pub span: Span,
}

/// A named value of a check: one text, or one per entry of a list.
#[derive(Clone, Debug)]
pub struct CheckValue {
    /// The input or equation.
    pub name: Located<String>,
    /// The texts as written.
    pub texts: Vec<Located<String>>,
    /// Whether it was written as a list.
    pub list: bool,
}

/// What a check expects once everything that it gives with a spread is drawn.
#[derive(Clone, Debug)]
pub struct RangeCheck {
    /// How many draws.
    pub draws: u64,
    /// The share of draws that the interval holds.
    pub coverage: f64,
    /// Whether the interval is the shortest; otherwise as many draws lie below as above.
    pub shortest: bool,
    /// Degrees of freedom of given values: their spread is drawn from Student's t.
    pub freedom: Vec<(Located<String>, f64)>,
    /// Correlations of two given values, named `a, b`.
    pub correlated: Vec<(Located<String>, f64)>,
    /// Expected figures: `line.u`, or `line, line.correlation`.
    pub expect: Vec<CheckValue>,
}
