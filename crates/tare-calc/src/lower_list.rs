//! Functions over lists.

use crate::expr::{Expr, ExprKind};
use crate::function::Function;
use crate::lower::{Lowerer, Scope, Stop};
use crate::span::Span;
use crate::value::{Chosen, Index, Items, PickedRow, Value};
use tare_engine::{Op, Operand};

impl<'a> Lowerer<'a> {
    pub(crate) fn over_list(
        &mut self,
        scope: &Scope<'a>,
        function: Function,
        arguments: &[Expr],
        span: Span,
    ) -> Result<Value, Stop> {
        match function {
            Function::At => return self.at(scope, arguments, span),
            Function::Next => {
                let value = self.expr(scope, &arguments[0])?;
                return self.next(scope, value, arguments[0].span);
            }
            Function::Count => return self.count(scope, arguments),
            Function::Min | Function::Max if arguments.len() > 1 => {
                let mut common = self.numbers(scope, &arguments[0])?;
                for argument in &arguments[1..] {
                    let next = self.numbers(scope, argument)?;
                    common = self.extreme(scope, function, &common, &next, span)?;
                }
                return Ok(Value::Number(common));
            }
            _ => {}
        }
        let entries = self.entries(scope, arguments)?;
        let result = match function {
            Function::Sum => self.fold(Op::Add, &entries, 0.0),
            Function::All => self.fold(Op::And, &entries, 1.0),
            Function::Any => self.fold(Op::Or, &entries, 0.0),
            _ if entries.is_empty() => {
                let message = format!("`{}` of a list without entries", function.name());
                return Err(self.fail(scope.file, "empty-list", message, span));
            }
            Function::Mean => {
                let sum = self.fold(Op::Add, &entries, 0.0);
                let count = self.constant(entries.len() as f64);
                self.op(Op::Div, &[sum, count])
            }
            Function::Min => self.fold(Op::Min, &entries, f64::NAN),
            Function::Max => self.fold(Op::Max, &entries, f64::NAN),
            Function::Range => {
                let most = self.fold(Op::Max, &entries, f64::NAN);
                let least = self.fold(Op::Min, &entries, f64::NAN);
                self.op(Op::Sub, &[most, least])
            }
            _ => return Err(self.unchecked(scope.file, span)),
        };
        let holds = matches!(function, Function::All | Function::Any);
        Ok(if holds { Value::Condition(Items::One(result)) } else { Value::Number(Items::One(result)) })
    }

    /// The entries of one list, or single arguments as a list.
    fn entries(&mut self, scope: &Scope<'a>, arguments: &[Expr]) -> Result<Vec<Operand>, Stop> {
        let mut entries = Vec::new();
        for argument in arguments {
            entries.extend_from_slice(self.numbers(scope, argument)?.as_slice());
        }
        Ok(entries)
    }

    /// From left to right; `empty` for no entries.
    fn fold(&mut self, op: Op, entries: &[Operand], empty: f64) -> Operand {
        let Some((first, rest)) = entries.split_first() else { return self.constant(empty) };
        rest.iter().fold(*first, |sum, next| self.op(op, &[sum, *next]))
    }

    fn extreme(
        &mut self,
        scope: &Scope<'a>,
        function: Function,
        a: &Items<Operand>,
        b: &Items<Operand>,
        span: Span,
    ) -> Result<Items<Operand>, Stop> {
        let op = if function == Function::Min { Op::Min } else { Op::Max };
        let length = self.length(scope.file, &[a.length(), b.length()], span)?;
        let one = |lowerer: &mut Self, place: usize| match (a.at(place), b.at(place)) {
            (Some(x), Some(y)) => lowerer.op(op, &[*x, *y]),
            _ => lowerer.constant(f64::NAN),
        };
        Ok(match length {
            None => Items::One(one(self, 0)),
            Some(n) => Items::Many((0..n).map(|place| one(self, place)).collect()),
        })
    }

