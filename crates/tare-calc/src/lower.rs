//! A checked calculation to a template.

use crate::calculation::{Calculation, Declared};
use crate::check::{MAX_USES, Resolve};
use crate::expr::{Expr, ExprKind};
use crate::lower_input::flat_inputs;
use crate::lowered::{FlatInput, InputValue, Line, LineKind, Lowered, Param, ParamKind, Refusal, Shape};
use crate::order::Step;
use crate::probe::pick_call;
use crate::series::Plan;
use crate::span::Span;
use crate::ty::Ty;
use crate::value::{Chosen, Index, Items, Value};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use tare_diag::{Diag, Place};
use tare_engine::{Op, Operand, TemplateBuilder};
use tare_units::{Currency, Quantity, Unit};

/// Most nodes and list entries in one template.
pub const MAX_TEMPLATE: usize = 5_000_000;
/// Most calculations inside one template, counted with repetitions.
pub const MAX_INSTANCES: usize = 2_000;

/// Compiles a calculation for one shape of its inputs.
///
/// The calculation must have passed [`check`](crate::check()). What can still be wrong is a matter of the shape: lists of different
/// lengths that meet, the mean of an empty list, or a template beyond [`MAX_TEMPLATE`].
///
/// # Errors
/// Located messages, never a part of a template.
pub fn lower(calc: &Calculation, lib: &dyn Resolve, shape: &Shape) -> Result<Lowered, Vec<Diag>> {
    lower_with(calc, lib, shape, None)
}

/// As [`lower`], with one written number changed by a factor, found by where it stands.
pub(crate) fn lower_with(
    calc: &Calculation,
    lib: &dyn Resolve,
    shape: &Shape,
    change: Option<(Span, f64)>,
) -> Result<Lowered, Vec<Diag>> {
    let flat = flat_inputs(calc, lib);
    let mut lowerer = Lowerer::new(lib, shape, &flat, change);
    let done = lowerer.root(calc);
    if done.is_err() && lowerer.diags.is_empty() {
        lowerer.diags.push(Diag::error("unchecked", "the calculation has errors").at(Place::File(calc.file.clone())));
    }
    if lowerer.left == 0 {
        let message = format!("the calculation grows beyond {MAX_TEMPLATE} operations");
        let diag = Diag::error("template-size", message).at(Place::File(calc.file.clone()));
        lowerer.diags.push(diag.hint("use shorter lists or smaller tables"));
    }
    if !lowerer.diags.is_empty() {
        return Err(lowerer.diags);
    }
    Ok(lowerer.done())
}

/// The pick from one table alone: its keys are the inputs, its row is the line `row`.
pub(crate) fn pick_alone(calc: &Calculation, lib: &dyn Resolve, table: usize) -> Result<Lowered, Vec<Diag>> {
    let shape = Shape::default();
    let mut lowerer = Lowerer::new(lib, &shape, &[], None);
    let found = &calc.tables[table];
    let file = lowerer.file(calc);
    let mut scope = Scope { file, prefix: String::new(), names: HashMap::new(), uses: HashMap::new() };
    for (flat, key) in found.keys.iter().enumerate() {
        let operand = lowerer.add_param(Param {
            name: key.name.value.clone(),
            calculation: lowerer.files[file].key.clone(),
            element: None,
            what: ParamKind::Input(flat),
            unit: key.declared.unit(),
            ty: Ty::declared(&key.declared, &key.choices),
            default: None,
            level: None,
            source: None,
            span: Span::default(),
        });
        let value = match key.declared {
            Declared::Choice => {
                Value::Choice(Chosen { set: Arc::from(key.choices.as_slice()), items: Items::One(Index::Found(operand)) })
            }
            _ => Value::Number(Items::One(operand)),
        };
        scope.names.insert(&key.name.value, value);
    }
    let call = pick_call(found);
    lowerer.equation = Some(call.span);
    let Ok(row) = lowerer.expr(&scope, &call) else { return Err(lowerer.diags) };
    let declared = Declared::Row(found.name.value.clone());
    let (ty, values) = lowerer.read(&row, &declared);
    let key = lowerer.files[file].key.clone();
    lowerer.lines.push(Line {
        name: "row".to_owned(),
        kind: LineKind::Equation,
        scope: String::new(),
        calculation: key,
        unit: Unit::plain(),
        ty,
        text: call.to_string(),
        formula: Arc::new(call),
        source: None,
        values,
    });
    Ok(lowerer.done())
}

