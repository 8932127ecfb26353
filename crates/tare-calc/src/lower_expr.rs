//! Formulas to operations of the template.

use crate::expr::{Binary, Expr, ExprKind};
use crate::function::Function;
use crate::lower::{Lowerer, Scope, Stop, bare_name, changed};
use crate::span::Span;
use crate::value::{Chosen, Index, Items, PickedRow, Value};
use std::sync::Arc;
use tare_engine::{Op, Operand};

impl<'a> Lowerer<'a> {
    pub(crate) fn expr(&mut self, scope: &Scope<'a>, e: &Expr) -> Result<Value, Stop> {
        if let Some((written, unit, span)) = e.point_literal() {
            let inner = match &e.kind {
                ExprKind::Neg(inner) => inner.span,
                _ => span,
            };
            let si = changed(self.change, inner, unit.to_si(written), Some(unit));
            return Ok(Value::Number(Items::One(self.constant(si))));
        }
        match &e.kind {
            ExprKind::Bad => Err(self.unchecked(scope.file, e.span)),
            ExprKind::Number(literal) => {
                let si = changed(self.change, e.span, literal.si, literal.unit.as_ref());
                let constant = self.constant(si);
                let amount = match &literal.unit {
                    Some(unit) => self.exchanged(constant, unit),
                    None => constant,
                };
                Ok(Value::Number(Items::One(amount)))
            }
            ExprKind::Text(text) => {
                let set: Arc<[String]> = Arc::from(vec![text.clone()]);
                Ok(Value::Choice(Chosen { set, items: Items::One(Index::Known(0)) }))
            }
            ExprKind::Bool(value) => Ok(Value::Known(*value)),
            ExprKind::Name(name) => self.name(scope, name, e.span),
            ExprKind::Field(inner, field) => self.field(scope, inner, field, e.span),
            ExprKind::Neg(inner) => {
                let items = self.numbers(scope, inner)?;
                Ok(Value::Number(self.map(&items, Op::Neg)))
            }
            ExprKind::Not(inner) => match self.expr(scope, inner)? {
                Value::Known(holds) => Ok(Value::Known(!holds)),
                value => {
                    let items = self.as_numbers(scope, value, inner.span)?;
                    Ok(Value::Condition(self.map(&items, Op::Not)))
                }
            },
            ExprKind::Binary(op, a, b) => self.binary(scope, *op, a, b, e.span),
            ExprKind::Call(function, arguments) => self.call(scope, *function, arguments, e.span),
        }
    }

    fn name(&mut self, scope: &Scope<'a>, name: &str, span: Span) -> Result<Value, Stop> {
        match name {
            "pi" => return Ok(Value::Number(Items::One(self.constant(std::f64::consts::PI)))),
            "method" => {
                return match self.method(scope.file) {
                    Some(method) => Ok(Value::Number(Items::One(method))),
                    None => Err(self.unchecked(scope.file, span)),
                };
            }
            _ => {}
        }
        match scope.names.get(name) {
            Some(Value::Absent) | None => Err(self.unchecked(scope.file, span)),
            Some(value) => Ok(value.clone()),
        }
    }

    fn field(&mut self, scope: &Scope<'a>, inner: &Expr, field: &str, span: Span) -> Result<Value, Stop> {
        if let Some(lines) = bare_name(inner).and_then(|name| scope.uses.get(name)) {
            return match lines.get(field) {
                Some(Value::Absent) | None => Err(self.unchecked(scope.file, span)),
                Some(value) => Ok(value.clone()),
            };
        }
        match self.expr(scope, inner)? {
            Value::Row(table, rows) => self.column(scope, table, &rows, field, span),
            _ => Err(self.unchecked(scope.file, span)),
        }
    }

    /// A formula that gives numbers or conditions.
    pub(crate) fn numbers(&mut self, scope: &Scope<'a>, e: &Expr) -> Result<Items<Operand>, Stop> {
        let value = self.expr(scope, e)?;
        self.as_numbers(scope, value, e.span)
    }

