//! The reason behind a number: its formula as authored, what each name stands for, and on down to the leaves.

use crate::lines::{Evidence, Leaf, LineRef, Lines};
use crate::study::Study;
use std::collections::{BTreeMap, BTreeSet};
use tare_calc::{Expr, ExprKind, Function, LineKind, Lowered, ParamKind, Ty};
use tare_engine::Operand;
use tare_units::{Currency, Unit};

/// What one name in a formula stands for.
#[derive(Clone, Debug)]
pub struct Step {
    /// The line explained.
    pub line: LineRef,
    /// Its address.
    pub address: String,
    /// What it is about.
    pub subject: String,
    /// Its name within its calculation.
    pub name: String,
    /// The formula as authored; empty for a leaf.
    pub formula: String,
    /// Its value in SI; one per entry for a list.
    pub values: Vec<f64>,
    /// The unit it is shown in.
    pub unit: Unit,
    /// The word behind the number, for choices and table rows.
    pub word: Option<String>,
    /// What each name of the formula stands for, in the order of first use.
    pub names: Vec<Named>,
    /// Where the formula or value comes from.
    pub source: String,
    /// The calculation the formula stands in; empty for a leaf.
    pub calculation: String,
    /// For a leaf: how well it is known.
    pub evidence: Option<Evidence>,
    /// For a leaf: the value as stated, with its spread.
    pub stated: Option<String>,
}

/// A name of a formula and the line or lines it stands for.
#[derive(Clone, Debug)]
pub struct Named {
    /// The name as the formula writes it: `wall`, `press.price`.
    pub name: String,
    /// Its values in SI; several for a list.
    pub values: Vec<f64>,
    /// The unit it is shown in.
    pub unit: Unit,
    /// The word behind the number, for choices and table rows.
    pub word: Option<String>,
    /// The lines behind it, element by element.
    pub lines: Vec<LineRef>,
}

/// A number explained down to its leaves.
#[derive(Clone, Debug)]
pub struct Explanation {
    /// The line asked for first, then what it rests on, each once.
    pub steps: Vec<Step>,
    /// How many further lines were left out by the limit.
    pub left_out: usize,
}

impl Study {
    /// Explains a line down to its leaves, at most `limit` lines of it.
    pub fn explain(&self, line: LineRef, limit: usize) -> Explanation {
        let mut steps = Vec::new();
        let mut seen = BTreeSet::new();
        let mut open = vec![line];
        let mut left_out = 0;
        while let Some(line) = open.pop() {
            // many uses pass on one line (a wage, the life of the product): it is explained once
            let line = self.lines.origin(line);
            if !seen.insert(whole(line)) {
                continue;
            }
            if steps.len() >= limit {
                left_out += 1;
                continue;
            }
            let step = self.step(line);
            for named in step.names.iter().rev() {
                open.extend(named.lines.iter().rev().copied());
            }
            steps.push(step);
        }
        Explanation { steps, left_out }
    }

    /// One line with what its formula's names stand for.
    pub fn step(&self, line: LineRef) -> Step {
        let (lines, values) = (&self.lines, &self.values);
        let line = lines.origin(line);
        let subject = lines.subject(line).title.clone();
        match line {
            LineRef::Leaf(at) => {
                let leaf = &lines.leaves[at as usize];
                Step {
                    line,
                    address: lines.address(line),
                    subject,
                    name: leaf.name.clone(),
                    formula: String::new(),
                    values: vec![lines.value(line, values)],
                    unit: leaf.quantity.unit.clone(),
                    word: leaf.word.clone(),
                    names: Vec::new(),
                    source: leaf.source.clone(),
                    calculation: String::new(),
                    evidence: Some(leaf.evidence),
                    stated: Some(stated(leaf)),
                }
            }
            LineRef::Line { block, line: at, .. } => {
                let placed = &lines.blocks[block as usize];
                let lowered = &lines.templates[placed.template as usize].lowered;
                let def = &lowered.lines[at as usize];
                let reader = Reader { lines, values, number: block, lowered };
                Step {
                    line,
                    address: lines.address(line),
                    subject,
                    name: def.name.clone(),
                    formula: def.text.clone(),
                    values: def.values.iter().map(|o| reader.operand(*o)).collect(),
                    unit: lines.unit(line).clone(),
                    word: reader.word(&def.ty, def.values.first().map_or(f64::NAN, |o| reader.operand(*o))),
                    names: reader.names(&def.formula, &def.scope),
                    source: def.source.clone().unwrap_or_default(),
                    calculation: def.calculation.to_string(),
                    evidence: None,
                    stated: None,
                }
            }
        }
    }
}