    /// How many entries; of conditions, how many hold.
    fn count(&mut self, scope: &Scope<'a>, arguments: &[Expr]) -> Result<Value, Stop> {
        let mut total = 0;
        let mut conditions: Vec<Operand> = Vec::new();
        for argument in arguments {
            match self.expr(scope, argument)? {
                Value::Condition(items) => conditions.extend_from_slice(items.as_slice()),
                Value::Number(items) => total += items.as_slice().len(),
                Value::Known(true) => total += 1,
                Value::Known(false) => {}
                Value::Choice(chosen) => total += chosen.items.as_slice().len(),
                Value::Row(_, rows) => total += rows.as_slice().len(),
                Value::Absent => return Err(self.unchecked(scope.file, argument.span)),
            }
        }
        let result = if conditions.is_empty() { self.constant(total as f64) } else { self.fold(Op::Add, &conditions, 0.0) };
        Ok(Value::Number(Items::One(result)))
    }

    fn at(&mut self, scope: &Scope<'a>, arguments: &[Expr], span: Span) -> Result<Value, Stop> {
        let list = self.expr(scope, &arguments[0])?;
        let index = match &arguments[1].kind {
            // a written place must not become a node: it may stand far outside a short list
            ExprKind::Number(literal) if literal.unit.is_none() => {
                let place = literal.value;
                let length = match &list {
                    Value::Number(items) | Value::Condition(items) => items.as_slice().len(),
                    Value::Choice(chosen) => chosen.items.as_slice().len(),
                    Value::Row(_, rows) => rows.as_slice().len(),
                    Value::Known(_) | Value::Absent => 0,
                };
                if place < 1.0 || place.fract() != 0.0 || place > length as f64 {
                    let message = format!("there is no place {} in a list of {length}", literal.text);
                    return Err(self.fail(scope.file, "list-place", message, span));
                }
                Index::Known(place as usize - 1)
            }
            _ => {
                let place = self.numbers(scope, &arguments[1])?;
                let Items::One(place) = place else { return Err(self.unchecked(scope.file, arguments[1].span)) };
                let one = self.constant(1.0);
                Index::Found(self.op(Op::Sub, &[place, one]))
            }
        };
        Ok(match list {
            Value::Number(items) => Value::Number(Items::One(self.select(index, items.as_slice()))),
            Value::Condition(items) => Value::Condition(Items::One(self.select(index, items.as_slice()))),
            Value::Choice(chosen) => {
                let one = self.select_index(index, chosen.items.as_slice());
                Value::Choice(Chosen { set: chosen.set, items: Items::One(one) })
            }
            Value::Row(table, rows) => {
                let indices: Vec<Index> = rows.as_slice().iter().map(|r| r.index).collect();
                let found = self.select_index(index, &indices);
                let weights: Option<Vec<Operand>> = rows.as_slice().iter().map(|r| r.weight).collect();
                let weight = weights.filter(|w| !w.is_empty()).map(|w| self.select(index, &w));
                Value::Row(table, Items::One(PickedRow { index: found, weight }))
            }
            Value::Known(_) | Value::Absent => return Err(self.unchecked(scope.file, span)),
        })
    }

    fn select_index(&mut self, index: Index, list: &[Index]) -> Index {
        match index {
            Index::Known(place) if place < list.len() => list[place],
            _ => {
                let positions: Vec<Operand> = list.iter().map(|i| self.position(*i)).collect();
                Index::Found(self.select(index, &positions))
            }
        }
    }

    fn next(&mut self, scope: &Scope<'a>, value: Value, span: Span) -> Result<Value, Stop> {
        fn shifted<T: Clone>(items: Items<T>) -> Items<T> {
            match items {
                Items::Many(mut list) => {
                    if let Some(last) = list.last().cloned() {
                        list.remove(0);
                        list.push(last);
                    }
                    Items::Many(list)
                }
                one => one,
            }
        }
        Ok(match value {
            Value::Number(items) => Value::Number(shifted(items)),
            Value::Condition(items) => Value::Condition(shifted(items)),
            Value::Choice(chosen) => Value::Choice(Chosen { set: chosen.set, items: shifted(chosen.items) }),
            Value::Row(table, rows) => Value::Row(table, shifted(rows)),
            Value::Known(_) | Value::Absent => return Err(self.unchecked(scope.file, span)),
        })
    }
}
