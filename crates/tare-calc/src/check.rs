//! The check of a whole calculation: names, dimensions, types, circles, tables, what is owed.

use crate::calculation::{Calculation, Declared, Default, Input, Use};
use crate::expr::{Expr, ExprKind};
use crate::file::sort;
use crate::infer::Infer;
use crate::order::Step;
use crate::span::Located;
use crate::table::Table;
use crate::ty::{Ty, dimension};
use crate::{check_owed, check_table, checks};
use std::collections::BTreeMap;
use std::rc::Rc;
use tare_diag::{Diag, Place};

/// Gives calculations by key, for `[use.*]`.
pub trait Resolve {
    /// The calculation of a key.
    fn calculation(&self, key: &str) -> Option<&Calculation>;

    /// Every key, to propose the nearest; may stay empty.
    fn keys(&self) -> Vec<&str> {
        Vec::new()
    }
}

/// A library without calculations.
impl Resolve for () {
    fn calculation(&self, _: &str) -> Option<&Calculation> {
        None
    }
}

impl Resolve for BTreeMap<String, Calculation> {
    fn calculation(&self, key: &str) -> Option<&Calculation> {
        self.get(key)
    }

    fn keys(&self) -> Vec<&str> {
        self.keys().map(String::as_str).collect()
    }
}

/// Most calculations inside one another.
pub const MAX_USES: usize = 16;

/// Checks names, dimensions, types, circles (also between files), tables, checks and what is owed.
///
/// All messages at once, in the order of the file; one cause gives one message. A calculation that [`parse`](crate::parse())
/// and this pass without an error can be lowered.
pub fn check(calc: &Calculation, lib: &dyn Resolve) -> Vec<Diag> {
    let mut session = Session { lib, memo: BTreeMap::new(), path: vec![calc.key.clone()] };
    let mut infer = session.file(calc);
    check_owed::check(calc, &mut infer);
    let mut diags = infer.diags;
    diags.extend(calc.circles.iter().cloned());
    diags.extend(circle_between_files(calc, lib));
    check_table::check(calc, &mut diags);
    // with an error, what is not read may be part of the same cause
    if calc.complete && !tare_diag::any_error(&diags) {
        unused(calc, &mut diags);
        diags.extend(checks::problems(calc, lib));
    }
    sort(&mut diags);
    diags
}

/// The types of one calculation's names and its tables, for whoever uses it.
struct Signature<'a> {
    types: BTreeMap<String, Ty>,
    tables: BTreeMap<String, &'a Table>,
}

/// Inference over a calculation and those it uses, each once.
struct Session<'a> {
    lib: &'a dyn Resolve,
    memo: BTreeMap<String, Rc<Signature<'a>>>,
    path: Vec<String>,
}

impl<'a> Session<'a> {
    /// Types of everything in a file, with its messages.
    fn file(&mut self, calc: &'a Calculation) -> Infer<'a> {
        let mut infer = Infer::new(calc);
        // a choice equation's texts are known only from its formula, so everything goes in the order of need
        for step in &calc.order {
            match step {
                Step::Input(i) => input(&mut infer, &calc.inputs[*i]),
                Step::Use(i) => self.used(&mut infer, &calc.uses[*i]),
                Step::Equation(i) => {
                    let equation = &calc.equations[*i];
                    let found = infer_in_circle(&mut infer, calc, &equation.formula);
                    let what = format!("`{}`", equation.name.value);
                    let ty = fit(&mut infer, &what, &equation.declared, &equation.unit, &[], found, &equation.formula);
                    infer.types.insert(equation.name.value.clone(), ty);
                }
            }
        }
        infer
    }

    fn signature(&mut self, key: &str) -> Option<Rc<Signature<'a>>> {
        if let Some(known) = self.memo.get(key) {
            return Some(known.clone());
        }
        let calc = self.lib.calculation(key)?;
        let empty = Signature { types: BTreeMap::new(), tables: BTreeMap::new() };
        if self.path.iter().any(|k| k == key) || self.path.len() > MAX_USES {
            return Some(Rc::new(empty));
        }
        self.path.push(key.to_owned());
        let infer = self.file(calc);
        self.path.pop();
        let signature = Rc::new(Signature { types: infer.types, tables: infer.tables });
        self.memo.insert(key.to_owned(), signature.clone());
        Some(signature)
    }

