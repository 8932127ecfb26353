//! Ideas as lines: what a study is before and after, subtracted in formula text.

use std::collections::{BTreeMap, BTreeSet};
use tare_engine::NodeId;
use tare_model::Id;
use tare_study::{CostKind, Joined, LineRef, Over, Sources, Study, SubjectId};

/// A study with one idea, or several, carried out.
#[derive(Clone, Copy, Debug)]
pub struct Variant<'a> {
    /// What addresses of its lines begin with.
    pub name: &'a str,
    /// The ideas in it: records that may state a one-off cost.
    pub ideas: &'a [Id],
    /// The study compiled with them.
    pub study: &'a Study,
}

/// A study and its variants in one graph, with lines for what differs.
#[derive(Debug)]
pub struct Changes {
    /// All lines.
    pub study: Study,
    /// One for each variant, or why there is none.
    pub ideas: Vec<Result<IdeaLines, String>>,
    /// The node of the product's cost before, and after in each variant.
    pub(crate) costs: (Option<NodeId>, Vec<Option<NodeId>>),
}

/// What a variant changes. Savings are positive where money is saved; all else is after less before.
#[derive(Clone, Debug)]
pub struct IdeaLines {
    /// Cost of one product as it was.
    pub before: LineRef,
    /// Cost of one product with the idea.
    pub after: LineRef,
    /// Piece cost saved.
    pub saving: LineRef,
    /// The same when the one-off cost is paid back over the life of the product.
    pub net_saving: LineRef,
    /// One-off cost; none where none is stated.
    pub one_off: Option<LineRef>,
    /// Change of the investment in tools.
    pub investment: LineRef,
    /// Investment and one-off cost together.
    pub stake: LineRef,
    /// Saving of a product without the charge for tools.
    pub running_saving: LineRef,
    /// Net saving of a year.
    pub yearly_net: LineRef,
    /// Payback time and turning-point volume; none where nothing is saved.
    pub payback: Option<(LineRef, LineRef)>,
    /// Change of the mass of one product.
    pub mass: Option<LineRef>,
    /// Change of the manual seconds of one product.
    pub seconds: Option<LineRef>,
    /// Change of the operators on all lines.
    pub operators: Option<LineRef>,
    /// Change of the pieces in one product.
    pub parts: LineRef,
    /// Change of the joints in one product.
    pub joints: LineRef,
    /// Ideal-time share before and after, where it is known.
    pub ideal_share: Option<(LineRef, LineRef)>,
}

/// Pieces of one product, assemblies not counted, and its joints.
pub(crate) fn counted(study: &Study) -> (f64, f64) {
    let mut has_children = vec![false; study.parts.len()];
    for parent in study.parts.iter().filter_map(|part| part.parent) {
        has_children[parent] = true;
    }
    let pieces = study.parts.iter().zip(has_children).filter(|(_, has)| !has).map(|(part, _)| part.pieces).sum();
    (pieces, study.joints.iter().map(|joint| study.value(joint.count) * joint.assemblies).sum())
}

/// The parts at the ends of the tree that have a mass: how many are in the product, and the mass of one.
fn ends(study: &Study) -> BTreeMap<Id, (f64, LineRef)> {
    let inner: BTreeSet<usize> = study.parts.iter().filter_map(|part| part.parent).collect();
    let ends = study.parts.iter().enumerate().filter(|(at, _)| !inner.contains(at));
    ends.filter_map(|(_, part)| Some((part.id, (part.pieces, part.mass?)))).collect()
}

/// Joins a study with variants of it and writes what each changes. `sources` is what the study was compiled from; its records hold the ideas with
/// their one-off costs.
pub fn changes(sources: Sources<'_>, before: &Study, variants: &[Variant<'_>]) -> Changes {
    let studies: Vec<(&str, &Study)> = std::iter::once(("", before)).chain(variants.iter().map(|v| (v.name, v.study))).collect();
    let mut joined = Joined::new(sources, &studies);
    let mut writing = Writing { joined: &mut joined, before };
    let ideas: Vec<Result<IdeaLines, String>> =
        variants.iter().enumerate().map(|(at, variant)| writing.idea(at + 1, variant)).collect();
    let base = before.totals.cost.map(|line| joined.line(0, line));
    let afters: Vec<Option<LineRef>> =
        variants.iter().enumerate().map(|(at, v)| v.study.totals.cost.map(|line| joined.line(at + 1, line))).collect();
    let study = joined.finish();
    let number = |lines: IdeaLines| {
        let known = study.value(lines.net_saving).is_finite() && study.value(lines.stake).is_finite();
        if known { Ok(lines) } else { Err("its gain is no number: an exchange rate or another input is missing".to_owned()) }
    };
    let ideas = ideas.into_iter().map(|idea| idea.and_then(number)).collect();
    let node = |line: LineRef| study.lines.node(line);
    let costs = (base.map(node), afters.into_iter().map(|line| line.map(node)).collect());
    Changes { study, ideas, costs }
}

