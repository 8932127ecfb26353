//! Running the published examples of a calculation.

use crate::calculation::{Calculation, Check};
use crate::check::Resolve;
use crate::check_value::{Expected, GivenValue, expected, given};
use crate::constants::Change;
use crate::lower::lower_with;
use crate::lower_input::flat_inputs;
use crate::lowered::{FlatInput, Line, LineKind, Lowered, Shape};
use crate::ranges::Ranges;
use crate::run::Run;
use crate::span::Span;
use crate::table::Table;
use crate::ty::Ty;
use tare_diag::Diag;

/// One expected value of a check, and what came out.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckResult {
    /// The key of the calculation.
    pub calculation: String,
    /// The check's reference id.
    pub id: String,
    /// Where the example is published.
    pub source: String,
    /// Whether the figures were read there.
    pub seen: bool,
    /// What kind of example it is.
    pub kind: String,
    /// The line.
    pub name: String,
    /// What was expected, as written.
    pub expected: String,
    /// What came out, or why nothing did.
    pub got: String,
    /// Whether it is as expected.
    pub ok: bool,
    /// Where the expectation stands in the file.
    pub span: Span,
}

/// Runs every check of a calculation that has passed [`check`](crate::check()).
///
/// Inputs that a check does not give take their defaults; the method error and every exchange rate are 1.
pub fn run_checks(calc: &Calculation, lib: &dyn Resolve) -> Vec<CheckResult> {
    Bench::new(calc, lib).run(None)
}

/// Runs every check with one written number changed by a factor.
pub fn run_checks_with(calc: &Calculation, lib: &dyn Resolve, change: &Change) -> Vec<CheckResult> {
    Bench::new(calc, lib).run(Some((change.constant.span, change.factor)))
}

/// The messages of names and values in checks.
pub(crate) fn problems(calc: &Calculation, lib: &dyn Resolve) -> Vec<Diag> {
    let bench = Bench::new(calc, lib);
    let mut diags = Vec::new();
    for check in &calc.checks {
        match bench.given(check) {
            Err(found) => diags.extend(found),
            Ok(given) => match bench.lower(&given, None) {
                Err(found) => diags.extend(found),
                Ok(lowered) => {
                    diags.extend(bench.expectations(check, &lowered));
                    let ranges = check.ranges.as_ref().map(|ranges| Ranges::new(calc, ranges, &lowered, &given));
                    diags.extend(ranges.and_then(Result::err).into_iter().flatten());
                }
            },
        }
    }
    diags
}

/// Everything that the checks of one calculation share.
pub(crate) struct Bench<'a> {
    calc: &'a Calculation,
    lib: &'a dyn Resolve,
    flat: Vec<FlatInput<'a>>,
    /// Per flat input: the table it is a row of.
    tables: Vec<&'a Table>,
}

impl<'a> Bench<'a> {
    pub(crate) fn new(calc: &'a Calculation, lib: &'a dyn Resolve) -> Self {
        let flat = flat_inputs(calc, lib);
        let empty: &'static Table = &EMPTY;
        let table = |input: &FlatInput<'a>| -> &'a Table {
            let owner = if input.calculation == calc.key { Some(calc) } else { lib.calculation(input.calculation) };
            match &input.input.declared {
                crate::Declared::Row(name) => owner.and_then(|c| c.table(name)).map_or(empty, |(_, t)| t),
                _ => empty,
            }
        };
        let tables = flat.iter().map(table).collect();
        Self { calc, lib, flat, tables }
    }

    fn given(&self, check: &Check) -> Result<Vec<GivenValue>, Vec<Diag>> {
        let (mut values, mut diags) = (Vec::new(), Vec::new());
        for value in &check.given {
            match given(self.calc, &self.flat, &self.tables, value) {
                Ok(value) => values.push(value),
                Err(found) => diags.extend(found),
            }
        }
        if diags.is_empty() { Ok(values) } else { Err(diags) }
    }

    fn lower(&self, given: &[GivenValue], change: Option<(Span, f64)>) -> Result<Lowered, Vec<Diag>> {
        let mut shape = Shape::defaults(self.flat.len());
        for value in given {
            shape.given[value.flat] = Some(value.values.len());
        }
        lower_with(self.calc, self.lib, &shape, change)
    }

    /// The row names of the table that a row line is of; `blank.` before a line tells the used calculation.
    fn row_names(&self, line: &Line) -> Vec<String> {
        let Ty::Row(table) = line.ty.entry().0 else { return Vec::new() };
        let owner =
            if line.calculation.as_ref() == self.calc.key { Some(self.calc) } else { self.lib.calculation(&line.calculation) };
        owner.and_then(|c| c.table(table)).map_or(Vec::new(), |(_, t)| t.rows.iter().map(|r| r.name.clone()).collect())
    }

    fn expectations(&self, check: &Check, lowered: &Lowered) -> Vec<Diag> {
        let mut diags = Vec::new();
        for value in &check.expect {
            match readable(lowered, &value.name.value) {
                Some(line) => diags.extend(expected(self.calc, line, &|l| self.row_names(l), value).err().into_iter().flatten()),
                None => {
                    let known = lowered.lines.iter().filter(|l| l.kind != LineKind::Outside).map(|l| l.name.as_str());
                    let diag = Diag::error("unknown-name", format!("no equation named `{}`", value.name.value));
                    let diag = diag.did_you_mean(&value.name.value, known);
                    diags.push(diag.at(tare_diag::Place::span(&self.calc.file, value.name.span.range())));
                }
            }
        }
        diags
    }

    /// Runs every check.
    pub(crate) fn run(&self, change: Option<(Span, f64)>) -> Vec<CheckResult> {
        self.calc.checks.iter().flat_map(|check| self.one(check, change)).collect()
    }

