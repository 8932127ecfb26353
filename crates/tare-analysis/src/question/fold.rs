//! One value of each list.

use super::node::{Node, Path};
use super::run::Run;
use super::values::{Col, Values};
use crate::facts::{NONE, Truth};
use tare_calc::Function;

impl<'a> Run<'a> {
    /// One value per row of a list's entries. `mask` leads to the rows that are the entries, where it may lead nowhere.
    pub(super) fn fold(&self, function: Function, a: &Node, mask: Option<&Path>) -> Values<'a> {
        let count = self.count();
        let starts = match &a.shape {
            Some(shape) => self.starts(None, shape),
            // a list of at most one: the row at the end of the mask
            None => (0..=u32::try_from(count).unwrap_or(NONE)).collect(),
        };
        let there = mask.map_or(Col::Same(Truth::YES), |mask| self.exists(mask));
        let is_there = |at: usize| there.at(at) == Truth::YES;
        let entries = |row: usize| (starts[row] as usize..starts[row + 1] as usize).filter(|at| is_there(*at));
        match (function, self.node(a)) {
            (Function::Any, Values::Truths(truths)) => {
                let any = |row| entries(row).map(|at| truths.at(at)).max().unwrap_or(Truth::NO);
                Values::Truths(Col::of((0..count).map(any).collect()))
            }
            (Function::All, Values::Truths(truths)) => {
                let all = |row| entries(row).map(|at| truths.at(at)).min().unwrap_or(Truth::YES);
                Values::Truths(Col::of((0..count).map(all).collect()))
            }
            (Function::Count, values) => {
                let counts = |at: &usize| match &values {
                    Values::Truths(truths) => truths.at(*at) == Truth::YES,
                    Values::Numbers(numbers) => !numbers.at(*at).is_nan(),
                    Values::Texts(texts) => texts.at(*at) != NONE,
                };
                Values::Numbers(Col::of((0..count).map(|row| entries(row).filter(counts).count() as f64).collect()))
            }
            (_, Values::Numbers(numbers)) => {
                let of = |row| number(function, entries(row).map(|at| numbers.at(at)));
                Values::Numbers(Col::of((0..count).map(of).collect()))
            }
            _ => Values::Truths(Col::Same(Truth::UNKNOWN)),
        }
    }
}

/// A number of a list: not known where one of them is not, or where there is none to take.
fn number(function: Function, entries: impl Iterator<Item = f64>) -> f64 {
    let (mut n, mut sum, mut least, mut most) = (0.0, 0.0, f64::INFINITY, f64::NEG_INFINITY);
    for x in entries {
        if x.is_nan() {
            return f64::NAN;
        }
        n += 1.0;
        sum += x;
        least = least.min(x);
        most = most.max(x);
    }
    match function {
        Function::Sum => sum,
        _ if n == 0.0 => f64::NAN,
        Function::Mean => sum / n,
        Function::Min => least,
        _ => most,
    }
}
