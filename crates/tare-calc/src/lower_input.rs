//! Inputs of a calculation being lowered: given, by default, or given by the caller of a used calculation.

use crate::calculation::{Calculation, Declared, Default, Given, Input, Use};
use crate::check::{MAX_USES, Resolve, passed_on};
use crate::expr::Expr;
use crate::lower::{Lowerer, MAX_INSTANCES, Scope, Stop};
use crate::lowered::{FlatInput, Line, LineKind, Param, ParamKind, Shape};
use crate::reader::MAX_LIST;
use crate::span::{Located, Span};
use crate::ty::Ty;
use crate::value::{Chosen, Index, Items, PickedRow, TableAt, Value};
use std::collections::HashMap;
use std::sync::Arc;
use tare_engine::{Op, Operand};
use tare_units::Unit;

/// Most flat inputs.
pub const MAX_INPUTS: usize = 20_000;

/// Lists a calculation's inputs and, behind them, those of its uses that it does not give itself.
///
/// A path of uses that is too deep or circular is cut off; [`check`](crate::check()) reports it.
pub fn flat_inputs<'a>(calc: &'a Calculation, lib: &'a dyn Resolve) -> Vec<FlatInput<'a>> {
    let mut found = Vec::new();
    let mut instances = 0;
    flatten(calc, lib, "", &[], &mut found, &mut instances, 0);
    found
}

fn flatten<'a>(
    calc: &'a Calculation,
    lib: &'a dyn Resolve,
    prefix: &str,
    given: &[Given],
    found: &mut Vec<FlatInput<'a>>,
    instances: &mut usize,
    depth: usize,
) {
    *instances += 1;
    for input in calc.inputs.iter().filter(|i| !given.iter().any(|g| g.name.value == i.name.value)) {
        if found.len() < MAX_INPUTS {
            found.push(FlatInput { name: format!("{prefix}{}", input.name.value), calculation: &calc.key, input });
        }
    }
    for used in &calc.uses {
        if let Some(callee) = lib.calculation(&used.calculation.value)
            && depth < MAX_USES
            && *instances < MAX_INSTANCES
        {
            flatten(callee, lib, &format!("{prefix}{}.", used.name.value), &used.given, found, instances, depth + 1);
        }
    }
}

/// A shape that gives every input that has no default, lists at their shortest (but one entry where that is allowed).
pub fn any_shape(inputs: &[FlatInput<'_>]) -> Shape {
    let one = |flat: &FlatInput<'_>| -> Option<usize> {
        if flat.input.default.is_some() || flat.input.optional {
            return None;
        }
        Some(flat.input.list.map_or(1, |list| list.least.max(1).min(list.most.unwrap_or(usize::MAX))))
    };
    Shape { given: inputs.iter().map(one).collect() }
}

impl<'a> Lowerer<'a> {
    /// The texts of a choice input, shared.
    pub(crate) fn choices(&mut self, file: usize, input: &Input) -> Arc<[String]> {
        let place = input.name.span.start as usize;
        self.files[file].sets.entry(place).or_insert_with(|| Arc::from(input.choices.as_slice())).clone()
    }

    /// Turns parameters or other operands into the kind of value that an input is.
    pub(crate) fn as_input(&mut self, scope: &Scope<'a>, input: &Input, operands: Items<Operand>) -> Value {
        match &input.declared {
            Declared::Choice => {
                let set = self.choices(scope.file, input);
                Value::Choice(Chosen { set, items: operands.map(|o| Index::Found(*o)) })
            }
            Declared::Row(table) => match self.files[scope.file].calc.table(table) {
                Some((table, _)) => Value::Row(
                    TableAt { file: scope.file, table },
                    operands.map(|o| PickedRow { index: Index::Found(*o), weight: None }),
                ),
                None => Value::Number(operands),
            },
            Declared::Bool => Value::Condition(operands),
            _ => Value::Number(operands),
        }
    }