/// A leaf as stated: its text, or its value where a default spread was added.
fn stated(leaf: &Leaf) -> String {
    leaf.word.clone().unwrap_or_else(|| leaf.quantity.text.clone())
}

/// A list is explained once, whichever element asked.
fn whole(line: LineRef) -> LineRef {
    match line {
        LineRef::Line { block, line, .. } => LineRef::Line { block, line, element: 0 },
        leaf @ LineRef::Leaf(_) => leaf,
    }
}

impl Lines {
    /// Follows lines that only pass on what they were given.
    pub(crate) fn origin(&self, line: LineRef) -> LineRef {
        let mut at = line;
        loop {
            let LineRef::Line { block, line, element } = at else { return at };
            let def = &self.templates[self.blocks[block as usize].template as usize].lowered.lines[line as usize];
            match (def.kind, def.values[element as usize]) {
                (LineKind::Given, Operand::Param(param)) => at = self.argument(block, param),
                _ => return at,
            }
        }
    }
}

/// Reads names within one block.
struct Reader<'s> {
    lines: &'s Lines,
    values: &'s [f64],
    number: u32,
    lowered: &'s Lowered,
}

impl Reader<'_> {
    fn operand(&self, operand: Operand) -> f64 {
        self.values[self.lines.operand(self.number, operand) as usize]
    }

    fn argument(&self, param: u32) -> LineRef {
        self.lines.argument(self.number, param)
    }

    fn names(&self, formula: &Expr, scope: &str) -> Vec<Named> {
        let mut paths = Vec::new();
        collect(formula, &mut paths);
        let mut seen = BTreeSet::new();
        paths.retain(|p| seen.insert(p.clone()));
        let mut asked = BTreeSet::new();
        asked_for(formula, &mut asked);
        let known =
            |path: &String| self.named(path, scope).or_else(|| self.empty_list(path, scope).filter(|_| !asked.contains(path)));
        let mut names: Vec<Named> = paths.iter().filter_map(known).collect();
        let mut currencies = BTreeSet::new();
        amounts(formula, &mut currencies);
        names.extend(currencies.into_iter().filter_map(|currency| self.exchange(currency)));
        names
    }

    /// A list that was given without entries; an optional input that is absent is asked for with `given` and has no value at all.
    fn empty_list(&self, path: &str, scope: &str) -> Option<Named> {
        let full = format!("{scope}{path}");
        let empty = self.lowered.inputs.iter().any(|i| i.name == full && i.values.is_empty());
        let word = Some("none".to_owned());
        empty.then(|| Named { name: path.to_owned(), values: Vec::new(), unit: Unit::plain(), word, lines: Vec::new() })
    }

    /// The rate behind amounts that a formula states in another currency than the study's.
    fn exchange(&self, currency: Currency) -> Option<Named> {
        let param = self.lowered.params.iter().position(|p| p.what == ParamKind::Exchange(currency))?;
        let line = self.argument(param as u32);
        let own = matches!(line, LineRef::Leaf(leaf) if self.lines.leaves[leaf as usize].evidence == Evidence::Derived);
        let values = vec![self.lines.value(line, self.values)];
        (!own).then(|| Named { name: currency.to_string(), values, unit: Unit::plain(), word: None, lines: vec![line] })
    }

    fn named(&self, path: &str, scope: &str) -> Option<Named> {
        let full = format!("{scope}{path}");
        if let Some(at) = self.lowered.lines.iter().position(|l| l.name == full) {
            let def = &self.lowered.lines[at];
            let values: Vec<f64> = def.values.iter().map(|o| self.operand(*o)).collect();
            let lines = (0..def.values.len())
                .map(|element| LineRef::Line { block: self.number, line: at as u32, element: element as u32 })
                .collect();
            let word = self.word(&def.ty, values.first().copied().unwrap_or(f64::NAN));
            return Some(Named { name: path.to_owned(), values, unit: def.unit.clone(), word, lines });
        }
        if let Some(input) = self.lowered.inputs.iter().find(|i| i.name == full).filter(|i| !i.values.is_empty()) {
            let values: Vec<f64> = input.values.iter().map(|o| self.operand(*o)).collect();
            let lines: Vec<LineRef> = input
                .values
                .iter()
                .filter_map(|o| if let Operand::Param(p) = o { Some(self.argument(*p)) } else { None })
                .collect();
            let first = input
                .values
                .first()
                .and_then(|o| if let Operand::Param(p) = o { self.lowered.params.get(*p as usize) } else { None });
            let unit = lines
                .first()
                .map(|l| self.lines.unit(*l).clone())
                .or_else(|| first.map(|p| p.unit.clone()))
                .unwrap_or_else(Unit::plain);
            let word = match lines.first() {
                Some(LineRef::Leaf(leaf)) => self.lines.leaves[*leaf as usize].word.clone(),
                _ => None,
            };
            let word = word.or_else(|| first.and_then(|p| self.word(&p.ty, values[0])));
            return Some(Named { name: path.to_owned(), values, unit, word, lines });
        }
        if path == "method" {
            let key = self.scope_key(scope)?;
            let param = self.lowered.params.iter().position(|p| p.what == ParamKind::Method && *p.calculation == *key)?;
            let line = self.argument(param as u32);
            return Some(Named {
                name: path.to_owned(),
                values: vec![self.lines.value(line, self.values)],
                unit: Unit::plain(),
                word: None,
                lines: vec![line],
            });
        }
        let (row, column) = path.rsplit_once('.')?;
        self.cell(path, &format!("{scope}{row}"), column)
    }

    /// The calculation that formulas of a scope stand in.
    fn scope_key(&self, scope: &str) -> Option<std::sync::Arc<str>> {
        self.lowered.lines.iter().find(|l| l.scope == scope).map(|l| l.calculation.clone())
    }

    /// A column of picked rows; between two rows the weighted mean of their cells.
    fn cell(&self, path: &str, row: &str, column: &str) -> Option<Named> {
        let def = self.lowered.line(row)?;
        let (Ty::Row(table), _) = def.ty.entry() else { return None };
        let next = self.lowered.next.get(&(def.calculation.clone(), table.clone()));
        let find = |at: usize| {
            let param = self.lowered.params.iter().position(|p| {
                *p.calculation == *def.calculation
                    && matches!(p.what, ParamKind::Cell { row, key: false, .. } if row == at)
                    && p.name.starts_with(&format!("{table}."))
                    && p.name.ends_with(&format!(".{column}"))
            })?;
            Some(self.argument(param as u32))
        };
        let (mut values, mut lines) = (Vec::new(), Vec::new());
        for operand in &def.values {
            let position = self.operand(*operand);
            let low = next.map_or(position, |next| lower_row(next, position) as f64).floor();
            let weight = position - low;
            let first = find((low >= 0.0).then_some(low as usize)?)?;
            let mut value = self.lines.value(first, self.values);
            lines.push(first);
            if weight != 0.0
                && let Some(next) = next.and_then(|next| find(*next.get(low as usize)?))
            {
                value = (1.0 - weight) * value + weight * self.lines.value(next, self.values);
                lines.push(next);
            }
            values.push(value);
        }
        let unit = self.lines.unit(*lines.first()?).clone();
        Some(Named { name: path.to_owned(), values, unit, word: None, lines })
    }

    /// The word behind a choice, a condition or a row.
    fn word(&self, ty: &Ty, value: f64) -> Option<String> {
        match ty {
            Ty::Bool => Some(if value == 1.0 { "yes" } else { "no" }.to_owned()),
            Ty::Choice(set) => set.get(value as usize).map(ToString::to_string),
            Ty::Row(table) => {
                let param = self.lowered.params.iter().find(|p| {
                    matches!(p.what, ParamKind::Cell { row, .. } if row as f64 == value.floor())
                        && p.name.starts_with(&format!("{table}."))
                })?;
                let rest = param.name.strip_prefix(&format!("{table}."))?;
                Some(rest.rsplit_once('.').map_or(rest, |(row, _)| row).to_owned())
            }
            _ => None,
        }
    }
}

