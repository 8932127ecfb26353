//! A walk from one state of a study to another, factor by factor.

use tare_study::{Joined, LineRef, Over, Sources, Study};

/// One step of a walk: the study with this factor alone changed.
#[derive(Clone, Copy, Debug)]
pub struct Factor<'a> {
    /// What is changed.
    pub name: &'a str,
    /// The study with it alone.
    pub study: &'a Study,
}

/// The lines of a walk.
#[derive(Clone, Debug)]
pub struct WalkLines {
    /// Where it begins.
    pub start: LineRef,
    /// Each factor alone, in the order stated.
    pub steps: Vec<(String, LineRef)>,
    /// What the factors do together beyond that.
    pub interaction: LineRef,
    /// Where it ends.
    pub end: LineRef,
    /// What is left unexplained: nothing, up to rounding.
    pub rest: LineRef,
}

/// A walk with all its lines.
#[derive(Debug)]
pub struct Walk {
    /// All lines.
    pub study: Study,
    /// The walk; none where one of the totals is not known.
    pub lines: Option<WalkLines>,
}

/// A walk over the total cost from a study to another that differs by all factors; each factor is computed alone, what they do together is a row of its
/// own. `sources` is what the first was compiled from.
pub fn walk(sources: Sources<'_>, start: &Study, factors: &[Factor<'_>], end: &Study) -> Walk {
    let mut studies: Vec<(&str, &Study)> = vec![("start", start)];
    studies.extend(factors.iter().map(|f| (f.name, f.study)));
    studies.push(("end", end));
    let mut joined = Joined::new(sources, &studies);
    let lines = lines(&mut joined, start, factors, end);
    Walk { study: joined.finish(), lines }
}

/// A walk from nothing to a quoted price over the kinds of cost that the model sees in one piece of a part; what is left over is the
/// interaction row: what the model does not explain of the price, or the price not of the model.
pub fn quoted(sources: Sources<'_>, study: &Study, part: usize, price: LineRef) -> Walk {
    let mut joined = Joined::new(sources, &[("", study)]);
    let lines = quoted_lines(&mut joined, study, part, price);
    Walk { study: joined.finish(), lines }
}

fn quoted_lines(joined: &mut Joined<'_>, study: &Study, part: usize, price: LineRef) -> Option<WalkLines> {
    let row = study.parts.get(part)?;
    let subject = joined.subject(&format!("walk {}", row.label), &row.name, Some(row.item));
    let start = joined.nothing(subject, "nothing", &format!("0 {}", study.currency));
    let end = joined.line(0, price);
    let steps: Vec<(String, LineRef)> =
        row.kinds.iter().map(|(kind, line)| (kind.word().to_owned(), joined.line(0, *line))).collect();
    let each: Vec<LineRef> = steps.iter().map(|(_, line)| *line).collect();
    let given = [("start", Over::One(start)), ("end", Over::One(end)), ("steps", Over::Many(&each))];
    let block = joined.place(subject, "quote", "roll-ups/walk", &given)?;
    let (interaction, rest) = (joined.line_of(block, "interaction")?, joined.line_of(block, "rest")?);
    Some(WalkLines { start, steps, interaction, end, rest })
}

fn lines(joined: &mut Joined<'_>, start: &Study, factors: &[Factor<'_>], end: &Study) -> Option<WalkLines> {
    let from = joined.line(0, start.totals.cost?);
    let to = joined.line(factors.len() + 1, end.totals.cost?);
    let mut steps = Vec::new();
    for (at, factor) in factors.iter().enumerate() {
        let alone = joined.line(at + 1, factor.study.totals.cost?);
        let subject = joined.subject(&format!("walk {}", factor.name), factor.name, None);
        let given = [("before", Over::One(from)), ("after", Over::One(alone))];
        steps.push((factor.name.to_owned(), joined.roll(subject, "alone", "roll-ups/change-cost", &given, "change")?));
    }
    let subject = joined.subject("walk", "walk", None);
    let each: Vec<LineRef> = steps.iter().map(|(_, line)| *line).collect();
    let given = [("start", Over::One(from)), ("end", Over::One(to)), ("steps", Over::Many(&each))];
    let block = joined.place(subject, "total", "roll-ups/walk", &given)?;
    Some(WalkLines {
        start: from,
        steps,
        interaction: joined.line_of(block, "interaction")?,
        end: to,
        rest: joined.line_of(block, "rest")?,
    })
}