    fn used(&mut self, infer: &mut Infer<'a>, used: &'a Use) {
        let key = used.calculation.value.as_str();
        let Some(signature) = self.signature(key) else {
            let diag = Diag::error("unknown-calculation", format!("no calculation named `{key}`"))
                .at(infer.place(used.calculation.span));
            infer.diags.push(diag.did_you_mean(key, self.lib.keys()));
            return;
        };
        let name = &used.name.value;
        for (line, ty) in signature.types.iter().filter(|(line, _)| !line.contains('.')) {
            infer.types.insert(format!("{name}.{line}"), foreign(ty, name));
        }
        for (table, found) in &signature.tables {
            infer.tables.insert(format!("{name}.{table}"), found);
        }
        let Some(callee) = self.lib.calculation(key) else { return };
        for given in &used.given {
            let Some((_, input)) = callee.input(&given.name.value) else {
                let known = callee.inputs.iter().map(|i| i.name.value.as_str());
                let diag = Diag::error("unknown-name", format!("`{key}` has no input named `{}`", given.name.value))
                    .at(infer.place(given.name.span))
                    .did_you_mean(&given.name.value, known);
                infer.diags.push(diag);
                continue;
            };
            let before = infer.given.len();
            if let Some(name) = passed_on(infer.calc, &given.formula, input) {
                infer.given.push(name.to_owned());
            }
            let found = infer.ty(&given.formula);
            infer.given.truncate(before);
            let what = format!("`{name}.{}`", given.name.value);
            let unit = Located::new(input.unit.value.clone(), given.formula.span);
            fit_input(infer, &what, input, &unit, found, &given.formula);
        }
    }
}

/// The caller's optional input that is passed on as it is, given or not, to an input that can do without.
pub(crate) fn passed_on<'c>(calc: &'c Calculation, formula: &Expr, input: &Input) -> Option<&'c str> {
    let ExprKind::Name(name) = &formula.kind else { return None };
    let (_, own) = calc.input(name)?;
    (own.optional && (input.optional || input.default.is_some())).then_some(own.name.value.as_str())
}

/// The type of a formula; a name in a circle is a place holder, since the circle has its message.
fn infer_in_circle(infer: &mut Infer<'_>, calc: &Calculation, formula: &Expr) -> Ty {
    if !calc.circles.is_empty() {
        for name in formula.names() {
            if !infer.types.contains_key(name) && (calc.equation(name).is_some() || calc.input(name).is_some()) {
                infer.types.insert(name.to_owned(), Ty::Bad);
            }
        }
    }
    infer.ty(formula)
}

fn foreign(ty: &Ty, used: &str) -> Ty {
    match ty {
        Ty::Row(table) => Ty::Row(format!("{used}.{table}")),
        Ty::List(length, entry) => Ty::List(*length, Box::new(foreign(entry, used))),
        other => other.clone(),
    }
}

fn input<'a>(infer: &mut Infer<'a>, input: &'a Input) {
    if let Declared::Row(table) = &input.declared {
        row_declared(infer, table, &input.unit);
    }
    if let Some(Located { value: Default::Formula(formula), span }) = &input.default {
        let calc = infer.calc;
        for name in formula.names() {
            let kind = match name {
                "method" => "the method error",
                _ if calc.equation(name).is_some() => "an equation",
                _ if calc.used(name).is_some() => "a used calculation",
                _ => continue,
            };
            let message = format!("a default is a formula over the other inputs, but `{name}` is {kind}");
            infer.fail_with("default-scope", message, *span, "write it with inputs, or make it an equation");
            infer.types.insert(name.to_owned(), Ty::Bad);
        }
        let found = infer_in_circle(infer, calc, formula);
        let what = format!("the default of `{}`", input.name.value);
        fit_input(infer, &what, input, &input.unit, found, formula);
        for name in formula.names() {
            if calc.equation(name).is_some() || calc.used(name).is_some() {
                infer.types.remove(name);
            }
        }
    }
    let entry = Ty::declared(&input.declared, &input.choices);
    infer.types.insert(input.name.value.clone(), entry.in_list(input.list));
}

