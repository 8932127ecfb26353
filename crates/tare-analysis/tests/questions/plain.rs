//! A second reading of questions, row by row and straight from the text's tree, to hold the columns to.

use tare_analysis::{Data, Facts, NONE, RowKind, Schema, Truth};
use tare_calc::{Binary, Expr, ExprKind, Function};

/// What an expression is for one row.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    Number(Option<f64>),
    Text(Option<String>),
    Truth(Option<bool>),
    Row(RowKind, Option<u32>),
}

use Value::{Number, Row, Text};

/// The rows for which a condition is true.
pub(super) fn hits(facts: &Facts, kind: RowKind, text: &str) -> Vec<u32> {
    let (expr, problems) = tare_calc::parse_formula(text);
    assert!(problems.is_empty(), "{text}: {problems:?}");
    let rows = u32::try_from(facts.table(kind).rows()).unwrap();
    (0..rows).filter(|row| value(facts, &expr, kind, *row, &[]) == Value::Truth(Some(true))).collect()
}

/// Which row the list in hand is at: a path and the row.
type Bound<'e> = [(&'e str, RowKind, u32)];

fn value(facts: &Facts, e: &Expr, kind: RowKind, row: u32, at: &Bound<'_>) -> Value {
    let of = |e: &Expr| value(facts, e, kind, row, at);
    match &e.kind {
        ExprKind::Number(literal) => Number(Some(literal.si)),
        ExprKind::Text(text) => Text(Some(text.clone())),
        ExprKind::Bool(holds) => Value::Truth(Some(*holds)),
        ExprKind::Name(name) => member(facts, kind, Some(row), name, e, at),
        ExprKind::Field(inner, name) => match of(inner) {
            Row(kind, row) => member(facts, kind, row, name, e, at),
            other => panic!("{other:?} has no {name}"),
        },
        ExprKind::Neg(a) => Number(number(&of(a)).map(|x| -x)),
        ExprKind::Not(a) => Value::Truth(truth(&of(a)).map(|t| !t)),
        ExprKind::Binary(op, a, b) => binary(*op, &of(a), &of(b)),
        ExprKind::Call(function, arguments) => call(facts, *function, arguments, kind, row, at),
        ExprKind::Bad => panic!("bad"),
    }
}

fn member(facts: &Facts, kind: RowKind, row: Option<u32>, name: &str, e: &Expr, at: &Bound<'_>) -> Value {
    if let Some((_, to, many)) = Schema::relations(kind).find(|(n, ..)| *n == name) {
        if many {
            let path = e.to_string();
            let (_, kind, row) = at.iter().find(|(p, ..)| *p == path).unwrap_or_else(|| panic!("{path} is not in hand"));
            return Row(*kind, Some(*row));
        }
        let target = row.and_then(|row| facts.table(kind).relation(name)?.of(row as usize).first().copied());
        return Row(to, target);
    }
    match facts.table(kind).named(name).first().map(|c| &c.data) {
        Some(Data::Numbers { values, .. }) => Number(row.map(|r| values[r as usize]).filter(|x| !x.is_nan())),
        Some(Data::Texts(codes)) => {
            Text(row.map(|r| codes[r as usize]).filter(|c| *c != NONE).and_then(|c| facts.texts.get(c)).map(str::to_owned))
        }
        Some(Data::Flags(flags)) => {
            Value::Truth(row.map(|r| flags[r as usize]).filter(|t| *t != Truth::UNKNOWN).map(|t| t == Truth::YES))
        }
        // a quantity nobody states: a number or a text, not known
        None => Number(None),
    }
}

fn number(value: &Value) -> Option<f64> {
    if let Number(x) = value { *x } else { None }
}

fn truth(value: &Value) -> Option<bool> {
    match value {
        Value::Truth(t) => *t,
        Row(_, row) => Some(row.is_some()),
        _ => None,
    }
}