    fn as_numbers(&mut self, scope: &Scope<'a>, value: Value, span: Span) -> Result<Items<Operand>, Stop> {
        match value {
            Value::Number(items) | Value::Condition(items) => Ok(items),
            Value::Known(holds) => Ok(Items::One(self.constant(f64::from(u8::from(holds))))),
            _ => Err(self.unchecked(scope.file, span)),
        }
    }

    fn map(&mut self, items: &Items<Operand>, op: Op) -> Items<Operand> {
        items.map(|o| self.op(op, &[*o]))
    }

    /// The common length of lists; none when all are single. Different lengths are a matter of the shape and reported here.
    pub(crate) fn length(&mut self, file: usize, lengths: &[Option<usize>], span: Span) -> Result<Option<usize>, Stop> {
        let mut common = None;
        for length in lengths.iter().flatten() {
            match common {
                Some(before) if before != *length => {
                    let message = format!("a list of {before} meets a list of {length}");
                    return Err(self.fail(file, "list-length", message, span));
                }
                _ => common = Some(*length),
            }
        }
        Ok(common)
    }

    /// An operation, element by element over lists.
    fn zip(&mut self, file: usize, op: Op, operands: &[&Items<Operand>], span: Span) -> Result<Items<Operand>, Stop> {
        let lengths: Vec<Option<usize>> = operands.iter().map(|i| i.length()).collect();
        let length = self.length(file, &lengths, span)?;
        let one = |lowerer: &mut Self, place: usize| {
            let entries: Vec<Operand> = operands.iter().filter_map(|i| i.at(place).copied()).collect();
            lowerer.op(op, &entries)
        };
        Ok(match length {
            None => Items::One(one(self, 0)),
            Some(n) => Items::Many((0..n).map(|place| one(self, place)).collect()),
        })
    }

    fn binary(&mut self, scope: &Scope<'a>, op: Binary, a: &Expr, b: &Expr, span: Span) -> Result<Value, Stop> {
        let left = self.expr(scope, a)?;
        if let Value::Known(holds) = left {
            match (op, holds) {
                (Binary::And, false) => return Ok(Value::Known(false)),
                (Binary::Or, true) => return Ok(Value::Known(true)),
                (Binary::And | Binary::Or, _) => return self.expr(scope, b),
                _ => {}
            }
        }
        let right = self.expr(scope, b)?;
        if let (Value::Choice(x), Value::Choice(y)) = (&left, &right) {
            return self.choices_equal(scope, op, x, y, span);
        }
        match (op, &right) {
            (Binary::And, Value::Known(true)) | (Binary::Or, Value::Known(false)) => return Ok(left),
            (Binary::And, Value::Known(false)) if matches!(left, Value::Condition(Items::One(_))) => return Ok(right),
            (Binary::Or, Value::Known(true)) if matches!(left, Value::Condition(Items::One(_))) => return Ok(right),
            _ => {}
        }
        let left = self.as_numbers(scope, left, a.span)?;
        let right = self.as_numbers(scope, right, b.span)?;
        let holds = op.level() <= Binary::Eq.level();
        let op = match op {
            Binary::Or => Op::Or,
            Binary::And => Op::And,
            Binary::Lt => Op::Lt,
            Binary::Le => Op::Le,
            Binary::Gt => Op::Gt,
            Binary::Ge => Op::Ge,
            Binary::Eq => Op::Eq,
            Binary::Ne => Op::Ne,
            Binary::Add => Op::Add,
            Binary::Sub => Op::Sub,
            Binary::Mul => Op::Mul,
            Binary::Div => Op::Div,
            Binary::Pow => Op::Pow,
        };
        let items = self.zip(scope.file, op, &[&left, &right], span)?;
        Ok(if holds { Value::Condition(items) } else { Value::Number(items) })
    }

