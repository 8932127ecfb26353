//! Computing a release again, and holding every bit against what it came to.

use super::make::drawn;
use super::values::{Bits, Values};
use super::{Headline, Program, Release};
use crate::ranges::headlines;
use crate::session::Session;
use crate::workspace::DocumentInfo;
use serde::Serialize;
use tare_analysis::{Options, Stop};
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
        if program.numerics != frozen.numerics {
            let says = format!(
                "release {} was computed by {} with version {} of the arithmetic, this is {} with version {}",
                release.number, frozen.program, frozen.numerics, program.version, program.numerics
            );
            let hint = format!("{} reproduces it; `tare walk` shows what it comes to now", frozen.program);
            return Err(Diag::error("release-numerics", says).hint(hint));
        }
        let loaded = self.workspace.load_at(info, frozen.entry)?;
        if self.workspace.digest_of(info.id, frozen.entry)? != frozen.journal {
            let says = format!("the journal up to entry {} is not the one that was released", frozen.entry);
            return Err(Diag::error("release-journal", says).hint("restore the workspace from a backup"));
        }
        let texts = self.thawed(release)?;
        let study = texts.compile(&loaded.document);
        self.lines_as_they_were(release, &study)?;
        same.lines = frozen.lines.count;
        let watched = as_watched(&frozen.headlines, headlines(&loaded.document, &study))?;
        for (headline, (_, line)) in frozen.headlines.iter().zip(&watched) {
            agrees(&headline.name, "is", headline.value, study.value(*line))?;
        }
        same.headlines = frozen.headlines.len();
        let Some(layout) = frozen.draws.layout() else {
            let says = format!("random numbers laid out as `{}` are not known to {}", frozen.draws.layout, program.version);
            return Err(Diag::error("release-draws", says));
        };
        let options = Options {
            seed: frozen.draws.seed,
            coverage: frozen.draws.coverage.0,
            most: frozen.draws.made,
            least: frozen.draws.made,
            threads,
            layout,
            ..Options::default()
        };
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

    /// Every line is what it was.
    fn lines_as_they_were(&self, release: &Release, study: &Study) -> Result<(), Diag> {
        let lines = &release.frozen.lines;
        let text = |digest| self.workspace.store.text(digest).map_err(|e| e.diag());
        let kept = text(lines.names)?.zip(text(lines.values)?);
        let Some(then) = kept.and_then(|(names, values)| Values::read(&names, &values)) else {
            let says = format!("the line values of release {} are not in the workspace", release.number);
            return Err(Diag::error("release-text-missing", says).hint("restore the workspace from a backup"));
        };
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
    Err(Diag::error("release-draws", says).at(Place::address(name)))
}
