//! The type of a formula, with a message for whatever does not fit.

use crate::calculation::{Calculation, Length};
use crate::expr::{Binary, Expr, ExprKind};
use crate::function::Function;
use crate::span::Span;
use crate::table::Table;
use crate::ty::{Ty, dimension};
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};
use tare_units::{Dim, Ratio};

/// What a formula can see, and the messages so far.
pub(crate) struct Infer<'a> {
    pub(crate) calc: &'a Calculation,
    /// Types by name: inputs, equations, and `use.line` for the lines of used calculations.
    pub(crate) types: BTreeMap<String, Ty>,
    /// Tables by the name a row type carries.
    pub(crate) tables: BTreeMap<String, &'a Table>,
    /// Optional inputs that have a value where the formula stands.
    pub(crate) given: Vec<String>,
    /// Where each unknown name was reported.
    unknown: BTreeMap<String, usize>,
    pub(crate) diags: Vec<Diag>,
}

impl<'a> Infer<'a> {
    pub(crate) fn new(calc: &'a Calculation) -> Self {
        let tables = calc.tables.iter().map(|t| (t.name.value.clone(), t)).collect();
        Self { calc, types: BTreeMap::new(), tables, given: Vec::new(), unknown: BTreeMap::new(), diags: Vec::new() }
    }

    pub(crate) fn place(&self, span: Span) -> Place {
        Place::span(&self.calc.file, span.range())
    }

    /// Adds a message; the result is the place holder.
    pub(crate) fn fail(&mut self, code: &'static str, message: impl Into<String>, span: Span) -> Ty {
        self.diags.push(Diag::error(code, message).at(self.place(span)));
        Ty::Bad
    }

    /// Adds a message with a hint.
    pub(crate) fn fail_with(
        &mut self,
        code: &'static str,
        message: impl Into<String>,
        span: Span,
        hint: impl Into<String>,
    ) -> Ty {
        self.diags.push(Diag::error(code, message).at(self.place(span)).hint(hint));
        Ty::Bad
    }

    pub(crate) fn ty(&mut self, e: &Expr) -> Ty {
        if e.point_literal().is_some() {
            return Ty::Point;
        }
        match &e.kind {
            ExprKind::Bad => Ty::Bad,
            ExprKind::Number(literal) => match &literal.unit {
                None if literal.value == 0.0 => Ty::Zero,
                None => Ty::Num(Dim::ONE),
                Some(unit) if !unit.dim.money().is_zero() && unit.currency.is_none() && literal.value != 0.0 => {
                    let hint = "write the code of the currency, such as `15 [USD/kg]`";
                    self.fail_with("currency-missing", format!("the amount `{e}` names no currency"), e.span, hint);
                    Ty::Num(unit.dim)
                }
                Some(unit) => {
                    self.one_currency(unit, e.span);
                    Ty::Num(unit.dim)
                }
            },
            ExprKind::Text(text) => Ty::Choice(vec![text.clone()]),
            ExprKind::Bool(_) => Ty::Bool,
            ExprKind::Name(name) => self.name(name, e.span),
            ExprKind::Field(inner, field) => self.field(e, inner, field),
            ExprKind::Neg(inner) => {
                let ty = self.ty(inner);
                self.each(&[ty], e.span, |infer, entries| match &entries[0] {
                    Ty::Num(_) | Ty::Zero => entries[0].clone(),
                    other => infer.no_number(other, e.span),
                })
            }
            ExprKind::Not(inner) => {
                let ty = self.ty(inner);
                self.condition(&ty, inner.span)
            }
            ExprKind::Binary(op, a, b) => self.binary(*op, a, b, e.span),
            ExprKind::Call(function, arguments) => self.call(*function, arguments, e.span),
        }
    }

