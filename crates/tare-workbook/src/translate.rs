//! A calculation's formulas as spreadsheet formulas: the meaning of names, operators and functions.

use crate::bit::{ATOM, Bit, COMPARE, POWER, PRODUCT, Piece, SUM};
use crate::columns::{Column, Fill, Holds};
use std::collections::HashMap;
use tare_calc::{Binary, Expr, ExprKind, FlatInput, Function, Line, Lowered, ParamKind, Resolve, Table, Ty};
use tare_study::{Argument, CompiledTemplate, Evidence, LineRef, Lines};
use tare_units::Unit;

/// Why a formula cannot be written; the cell then holds our value alone.
pub(crate) type Refused = String;

/// What a formula or a part of one stands for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Value {
    Number(Bit),
    Condition(Bit),
    /// A condition that is decided by which inputs are given.
    Known(bool),
    /// A text, and what it says where that is known.
    Choice(Bit, Option<String>),
    /// A row of a look-up table: its place; with the lower row apart where it may lie between two.
    Row {
        table: (String, usize),
        lower: Bit,
        place: Option<Bit>,
    },
    /// An optional input that has no value.
    Absent,
    /// A list without entries.
    Empty,
}

impl Value {
    /// What a cell of it holds.
    pub(crate) fn cell(&self) -> Option<Bit> {
        match self {
            Self::Number(bit) | Self::Condition(bit) | Self::Choice(bit, _) => Some(bit.clone()),
            Self::Known(holds) => Some(truth(*holds)),
            Self::Row { lower, place: None, .. } => Some(lower.clone()),
            _ => None,
        }
    }

    /// A single reference or constant, which needs no cell of its own.
    pub(crate) fn single(&self) -> Option<Bit> {
        let bit = self.cell()?;
        (bit.pieces.len() == 1 && bit.level == ATOM && !bit.many && !matches!(self, Self::Row { .. }))
            .then_some(bit)
            .filter(|b| !matches!(&b.pieces[0], Piece::Text(text) if text.contains('(')))
    }
}

pub(crate) fn truth(holds: bool) -> Bit {
    Bit::text(if holds { "TRUE" } else { "FALSE" })
}

/// The column of a name.
#[derive(Clone, Debug)]
pub(crate) struct Slot {
    pub(crate) slot: usize,
    /// The column of its lower row, for a place between two rows.
    pub(crate) lower: Option<usize>,
    pub(crate) list: bool,
    pub(crate) ty: Ty,
}

/// The names that a formula sees.
#[derive(Clone, Debug, Default)]
struct Scope {
    prefix: String,
    key: String,
}

pub(crate) struct Translator<'a> {
    lib: &'a dyn Resolve,
    lines: &'a Lines,
    template: &'a CompiledTemplate,
    pub(crate) lowered: &'a Lowered,
    pub(crate) flat: Vec<FlatInput<'a>>,
    pub(crate) columns: Vec<Column>,
    /// Names that have a column.
    pub(crate) slots: HashMap<String, Slot>,
    /// Names that stand for something else.
    pub(crate) known: HashMap<String, Value>,
    /// Columns of parameters that differ from use to use and are no input.
    own: HashMap<u32, usize>,
    scope: Scope,
    /// Whether the formula is that of one entry of a list.
    pub(crate) entry: bool,
    /// The line being translated.
    current: usize,
}

impl<'a> Translator<'a> {
    pub(crate) fn new(lib: &'a dyn Resolve, lines: &'a Lines, template: &'a CompiledTemplate) -> Self {
        let flat = lib.calculation(&template.key).map(|calc| tare_calc::flat_inputs(calc, lib)).unwrap_or_default();
        Self {
            lib,
            lines,
            template,
            lowered: &template.lowered,
            flat,
            columns: Vec::new(),
            slots: HashMap::new(),
            known: HashMap::new(),
            own: HashMap::new(),
            scope: Scope::default(),
            entry: false,
            current: 0,
        }
    }

    pub(crate) fn begin(&mut self, line: usize, entry: bool) {
        let of = &self.lowered.lines[line];
        self.scope = Scope { prefix: of.scope.clone(), key: of.calculation.to_string() };
        (self.current, self.entry) = (line, entry);
    }

    /// The formula of a line, with the factor that a formula default is multiplied by.
    pub(crate) fn formula(&mut self, formula: &Expr, line: &Line) -> Result<Value, Refused> {
        let value = self.expr(formula)?;
        let spread = |p: &tare_calc::Param| matches!(p.what, ParamKind::DefaultSpread(flat) if self.flat.get(flat).is_some_and(|f| f.name == line.name));
        let factor = (line.kind == tare_calc::LineKind::Default).then(|| self.lowered.params.iter().position(spread)).flatten();
        match factor {
            Some(param) => {
                let factor = self.param(param as u32);
                Ok(Value::Number(Bit::between("*", PRODUCT, &number(&value)?, &factor)))
            }
            None => Ok(value),
        }
    }

