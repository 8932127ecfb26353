//! Answers a checked question for one study, a column at a time.

use super::chunks::Asked;
use super::level::Level;
use super::node::{Node, Path, Ty, What};
use super::values::{Col, Values};
use crate::facts::{Facts, NONE, Truth};
use std::borrow::Cow;
use std::cell::RefCell;
use std::rc::Rc;
use tare_calc::{Binary, Function};
use tare_engine::math;

/// One study and the rows of it that are asked about.
pub(crate) struct Run<'a> {
    pub(super) facts: &'a Facts,
    /// The rows in hand; `None` for all of the table.
    pub(super) rows: Option<&'a [u32]>,
    /// The row of the rule beside each row in hand.
    pub(super) outer: Option<&'a [u32]>,
    count: usize,
    texts: &'a [String],
    pub(super) levels: RefCell<Vec<(Path, Rc<Level>)>>,
}

impl<'a> Run<'a> {
    /// Over the rows asked about; `texts` are those of the checked question.
    pub(crate) fn new(facts: &'a Facts, asked: Asked<'a>, texts: &'a [String]) -> Self {
        let Asked { rows, outer, .. } = asked;
        Self { facts, rows, outer, count: asked.count(facts), texts, levels: RefCell::default() }
    }

    /// The study.
    pub(crate) fn facts(&self) -> &'a Facts {
        self.facts
    }

    /// How many rows are asked about.
    pub(crate) fn count(&self) -> usize {
        self.count
    }

    /// The text of a code: one of the study's, or one that only the question has.
    pub(crate) fn text_of(&self, code: u32) -> Option<&'a str> {
        let own = (code as usize).checked_sub(self.facts.texts.count());
        self.facts.texts.get(code).or_else(|| self.texts.get(own?).map(String::as_str))
    }

    fn code_of(&self, text: usize) -> u32 {
        // What no record says gets a code behind all others, so that two of them still differ.
        let behind = || u32::try_from(self.facts.texts.count() + text).unwrap_or(NONE);
        self.texts.get(text).and_then(|t| self.facts.texts.code(t)).unwrap_or_else(behind)
    }

    /// The values of a node: one per entry of its list, or one for all.
    pub(crate) fn node(&self, node: &Node) -> Values<'a> {
        match &node.what {
            What::Number(si, currency) => {
                let known = currency.is_none_or(|c| c.code() == self.facts.currency);
                Values::Numbers(Col::Same(if known { *si } else { f64::NAN }))
            }
            What::Truth(holds) => Values::Truths(Col::Same(Truth::of(*holds))),
            What::Text(text) => Values::Texts(Col::Same(self.code_of(*text))),
            What::Column { path, name, dim } => self.column(node.ty, path, name, dim),
            What::Exists(path) => Values::Truths(self.exists(path)),
            What::Neg(a) => Values::Numbers(self.numbers(a).map(|x| -x)),
            What::Not(a) => Values::Truths(self.truths(a).map(|t| Truth::YES - t)),
            What::Math(op, a, b) => Values::Numbers(self.math(*op, a, b, node.shape.as_ref())),
            What::Compare(op, a, b) => Values::Truths(self.compare(*op, a, b, node.shape.as_ref())),
            What::Same(same, a, b) => Values::Truths(self.same(*same, a, b, node.shape.as_ref())),
            What::And(a, b) => Values::Truths(self.both(a, b, node.shape.as_ref(), Truth::NO, u8::min)),
            What::Or(a, b) => Values::Truths(self.both(a, b, node.shape.as_ref(), Truth::YES, u8::max)),
            What::If(parts) => self.choose(parts, node.ty, node.shape.as_ref()),
            What::One(function, a) => Values::Numbers(one(*function, self.numbers(a))),
            What::Extreme(function, parts) => Values::Numbers(self.extreme(*function, parts, node.shape.as_ref())),
            What::Fold(function, a, mask) => self.fold(*function, a, mask.as_ref()),
            What::Given(a) => Values::Truths(match self.node(a) {
                Values::Numbers(numbers) => numbers.map(|x| Truth::of(!x.is_nan())),
                Values::Truths(truths) => truths.map(|t| Truth::of(t != Truth::UNKNOWN)),
                Values::Texts(texts) => texts.map(|t| Truth::of(t != NONE)),
            }),
            What::Has(a, piece) => Values::Truths(self.has(a, *piece)),
            What::Bad => Values::Truths(Col::Same(Truth::UNKNOWN)),
        }
    }

    pub(super) fn numbers(&self, node: &Node) -> Col<'a, f64> {
        if let Values::Numbers(numbers) = self.node(node) { numbers } else { Col::Same(f64::NAN) }
    }

    pub(super) fn truths(&self, node: &Node) -> Col<'a, u8> {
        if let Values::Truths(truths) = self.node(node) { truths } else { Col::Same(Truth::UNKNOWN) }
    }

    fn texts(&self, node: &Node) -> Col<'a, u32> {
        if let Values::Texts(texts) = self.node(node) { texts } else { Col::Same(NONE) }
    }

    /// The numbers of a node as entries of a list that its own list is part of.
    fn numbers_in(&self, node: &Node, shape: Option<&Path>) -> Col<'a, f64> {
        self.lift(self.numbers(node), node.shape.as_ref(), shape)
    }

    fn truths_in(&self, node: &Node, shape: Option<&Path>) -> Col<'a, u8> {
        self.lift(self.truths(node), node.shape.as_ref(), shape)
    }

    fn texts_in(&self, node: &Node, shape: Option<&Path>) -> Col<'a, u32> {
        self.lift(self.texts(node), node.shape.as_ref(), shape)
    }

    fn column(&self, ty: Ty, path: &Path, name: &str, dim: &str) -> Values<'a> {
        let table = self.facts.table(path.end());
        match ty {
            Ty::Text => Values::Texts(self.gather(path, table.codes(name), NONE)),
            Ty::Truth => Values::Truths(self.gather(path, table.flags(name), Truth::UNKNOWN)),
            _ => Values::Numbers(self.gather(path, table.numbers(name, dim), f64::NAN)),
        }
    }

    pub(super) fn exists(&self, path: &Path) -> Col<'a, u8> {
        match self.ends(path) {
            Some(rows) if !path.hops.is_empty() => Col::of(rows.iter().map(|row| Truth::of(*row != NONE)).collect()),
            _ => Col::Same(Truth::YES),
        }
    }

    fn math(&self, op: Binary, a: &Node, b: &Node, shape: Option<&Path>) -> Col<'a, f64> {
        let (a, b) = (self.numbers_in(a, shape), self.numbers_in(b, shape));
        match op {
            Binary::Add => a.with(b, |x, y| x + y),
            Binary::Sub => a.with(b, |x, y| x - y),
            Binary::Mul => a.with(b, |x, y| x * y),
            // nothing is known of what is divided by nothing
            Binary::Div => a.with(b, |x, y| if y == 0.0 { f64::NAN } else { x / y }),
            _ => a.with(b, math::pow),
        }
    }

    fn compare(&self, op: Binary, a: &Node, b: &Node, shape: Option<&Path>) -> Col<'a, u8> {
        let (a, b) = (self.numbers_in(a, shape), self.numbers_in(b, shape));
        fn known(x: f64, y: f64, holds: bool) -> u8 {
            if x.is_nan() || y.is_nan() { Truth::UNKNOWN } else { Truth::of(holds) }
        }
        match op {
            Binary::Lt => a.with(b, |x, y| known(x, y, x < y)),
            Binary::Le => a.with(b, |x, y| known(x, y, x <= y)),
            Binary::Gt => a.with(b, |x, y| known(x, y, x > y)),
            Binary::Ge => a.with(b, |x, y| known(x, y, x >= y)),
            Binary::Eq => a.with(b, |x, y| known(x, y, x == y)),
            _ => a.with(b, |x, y| known(x, y, x != y)),
        }
    }

    fn same(&self, same: bool, a: &Node, b: &Node, shape: Option<&Path>) -> Col<'a, u8> {
        if a.ty == Ty::Truth {
            let unknown = |x, y| x == Truth::UNKNOWN || y == Truth::UNKNOWN;
            let holds = |x, y| if unknown(x, y) { Truth::UNKNOWN } else { Truth::of((x == y) == same) };
            return self.truths_in(a, shape).with(self.truths_in(b, shape), holds);
        }
        let holds = |x, y| if x == NONE || y == NONE { Truth::UNKNOWN } else { Truth::of((x == y) == same) };
        self.texts_in(a, shape).with(self.texts_in(b, shape), holds)
    }

    /// `and` and `or`; the right side is left alone where the left decides for every entry.
    fn both(&self, a: &Node, b: &Node, shape: Option<&Path>, decides: u8, f: fn(u8, u8) -> u8) -> Col<'a, u8> {
        let left = self.truths_in(a, shape);
        let decided = match &left {
            Col::Same(truth) => *truth == decides,
            Col::Each(truths) => truths.iter().all(|t| *t == decides),
        };
        if decided { Col::Same(decides) } else { left.with(self.truths_in(b, shape), f) }
    }

    fn choose(&self, parts: &[Node; 3], ty: Ty, shape: Option<&Path>) -> Values<'a> {
        let [test, then, other] = parts;
        let test = self.truths_in(test, shape);
        match ty {
            Ty::Text => {
                let sides = self.texts_in(then, shape).with(self.texts_in(other, shape), |a, b| (a, b));
                Values::Texts(test.with(sides, |t, (a, b)| pick(t, a, b, NONE)))
            }
            Ty::Truth => {
                let sides = self.truths_in(then, shape).with(self.truths_in(other, shape), |a, b| (a, b));
                Values::Truths(test.with(sides, |t, (a, b)| pick(t, a, b, Truth::UNKNOWN)))
            }
            _ => {
                let sides = self.numbers_in(then, shape).with(self.numbers_in(other, shape), |a, b| (a, b));
                Values::Numbers(test.with(sides, |t, (a, b)| pick(t, a, b, f64::NAN)))
            }
        }
    }

    fn extreme(&self, function: Function, parts: &[Node], shape: Option<&Path>) -> Col<'a, f64> {
        let f = if function == Function::Min { math::min } else { math::max };
        let mut all = parts.iter().map(|part| self.numbers_in(part, shape));
        let first = all.next().unwrap_or(Col::Same(f64::NAN));
        all.fold(first, |so_far, next| so_far.with(next, f))
    }

    /// Looks for a piece once in every text that occurs, not in every row.
    fn has(&self, a: &Node, piece: usize) -> Col<'a, u8> {
        let piece = self.texts.get(piece).map(|t| t.to_lowercase()).unwrap_or_default();
        let texts = self.texts(a);
        let found = |code: u32| match self.facts.texts.small(code) {
            Some(text) => Truth::of(text.contains(piece.as_str())),
            // a text of the question itself, or none
            None => self.text_of(code).map_or(Truth::UNKNOWN, |t| Truth::of(t.to_lowercase().contains(piece.as_str()))),
        };
        let Col::Each(codes) = texts else { return texts.map(found) };
        const NOT_YET: u8 = u8::MAX;
        let mut known = vec![NOT_YET; self.facts.texts.count()];
        let each = codes.iter().map(|code| match known.get_mut(*code as usize) {
            Some(seen) => {
                if *seen == NOT_YET {
                    *seen = found(*code);
                }
                *seen
            }
            None => found(*code),
        });
        Col::Each(Cow::Owned(each.collect()))
    }
}

fn pick<T>(test: u8, then: T, other: T, unknown: T) -> T {
    match test {
        Truth::YES => then,
        Truth::NO => other,
        _ => unknown,
    }
}

fn one(function: Function, a: Col<'_, f64>) -> Col<'_, f64> {
    match function {
        Function::Abs => a.map(f64::abs),
        Function::Sqrt => a.map(f64::sqrt),
        Function::Exp => a.map(math::exp),
        Function::Ln => a.map(math::ln),
        Function::Log10 => a.map(math::log10),
        Function::Floor => a.map(math::floor),
        Function::Ceil => a.map(math::ceil),
        _ => a.map(math::round),
    }
}