struct Writing<'w, 'a> {
    joined: &'w mut Joined<'a>,
    before: &'w Study,
}

impl Writing<'_, '_> {
    /// The lines of one variant, or why there are none.
    fn idea(&mut self, at: usize, variant: &Variant<'_>) -> Result<IdeaLines, String> {
        let (before, after) = (self.before, variant.study);
        let lacks = |what: &str| format!("{what}, so that nothing can be said of its gain");
        let uncosted = |study: &Study| -> BTreeSet<Id> { study.items.iter().filter(|i| i.uncosted).map(|i| i.id).collect() };
        let known = uncosted(before);
        let new: Vec<&str> =
            after.items.iter().filter(|i| i.uncosted && !known.contains(&i.id)).map(|i| i.name.as_str()).collect();
        if !new.is_empty() {
            return Err(lacks(&format!("with it these have no cost: {}", new.join(", "))));
        }
        let old_cost = before.totals.cost.ok_or_else(|| lacks("the study has no cost"))?;
        let new_cost = after.totals.cost.ok_or_else(|| lacks("with it the product has no cost"))?;
        let subject = self.joined.subject(&format!("idea {}", variant.name), variant.name, variant.ideas.first().copied());
        let cost = (self.joined.line(0, old_cost), self.joined.line(at, new_cost));
        let mut one_offs: Vec<LineRef> = Vec::new();
        for idea in variant.ideas {
            match self.joined.stated(*idea, "one_off") {
                Some(line) => one_offs.push(line),
                None if self.joined.states(*idea, "one_off") => return Err(lacks("its one-off cost has no value")),
                None => {}
            }
        }
        let one_off = match one_offs.as_slice() {
            [] => None,
            [one] => Some(*one),
            many => self.joined.roll(subject, "one-off cost", "roll-ups/sum", &[("terms", Over::Many(many))], "total"),
        };
        let volume = before.totals.volume.ok_or_else(|| lacks("the scenario states no volume"))?;
        let volume = self.joined.line(0, volume);
        let life = self.joined.scenario("life").ok_or_else(|| lacks("the scenario states no life"))?;
        let interest = self.joined.rate("interest").ok_or_else(|| lacks("the rates state no interest"))?;
        let ramp = self.joined.ramp();
        let mut given = vec![
            ("cost_before", Over::One(cost.0)),
            ("cost_after", Over::One(cost.1)),
            ("volume", Over::One(volume)),
            ("life", Over::One(life)),
            ("interest", Over::One(interest)),
        ];
        given.extend(one_off.map(|line| ("one_off", Over::One(line))));
        if let Some((numbers, volumes)) = &ramp {
            given.extend([("year_number", Over::Many(numbers)), ("year_volume", Over::Many(volumes))]);
        }
        let of_kind = |study: &Study| study.totals.by_kind.iter().find(|(k, _)| *k == CostKind::Tooling).map(|(_, line)| *line);
        let sides = [
            ("tools_before", 0, of_kind(before)),
            ("tools_after", at, of_kind(after)),
            ("investment_before", 0, before.totals.investment),
            ("investment_after", at, after.totals.investment),
        ];
        for (input, study, line) in sides {
            given.extend(line.map(|line| (input, Over::One(self.joined.line(study, line)))));
        }
        let lumps = |study: &Study| study.tools.iter().filter(|t| t.lump).filter_map(|t| t.investment).collect::<Vec<_>>();
        for (input, number, study) in [("lump_before", 0, before), ("lump_after", at, after)] {
            let lines: Vec<LineRef> = lumps(study).into_iter().map(|line| self.joined.line(number, line)).collect();
            if !lines.is_empty() {
                let sum = self.joined.roll(subject, input, "roll-ups/sum", &[("terms", Over::Many(&lines))], "total");
                given.extend(sum.map(|line| (input, Over::One(line))));
            }
        }
        let found = self.lines(subject, at, after, &given, cost, one_off, [volume, life]);
        found.ok_or_else(|| "bug: a roll-up of ideas lacks an input".to_owned())
    }

