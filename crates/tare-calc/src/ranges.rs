//! Running the published examples whose inputs are ranges: drawn, and to the first order.

use crate::calculation::{Calculation, CheckValue, RangeCheck};
use crate::check_value::{Expected, GivenValue, tolerated};
use crate::lowered::{Line, LineKind, Lowered, ParamKind};
use crate::run::Run;
use crate::span::Span;
use tare_diag::{Diag, Place};
use tare_engine::budget::{Budget, Input, coverage_factor};
use tare_engine::sample::{Correlation, Distribution, Sampler, Source, Stream};
use tare_engine::stats::{Sample, correlation};
use tare_engine::{How, LANES, NodeId, Tape};
use tare_units::{Dim, Quantity, Spread, Unit};

/// How a stated value lies; none for what is known exactly.
///
/// With degrees of freedom a normal spread is Student's t of the same standard uncertainty `u` as stated (JCGM 101, 6.4.9: t moved by the
/// value and stretched by `u`).
pub fn distribution(quantity: &Quantity, freedom: Option<f64>) -> Option<Distribution> {
    let mean = quantity.value;
    match (quantity.spread?, freedom) {
        (Spread::Normal { u }, Some(freedom)) => (u > 0.0).then(|| Distribution::t(mean, u, freedom)),
        (Spread::Normal { u }, None) => (u > 0.0).then_some(Distribution::Normal { mean, deviation: u }),
        (Spread::Rectangular { low, high }, _) => (high > low).then_some(Distribution::Rectangular { low, high }),
        (Spread::Triangular { low, mode, high }, _) => (high > low).then_some(Distribution::Triangular { low, mode, high }),
    }
}

/// What a range check says of one or two lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Figure {
    Mean,
    Uncertainty,
    Low,
    High,
    FirstOrder,
    Freedom,
    Expanded,
    Correlation,
}

const FIGURES: [(&str, Figure); 8] = [
    ("mean", Figure::Mean),
    ("u", Figure::Uncertainty),
    ("low", Figure::Low),
    ("high", Figure::High),
    ("first_order", Figure::FirstOrder),
    ("freedom", Figure::Freedom),
    ("expanded", Figure::Expanded),
    ("correlation", Figure::Correlation),
];

/// One expected figure, understood.
struct Wanted<'a> {
    value: &'a CheckValue,
    figure: Figure,
    /// Positions among the watched lines; the same twice where the figure is of one line.
    lines: [usize; 2],
    expected: Expected,
}

/// A range check made ready to run, or what is wrong with it.
pub(crate) struct Ranges<'a> {
    check: &'a RangeCheck,
    watched: Vec<&'a Line>,
    wanted: Vec<Wanted<'a>>,
    /// Per parameter: value and spread as given, and its degrees of freedom.
    drawn: Vec<Option<(Quantity, Option<f64>)>>,
    correlation: Option<Correlation>,
}

