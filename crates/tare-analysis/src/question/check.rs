//! A formula to a checked question: names, dimensions, lists.

use super::node::{Node, Path, Ty, What};
use crate::facts::{ColumnType, RowKind, Schema};
use std::collections::BTreeMap;
use tare_calc::{Binary, Expr, ExprKind, Literal, Span};
use tare_diag::Diag;
use tare_units::{Dim, name_of};

/// Most nodes of a checked question, and most of them one below the other; names that stand for formulas are written out, each time
/// anew.
const MAX_NODES: usize = 20_000;
const MAX_DEPTH: usize = 300;
/// Most readings of a formula that are tried where names mean several things.
const MAX_READINGS: usize = 64;

/// A message and where in the formula's text it is.
pub(crate) type Located = (Span, Diag);

/// What a formula is checked in.
#[derive(Clone, Copy)]
pub(crate) struct Scope<'s> {
    pub(crate) schema: &'s Schema,
    /// The rows in hand.
    pub(crate) rows: RowKind,
    /// In an edit of a rule that is for other rows: the rows of the rule.
    pub(crate) outer: Option<RowKind>,
    /// Names that stand for formulas over the row of the rule.
    pub(crate) lets: &'s [(String, Expr)],
}

/// A checked formula with the texts it compares with.
#[derive(Clone, Debug)]
pub(crate) struct Checked {
    pub(crate) node: Node,
    pub(crate) texts: Vec<String>,
}

/// Checks a formula. Where a name means several columns, the first reading without a problem counts.
pub(crate) fn check(scope: Scope<'_>, expr: &Expr) -> Result<Checked, Vec<Located>> {
    check_for(scope, expr, |_| true)
}

/// As [`check`], with a reading that fits taken before one that does not.
pub(crate) fn check_for(scope: Scope<'_>, expr: &Expr, fits: impl Fn(&Checked) -> bool) -> Result<Checked, Vec<Located>> {
    let mut readings: BTreeMap<(RowKind, String), (usize, usize)> = BTreeMap::new();
    let mut first: Option<Result<Checked, Vec<Located>>> = None;
    for _ in 0..MAX_READINGS {
        let mut checker = Checker::new(scope, readings);
        let node = checker.node(expr);
        if checker.problems.is_empty() && !node.is_bad() {
            let checked = Checked { node, texts: checker.texts };
            if fits(&checked) {
                return Ok(checked);
            }
            if !matches!(first, Some(Ok(_))) {
                first = Some(Ok(checked));
            }
        } else {
            first.get_or_insert(Err(checker.problems));
        }
        readings = checker.readings;
        // The next reading: as counting on, the first name fastest.
        let next = readings.values_mut().any(|(at, of)| {
            *at = (*at + 1) % *of;
            *at != 0
        });
        if !next {
            break;
        }
    }
    first.unwrap_or(Err(Vec::new()))
}

pub(super) struct Checker<'s> {
    pub(super) scope: Scope<'s>,
    /// Whether the formula of a name is being written out, which is over the row of the rule.
    pub(super) in_let: bool,
    /// How many of the names are in scope: a formula sees those before it.
    pub(super) lets: usize,
    pub(super) readings: BTreeMap<(RowKind, String), (usize, usize)>,
    texts: Vec<String>,
    pub(super) problems: Vec<Located>,
    nodes: usize,
    depth: usize,
    /// Whether it grew too large, which is said once.
    pub(super) too_large: bool,
}

impl<'s> Checker<'s> {
    fn new(scope: Scope<'s>, readings: BTreeMap<(RowKind, String), (usize, usize)>) -> Self {
        let lets = scope.lets.len();
        Self {
            scope,
            in_let: false,
            lets,
            readings,
            texts: Vec::new(),
            problems: Vec::new(),
            nodes: 0,
            depth: 0,
            too_large: false,
        }
    }

    pub(super) fn fail(&mut self, code: &'static str, says: impl Into<String>, span: Span) -> Node {
        self.problems.push((span, Diag::error(code, says)));
        Node::bad()
    }