    /// An exchange rate can only be applied to money to the power 1 or -1.
    fn one_currency(&mut self, unit: &tare_units::Unit, span: Span) {
        let power = unit.dim.money();
        if unit.currency.is_some() && power != Ratio::ONE && power != Ratio::whole(-1) {
            self.fail("currency-power", format!("`{}` cannot be exchanged into another currency", unit.text), span);
        }
    }

    fn name(&mut self, name: &str, span: Span) -> Ty {
        if name == "pi" || (name == "method" && self.calc.method.is_some()) {
            return Ty::Num(Dim::ONE);
        }
        if let Some((_, input)) = self.calc.input(name)
            && input.optional
            && !self.given.iter().any(|g| g == name)
        {
            let hint = format!("write `if(given({name}), ..., ...)` and use it in the first branch");
            return self.fail_with("optional-input", format!("`{name}` may have no value here"), span, hint);
        }
        if let Some(ty) = self.types.get(name) {
            return ty.clone();
        }
        if self.calc.table(name).is_some() {
            let hint = format!("pick a row: `pick({name}, key)`");
            return self.fail_with("table-as-value", format!("`{name}` is a table, not a value"), span, hint);
        }
        if self.calc.used(name).is_some() {
            let hint = format!("read one of its lines: `{name}.line`");
            return self.fail_with("use-as-value", format!("`{name}` is a used calculation, not a value"), span, hint);
        }
        self.unknown(name, span)
    }

    /// Reports an unknown name once; further places are added to the first message.
    fn unknown(&mut self, name: &str, span: Span) -> Ty {
        if let Some(first) = self.unknown.get(name).copied() {
            let place = self.place(span);
            if self.diags[first].related.len() < 8 {
                self.diags[first].related.push((place, "it is also used here".to_owned()));
            }
            return Ty::Bad;
        }
        let diag = Diag::error("unknown-name", format!("no input or equation named `{name}`")).at(self.place(span));
        let diag = if name == "method" {
            diag.hint("add `[method]` with its `spread` and `reason`")
        } else if Function::named(name).is_some() {
            diag.hint(format!(
                "`{name}` is a function: write `{}`",
                Function::named(name).map(Function::usage).unwrap_or_default()
            ))
        } else {
            let inputs = self.calc.inputs.iter().map(|i| i.name.value.as_str());
            let equations = self.calc.equations.iter().map(|e| e.name.value.as_str());
            let others = self.calc.tables.iter().map(|t| t.name.value.as_str());
            let used = self.types.keys().map(String::as_str).filter(|k| k.contains('.'));
            diag.did_you_mean(name, inputs.chain(equations).chain(others).chain(used).chain(["pi"]))
        };
        self.unknown.insert(name.to_owned(), self.diags.len());
        self.diags.push(diag);
        Ty::Bad
    }

    fn field(&mut self, e: &Expr, inner: &Expr, field: &str) -> Ty {
        if let ExprKind::Name(name) = &inner.kind
            && let Some((_, used)) = self.calc.used(name)
        {
            let path = format!("{name}.{field}");
            if let Some(ty) = self.types.get(&path) {
                return ty.clone();
            }
            // the used calculation itself is missing: it has its message at the use
            let prefix = format!("{name}.");
            let known: Vec<&str> = self.types.keys().filter_map(|k| k.strip_prefix(&prefix)).collect();
            if !known.is_empty() {
                let message = format!("`{}` has no line named `{field}`", used.calculation.value);
                let diag = Diag::error("unknown-name", message).at(self.place(e.span)).did_you_mean(field, known);
                self.diags.push(diag);
            }
            return Ty::Bad;
        }
        let row = self.ty(inner);
        let (entry, length) = row.entry();
        let table = match entry {
            Ty::Bad => return Ty::Bad,
            Ty::Row(table) => table.clone(),
            other => {
                return self.fail("not-a-row", format!("`.{field}` needs a row of a table, found {other}"), inner.span);
            }
        };
        let Some(found) = self.tables.get(&table).copied() else { return Ty::Bad };
        match found.column(field) {
            Some((_, column)) => Ty::declared(&column.declared, &column.choices).in_list(length),
            None => {
                let known = found.columns.iter().map(|c| c.name.value.as_str());
                let diag = Diag::error("unknown-column", format!("table `{table}` has no column `{field}`"))
                    .at(self.place(e.span))
                    .did_you_mean(field, known);
                self.diags.push(diag);
                Ty::Bad
            }
        }
    }

