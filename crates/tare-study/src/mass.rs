//! Mass: per item, per part, weighed whole against the sum of its parts, by material.
//!
//! A part weighed in several states has two masses: as made (clean) for cost and handling, and in the state of the weighed whole above it
//! for the balance.

use crate::builder::{Builder, Given};
use crate::circle::Question;
pub(crate) use crate::constituents::constituents;
use crate::lines::{LineRef, Lines};
use crate::pick::{Asked, Picked, is_clean};
use crate::tables::{MassHow, MassRow, PartRow};
use rustc_hash::FxHashMap as HashMap;
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

/// Masses found so far, by part.
#[derive(Default)]
pub(crate) struct Masses {
    /// In the state of the balance.
    adopted: HashMap<usize, (Option<LineRef>, MassHow)>,
    /// As made.
    made: HashMap<usize, Option<LineRef>>,
    sums: HashMap<usize, (Option<LineRef>, usize)>,
    /// The state each part's mass is asked in; parts depth-first.
    asked: Vec<Asked>,
}

impl<'a> Builder<'a> {
    /// Mass of one piece of an item as made, however it is known: what cost, handling and estimates need.
    pub(crate) fn item_mass(&mut self, item: Id) -> Option<LineRef> {
        self.answered(Question::ItemMass(item), |b| {
            let part = b.index.parts_of_item.get(&item).and_then(|p| p.first().copied());
            match part {
                Some(part) => b.made_mass(part),
                None => {
                    let subject = b.record_subject(item);
                    b.chosen(subject, item, "mass")
                }
            }
        })
    }

    /// The adopted mass of a part: in the state of the weighed whole it belongs to.
    pub(crate) fn adopted(&mut self, part: usize) -> Option<LineRef> {
        if let Some(known) = self.part_masses.adopted.get(&part) {
            return known.0;
        }
        let made = self.answered(Question::PartMass(part), |b| Some(b.part_mass(part))).unwrap_or((None, MassHow::Unknown));
        self.part_masses.adopted.insert(part, made);
        made.0
    }

    fn how(&mut self, part: usize) -> MassHow {
        self.adopted(part);
        self.part_masses.adopted.get(&part).map_or(MassHow::Unknown, |m| m.1)
    }

    /// The mass of a part as made: another one than the adopted where it was weighed in several states.
    fn made_mass(&mut self, part: usize) -> Option<LineRef> {
        if let Some(known) = self.part_masses.made.get(&part) {
            return *known;
        }
        let made = self.answered(Question::MadeMass(part), |b| {
            let adopted = b.adopted(part);
            match b.how(part) {
                MassHow::Weighed | MassHow::Stated => b.weighed(part, &Asked::Made).map(|w| w.0).or(adopted),
                MassHow::Sum => b.made_of_children(part, adopted),
                MassHow::Difference | MassHow::Share | MassHow::Unknown => adopted,
            }
        });
        self.part_masses.made.insert(part, made);
        made
    }

    fn made_of_children(&mut self, part: usize, adopted: Option<LineRef>) -> Option<LineRef> {
        let (mut counts, mut masses, mut same) = (Vec::new(), Vec::new(), true);
        for child in self.index.parts[part].children.clone() {
            let Some(mass) = self.made_mass(child) else { continue };
            same &= self.adopted(child) == Some(mass);
            counts.push(self.count_line(child));
            masses.push(mass);
        }
        if same {
            return adopted;
        }
        let subject = self.record_subject(self.index.parts[part].record.id);
        let given = [("counts", Given::Many(&counts)), ("masses", Given::Many(&masses))];
        self.roll(subject, "sum of parts as made", "roll-ups/sum-mass", &given, "mass")
    }

    /// What a scale or a statement says of one piece at a part, before its children are asked, and what that rests on. A value at the
    /// part comes before one at its item.
    fn picked_mass(&mut self, part: usize, asked: &Asked) -> Option<(Id, Picked<'a>)> {
        let node = &self.index.parts[part];
        for id in [node.record.id, node.item.id] {
            let subject = self.record_subject(id);
            match self.pick(subject, id, "mass", asked) {
                Picked::Nothing => {}
                picked => return Some((id, picked)),
            }
        }
        None
    }

    fn weighed(&mut self, part: usize, asked: &Asked) -> Option<(LineRef, Picked<'a>)> {
        let (id, picked) = self.picked_mass(part, asked)?;
        let subject = self.record_subject(id);
        Some((self.chosen_as(subject, id, "mass", asked)?, picked))
    }

