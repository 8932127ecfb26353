//! Mass: per item, per part, weighed whole against the sum of its parts, by material.

use crate::builder::{Builder, Given};
use crate::lines::{LineRef, Lines};
use crate::tables::{MassHow, MassRow, PartRow};
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Record};

impl Builder<'_> {
    /// Mass of one piece of an item, however it is known.
    pub(crate) fn item_mass(&mut self, item: Id) -> Option<LineRef> {
        if let Some(known) = self.masses.get(&item) {
            return *known;
        }
        // A circle (by difference of a whole that is itself by difference) ends here as unknown.
        self.masses.insert(item, None);
        let part = self.index.parts_of_item.get(&item).and_then(|p| p.first().copied());
        let mass = match part {
            Some(part) => self.part_mass(part).0,
            None => {
                let subject = self.record_subject(item);
                self.chosen(subject, item, "mass")
            }
        };
        self.masses.insert(item, mass);
        mass
    }

    /// What a scale or a statement says of one piece at a part, before its children are asked.
    fn weighed(&mut self, part: usize) -> Option<LineRef> {
        let (record, item) = (self.index.parts[part].record.id, self.index.parts[part].item.id);
        for id in [record, item] {
            let stated = self.index.of(id, "mass").any(|v| v.text(Field::Method) != Some("difference"));
            if stated {
                let subject = self.record_subject(id);
                return self.chosen(subject, id, "mass");
            }
        }
        None
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
        if let Some(difference) = self.difference(part) {
            return (Some(difference), MassHow::Difference);
        }
        if let Some(weighed) = self.weighed(part) {
            let measured = self.is_measured(part);
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
        let (sum, _) = self.sum_of_children(part);
        (sum, MassHow::Sum)
    }

    fn is_measured(&self, part: usize) -> bool {
        let node = &self.index.parts[part];
        [node.record.id, node.item.id]
            .into_iter()
            .any(|id| self.index.of(id, "mass").any(|v| v.text(Field::Evidence) == Some("measured")))
    }

    /// Sum of the children's masses, with how many of them have none.
    fn sum_of_children(&mut self, part: usize) -> (Option<LineRef>, usize) {
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
        if masses.is_empty() {
            return (None, unknown);
        }
        let given = [("counts", Given::Many(&counts)), ("masses", Given::Many(&masses))];
        (self.roll(subject, "sum of parts", "roll-ups/sum-mass", &given, "mass"), unknown)
    }

    /// The adopted mass of a part; equal to its item's where the part itself was not weighed.
    pub(crate) fn adopted(&mut self, part: usize) -> Option<LineRef> {
        if let Some(known) = self.part_masses.get(&part) {
            return known.0;
        }
        let made = self.part_mass(part);
        self.part_masses.insert(part, made);
        made.0
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
        let whole = self.weighed(parent)?;
        let siblings = self.index.parts[parent].children.clone();
        let (mut counts, mut estimates, mut own) = (Vec::new(), Vec::new(), None);
        for sibling in siblings {
            let estimate = self.weighed(sibling)?;
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

    /// Mass by difference: the weighed parent less the other children.
    fn difference(&mut self, part: usize) -> Option<LineRef> {
        let node = self.index.parts[part].clone();
        let asked = [node.record.id, node.item.id]
            .into_iter()
            .any(|id| self.index.of(id, "mass").any(|v| v.text(Field::Method) == Some("difference")));
        if !asked {
            return None;
        }
        let parent = node.parent?;
        let subject = self.record_subject(node.record.id);
        let Some(whole) = self.weighed(parent) else {
            let diag = Diag::error(
                "difference",
                format!("the mass of {} is asked by difference, but the whole was not weighed", node.label),
            );
            self.problem(
                diag.at(Place::address(format!("{}/mass", node.label))).hint(format!("weigh {}", self.index.parts[parent].label)),
            );
            return None;
        };
        let (mut counts, mut others) = (Vec::new(), Vec::new());
        for sibling in self.index.parts[parent].children.clone().into_iter().filter(|s| *s != part) {
            counts.push(self.count_line(sibling));
            others.push(self.adopted(sibling)?);
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
        let mut rows = Vec::new();
        for part in 0..self.index.parts.len() {
            let mass = self.adopted(part);
            let how = self.part_masses.get(&part).map_or(MassHow::Unknown, |m| m.1);
            let node = self.index.parts[part].clone();
            let (mut sum, mut gap, mut unknown) = (None, None, 0);
            if !node.children.is_empty() {
                (sum, unknown) = self.sum_of_children(part);
                if let (Some(whole), Some(parts), MassHow::Weighed | MassHow::Stated) = (mass, sum, how) {
                    let subject = self.record_subject(node.record.id);
                    let given = [("whole", Given::One(whole)), ("parts", Given::One(parts))];
                    gap = self.roll(subject, "balance", "roll-ups/mass-gap", &given, "gap");
                }
            }
            let states = self.states(node.record.id, node.item.id);
            rows.push(MassRow { part, mass, how, sum, gap, unknown, states });
        }
        rows
    }

    fn states(&self, part: Id, item: Id) -> Vec<String> {
        let mut states: Vec<String> = [part, item]
            .into_iter()
            .flat_map(|id| self.index.of(id, "mass"))
            .filter_map(|v: &Record| v.text(Field::MassState).map(str::to_owned))
            .collect();
        states.sort();
        states.dedup();
        states
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

/// Constituents as written, `PA66-GF30 70 %; EPDM 30 %`, as names and shares.
pub(crate) fn constituents(text: &str) -> Vec<(String, f64)> {
    text.split(';')
        .filter_map(|entry| {
            let (name, share) = entry.trim().trim_end_matches('%').trim().rsplit_once(' ')?;
            Some((name.trim().to_owned(), share.trim().parse::<f64>().ok()? / 100.0))
        })
        .collect()
}
