//! Operators and functions of formulas, as spreadsheets write them.

use crate::bit::{Bit, COMPARE, POWER, PRODUCT, SUM};
use crate::translate::{Refused, Translator};
use crate::value::{Value, condition, number, truth};
use tare_calc::{Binary, Expr, ExprKind, Function};

impl Translator<'_> {
    pub(crate) fn binary(&mut self, op: Binary, a: &Expr, b: &Expr) -> Result<Value, Refused> {
        let left = self.expr(a)?;
        if let Value::Known(holds) = left {
            match (op, holds) {
                (Binary::And, false) => return Ok(Value::Known(false)),
                (Binary::Or, true) => return Ok(Value::Known(true)),
                (Binary::And | Binary::Or, _) => return self.expr(b),
                _ => {}
            }
        }
        let right = self.expr(b)?;
        // what is done to each entry of a list without entries is such a list
        if left == Value::Empty || right == Value::Empty {
            return Ok(Value::Empty);
        }
        match (op, &right) {
            (Binary::And, Value::Known(true)) | (Binary::Or, Value::Known(false)) => return Ok(left),
            (Binary::And, Value::Known(false)) | (Binary::Or, Value::Known(true)) => return Ok(right),
            _ => {}
        }
        let sign = match op {
            Binary::Eq => "=",
            Binary::Ne => "<>",
            other => other.sign(),
        };
        match (&left, &right) {
            (Value::Choice(_, Some(x)), Value::Choice(_, Some(y))) => return Ok(Value::Known((x == y) == (op == Binary::Eq))),
            (Value::Choice(x, _), Value::Choice(y, _)) | (Value::Condition(x), Value::Condition(y))
                if matches!(op, Binary::Eq | Binary::Ne) =>
            {
                return Ok(Value::Condition(Bit::between(sign, COMPARE, x, y)));
            }
            _ => {}
        }
        if matches!(op, Binary::And | Binary::Or) {
            let (x, y) = (condition(&left)?, condition(&right)?);
            if x.many || y.many {
                let sum = if op == Binary::And { Bit::between("*", PRODUCT, &x, &y) } else { Bit::between("+", SUM, &x, &y) };
                return Ok(Value::Condition(Bit::between(">", COMPARE, &sum, &Bit::number(0.0))));
            }
            // a side that does not matter must not spoil the other
            return Ok(Value::Condition(match op {
                Binary::And => Bit::call("IF", &[&x, &y, &truth(false)]),
                _ => Bit::call("IF", &[&x, &truth(true), &y]),
            }));
        }
        let (x, y) = (number(&left)?, number(&right)?);
        // what is added to the sum of a list without entries
        match op {
            Binary::Add if x == Bit::number(0.0) => return Ok(Value::Number(y)),
            Binary::Add | Binary::Sub if y == Bit::number(0.0) => return Ok(Value::Number(x)),
            _ => {}
        }
        let level = match op {
            Binary::Add | Binary::Sub => SUM,
            Binary::Mul | Binary::Div => PRODUCT,
            Binary::Pow => POWER,
            _ => COMPARE,
        };
        let bit = Bit::between(sign, level, &x, &y);
        Ok(if level == COMPARE { Value::Condition(bit) } else { Value::Number(bit) })
    }

    fn choose(&mut self, arguments: &[Expr]) -> Result<Value, Refused> {
        let [test, then, other] = arguments else { return Err("`if` takes three".to_owned()) };
        let test = match self.expr(test)? {
            Value::Known(holds) => return self.expr(if holds { then } else { other }),
            value => condition(&value)?,
        };
        let (then, other) = (self.expr(then)?, self.expr(other)?);
        let both = |x: &Bit, y: &Bit| -> Result<Bit, Refused> {
            if test.many || x.many || y.many {
                return Err("a choice for each entry of a list at once".to_owned());
            }
            Ok(Bit::call("IF", &[&test, x, y]))
        };
        Ok(match (&then, &other) {
            (Value::Empty, Value::Empty) => Value::Empty,
            (Value::Choice(x, _), Value::Choice(y, _)) => Value::Choice(both(x, y)?, None),
            (Value::Row { table, lower: l1, place: p1 }, Value::Row { lower: l2, place: p2, .. }) => {
                let place = match (p1, p2) {
                    (None, None) => None,
                    (x, y) => Some(both(x.as_ref().unwrap_or(l1), y.as_ref().unwrap_or(l2))?),
                };
                Value::Row { table: table.clone(), lower: both(l1, l2)?, place }
            }
            (Value::Condition(_) | Value::Known(_), Value::Condition(_) | Value::Known(_)) => {
                Value::Condition(both(&condition(&then)?, &condition(&other)?)?)
            }
            _ => Value::Number(both(&number(&then)?, &number(&other)?)?),
        })
    }

    pub(crate) fn call(&mut self, function: Function, arguments: &[Expr]) -> Result<Value, Refused> {
        let simple = match function {
            Function::If => return self.choose(arguments),
            Function::Pick => return self.pick(arguments),
            Function::Given => {
                let [Expr { kind: ExprKind::Name(name), .. }] = arguments else { return Err("`given` takes a name".to_owned()) };
                return Ok(Value::Known(!matches!(self.name(name)?, Value::Absent)));
            }
            Function::Next => {
                let [Expr { kind: ExprKind::Name(name), .. }] = arguments else { return Err("`next` of a formula".to_owned()) };
                let full = self.full_name(name);
                return match self.entry {
                    true => self.named(&full, true).ok_or_else(|| format!("`{name}` is not known")),
                    false => Err("`next` over a whole list".to_owned()),
                };
            }
            Function::Min | Function::Max if arguments.len() > 1 => {
                let bits = arguments.iter().map(|a| self.expr(a).and_then(|v| number(&v))).collect::<Result<Vec<_>, _>>()?;
                if bits.iter().any(|b| b.many) {
                    return Err("the larger or smaller of each entry at once".to_owned());
                }
                let bits: Vec<&Bit> = bits.iter().collect();
                return Ok(Value::Number(Bit::call(if function == Function::Min { "MIN" } else { "MAX" }, &bits)));
            }
            Function::Min
            | Function::Max
            | Function::Sum
            | Function::Mean
            | Function::Count
            | Function::All
            | Function::Any
            | Function::Range
            | Function::At => return self.over_list(function, arguments),
            Function::Absolute => return self.expr(&arguments[0]),
            Function::Floor | Function::Ceil => {
                let x = self.expr(&arguments[0]).and_then(|v| number(&v))?;
                return whole(&x, function == Function::Floor).map(Value::Number);
            }
            Function::Round => {
                let x = self.expr(&arguments[0]).and_then(|v| number(&v))?;
                return Ok(Value::Number(Bit::call("ROUND", &[&x, &Bit::number(0.0)])));
            }
            Function::Abs => "ABS",
            Function::Sqrt => "SQRT",
            Function::Exp => "EXP",
            Function::Ln => "LN",
            Function::Log10 => "LOG10",
            Function::Sin => "SIN",
            Function::Cos => "COS",
            Function::Tan => "TAN",
            Function::Asin => "ASIN",
            Function::Acos => "ACOS",
            Function::Atan => "ATAN",
            Function::NormalInv => "NORMSINV",
            Function::BetaInv => "BETAINV",
            Function::Has => return Err("`has` is for questions".to_owned()),
        };
        let values = arguments.iter().map(|a| self.expr(a)).collect::<Result<Vec<_>, _>>()?;
        if values.contains(&Value::Empty) {
            return Ok(Value::Empty);
        }
        let bits = values.iter().map(number).collect::<Result<Vec<_>, _>>()?;
        let bits: Vec<&Bit> = bits.iter().collect();
        Ok(Value::Number(Bit::call(simple, &bits)))
    }
}

/// The next whole number below or above, where what is within 1e-9 of a whole number is that number.
fn whole(x: &Bit, below: bool) -> Result<Bit, Refused> {
    if x.many {
        return Err("whole numbers of each entry at once".to_owned());
    }
    let size = Bit::call("MAX", &[&Bit::number(1.0), &Bit::call("ABS", &[x])]);
    let slack = Bit::between("*", PRODUCT, &Bit::text("1E-9"), &size);
    Ok(match below {
        true => Bit::call("INT", &[&Bit::between("+", SUM, x, &slack)]),
        false => Bit::call("INT", &[&Bit::between("-", SUM, &slack, x)]).negative(),
    })
}
