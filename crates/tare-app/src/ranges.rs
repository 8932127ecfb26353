//! Ranges of the headline numbers, or of any lines asked for.

use tare_analysis::{
    CauseShare, Drivers, FirstOrder, Options, Plan, Sampling, Search, Spread, Stop, WorkList, causes, drivers, first_order,
    next_steps, spread,
};
use tare_library::Library;
use tare_model::Document;
use tare_study::{LineRef, Study};

/// Draws that are counted as one while they are made.
pub const CHUNK: usize = tare_engine::LANES;
/// Draws in each of the sets by which a range is split by cause: shares are good to about two hundredths.
pub const CAUSE_DRAWS: u64 = 8_192;
/// The most draws of a report that is told nothing else.
pub const REPORT_DRAWS: u64 = 40_960;
/// Draws of causes in a report, which says whole per cent and is not waited for: shares are good to about four hundredths.
const REPORT_CAUSE_DRAWS: u64 = 2_048;

/// Draws behind each step of a report's work list: its gains come from the same numbers, so that few show them.
const REPORT_WORK_DRAWS: u64 = 1_024;
/// Inputs and steps that a report lists for one result.
const REPORT_ROWS: usize = 8;

/// Ranges from one set of draws.
#[derive(Clone, Debug)]
pub struct Ranges {
    /// What was watched: words, and line.
    pub watched: Vec<(String, LineRef)>,
    /// The ranges, in the same order.
    pub spread: Spread,
    /// The same lines to the first order.
    pub first_order: Vec<FirstOrder>,
    /// Where the range of the first line comes from.
    pub causes: Vec<CauseShare>,
    /// Draws in each of the sets behind that.
    pub cause_draws: u64,
    /// What drives the results a report shows most of; empty where it was not asked for.
    pub drivers: Vec<Drivers>,
    /// What to find out next about the first line, where that was asked for.
    pub work: Option<WorkList>,
    /// The leaves as they were drawn.
    pub sampling: Sampling,
    /// How.
    pub options: Options,
}

/// The headline lines of a study, in the order of the report.
pub fn headlines(document: &Document, study: &Study) -> Vec<(String, LineRef)> {
    let totals = &study.totals;
    let dominant: Vec<&str> = study.items.iter().filter(|i| i.dominant).map(|i| i.name.as_str()).collect();
    let without = totals.without_dominant.filter(|_| !dominant.is_empty());
    let fixed = [
        ("should-cost".to_owned(), totals.cost),
        (format!("without {}", dominant.join(", ")), without),
        ("mass".to_owned(), totals.mass),
        ("manual assembly time".to_owned(), totals.manual),
        ("ideal-time share".to_owned(), totals.ideal_share),
        ("investment in tools".to_owned(), totals.investment),
    ];
    let yardsticks = totals.yardsticks.iter().map(|(record, value, cost)| {
        let name = document.get(*record).and_then(|r| r.text(tare_model::Field::Name)).unwrap_or("yardstick");
        cost.map_or_else(|| (name.to_owned(), *value), |cost| (format!("cost per unit of {name}"), cost))
    });
    fixed.into_iter().filter_map(|(words, line)| Some((words, line?))).chain(yardsticks).collect()
}

/// Ranges of the headlines as a report gives them, with what drives the cost and what to find out next about it. `None` where there is no
/// headline or no draw is wanted.
///
/// What is missing because it was stopped is left out.
pub fn of_headlines(document: &Document, study: &Study, library: &Library, options: Options, stop: Stop<'_>) -> Option<Ranges> {
    let watched = headlines(document, study);
    let threads = options.threads;
    if watched.is_empty() || options.most == 0 {
        return None;
    }
    let mut found = ranges(study, watched, options, REPORT_CAUSE_DRAWS, stop)?;
    let dominant = study.items.iter().any(|item| item.dominant);
    let shown = [study.totals.cost, study.totals.without_dominant.filter(|_| dominant)];
    let search = Search { draws: REPORT_CAUSE_DRAWS, most: REPORT_ROWS, threads, ..Search::default() };
    let looked = |line: LineRef| drivers(study, &found.sampling, line, search, stop);
    found.drivers = shown.into_iter().flatten().filter_map(looked).collect();
    let plan = Plan { draws: REPORT_WORK_DRAWS, most: REPORT_ROWS, threads, who: None };
    let listed = |line: LineRef| next_steps(study, library, &found.sampling, line, &plan, stop);
    found.work = study.totals.cost.and_then(listed);
    Some(found)
}

/// Ranges of lines, and where that of the first comes from; `None` when it was stopped.
pub fn ranges(
    study: &Study,
    watched: Vec<(String, LineRef)>,
    options: Options,
    cause_draws: u64,
    stop: Stop<'_>,
) -> Option<Ranges> {
    let sampling = Sampling::new(study, options.seed);
    let lines: Vec<LineRef> = watched.iter().map(|(_, line)| *line).collect();
    let spread = spread(study, &sampling, &lines, options, stop)?;
    // who stops the draws does not want those of the causes either
    let causes = match lines.first() {
        Some(first) if !spread.stopped => {
            causes(study, &sampling, *first, cause_draws, options.threads, stop).unwrap_or_default()
        }
        _ => Vec::new(),
    };
    let first_order = lines.iter().map(|line| first_order(study, &sampling, *line, options.threads)).collect();
    Some(Ranges { watched, spread, first_order, causes, cause_draws, drivers: Vec::new(), work: None, sampling, options })
}

/// The leaves that drive a line; `None` when it was stopped.
pub fn driving(study: &Study, line: LineRef, search: Search, seed: u64, stop: Stop<'_>) -> Option<Drivers> {
    let sampling = Sampling::new(study, seed);
    drivers(study, &sampling, line, search, stop)
}

/// What to find out next about a line; `None` when it was stopped.
pub fn work_list(study: &Study, library: &Library, line: LineRef, plan: &Plan, seed: u64, stop: Stop<'_>) -> Option<WorkList> {
    let sampling = Sampling::new(study, seed);
    next_steps(study, library, &sampling, line, plan, stop)
}

/// How a report is drawn that is told nothing else: on all threads, until its ranges have settled.
pub fn report_options() -> Options {
    Options { most: REPORT_DRAWS, threads: threads(), ..Options::default() }
}

/// The threads this machine has.
pub fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}