    #[expect(clippy::too_many_arguments, reason = "what was looked up step by step, each with its own message")]
    fn lines(
        &mut self,
        subject: SubjectId,
        at: usize,
        after: &Study,
        given: &[(&str, Over<'_>)],
        cost: (LineRef, LineRef),
        one_off: Option<LineRef>,
        [volume, life]: [LineRef; 2],
    ) -> Option<IdeaLines> {
        let before = self.before;
        let block = self.joined.place(subject, "change", "roll-ups/idea", given)?;
        let line = |joined: &Joined<'_>, name: &str| joined.line_of(block, name);
        let (saving, running) = (line(self.joined, "saving")?, line(self.joined, "running_saving")?);
        let stake = line(self.joined, "stake")?;
        let payback = self.payback(subject, [stake, running, volume, life]);
        let numbers = (counted(before), counted(after));
        Some(IdeaLines {
            before: cost.0,
            after: cost.1,
            saving,
            net_saving: line(self.joined, "net_saving")?,
            one_off,
            investment: line(self.joined, "investment")?,
            stake,
            running_saving: running,
            yearly_net: line(self.joined, "yearly_net")?,
            payback,
            mass: self.mass(subject, at, after),
            seconds: self.change(subject, at, "manual time", "time", (before.totals.manual, after.totals.manual)),
            operators: self.operators(subject, at, after),
            parts: self.number(subject, "pieces", (numbers.0.0, numbers.1.0))?,
            joints: self.number(subject, "joints", (numbers.0.1, numbers.1.1))?,
            ideal_share: match (before.totals.ideal_share, after.totals.ideal_share) {
                (Some(old), Some(new)) => Some((self.joined.line(0, old), self.joined.line(at, new))),
                _ => None,
            },
        })
    }

    /// Payback says something only where something is saved: the lines are there always, whoever shows them looks at the saving.
    fn payback(&mut self, subject: SubjectId, [stake, running, volume, life]: [LineRef; 4]) -> Option<(LineRef, LineRef)> {
        let given = [
            ("stake", Over::One(stake)),
            ("running_saving", Over::One(running)),
            ("volume", Over::One(volume)),
            ("life", Over::One(life)),
        ];
        let block = self.joined.place(subject, "payback", "roll-ups/idea-payback", &given)?;
        Some((self.joined.line_of(block, "payback")?, self.joined.line_of(block, "turning_volume")?))
    }

    /// A line after less before; what is not there counts nothing.
    fn change(
        &mut self,
        subject: SubjectId,
        at: usize,
        name: &str,
        what: &str,
        sides: (Option<LineRef>, Option<LineRef>),
    ) -> Option<LineRef> {
        let before: Vec<LineRef> = sides.0.map(|line| self.joined.line(0, line)).into_iter().collect();
        let after: Vec<LineRef> = sides.1.map(|line| self.joined.line(at, line)).into_iter().collect();
        if before.is_empty() && after.is_empty() {
            return None;
        }
        let given = [("before", Over::Many(&before)), ("after", Over::Many(&after))];
        self.joined.roll(subject, name, &format!("roll-ups/change-{what}"), &given, "change")
    }

    /// Change of mass from the parts at the ends of the tree: what was weighed whole does not move when a part of it goes. Parts that are alike
    /// on both sides are left out.
    fn mass(&mut self, subject: SubjectId, at: usize, after: &Study) -> Option<LineRef> {
        let ends = [ends(self.before), ends(after)];
        self.before.totals.mass.or(after.totals.mass)?;
        let mut sides = Vec::new();
        for (name, number, own, other) in [("mass before", 0, &ends[0], &ends[1]), ("mass after", at, &ends[1], &ends[0])] {
            let (mut counts, mut masses) = (Vec::new(), Vec::new());
            for (part, (pieces, line)) in own {
                let mass = self.joined.line(number, *line);
                let there = other.get(part).is_some_and(|(many, line)| {
                    many == pieces && self.joined.same(mass, self.joined.line(if number == 0 { at } else { 0 }, *line))
                });
                if !there {
                    counts.push(self.joined.count(subject, &format!("pieces {name}"), *pieces, "counts up the parts tree"));
                    masses.push(mass);
                }
            }
            let given = [("counts", Over::Many(&counts)), ("masses", Over::Many(&masses))];
            sides.push(self.joined.roll(subject, name, "roll-ups/sum-mass", &given, "mass")?);
        }
        let given = [("before", Over::Many(&sides[..1])), ("after", Over::Many(&sides[1..]))];
        self.joined.roll(subject, "mass", "roll-ups/change-mass", &given, "change")
    }

    fn operators(&mut self, subject: SubjectId, at: usize, after: &Study) -> Option<LineRef> {
        let mut sides = Vec::new();
        for (name, number, study) in [("operators before", 0, self.before), ("operators after", at, after)] {
            let lines: Vec<LineRef> =
                study.line_balances.iter().filter_map(|l| l.operators).map(|line| self.joined.line(number, line)).collect();
            sides.push(self.joined.roll(subject, name, "roll-ups/sum-count", &[("terms", Over::Many(&lines))], "total")?);
        }
        if self.before.line_balances.is_empty() && after.line_balances.is_empty() {
            return None;
        }
        let given = [("before", Over::Many(&sides[..1])), ("after", Over::Many(&sides[1..]))];
        self.joined.roll(subject, "operators", "roll-ups/change-count", &given, "change")
    }

    fn number(&mut self, subject: SubjectId, name: &str, (before, after): (f64, f64)) -> Option<LineRef> {
        let source = "counted over the parts list";
        let sides = [("before", before), ("after", after)]
            .map(|(side, number)| self.joined.count(subject, &format!("{name} {side}"), number, source));
        let given = [("before", Over::Many(&sides[..1])), ("after", Over::Many(&sides[1..]))];
        self.joined.roll(subject, name, "roll-ups/change-count", &given, "change")
    }
}
