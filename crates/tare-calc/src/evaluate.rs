//! Evaluation of a formula straight from its tree: the reference that templates are tested against, and the means to
//! recompute an explanation from its own text.

use crate::expr::{Binary, Expr, ExprKind};
use crate::function::Function;
use tare_engine::math;

/// What a name stands for.
#[derive(Clone, Debug, PartialEq)]
pub enum Known {
    /// A number in SI units; a condition as 1 or 0.
    Number(f64),
    /// A list of them.
    List(Vec<f64>),
    /// A list of conditions as 1 and 0, which `count` counts by how many hold.
    Conditions(Vec<f64>),
    /// A text.
    Text(String),
}

/// Evaluates a formula to one number in SI units; a condition gives 1 or 0.
///
/// `env` is asked for every name, and for fields and direct picks by their printed text (`press.price`,
/// `pick(machine, force).price`). Amounts in any currency count as they stand. `given(x)` holds when `env` knows `x`.
///
/// # Errors
/// A sentence: an unknown name, a list where a number is due, a text that is compared with none.
///
/// ```
/// use tare_calc::{Known, evaluate, parse_formula};
/// let (tree, _) = parse_formula("4 [mm] * sqrt(t / 1 [mm])");
/// let four = evaluate(&tree, &|name| (name == "t").then_some(Known::Number(0.004))).unwrap();
/// assert!((four - 0.008).abs() < 1e-15);
/// ```
pub fn evaluate(e: &Expr, env: &dyn Fn(&str) -> Option<Known>) -> Result<f64, String> {
    match known(e, env)? {
        Known::Number(x) => Ok(x),
        _ => Err(format!("`{e}` gives no single number")),
    }
}

fn known(e: &Expr, env: &dyn Fn(&str) -> Option<Known>) -> Result<Known, String> {
    if let Some((written, unit, _)) = e.point_literal() {
        return Ok(Known::Number(unit.to_si(written)));
    }
    match &e.kind {
        ExprKind::Number(literal) => Ok(Known::Number(literal.si)),
        ExprKind::Text(text) => Ok(Known::Text(text.clone())),
        ExprKind::Bool(holds) => Ok(Known::Number(f64::from(u8::from(*holds)))),
        ExprKind::Name(name) if name == "pi" => Ok(Known::Number(std::f64::consts::PI)),
        ExprKind::Name(name) => env(name).ok_or_else(|| format!("`{name}` has no value")),
        ExprKind::Field(..) => env(&e.to_string()).ok_or_else(|| format!("`{e}` has no value")),
        ExprKind::Neg(inner) => each(&[known(inner, env)?], e, |x| -x[0]),
        ExprKind::Not(inner) => Ok(conditions(each(&[known(inner, env)?], e, |x| math::not(x[0]))?)),
        ExprKind::Binary(op, a, b) => binary(*op, a, b, e, env),
        ExprKind::Call(function, arguments) => call(*function, arguments, e, env),
        ExprKind::Bad => Err("the formula could not be read".to_owned()),
    }
}

fn conditions(value: Known) -> Known {
    match value {
        Known::List(list) => Known::Conditions(list),
        other => other,
    }
}

fn numbers(value: &Known) -> Result<(&[f64], bool), String> {
    match value {
        Known::Number(x) => Ok((std::slice::from_ref(x), false)),
        Known::List(list) | Known::Conditions(list) => Ok((list, true)),
        Known::Text(text) => Err(format!("'{text}' is no number")),
    }
}

/// Applies `f` element by element.
fn each(values: &[Known], e: &Expr, f: impl Fn(&[f64]) -> f64) -> Result<Known, String> {
    let lists = values.iter().map(numbers).collect::<Result<Vec<_>, _>>()?;
    let mut length = None;
    for (list, many) in &lists {
        if *many && length.replace(list.len()).is_some_and(|before| before != list.len()) {
            return Err(format!("lists of different lengths meet in `{e}`"));
        }
    }
    let at = |place: usize| -> f64 {
        let entries: Vec<f64> = lists.iter().map(|(list, many)| list[if *many { place } else { 0 }]).collect();
        f(&entries)
    };
    Ok(match length {
        None => Known::Number(at(0)),
        Some(n) => Known::List((0..n).map(at).collect()),
    })
}