impl<'a> Ranges<'a> {
    /// Understands a check.
    ///
    /// # Errors
    /// Unknown names and figures, values that do not read, correlations that contradict one another: all of them.
    pub(crate) fn new(
        calc: &Calculation,
        check: &'a RangeCheck,
        lowered: &'a Lowered,
        given: &[GivenValue],
    ) -> Result<Self, Vec<Diag>> {
        let mut diags = Vec::new();
        let at = |diag: Diag, span: Span| diag.at(Place::span(&calc.file, span.range()));
        let mut ranges = Self { check, watched: Vec::new(), wanted: Vec::new(), drawn: Vec::new(), correlation: None };
        let named = |name: &str| {
            let param = lowered.params.iter().position(|p| matches!(p.what, ParamKind::Input(_)) && p.name == name);
            param.ok_or_else(|| {
                let known = lowered.params.iter().filter(|p| matches!(p.what, ParamKind::Input(_))).map(|p| p.name.as_str());
                Diag::error("unknown-name", format!("no number is given as `{name}`")).did_you_mean(name, known)
            })
        };
        for param in &lowered.params {
            let of = match param.what {
                ParamKind::Input(flat) => given.iter().find(|g| g.flat == flat),
                _ => None,
            };
            let quantity = of.and_then(|g| g.quantities.get(param.element.unwrap_or(0)));
            ranges.drawn.push(quantity.filter(|q| q.spread.is_some()).map(|q| (q.clone(), None)));
        }
        for (name, freedom) in &check.freedom {
            match named(&name.value) {
                Ok(param) => match &mut ranges.drawn[param] {
                    Some((_, known)) => *known = Some(*freedom),
                    None => diags.push(at(no_spread(&name.value), name.span)),
                },
                Err(diag) => diags.push(at(diag, name.span)),
            }
        }
        let mut pairs = Vec::new();
        for (names, correlation) in &check.correlated {
            let found: Vec<_> = names.value.split(',').map(|name| named(name.trim())).collect();
            if found.len() != 2 {
                let diag = Diag::error("two-names", format!("a correlation is of two values, found `{}`", names.value));
                diags.push(at(diag.hint("write it like `\"a, b\" = 0.5`"), names.span));
                continue;
            }
            let mut params = Vec::new();
            for found in found {
                match found {
                    Ok(param) if ranges.drawn[param].is_some() => params.push(param as u32),
                    Ok(param) => diags.push(at(no_spread(&lowered.params[param].name), names.span)),
                    Err(diag) => diags.push(at(diag, names.span)),
                }
            }
            if let [a, b] = params[..] {
                pairs.push((a, b, *correlation));
            }
        }
        match Correlation::of_pairs(&pairs) {
            Ok(correlation) => ranges.correlation = correlation,
            Err(error) => {
                let span = check.correlated.first().map_or(Span::new(0, 0), |(names, _)| names.span);
                diags.push(at(Diag::error("correlation", error.to_string()), span));
            }
        }
        for value in &check.expect {
            match ranges.wanted(calc, lowered, value) {
                Ok(wanted) => ranges.wanted.push(wanted),
                Err(diag) => diags.push(diag),
            }
        }
        if diags.is_empty() { Ok(ranges) } else { Err(diags) }
    }

