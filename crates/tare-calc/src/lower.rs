//! A checked calculation to a template.

use crate::calculation::{Calculation, Declared, Default, Input, Use};
use crate::check::{MAX_USES, Resolve, passed_on};
use crate::expr::{Expr, ExprKind};
use crate::lowered::{FlatInput, InputValue, Line, LineKind, Lowered, Param, ParamKind, Refusal, Shape};
use crate::order::Step;
use crate::reader::MAX_LIST;
use crate::series::Plan;
use crate::span::{Located, Span};
use crate::ty::Ty;
use crate::value::{Index, Items, TableAt, Value};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use tare_diag::{Diag, Place};
use tare_engine::{Op, Operand, TemplateBuilder};
use tare_units::{Currency, Quantity, Unit};

/// Most nodes and list entries in one template.
pub const MAX_TEMPLATE: usize = 5_000_000;
/// Most calculations inside one template, counted with repetitions.
pub const MAX_INSTANCES: usize = 2_000;
/// Most flat inputs.
pub const MAX_INPUTS: usize = 20_000;

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
    given: &[crate::calculation::Given],
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
    Ok(Lowered {
        template: lowerer.build.finish(),
        params: lowerer.params,
        lines: lowerer.lines,
        inputs: lowerer.inputs,
        refusals: lowerer.refusals,
    })
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
    lib: &'a dyn Resolve,
    shape: &'a Shape,
    flat: HashMap<&'a str, usize>,
    pub(crate) change: Option<(Span, f64)>,
    pub(crate) build: TemplateBuilder,
    pub(crate) params: Vec<Param>,
    pub(crate) lines: Vec<Line>,
    inputs: Vec<InputValue>,
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

    fn root(&mut self, calc: &'a Calculation) -> Result<(), Stop> {
        if self.shape.given.len() != self.inputs.len() {
            let message = format!("the shape speaks of {} inputs, the calculation has {}", self.shape.given.len(), self.inputs.len());
            self.diags.push(Diag::error("shape", message).at(Place::File(calc.file.clone())));
            return Err(Stop);
        }
        let mut scope = self.scope(calc, String::new(), HashMap::new(), 0)?;
        self.owed(calc, &mut scope)
    }

    /// Works out one use of a calculation; `given` are the inputs that its caller gives.
    fn scope(
        &mut self,
        calc: &'a Calculation,
        prefix: String,
        mut given: HashMap<&'a str, Value>,
        depth: usize,
    ) -> Result<Scope<'a>, Stop> {
        let file = self.file(calc);
        self.instances += 1;
        if depth > MAX_USES || self.instances > MAX_INSTANCES || !calc.circles.is_empty() {
            return Err(self.fail(file, "circle-between-files", "calculations are used inside one another without end", Span::default()));
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
                    let value = self.expr(&scope, &equation.formula)?;
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

    fn file(&mut self, calc: &'a Calculation) -> usize {
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

    /// The texts of a choice input, shared.
    fn choices(&mut self, file: usize, input: &Input) -> Arc<[String]> {
        let place = input.name.span.start as usize;
        self.files[file].sets.entry(place).or_insert_with(|| Arc::from(input.choices.as_slice())).clone()
    }

    /// Turns parameters or other operands into the kind of value that an input is.
    fn as_input(&mut self, scope: &Scope<'a>, input: &Input, operands: Items<Operand>) -> Value {
        match &input.declared {
            Declared::Choice => {
                let set = self.choices(scope.file, input);
                Value::Choice(crate::value::Chosen { set, items: operands.map(|o| Index::Found(*o)) })
            }
            Declared::Row(table) => match self.files[scope.file].calc.table(table) {
                Some((table, _)) => Value::Row(
                    TableAt { file: scope.file, table },
                    operands.map(|o| crate::value::PickedRow { index: Index::Found(*o), weight: None }),
                ),
                None => Value::Number(operands),
            },
            Declared::Bool => Value::Condition(operands),
            _ => Value::Number(operands),
        }
    }

    fn input(&mut self, scope: &Scope<'a>, input: &'a Input) -> Result<Value, Stop> {
        let name = format!("{}{}", scope.prefix, input.name.value);
        let Some(flat) = self.flat.get(name.as_str()).copied() else {
            return Err(self.fail(scope.file, "too-many-inputs", "there are too many inputs", input.name.span));
        };
        let given = self.shape.given[flat];
        let length = match (input.list, given) {
            (None, None | Some(1)) => None,
            (None, Some(n)) => {
                return Err(self.fail(scope.file, "list-length", format!("`{name}` takes one value, found {n}"), input.name.span));
            }
            (Some(list), Some(n)) if !list.allows(n) || n > MAX_LIST => {
                return Err(self.fail(scope.file, "list-length", format!("`{name}` takes a list of {list}, found {n}"), input.name.span));
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

    fn used(&mut self, calc: &'a Calculation, scope: &mut Scope<'a>, used: &'a Use, depth: usize) -> Result<(), Stop> {
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
    fn conform(
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
                Value::Choice(crate::value::Chosen { set, items: repeat(chosen.items, many) })
            }
            Value::Row(table, rows) => Value::Row(table, repeat(rows, many)),
            other => other,
        })
    }

    /// A condition known while lowering becomes a number; an absent input is an error here.
    fn settled(&mut self, scope: &Scope<'a>, value: Value, span: Span) -> Result<Value, Stop> {
        match value {
            Value::Known(holds) => Ok(Value::Condition(Items::One(self.constant(f64::from(u8::from(holds)))))),
            Value::Absent => Err(self.unchecked(scope.file, span)),
            other => Ok(other),
        }
    }

    /// The type and operands of a value, for a line.
    fn read(&mut self, value: &Value, declared: &Declared) -> (Ty, Vec<Operand>) {
        let (entry, list, operands) = match value {
            Value::Number(items) | Value::Condition(items) => (Ty::declared(declared, &[]), items.length(), items.as_slice().to_vec()),
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