/// Fits a formula to an input: its declared entry, and its length if it is a list.
fn fit_input(infer: &mut Infer<'_>, what: &str, input: &Input, unit: &Located<String>, found: Ty, formula: &Expr) {
    let length = found.entry().1;
    match (length, input.list) {
        (Some(length), None) => {
            infer.fail("list-length", format!("{what} takes one value, found a list of {length}"), formula.span);
            return;
        }
        (Some(length), Some(wanted)) if length.and(wanted).is_none() => {
            infer.fail("list-length", format!("{what} takes a list of {wanted}, found one of {length}"), formula.span);
            return;
        }
        _ => {}
    }
    fit(infer, what, &input.declared, unit, &input.choices, found, formula);
}

fn row_declared(infer: &mut Infer<'_>, table: &str, unit: &Located<String>) -> bool {
    match infer.calc.table(table) {
        Some((_, found)) if found.interpolates() && infer.calc.inputs.iter().any(|i| i.unit.span == unit.span) => {
            let message = format!("an input cannot be a row of `{table}`, which lies between its rows");
            infer.fail("interpolated-row", message, unit.span);
            false
        }
        Some(_) => true,
        None => {
            let known = infer.calc.tables.iter().map(|t| t.name.value.as_str());
            let diag = Diag::error("unknown-table", format!("no table named `{table}`")).at(infer.place(unit.span));
            infer.diags.push(diag.did_you_mean(table, known));
            false
        }
    }
}

/// Fits what a formula gives to what is declared; the result is the type that others see.
pub(crate) fn fit(
    infer: &mut Infer<'_>,
    what: &str,
    declared: &Declared,
    unit: &Located<String>,
    choices: &[String],
    found: Ty,
    formula: &Expr,
) -> Ty {
    let (entry, length) = found.entry();
    let entry = entry.clone();
    let wanted = Ty::declared(declared, choices);
    if entry.is_bad() {
        // a list may have been meant: then nothing is known
        let lists = formula.names().iter().any(|n| infer.types.get(*n).is_some_and(|t| matches!(t, Ty::List(..)) || t.is_bad()));
        return if lists { Ty::Bad } else { wanted };
    }
    let place = formula.span;
    match (&entry, declared) {
        (_, Declared::Bad) => return entry.settled().in_list(length),
        (Ty::Zero, Declared::Number(unit)) if !unit.is_point() => {}
        (Ty::Num(found), Declared::Number(unit)) if !unit.is_point() => {
            if *found != unit.dim {
                let message =
                    format!("{what} comes out as {}, but its unit `{}` is {}", dimension(*found), unit.text, dimension(unit.dim));
                let hint = infer.missing_factor(unit.dim.div(*found), "the right-hand side");
                infer.fail_with("dimension-mismatch", message, place, hint);
            }
        }
        (Ty::Point, Declared::Number(unit)) if unit.is_point() => {}
        (Ty::Point, Declared::Number(unit)) => {
            let message = format!("{what} comes out as a temperature point, but its unit is `{}`", unit.text);
            infer.fail_with("point-arithmetic", message, place, "write `degC` as unit, or `absolute(...)` for kelvin");
        }
        (Ty::Num(_), Declared::Number(unit)) if unit.is_point() => {
            let message = format!("{what} comes out as {entry}, but its unit `{}` is a temperature point", unit.text);
            infer.fail_with("point-arithmetic", message, place, "write `K` as unit for a difference, or add a point");
        }
        (Ty::Bool, Declared::Bool) => {}
        (Ty::Choice(set), Declared::Choice) => {
            if choices.is_empty() {
                return entry.in_list(length);
            }
            for text in set.iter().filter(|t| !choices.contains(t)) {
                let diag =
                    Diag::error("unknown-choice", format!("'{text}' is none of the choices of {what}")).at(infer.place(place));
                let diag = diag.did_you_mean(text, choices.iter().map(String::as_str));
                infer.diags.push(diag.hint(format!("choices are: {}", choices.join(", "))));
            }
        }
        (Ty::Row(found), Declared::Row(table)) if found == table => {}
        (_, Declared::Row(table)) if !row_declared(infer, table, unit) => return Ty::Bad,
        _ => {
            let message = format!("{what} comes out as {entry}, but its unit is `{}`", unit.value);
            let hint = match &entry {
                Ty::Bool => "write `unit = \"bool\"`".to_owned(),
                Ty::Choice(_) => "write `unit = \"choice\"`".to_owned(),
                Ty::Row(table) => format!("write `unit = \"row {table}\"`, or take a column: `.column`"),
                Ty::Num(dim) => format!("write `unit = \"{dim}\"` or a multiple of it"),
                _ => "mend the unit or the formula".to_owned(),
            };
            infer.fail_with("type-mismatch", message, place, hint);
        }
    }
    let ty = match wanted {
        Ty::Bad => entry.settled(),
        wanted => wanted,
    };
    ty.in_list(length)
}

