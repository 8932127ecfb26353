//! Questions over the facts of studies: one expression in the language of calculations.
//!
//! [`Question::read`] checks an expression against a [`Schema`] once; [`Question::hits`] answers it for any study's [`Facts`], a column
//! at a time. [`Measure`] is the same for a number of each row.
//!
//! A relation's field is a list: `joints.method`, `joints.fastener.mass` (of all of them), compared entry by entry; `any`, `all`,
//! `count`, `sum`, `mean`, `min` and `max` make one value of a list. A relation to one row (`parent`, `fastener`) gives one value. What
//! is not known makes no comparison true, nor its negation; `given(x)` asks whether it is known. `count` counts what holds or is known;
//! a sum, mean, least or greatest of a list is not known where one of its entries is not. An amount in a currency is known in studies of
//! that currency only; `[money]` is that of each study.
//!
//! ```
//! use tare_analysis::{Question, RowKind, Schema};
//! let (library, _) = tare_library::Library::embedded();
//! let schema = Schema::of(&library);
//! let question = Question::read(RowKind::Part, "has(name, 'cover') and any(joints.function == 'seal')", &schema);
//! assert!(question.is_ok());
//! let wrong = Question::read(RowKind::Part, "masss > 1 [kg]", &schema).unwrap_err();
//! assert_eq!(wrong[0].hints, ["did you mean `mass`?"]);
//! ```

mod check;
mod check_call;
mod check_name;
mod chunks;
mod fold;
mod level;
mod node;
mod run;
mod values;

use crate::facts::{ColumnType, Facts, RowKind, Schema, Truth};
pub(crate) use check::{Checked, Located, Scope, check, check_for, dimension, plain};
pub(crate) use chunks::Asked;
pub(crate) use level::Listed;
pub(crate) use node::Ty;
use node::What;
pub(crate) use run::Run;
use std::ops::Range;
use tare_calc::{Expr, Function, Span};
use tare_diag::{Diag, Place};
use tare_units::Unit;
pub(crate) use values::Values;

/// The name of a question in the places of its messages.
const FILE: &str = "question";

/// Functions that only questions have.
const FUNCTIONS: [Function; 1] = [Function::Has];

/// A checked condition over the rows of one kind.
#[derive(Clone, Debug)]
pub struct Question {
    rows: RowKind,
    checked: Checked,
}

/// A checked number of each row of one kind.
#[derive(Clone, Debug)]
pub struct Measure {
    rows: RowKind,
    checked: Checked,
    /// The unit to show it in; money is the study's.
    pub unit: Unit,
}

impl Question {
    /// Reads a condition over rows; spans of messages point into the text, whose name is `question`.
    ///
    /// # Errors
    /// All problems at once: syntax, unknown names, dimensions, lists where one value is due.
    pub fn read(rows: RowKind, text: &str, schema: &Schema) -> Result<Self, Vec<Diag>> {
        let checked = read(text, Scope { schema, rows, outer: None, lets: &[] })?;
        is_condition(&checked, text).map_err(|problem| locate(vec![problem]))?;
        Ok(Self { rows, checked })
    }

    /// The rows it is about.
    pub fn rows(&self) -> RowKind {
        self.rows
    }

    /// The rows for which it is true, ascending.
    pub fn hits(&self, facts: &Facts) -> Vec<u32> {
        true_rows(facts, Asked { kind: self.rows, rows: None, outer: None }, &self.checked)
    }
}

impl Measure {
    /// Reads a number of each row; a single column keeps its unit, anything else is shown in base units.
    ///
    /// # Errors
    /// As [`Question::read`]; a condition or text is no number.
    pub fn read(rows: RowKind, text: &str, schema: &Schema) -> Result<Self, Vec<Diag>> {
        let checked = read(text, Scope { schema, rows, outer: None, lets: &[] })?;
        is_number(&checked, text).map_err(|problem| locate(vec![problem]))?;
        let unit = unit_of(schema, &checked);
        Ok(Self { rows, checked, unit })
    }

    /// The rows it is about.
    pub fn rows(&self) -> RowKind {
        self.rows
    }

    /// The number of each row in SI, NaN where not known.
    pub fn values(&self, facts: &Facts) -> Vec<f64> {
        let asked = Asked { kind: self.rows, rows: None, outer: None };
        let mut all = vec![f64::NAN; asked.count(facts)];
        in_chunks(facts, asked, &self.checked, |run, places| {
            if let Values::Numbers(numbers) = run.node(&self.checked.node) {
                all[places].iter_mut().enumerate().for_each(|(at, value)| *value = numbers.at(at));
            }
        });
        all
    }
}

