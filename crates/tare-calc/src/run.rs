//! One evaluation of a lowered calculation at stated values.

use crate::lower::stated;
use crate::lowered::{Lowered, ParamKind};
use crate::span::Span;
use tare_engine::{Graph, NodeId, Operand, eval_point};

/// The values of every node of a calculation.
pub(crate) struct Run<'a> {
    lowered: &'a Lowered,
    /// The graph; leaf `n` is parameter `n`.
    pub(crate) graph: Graph,
    pub(crate) params: Vec<f64>,
    pub(crate) values: Vec<f64>,
    base: usize,
}

impl<'a> Run<'a> {
    /// Evaluates with every exchange rate and factor at 1, inputs as `given` says, and all else as stated.
    pub(crate) fn new(
        lowered: &'a Lowered,
        change: Option<(Span, f64)>,
        given: impl Fn(usize, Option<usize>) -> Option<f64>,
    ) -> Self {
        let mut graph = Graph::default();
        let mut params = Vec::with_capacity(lowered.params.len());
        let mut nodes = Vec::with_capacity(lowered.params.len());
        for param in &lowered.params {
            let value = match param.what {
                ParamKind::Input(flat) => given(flat, param.element).or_else(|| stated(param, change)),
                ParamKind::Cell { .. } => stated(param, change),
                ParamKind::Method | ParamKind::Exchange(_) | ParamKind::DefaultSpread(_) => Some(1.0),
            };
            params.push(value.unwrap_or(f64::NAN));
            nodes.push(graph.leaf());
        }
        let base = graph.instantiate(&lowered.template, &nodes) as usize;
        let mut values = Vec::new();
        eval_point(&graph, &params, &mut values);
        Self { lowered, graph, params, values, base }
    }

    /// The value of an operand.
    pub(crate) fn value(&self, operand: Operand) -> f64 {
        self.values[self.node(operand) as usize]
    }

    /// The node of an operand; parameters come first, in their order.
    pub(crate) fn node(&self, operand: Operand) -> NodeId {
        match operand {
            Operand::Param(param) => param,
            Operand::Inner(inner) => self.base as NodeId + inner,
        }
    }

    /// Inputs without a value, and needs outside their tables: the reasons there may be for a result that is no number.
    pub(crate) fn reasons(&self) -> Vec<String> {
        let mut reasons = Vec::new();
        for (param, value) in self.lowered.params.iter().zip(&self.params) {
            if value.is_nan() {
                let reason = format!("`{}` has no value", param.name);
                if !reasons.contains(&reason) {
                    reasons.push(reason);
                }
            }
        }
        for refusal in &self.lowered.refusals {
            if self.value(refusal.operand) == 1.0 {
                let need = match refusal.need {
                    Some(need) => format!(" {}", tare_units::show(self.value(need), &refusal.unit, 4)),
                    None => String::new(),
                };
                let (table, key) = (&refusal.table, &refusal.key);
                let range = format!("{} to {}", refusal.smallest, refusal.largest);
                reasons.push(format!("`{}`: {key}{need} is outside the table `{table}` ({range})", refusal.line));
            }
        }
        reasons
    }
}
