//! A calculation as a template: parameters to bind, lines to read.

use crate::calculation::Input;
use crate::expr::Expr;
use crate::span::Span;
use crate::ty::Ty;
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_engine::{Operand, Template};
use tare_units::{Currency, Quantity, Unit};

/// Which inputs are given, and how long each list is.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shape {
    /// One entry per flat input (see [`crate::flat_inputs`]): none when not given, else the number of values (1 for a scalar).
    pub given: Vec<Option<usize>>,
}

impl Shape {
    /// Nothing is given: every input takes its default.
    pub fn defaults(inputs: usize) -> Self {
        Self { given: vec![None; inputs] }
    }
}

/// An input of a calculation or, hoisted, of one that it uses.
#[derive(Clone, Debug)]
pub struct FlatInput<'a> {
    /// `wall`, or `blank.wall` for an input of the used calculation `blank`.
    pub name: String,
    /// The key of the calculation that declares it.
    pub calculation: &'a str,
    /// The declaration.
    pub input: &'a Input,
}

/// A calculation compiled for one shape of its inputs.
#[derive(Clone, Debug)]
pub struct Lowered {
    /// The nodes.
    pub template: Template,
    /// What to bind, in the order of the template's parameters.
    pub params: Vec<Param>,
    /// What can be read, in the order of need.
    pub lines: Vec<Line>,
    /// The values of the inputs, one entry per flat input; empty where an input is absent.
    pub inputs: Vec<InputValue>,
    /// Where a need may lie outside a table that refuses it.
    pub refusals: Vec<Refusal>,
    /// For each table picked from, by its calculation's key and its name: the next row of each row's series, for places between rows.
    pub next: BTreeMap<(Arc<str>, String), Vec<usize>>,
}

impl Lowered {
    /// The line of a name.
    pub fn line(&self, name: &str) -> Option<&Line> {
        self.lines.iter().find(|l| l.name == name)
    }

    /// The operands of a line or, where there is none of that name, of an input.
    pub fn values(&self, name: &str) -> Option<&[Operand]> {
        match self.line(name) {
            Some(line) => Some(&line.values),
            None => self.inputs.iter().find(|i| i.name == name).map(|i| i.values.as_slice()),
        }
    }
}

/// What the formulas read as an input.
#[derive(Clone, Debug)]
pub struct InputValue {
    /// The flat input's name.
    pub name: String,
    /// One operand, or one per entry of a list; empty when an optional input is absent.
    pub values: Vec<Operand>,
}

/// What a parameter stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ParamKind {
    /// A flat input, by position.
    Input(usize),
    /// A cell of a table of the parameter's calculation.
    Cell {
        /// The table, by position.
        table: usize,
        /// The row, by position.
        row: usize,
        /// The column or key, by position.
        column: usize,
        /// Whether it is a key.
        key: bool,
    },
    /// The method error of the parameter's calculation: a factor with mean 1.
    Method,
    /// The price of one unit of a currency in the study's money.
    Exchange(Currency),
    /// The factor (mean 1) on the formula default of a flat input, by position.
    DefaultSpread(usize),
}

/// A parameter of a template.
#[derive(Clone, Debug)]
pub struct Param {
    /// A name for people: `wall`, `machine.150 t.price`, `method`, `exchange EUR`.
    pub name: String,
    /// The key of the calculation it belongs to; empty for an exchange rate.
    pub calculation: Arc<str>,
    /// The entry, from 0, if the input is a list.
    pub element: Option<usize>,
    /// What it stands for.
    pub what: ParamKind,
    /// The unit in which it is shown; values are always SI. Plain for choices (the position of the text), conditions (0, 1), rows.
    pub unit: Unit,
    /// What the value is.
    pub ty: Ty,
    /// The value when nothing else is bound: a default or a cell. Its unit may name a currency; the exchange rate is applied by
    /// the template, so the number is bound as it stands.
    pub default: Option<Quantity>,
    /// The value of a default that is no quantity: position of a choice or row, 0 or 1 of a condition.
    pub level: Option<f64>,
    /// Where the default or cell comes from.
    pub source: Option<String>,
    /// The default or cell in the calculation's text; empty where there is none.
    pub span: Span,
}

/// What a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LineKind {
    /// An equation.
    Equation,
    /// An input that takes its formula default.
    Default,
    /// An input of a used calculation, given by a formula of the caller.
    Given,
    /// A field of an owed group.
    Owed,
    /// A row that a formula picks on its way; its name is the words that pick it.
    Picked,
    /// Whether a need lies outside a table; not for showing.
    Outside,
}

/// A named result.
#[derive(Clone, Debug)]
pub struct Line {
    /// `cooling`, `blank.area`, `material.shot.gross`, `pick#1 outside force`.
    pub name: String,
    /// What it is.
    pub kind: LineKind,
    /// What stands before the names of the formula to make them line or parameter names: empty or `blank.`.
    pub scope: String,
    /// The key of the calculation whose text the formula stands in.
    pub calculation: Arc<str>,
    /// The unit in which it is shown; values are SI.
    pub unit: Unit,
    /// What the value is; a list has as many entries as `values`.
    pub ty: Ty,
    /// The formula.
    pub formula: Arc<Expr>,
    /// The formula as written.
    pub text: String,
    /// Where the formula comes from.
    pub source: Option<String>,
    /// One operand, or one per entry of a list. A choice is the position of its text, a condition 0 or 1; a row is its position
    /// (-1 or no number where none suits), between two rows with the share of the way to the next.
    pub values: Vec<Operand>,
}

/// A place where a table refuses a need that lies outside.
#[derive(Clone, Debug)]
pub struct Refusal {
    /// The key of the calculation with the table.
    pub calculation: Arc<str>,
    /// The table.
    pub table: String,
    /// The key, or several joined by commas when each alone would fit but no row suits all.
    pub key: String,
    /// The smallest key as written.
    pub smallest: String,
    /// The largest key as written.
    pub largest: String,
    /// 1 when the need lies outside, 0 when not.
    pub operand: Operand,
    /// The need; none for several keys.
    pub need: Option<Operand>,
    /// The unit of the key.
    pub unit: Unit,
    /// The line whose formula picks.
    pub line: String,
    /// The hidden line that holds `operand`, by position.
    pub hidden: usize,
    /// Where the pick is written in the calculation's text.
    pub span: Span,
}