    pub(crate) fn input(&mut self, scope: &Scope<'a>, input: &'a Input) -> Result<Value, Stop> {
        let name = format!("{}{}", scope.prefix, input.name.value);
        let Some(flat) = self.flat.get(name.as_str()).copied() else {
            return Err(self.fail(scope.file, "too-many-inputs", "there are too many inputs", input.name.span));
        };
        let given = self.shape.given[flat];
        let length = match (input.list, given) {
            (None, None | Some(1)) => None,
            (None, Some(n)) => {
                return Err(self.fail(
                    scope.file,
                    "list-length",
                    format!("`{name}` takes one value, found {n}"),
                    input.name.span,
                ));
            }
            (Some(list), Some(n)) if !list.allows(n) || n > MAX_LIST => {
                return Err(self.fail(
                    scope.file,
                    "list-length",
                    format!("`{name}` takes a list of {list}, found {n}"),
                    input.name.span,
                ));
            }
            (Some(_), Some(n)) => Some(n),
            (Some(list), None) => Some(match &input.default {
                Some(Located { value: Default::Values(values), .. }) => values.len(),
                _ => list.least,
            }),
        };
        let default = if given.is_some() { None } else { input.default.as_ref() };
        if let Some(Located { value: Default::Formula(formula), .. }) = default {
            return self.formula_default(scope, input, flat, name, formula, length);
        }
        if given.is_none() && default.is_none() && input.optional {
            return Ok(Value::Absent);
        }
        let mut operands = Vec::with_capacity(length.unwrap_or(1));
        for element in 0..length.unwrap_or(1) {
            let (value, level) = match default.map(|d| &d.value) {
                Some(Default::Value(q)) => (Some(q), None),
                Some(Default::Values(list)) => (list.get(element), None),
                Some(Default::Level(level)) => (None, Some(*level as f64)),
                _ => (None, None),
            };
            let operand = self.add_param(Param {
                name: name.clone(),
                calculation: self.files[scope.file].key.clone(),
                element: length.map(|_| element),
                what: ParamKind::Input(flat),
                unit: input.declared.unit(),
                ty: Ty::declared(&input.declared, &input.choices),
                default: value.cloned(),
                level,
                source: default.and(input.source.clone()),
                span: default.map_or(Span::default(), |d| d.span),
            });
            operands.push(match value {
                Some(q) => self.exchanged(operand, &q.unit),
                None => operand,
            });
        }
        self.inputs[flat].values.clone_from(&operands);
        let items = match (length, operands.first()) {
            (None, Some(one)) => Items::One(*one),
            _ => Items::Many(operands),
        };
        Ok(self.as_input(scope, input, items))
    }

    fn formula_default(
        &mut self,
        scope: &Scope<'a>,
        input: &'a Input,
        flat: usize,
        name: String,
        formula: &Arc<Expr>,
        length: Option<usize>,
    ) -> Result<Value, Stop> {
        self.current.clone_from(&name);
        let value = self.expr(scope, formula)?;
        let mut value = self.conform(scope, value, input, length, formula.span)?;
        if let Some(spread) = &input.spread
            && let Value::Number(items) = &value
        {
            let factor = self.add_param(Param {
                name: format!("default of {name}"),
                calculation: self.files[scope.file].key.clone(),
                element: None,
                what: ParamKind::DefaultSpread(flat),
                unit: Unit::plain(),
                ty: Ty::Num(tare_units::Dim::ONE),
                default: Some(spread.clone()),
                level: None,
                source: input.source.clone(),
                span: Span::default(),
            });
            value = Value::Number(items.map(|o| self.op(Op::Mul, &[*o, factor])));
        }
        let (ty, values) = self.read(&value, &input.declared);
        self.inputs[flat].values.clone_from(&values);
        self.lines.push(Line {
            name,
            kind: LineKind::Default,
            scope: scope.prefix.clone(),
            calculation: self.files[scope.file].key.clone(),
            unit: input.declared.unit(),
            ty,
            formula: formula.clone(),
            text: input.default_text.clone(),
            source: input.source.clone(),
            values,
        });
        Ok(value)
    }

