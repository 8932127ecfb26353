//! The report filled from a compiled study: every figure linked to its reason.

mod amount;
mod cards;
mod compare;
mod cost;
mod drivers;
mod evidence;
mod filling;
mod head;
mod ideas;
mod mass;
mod parts;
mod printing;
mod ranges;
mod reasons;
mod record;
mod time;

use crate::photo::{Limits, thumbnail};
use crate::ranges::Ranges;
pub(crate) use amount::placed;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
pub use cards::{Choice, cards};
pub use compare::comparison;
use filling::Filling;
pub use ideas::{IdeasOf, put_ideas};
pub use printing::{FIGURE_WIDTH, chosen, pngs};
use std::collections::BTreeMap;
use tare_library::Library;
use tare_model::{Document, Field};
pub use tare_report::{
    CARDS_PER_PAGE, Cards, Comparison, FigureFile, Link, Paper, Report, SMALLEST, cards_html, comparison_html, figures,
    section_names, sections,
};
use tare_study::Study;

/// Width of a picture in a report, in pixels: it fills its column on a screen and prints well.
const PICTURE_WIDTH: u32 = 640;

/// Fills a report. `head` is the number of the last entry of the study's journal; without `ranges` spreads are first order.
pub fn fill(document: &Document, study: &Study, library: &Library, head: u64, ranges: Option<&Ranges>) -> Report {
    let mut f = Filling::new(document, study, library, ranges);
    let mut report = Report { title: f.study_name(), reasons_off_paper: true, ..Report::default() };
    head::fill(&mut f, &mut report, head);
    report.parts = parts::parts(&mut f);
    report.photos = record::photos(&f);
    report.mass = mass::mass(&mut f);
    report.joints = mass::joints(&mut f);
    report.time = time::time(&mut f);
    report.cost = cost::cost(&mut f);
    report.evidence = evidence::evidence(&mut f);
    report.ranges = ranges.map(|r| ranges::ranges(&mut f, r)).unwrap_or_default();
    report.findings = record::findings(&f);
    report.holds = record::holds(&f);
    report.differs = record::differs(&f);
    report.problems = study.problems.iter().map(Into::into).collect();
    report.methods = reasons::methods(&f);
    report.sources = reasons::sources(&f);
    report.reasons = reasons::reasons(&mut f);
    report
}

/// Puts the pictures of photos into a report, small and without what says where they were taken. One that is not in the workspace, or does not
/// decode, is left out, which the page says.
pub fn put_pictures(report: &mut Report, document: &Document, bytes_of: impl Fn(&str) -> Option<Vec<u8>>) {
    put_pictures_kept(report, document, bytes_of, &mut BTreeMap::new());
}

/// As [`put_pictures`], with the pictures that were made small before, by the digest of their photo.
pub fn put_pictures_kept(
    report: &mut Report,
    document: &Document,
    bytes_of: impl Fn(&str) -> Option<Vec<u8>>,
    kept: &mut BTreeMap<String, Option<String>>,
) {
    for photo in &mut report.photos {
        let record = crate::id_of_text(&photo.id).and_then(|id| document.get(id));
        let Some(digest) = record.and_then(|record| record.text(Field::Digest)) else { continue };
        photo.data = kept.entry(digest.to_owned()).or_insert_with(|| small(&bytes_of(digest)?)).clone();
    }
}

/// A photo made small, for an address that holds it; nothing where it does not decode.
fn small(bytes: &[u8]) -> Option<String> {
    let small = thumbnail(bytes, PICTURE_WIDTH, &Limits::default()).ok()?;
    Some(format!("data:image/jpeg;base64,{}", STANDARD.encode(small)))
}

/// The style of a report's sections, for pages that show some of them.
pub fn style() -> String {
    tare_report::page_style()
}

/// The report as one page of HTML that loads nothing.
pub fn html(report: &Report) -> String {
    tare_report::html(report)
}
