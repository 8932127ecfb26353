//! The check of what a calculation owes: scalars by kind, groups, estimates, the verdict.

use crate::calculation::{Calculation, Declared, Kind};
use crate::check::fit;
use crate::infer::Infer;
use crate::span::{Located, Span};
use crate::ty::{Ty, dimension};
use tare_diag::Diag;
use tare_units::Unit;

pub(crate) fn check(calc: &Calculation, infer: &mut Infer<'_>) {
    scalars(calc, infer);
    groups(calc, infer);
    gives(calc, infer);
    verdict(calc, infer);
}

fn scalars(calc: &Calculation, infer: &mut Infer<'_>) {
    let Some(kind) = calc.kind else { return };
    for (name, unit) in kind.owes() {
        let place = calc.equation(name).map(|e| e.name.span).or_else(|| calc.input(name).map(|(_, i)| i.name.span));
        let Some(place) = place else {
            let message = format!("a {} owes `{name}` ({unit}), which is neither an equation nor an input", kind.word());
            infer.fail_with(
                "owed-missing",
                message,
                Span::new(0, 0),
                format!("add `[equation.{name}]` with `unit = \"{unit}\"`"),
            );
            continue;
        };
        let wanted = Unit::parse(unit).map(|u| u.dim);
        let message = match (infer.types.get(*name), wanted) {
            (Some(Ty::Num(dim)), Ok(wanted)) if *dim != wanted => {
                format!("a {} owes `{name}` as {}, found {}", kind.word(), dimension(wanted), dimension(*dim))
            }
            (Some(other), _) if !matches!(other, Ty::Num(_) | Ty::Bad) => {
                format!("a {} owes `{name}` as one number, found {other}", kind.word())
            }
            _ => continue,
        };
        infer.fail_with("owed-mismatch", message, place, format!("give it the unit `{unit}` or another of that dimension"));
    }
}

fn groups(calc: &Calculation, infer: &mut Infer<'_>) {
    for group in &calc.owes.groups {
        if let Some(kind) = calc.kind
            && !kind.groups().contains(&group.kind)
        {
            let message = format!("a {} owes no {}", kind.word(), group.kind.word());
            infer.fail("owed-group", message, group.name.span);
        }
        for field in &group.fields {
            let found = infer.ty(&field.formula);
            let what = format!("`{}.{}.{}`", group.kind.word(), group.name.value, field.name);
            if let (_, Some(length)) = found.entry() {
                infer.fail("list-length", format!("{what} takes one value, found a list of {length}"), field.span);
                continue;
            }
            let declared = Unit::parse(field.unit).map_or(Declared::Bad, Declared::Number);
            let unit = Located::new(field.unit.to_owned(), field.span);
            fit(infer, &what, &declared, &unit, &[], found, &field.formula);
        }
    }
}

fn gives(calc: &Calculation, infer: &mut Infer<'_>) {
    for give in &calc.gives {
        if calc.equation(&give.equation.value).is_none() {
            unknown_equation(calc, infer, &give.equation);
        }
    }
    match (calc.kind, calc.gives.first()) {
        (Some(Kind::Estimate), None) => {
            let hint = "add `gives = { quantity = \"equation\" }`";
            infer.fail_with("owed-missing", "an estimate gives no quantity", Span::new(0, 0), hint);
        }
        (Some(kind), Some(give)) if kind != Kind::Estimate => {
            infer.fail("owed-group", format!("a {} gives no estimates", kind.word()), give.quantity.span);
        }
        _ => {}
    }
}

fn verdict(calc: &Calculation, infer: &mut Infer<'_>) {
    let Some(verdict) = &calc.verdict else { return };
    if calc.kind.is_some_and(|k| k != Kind::Test) {
        infer.fail("owed-group", "only a test has a verdict", verdict.span);
    }
    if calc.equation(&verdict.value).is_none() {
        unknown_equation(calc, infer, verdict);
        return;
    }
    if let Some(ty) = infer.types.get(&verdict.value)
        && !matches!(ty, Ty::Bool | Ty::Choice(_) | Ty::Bad)
    {
        let message = format!("a verdict is a condition or a choice, found {ty}");
        infer.fail("owed-mismatch", message, verdict.span);
    }
}

fn unknown_equation(calc: &Calculation, infer: &mut Infer<'_>, name: &Located<String>) {
    let known = calc.equations.iter().map(|e| e.name.value.as_str());
    let diag = Diag::error("unknown-name", format!("no equation named `{}`", name.value)).at(infer.place(name.span));
    infer.diags.push(diag.did_you_mean(&name.value, known));
}
