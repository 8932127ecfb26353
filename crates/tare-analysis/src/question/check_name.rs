//! Checks names: columns and relations of rows, paths, and names that stand for formulas.

use super::check::{Checker, words};
use super::node::{Hop, Node, Path, Ty, What};
use crate::facts::{ColumnType, RELATIONS, Schema};
use tare_calc::{Expr, ExprKind, Span};
use tare_diag::Diag;
use tare_units::Dim;

/// Most steps of a path, and most of them to several rows: each such step can multiply the entries.
const MAX_HOPS: usize = 8;
const MAX_MANY: usize = 3;

impl Checker<'_> {
    /// A name, or a path of names.
    pub(super) fn named(&mut self, e: &Expr) -> Node {
        match &e.kind {
            ExprKind::Name(name) => self.name(name, e.span),
            ExprKind::Field(inner, name) => {
                let above = match &inner.kind {
                    ExprKind::Name(_) | ExprKind::Field(..) => self.named(inner),
                    _ => self.node(inner),
                };
                match above.what {
                    What::Exists(path) if above.ty == Ty::Rows => self.member(&path, name, e.span),
                    What::Bad => Node::bad(),
                    _ => self.fail("not-rows", format!("`{inner}` has no columns: it is {}", words(above.ty)), inner.span),
                }
            }
            _ => Node::bad(),
        }
    }

    fn name(&mut self, name: &str, span: Span) -> Node {
        if let Some(at) = self.scope.lets[..self.lets].iter().rposition(|(n, _)| n == name) {
            return self.written_out(at);
        }
        let here = match self.scope.outer {
            Some(outer) if self.in_let => Path { outer: true, start: outer, hops: Vec::new() },
            Some(outer) if outer.word() == name => {
                return Node {
                    what: What::Exists(Path { outer: true, start: outer, hops: Vec::new() }),
                    ty: Ty::Rows,
                    shape: None,
                };
            }
            _ => Path { outer: false, start: self.scope.rows, hops: Vec::new() },
        };
        if name == "pi" {
            return Node { what: What::Number(std::f64::consts::PI, None), ty: Ty::Number(Dim::ONE), shape: None };
        }
        self.member(&here, name, span)
    }

    /// The formula that a name stands for, in place of the name.
    fn written_out(&mut self, at: usize) -> Node {
        let (before, in_let) = (self.lets, self.in_let);
        (self.lets, self.in_let) = (at, true);
        let problems = self.problems.len();
        let node = self.node(&self.scope.lets[at].1.clone());
        (self.lets, self.in_let) = (before, in_let);
        if self.problems.len() > problems && !self.too_large {
            // its own text has the message
            self.problems.truncate(problems);
            return Node::bad();
        }
        node
    }

    /// A relation or column of the rows at the end of a path.
    fn member(&mut self, path: &Path, name: &str, span: Span) -> Node {
        let rows = path.end();
        if let Some((_, name, to, many)) = RELATIONS.iter().find(|(from, n, ..)| *from == rows && *n == name) {
            let mut path = path.clone();
            path.hops.push(Hop { name, to: *to, many: *many });
            if path.hops.len() > MAX_HOPS || path.hops.iter().filter(|hop| hop.many).count() > MAX_MANY {
                let says = format!("`{}` goes through too many lists", path.text());
                return self.fail_with("path-too-long", says, span, format!("at most {MAX_MANY} lists and {MAX_HOPS} steps"));
            }
            let shape = path.shape();
            return Node { what: What::Exists(path), ty: Ty::Rows, shape };
        }
        let types = self.scope.schema.column(rows, name);
        if types.is_empty() {
            self.unknown(path, name, span);
            return Node::bad();
        }
        let reading = self.readings.entry((rows, name.to_owned())).or_insert((0, types.len())).0;
        let (ty, dim) = match &types[reading.min(types.len() - 1)] {
            ColumnType::Number(unit) => (Ty::Number(unit.dim), unit.dim.to_string()),
            ColumnType::Text(_) => (Ty::Text, String::new()),
            ColumnType::Flag => (Ty::Truth, String::new()),
        };
        Node { what: What::Column { path: path.clone(), name: name.to_owned(), dim }, ty, shape: path.shape() }
    }

    fn unknown(&mut self, path: &Path, name: &str, span: Span) {
        let (schema, rows) = (self.scope.schema, path.end());
        let lets = self.scope.lets[..self.lets].iter().filter(|_| path.hops.is_empty()).map(|(n, _)| n.as_str());
        let columns = schema.columns(rows).map(|(n, _)| n);
        let known: Vec<&str> = Schema::relations(rows).map(|(n, ..)| n).chain(columns).chain(lets).collect();
        let mut diag = Diag::error("unknown-name", format!("{} has no `{name}`", rows.one())).did_you_mean(name, known);
        if diag.hints.is_empty() {
            let through = Schema::relations(rows).find(|(_, to, _)| !schema.column(*to, name).is_empty());
            diag = match through {
                Some((relation, to, _)) => diag.hint(format!("it is a column of {}: write `{relation}.{name}`", to.one())),
                None => diag.hint("columns are the fixed ones, quantities of the library, and lines of its calculations"),
            };
        }
        self.problems.push((span, diag));
    }
}