/// The places of the rows for which a checked condition is true.
pub(crate) fn true_rows(facts: &Facts, asked: Asked<'_>, checked: &Checked) -> Vec<u32> {
    let mut found = Vec::new();
    in_chunks(facts, asked, checked, |run, places| {
        let first = u32::try_from(places.start).unwrap_or(u32::MAX);
        match run.node(&checked.node) {
            Values::Truths(values::Col::Same(Truth::YES)) => found.extend((first..).take(places.len())),
            Values::Truths(values::Col::Each(truths)) => {
                found.extend((first..).zip(truths.iter()).filter(|(_, t)| **t == Truth::YES).map(|(at, _)| at));
            }
            _ => {}
        }
    });
    found
}

/// Answers a checked formula: all rows at once, or some at a time where their lists are too long.
pub(crate) fn in_chunks(facts: &Facts, asked: Asked<'_>, checked: &Checked, mut work: impl FnMut(&Run<'_>, Range<usize>)) {
    let Some(chunks) = chunks::chunks(facts, asked, &checked.node) else {
        return work(&Run::new(facts, asked, &checked.texts), 0..asked.count(facts));
    };
    for places in chunks {
        let rows: Vec<u32> = match asked.rows {
            Some(rows) => rows[places.clone()].to_vec(),
            None => (0_u32..).skip(places.start).take(places.len()).collect(),
        };
        let outer = asked.outer.map(|outer| &outer[places.clone()]);
        work(&Run::new(facts, Asked { rows: Some(&rows), outer, ..asked }, &checked.texts), places);
    }
}

fn read(text: &str, scope: Scope<'_>) -> Result<Checked, Vec<Diag>> {
    parse(text).and_then(|expr| check(scope, &expr)).map_err(locate)
}

/// Reads the text of a formula; problems point into it.
pub(crate) fn parse(text: &str) -> Result<Expr, Vec<Located>> {
    let (expr, problems) = tare_calc::parse_formula(text);
    if problems.is_empty() {
        return Ok(expr);
    }
    Err(problems
        .into_iter()
        .map(|problem| {
            let mut diag = Diag::error(problem.code, problem.message);
            diag.hints = problem.hints;
            if problem.code == "unknown-function" && diag.hints.is_empty() {
                diag = diag.did_you_mean(&text[problem.span.range()], FUNCTIONS.iter().map(|f| f.name()));
            }
            (problem.span, diag)
        })
        .collect())
}

fn locate(problems: Vec<Located>) -> Vec<Diag> {
    problems.into_iter().map(|(span, diag)| diag.at(Place::span(FILE, span.range()))).collect()
}

/// A problem unless a formula is one condition for each row.
pub(crate) fn is_condition(checked: &Checked, text: &str) -> Result<(), Located> {
    let span = Span::new(0, text.len());
    let node = &checked.node;
    let problem = match (node.ty, &node.shape) {
        (Ty::Truth, None) => return Ok(()),
        (Ty::Truth, Some(list)) => {
            Diag::error("list", format!("this is a list of conditions, one for each of `{}`", list.text()))
                .hint(format!("write `any({text})` or `all({text})`"))
        }
        (Ty::Rows, Some(_)) => Diag::error("not-a-condition", format!("`{text}` are rows, expected a condition"))
            .hint(format!("write `any({text}.name == '...')`, or `count({text}) > 0`")),
        (Ty::Rows, None) => Diag::error("not-a-condition", format!("`{text}` is a row, expected a condition"))
            .hint(format!("write `given({text})`, or `any({text}.name == '...')`")),
        (ty, _) => Diag::error("not-a-condition", format!("expected a condition, found {}", check::words(ty)))
            .hint("compare it, as in `mass > 1 [kg]`"),
    };
    Err((span, problem))
}

/// A problem unless a formula is one number for each row.
fn is_number(checked: &Checked, text: &str) -> Result<(), Located> {
    let node = &checked.node;
    let problem = match (node.ty, &node.shape) {
        (Ty::Number(_) | Ty::Zero, None) => return Ok(()),
        (Ty::Number(_) | Ty::Zero, Some(list)) => {
            Diag::error("list", format!("this is a list of numbers, one for each of `{}`", list.text()))
                .hint(format!("write `sum({text})`, `mean({text})`, `min({text})` or `max({text})`"))
        }
        (Ty::Rows, _) => Diag::error("not-a-number", "expected a number, found rows").hint(format!("write `count({text})`")),
        (ty, _) => Diag::error("not-a-number", format!("expected a number, found {}", check::words(ty))),
    };
    Err((Span::new(0, text.len()), problem))
}

/// The unit to show a formula in: that of a single column, else the coherent one.
pub(crate) fn unit_of(schema: &Schema, checked: &Checked) -> Unit {
    let dim = plain(checked.node.ty);
    if let What::Column { path, name, .. } = &checked.node.what {
        let own = schema.column(path.end(), name).iter().find_map(|ty| match ty {
            ColumnType::Number(unit) if unit.dim == dim => Some(unit.clone()),
            _ => None,
        });
        if let Some(unit) = own {
            return unit;
        }
    }
    Unit::of(dim)
}