    /// Applies `f` to entries: over lists element by element, a scalar with each.
    pub(crate) fn each(&mut self, types: &[Ty], span: Span, f: impl FnOnce(&mut Self, &[Ty]) -> Ty) -> Ty {
        let mut common: Option<Length> = None;
        for length in types.iter().filter_map(|t| t.entry().1) {
            common = match common {
                None => Some(length),
                Some(before) => match before.and(length) {
                    Some(both) => Some(both),
                    None => return self.fail("list-length", format!("a list of {before} meets a list of {length}"), span),
                },
            };
        }
        let entries: Vec<Ty> = types.iter().map(|t| t.entry().0.clone()).collect();
        if entries.iter().any(Ty::is_bad) {
            return Ty::Bad;
        }
        f(self, &entries).in_list(common)
    }

    pub(crate) fn condition(&mut self, ty: &Ty, span: Span) -> Ty {
        match ty.entry().0 {
            Ty::Bad => Ty::Bad,
            Ty::Bool => ty.clone(),
            other => self.fail("not-a-condition", format!("a condition is due, found {other}"), span),
        }
    }

    /// The message for something that is no amount.
    pub(crate) fn no_number(&mut self, found: &Ty, span: Span) -> Ty {
        match found {
            Ty::Point => self.fail_with(
                "point-arithmetic",
                "a temperature point can only be subtracted, shifted by kelvin or compared",
                span,
                "write `absolute(...)` for kelvin above absolute zero",
            ),
            other => self.fail("not-a-number", format!("a number is due, found {other}"), span),
        }
    }

    fn binary(&mut self, op: Binary, a: &Expr, b: &Expr, span: Span) -> Ty {
        let left = self.ty(a);
        if matches!(op, Binary::And | Binary::Or) {
            // what the left side makes certain holds on the right: `given(x) and x > 3`
            let before = self.given.len();
            self.given.extend(certain(a, op == Binary::And));
            let right = self.ty(b);
            self.given.truncate(before);
            let (left, right) = (self.condition(&left, a.span), self.condition(&right, b.span));
            return self.each(&[left, right], span, |_, _| Ty::Bool);
        }
        if op == Binary::Pow {
            return self.power(&left, a, b, span);
        }
        let right = self.ty(b);
        self.each(&[left, right], span, |infer, entries| match op {
            Binary::Mul | Binary::Div => infer.product(op, &entries[0], &entries[1], (a.span, b.span), span),
            Binary::Add | Binary::Sub => infer.sum(op, entries, span),
            _ => infer.comparison(op, entries, b, span),
        })
    }

    fn product(&mut self, op: Binary, a: &Ty, b: &Ty, places: (Span, Span), span: Span) -> Ty {
        let factor = |infer: &mut Self, ty: &Ty, place: Span| match ty {
            Ty::Num(dim) => Some(*dim),
            Ty::Zero => Some(Dim::ONE),
            other => {
                infer.no_number(other, place);
                None
            }
        };
        let (Some(a), Some(b)) = (factor(self, a, places.0), factor(self, b, places.1)) else { return Ty::Bad };
        let dim = if op == Binary::Mul { a.mul(b) } else { a.div(b) };
        self.in_range(dim, span)
    }

    fn in_range(&mut self, dim: Dim, span: Span) -> Ty {
        if dim.is_saturated() {
            return self.fail("dimension-range", "the exponents of this dimension are beyond any physical quantity", span);
        }
        Ty::Num(dim)
    }

