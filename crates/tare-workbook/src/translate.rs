//! A calculation's formulas as spreadsheet formulas: what names stand for.

use crate::bit::{Bit, PRODUCT, Piece, SUM};
use crate::columns::{Column, Fill, Holds};
use crate::value::{Value, condition, number};
use std::collections::HashMap;
use tare_calc::{Expr, ExprKind, FlatInput, Line, Lowered, ParamKind, Resolve, Table, Ty};
use tare_study::{Argument, CompiledTemplate, Evidence, LineRef, Lines};
use tare_units::Unit;

/// Why a formula cannot be written; the cell then holds our value alone.
pub(crate) type Refused = String;

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
    pub(crate) fn named(&mut self, full: &str, next: bool) -> Option<Value> {
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

    pub(crate) fn name(&mut self, name: &str) -> Result<Value, Refused> {
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

    /// The table that a type names, with its position, as seen from a line.
    pub(crate) fn table_of(&self, ty: &Ty, line: &Line) -> Option<(usize, &'a Table)> {
        let Ty::Row(name) = ty.entry().0 else { return None };
        self.lib.calculation(&line.calculation).and_then(|c| c.table(name))
    }

    /// The calculation in whose text the formula stands.
    pub(crate) fn calculation(&self) -> Option<&'a tare_calc::Calculation> {
        self.lib.calculation(&self.scope.key)
    }

    /// The full name of a line of the calculation that the formula stands in.
    pub(crate) fn full_name(&self, name: &str) -> String {
        format!("{}{name}", self.scope.prefix)
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