    pub(super) fn fail_with(&mut self, code: &'static str, says: impl Into<String>, span: Span, hint: impl Into<String>) -> Node {
        self.problems.push((span, Diag::error(code, says).hint(hint)));
        Node::bad()
    }

    pub(super) fn node(&mut self, e: &Expr) -> Node {
        self.nodes += 1;
        if self.nodes > MAX_NODES || self.depth >= MAX_DEPTH {
            if self.too_large {
                return Node::bad();
            }
            self.too_large = true;
            let hint = "use fewer operations, and fewer names in names";
            return self.fail_with("question-too-long", "the formula is too long", e.span, hint);
        }
        self.depth += 1;
        let node = self.inner(e);
        self.depth -= 1;
        node
    }

    fn inner(&mut self, e: &Expr) -> Node {
        match &e.kind {
            ExprKind::Number(literal) => number(literal, 1.0),
            ExprKind::Text(text) => {
                let what = What::Text(self.text(text));
                Node { what, ty: Ty::Text, shape: None }
            }
            ExprKind::Bool(holds) => Node { what: What::Truth(*holds), ty: Ty::Truth, shape: None },
            ExprKind::Name(_) | ExprKind::Field(..) => self.named(e),
            ExprKind::Neg(inner) => match &inner.kind {
                // the negative of a temperature point is another point, not minus its kelvin
                ExprKind::Number(literal) => number(literal, -1.0),
                _ => {
                    let a = self.numeric(inner);
                    let (ty, shape) = (a.ty, a.shape.clone());
                    if a.is_bad() { a } else { Node { what: What::Neg(Box::new(a)), ty, shape } }
                }
            },
            ExprKind::Not(inner) => {
                let a = self.truth(inner);
                let shape = a.shape.clone();
                if a.is_bad() { a } else { Node { what: What::Not(Box::new(a)), ty: Ty::Truth, shape } }
            }
            ExprKind::Binary(op, a, b) => self.binary(*op, a, b, e.span),
            ExprKind::Call(function, arguments) => self.call(*function, arguments, e.span),
            // what could not be read has its message from reading
            ExprKind::Bad => self.fail("formula-syntax", "this could not be read", e.span),
        }
    }

    pub(super) fn text(&mut self, text: &str) -> usize {
        let known = self.texts.iter().position(|t| t == text);
        known.unwrap_or_else(|| {
            self.texts.push(text.to_owned());
            self.texts.len() - 1
        })
    }

    /// A number; a message for anything else.
    pub(super) fn numeric(&mut self, e: &Expr) -> Node {
        let node = self.node(e);
        match node.ty {
            Ty::Number(_) | Ty::Zero | Ty::Bad => node,
            other => self.fail("not-a-number", format!("expected a number, found {}", words(other)), e.span),
        }
    }

    /// A condition; a message for anything else.
    pub(super) fn truth(&mut self, e: &Expr) -> Node {
        let node = self.node(e);
        match node.ty {
            Ty::Truth | Ty::Bad => node,
            Ty::Rows if node.shape.is_some() => {
                let hint = format!("write `any({e}.name == '...')`, or `count({e}) > 0`");
                self.fail_with("not-a-condition", format!("`{e}` are rows, expected a condition"), e.span, hint)
            }
            Ty::Rows => {
                let says = format!("`{e}` is a row, expected a condition");
                self.fail_with("not-a-condition", says, e.span, format!("write `given({e})`, or `any({e}.name == '...')`"))
            }
            other => self.fail("not-a-condition", format!("expected a condition, found {}", words(other)), e.span),
        }
    }

    fn binary(&mut self, op: Binary, a: &Expr, b: &Expr, span: Span) -> Node {
        match op {
            Binary::And | Binary::Or => {
                let (left, right) = (self.truth(a), self.truth(b));
                let Some(shape) = self.together(&[&left, &right], span) else { return Node::bad() };
                let (left, right) = (Box::new(left), Box::new(right));
                let what = if op == Binary::And { What::And(left, right) } else { What::Or(left, right) };
                Node { what, ty: Ty::Truth, shape }
            }
            _ if op.compares() => self.compare(op, a, b, span),
            _ => self.math(op, a, b, span),
        }
    }