    pub(crate) fn is_shared(&self, param: u32) -> bool {
        matches!(self.template.arguments[param as usize], Argument::Shared(_))
    }

    /// A parameter: what every use binds alike, or a column of its own.
    fn param(&mut self, param: u32) -> Bit {
        if self.is_shared(param) {
            return Bit::piece(Piece::Param(param));
        }
        if let Some(slot) = self.own.get(&param) {
            return Bit::piece(Piece::Cell(*slot));
        }
        let of = &self.lowered.params[param as usize];
        let slot = self.add(Column {
            name: of.name.clone(),
            holds: Holds::Number,
            unit: of.unit.clone(),
            list: false,
            fill: Fill::Bound { params: vec![param], exchange: None },
            values: vec![tare_engine::Operand::Param(param)],
            authored: String::new(),
            source: of.source.clone().unwrap_or_default(),
        });
        self.own.insert(param, slot);
        Bit::piece(Piece::Cell(slot))
    }

    /// The rate that an amount in a unit's currency is multiplied by, or divided by; none in the study's own money.
    pub(crate) fn exchange(&mut self, unit: &Unit) -> Option<(Bit, bool)> {
        let currency = unit.currency?;
        let param = self.lowered.params.iter().position(|p| p.what == ParamKind::Exchange(currency))? as u32;
        if let Argument::Shared(LineRef::Leaf(leaf)) = self.template.arguments[param as usize] {
            let leaf = &self.lines.leaves[leaf as usize];
            if leaf.evidence == Evidence::Derived && leaf.quantity.value == 1.0 {
                return None;
            }
        }
        Some((self.param(param), unit.dim.money() < tare_units::Ratio::ZERO))
    }

    /// What a reference to a column of a type stands for.
    pub(crate) fn as_value(&self, bit: Bit, holds: &Holds, ty: &Ty, name: &str, lower: Option<Bit>) -> Value {
        match holds {
            Holds::Condition => Value::Condition(bit),
            Holds::Choice(_) => Value::Choice(bit, None),
            Holds::Place | Holds::LowerRow(_) => {
                let line = self.lowered.line(name);
                let key = line.map_or_else(|| self.input_key(name), |l| l.calculation.to_string());
                let Ty::Row(table) = ty else { return Value::Number(bit) };
                let position = self.lib.calculation(&key).and_then(|c| c.table(table)).map_or(0, |(at, _)| at);
                match lower {
                    Some(lower) => Value::Row { table: (key, position), lower, place: Some(bit) },
                    None => Value::Row { table: (key, position), lower: bit, place: None },
                }
            }
            Holds::Number => Value::Number(bit),
        }
    }

    fn input_key(&self, name: &str) -> String {
        self.flat.iter().find(|f| f.name == name).map_or_else(|| self.template.key.clone(), |f| f.calculation.to_owned())
    }

    fn reference(&self, slot: usize, list: bool, next: bool) -> Bit {
        Bit::piece(match (list, self.entry, next) {
            (false, ..) => Piece::Cell(slot),
            (true, true, false) => Piece::Entry(slot),
            (true, true, true) => Piece::NextEntry(slot),
            (true, false, _) => Piece::Range(slot),
        })
    }

    /// What a full name stands for.
    fn named(&mut self, full: &str, next: bool) -> Option<Value> {
        if let Some(value) = self.known.get(full) {
            return Some(value.clone());
        }
        let Slot { slot, lower, list, ty } = self.slots.get(full)?.clone();
        let column = &self.columns[slot];
        if list && column.values.is_empty() {
            return Some(Value::Empty);
        }
        let bit = self.reference(slot, list, next);
        let lower = lower.map(|slot| self.reference(slot, list, next));
        Some(self.as_value(bit, &column.holds, ty.entry().0, full, lower))
    }

    fn name(&mut self, name: &str) -> Result<Value, Refused> {
        match name {
            "pi" => return Ok(Value::Number(Bit::text("PI()"))),
            "method" => {
                let of = |p: &tare_calc::Param| p.what == ParamKind::Method && *p.calculation == *self.scope.key;
                let param = self.lowered.params.iter().position(of).ok_or("no method error")?;
                return Ok(Value::Number(self.param(param as u32)));
            }
            _ => {}
        }
        let full = format!("{}{name}", self.scope.prefix);
        match self.named(&full, false) {
            Some(value) => Ok(value),
            None => self.passed_default(name),
        }
    }