    /// The state each part's mass is asked in: that of the nearest whole above it that was weighed.
    fn ask_states(&mut self) {
        for part in 0..self.index.parts.len() {
            let parent = self.index.parts[part].parent;
            let asked = match parent.and_then(|p| Some((p, self.picked_mass(p, &self.part_masses.asked[p].clone())?))) {
                Some((_, (_, picked))) => Asked::Received(picked.states().into_iter().next()),
                None => match parent {
                    Some(parent) => self.part_masses.asked[parent].clone(),
                    None if self.index.parts[part].children.is_empty() => Asked::Made,
                    None => Asked::Received(None),
                },
            };
            self.part_masses.asked.push(asked);
        }
    }

    fn asked(&self, part: usize) -> Asked {
        self.part_masses.asked.get(part).cloned().unwrap_or_default()
    }

    /// The mass adopted for one piece at a part, and how it is known.
    fn part_mass(&mut self, part: usize) -> (Option<LineRef>, MassHow) {
        let node = self.index.parts[part].clone();
        if let Some(parent) = node.parent
            && self.index.parts[parent].record.text(Field::Set) == Some("inseparable")
            && let Some(share) = self.share(part, parent)
        {
            return (Some(share), MassHow::Share);
        }
        if self.by_difference(part) {
            let difference = self.difference(part);
            return (difference, if difference.is_some() { MassHow::Difference } else { MassHow::Unknown });
        }
        let asked = self.asked(part);
        if let Some((weighed, picked)) = self.weighed(part, &asked) {
            let measured = picked.values().any(|v| v.text(Field::Evidence) == Some("measured"));
            return (Some(weighed), if measured { MassHow::Weighed } else { MassHow::Stated });
        }
        let body = self.index.body(part);
        if body != part {
            // A place that lists nothing is the same thing as the place that does.
            let mass = self.adopted(body);
            return (mass, if mass.is_some() { MassHow::Sum } else { MassHow::Unknown });
        }
        if node.children.is_empty() {
            let standard = self.standard(node.item.id, "mass");
            return (standard, if standard.is_some() { MassHow::Stated } else { MassHow::Unknown });
        }
        (self.sum_of_children(part).0, MassHow::Sum)
    }

    /// Sum of the children's masses, with how many of them have none.
    fn sum_of_children(&mut self, part: usize) -> (Option<LineRef>, usize) {
        if let Some(known) = self.part_masses.sums.get(&part) {
            return *known;
        }
        let node = self.index.parts[part].clone();
        let subject = self.record_subject(node.record.id);
        let (mut counts, mut masses, mut unknown) = (Vec::new(), Vec::new(), 0);
        for child in &node.children {
            let Some(mass) = self.adopted(*child) else {
                unknown += 1;
                continue;
            };
            counts.push(self.count_line(*child));
            masses.push(mass);
        }
        let given = [("counts", Given::Many(&counts)), ("masses", Given::Many(&masses))];
        let sum = if masses.is_empty() { None } else { self.roll(subject, "sum of parts", "roll-ups/sum-mass", &given, "mass") };
        self.part_masses.sums.insert(part, (sum, unknown));
        (sum, unknown)
    }

    /// How many of a part sit in its parent, as a line.
    pub(crate) fn count_line(&mut self, part: usize) -> LineRef {
        if let Some(known) = self.counts.get(&part) {
            return *known;
        }
        let node = self.index.parts[part].clone();
        let subject = self.record_subject(node.record.id);
        let line = self.count(subject, "count", node.count, "parts list");
        self.counts.insert(part, line);
        line
    }

    /// Share of an inseparable group that was weighed as a whole.
    fn share(&mut self, part: usize, parent: usize) -> Option<LineRef> {
        let asked = self.asked(parent);
        let (whole, _) = self.weighed(parent, &asked)?;
        let siblings = self.index.parts[parent].children.clone();
        let (mut counts, mut estimates, mut own) = (Vec::new(), Vec::new(), None);
        for sibling in siblings {
            let asked = self.asked(sibling);
            let Some((estimate, _)) = self.weighed(sibling, &asked) else {
                let (group, lacks) = (self.index.parts[parent].label.clone(), self.index.parts[sibling].label.clone());
                let says = format!("the inseparable group {group} cannot be shared out: {lacks} has no estimate of its mass");
                let diag = Diag::warning("share", says).at(Place::address(format!("{lacks}/mass")));
                self.problem(diag.hint("estimate its mass; only the proportions count, the weighed whole gives the sum"));
                return None;
            };
            counts.push(self.count_line(sibling));
            estimates.push(estimate);
            if sibling == part {
                own = Some(estimate);
            }
        }
        let subject = self.record_subject(self.index.parts[part].record.id);
        let given = [
            ("whole", Given::One(whole)),
            ("estimate", Given::One(own?)),
            ("counts", Given::Many(&counts)),
            ("estimates", Given::Many(&estimates)),
        ];
        self.roll(subject, "share of group", "roll-ups/share-mass", &given, "mass")
    }