    fn one(&self, check: &Check, change: Option<(Span, f64)>) -> Vec<CheckResult> {
        let result = |value: &crate::CheckValue, got: String, ok: bool| CheckResult {
            calculation: self.calc.key.clone(),
            id: check.id.clone(),
            source: check.source.clone(),
            seen: check.seen,
            kind: check.kind.clone(),
            name: value.name.value.clone(),
            expected: value.texts.iter().map(|t| t.value.as_str()).collect::<Vec<_>>().join(", "),
            got,
            ok,
            span: value.name.span,
        };
        let of_ranges = || check.ranges.iter().flat_map(|ranges| &ranges.expect);
        let failed = |diags: Vec<Diag>| -> Vec<CheckResult> {
            let why = diags.first().map_or(String::new(), |d| d.message.clone());
            check.expect.iter().chain(of_ranges()).map(|value| result(value, why.clone(), false)).collect()
        };
        let given = match self.given(check) {
            Ok(given) => given,
            Err(diags) => return failed(diags),
        };
        let lowered = match self.lower(&given, change) {
            Ok(lowered) => lowered,
            Err(diags) => return failed(diags),
        };
        let run = self.point(&lowered, &given, change);
        let mut results = Vec::new();
        for value in &check.expect {
            let Some(line) = readable(&lowered, &value.name.value) else {
                results.push(result(value, "no such equation".to_owned(), false));
                continue;
            };
            let expected = match expected(self.calc, line, &|l| self.row_names(l), value) {
                Ok(expected) => expected,
                Err(diags) => {
                    results.push(result(value, diags.first().map_or(String::new(), |d| d.message.clone()), false));
                    continue;
                }
            };
            let got: Vec<f64> = line.values.iter().map(|o| run.value(*o)).collect();
            let ok = got.len() == expected.len() && expected.iter().zip(&got).all(|(e, g)| e.holds(*g));
            let mut text = expected.iter().zip(&got).map(|(e, g)| e.shown(*g)).collect::<Vec<_>>().join(", ");
            if got.iter().any(|g| g.is_nan()) {
                let reasons = run.reasons();
                text = if reasons.is_empty() { "no result".to_owned() } else { format!("no result: {}", reasons.join("; ")) };
            }
            results.push(result(value, text, ok));
        }
        // a changed constant is judged at the stated values alone
        if let (Some(ranges), None) = (&check.ranges, change) {
            match Ranges::new(self.calc, ranges, &lowered, &given) {
                Ok(ranges) => results.extend(ranges.run(&run).into_iter().map(|(value, got, ok)| result(value, got, ok))),
                Err(diags) => {
                    let why = diags.first().map_or(String::new(), |d| d.message.clone());
                    results.extend(of_ranges().map(|value| result(value, why.clone(), false)));
                }
            }
        }
        results
    }
}

/// A check made ready: lowered once, with what it expects of each operand.
pub(crate) struct Prepared {
    given: Vec<GivenValue>,
    lowered: Lowered,
    /// Expectations that hold as the file stands, each with its line and entry.
    holding: Vec<(String, usize, Expected)>,
}

impl Bench<'_> {
    /// Every check that can be run, with the expectations that hold.
    pub(crate) fn prepare(&self) -> Vec<Prepared> {
        let mut found = Vec::new();
        for check in &self.calc.checks {
            let Ok(given) = self.given(check) else { continue };
            let Ok(lowered) = self.lower(&given, None) else { continue };
            let run = self.point(&lowered, &given, None);
            let mut holding = Vec::new();
            for value in &check.expect {
                let Some(line) = readable(&lowered, &value.name.value) else { continue };
                let Ok(expected) = expected(self.calc, line, &|l| self.row_names(l), value) else { continue };
                for (entry, (wanted, operand)) in expected.into_iter().zip(&line.values).enumerate() {
                    if wanted.holds(run.value(*operand)) {
                        holding.push((line.name.clone(), entry, wanted));
                    }
                }
            }
            found.push(Prepared { given, lowered, holding });
        }
        found
    }

    /// Whether a changed number makes an expectation fail that holds without the change. A `literal` is part of a template and
    /// needs lowering anew; a default or cell is a parameter.
    pub(crate) fn notices(&self, prepared: &[Prepared], change: (Span, f64), literal: bool) -> bool {
        prepared.iter().any(|check| {
            let anew = if literal { Some(self.lower(&check.given, Some(change))) } else { None };
            let lowered = match &anew {
                Some(Ok(lowered)) => lowered,
                Some(Err(_)) => return !check.holding.is_empty(),
                None => &check.lowered,
            };
            let run = self.point(lowered, &check.given, Some(change));
            check.holding.iter().any(|(name, entry, wanted)| {
                let operand = readable(lowered, name).and_then(|line| line.values.get(*entry));
                operand.is_none_or(|operand| !wanted.holds(run.value(*operand)))
            })
        })
    }

    fn point<'l>(&self, lowered: &'l Lowered, given: &[GivenValue], change: Option<(Span, f64)>) -> Run<'l> {
        Run::new(lowered, change, |flat, element| {
            given.iter().find(|g| g.flat == flat).and_then(|g| g.values.get(element.unwrap_or(0)).copied())
        })
    }
}

/// The line of a name that is meant for reading.
fn readable<'l>(lowered: &'l Lowered, name: &str) -> Option<&'l Line> {
    lowered.line(name).filter(|l| l.kind != LineKind::Outside)
}

static EMPTY: Table = Table {
    name: crate::Located { value: String::new(), span: Span { start: 0, end: 0 } },
    source: None,
    says: String::new(),
    keys: Vec::new(),
    columns: Vec::new(),
    rows: Vec::new(),
};
