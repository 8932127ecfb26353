//! `tare report`: the whole study as one HTML file.

use super::{Context, Outcome, ReaderArgs, said};
use crate::output::Output;
use crate::progress::Drawing;
use std::path::PathBuf;
use tare_app::idea::{self, SetAsked};
use tare_app::{Document, DocumentInfo, Loaded, Session, Study, compare, files, ranges, report};
use tare_diag::Diag;

/// Write the report: one HTML file that needs nothing else
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare report\n  tare report --out pack.html\n  tare report --draws 0\n  tare report --against \"Pack B\" --against \"Pack C\"\n  tare report --release 1 --out release-1.html\n  tare report --for client --out for-client.html\n\n\
                        With `--release` ranges are those of the release (its draws, its seed), and ideas are left out: the present library would find them."
)]
pub(crate) struct Args {
    /// File to write (else report.html in the workspace, or report-for-client.html)
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The most draws for the ranges of the headlines (else 40960); 0 leaves ranges out (spreads are then first order)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(0..=20_000_000))]
    draws: Option<u64>,
    /// Set these studies beside it as well; as often as wanted
    #[arg(long, value_name = "STUDY")]
    against: Vec<String>,
    /// Leave the search for the best set of ideas out, which may take a while
    #[arg(long)]
    no_set: bool,
    #[command(flatten)]
    readers: ReaderArgs,
}

/// The most draws behind ideas and comparisons in a report.
pub(crate) const REPORT_IDEA_DRAWS: u64 = 4_096;
/// Ideas whose change is printed line by line, the best ones.
const DETAILS: usize = 6;

/// Puts the section of ideas into a report; where it is stopped it is left out.
pub(crate) fn put_ideas(
    filled: &mut report::Report,
    session: &Session,
    document: &Document,
    study: &Study,
    draws: u64,
    set: bool,
) -> Result<(), Vec<Diag>> {
    let findings = idea::found(document, study, &session.library);
    let texts = session.texts(document)?;
    let drawing = Drawing::begin();
    let options = super::ideas::options(draws, 1);
    let set = set.then(SetAsked::default);
    let found = idea::evaluate(&texts, document, study, findings.ideas.clone(), set, options, drawing.watch());
    drop(drawing);
    let Some(evaluation) = found else { return Ok(()) };
    let mut best: Vec<(usize, f64)> =
        evaluation.ideas.iter().enumerate().filter_map(|(at, one)| Some((at, one.worth.as_ref()?.net_saving.mean()))).collect();
    best.sort_by(|a, b| b.1.total_cmp(&a.1));
    let detail = |at: usize| idea::detail(&texts, document, study, std::slice::from_ref(&evaluation.ideas[at].idea));
    let details = best.iter().take(DETAILS).filter_map(|(at, _)| Some((*at, detail(*at)?))).collect();
    let of = report::IdeasOf { study, evaluation: &evaluation, findings: &findings, details };
    report::put_ideas(filled, document, &session.library, &of);
    Ok(())
}

/// Puts a comparison into a report; where it is stopped it is left out.
pub(crate) fn put_comparison(
    filled: &mut report::Report,
    session: &Session,
    studies: Vec<(DocumentInfo, Loaded)>,
    draws: u64,
) -> Result<(), Vec<Diag>> {
    let own = studies.iter().map(|(_, loaded)| session.texts(&loaded.document)).collect::<Result<Vec<_>, _>>()?;
    let texts = session.texts(&studies[0].1.document)?;
    let drawing = Drawing::begin();
    let found = compare::compare(&texts, &own, studies, None, super::ideas::options(draws, 1), drawing.watch())?;
    filled.comparison = found.as_ref().map(report::comparison);
    Ok(())
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let context = &context.for_readers(args.readers.readers());
    if let (Some(_), Some(other)) = (context.release, args.against.first()) {
        let says = format!("a release is not set beside other studies, found `--against {other}`");
        return Err(vec![Diag::error("release-against", says).hint("leave one of them out")]);
    }
    let mut open = context.open(output)?;
    // beside the report for the house, not over it
    let name = args.readers.others().map_or_else(|| "report.html".to_owned(), |whom| format!("report-for-{whom}.html"));
    let file = args.out.clone().unwrap_or_else(|| context.folder().join(name));
    let drawing = Drawing::begin();
    let (document, study) = (&open.loaded.document, &open.study);
    let options = open.draws(args.draws)?;
    let found = ranges::of_headlines(document, study, &open.session.library, options, drawing.watch());
    drop(drawing);
    let mut filled = report::fill(document, study, &open.session.library, open.loaded.head, found.as_ref());
    match &open.release {
        Some(release) => {
            filled.scenario.state = format!("release {}, entry {} of the journal", release.number, open.loaded.head);
        }
        // ideas reach for calculations beyond those a release froze
        None if options.most > 0 => {
            put_ideas(&mut filled, &open.session, document, study, options.most.min(REPORT_IDEA_DRAWS), !args.no_set)?;
        }
        None => {}
    }
    if !args.against.is_empty() {
        // by the name in the workspace: that of a masked study is another one
        let known = open.session.workspace.documents().map_err(|d| vec![d])?.into_iter().find(|d| d.id == open.info.id);
        let own = known.map_or_else(|| open.info.name.clone(), |d| d.name);
        let names: Vec<String> = std::iter::once(own).chain(args.against.iter().cloned()).collect();
        let mut studies = Vec::new();
        for (info, loaded) in compare::load(&open.session.workspace, &names)? {
            match info.id == open.info.id {
                true => studies.push((open.info.clone(), open.loaded.clone())),
                false => studies.push(context.masked(&mut open.session, info, loaded, output)?),
            }
        }
        put_comparison(&mut filled, &open.session, studies, options.most.clamp(128, REPORT_IDEA_DRAWS))?;
    }
    report::put_pictures(&mut filled, document, |digest| open.session.photo(digest).ok().flatten());
    files::write(&file, report::html(&filled).as_bytes()).map_err(|d| vec![d])?;
    if output.json {
        output.json(&serde_json::json!({ "ok": true, "report": file.display().to_string(), "readers": context.told() }));
    } else {
        output.line(file.display().to_string());
    }
    Ok(said(&open.study.problems, output))
}