fn binary(op: Binary, a: &Expr, b: &Expr, e: &Expr, env: &dyn Fn(&str) -> Option<Known>) -> Result<Known, String> {
    let left = known(a, env)?;
    // what is not asked for may be unknown: `given(x) and x > 3`
    match (op, &left) {
        (Binary::And, Known::Number(0.0)) => return Ok(Known::Number(0.0)),
        (Binary::Or, Known::Number(x)) if *x != 0.0 && !x.is_nan() => return Ok(Known::Number(1.0)),
        _ => {}
    }
    let right = known(b, env)?;
    if let (Known::Text(x), Known::Text(y)) = (&left, &right) {
        return match op {
            Binary::Eq => Ok(Known::Number(f64::from(u8::from(x == y)))),
            Binary::Ne => Ok(Known::Number(f64::from(u8::from(x != y)))),
            _ => Err(format!("texts can only be compared for equality in `{e}`")),
        };
    }
    let f: fn(f64, f64) -> f64 = match op {
        Binary::Or => math::or,
        Binary::And => math::and,
        Binary::Lt => |a, b| math::truth(a < b, a, b),
        Binary::Le => |a, b| math::truth(a <= b, a, b),
        Binary::Gt => |a, b| math::truth(a > b, a, b),
        Binary::Ge => |a, b| math::truth(a >= b, a, b),
        Binary::Eq => |a, b| math::truth(a == b, a, b),
        Binary::Ne => |a, b| math::truth(a != b, a, b),
        Binary::Add => |a, b| a + b,
        Binary::Sub => |a, b| a - b,
        Binary::Mul => |a, b| a * b,
        Binary::Div => |a, b| a / b,
        Binary::Pow => math::pow,
    };
    let result = each(&[left, right], e, |x| f(x[0], x[1]))?;
    Ok(if op.level() <= Binary::Eq.level() { conditions(result) } else { result })
}

fn call(function: Function, arguments: &[Expr], e: &Expr, env: &dyn Fn(&str) -> Option<Known>) -> Result<Known, String> {
    match function {
        Function::Given => {
            let held = matches!(&arguments[0].kind, ExprKind::Name(name) if env(name).is_some());
            return Ok(Known::Number(f64::from(u8::from(held))));
        }
        Function::Pick => return env(&e.to_string()).ok_or_else(|| format!("`{e}` has no value")),
        Function::If => return choose(arguments, e, env),
        _ => {}
    }
    let values = arguments.iter().map(|a| known(a, env)).collect::<Result<Vec<_>, _>>()?;
    let one: fn(f64) -> f64 = match function {
        Function::Abs => f64::abs,
        Function::Sqrt => f64::sqrt,
        Function::Exp => math::exp,
        Function::Ln => math::ln,
        Function::Log10 => math::log10,
        Function::Floor => math::floor,
        Function::Ceil => math::ceil,
        Function::Round => math::round,
        Function::Sin => math::sin,
        Function::Cos => math::cos,
        Function::Tan => math::tan,
        Function::Asin => math::asin,
        Function::Acos => math::acos,
        Function::Atan => math::atan,
        Function::NormalInv => math::normal_inv,
        Function::Absolute => |x| x,
        Function::BetaInv => return each(&values, e, |x| math::beta_inv(x[0], x[1], x[2])),
        Function::Min | Function::Max if values.len() > 1 => {
            let f = if function == Function::Min { math::min } else { math::max };
            let mut common = values[0].clone();
            for next in &values[1..] {
                common = each(&[common, next.clone()], e, |x| f(x[0], x[1]))?;
            }
            return Ok(common);
        }
        _ => return over_list(function, &values, e),
    };
    each(&values, e, |x| one(x[0]))
}

fn choose(arguments: &[Expr], e: &Expr, env: &dyn Fn(&str) -> Option<Known>) -> Result<Known, String> {
    let test = known(&arguments[0], env)?;
    if let Known::Number(test) = test {
        if test.is_nan() {
            return Ok(Known::Number(f64::NAN));
        }
        return known(&arguments[if test != 0.0 { 1 } else { 2 }], env);
    }
    let (then, other) = (known(&arguments[1], env)?, known(&arguments[2], env)?);
    each(&[test, then, other], e, |x| math::choose(x[0], x[1], x[2]))
}

fn over_list(function: Function, values: &[Known], e: &Expr) -> Result<Known, String> {
    if function == Function::At {
        let (list, _) = numbers(&values[0])?;
        let (place, _) = numbers(&values[1])?;
        let found = place.first().and_then(|p| math::whole_index(p - 1.0, list.len()));
        return Ok(Known::Number(found.map_or(f64::NAN, |i| list[i])));
    }
    if function == Function::Next {
        let (list, _) = numbers(&values[0])?;
        let rest = list.iter().skip(1).chain(list.last()).copied().collect();
        return Ok(if matches!(values[0], Known::Conditions(_)) { Known::Conditions(rest) } else { Known::List(rest) });
    }
    let mut entries: Vec<f64> = Vec::new();
    for value in values {
        entries.extend_from_slice(numbers(value)?.0);
    }
    let fold = |f: fn(f64, f64) -> f64, empty: f64| {
        entries.split_first().map_or(empty, |(x, rest)| rest.iter().fold(*x, |a, b| f(a, *b)))
    };
    let sum = fold(|a, b| a + b, 0.0);
    let n = entries.len() as f64;
    let result = match function {
        Function::Sum => sum,
        Function::All => fold(math::and, 1.0),
        Function::Any => fold(math::or, 0.0),
        Function::Count if values.iter().any(|v| matches!(v, Known::Conditions(_))) => sum,
        Function::Count => n,
        _ if entries.is_empty() => return Err(format!("`{e}` is of a list without entries")),
        Function::Mean => sum / n,
        Function::Min => fold(math::min, f64::NAN),
        Function::Max => fold(math::max, f64::NAN),
        Function::Range => fold(math::max, f64::NAN) - fold(math::min, f64::NAN),
        _ => return Err(format!("`{}` cannot be worked out here", function.name())),
    };
    Ok(Known::Number(result))
}
