//! `tare report`: the whole study as one HTML file, and as PDF.

mod watch;

use super::{Context, Open, Outcome, ReaderArgs, said};
use crate::output::Output;
use crate::progress::{Drawing, Progress};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use tare_app::browser::Browser;
use tare_app::idea::{self, SetAsked};
use tare_app::release::Release;
use tare_app::report::{Paper, Report, SMALLEST, chosen, section_names};
use tare_app::{Document, DocumentInfo, Loaded, Options, Session, Stop, Study, compare, files, pdf, ranges, report};
use tare_diag::{Diag, Place};

/// Write the report: one HTML file that needs nothing else, and PDF
///
/// On paper the reasons behind every number are left out unless asked for; the HTML file has them all.
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare report\n  tare report --out pack.html --draws 0\n  tare report --pdf pack.pdf --paper letter\n  tare report --pdf costs.pdf --sections summary,cost,tools,boundary\n  tare report --summary --pdf page.pdf     the one-page summary alone\n  tare report --against \"Pack B\" --against \"Pack C\"\n  tare report --release 1 --out release-1.html\n  tare report --for client                 masked; report-for-client.html\n  tare report --watch                      again after every entry, until Ctrl-C\n\nSections: summary drivers findings holds cost tools routes boundary mass parts joints time\nphotos evidence ranges ideas compare differs messages methods sources reasons\nPDF is printed by an installed browser: chromium, google-chrome, microsoft-edge ... on PATH,\nor the one TARE_BROWSER names.\nOf a release ranges are its own, and ideas are left out: the present library would find them."
)]
pub(crate) struct Args {
    /// File to write (else report.html in the workspace; summary.html, report-for-client.html)
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Print it as PDF too, through an installed browser of the Chromium family
    #[arg(long, value_name = "FILE", conflicts_with = "watch")]
    pdf: Option<PathBuf>,
    /// Size of paper: a4 or letter
    #[arg(long, value_name = "SIZE", default_value = "a4", value_parser = paper)]
    paper: Paper,
    /// Only the one-page summary
    #[arg(long, conflicts_with = "sections")]
    summary: bool,
    /// On paper too, print how every number came about (many pages)
    #[arg(long, conflicts_with = "summary")]
    reasons: bool,
    #[command(flatten)]
    content: Content,
    #[command(flatten)]
    readers: ReaderArgs,
    /// Write it again whenever the study, a rate book or the own library changes, until Ctrl-C
    #[arg(long)]
    watch: bool,
}

/// What a report is made of.
#[derive(Clone, Debug, clap::Args)]
pub(crate) struct Content {
    /// Only these sections, by name, with commas between; the cover says what is left out
    #[arg(long, value_name = "NAMES")]
    sections: Option<String>,
    /// The most draws for the ranges of the headlines (else 40960); 0 leaves ranges out (spreads are then first order)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(0..=20_000_000))]
    draws: Option<u64>,
    /// Set these studies beside it as well; as often as wanted
    #[arg(long, value_name = "STUDY")]
    against: Vec<String>,
    /// Leave the search for the best set of ideas out, which may take a while
    #[arg(long)]
    no_set: bool,
}

/// Studies that are set side by side.
type Studies = Vec<(DocumentInfo, Loaded)>;

/// A size of paper by its word.
pub(crate) fn paper(word: &str) -> Result<Paper, String> {
    let all = [Paper::A4, Paper::Letter];
    let found = all.into_iter().find(|p| p.word() == word.to_lowercase());
    found.ok_or_else(|| "expected a4 or letter".to_owned())
}

/// A count with its noun.
pub(crate) fn counted(n: usize, noun: &str) -> String {
    format!("{n} {noun}{}", if n == 1 { "" } else { "s" })
}

impl Content {
    /// The sections asked for; nothing where all are.
    fn chosen(&self) -> Result<Option<BTreeSet<String>>, Vec<Diag>> {
        self.sections.as_deref().map(chosen).transpose()
    }

    /// The report of an open study without its pictures.
    pub(crate) fn filled(
        &self,
        open: &mut Open,
        context: &Context,
        output: &Output,
        stop: Stop<'_>,
    ) -> Result<Report, Vec<Diag>> {
        let studies = self.studies(open, context, output)?;
        Wanted::of(self, open)?.whole(&open.session, &open.loaded.document, &open.study, open.loaded.head, studies, stop)
    }

    /// The studies of a comparison, the open one first, masked as it is; none where nothing is compared.
    fn studies(&self, open: &mut Open, context: &Context, output: &Output) -> Result<Studies, Vec<Diag>> {
        let Some(other) = self.against.first() else { return Ok(Vec::new()) };
        if open.release.is_some() {
            let says = format!("a release is not set beside other studies, found `--against {other}`");
            return Err(vec![Diag::error("release-against", says).hint("leave one of them out")]);
        }
        // by the name in the workspace: that of a masked study is another one
        let known = open.session.workspace.documents().map_err(|d| vec![d])?.into_iter().find(|d| d.id == open.info.id);
        let own = known.map_or_else(|| open.info.name.clone(), |d| d.name);
        let mut studies = Vec::new();
        for (info, loaded) in compare::load(&open.session.workspace, &self.compared(&own))? {
            match info.id == open.info.id {
                true => studies.push((open.info.clone(), open.loaded.clone())),
                false => studies.push(context.masked(&mut open.session, info, loaded, output)?),
            }
        }
        Ok(studies)
    }

