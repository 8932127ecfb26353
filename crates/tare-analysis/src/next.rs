//! What to find out next: which reading, offer or test would narrow a result's range most for the effort.

use crate::causes::Cause;
use crate::drivers::{number, screen};
use crate::sampling::{Sampling, may_not_fall_below_zero};
use crate::spread::Stop;
use tare_engine::sample::{Correlation, Distribution};
use tare_engine::stats::Sample;
use tare_engine::{How, LANES, Tape};
use tare_library::{Library, Recipe};
use tare_study::{Leaf, LineRef, Lines, Study};

/// Of the best by estimate at least so many are drawn, so that the first of a list do not hang on its length.
const LOOKED_AT: usize = 20;
/// Inputs that carry more than this share of the variance are named where no recipe goes for them.
const STUCK: f64 = 0.01;
/// Gains below this share of the standard uncertainty are not worth a line.
const LEAST_GAIN: f64 = 0.001;

/// How the next steps are looked for.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Draws behind every figure.
    pub draws: u64,
    /// The most steps listed.
    pub most: usize,
    /// Threads.
    pub threads: usize,
    /// Only what this one does, as recipes name them: `bench`, `buyer`.
    pub who: Option<String>,
}

impl Default for Plan {
    fn default() -> Self {
        Plan { draws: 4_096, most: 10, threads: 1, who: None }
    }
}

/// One thing to find out.
#[derive(Clone, Debug)]
pub struct Step {
    /// The leaf.
    pub leaf: LineRef,
    /// How.
    pub recipe: Recipe,
    /// Its standard uncertainty now, SI.
    pub now: f64,
    /// Its standard uncertainty afterwards, SI.
    pub then: f64,
    /// The result's standard uncertainty once this alone is done, should the reading come out at the present mean.
    pub alone: f64,
    /// The same once all steps up to this one are done.
    pub together: f64,
    /// By which share the result's standard uncertainty shrinks per hour of work.
    pub per_hour: f64,
}

/// What to find out next.
#[derive(Clone, Debug)]
pub struct WorkList {
    /// The result.
    pub line: LineRef,
    /// Its standard uncertainty now, SI.
    pub deviation: f64,
    /// Steps, the most gain per minute first.
    pub steps: Vec<Step>,
    /// The leaves that no recipe goes for although they carry more than a hundredth of the variance, and that share.
    pub stuck: Vec<(LineRef, f64)>,
    /// Draws behind every figure.
    pub draws: u64,
    /// Draws in which the result was no number; they are left out.
    pub failed: usize,
}

/// What a leaf is about, in the words of the recipes; empty where it is about nothing they know.
pub fn about(lines: &Lines, library: &Library, leaf: &Leaf) -> &'static str {
    if Cause::of(lines, leaf) == Cause::Instruments {
        return "instrument";
    }
    let address = lines.subject_of(leaf).address.as_str();
    let numbered = |letter: char| address.strip_prefix(letter).is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()));
    let first = address.split(' ').next().unwrap_or(address);
    match first {
        "quote" | "item" | "scenario" | "exchange" | "feature" | "operation" | "specimen" | "sample" | "station" => {
            ["quote", "item", "scenario", "exchange", "feature", "operation", "specimen", "sample", "station"]
                .into_iter()
                .find(|known| *known == first)
                .unwrap_or("")
        }
        "rate" => "rate",
        _ if library.find(address).is_some() => "calculation",
        _ if library.material(address).is_some() => "material",
        _ if library.fastener(address).is_some() => "fastener",
        _ if numbered('J') => "joint",
        _ if numbered('P') => "part",
        _ => "",
    }
}

