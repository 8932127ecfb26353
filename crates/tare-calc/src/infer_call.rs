//! Types of function calls.

use crate::calculation::Length;
use crate::expr::{Expr, ExprKind};
use crate::function::Function;
use crate::infer::{Infer, certain};
use crate::span::Span;
use crate::table::Rule;
use crate::ty::Ty;
use tare_diag::Diag;
use tare_units::{Dim, Ratio};

impl Infer<'_> {
    pub(crate) fn call(&mut self, function: Function, arguments: &[Expr], span: Span) -> Ty {
        match function {
            Function::If => return self.choose(arguments, span),
            Function::Given => return self.given(&arguments[0]),
            Function::Pick => return self.pick(arguments, span),
            Function::Has => {
                let says = "`has` is for questions about studies, not for calculations";
                return self.fail_with("function-not-here", says, span, "compare a choice with `==`");
            }
            _ => {}
        }
        let types: Vec<Ty> = arguments.iter().map(|a| self.ty(a)).collect();
        match function {
            Function::Min | Function::Max if arguments.len() > 1 => self.extreme(function, &types, arguments, span),
            Function::Min
            | Function::Max
            | Function::Sum
            | Function::Mean
            | Function::Count
            | Function::All
            | Function::Any
            | Function::Range => self.over_list(function, &types, arguments, span),
            Function::At => self.at(&types, arguments),
            Function::Next => match &types[0] {
                Ty::List(..) | Ty::Bad => types[0].clone(),
                other => self.fail("not-a-list", format!("`next` takes a list, found {other}"), arguments[0].span),
            },
            _ => self.each(&types, span, |infer, entries| infer.scalar(function, entries, arguments, span)),
        }
    }

    /// Functions that work on single values.
    fn scalar(&mut self, function: Function, entries: &[Ty], arguments: &[Expr], span: Span) -> Ty {
        match (function, &entries[0]) {
            (Function::Abs, Ty::Num(_) | Ty::Zero) => entries[0].clone(),
            (Function::Sqrt, Ty::Num(dim)) => Ty::Num(dim.pow(Ratio::new(1, 2))),
            (Function::Absolute, Ty::Point) => Ty::Num(Dim::TEMPERATURE),
            (Function::Absolute, other) => {
                self.fail("not-a-point", format!("`absolute` takes a temperature point, found {other}"), arguments[0].span)
            }
            (Function::Abs | Function::Sqrt, Ty::Point) => self.no_number(&Ty::Point, arguments[0].span),
            _ => {
                for (entry, argument) in entries.iter().zip(arguments) {
                    match entry {
                        Ty::Zero | Ty::Num(Dim::ONE) => {}
                        Ty::Num(_) => {
                            let hint = match function {
                                Function::Floor | Function::Ceil | Function::Round => {
                                    format!("divide by the unit to round in, as in `{0}(x / 1 [mm]) * 1 [mm]`", function.name())
                                }
                                _ => "divide by a reference of the same dimension".to_owned(),
                            };
                            let message = format!("`{}` takes a plain number, found {entry}", function.name());
                            return self.fail_with("dimension-mismatch", message, argument.span, hint);
                        }
                        other => return self.no_number(other, argument.span),
                    }
                }
                let _ = span;
                Ty::Num(Dim::ONE)
            }
        }
    }

    fn extreme(&mut self, function: Function, types: &[Ty], arguments: &[Expr], span: Span) -> Ty {
        let mut common = types[0].clone();
        for (ty, argument) in types.iter().zip(arguments).skip(1) {
            let place = arguments[0].span.to(argument.span);
            common = self.each(&[common, ty.clone()], place, |infer, e| infer.same(function.name(), &e[0], &e[1], place));
        }
        match common.entry().0 {
            Ty::Num(_) | Ty::Zero | Ty::Point | Ty::Bad => common,
            other => {
                let other = other.clone();
                self.fail("not-a-number", format!("`{}` compares numbers, found {other}", function.name()), span)
            }
        }
    }

    /// Functions that take one list, or its entries one by one.
    fn over_list(&mut self, function: Function, types: &[Ty], arguments: &[Expr], span: Span) -> Ty {
        let name = function.name();
        let (length, entry) = match types {
            [Ty::Bad] => return Ty::Bad,
            [Ty::List(length, entry)] => (*length, (**entry).clone()),
            [only] if matches!(function, Function::Min | Function::Max) => (Length::exactly(1), only.clone()),
            [other] => return self.fail("not-a-list", format!("`{name}` takes a list, found {other}"), arguments[0].span),
            several => {
                let mut common = several[0].clone();
                for (ty, argument) in several.iter().zip(arguments) {
                    if let Ty::List(..) = ty {
                        return self.fail(
                            "not-a-list",
                            format!("`{name}` takes one list or single values, not both"),
                            argument.span,
                        );
                    }
                    common = self.same(name, &common, ty, arguments[0].span.to(argument.span));
                }
                (Length::exactly(several.len()), common)
            }
        };
        if length.most == Some(0) && !matches!(function, Function::Sum | Function::Count | Function::All | Function::Any) {
            return self.fail("empty-list", format!("`{name}` of a list without entries"), span);
        }
        match (function, &entry) {
            (_, Ty::Bad) => Ty::Bad,
            (Function::Count, _) => Ty::Num(Dim::ONE),
            (Function::All | Function::Any, Ty::Bool) => Ty::Bool,
            (Function::All | Function::Any, other) => {
                self.fail("not-a-condition", format!("`{name}` takes conditions, found {other}"), span)
            }
            (Function::Sum, Ty::Bool) => {
                self.fail_with("not-a-number", "`sum` takes numbers, found conditions", span, "write `count` for how many hold")
            }
            (Function::Sum, Ty::Num(_) | Ty::Zero) => entry,
            (Function::Mean | Function::Min | Function::Max, Ty::Num(_) | Ty::Zero | Ty::Point) => entry,
            (Function::Range, Ty::Point) => Ty::Num(Dim::TEMPERATURE),
            (Function::Range, Ty::Num(_) | Ty::Zero) => entry,
            (_, other) => self.no_number(other, span),
        }
    }

    fn at(&mut self, types: &[Ty], arguments: &[Expr]) -> Ty {
        match types[1].entry() {
            (Ty::Bad, _) => return Ty::Bad,
            (Ty::Num(Dim::ONE) | Ty::Zero, None) => {}
            _ => {
                return self.fail(
                    "not-a-number",
                    format!("a place in a list is a plain number, found {}", types[1]),
                    arguments[1].span,
                );
            }
        }
        match &types[0] {
            Ty::Bad => Ty::Bad,
            Ty::List(length, entry) => {
                if let ExprKind::Number(literal) = &arguments[1].kind
                    && literal.unit.is_none()
                {
                    let whole = literal.value >= 1.0 && literal.value.fract() == 0.0;
                    if !whole || length.most.is_some_and(|most| literal.value > most as f64) {
                        let message = format!("there is no place {} in a list of {length}", literal.text);
                        return self.fail_with("list-place", message, arguments[1].span, "places count from 1");
                    }
                }
                (**entry).clone()
            }
            other => self.fail("not-a-list", format!("`at` takes a list, found {other}"), arguments[0].span),
        }
    }

    fn choose(&mut self, arguments: &[Expr], span: Span) -> Ty {
        let [condition, then, other] = arguments else { return Ty::Bad };
        let ty = self.ty(condition);
        let test = self.condition(&ty, condition.span);
        let before = self.given.len();
        self.given.extend(certain(condition, true));
        let first = self.ty(then);
        self.given.truncate(before);
        self.given.extend(certain(condition, false));
        let second = self.ty(other);
        self.given.truncate(before);
        let branches = then.span.to(other.span);
        let both = self.each(&[first, second], branches, |infer, e| infer.same("if", &e[0], &e[1], branches));
        self.each(&[test, both], span, |_, e| e[1].clone())
    }

    fn given(&mut self, argument: &Expr) -> Ty {
        let ExprKind::Name(name) = &argument.kind else {
            return self.fail_with(
                "given-of-formula",
                "`given` takes the name of an optional input",
                argument.span,
                "write `given(x)`",
            );
        };
        match self.calc.input(name) {
            Some((_, input)) if input.optional => Ty::Bool,
            Some(_) => {
                let hint = format!("write `optional = true` in `[input.{name}]`");
                self.fail_with("given-not-optional", format!("the input `{name}` is not optional"), argument.span, hint)
            }
            None => {
                let known = self.calc.inputs.iter().filter(|i| i.optional).map(|i| i.name.value.as_str());
                let diag = Diag::error("unknown-name", format!("no optional input named `{name}`")).at(self.place(argument.span));
                self.diags.push(diag.did_you_mean(name, known));
                Ty::Bad
            }
        }
    }

    fn pick(&mut self, arguments: &[Expr], span: Span) -> Ty {
        let needs: Vec<Ty> = arguments[1..].iter().map(|a| self.ty(a)).collect();
        let name = match &arguments[0].kind {
            ExprKind::Name(name) => name,
            ExprKind::Bad => return Ty::Bad,
            _ => return self.fail("not-a-table", "`pick` takes the name of a table first", arguments[0].span),
        };
        let Some((_, table)) = self.calc.table(name) else {
            let known = self.calc.tables.iter().map(|t| t.name.value.as_str());
            let diag = Diag::error("unknown-table", format!("no table named `{name}`")).at(self.place(arguments[0].span));
            self.diags.push(diag.did_you_mean(name, known));
            return Ty::Bad;
        };
        if table.keys.len() != needs.len() {
            let keys: Vec<&str> = table.keys.iter().map(|k| k.name.value.as_str()).collect();
            let message = format!("table `{name}` has {} keys, found {}", keys.len(), needs.len());
            return self.fail_with("argument-count", message, span, format!("write `pick({name}, {})`", keys.join(", ")));
        }
        let keys: Vec<(Ty, Rule, String, Vec<String>)> = table
            .keys
            .iter()
            .map(|k| (Ty::declared(&k.declared, &k.choices), k.rule, k.name.value.clone(), k.choices.clone()))
            .collect();
        self.each(&needs, span, |infer, entries| {
            for (i, (entry, (key, rule, key_name, choices))) in entries.iter().zip(&keys).enumerate() {
                let place = arguments[i + 1].span;
                match (entry, key) {
                    (_, Ty::Bad) => {}
                    (Ty::Choice(set), Ty::Choice(_)) if *rule == Rule::Equals => {
                        for text in set.iter().filter(|t| !choices.contains(t)) {
                            let message = format!("'{text}' is in no row of `{name}`");
                            let diag = Diag::error("unknown-choice", message).at(infer.place(place));
                            let diag = diag.did_you_mean(text, choices.iter().map(String::as_str));
                            infer.diags.push(diag.hint(format!("rows have: {}", choices.join(", "))));
                        }
                    }
                    (Ty::Zero, Ty::Num(_)) => {}
                    (entry, key) if entry == key => {}
                    (entry, key) => {
                        infer.fail(
                            "dimension-mismatch",
                            format!("key `{key_name}` of table `{name}` is {key}, found {entry}"),
                            place,
                        );
                    }
                }
            }
            // whatever is wrong with a need, the row is one of this table
            Ty::Row(name.clone())
        })
    }
}