/// Lowering cannot go on; a message was added.
#[derive(Debug)]
pub(crate) struct Stop;

/// One of the calculations being lowered; used twice, it is here once and so shares its method error and its cells.
pub(crate) struct File<'a> {
    pub(crate) calc: &'a Calculation,
    pub(crate) key: Arc<str>,
    method: Option<Operand>,
    pub(crate) cells: HashMap<(usize, usize, usize, bool), Operand>,
    /// The texts of each choice input, key and column, shared by all values.
    pub(crate) sets: HashMap<usize, Arc<[String]>>,
    pub(crate) plans: HashMap<usize, Arc<Plan>>,
}

/// The names that the formulas of one use of a file see.
pub(crate) struct Scope<'a> {
    pub(crate) file: usize,
    pub(crate) prefix: String,
    pub(crate) names: HashMap<&'a str, Value>,
    pub(crate) uses: HashMap<&'a str, HashMap<&'a str, Value>>,
}

pub(crate) struct Lowerer<'a> {
    pub(crate) lib: &'a dyn Resolve,
    pub(crate) shape: &'a Shape,
    pub(crate) flat: HashMap<&'a str, usize>,
    pub(crate) change: Option<(Span, f64)>,
    pub(crate) build: TemplateBuilder,
    pub(crate) params: Vec<Param>,
    pub(crate) lines: Vec<Line>,
    pub(crate) inputs: Vec<InputValue>,
    pub(crate) refusals: Vec<Refusal>,
    pub(crate) files: Vec<File<'a>>,
    exchange: BTreeMap<Currency, Operand>,
    pub(crate) diags: Vec<Diag>,
    /// Operations that may still be added.
    pub(crate) left: usize,
    instances: usize,
    pub(crate) picks: usize,
    /// The line whose formula is being lowered.
    pub(crate) current: String,
    /// The whole formula of the equation being lowered: what it picks needs no line of its own.
    pub(crate) equation: Option<Span>,
    /// Rows picked so far, by the words that pick them.
    pub(crate) picked: HashMap<String, Value>,
}