/// The lower one of the two rows that a place lies between; beyond the ends of a table that extends, the last (or first) two.
fn lower_row(next: &[usize], position: f64) -> usize {
    let low = (position.max(0.0) as usize).min(next.len().saturating_sub(1));
    let ends_here = position > low as f64 && next.get(low) == Some(&low);
    if ends_here { next.iter().position(|n| *n == low).unwrap_or(low) } else { low }
}

/// The names and dotted paths a formula reads.
fn collect(expr: &Expr, found: &mut Vec<String>) {
    match &expr.kind {
        ExprKind::Name(name) => found.push(name.clone()),
        ExprKind::Field(base, field) => match &base.kind {
            ExprKind::Name(name) => {
                found.push(format!("{name}.{field}"));
                found.push(name.clone());
            }
            ExprKind::Field(inner, middle) => {
                if let ExprKind::Name(name) = &inner.kind {
                    found.push(format!("{name}.{middle}.{field}"));
                }
            }
            ExprKind::Call(Function::Pick, _) => {
                found.push(expr.to_string());
                collect(base, found);
            }
            _ => collect(base, found),
        },
        ExprKind::Call(Function::Pick, arguments) => {
            found.push(expr.to_string());
            arguments.iter().for_each(|a| collect(a, found));
        }
        ExprKind::Neg(inner) | ExprKind::Not(inner) => collect(inner, found),
        ExprKind::Binary(_, a, b) => {
            collect(a, found);
            collect(b, found);
        }
        ExprKind::Call(_, arguments) => arguments.iter().for_each(|a| collect(a, found)),
        _ => {}
    }
}

