//! Checks calls of functions.

use super::check::{Checker, plain, words};
use super::node::{Node, Path, Ty, What};
use tare_calc::{Expr, ExprKind, Function, Span};
use tare_units::{Dim, Ratio};

impl Checker<'_> {
    pub(super) fn call(&mut self, function: Function, arguments: &[Expr], span: Span) -> Node {
        match function {
            Function::If => self.choose(arguments, span),
            Function::Given => self.given(&arguments[0]),
            Function::Has => self.has(arguments),
            Function::Min | Function::Max if arguments.len() > 1 => self.extreme(function, arguments, span),
            Function::Min | Function::Max | Function::Sum | Function::Mean | Function::Count | Function::All | Function::Any => {
                self.fold(function, arguments, span)
            }
            Function::Abs
            | Function::Sqrt
            | Function::Exp
            | Function::Ln
            | Function::Log10
            | Function::Floor
            | Function::Ceil
            | Function::Round => self.one(function, &arguments[0]),
            other => {
                let says = format!("`{}` is for calculations, not for questions", other.name());
                self.fail("function-not-here", says, span)
            }
        }
    }

    fn one(&mut self, function: Function, argument: &Expr) -> Node {
        let a = self.numeric(argument);
        let ty = match (function, a.ty) {
            (_, Ty::Bad) => return a,
            (Function::Abs, ty) => ty,
            (Function::Sqrt, ty) => Ty::Number(plain(ty).pow(Ratio::new(1, 2))),
            (_, ty) if plain(ty).is_one() => Ty::Number(Dim::ONE),
            (_, ty) => {
                let says = format!("`{}` takes a plain number, found {}", function.name(), words(ty));
                return self.fail_with("dimension-mismatch", says, argument.span, "divide by a unit, as in `x / 1 [mm]`");
            }
        };
        let shape = a.shape.clone();
        Node { what: What::One(function, Box::new(a)), ty, shape }
    }

    /// One type for values of which one is taken.
    fn same(&mut self, nodes: &[&Node], span: Span) -> Option<Ty> {
        let mut common = nodes.first()?.ty;
        for node in nodes {
            common = match (common, node.ty) {
                (Ty::Bad, _) | (_, Ty::Bad) => return None,
                (Ty::Zero, ty @ Ty::Number(_)) | (ty @ Ty::Number(_), Ty::Zero) => ty,
                (a, b) if a == b && a != Ty::Rows => a,
                (a, b) => {
                    self.fail("type-mismatch", format!("cannot take either {} or {}", words(a), words(b)), span);
                    return None;
                }
            };
        }
        Some(common)
    }

    fn extreme(&mut self, function: Function, arguments: &[Expr], span: Span) -> Node {
        let nodes: Vec<Node> = arguments.iter().map(|a| self.numeric(a)).collect();
        let all: Vec<&Node> = nodes.iter().collect();
        let (Some(ty), Some(shape)) = (self.same(&all, span), self.together(&all, span)) else { return Node::bad() };
        Node { what: What::Extreme(function, nodes), ty, shape }
    }

    fn choose(&mut self, arguments: &[Expr], span: Span) -> Node {
        let [condition, then, other] = arguments else { return Node::bad() };
        let parts = [self.truth(condition), self.node(then), self.node(other)];
        let Some(ty) = self.same(&[&parts[1], &parts[2]], then.span.to(other.span)) else { return Node::bad() };
        let Some(shape) = self.together(&[&parts[0], &parts[1], &parts[2]], span) else { return Node::bad() };
        Node { what: What::If(Box::new(parts)), ty, shape }
    }

    fn given(&mut self, argument: &Expr) -> Node {
        let a = self.node(argument);
        let shape = a.shape.clone();
        match a.ty {
            Ty::Bad => a,
            Ty::Rows if shape.is_none() => Node { ty: Ty::Truth, ..a },
            Ty::Rows => {
                let says = format!("`{argument}` is a list of rows");
                self.fail_with("given-of-list", says, argument.span, format!("write `count({argument}) > 0`"))
            }
            _ => Node { what: What::Given(Box::new(a)), ty: Ty::Truth, shape },
        }
    }

    fn has(&mut self, arguments: &[Expr]) -> Node {
        let [text, piece] = arguments else { return Node::bad() };
        let a = self.node(text);
        let ExprKind::Text(piece_text) = &piece.kind else {
            let says = "`has` looks for a text written in quotes";
            return self.fail_with("not-a-text", says, piece.span, "write `has(name, 'cover')`");
        };
        let shape = a.shape.clone();
        match a.ty {
            Ty::Bad => a,
            Ty::Text => {
                let piece = self.text(piece_text);
                Node { what: What::Has(Box::new(a), piece), ty: Ty::Truth, shape }
            }
            other => self.fail("not-a-text", format!("`has` looks in a text, found {}", words(other)), text.span),
        }
    }

    fn fold(&mut self, function: Function, arguments: &[Expr], span: Span) -> Node {
        let name = function.name();
        let [argument] = arguments else {
            let says = format!("`{name}` takes one list");
            return self.fail_with("argument-count", says, span, format!("write `{}`", function.usage()));
        };
        let a = if matches!(function, Function::Any | Function::All) { self.truth(argument) } else { self.node(argument) };
        let ty = match (function, a.ty) {
            (_, Ty::Bad) => return a,
            (Function::Any | Function::All, _) => Ty::Truth,
            (Function::Count, _) => Ty::Number(Dim::ONE),
            (_, ty @ (Ty::Number(_) | Ty::Zero)) => ty,
            (Function::Sum, Ty::Truth) => {
                let hint = "write `count` for how many hold";
                return self.fail_with("not-a-number", "`sum` takes numbers, found conditions", argument.span, hint);
            }
            (_, other) => {
                let says = format!("`{name}` takes numbers, found {}", words(other));
                return self.fail("not-a-number", says, argument.span);
            }
        };
        let Some(mask) = self.listed(&a, name, argument) else { return Node::bad() };
        Node { what: What::Fold(function, Box::new(a), mask), ty, shape: None }
    }

    /// The path whose rows are the entries of a list, where its last steps may lead nowhere; a problem where there is no list.
    fn listed(&mut self, node: &Node, name: &str, argument: &Expr) -> Option<Option<Path>> {
        let mut all = Vec::new();
        node.paths(&mut all);
        let deepest: Vec<&Path> = all.into_iter().filter(|p| !p.hops.is_empty() && p.shape() == node.shape).collect();
        let one = deepest.first().filter(|first| deepest.iter().all(|p| p == *first)).map(|p| (*p).clone());
        match (&node.shape, one) {
            (Some(_), one) => Some(one.filter(|p| !p.hops.last().is_some_and(|hop| hop.many))),
            (None, Some(one)) => Some(Some(one)),
            (None, None) => {
                let says = format!("`{name}` takes a list, and `{argument}` is one value for each row");
                self.fail_with("not-a-list", says, argument.span, format!("name a relation, as in `{name}(joints.count > 4)`"));
                None
            }
        }
    }
}