    fn sum(&mut self, op: Binary, entries: &[Ty], span: Span) -> Ty {
        match (&entries[0], &entries[1]) {
            (Ty::Point, Ty::Point) if op == Binary::Sub => Ty::Num(Dim::TEMPERATURE),
            (Ty::Point, Ty::Num(Dim::TEMPERATURE) | Ty::Zero) => Ty::Point,
            (Ty::Num(Dim::TEMPERATURE) | Ty::Zero, Ty::Point) if op == Binary::Add => Ty::Point,
            (Ty::Point, other) | (other, Ty::Point)
                if !matches!(other, Ty::Num(_) | Ty::Zero) || *other == Ty::Num(Dim::TEMPERATURE) =>
            {
                self.no_number(&Ty::Point, span)
            }
            (Ty::Num(_) | Ty::Zero, Ty::Num(_) | Ty::Zero) => self.same(op.sign(), &entries[0], &entries[1], span),
            (Ty::Point, Ty::Num(_)) | (Ty::Num(_), Ty::Point) => {
                self.fail("dimension-mismatch", format!("`{}` meets {} and {}", op.sign(), entries[0], entries[1]), span)
            }
            (Ty::Num(_) | Ty::Zero, other) | (other, _) => self.no_number(other, span),
        }
    }

    /// The common type of two numbers, points, conditions, choices or rows.
    pub(crate) fn same(&mut self, what: &str, a: &Ty, b: &Ty, span: Span) -> Ty {
        match (a, b) {
            (Ty::Bad, _) | (_, Ty::Bad) => Ty::Bad,
            (Ty::Zero, Ty::Num(_) | Ty::Zero) => b.clone(),
            (Ty::Num(_), Ty::Zero) => a.clone(),
            (Ty::Choice(x), Ty::Choice(y)) => {
                let mut all = x.clone();
                all.extend(y.iter().filter(|t| !x.contains(t)).cloned());
                Ty::Choice(all)
            }
            (Ty::Num(x), Ty::Num(y)) if x != y => {
                let message =
                    format!("`{what}` needs equal dimensions: the left is {}, the right is {}", dimension(*x), dimension(*y));
                let hint = self.missing_factor(y.div(*x), "the left");
                self.fail_with("dimension-mismatch", message, span, hint)
            }
            (a, b) if a == b => a.clone(),
            (Ty::Point, Ty::Num(Dim::TEMPERATURE)) | (Ty::Num(Dim::TEMPERATURE), Ty::Point) => {
                let message = format!("`{what}` meets a temperature point and a temperature difference");
                self.fail_with(
                    "point-arithmetic",
                    message,
                    span,
                    "write `absolute(...)` around the point, or degC behind the other",
                )
            }
            (a, b) => self.fail("type-mismatch", format!("`{what}` meets {a} and {b}"), span),
        }
    }

    /// Names the factor that would mend a dimension, and who has it.
    pub(crate) fn missing_factor(&self, dim: Dim, on: &str) -> String {
        let having = |wanted: Dim| {
            let found = self.types.iter().find(|(name, ty)| !name.contains('.') && **ty == Ty::Num(wanted) && !wanted.is_one());
            found.map(|(name, _)| name.clone())
        };
        let proposal = match (having(dim), having(Dim::ONE.div(dim))) {
            (Some(name), _) => format!(": multiply by `{name}`?"),
            (None, Some(name)) => format!(": divide by `{name}`?"),
            (None, None) => String::new(),
        };
        format!("a factor of dimension {dim} is missing on {on}{proposal}")
    }