    fn compare(&mut self, op: Binary, a: &Expr, b: &Expr, span: Span) -> Node {
        let (left, right) = (self.node(a), self.node(b));
        if left.is_bad() || right.is_bad() {
            return Node::bad();
        }
        let (left, right) = (self.yes_or_no(left, right.ty), right);
        let right = self.yes_or_no(right, left.ty);
        let Some(shape) = self.together(&[&left, &right], span) else { return Node::bad() };
        let what = match (left.ty, right.ty) {
            (Ty::Number(x), Ty::Number(y)) if x != y => {
                let says = format!("cannot compare {} with {}", dimension(x), dimension(y));
                return self.fail("dimension-mismatch", says, span);
            }
            (Ty::Number(_) | Ty::Zero, Ty::Number(_) | Ty::Zero) => What::Compare(op, Box::new(left), Box::new(right)),
            (Ty::Text, Ty::Text) | (Ty::Truth, Ty::Truth) => {
                if !matches!(op, Binary::Eq | Binary::Ne) {
                    let says = format!("`{}` compares numbers, found {}", op.sign(), words(left.ty));
                    return self.fail_with("not-a-number", says, span, "compare texts with `==`, `!=` or `has(text, 'piece')`");
                }
                self.is_a_choice(&left, b);
                self.is_a_choice(&right, a);
                What::Same(op == Binary::Eq, Box::new(left), Box::new(right))
            }
            (Ty::Rows, _) | (_, Ty::Rows) => {
                let rows = if left.ty == Ty::Rows { a } else { b };
                let says = format!("`{rows}` are rows, which have no value to compare");
                return self.fail_with("rows-compared", says, span, format!("name a column: `{rows}.name`"));
            }
            (x, y) => return self.fail("type-mismatch", format!("cannot compare {} with {}", words(x), words(y)), span),
        };
        Node { what, ty: Ty::Truth, shape }
    }

    /// `'yes'` and `'no'` where a truth is compared with.
    fn yes_or_no(&mut self, node: Node, other: Ty) -> Node {
        let (What::Text(at), Ty::Truth) = (&node.what, other) else { return node };
        match self.texts[*at].as_str() {
            "yes" | "true" => Node { what: What::Truth(true), ty: Ty::Truth, shape: None },
            "no" | "false" => Node { what: What::Truth(false), ty: Ty::Truth, shape: None },
            _ => node,
        }
    }

    /// Refuses a text that a column of known words never holds: the question would never be true.
    fn is_a_choice(&mut self, column: &Node, written: &Expr) {
        let (What::Column { path, name, .. }, ExprKind::Text(text)) = (&column.what, &written.kind) else { return };
        let known = self.scope.schema.column(path.end(), name).iter().find_map(|ty| match ty {
            ColumnType::Text(words) => Some(words),
            _ => None,
        });
        if let Some(words) = known.filter(|words| !words.is_empty() && !words.contains(text)) {
            let diag = Diag::error("unknown-choice", format!("`{name}` of {} is never '{text}'", path.end().one()));
            let diag = diag.did_you_mean(text, words.iter().map(String::as_str));
            let few = || words.iter().take(12).cloned().collect::<Vec<_>>().join(", ");
            let diag = if diag.hints.is_empty() { diag.hint(format!("it can be: {}", few())) } else { diag };
            self.problems.push((written.span, diag));
        }
    }

    fn math(&mut self, op: Binary, a: &Expr, b: &Expr, span: Span) -> Node {
        let (left, right) = (self.numeric(a), self.numeric(b));
        let Some(shape) = self.together(&[&left, &right], span) else { return Node::bad() };
        let ty = match (op, left.ty, right.ty) {
            (Binary::Add | Binary::Sub, Ty::Zero, other) | (Binary::Add | Binary::Sub, other, Ty::Zero) => other,
            (Binary::Add | Binary::Sub, Ty::Number(x), Ty::Number(y)) if x != y => {
                let verb = if op == Binary::Add { "add" } else { "take" };
                let says = format!("cannot {verb} {} and {}", dimension(x), dimension(y));
                return self.fail("dimension-mismatch", says, span);
            }
            (Binary::Add | Binary::Sub, ty, _) => ty,
            (Binary::Mul, x, y) => Ty::Number(plain(x).mul(plain(y))),
            (Binary::Div, x, y) => Ty::Number(plain(x).div(plain(y))),
            (_, x, y) => match power(plain(x), plain(y), b) {
                Ok(dim) => Ty::Number(dim),
                Err(says) => return self.fail("dimension-mismatch", says, b.span),
            },
        };
        if matches!(ty, Ty::Number(dim) if dim.is_saturated()) {
            return self.fail("dimension-mismatch", "the dimension has exponents too large to follow", span);
        }
        Node { what: What::Math(op, Box::new(left), Box::new(right)), ty, shape }
    }