fn binary(op: Binary, a: &Value, b: &Value) -> Value {
    let (x, y) = (truth(a), truth(b));
    match op {
        Binary::And if x == Some(false) || y == Some(false) => return Value::Truth(Some(false)),
        Binary::And => return Value::Truth(x.and_then(|x| y.map(|y| x && y))),
        Binary::Or if x == Some(true) || y == Some(true) => return Value::Truth(Some(true)),
        Binary::Or => return Value::Truth(x.and_then(|x| y.map(|y| x || y))),
        _ => {}
    }
    if let (Text(a), b) | (b, Text(a)) = (a, b) {
        let b = if let Text(b) = b { b.clone() } else { None };
        let same = a.as_ref().and_then(|a| b.map(|b| *a == b));
        return Value::Truth(same.map(|same| same == (op == Binary::Eq)));
    }
    let (Some(x), Some(y)) = (number(a), number(b)) else {
        return if op.compares() { Value::Truth(None) } else { Number(None) };
    };
    let compared = match op {
        Binary::Lt => x < y,
        Binary::Le => x <= y,
        Binary::Gt => x > y,
        Binary::Ge => x >= y,
        Binary::Eq => x == y,
        Binary::Ne => x != y,
        Binary::Add => return Number(Some(x + y)),
        Binary::Sub => return Number(Some(x - y)),
        Binary::Mul => return Number(Some(x * y)),
        Binary::Div if y == 0.0 => return Number(None),
        Binary::Div => return Number(Some(x / y)),
        _ => panic!("{op:?}"),
    };
    Value::Truth(Some(compared))
}

fn call(facts: &Facts, function: Function, arguments: &[Expr], kind: RowKind, row: u32, at: &Bound<'_>) -> Value {
    let of = |e: &Expr| value(facts, e, kind, row, at);
    match function {
        Function::Given => Value::Truth(Some(match of(&arguments[0]) {
            Number(x) => x.is_some(),
            Text(t) => t.is_some(),
            Value::Truth(t) => t.is_some(),
            Row(_, row) => row.is_some(),
        })),
        Function::Has => {
            let (Text(text), Text(Some(piece))) = (of(&arguments[0]), of(&arguments[1])) else { return Value::Truth(None) };
            Value::Truth(text.map(|t| t.to_lowercase().contains(&piece.to_lowercase())))
        }
        Function::If => match truth(&of(&arguments[0])) {
            Some(test) => of(&arguments[if test { 1 } else { 2 }]),
            None => Number(None),
        },
        Function::Min | Function::Max if arguments.len() > 1 => {
            let (Some(x), Some(y)) = (number(&of(&arguments[0])), number(&of(&arguments[1]))) else { return Number(None) };
            Number(Some(if function == Function::Min { x.min(y) } else { x.max(y) }))
        }
        Function::Abs => Number(number(&of(&arguments[0])).map(f64::abs)),
        _ => {
            let entries: Vec<Value> = entries(facts, &arguments[0], kind, row);
            folded(function, &entries)
        }
    }
}

/// The argument of `any` and the like for each entry of its list.
fn entries(facts: &Facts, argument: &Expr, kind: RowKind, row: u32) -> Vec<Value> {
    let mut lists: Vec<String> = Vec::new();
    let mut ones: Vec<String> = Vec::new();
    for path in whole_paths(argument) {
        for list in many_prefixes(&path, kind) {
            if !lists.contains(&list) {
                lists.push(list);
            }
        }
        if let Some(rows) = rows_path(&path, kind)
            && !ones.contains(&rows)
        {
            ones.push(rows);
        }
    }
    lists.sort_by_key(|path| path.matches('.').count());
    let mut bound: Vec<Vec<(String, RowKind, u32)>> = vec![Vec::new()];
    for path in &lists {
        bound = bound.iter().flat_map(|at| one_more(facts, path, kind, row, at)).collect();
    }
    // entries whose one path leads to no row do not count
    let deepest: Vec<&String> = ones.iter().filter(|p| many_prefixes(p, kind) == lists).collect();
    let mask = deepest.first().filter(|_| deepest.len() == 1).map(|p| (*p).clone());
    bound
        .into_iter()
        .filter_map(|at| {
            let at: Vec<(&str, RowKind, u32)> = at.iter().map(|(p, k, r)| (p.as_str(), *k, *r)).collect();
            let there = mask
                .as_ref()
                .is_none_or(|mask| matches!(value(facts, &tare_calc::parse_formula(mask).0, kind, row, &at), Row(_, Some(_))));
            there.then(|| value(facts, argument, kind, row, &at))
        })
        .collect()
}