    /// An input whose caller passes on an input that is absent: its own default stands.
    fn passed_default(&mut self, name: &str) -> Result<Value, Refused> {
        let lib = self.lib;
        let input = lib.calculation(&self.scope.key).and_then(|c| c.input(name)).map(|(_, input)| input);
        let Some(input) = input else { return Err(format!("`{name}` is not known")) };
        use tare_calc::Default as D;
        match input.default.as_ref().map(|d| &d.value) {
            None => Ok(Value::Absent),
            Some(D::Value(q)) => {
                let amount = Bit::number(q.value);
                Ok(Value::Number(self.exchanged(amount, &q.unit)))
            }
            Some(D::Level(level)) => Ok(match &input.declared {
                tare_calc::Declared::Bool => Value::Known(*level == 1),
                tare_calc::Declared::Choice => {
                    let text = input.choices.get(*level).cloned().unwrap_or_default();
                    Value::Choice(Bit::words(&text), Some(text))
                }
                _ => Value::Number(Bit::number(*level as f64)),
            }),
            Some(_) => Err(format!("`{name}` has a default that cannot be passed on")),
        }
    }

    fn exchanged(&mut self, amount: Bit, unit: &Unit) -> Bit {
        match self.exchange(unit) {
            Some((rate, true)) => Bit::between("/", PRODUCT, &amount, &rate),
            Some((rate, false)) => Bit::between("*", PRODUCT, &amount, &rate),
            None => amount,
        }
    }

    pub(crate) fn expr(&mut self, e: &Expr) -> Result<Value, Refused> {
        if let Some((value, unit)) = point(e) {
            return Ok(Value::Number(Bit::number(unit.to_si(value))));
        }
        match &e.kind {
            ExprKind::Bad => Err("the formula could not be read".to_owned()),
            ExprKind::Number(literal) => {
                let amount = Bit::number(literal.si);
                Ok(Value::Number(match &literal.unit {
                    Some(unit) => self.exchanged(amount, unit),
                    None => amount,
                }))
            }
            ExprKind::Text(text) => Ok(Value::Choice(Bit::words(text), Some(text.clone()))),
            ExprKind::Bool(holds) => Ok(Value::Known(*holds)),
            ExprKind::Name(name) => self.name(name),
            ExprKind::Field(inner, field) => self.field(inner, field),
            ExprKind::Neg(inner) => {
                let inner = self.expr(inner)?;
                if inner == Value::Empty {
                    return Ok(Value::Empty);
                }
                Ok(Value::Number(number(&inner)?.negative()))
            }
            ExprKind::Not(inner) => match self.expr(inner)? {
                Value::Known(holds) => Ok(Value::Known(!holds)),
                Value::Empty => Ok(Value::Empty),
                value => Ok(Value::Condition(Bit::call("NOT", &[&condition(&value)?]))),
            },
            ExprKind::Binary(op, a, b) => self.binary(*op, a, b),
            ExprKind::Call(function, arguments) => self.call(*function, arguments),
        }
    }

    fn field(&mut self, inner: &Expr, field: &str) -> Result<Value, Refused> {
        let lib = self.lib;
        if let ExprKind::Name(name) = &inner.kind
            && lib.calculation(&self.scope.key).is_some_and(|c| c.used(name).is_some())
        {
            let full = format!("{}{name}.{field}", self.scope.prefix);
            if let Some(value) = self.named(&full, false) {
                return Ok(value);
            }
            let callee = lib.calculation(&self.scope.key).and_then(|c| c.used(name)).map(|(_, u)| u.calculation.value.clone());
            let outer = std::mem::replace(&mut self.scope, Scope { prefix: String::new(), key: callee.unwrap_or_default() });
            let value = self.passed_default(field);
            self.scope = outer;
            return value;
        }
        match self.expr(inner)? {
            Value::Row { table, lower, place } => self.column(&table, &lower, place.as_ref(), field),
            _ => Err(format!("`{inner}` is no row")),
        }
    }

    /// A column of a picked row; between two rows the weighted mean of their cells.
    fn column(&mut self, key: &(String, usize), lower: &Bit, place: Option<&Bit>, field: &str) -> Result<Value, Refused> {
        let lib = self.lib;
        let table = lib.calculation(&key.0).and_then(|c| c.tables.get(key.1)).ok_or("the table is not known")?;
        let (at, of) = table.column(field).ok_or_else(|| format!("no column `{field}`"))?;
        if lower.many {
            return Err("a column of many rows at once".to_owned());
        }
        let cells = Bit::piece(Piece::Table(key.clone(), crate::bit::Part::Column(at)));
        let cells = Bit { many: false, ..cells };
        let one = Bit::number(1.0);
        let low = Bit::call("INDEX", &[&cells, &Bit::between("+", SUM, lower, &one)]);
        Ok(match (&of.declared, place) {
            (tare_calc::Declared::Choice, _) => Value::Choice(low, None),
            (tare_calc::Declared::Bool, _) => Value::Condition(low),
            (_, None) => Value::Number(low),
            (_, Some(place)) => {
                let high = Bit::call("INDEX", &[&cells, &next_row(key, lower)]);
                let weight = Bit::between("-", SUM, place, lower);
                let rest = Bit::between("-", SUM, &one, &weight);
                let (low, high) = (Bit::between("*", PRODUCT, &low, &rest), Bit::between("*", PRODUCT, &high, &weight));
                Value::Number(Bit::between("+", SUM, &low, &high))
            }
        })
    }

