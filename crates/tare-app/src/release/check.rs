//! Computing a release again, and holding every bit against what it came to.

use super::make::drawn;
use super::values::{Bits, Values};
use super::{Headline, Program, Release};
use crate::ranges::headlines;
use crate::session::Session;
use crate::workspace::{DocumentInfo, Workspace};
use serde::Serialize;
use tare_analysis::Stop;
use tare_diag::{Diag, Place};
use tare_store::Journals;
use tare_study::{LineRef, Study};

/// How a release came out when it was computed again.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The release.
    pub release: Release,
    /// How many lines, headlines and draws were the same, bit for bit.
    pub same: Same,
    /// Why it was not reproduced; none where it was.
    pub why_not: Option<Diag>,
}

/// What was the same.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Same {
    /// Lines.
    pub lines: usize,
    /// Headlines.
    pub headlines: usize,
    /// Draws behind them.
    pub draws: u64,
}

impl Session {
    /// Computes a release again: the journal as it was, the texts it froze, the same draws; and compares every bit. The answer is the same on any
    /// number of threads.
    ///
    /// # Errors
    /// There is no such release, the store does not read, or it was stopped. That it does not reproduce is an answer, not an error.
    pub fn check_release(
        &self,
        info: &DocumentInfo,
        number: u64,
        threads: usize,
        program: &Program,
        stop: Stop<'_>,
    ) -> Result<Checked, Vec<Diag>> {
        let release = self.workspace.release(info, number).map_err(|d| vec![d])?;
        let mut same = Same::default();
        let why_not = match self.reproduced(info, &release, (threads, program), &mut same, stop) {
            Ok(()) => None,
            Err(diag) if diag.code == "stopped" || diag.code.starts_with("store-") => return Err(vec![diag]),
            Err(diag) => Some(diag),
        };
        Ok(Checked { release, same, why_not })
    }

    fn reproduced(
        &self,
        info: &DocumentInfo,
        release: &Release,
        (threads, program): (usize, &Program),
        same: &mut Same,
        stop: Stop<'_>,
    ) -> Result<(), Diag> {
        let frozen = &release.frozen;
        same_arithmetic(release, program)?;
        let loaded = self.workspace.load_at(info, frozen.entry)?;
        if self.workspace.digest_of(info.id, frozen.entry)? != frozen.journal {
            let says = format!("the journal up to entry {} is not the one that was released", frozen.entry);
            return Err(Diag::error("release-journal", says).hint("restore the workspace from a backup"));
        }
        let texts = self.thawed(release)?;
        let study = texts.compile(&loaded.document);
        lines_as_they_were(release, &self.workspace.lines_of(release)?, &study)?;
        same.lines = frozen.lines.count;
        let watched = as_watched(&frozen.headlines, headlines(&loaded.document, &study))?;
        for (headline, (_, line)) in frozen.headlines.iter().zip(&watched) {
            agrees(&headline.name, "is", headline.value, study.value(*line))?;
        }
        same.headlines = frozen.headlines.len();
        let options = frozen.draws.options(threads)?;
        let Some((found, draws)) = drawn(&study, &watched, options, stop) else {
            return Err(Diag::error("stopped", "stopped before the draws were made"));
        };
        for (headline, now) in frozen.headlines.iter().zip(&found) {
            let then = &headline.drawn;
            agrees(&headline.name, "has the mean", then.mean, now.mean.0)?;
            agrees(&headline.name, "has the standard uncertainty", then.uncertainty, now.uncertainty.0)?;
            agrees(&headline.name, "has the lower end", then.low, now.low.0)?;
            agrees(&headline.name, "has the upper end", then.high, now.high.0)?;
            agrees(&headline.name, "has failed draws", Bits(then.failed as f64), now.failed as f64)?;
        }
        same.draws = draws.made;
        Ok(())
    }

    /// A warning where the lines shown as of a release are not the numbers it came to when it was made; none where they are.
    pub fn not_as_released(&self, release: &Release, study: &Study, program: &Program) -> Option<Diag> {
        let lines = || lines_as_they_were(release, &self.workspace.lines_of(release)?, study);
        same_arithmetic(release, program).and_then(|()| lines()).err().map(Diag::as_warning)
    }
}

impl Workspace {
    /// The line values of a release.
    ///
    /// # Errors
    /// They are not in the workspace, or do not read.
    pub(crate) fn lines_of(&self, release: &Release) -> Result<Values, Diag> {
        let lines = &release.frozen.lines;
        let text = |digest| self.store.text(digest).map_err(|e| e.diag());
        let kept = text(lines.names)?.zip(text(lines.values)?);
        kept.and_then(|(names, values)| Values::read(&names, &values)).ok_or_else(|| {
            let says = format!("the line values of release {} are not in the workspace", release.number);
            Diag::error("release-text-missing", says).hint("restore the workspace from a backup")
        })
    }
}

/// Whether a program computes with the arithmetic of a release.
fn same_arithmetic(release: &Release, program: &Program) -> Result<(), Diag> {
    let (number, frozen) = (release.number, &release.frozen);
    if program.numerics == frozen.numerics {
        return Ok(());
    }
    let says = format!(
        "release {number} was computed by {} with version {} of the arithmetic, this is {} with version {}",
        frozen.program, frozen.numerics, program.version, program.numerics
    );
    let hint = format!("{} reproduces it; `tare release show {number}` has the numbers as they were", frozen.program);
    Err(Diag::error("release-numerics", says).hint(hint))
}

/// Every line is what it was.
fn lines_as_they_were(release: &Release, then: &Values, study: &Study) -> Result<(), Diag> {
    let Some(differing) = then.first_difference(&Values::of(study)) else { return Ok(()) };
    let line = super::values::lines(study).find(|line| study.lines.address(*line) == differing.address);
    let shown = |value: Option<f64>| match (value, line) {
        (None, _) => "not there".to_owned(),
        (Some(value), Some(line)) => {
            let unit = study.lines.unit(line);
            format!("{} {}", unit.from_si(value), unit.text.replace("money", &study.currency))
        }
        (Some(value), None) => format!("{value} (SI)"),
    };
    let says = format!(
        "`{}` is {} in release {} and {} computed again, the first line that differs",
        differing.address,
        shown(differing.then),
        release.number,
        shown(differing.now)
    );
    let hint = format!("it was made by {}; this program compiles the study otherwise", release.frozen.program);
    Err(Diag::error("release-line", says).at(Place::address(differing.address)).hint(hint))
}

/// The lines of the headlines a release has, in its order, out of those there are.
fn as_watched(released: &[Headline], mut now: Vec<(String, LineRef)>) -> Result<Vec<(String, LineRef)>, Diag> {
    let taken = |headline: &Headline| {
        let at = now.iter().position(|(name, _)| *name == headline.name).ok_or_else(|| {
            Diag::error("release-line", format!("the headline `{}` is not there any more", headline.name))
                .at(Place::address(&headline.figure.address))
        })?;
        Ok(now.remove(at))
    };
    released.iter().map(taken).collect()
}

fn agrees(name: &str, what: &str, then: Bits, now: f64) -> Result<(), Diag> {
    if then == Bits(now) {
        return Ok(());
    }
    let says = format!("{name} {what} {} in the release and {now} computed again (SI)", then.0);
    Err(Diag::error("release-headline", says).at(Place::address(name)))
}