    /// The list that several nodes give entries of together: entries of one list pair, lists of lists take what they stand in.
    /// `None` where a node is bad, or two lists have nothing to do with each other, which is a problem.
    pub(super) fn together(&mut self, nodes: &[&Node], span: Span) -> Option<Option<Path>> {
        if nodes.iter().any(|n| n.is_bad()) {
            return None;
        }
        let mut common: Option<Path> = None;
        for shape in nodes.iter().filter_map(|n| n.shape.as_ref()) {
            common = match common {
                None => Some(shape.clone()),
                Some(known) if known.starts_with(shape) => Some(known),
                Some(known) if shape.starts_with(&known) => Some(shape.clone()),
                Some(known) => {
                    let (a, b) = (known.text(), shape.text());
                    let says = format!("`{a}` and `{b}` are different lists, whose entries do not pair");
                    let hint = format!("make one value of each first, as in `any({a}...) and any({b}...)`");
                    self.fail_with("lists-mixed", says, span, hint);
                    return None;
                }
            };
        }
        Some(common)
    }
}

fn number(literal: &Literal, sign: f64) -> Node {
    let (si, dim) = match &literal.unit {
        Some(unit) if sign < 0.0 => (unit.to_si(-literal.value), unit.dim),
        Some(unit) => (literal.si, unit.dim),
        None => (sign * literal.value, Dim::ONE),
    };
    let ty = if literal.unit.is_none() && literal.value == 0.0 { Ty::Zero } else { Ty::Number(dim) };
    Node { what: What::Number(si, literal.unit.as_ref().and_then(|u| u.currency)), ty, shape: None }
}

/// The dimension of a number, a bare zero being plain.
pub(crate) fn plain(ty: Ty) -> Dim {
    if let Ty::Number(dim) = ty { dim } else { Dim::ONE }
}

fn power(base: Dim, exponent: Dim, written: &Expr) -> Result<Dim, String> {
    if !exponent.is_one() {
        return Err(format!("an exponent is a plain number, found {}", dimension(exponent)));
    }
    if base.is_one() {
        return Ok(Dim::ONE);
    }
    let (value, sign) = match &written.kind {
        ExprKind::Number(literal) => (Some(literal.value), 1),
        ExprKind::Neg(inner) => (if let ExprKind::Number(l) = &inner.kind { Some(l.value) } else { None }, -1),
        _ => (None, 1),
    };
    let whole = |d: i32| {
        let n = value? * f64::from(d);
        (n.fract() == 0.0 && n < 100.0).then(|| tare_units::Ratio::new(sign * (n as i32), d))
    };
    let ratio = (1..=4).find_map(whole);
    ratio.map(|r| base.pow(r)).ok_or_else(|| format!("{} needs a written exponent, such as 2", dimension(base)))
}

/// A dimension in words.
pub(crate) fn dimension(dim: Dim) -> String {
    match name_of(dim) {
        _ if dim.is_one() => "a plain number".to_owned(),
        Some(name) => format!("{name} ({dim})"),
        None => dim.to_string(),
    }
}

pub(super) fn words(ty: Ty) -> String {
    match ty {
        Ty::Number(dim) => dimension(dim),
        Ty::Zero => "a plain number".to_owned(),
        Ty::Truth => "a condition".to_owned(),
        Ty::Text => "a text".to_owned(),
        Ty::Rows => "rows".to_owned(),
        Ty::Bad => "something unknown".to_owned(),
    }
}