    fn binary(&mut self, op: Binary, a: &Expr, b: &Expr) -> Result<Value, Refused> {
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

    fn call(&mut self, function: Function, arguments: &[Expr]) -> Result<Value, Refused> {
        let simple = match function {
            Function::If => return self.choose(arguments),
            Function::Pick => return self.pick(arguments),
            Function::Given => {
                let [Expr { kind: ExprKind::Name(name), .. }] = arguments else { return Err("`given` takes a name".to_owned()) };
                return Ok(Value::Known(!matches!(self.name(name)?, Value::Absent)));
            }
            Function::Next => {
                let [Expr { kind: ExprKind::Name(name), .. }] = arguments else { return Err("`next` of a formula".to_owned()) };
                let full = format!("{}{name}", self.scope.prefix);
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

    /// The table that a type names, with its position, as seen from a line.
    pub(crate) fn table_of(&self, ty: &Ty, line: &Line) -> Option<(usize, &'a Table)> {
        let Ty::Row(name) = ty.entry().0 else { return None };
        self.lib.calculation(&line.calculation).and_then(|c| c.table(name))
    }

    /// The calculation in whose text the formula stands.
    pub(crate) fn calculation(&self) -> Option<&'a tare_calc::Calculation> {
        self.lib.calculation(&self.scope.key)
    }

    pub(crate) fn scope_key(&self) -> &str {
        &self.scope.key
    }

    /// The row that the same words picked before, in this calculation.
    pub(crate) fn picked_before(&mut self, words: &str) -> Option<Value> {
        let name = format!("{}{words}", self.scope.prefix);
        if let Some(value) = self.named(&name, false) {
            return Some(value);
        }
        let lowered = self.lowered;
        let earlier = lowered.lines[..self.current]
            .iter()
            .find(|l| l.scope == self.scope.prefix && *l.calculation == *self.scope.key && l.formula.to_string() == words)?;
        self.named(&earlier.name, false)
    }
}

/// The row behind a lower row, counted from 1.
pub(crate) fn next_row(key: &(String, usize), lower: &Bit) -> Bit {
    let next = Bit { many: false, ..Bit::piece(Piece::Table(key.clone(), crate::bit::Part::Next)) };
    let one = Bit::number(1.0);
    let row = Bit::call("INDEX", &[&next, &Bit::between("+", SUM, lower, &one)]);
    Bit::between("+", SUM, &row, &one)
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

/// A value as a number; a condition counts 1 or 0.
pub(crate) fn number(value: &Value) -> Result<Bit, Refused> {
    match value {
        Value::Number(bit) => Ok(bit.clone()),
        Value::Known(holds) => Ok(Bit::number(f64::from(u8::from(*holds)))),
        Value::Condition(bit) if bit.many => Ok(Bit::between("*", PRODUCT, bit, &Bit::number(1.0))),
        Value::Condition(bit) => Ok(Bit::call("IF", &[bit, &Bit::number(1.0), &Bit::number(0.0)])),
        Value::Absent => Err("an input without a value".to_owned()),
        _ => Err("no number".to_owned()),
    }
}

pub(crate) fn condition(value: &Value) -> Result<Bit, Refused> {
    match value {
        Value::Condition(bit) => Ok(bit.clone()),
        Value::Known(holds) => Ok(truth(*holds)),
        Value::Number(bit) => Ok(Bit::between("<>", COMPARE, bit, &Bit::number(0.0))),
        _ => Err("no condition".to_owned()),
    }
}

/// A written temperature point, its sign included.
fn point(e: &Expr) -> Option<(f64, &Unit)> {
    let (literal, sign) = match &e.kind {
        ExprKind::Number(literal) => (literal, 1.0),
        ExprKind::Neg(inner) => match &inner.kind {
            ExprKind::Number(literal) => (literal, -1.0),
            _ => return None,
        },
        _ => return None,
    };
    literal.unit.as_ref().filter(|u| u.is_point()).map(|unit| (sign * literal.value, unit))
}