/// The names that a formula asks for with `given`.
fn asked_for(expr: &Expr, found: &mut BTreeSet<String>) {
    match &expr.kind {
        ExprKind::Call(Function::Given, arguments) => collect_into(arguments, found),
        ExprKind::Field(inner, _) | ExprKind::Neg(inner) | ExprKind::Not(inner) => asked_for(inner, found),
        ExprKind::Binary(_, a, b) => {
            asked_for(a, found);
            asked_for(b, found);
        }
        ExprKind::Call(_, arguments) => arguments.iter().for_each(|a| asked_for(a, found)),
        _ => {}
    }
}

fn collect_into(arguments: &[Expr], found: &mut BTreeSet<String>) {
    let mut paths = Vec::new();
    arguments.iter().for_each(|a| collect(a, &mut paths));
    found.extend(paths);
}

/// The currencies of the amounts written in a formula.
fn amounts(expr: &Expr, found: &mut BTreeSet<Currency>) {
    match &expr.kind {
        ExprKind::Number(literal) => found.extend(literal.unit.as_ref().and_then(|u| u.currency)),
        ExprKind::Field(inner, _) | ExprKind::Neg(inner) | ExprKind::Not(inner) => amounts(inner, found),
        ExprKind::Binary(_, a, b) => {
            amounts(a, found);
            amounts(b, found);
        }
        ExprKind::Call(_, arguments) => arguments.iter().for_each(|a| amounts(a, found)),
        _ => {}
    }
}

impl Step {
    /// The step as text that can be read back: the formula, then `name = value` for each of its names, with every digit; `none` for a
    /// list without entries, and the code of a foreign currency for the rate of the amounts written in it.
    pub fn text(&self) -> String {
        let mut out = format!("{} = {}\n", self.name, self.formula);
        for named in &self.names {
            let shown: Vec<String> = named.values.iter().map(|v| full(*v, &named.unit)).collect();
            out.push_str(&format!("  {} = {}\n", named.name, named.word.clone().unwrap_or_else(|| shown.join("; "))));
        }
        let result: Vec<String> = self.values.iter().map(|v| full(*v, &self.unit)).collect();
        out.push_str(&format!("  = {}\n", self.word.clone().unwrap_or_else(|| result.join("; "))));
        out
    }

    /// The values of the names by name, for recomputing.
    pub fn environment(&self) -> BTreeMap<String, Vec<f64>> {
        self.names.iter().map(|n| (n.name.clone(), n.values.clone())).collect()
    }
}

/// A value with every digit, in its unit.
fn full(value: f64, unit: &Unit) -> String {
    let shown = unit.from_si(value);
    if unit.is_plain() { format!("{shown:?}") } else { format!("{shown:?} {}", unit.text) }
}

#[cfg(test)]
mod tests {
    use super::lower_row;

    #[test]
    fn places_beyond_a_table_lie_on_the_line_through_its_last_two_rows() {
        let next = [1, 2, 2];
        assert_eq!([0.4, 1.0, 1.5, 2.0].map(|p| lower_row(&next, p)), [0, 1, 1, 2]);
        assert_eq!([2.3, 3.8, -0.2].map(|p| lower_row(&next, p)), [1, 1, 0]);
        assert_eq!(lower_row(&[0], 0.0), 0);
    }
}