    /// Whether the mass of a part is asked by difference.
    fn by_difference(&self, part: usize) -> bool {
        let node = &self.index.parts[part];
        [node.record.id, node.item.id]
            .into_iter()
            .any(|id| self.index.of(id, "mass").any(|v| v.text(Field::Method) == Some("difference")))
    }

    /// Mass by difference: the weighed parent less the other children.
    fn difference(&mut self, part: usize) -> Option<LineRef> {
        let node = self.index.parts[part].clone();
        let no_whole = |b: &mut Self, hint: String| {
            let says = format!("the mass of {} is asked by difference, but the whole was not weighed", node.label);
            b.problem(Diag::error("difference", says).at(Place::address(format!("{}/mass", node.label))).hint(hint));
            None
        };
        let Some(parent) = node.parent else {
            return no_whole(self, "it stands at the top and has no whole; weigh it".to_owned());
        };
        let siblings = self.index.parts[parent].children.clone();
        let unknowns: Vec<usize> = siblings.iter().copied().filter(|s| self.by_difference(*s)).collect();
        if let [first, second, ..] = unknowns.as_slice() {
            let labels: Vec<&str> = unknowns.iter().map(|u| self.index.parts[*u].label.as_str()).collect();
            let says = format!(
                "two parts by difference of one whole: {} of {}; one equation does not give two masses",
                labels.join(" and "),
                self.index.parts[parent].label
            );
            let at = |p: usize| Place::address(format!("{}/mass", self.index.parts[p].label));
            let diag = Diag::error("difference", says).at(at(*first)).with(at(*second), "and here");
            self.problem(diag.hint("weigh or estimate all but one, or put equal pieces into one part with their count"));
            return None;
        }
        let asked = self.asked(parent);
        let Some((whole, _)) = self.weighed(parent, &asked) else {
            let hint = format!("weigh {}", self.index.parts[parent].label);
            return no_whole(self, hint);
        };
        let subject = self.record_subject(node.record.id);
        let (mut counts, mut others) = (Vec::new(), Vec::new());
        for sibling in siblings.into_iter().filter(|s| *s != part) {
            let Some(other) = self.adopted(sibling) else {
                let other = self.index.parts[sibling].label.clone();
                let says = format!("the mass of {} is asked by difference, but that of {other} is not known", node.label);
                let diag = Diag::error("difference", says).at(Place::address(format!("{}/mass", node.label)));
                self.problem(diag.hint(format!("weigh or estimate {other}")));
                return None;
            };
            counts.push(self.count_line(sibling));
            others.push(other);
        }
        let number = self.count_line(part);
        let given = [
            ("whole", Given::One(whole)),
            ("counts", Given::Many(&counts)),
            ("others", Given::Many(&others)),
            ("number", Given::One(number)),
        ];
        self.roll(subject, "by difference", "roll-ups/difference-mass", &given, "mass")
    }

    /// The mass balance, one row per part.
    pub(crate) fn mass_rows(&mut self) -> Vec<MassRow> {
        self.report_depth();
        self.check_constituents();
        self.ask_states();
        let mut rows = Vec::new();
        for part in 0..self.index.parts.len() {
            let mass = self.adopted(part);
            let how = self.how(part);
            let node = self.index.parts[part].clone();
            let (mut sum, mut gap, mut unknown) = (None, None, 0);
            let part_states = self.states_below(part);
            let states = self.own_states(part, how);
            if !node.children.is_empty() {
                (sum, unknown) = self.sum_of_children(part);
                if let (Some(whole), Some(parts), MassHow::Weighed | MassHow::Stated) = (mass, sum, how) {
                    let subject = self.record_subject(node.record.id);
                    let given = [("whole", Given::One(whole)), ("parts", Given::One(parts))];
                    gap = self.roll(subject, "balance", "roll-ups/mass-gap", &given, "gap");
                    self.warn_mixed_states(part, &states, &part_states);
                }
            }
            rows.push(MassRow { part, mass, how, sum, gap, unknown, states, part_states });
        }
        rows
    }