    /// A choice with its positions counted in another set, which must hold all its texts.
    pub(crate) fn recoded(&mut self, chosen: &Chosen, set: &Arc<[String]>) -> Chosen {
        if chosen.set == *set {
            return Chosen { set: set.clone(), items: chosen.items.clone() };
        }
        // a text that the other set lacks has no position: the result is then no number
        let place = |text: &String| set.iter().position(|t| t == text);
        let same = chosen.set.len() <= set.len() && chosen.set.iter().zip(set.iter()).all(|(a, b)| a == b);
        let mut table: Option<Vec<Operand>> = None;
        let items = match &chosen.items {
            Items::One(one) => Items::One(self.recoded_one(*one, chosen, same, &place, &mut table)),
            Items::Many(list) => {
                Items::Many(list.iter().map(|one| self.recoded_one(*one, chosen, same, &place, &mut table)).collect())
            }
        };
        Chosen { set: set.clone(), items }
    }

    fn recoded_one(
        &mut self,
        index: Index,
        chosen: &Chosen,
        same: bool,
        place: &impl Fn(&String) -> Option<usize>,
        table: &mut Option<Vec<Operand>>,
    ) -> Index {
        match index {
            Index::Known(i) => match chosen.set.get(i).and_then(place) {
                Some(i) => Index::Known(i),
                None => Index::Found(self.constant(f64::NAN)),
            },
            Index::Found(operand) if same => Index::Found(operand),
            Index::Found(_) => {
                let list = match table {
                    Some(list) => list.clone(),
                    None => {
                        let places: Vec<f64> = chosen.set.iter().map(|t| place(t).map_or(f64::NAN, |i| i as f64)).collect();
                        let list: Vec<Operand> = places.into_iter().map(|p| self.constant(p)).collect();
                        table.insert(list).clone()
                    }
                };
                Index::Found(self.select(index, &list))
            }
        }
    }

    /// Two choices over one common set.
    fn joined(&mut self, a: &Chosen, b: &Chosen) -> (Chosen, Chosen) {
        let mut all = a.set.to_vec();
        all.extend(b.set.iter().filter(|t| !a.set.contains(t)).cloned());
        let set: Arc<[String]> = if all.len() == a.set.len() { a.set.clone() } else { Arc::from(all) };
        (self.recoded(a, &set), self.recoded(b, &set))
    }

    fn choices_equal(&mut self, scope: &Scope<'a>, op: Binary, a: &Chosen, b: &Chosen, span: Span) -> Result<Value, Stop> {
        // the longer set first, so that a written text is looked up in the input's own choices
        let (a, b) = if a.set.len() < b.set.len() { self.joined(b, a) } else { self.joined(a, b) };
        let equal = op == Binary::Eq;
        if let (Items::One(Index::Known(x)), Items::One(Index::Known(y))) = (&a.items, &b.items) {
            return Ok(Value::Known((x == y) == equal));
        }
        let left = a.items.map(|i| self.position(*i));
        let right = b.items.map(|i| self.position(*i));
        let op = if equal { Op::Eq } else { Op::Ne };
        Ok(Value::Condition(self.zip(scope.file, op, &[&left, &right], span)?))
    }