/// Looks for what to find out next about a line. `None` when it was stopped.
///
/// Every drawn leaf is screened; for those that a recipe goes for, the gain is first estimated from the share of the variance that the leaf
/// explains, then, for the best by estimate, worked out by drawing the study again with that leaf known as well as the recipe reaches.
/// The random numbers stay the same, so that small gains are not lost in chance.
pub fn next_steps(
    study: &Study,
    library: &Library,
    sampling: &Sampling,
    line: LineRef,
    plan: &Plan,
    stop: Stop<'_>,
) -> Option<WorkList> {
    let lines = &study.lines;
    let tape = Tape::new(&lines.graph, &study.values, &sampling.random, &[lines.node(line)]);
    let chunks = plan.draws.div_ceil(LANES as u64).max(1);
    let how = How { threads: plan.threads, stop: stop.stop, done: stop.done, ..How::default() };
    let run = |sampling: &Sampling| tape.sample(&sampling.sampler, 0..chunks, how).map(|mut found| found.remove(0));
    let results = run(sampling)?;
    let sample = Sample::new(&results);
    let (deviation, failed) = (sample.deviation(), sample.failed());
    let mut list = WorkList { line, deviation, steps: Vec::new(), stuck: Vec::new(), draws: chunks * LANES as u64, failed };
    if !deviation.is_finite() || deviation <= 0.0 {
        return Some(list);
    }
    let shares = shares(study, sampling, line, &tape, &results, plan.threads);
    let mut candidates: Vec<(f64, Step)> = Vec::new();
    for (leaf, share) in shares {
        let at = &lines.leaves[leaf as usize];
        let subject = lines.subject_of(at).address.as_str();
        let fits =
            |recipe: &&Recipe| recipe.fits(about(lines, library, at), subject, &at.name, &at.quantity.unit, at.evidence.word());
        let Some(recipe) = library.recipes().iter().find(fits) else {
            if share > STUCK {
                list.stuck.push((LineRef::Leaf(leaf), share));
            }
            continue;
        };
        let (mean, now) = sampling.moments(lines, leaf);
        let then = recipe.uncertainty(mean, now);
        // what is known as well already, and what another one does
        if then.is_nan() || then >= 0.9 * now || plan.who.as_ref().is_some_and(|who| *who != recipe.who) {
            continue;
        }
        // what stays of the variance, were the result straight in the leaf
        let left = 1.0 - share * (1.0 - (then / now) * (then / now));
        let estimate = 1.0 - left.max(0.0).sqrt();
        if estimate >= LEAST_GAIN {
            let (alone, together) = (f64::NAN, f64::NAN);
            let step = Step {
                leaf: LineRef::Leaf(leaf),
                recipe: recipe.clone(),
                now,
                then,
                alone,
                together,
                per_hour: estimate * 60.0 / recipe.minutes,
            };
            candidates.push((estimate, step));
        }
    }
    // by estimate: the best per minute and the largest, so that neither kind is missed
    candidates.sort_by(|a, b| b.1.per_hour.total_cmp(&a.1.per_hour).then(a.1.leaf.cmp(&b.1.leaf)));
    let large: Vec<LineRef> = {
        let mut by_size: Vec<&(f64, Step)> = candidates.iter().collect();
        by_size.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.leaf.cmp(&b.1.leaf)));
        by_size.into_iter().take(plan.most.max(LOOKED_AT)).map(|(_, step)| step.leaf).collect()
    };
    let kept =
        candidates.into_iter().enumerate().filter(|(at, (_, step))| *at < plan.most.max(LOOKED_AT) || large.contains(&step.leaf));
    for (_, (_, mut step)) in kept {
        step.alone = Sample::new(&run(&known(study, sampling, &[&step]))?).deviation();
        let gain = 1.0 - step.alone / deviation;
        step.per_hour = gain * 60.0 / step.recipe.minutes;
        if gain >= LEAST_GAIN {
            list.steps.push(step);
        }
    }
    list.steps.sort_by(|a, b| b.per_hour.total_cmp(&a.per_hour).then(a.leaf.cmp(&b.leaf)));
    list.steps.truncate(plan.most);
    for upto in 0..list.steps.len() {
        let done: Vec<&Step> = list.steps[..=upto].iter().collect();
        list.steps[upto].together = Sample::new(&run(&known(study, sampling, &done))?).deviation();
    }
    Some(list)
}

/// The share of the variance that each drawn leaf explains, largest first: by screening where that stands out from chance, else to the
/// first order.
fn shares(study: &Study, sampling: &Sampling, line: LineRef, tape: &Tape, results: &[f64], threads: usize) -> Vec<(u32, f64)> {
    let screened = screen(sampling, tape.drawn(), results, threads);
    let variance = Sample::new(results).deviation().powi(2);
    let mut first = vec![0.0; study.lines.leaves.len()];
    for driver in study.grounds(line).drivers {
        first[number(driver.leaf) as usize] = if driver.contribution.is_finite() { driver.contribution } else { 0.0 };
    }
    let correlation = sampling.sampler.correlation.as_ref();
    let together = correlation.map_or(&[][..], |c| c.leaves());
    let share = |(leaf, screened): (&u32, f64)| {
        // the numbers of a leaf that moves with others stand for those others too: its part is what it does with all of them
        let with = |correlation: &Correlation| {
            let moved: f64 = together.iter().map(|other| correlation.of(*leaf, *other) * first[*other as usize]).sum();
            (first[*leaf as usize] * moved / variance).clamp(0.0, 1.0)
        };
        let alone = || (first[*leaf as usize] * first[*leaf as usize] / variance).min(1.0).max(screened);
        (*leaf, correlation.filter(|_| together.contains(leaf)).map_or_else(alone, with))
    };
    let mut found: Vec<(u32, f64)> = tape.drawn().iter().zip(screened).map(share).collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    found
}

/// The sampling with some leaves known as well as their recipes reach, around their present means.
fn known(study: &Study, sampling: &Sampling, steps: &[&Step]) -> Sampling {
    let mut known = sampling.clone();
    for step in steps {
        let leaf = number(step.leaf);
        let (mean, _) = sampling.moments(&study.lines, leaf);
        let normal = Distribution::Normal { mean, deviation: step.then };
        let cut = may_not_fall_below_zero(&study.lines, &study.lines.leaves[leaf as usize]);
        if let Some(Some(source)) = known.sampler.sources.get_mut(leaf as usize) {
            source.distribution = if cut { normal.within(0.0, f64::INFINITY).0 } else { normal };
        }
    }
    known
}
