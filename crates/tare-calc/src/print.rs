//! Formula trees back to text.

use crate::expr::{Binary, Expr, ExprKind, NEG_LEVEL, NOT_LEVEL};
use std::fmt;

/// Text that stands in for a name, if any.
type Replace<'a> = &'a dyn Fn(&str) -> Option<String>;

/// Level of what needs no parentheses anywhere.
const ATOM: u8 = 10;

impl Expr {
    /// The formula with some names replaced by text, such as values with their units in brackets.
    ///
    /// `replace` is asked for every name (`wall`), field (`press.price`, `blank.area`) and direct pick
    /// (`pick(machine, force).price`); `None` keeps what was written. A replacement that is no single atom, such as a
    /// negative number, is put in parentheses, so that the result reads back with the same meaning.
    pub fn print_with(&self, replace: impl Fn(&str) -> Option<String>) -> String {
        let mut out = String::new();
        write(self, &mut out, 0, &replace);
        out
    }
}

impl fmt::Display for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.print_with(|_| None))
    }
}

fn write(e: &Expr, out: &mut String, least: u8, replace: Replace<'_>) {
    let level = level(e);
    if level < least {
        out.push('(');
        write(e, out, 0, replace);
        out.push(')');
        return;
    }
    match &e.kind {
        ExprKind::Number(literal) => {
            out.push_str(&literal.text);
            if literal.unit.is_some() {
                out.push_str(" [");
                out.push_str(&literal.unit_text);
                out.push(']');
            }
        }
        ExprKind::Text(text) => {
            out.push('\'');
            out.push_str(text);
            out.push('\'');
        }
        ExprKind::Bool(value) => out.push_str(if *value { "true" } else { "false" }),
        ExprKind::Name(name) => replaced(name, out, replace),
        ExprKind::Field(inner, field) => {
            let path = format!("{}.{field}", Quoted(inner));
            match replace(&path) {
                Some(text) => atom(&text, out),
                None => {
                    // the row itself is no value: its name stays as written
                    // and `1.x` would read as a number
                    let least = if matches!(inner.kind, ExprKind::Number(_)) { ATOM + 1 } else { ATOM };
                    write(inner, out, least, &|_| None);
                    out.push('.');
                    out.push_str(field);
                }
            }
        }
        ExprKind::Neg(inner) => {
            out.push('-');
            write(inner, out, NEG_LEVEL, replace);
        }
        ExprKind::Not(inner) => {
            out.push_str("not ");
            write(inner, out, NOT_LEVEL, replace);
        }
        ExprKind::Binary(op, a, b) => binary(*op, a, b, out, replace),
        ExprKind::Call(function, arguments) => {
            out.push_str(function.name());
            out.push('(');
            for (i, argument) in arguments.iter().enumerate() {
                if i > 0 {
                    out.push_str(", ");
                }
                let table = i == 0 && *function == crate::Function::Pick;
                if table || *function == crate::Function::Given {
                    write(argument, out, 0, &|_| None);
                } else {
                    write(argument, out, 0, replace);
                }
            }
            out.push(')');
        }
        ExprKind::Bad => out.push('?'),
    }
}

fn binary(op: Binary, a: &Expr, b: &Expr, out: &mut String, replace: Replace<'_>) {
    let own = op.level();
    let (left, right) = match op {
        // right-binding: the base must be an atom, the exponent may carry a sign
        Binary::Pow => (ATOM, NEG_LEVEL),
        // comparisons do not chain
        _ if op.compares() => (own + 1, own + 1),
        _ => (own, own + 1),
    };
    write(a, out, left, replace);
    if op == Binary::Pow {
        out.push('^');
    } else {
        out.push(' ');
        out.push_str(op.sign());
        out.push(' ');
    }
    write(b, out, right, replace);
}

fn level(e: &Expr) -> u8 {
    match &e.kind {
        ExprKind::Binary(op, ..) => op.level(),
        ExprKind::Neg(_) => NEG_LEVEL,
        ExprKind::Not(_) => NOT_LEVEL,
        _ => ATOM,
    }
}

fn replaced(name: &str, out: &mut String, replace: Replace<'_>) {
    match replace(name) {
        Some(text) => atom(&text, out),
        None => out.push_str(name),
    }
}

/// Writes a replacement, in parentheses unless it reads as one atom.
fn atom(text: &str, out: &mut String) {
    let (read, problems) = crate::parse_formula(text);
    if problems.is_empty() && level(&read) == ATOM {
        out.push_str(text);
    } else {
        out.push('(');
        out.push_str(text);
        out.push(')');
    }
}

/// A tree printed as the inside of a field path.
struct Quoted<'a>(&'a Expr);

impl fmt::Display for Quoted<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut out = String::new();
        write(self.0, &mut out, ATOM, &|_| None);
        f.write_str(&out)
    }
}