impl<'a> Lowerer<'a> {
    fn new(lib: &'a dyn Resolve, shape: &'a Shape, flat: &'a [FlatInput<'a>], change: Option<(Span, f64)>) -> Self {
        Self {
            lib,
            shape,
            flat: flat.iter().enumerate().map(|(i, f)| (f.name.as_str(), i)).collect(),
            change,
            build: TemplateBuilder::new(0),
            params: Vec::new(),
            lines: Vec::new(),
            inputs: flat.iter().map(|f| InputValue { name: f.name.clone(), values: Vec::new() }).collect(),
            refusals: Vec::new(),
            files: Vec::new(),
            exchange: BTreeMap::new(),
            diags: Vec::new(),
            left: MAX_TEMPLATE,
            instances: 0,
            picks: 0,
            current: String::new(),
            equation: None,
            picked: HashMap::new(),
        }
    }

    /// Adds a message about a place in a file being lowered.
    pub(crate) fn fail(&mut self, file: usize, code: &'static str, message: impl Into<String>, span: Span) -> Stop {
        let place = Place::span(&self.files[file].calc.file, span.range());
        self.diags.push(Diag::error(code, message).at(place));
        Stop
    }

    /// Something that [`check`](crate::check()) would have reported.
    pub(crate) fn unchecked(&mut self, file: usize, span: Span) -> Stop {
        self.fail(file, "unchecked", "this formula has not passed the check", span)
    }

    pub(crate) fn op(&mut self, op: Op, operands: &[Operand]) -> Operand {
        if self.left == 0 {
            return self.build.constant(f64::NAN);
        }
        self.left -= 1;
        self.build.push(op, operands)
    }

    pub(crate) fn select(&mut self, index: Index, list: &[Operand]) -> Operand {
        match index {
            Index::Known(place) => list.get(place).copied().unwrap_or_else(|| self.build.constant(f64::NAN)),
            Index::Found(operand) => {
                if self.left <= list.len() {
                    self.left = 0;
                    return self.build.constant(f64::NAN);
                }
                self.left -= list.len() + 1;
                self.build.pick(operand, list)
            }
        }
    }

    pub(crate) fn constant(&mut self, value: f64) -> Operand {
        self.build.constant(value)
    }

    pub(crate) fn add_param(&mut self, param: Param) -> Operand {
        self.params.push(param);
        self.build.add_param()
    }

    fn done(self) -> Lowered {
        let plans = self.files.iter().flat_map(|f| f.plans.iter().map(move |(table, plan)| (f, *table, plan)));
        let next = plans.map(|(f, table, plan)| ((f.key.clone(), f.calc.tables[table].name.value.clone()), plan.next.clone()));
        let next = next.collect();
        Lowered {
            template: self.build.finish(),
            params: self.params,
            lines: self.lines,
            inputs: self.inputs,
            refusals: self.refusals,
            next,
        }
    }

    fn root(&mut self, calc: &'a Calculation) -> Result<(), Stop> {
        if self.shape.given.len() != self.inputs.len() {
            let message =
                format!("the shape speaks of {} inputs, the calculation has {}", self.shape.given.len(), self.inputs.len());
            self.diags.push(Diag::error("shape", message).at(Place::File(calc.file.clone())));
            return Err(Stop);
        }
        let mut scope = self.scope(calc, String::new(), HashMap::new(), 0)?;
        self.owed(calc, &mut scope)
    }

    /// Works out one use of a calculation; `given` are the inputs that its caller gives.
    pub(crate) fn scope(
        &mut self,
        calc: &'a Calculation,
        prefix: String,
        mut given: HashMap<&'a str, Value>,
        depth: usize,
    ) -> Result<Scope<'a>, Stop> {
        let file = self.file(calc);
        self.instances += 1;
        if !calc.complete {
            return Err(self.fail(file, "unchecked", format!("`{}` could not be read in full", calc.key), Span::default()));
        }
        if depth > MAX_USES || self.instances > MAX_INSTANCES || !calc.circles.is_empty() {
            return Err(self.fail(
                file,
                "circle-between-files",
                "calculations are used inside one another without end",
                Span::default(),
            ));
        }
        let mut scope = Scope { file, prefix, names: HashMap::new(), uses: HashMap::new() };
        for step in &calc.order {
            match step {
                Step::Input(i) => {
                    let input = &calc.inputs[*i];
                    let name = input.name.value.as_str();
                    let value = match given.remove(name) {
                        Some(value) => value,
                        None => self.input(&scope, input)?,
                    };
                    scope.names.insert(name, value);
                }
                Step::Use(i) => self.used(calc, &mut scope, &calc.uses[*i], depth)?,
                Step::Equation(i) => {
                    let equation = &calc.equations[*i];
                    let name = equation.name.value.as_str();
                    self.current = format!("{}{name}", scope.prefix);
                    self.equation = Some(equation.formula.span);
                    let value = self.expr(&scope, &equation.formula)?;
                    self.equation = None;
                    let value = self.settled(&scope, value, equation.formula.span)?;
                    let (ty, values) = self.read(&value, &equation.declared);
                    self.lines.push(Line {
                        name: format!("{}{name}", scope.prefix),
                        kind: LineKind::Equation,
                        scope: scope.prefix.clone(),
                        calculation: self.files[file].key.clone(),
                        unit: equation.declared.unit(),
                        ty,
                        formula: equation.formula.clone(),
                        text: equation.text.clone(),
                        source: equation.source.clone(),
                        values,
                    });
                    scope.names.insert(name, value);
                }
            }
        }
        Ok(scope)
    }

    pub(crate) fn file(&mut self, calc: &'a Calculation) -> usize {
        // the number of different files is small
        if let Some(known) = self.files.iter().position(|f| f.calc.key == calc.key) {
            return known;
        }
        let key = Arc::from(calc.key.as_str());
        self.files.push(File { calc, key, method: None, cells: HashMap::new(), sets: HashMap::new(), plans: HashMap::new() });
        self.files.len() - 1
    }

    pub(crate) fn method(&mut self, file: usize) -> Option<Operand> {
        if self.files[file].method.is_none() {
            let method = self.files[file].calc.method.as_ref()?;
            let param = Param {
                name: "method".to_owned(),
                calculation: self.files[file].key.clone(),
                element: None,
                what: ParamKind::Method,
                unit: Unit::plain(),
                ty: Ty::Num(tare_units::Dim::ONE),
                default: Some(method.spread.clone()),
                level: None,
                source: Some(method.reason.clone()),
                span: method.span,
            };
            let operand = self.add_param(param);
            self.files[file].method = Some(operand);
        }
        self.files[file].method
    }

    /// An amount in the unit it was written in to the study's money.
    pub(crate) fn exchanged(&mut self, amount: Operand, unit: &Unit) -> Operand {
        let Some(currency) = unit.currency else { return amount };
        let rate = match self.exchange.get(&currency) {
            Some(rate) => *rate,
            None => {
                let rate = self.add_param(Param {
                    name: format!("exchange {currency}"),
                    calculation: Arc::from(""),
                    element: None,
                    what: ParamKind::Exchange(currency),
                    unit: Unit::plain(),
                    ty: Ty::Num(tare_units::Dim::ONE),
                    default: None,
                    level: None,
                    source: None,
                    span: Span::default(),
                });
                self.exchange.insert(currency, rate);
                rate
            }
        };
        // the check refuses any other power of a currency
        let op = if unit.dim.money() < tare_units::Ratio::ZERO { Op::Div } else { Op::Mul };
        self.op(op, &[amount, rate])
    }

    /// A condition known while lowering becomes a number; an absent input is an error here.
    pub(crate) fn settled(&mut self, scope: &Scope<'a>, value: Value, span: Span) -> Result<Value, Stop> {
        match value {
            Value::Known(holds) => Ok(Value::Condition(Items::One(self.constant(f64::from(u8::from(holds)))))),
            Value::Absent => Err(self.unchecked(scope.file, span)),
            other => Ok(other),
        }
    }

    /// The type and operands of a value, for a line.
    pub(crate) fn read(&mut self, value: &Value, declared: &Declared) -> (Ty, Vec<Operand>) {
        let (entry, list, operands) = match value {
            Value::Number(items) | Value::Condition(items) => {
                (Ty::declared(declared, &[]), items.length(), items.as_slice().to_vec())
            }
            Value::Choice(chosen) => {
                let operands = chosen.items.as_slice().iter().map(|i| self.position(*i)).collect();
                (Ty::Choice(chosen.set.to_vec()), chosen.items.length(), operands)
            }
            Value::Row(table, rows) => {
                let name = self.files[table.file].calc.tables[table.table].name.value.clone();
                let mut operands = Vec::new();
                for row in rows.as_slice() {
                    let index = self.position(row.index);
                    operands.push(match row.weight {
                        Some(weight) => self.op(Op::Add, &[index, weight]),
                        None => index,
                    });
                }
                (Ty::Row(name), rows.length(), operands)
            }
            Value::Known(_) | Value::Absent => (Ty::Bad, None, Vec::new()),
        };
        (entry.in_list(list.map(crate::calculation::Length::exactly)), operands)
    }

    pub(crate) fn position(&mut self, index: Index) -> Operand {
        match index {
            Index::Known(place) => self.constant(place as f64),
            Index::Found(operand) => operand,
        }
    }

    /// The fields of the owed groups as lines.
    fn owed(&mut self, calc: &'a Calculation, scope: &mut Scope<'a>) -> Result<(), Stop> {
        for group in &calc.owes.groups {
            for field in &group.fields {
                let name = format!("{}.{}.{}", group.kind.word(), group.name.value, field.name);
                self.current.clone_from(&name);
                let value = self.expr(scope, &field.formula)?;
                let value = self.settled(scope, value, field.formula.span)?;
                let unit = Unit::parse(field.unit).unwrap_or_else(|_| Unit::plain());
                let (ty, values) = self.read(&value, &Declared::Number(unit.clone()));
                self.lines.push(Line {
                    name,
                    kind: LineKind::Owed,
                    scope: String::new(),
                    calculation: self.files[scope.file].key.clone(),
                    unit,
                    ty,
                    formula: field.formula.clone(),
                    text: field.text.clone(),
                    source: None,
                    values,
                });
            }
        }
        Ok(())
    }
}

/// A written number with its change, if it is the one that is changed.
pub(crate) fn changed(change: Option<(Span, f64)>, span: Span, si: f64, unit: Option<&Unit>) -> f64 {
    match change {
        Some((at, factor)) if at == span => match unit {
            Some(unit) => unit.to_si(unit.from_si(si) * factor),
            None => si * factor,
        },
        _ => si,
    }
}

/// A parameter's stated value in SI units, or its level.
pub(crate) fn stated(param: &Param, change: Option<(Span, f64)>) -> Option<f64> {
    let quantity = |q: &Quantity| changed(change, param.span, q.value, Some(&q.unit));
    param.default.as_ref().map(quantity).or(param.level)
}

/// Whether a formula is nothing but a name.
pub(crate) fn bare_name(e: &Expr) -> Option<&str> {
    match &e.kind {
        ExprKind::Name(name) => Some(name),
        _ => None,
    }
}