    /// States of the values a part's own mass rests on.
    fn own_states(&mut self, part: usize, how: MassHow) -> Vec<String> {
        if !matches!(how, MassHow::Weighed | MassHow::Stated) {
            return Vec::new();
        }
        let asked = self.asked(part);
        self.picked_mass(part, &asked).map(|(_, picked)| picked.states()).unwrap_or_default()
    }

    /// States of the masses that the sum of a part's children holds.
    fn states_below(&mut self, part: usize) -> Vec<String> {
        let mut states = BTreeSet::new();
        let mut open = self.index.parts[part].children.clone();
        while let Some(child) = open.pop() {
            let how = self.how(child);
            states.extend(self.own_states(child, how));
            if how == MassHow::Sum {
                open.extend(&self.index.parts[child].children);
            }
        }
        states.into_iter().collect()
    }

    /// A gap between masses of different states holds what was drained, cleaned or cut away.
    fn warn_mixed_states(&mut self, part: usize, whole: &[String], parts: &[String]) {
        let sort = |s: &String| if is_clean(s) { "clean".to_owned() } else { s.clone() };
        let (of_whole, of_parts): (BTreeSet<String>, BTreeSet<String>) =
            (whole.iter().map(sort).collect(), parts.iter().map(sort).collect());
        let mixed = !of_parts.is_empty() && (of_parts.len() > 1 || (!of_whole.is_empty() && of_whole != of_parts));
        if !mixed {
            return;
        }
        let label = self.index.parts[part].label.clone();
        let of = |s: &[String]| if s.is_empty() { "no state given".to_owned() } else { s.join(", ") };
        let says = format!("the whole {label} ({}) stands against parts weighed {}", of(whole), of(parts));
        let diag = Diag::warning("states-mix", says).at(Place::address(format!("{label}/balance")));
        self.problem(diag.hint("what was drained, cleaned or cut away is in the gap unless it is a part of its own"));
    }

    /// How many of a part are in one product, as a number: counts are exact.
    pub(crate) fn pieces(&self, part: usize) -> f64 {
        self.index.places.pieces[part]
    }

    /// Mass in the product by a property of leaf parts (material, function), with what is in no group under its own name.
    pub(crate) fn mass_by(&mut self, what: &str, group: impl Fn(&Self, usize) -> Vec<(String, f64)>) -> Vec<(String, LineRef)> {
        let mut groups: BTreeMap<String, (Vec<LineRef>, Vec<LineRef>)> = BTreeMap::new();
        for part in 0..self.index.parts.len() {
            if !self.index.is_leaf(part) {
                continue;
            }
            let Some(mass) = self.adopted(part) else { continue };
            let subject = self.record_subject(self.index.parts[part].record.id);
            let pieces = self.pieces(part);
            for (name, share) in group(self, part) {
                let count = self.count(subject, "pieces in product", pieces * share, "parts list");
                let entry = groups.entry(name).or_default();
                entry.0.push(count);
                entry.1.push(mass);
            }
        }
        let mut found = Vec::new();
        for (name, (counts, masses)) in groups {
            let subject = self.subject(&format!("{what} {name}"), &name, None);
            let given = [("counts", Given::Many(&counts)), ("masses", Given::Many(&masses))];
            if let Some(line) = self.roll(subject, "mass", "roll-ups/sum-mass", &given, "mass") {
                found.push((name, line));
            }
        }
        found
    }
}

/// Says where a weighed whole is the sum of its parts to the last digit: scales do not do that, a part entered as the rest does.
/// Where a part is known by difference or by its share of the whole, the gap is nothing by construction and says nothing.
pub(crate) fn gaps_of_nothing(lines: &Lines, values: &[f64], rows: &[MassRow], parts: &[PartRow]) -> Vec<Diag> {
    let constructed: BTreeSet<usize> = (rows.iter())
        .filter(|row| matches!(row.how, MassHow::Difference | MassHow::Share))
        .filter_map(|row| parts.get(row.part)?.parent)
        .collect();
    let exact = rows.iter().filter(|row| !constructed.contains(&row.part)).filter_map(|row| {
        let (mass, gap) = (lines.value(row.mass?, values), row.gap?);
        (lines.value(gap, values).abs() <= 1e-12 * mass.abs()).then(|| {
            let says = "the parts add up to the weighed mass to the last digit, which two scales do not do";
            Diag::warning("mass-gap-zero", says)
                .at(Place::address(lines.address(gap)))
                .hint("see whether the mass of a part was entered as the rest; if so record it with method `difference`")
        })
    });
    exact.collect()
}