    fn comparison(&mut self, op: Binary, entries: &[Ty], right: &Expr, span: Span) -> Ty {
        let ordered = !matches!(op, Binary::Eq | Binary::Ne);
        match (&entries[0], &entries[1]) {
            (Ty::Choice(a), Ty::Choice(b)) if !ordered => {
                if a.iter().any(|t| b.contains(t)) {
                    return Ty::Bool;
                }
                let (known, text) = if a.len() == 1 && b.len() > 1 { (b, &a[0]) } else { (a, &b[0]) };
                let diag = Diag::error("unknown-choice", format!("'{text}' is none of the choices")).at(self.place(right.span));
                let diag = diag.did_you_mean(text, known.iter().map(String::as_str));
                self.diags.push(diag.hint(format!("choices are: {}", known.join(", "))));
                Ty::Bad
            }
            (a @ (Ty::Choice(_) | Ty::Bool | Ty::Row(_)), _) | (_, a @ (Ty::Choice(_) | Ty::Bool | Ty::Row(_))) if ordered => {
                self.fail("not-a-number", format!("`{}` compares numbers, found {a}", op.sign()), span)
            }
            (Ty::Row(_), _) | (_, Ty::Row(_)) => {
                self.fail_with("not-a-number", "rows cannot be compared", span, "compare one of their columns")
            }
            (a, b) => {
                let (a, b) = (a.clone(), b.clone());
                if self.same(op.sign(), &a, &b, span).is_bad() { Ty::Bad } else { Ty::Bool }
            }
        }
    }

    fn power(&mut self, base: &Ty, a: &Expr, b: &Expr, span: Span) -> Ty {
        let exponent = self.ty(b);
        let written = written_ratio(b);
        self.each(&[base.clone(), exponent], span, |infer, entries| {
            if !matches!(entries[1], Ty::Num(Dim::ONE) | Ty::Zero) {
                return infer.fail("exponent", format!("an exponent must be a plain number, found {}", entries[1]), b.span);
            }
            match &entries[0] {
                Ty::Zero | Ty::Num(Dim::ONE) => Ty::Num(Dim::ONE),
                Ty::Num(dim) => match written {
                    Some(ratio) => infer.in_range(dim.pow(ratio), span),
                    None => infer.fail_with(
                        "exponent",
                        format!(
                            "the base is {}, so the exponent must be a written number such as 2, 0.5 or (1/3)",
                            dimension(*dim)
                        ),
                        b.span,
                        "divide the base by a reference of the same dimension first, as in `(x / 1 [mm])^n`",
                    ),
                },
                other => infer.no_number(other, a.span),
            }
        })
    }
}

/// An exponent written as a rational: `2`, `-0.5`, `(1/3)`.
fn written_ratio(e: &Expr) -> Option<Ratio> {
    match &e.kind {
        ExprKind::Number(literal) if literal.unit.is_none() => Ratio::parse(&literal.text),
        ExprKind::Neg(inner) => written_ratio(inner).map(|r| -r),
        ExprKind::Binary(Binary::Div, a, b) => match (&a.kind, &b.kind) {
            (ExprKind::Number(n), ExprKind::Number(d)) if n.unit.is_none() && d.unit.is_none() => {
                Ratio::parse(&format!("{}/{}", n.text, d.text))
            }
            (ExprKind::Neg(n), _) => {
                written_ratio(&Expr::new(ExprKind::Binary(Binary::Div, n.clone(), b.clone()), e.span)).map(|r| -r)
            }
            _ => None,
        },
        _ => None,
    }
}

/// The optional inputs that have a value whenever `condition` is `holds`.
pub(crate) fn certain(condition: &Expr, holds: bool) -> Vec<String> {
    match &condition.kind {
        ExprKind::Call(Function::Given, arguments) if holds => match arguments.first().map(|a| &a.kind) {
            Some(ExprKind::Name(name)) => vec![name.clone()],
            _ => Vec::new(),
        },
        ExprKind::Not(inner) => certain(inner, !holds),
        ExprKind::Binary(Binary::And, a, b) if holds => [certain(a, true), certain(b, true)].concat(),
        ExprKind::Binary(Binary::Or, a, b) if !holds => [certain(a, false), certain(b, false)].concat(),
        _ => Vec::new(),
    }
}