    /// Names of the studies compared, the own one first.
    fn compared(&self, own: &str) -> Vec<String> {
        std::iter::once(own.to_owned()).chain(self.against.iter().cloned()).collect()
    }
}

impl Args {
    /// The file of the page.
    fn file(&self, context: &Context) -> PathBuf {
        // a summary does not take the place of the whole report
        let name = if self.summary { "summary" } else { "report" };
        // nor what is for others that of what is for the house
        let name = self.readers.others().map_or_else(|| format!("{name}.html"), |whom| format!("{name}-for-{whom}.html"));
        self.out.clone().unwrap_or_else(|| context.folder().join(name))
    }

    /// The same on this paper.
    fn on_paper<'a>(&self, wanted: Wanted<'a>) -> Wanted<'a> {
        Wanted { paper: self.paper, summary: self.summary, reasons: self.reasons, ..wanted }
    }
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
    stop: Stop<'_>,
) -> Result<(), Vec<Diag>> {
    let findings = idea::found(document, study, &session.library);
    let texts = session.texts(document)?;
    let options = super::ideas::options(draws, 1);
    let set = set.then(SetAsked::default);
    let found = idea::evaluate(&texts, document, study, findings.ideas.clone(), set, options, stop);
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
    studies: Studies,
    draws: u64,
    stop: Stop<'_>,
) -> Result<(), Vec<Diag>> {
    let own = studies.iter().map(|(_, loaded)| session.texts(&loaded.document)).collect::<Result<Vec<_>, _>>()?;
    let texts = session.texts(&studies[0].1.document)?;
    let found = compare::compare(&texts, &own, studies, None, super::ideas::options(draws, 1), stop)?;
    filled.comparison = found.as_ref().map(report::comparison);
    Ok(())
}

/// What is on a report, and of which study.
struct Wanted<'a> {
    chosen: Option<BTreeSet<String>>,
    options: Options,
    /// The release that is shown; what reaches for calculations beyond those it froze is left out.
    release: Option<&'a Release>,
    /// Whether the best set of ideas is looked for.
    set: bool,
    /// Whether other studies are set beside it.
    compared: bool,
    paper: Paper,
    summary: bool,
    reasons: bool,
}

impl<'a> Wanted<'a> {
    /// What is asked for of a study as it is.
    fn new(content: &Content) -> Result<Self, Vec<Diag>> {
        let usual = ranges::report_options();
        let options = Options { most: content.draws.unwrap_or(usual.most), ..usual };
        let (chosen, set, compared) = (content.chosen()?, !content.no_set, !content.against.is_empty());
        Ok(Self { chosen, options, release: None, set, compared, paper: Paper::default(), summary: false, reasons: false })
    }

    /// What is asked for of an open study, or of a release of it.
    fn of(content: &Content, open: &'a Open) -> Result<Self, Vec<Diag>> {
        Ok(Self { options: open.draws(content.draws)?, release: open.release.as_ref(), ..Self::new(content)? })
    }

    fn has(&self, id: &str) -> bool {
        if self.summary { id == "summary" } else { self.chosen.as_ref().is_none_or(|chosen| chosen.contains(id)) }
    }

    fn ideas(&self) -> bool {
        // the summary names the best three
        self.release.is_none() && self.options.most > 0 && (self.has("ideas") || self.has("summary"))
    }

    fn comparison(&self) -> bool {
        self.compared && self.has("compare")
    }

    fn set_printing(&self, filled: &mut Report) {
        filled.printing.paper = self.paper;
        filled.printing.chosen.clone_from(&self.chosen);
        filled.printing.summary_alone = self.summary;
        filled.reasons_off_paper = !(self.reasons || self.chosen.as_ref().is_some_and(|chosen| chosen.contains("reasons")));
    }