    pub(crate) fn choose(&mut self, scope: &Scope<'a>, arguments: &[Expr], span: Span) -> Result<Value, Stop> {
        let [condition, then, other] = arguments else { return Err(self.unchecked(scope.file, span)) };
        let test = match self.expr(scope, condition)? {
            Value::Known(holds) => return self.expr(scope, if holds { then } else { other }),
            value => self.as_numbers(scope, value, condition.span)?,
        };
        let first = self.expr(scope, then)?;
        let second = self.expr(scope, other)?;
        match (&first, &second) {
            (Value::Choice(x), Value::Choice(y)) => {
                let (x, y) = self.joined(x, y);
                let left = x.items.map(|i| self.position(*i));
                let right = y.items.map(|i| self.position(*i));
                let items = self.zip(scope.file, Op::If, &[&test, &left, &right], span)?;
                Ok(Value::Choice(Chosen { set: x.set, items: items.map(|o| Index::Found(*o)) }))
            }
            (Value::Row(table, x), Value::Row(other, y)) if table == other => {
                let index = [x, y].map(|rows| rows.map(|r| self.position(r.index)));
                let index = self.zip(scope.file, Op::If, &[&test, &index[0], &index[1]], span)?;
                let zero = self.constant(0.0);
                let weight = [x, y].map(|rows| rows.map(|r| r.weight.unwrap_or(zero)));
                let between = [x, y].iter().any(|rows| rows.as_slice().iter().any(|r| r.weight.is_some()));
                let weight =
                    if between { Some(self.zip(scope.file, Op::If, &[&test, &weight[0], &weight[1]], span)?) } else { None };
                let row = |place: usize, index: Operand| PickedRow {
                    index: Index::Found(index),
                    weight: weight.as_ref().and_then(|w| w.at(place).copied()),
                };
                Ok(Value::Row(
                    *table,
                    match index {
                        Items::One(one) => Items::One(row(0, one)),
                        Items::Many(list) => Items::Many(list.into_iter().enumerate().map(|(i, o)| row(i, o)).collect()),
                    },
                ))
            }
            _ => {
                let number = |v: &Value| matches!(v, Value::Number(_));
                let holds = !number(&first) && !number(&second);
                let left = self.as_numbers(scope, first, then.span)?;
                let right = self.as_numbers(scope, second, other.span)?;
                let items = self.zip(scope.file, Op::If, &[&test, &left, &right], span)?;
                Ok(if holds { Value::Condition(items) } else { Value::Number(items) })
            }
        }
    }

    fn call(&mut self, scope: &Scope<'a>, function: Function, arguments: &[Expr], span: Span) -> Result<Value, Stop> {
        let op = match function {
            Function::If => return self.choose(scope, arguments, span),
            Function::Pick => return self.pick(scope, arguments, span),
            Function::Given => {
                let name = arguments.first().and_then(bare_name);
                return match name.and_then(|n| scope.names.get(n)) {
                    Some(Value::Absent) => Ok(Value::Known(false)),
                    Some(_) => Ok(Value::Known(true)),
                    None => Err(self.unchecked(scope.file, span)),
                };
            }
            Function::Min
            | Function::Max
            | Function::Sum
            | Function::Mean
            | Function::Count
            | Function::All
            | Function::Any
            | Function::Range
            | Function::At
            | Function::Next => return self.over_list(scope, function, arguments, span),
            Function::Absolute => return Ok(Value::Number(self.numbers(scope, &arguments[0])?)),
            Function::Abs => Op::Abs,
            Function::Sqrt => Op::Sqrt,
            Function::Exp => Op::Exp,
            Function::Ln => Op::Ln,
            Function::Log10 => Op::Log10,
            Function::Floor => Op::Floor,
            Function::Ceil => Op::Ceil,
            Function::Round => Op::Round,
            Function::Sin => Op::Sin,
            Function::Cos => Op::Cos,
            Function::Tan => Op::Tan,
            Function::Asin => Op::Asin,
            Function::Acos => Op::Acos,
            Function::Atan => Op::Atan,
            Function::NormalInv => Op::NormalInv,
            Function::BetaInv => Op::BetaInv,
            // the checker refuses it
            Function::Has => return Err(self.unchecked(scope.file, span)),
        };
        let mut lowered = Vec::with_capacity(arguments.len());
        for argument in arguments {
            lowered.push(self.numbers(scope, argument)?);
        }
        let lowered: Vec<&Items<Operand>> = lowered.iter().collect();
        Ok(Value::Number(self.zip(scope.file, op, &lowered, span)?))
    }
}