    pub(crate) fn used(&mut self, calc: &'a Calculation, scope: &mut Scope<'a>, used: &'a Use, depth: usize) -> Result<(), Stop> {
        let Some(callee) = self.lib.calculation(&used.calculation.value) else {
            return Err(self.fail(scope.file, "unknown-calculation", "no such calculation", used.calculation.span));
        };
        let prefix = format!("{}{}.", scope.prefix, used.name.value);
        let inner = Scope { file: self.file(callee), prefix: prefix.clone(), names: HashMap::new(), uses: HashMap::new() };
        let mut given = HashMap::new();
        for formula in &used.given {
            let Some((_, input)) = callee.input(&formula.name.value) else {
                return Err(self.unchecked(scope.file, formula.name.span));
            };
            if let Some(name) = passed_on(calc, &formula.formula, input)
                && matches!(scope.names.get(name), Some(Value::Absent))
            {
                let value = self.passed_default(&inner, input, formula.formula.span)?;
                given.insert(input.name.value.as_str(), value);
                continue;
            }
            self.current = format!("{prefix}{}", input.name.value);
            let value = self.expr(scope, &formula.formula)?;
            let length = input.list.map(|list| if list.most == Some(list.least) { list.least } else { list.least.max(1) });
            let value = self.conform(&inner, value, input, length, formula.formula.span)?;
            let (ty, values) = self.read(&value, &input.declared);
            self.lines.push(Line {
                name: format!("{prefix}{}", input.name.value),
                kind: LineKind::Given,
                scope: scope.prefix.clone(),
                calculation: self.files[scope.file].key.clone(),
                unit: input.declared.unit(),
                ty,
                formula: formula.formula.clone(),
                text: formula.text.clone(),
                source: None,
                values,
            });
            given.insert(input.name.value.as_str(), value);
        }
        let done = self.scope(callee, prefix, given, depth + 1)?;
        scope.uses.insert(&used.name.value, done.names);
        Ok(())
    }

    /// The value of a used calculation's input when the caller passes on an input that is absent.
    fn passed_default(&mut self, inner: &Scope<'a>, input: &'a Input, span: Span) -> Result<Value, Stop> {
        let length = input.list.map(|l| l.least);
        let operand = match input.default.as_ref().map(|d| &d.value) {
            None => return Ok(Value::Absent),
            Some(Default::Value(q)) => {
                let operand = self.constant(q.value);
                self.exchanged(operand, &q.unit)
            }
            Some(Default::Level(level)) => self.constant(*level as f64),
            Some(_) => {
                let message = format!("`{}` has no value to pass on, and its default is a formula or a list", input.name.value);
                return Err(self.fail(inner.file, "optional-input", message, span));
            }
        };
        let items = match length {
            None => Items::One(operand),
            Some(n) => Items::Many(vec![operand; n]),
        };
        Ok(self.as_input(inner, input, items))
    }

    /// Fits a value to an input: list length, and the order of its choices.
    pub(crate) fn conform(
        &mut self,
        scope: &Scope<'a>,
        value: Value,
        input: &Input,
        length: Option<usize>,
        span: Span,
    ) -> Result<Value, Stop> {
        let value = self.settled(scope, value, span)?;
        let found = match &value {
            Value::Number(items) | Value::Condition(items) => items.length(),
            Value::Choice(chosen) => chosen.items.length(),
            Value::Row(_, rows) => rows.length(),
            Value::Known(_) | Value::Absent => None,
        };
        let many = match (input.list, found) {
            (None, None) => None,
            (Some(list), Some(n)) if list.allows(n) => None,
            (Some(_), None) => length,
            (list, n) => {
                let expected = list.map_or("one value".to_owned(), |l| format!("a list of {l}"));
                let message = format!("`{}` takes {expected}, found {}", input.name.value, n.unwrap_or(1));
                return Err(self.fail(scope.file, "list-length", message, span));
            }
        };
        fn repeat<T: Clone>(items: Items<T>, many: Option<usize>) -> Items<T> {
            match (items, many) {
                (Items::One(one), Some(n)) => Items::Many(vec![one; n]),
                (items, _) => items,
            }
        }
        Ok(match value {
            Value::Number(items) => Value::Number(repeat(items, many)),
            Value::Condition(items) => Value::Condition(repeat(items, many)),
            Value::Choice(chosen) => {
                let set = self.choices(scope.file, input);
                let chosen = self.recoded(&chosen, &set);
                Value::Choice(Chosen { set, items: repeat(chosen.items, many) })
            }
            Value::Row(table, rows) => Value::Row(table, repeat(rows, many)),
            other => other,
        })
    }
}
