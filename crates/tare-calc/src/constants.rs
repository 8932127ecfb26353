//! Every number that a calculation's text states, and whether a check would notice if it were wrong.

use crate::calculation::{Calculation, Default};
use crate::check::Resolve;
use crate::checks::Bench;
use crate::expr::{Expr, ExprKind};
use crate::function::Function;
use crate::span::Span;
use crate::table::CellValue;
use tare_units::Quantity;

/// What a written number belongs to.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ConstantOwner {
    /// A literal in the formula of an equation, input default, use or owed group, by its name.
    Formula(String),
    /// The default of an input.
    Default(String),
    /// A cell.
    Cell {
        /// The table.
        table: String,
        /// The row's name.
        row: String,
        /// The column or key.
        column: String,
    },
}

/// A number as written in a calculation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Constant {
    /// What it belongs to.
    pub owner: ConstantOwner,
    /// As written.
    pub text: String,
    /// Where it stands in the file; no two constants share a place.
    pub span: Span,
}

/// A written number multiplied by a factor, in the unit it is written in.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The number.
    pub constant: Constant,
    /// The factor.
    pub factor: f64,
}

/// Lists every literal in a formula, every default and every numeric cell, in the order of the file.
///
/// Left out: zeros, which no factor changes; written places of `at`; defaults that are lists.
pub fn constants(calc: &Calculation) -> Vec<Constant> {
    let mut found = Vec::new();
    for input in &calc.inputs {
        let name = &input.name.value;
        let Some(default) = &input.default else { continue };
        match &default.value {
            Default::Value(q) => add(&mut found, ConstantOwner::Default(name.clone()), q, &input.default_text, default.span),
            Default::Formula(formula) => literals(&mut found, name, formula),
            Default::Values(_) | Default::Level(_) | Default::Bad => {}
        }
    }
    for equation in &calc.equations {
        literals(&mut found, &equation.name.value, &equation.formula);
    }
    for used in &calc.uses {
        for given in &used.given {
            literals(&mut found, &format!("{}.{}", used.name.value, given.name.value), &given.formula);
        }
    }
    for group in &calc.owes.groups {
        for field in &group.fields {
            literals(&mut found, &format!("{}.{}.{}", group.kind.word(), group.name.value, field.name), &field.formula);
        }
    }
    for table in &calc.tables {
        for row in &table.rows {
            let keys = table.keys.iter().map(|k| &k.name.value).zip(&row.keys);
            let cells = table.columns.iter().map(|c| &c.name.value).zip(&row.cells);
            for (column, cell) in keys.chain(cells) {
                if let CellValue::Number(q) = &cell.value {
                    let owner =
                        ConstantOwner::Cell { table: table.name.value.clone(), row: row.name.clone(), column: column.clone() };
                    add(&mut found, owner, q, &cell.text.value, cell.text.span);
                }
            }
        }
    }
    found.sort_by_key(|c| c.span);
    found
}

fn add(found: &mut Vec<Constant>, owner: ConstantOwner, q: &Quantity, text: &str, span: Span) {
    if q.unit.from_si(q.value) != 0.0 {
        found.push(Constant { owner, text: text.to_owned(), span });
    }
}

fn literals(found: &mut Vec<Constant>, name: &str, formula: &Expr) {
    let mut places: Vec<Span> = Vec::new();
    formula.walk(&mut |e| match &e.kind {
        ExprKind::Call(Function::At, arguments) => places.extend(arguments.get(1).map(|a| a.span)),
        ExprKind::Number(literal) if literal.value != 0.0 && !places.contains(&e.span) => {
            found.push(Constant { owner: ConstantOwner::Formula(name.to_owned()), text: e.to_string(), span: e.span });
        }
        _ => {}
    });
}

/// Lists the constants that no check would miss: neither 5 % more nor 5 % less makes one fail.
///
/// Checks that fail as the file stands count for nothing.
pub fn uncovered(calc: &Calculation, lib: &dyn Resolve) -> Vec<Constant> {
    let bench = Bench::new(calc, lib);
    let prepared = bench.prepare();
    let noticed = |constant: &Constant| {
        let literal = matches!(constant.owner, ConstantOwner::Formula(_));
        [1.05, 0.95].into_iter().any(|factor| bench.notices(&prepared, (constant.span, factor), literal))
    };
    constants(calc).into_iter().filter(|c| !noticed(c)).collect()
}