fn one_more(
    facts: &Facts,
    path: &str,
    kind: RowKind,
    row: u32,
    at: &[(String, RowKind, u32)],
) -> Vec<Vec<(String, RowKind, u32)>> {
    let refs: Vec<(&str, RowKind, u32)> = at.iter().map(|(p, k, r)| (p.as_str(), *k, *r)).collect();
    let (above, last) = path.rsplit_once('.').map_or((None, path), |(above, last)| (Some(above), last));
    let from = above.map_or(Row(kind, Some(row)), |above| value(facts, &tare_calc::parse_formula(above).0, kind, row, &refs));
    let Row(from, Some(from_row)) = from else { return Vec::new() };
    let to = Schema::relations(from).find(|(n, ..)| *n == last).unwrap().1;
    let rows = facts.table(from).relation(last).unwrap().of(from_row as usize);
    rows.iter().map(|r| at.iter().cloned().chain([(path.to_owned(), to, *r)]).collect()).collect()
}

/// Every path of an expression, whole.
fn whole_paths(e: &Expr) -> Vec<String> {
    match &e.kind {
        ExprKind::Name(_) | ExprKind::Field(..) => vec![e.to_string()],
        ExprKind::Neg(a) | ExprKind::Not(a) => whole_paths(a),
        ExprKind::Binary(_, a, b) => [whole_paths(a), whole_paths(b)].concat(),
        ExprKind::Call(_, arguments) => arguments.iter().flat_map(whole_paths).collect(),
        _ => Vec::new(),
    }
}

/// The part of a path that leads to rows, if any does.
fn rows_path(path: &str, kind: RowKind) -> Option<String> {
    let (mut kind, mut rows) = (kind, Vec::new());
    for step in path.split('.') {
        let Some((name, to, _)) = Schema::relations(kind).find(|(n, ..)| *n == step) else { break };
        rows.push(name);
        kind = to;
    }
    (!rows.is_empty()).then(|| rows.join("."))
}

/// The beginnings of a path that lead to several rows.
fn many_prefixes(path: &str, kind: RowKind) -> Vec<String> {
    let (mut kind, mut so_far, mut found) = (kind, Vec::new(), Vec::new());
    for step in path.split('.') {
        let Some((_, to, many)) = Schema::relations(kind).find(|(n, ..)| *n == step) else { break };
        so_far.push(step);
        kind = to;
        if many {
            found.push(so_far.join("."));
        }
    }
    found
}

fn folded(function: Function, entries: &[Value]) -> Value {
    let truths: Vec<Option<bool>> = entries.iter().map(truth).collect();
    match function {
        Function::Any if truths.contains(&Some(true)) => Value::Truth(Some(true)),
        Function::Any => Value::Truth(if truths.contains(&None) { None } else { Some(false) }),
        Function::All if truths.contains(&Some(false)) => Value::Truth(Some(false)),
        Function::All => Value::Truth(if truths.contains(&None) { None } else { Some(true) }),
        Function::Count => {
            let counts = |v: &&Value| match v {
                Number(x) => x.is_some(),
                Text(t) => t.is_some(),
                other => truth(other) == Some(true),
            };
            Number(Some(entries.iter().filter(counts).count() as f64))
        }
        _ => {
            let Some(all) = entries.iter().map(number).collect::<Option<Vec<f64>>>() else { return Number(None) };
            match function {
                Function::Sum => Number(Some(all.iter().fold(0.0, |a, b| a + b))),
                _ if all.is_empty() => Number(None),
                Function::Mean => Number(Some(all.iter().fold(0.0, |a, b| a + b) / all.len() as f64)),
                Function::Min => Number(Some(all.iter().copied().fold(f64::INFINITY, f64::min))),
                _ => Number(Some(all.iter().copied().fold(f64::NEG_INFINITY, f64::max))),
            }
        }
    }
}