    /// Everything but pictures, computed until `stop` says otherwise.
    fn whole(
        &self,
        session: &Session,
        document: &Document,
        study: &Study,
        head: u64,
        studies: Studies,
        stop: Stop<'_>,
    ) -> Result<Report, Vec<Diag>> {
        let draws = self.options.most;
        let found = ranges::of_headlines(document, study, &session.library, self.options, stop);
        let mut filled = report::fill(document, study, &session.library, head, found.as_ref());
        self.set_printing(&mut filled);
        if let Some(release) = self.release {
            filled.scenario.state = format!("release {}, entry {head} of the journal", release.number);
            filled.cover.release = format!("{}, {}", release.number, release.says);
        }
        if self.ideas() {
            let draws = draws.min(REPORT_IDEA_DRAWS);
            put_ideas(&mut filled, session, document, study, draws, self.set && self.has("ideas"), stop)?;
        }
        if self.comparison() {
            put_comparison(&mut filled, session, studies, draws.clamp(128, REPORT_IDEA_DRAWS), stop)?;
        }
        Ok(filled)
    }
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let context = &context.for_readers(args.readers.readers());
    // names that do not read are said before anything is computed
    args.content.chosen()?;
    if args.watch {
        context.not_of_a_release("a report that is written again", "a release does not change: leave --watch out")?;
        if let Some(whom) = args.readers.others() {
            let says = format!("what is masked is looked at before it is given away, found `--watch` with `--for {whom}`");
            return Err(vec![Diag::error("watch-for-others", says).hint("leave one of them out")]);
        }
        return watch::run(args, context, output);
    }
    let mut open = context.open(output)?;
    let file = args.file(context);
    if args.pdf.as_ref() == Some(&file) {
        let says = "HTML and PDF would be written to one file".to_owned();
        return Err(vec![
            Diag::error("file-twice", says).at(Place::File(file.display().to_string())).hint("give --out another name"),
        ]);
    }
    let studies = args.content.studies(&mut open, context, output)?;
    let wanted = args.on_paper(Wanted::of(&args.content, &open)?);
    let (document, study) = (&open.loaded.document, &open.study);
    let drawing = Drawing::begin();
    let mut filled = wanted.whole(&open.session, document, study, open.loaded.head, studies, drawing.watch())?;
    drop(drawing);
    if let Some(told) = context.told().first() {
        filled.cover.reader = told.line().trim_start_matches("for ").to_owned();
        // what a release says of itself is for the house
        filled.cover.release = open.release.as_ref().map_or_else(String::new, |release| release.number.to_string());
    }
    if wanted.has("photos") {
        report::put_pictures(&mut filled, document, |digest| open.session.photo(digest).ok().flatten());
    }
    files::write(&file, report::html(&filled).as_bytes()).map_err(|d| vec![d])?;
    let pages = match &args.pdf {
        None => None,
        Some(pdf) => Some(print(filled, pdf, &file)?),
    };
    if output.json {
        let pdf = args.pdf.as_ref().map(|pdf| pdf.display().to_string());
        output.json(&serde_json::json!({
            "ok": true, "report": file.display().to_string(), "pdf": pdf, "pages": pages, "readers": context.told(),
        }));
    } else {
        output.line(file.display().to_string());
        if let (Some(pdf), Some(pages)) = (&args.pdf, pages) {
            output.line(format!("{}, {}", pdf.display(), counted(pages, "page")));
        }
    }
    let longer = pages.filter(|pages| args.summary && *pages > 1);
    let longer: Vec<Diag> = longer.into_iter().map(|pages| too_long(pages, &file)).collect();
    output.messages(&longer);
    Ok(said(&open.study.problems, output))
}

/// A summary that no text one can read puts on one page.
fn too_long(pages: usize, file: &Path) -> Diag {
    let says = format!("the summary takes {pages} pages, in the smallest text that reads too");
    Diag::warning("summary-long", says)
        .at(Place::File(file.display().to_string()))
        .hint("headlines, boundary topics and their words are what it holds: fewer or shorter ones make it one page")
}

/// Prints a report as PDF and tells its pages.
fn print(mut filled: Report, file: &Path, page: &Path) -> Result<usize, Vec<Diag>> {
    if filled.reasons_off_paper {
        // nothing on paper leads to them, and thousands of them would be laid out for nothing
        filled.reasons.clear();
    }
    let written = format!("the report itself is written: {}", page.display());
    let printed = {
        let _progress = Progress::of("printing the PDF");
        Browser::find().and_then(|browser| {
            if filled.printing.summary_alone { on_one_page(&browser, filled) } else { with_pages(&browser, filled) }
        })
    };
    let bytes = printed.map_err(|d| vec![d.hint(written)])?;
    files::write(file, &bytes).map_err(|d| vec![d])?;
    Ok(pdf::pages(&bytes))
}

/// The most times a report is printed until its page numbers hold.
const PRINTS: usize = 4;

/// Prints a report whose contents and links say on which page things are. That is known once it is printed, so it is printed again with the
/// numbers read from the last print, until they are those of the print itself; where that does not come about, without any.
fn with_pages(browser: &Browser, mut filled: Report) -> Result<Vec<u8>, Diag> {
    // numbers of two digits in the first print take the room that the true ones will
    filled.printing.pages = section_names().map(|(id, _)| (id.to_owned(), 88)).collect();
    for _ in 0..PRINTS {
        let bytes = browser.pdf(&report::html(&filled))?;
        let mut found = pdf::places(&bytes);
        found.retain(|id, _| section_names().any(|(name, _)| name == id));
        if found == filled.printing.pages {
            return Ok(bytes);
        }
        filled.printing.pages = found;
    }
    filled.printing.pages.clear();
    browser.pdf(&report::html(&filled))
}

/// Prints a summary on one page: in smaller text where it would run over, down to the smallest that reads.
fn on_one_page(browser: &Browser, mut filled: Report) -> Result<Vec<u8>, Diag> {
    loop {
        let bytes = browser.pdf(&report::html(&filled))?;
        if pdf::pages(&bytes) <= 1 || filled.printing.smaller >= SMALLEST {
            return Ok(bytes);
        }
        filled.printing.smaller += 2;
    }
}
