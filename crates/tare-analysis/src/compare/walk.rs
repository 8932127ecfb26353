//! A walk from one state of a study to another, factor by factor.

use tare_study::{Joined, LineRef, Over, Sources, Study};

/// One step of a walk: the study with this factor alone changed.
#[derive(Clone, Copy, Debug)]
pub struct Factor<'a> {
    /// What is changed.
    pub name: &'a str,
    /// The study with it alone.
    pub alone: &'a Study,
    /// The study with it and all before it.
    pub so_far: &'a Study,
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

/// A walk over the total cost from a study, factor by factor: each is computed alone, and behind those before it; what that makes beyond each
/// alone is a row of its own. It ends where the last factor has come to all before it. `sources` is what the first was compiled from.
pub fn walk(sources: Sources<'_>, start: &Study, factors: &[Factor<'_>]) -> Walk {
    let mut studies: Vec<(&str, &Study)> = vec![("", start)];
    studies.extend(factors.iter().map(|f| (f.name, f.alone)));
    let order: Vec<String> = factors.iter().map(|f| format!("up to {}", f.name)).collect();
    studies.extend(order.iter().map(String::as_str).zip(factors.iter().map(|f| f.so_far)));
    let mut joined = Joined::new(sources, &studies);
    let lines = lines(&mut joined, start, factors);
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
    let given =
        [("start", Over::One(start)), ("end", Over::One(end)), ("steps", Over::Many(&each)), ("in_order", Over::Many(&each))];
    let block = joined.place(subject, "quote", "roll-ups/walk", &given)?;
    // kinds of cost do nothing together: what is left over is what the model does not explain
    let (interaction, rest) = (joined.line_of(block, "rest")?, joined.line_of(block, "interaction")?);
    Some(WalkLines { start, steps, interaction, end, rest })
}

fn lines(joined: &mut Joined<'_>, start: &Study, factors: &[Factor<'_>]) -> Option<WalkLines> {
    let from = joined.line(0, start.totals.cost?);
    let (mut steps, mut in_order, mut before) = (Vec::new(), Vec::new(), from);
    for (at, factor) in factors.iter().enumerate() {
        let alone = joined.line(at + 1, factor.alone.totals.cost?);
        let so_far = joined.line(at + 1 + factors.len(), factor.so_far.totals.cost?);
        let subject = joined.subject(&format!("walk {}", factor.name), factor.name, None);
        let mut change = |name: &str, before: LineRef, after: LineRef| {
            let given = [("before", Over::One(before)), ("after", Over::One(after))];
            joined.roll(subject, name, "roll-ups/change-cost", &given, "change")
        };
        steps.push((factor.name.to_owned(), change("alone", from, alone)?));
        in_order.push(change("behind the others", before, so_far)?);
        before = so_far;
    }
    let subject = joined.subject("walk", "walk", None);
    let each: Vec<LineRef> = steps.iter().map(|(_, line)| *line).collect();
    let given = [
        ("start", Over::One(from)),
        ("end", Over::One(before)),
        ("steps", Over::Many(&each)),
        ("in_order", Over::Many(&in_order)),
    ];
    let block = joined.place(subject, "total", "roll-ups/walk", &given)?;
    Some(WalkLines {
        start: from,
        steps,
        interaction: joined.line_of(block, "interaction")?,
        end: before,
        rest: joined.line_of(block, "rest")?,
    })
}