    fn wanted(&mut self, calc: &Calculation, lowered: &'a Lowered, value: &'a CheckValue) -> Result<Wanted<'a>, Diag> {
        let at = |diag: Diag| diag.at(Place::span(&calc.file, value.name.span.range()));
        let (names, figure) = value.name.value.rsplit_once('.').unwrap_or(("", &value.name.value));
        let Some((_, figure)) = FIGURES.iter().find(|(word, _)| *word == figure) else {
            let known: Vec<&str> = FIGURES.iter().map(|(word, _)| *word).collect();
            let diag = Diag::error("unknown-name", format!("no figure of a range is called `{figure}`"));
            return Err(at(diag.hint(format!("figures are: {}", known.join(", ")))));
        };
        let mut lines = Vec::new();
        for name in names.split(',') {
            let name = name.trim();
            let line = lowered.line(name).filter(|l| l.kind != LineKind::Outside && l.values.len() == 1);
            let Some(line) = line else {
                let known = lowered.lines.iter().filter(|l| l.kind != LineKind::Outside).map(|l| l.name.as_str());
                return Err(
                    at(Diag::error("unknown-name", format!("no single number named `{name}`")).did_you_mean(name, known)),
                );
            };
            let known = self.watched.iter().position(|l| l.name == line.name);
            lines.push(known.unwrap_or_else(|| {
                self.watched.push(line);
                self.watched.len() - 1
            }));
        }
        let lines = match (*figure, &lines[..]) {
            (Figure::Correlation, [a, b]) => [*a, *b],
            (Figure::Correlation, _) => {
                return Err(at(Diag::error("two-names", "a correlation is of two lines")
                    .hint("write it like `\"a, b\" = { correlation = \"0.5\" }`")));
            }
            (_, [one]) => [*one, *one],
            _ => return Err(at(Diag::error("two-names", format!("`{names}` are several lines where one is due")))),
        };
        let unit = match figure {
            Figure::Freedom | Figure::Correlation => Unit::plain(),
            Figure::Mean | Figure::Low | Figure::High => self.watched[lines[0]].unit.clone(),
            // a spread of a temperature is a difference
            _ if self.watched[lines[0]].unit.is_point() => Unit::of(Dim::TEMPERATURE),
            _ => self.watched[lines[0]].unit.clone(),
        };
        let [text] = &value.texts[..] else {
            return Err(at(Diag::error("list-length", format!("a figure is one value, found {}", value.texts.len()))));
        };
        let expected = tolerated(calc, text, &unit).map_err(|diag| *diag)?;
        Ok(Wanted { value, figure: *figure, lines, expected })
    }

    /// Draws and works out every figure: the expectation, what came out in words, whether it is as expected.
    pub(crate) fn run(&self, run: &Run<'_>) -> Vec<(&'a CheckValue, String, bool)> {
        let nodes: Vec<NodeId> = self.watched.iter().map(|line| run.node(line.values[0])).collect();
        let random: Vec<bool> = self.drawn.iter().map(Option::is_some).collect();
        let tape = Tape::new(&run.graph, &run.values, &random, &nodes);
        let source = |(param, drawn): (usize, &Option<(Quantity, Option<f64>)>)| {
            let (quantity, freedom) = drawn.as_ref()?;
            let stream = Stream::new(&format!("check/{}/{param}", self.watched.first().map_or("", |l| &l.name)), 1);
            Some(Source { stream, distribution: distribution(quantity, *freedom)? })
        };
        let sources = self.drawn.iter().enumerate().map(source).collect();
        let sampler = Sampler { sources, correlation: self.correlation.clone() };
        let chunks = self.check.draws.div_ceil(LANES as u64);
        let draws = tape.sample(&sampler, 0..chunks, How::default()).unwrap_or_default();
        let samples: Vec<Sample> = draws.iter().map(|draws| Sample::new(draws)).collect();
        let budgets: Vec<Option<Budget>> = nodes.iter().map(|node| self.budget(run, *node)).collect();
        let mut found = Vec::new();
        for wanted in &self.wanted {
            let [a, b] = wanted.lines;
            let (sample, budget) = (&samples[a], budgets[a].as_ref());
            let interval = if self.check.shortest { Sample::shortest } else { Sample::symmetric };
            let combined = || budget.map_or(f64::NAN, |budget| budget.combined(|x, y| self.together(x, y)));
            let freedom = || budget.map_or(f64::NAN, Budget::freedom);
            let got = match wanted.figure {
                Figure::Mean => sample.mean(),
                Figure::Uncertainty => sample.deviation(),
                Figure::Low => interval(sample, self.check.coverage).low,
                Figure::High => interval(sample, self.check.coverage).high,
                Figure::FirstOrder => combined(),
                Figure::Freedom => freedom(),
                Figure::Expanded => coverage_factor(freedom(), self.check.coverage) * combined(),
                Figure::Correlation => correlation(&draws[a], &draws[b]),
            };
            let failed = if sample.failed() > 0 { format!(" ({} draws failed)", sample.failed()) } else { String::new() };
            let holds = sample.failed() == 0 && wanted.expected.holds(got);
            found.push((wanted.value, format!("{}{failed}", wanted.expected.shown(got)), holds));
        }
        found
    }

    fn budget(&self, run: &Run<'_>, node: NodeId) -> Option<Budget> {
        let mut means = run.params.clone();
        let mut inputs = Vec::new();
        for (param, drawn) in self.drawn.iter().enumerate() {
            let Some((quantity, freedom)) = drawn else { continue };
            means[param] = quantity.mean();
            let freedom = freedom.unwrap_or(f64::INFINITY);
            inputs.push(Input { leaf: param as u32, uncertainty: quantity.standard_uncertainty(), freedom });
        }
        Budget::new(&run.graph, &means, &inputs, node, How::default())
    }

    fn together(&self, a: u32, b: u32) -> f64 {
        self.correlation.as_ref().map_or(0.0, |correlation| correlation.of(a, b))
    }
}

fn no_spread(name: &str) -> Diag {
    Diag::error("no-spread", format!("`{name}` is given without a spread"))
        .hint("give it like `10 +- 0.2 mm` (twice the standard uncertainty)")
}