/// A path of uses that leads back to this calculation.
fn circle_between_files(calc: &Calculation, lib: &dyn Resolve) -> Option<Diag> {
    let mut seen: Vec<&str> = Vec::new();
    // (key, position in `seen` of who uses it); breadth first, so that the shortest path is found
    let mut open: std::collections::VecDeque<(&Calculation, Vec<&str>)> = [(calc, vec![calc.key.as_str()])].into();
    while let Some((at, path)) = open.pop_front() {
        for used in &at.uses {
            let key = used.calculation.value.as_str();
            if key == calc.key {
                let mut path = path.clone();
                path.push(key);
                let first = calc.uses.iter().find(|u| path.get(1) == Some(&u.calculation.value.as_str()))?;
                let message = format!("`{}` uses itself: {}", calc.key, path.join(" -> "));
                let diag =
                    Diag::error("circle-between-files", message).at(Place::span(&calc.file, first.calculation.span.range()));
                return Some(diag.hint("break the circle: move what both need into a third calculation"));
            }
            if let Some(next) = lib.calculation(key)
                && !seen.contains(&key)
                && path.len() <= 1000
            {
                seen.push(key);
                let mut path = path.clone();
                path.push(key);
                open.push_back((next, path));
            }
        }
    }
    None
}

/// Warns of inputs and of a method error that nothing reads.
fn unused(calc: &Calculation, diags: &mut Vec<Diag>) {
    let mut read: std::collections::BTreeSet<&str> = std::collections::BTreeSet::new();
    let formulas = calc.equations.iter().map(|e| &e.formula);
    let defaults = calc.inputs.iter().filter_map(|i| match &i.default {
        Some(Located { value: Default::Formula(formula), .. }) => Some(formula),
        _ => None,
    });
    let given = calc.uses.iter().flat_map(|u| u.given.iter().map(|g| &g.formula));
    let owed = calc.owes.groups.iter().flat_map(|g| g.fields.iter().map(|f| &f.formula));
    for formula in formulas.chain(defaults).chain(given).chain(owed) {
        // a formula that could not be read may have used anything
        if formula.has_bad() {
            return;
        }
        read.extend(formula.names());
    }
    read.extend(calc.kind.iter().flat_map(|k| k.owes()).map(|(name, _)| *name));
    read.extend(calc.gives.iter().map(|g| g.equation.value.as_str()));
    for input in calc.inputs.iter().filter(|i| !read.contains(i.name.value.as_str())) {
        let diag = Diag::warning("unused-input", format!("nothing reads the input `{}`", input.name.value));
        diags.push(diag.at(Place::span(&calc.file, input.name.span.range())).hint("use it in a formula, or remove it"));
    }
    if let Some(method) = &calc.method
        && !read.contains("method")
    {
        let diag = Diag::warning("unused-method", "no formula carries the method error");
        let end = method.span.start + 1;
        let place = Place::span(&calc.file, method.span.start as usize..end as usize);
        diags.push(diag.at(place).hint("multiply the result it belongs to by `method`"));
    }
}
