//! The tree of a formula.

use crate::function::Function;
use crate::span::Span;
use tare_units::Unit;

/// A formula or a part of one. Two trees are equal when they say the same; where they were written does not count.
#[derive(Clone, Debug)]
pub struct Expr {
    /// What it is.
    pub kind: ExprKind,
    /// Where it was written, in bytes of the file (or of the formula, if that was read alone).
    pub span: Span,
}

/// The kinds of tree nodes.
#[derive(Clone, Debug, PartialEq)]
pub enum ExprKind {
    /// A written number.
    Number(Literal),
    /// A written text, for choices.
    Text(String),
    /// `true` or `false`.
    Bool(bool),
    /// An input, equation, table, use, `pi` or `method`.
    Name(String),
    /// A column of a row, or a line of a used calculation.
    Field(Box<Expr>, String),
    /// Minus.
    Neg(Box<Expr>),
    /// Logical not.
    Not(Box<Expr>),
    /// An operation on two operands.
    Binary(Binary, Box<Expr>, Box<Expr>),
    /// A function call.
    Call(Function, Vec<Expr>),
    /// A place holder for text that could not be read; a message says why.
    Bad,
}

/// A written number, with its unit if it has one.
#[derive(Clone, Debug)]
pub struct Literal {
    /// The digits as written.
    pub text: String,
    /// The number, in the written unit.
    pub value: f64,
    /// The number in SI units.
    pub si: f64,
    /// The unit in brackets.
    pub unit: Option<Unit>,
    /// The unit as written, without the brackets.
    pub unit_text: String,
}

/// Operations on two operands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Binary {
    /// `or`
    Or,
    /// `and`
    And,
    /// `<`
    Lt,
    /// `<=`
    Le,
    /// `>`
    Gt,
    /// `>=`
    Ge,
    /// `==`
    Eq,
    /// `!=`
    Ne,
    /// `+`
    Add,
    /// `-`
    Sub,
    /// `*`
    Mul,
    /// `/`
    Div,
    /// `^`
    Pow,
}

impl Binary {
    /// How it is written.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Or => "or",
            Self::And => "and",
            Self::Lt => "<",
            Self::Le => "<=",
            Self::Gt => ">",
            Self::Ge => ">=",
            Self::Eq => "==",
            Self::Ne => "!=",
            Self::Add => "+",
            Self::Sub => "-",
            Self::Mul => "*",
            Self::Div => "/",
            Self::Pow => "^",
        }
    }

    /// The operation of a sign or word.
    pub(crate) fn of_sign(sign: &str) -> Option<Self> {
        [
            Self::Or,
            Self::And,
            Self::Lt,
            Self::Le,
            Self::Gt,
            Self::Ge,
            Self::Eq,
            Self::Ne,
            Self::Add,
            Self::Sub,
            Self::Mul,
            Self::Div,
            Self::Pow,
        ]
        .into_iter()
        .find(|op| op.sign() == sign)
    }

    /// How tightly it binds; a larger number binds tighter.
    pub(crate) fn level(self) -> u8 {
        match self {
            Self::Or => 1,
            Self::And => 2,
            Self::Lt | Self::Le | Self::Gt | Self::Ge | Self::Eq | Self::Ne => 4,
            Self::Add | Self::Sub => 5,
            Self::Mul | Self::Div => 6,
            Self::Pow => 8,
        }
    }

    /// Whether it compares.
    pub fn compares(self) -> bool {
        self.level() == 4
    }
}

/// Level of `not`: above `and`, below comparisons.
pub(crate) const NOT_LEVEL: u8 = 3;
/// Level of a minus sign: above `*`, below `^`.
pub(crate) const NEG_LEVEL: u8 = 7;

impl Expr {
    /// Makes a node.
    pub fn new(kind: ExprKind, span: Span) -> Self {
        Self { kind, span }
    }

    /// Calls `visit` for this node and everything below it, parents first, in written order.
    pub fn walk<'a>(&'a self, visit: &mut impl FnMut(&'a Expr)) {
        visit(self);
        match &self.kind {
            ExprKind::Field(inner, _) | ExprKind::Neg(inner) | ExprKind::Not(inner) => inner.walk(visit),
            ExprKind::Binary(_, a, b) => {
                a.walk(visit);
                b.walk(visit);
            }
            ExprKind::Call(_, arguments) => arguments.iter().for_each(|a| a.walk(visit)),
            _ => {}
        }
    }

    /// Changes every span of the tree.
    pub(crate) fn relocate(&mut self, map: &impl Fn(Span) -> Span) {
        self.span = map(self.span);
        match &mut self.kind {
            ExprKind::Field(inner, _) | ExprKind::Neg(inner) | ExprKind::Not(inner) => inner.relocate(map),
            ExprKind::Binary(_, a, b) => {
                a.relocate(map);
                b.relocate(map);
            }
            ExprKind::Call(_, arguments) => arguments.iter_mut().for_each(|a| a.relocate(map)),
            _ => {}
        }
    }

    /// The first names of everything the formula reads, in written order, each once. A table is read through `pick`.
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = Vec::new();
        self.walk(&mut |e| {
            if let ExprKind::Name(name) = &e.kind
                && !names.contains(&name.as_str())
            {
                names.push(name);
            }
        });
        names
    }

    /// Whether anything in the tree could not be read.
    pub fn has_bad(&self) -> bool {
        let mut bad = false;
        self.walk(&mut |e| bad |= matches!(e.kind, ExprKind::Bad));
        bad
    }

    /// A written temperature point, minus sign included: `-10 [degC]` is one literal, not the negative of a point.
    pub(crate) fn point_literal(&self) -> Option<(f64, &Unit, Span)> {
        let (literal, sign) = match &self.kind {
            ExprKind::Number(literal) => (literal, 1.0),
            ExprKind::Neg(inner) => match &inner.kind {
                ExprKind::Number(literal) => (literal, -1.0),
                _ => return None,
            },
            _ => return None,
        };
        let unit = literal.unit.as_ref().filter(|u| u.is_point())?;
        Some((sign * literal.value, unit, self.span))
    }
}

impl PartialEq for Expr {
    fn eq(&self, other: &Self) -> bool {
        self.kind == other.kind
    }
}

impl PartialEq for Literal {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text && self.unit.is_some() == other.unit.is_some() && self.unit_text == other.unit_text
    }
}
