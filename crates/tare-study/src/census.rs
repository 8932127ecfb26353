//! Joints counted, fasteners listed against used, assemblies timed, lines balanced.

use crate::builder::{Builder, Given};
use crate::demand::Demand;
use crate::lines::LineRef;
use crate::tables::{AssemblyRow, FastenerRow, JointRow, LineRow, Totals};
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Kind, Record};

/// Quantities of a joint that the census shows.
const SHOWN: [&str; 9] = ["diameter", "pitch", "length", "engagement", "torque", "drive", "leg", "bead_width", "thickness"];

impl Builder<'_> {
    /// Every joint with what is stated of it, and fasteners listed against used.
    pub(crate) fn census(&mut self) -> (Vec<JointRow>, Vec<FastenerRow>) {
        let mut rows = Vec::new();
        let mut used: BTreeMap<usize, f64> = BTreeMap::new();
        for joint in self.joints.clone() {
            let Some(record) = self.sources.study.get(joint.joint) else { continue };
            // One description holds for all places of an assembly.
            let places = joint.assembly.map_or_else(Vec::new, |a| self.places_described_by(a));
            let assemblies = if places.is_empty() { 1.0 } else { places.iter().map(|p| self.pieces(*p)).sum() };
            if let Some(fastener) = record.refers(Field::Fastener).and_then(|f| self.index.part_of.get(&f).copied()) {
                let count = self.stated_number(joint.count).unwrap_or(1.0);
                let assembly = joint.assembly.unwrap_or(fastener);
                for place in places.iter().copied().filter(|p| self.index.body(*p) == *p) {
                    let pieces: f64 = self.index.uses(place).map(|p| self.pieces(p)).sum();
                    if let Some(same) = self.same_place(assembly, place, fastener) {
                        *used.entry(same).or_default() += count * pieces;
                    }
                }
            }
            let subject = self.record_subject(record.id);
            let mut stated = Vec::new();
            for quantity in SHOWN {
                let picked = self.pick(subject, record.id, quantity, &crate::pick::Asked::Made);
                let said = picked.values().next().and_then(|v| v.text(Field::Text));
                stated.extend(said.map(|said| (quantity.to_owned(), said.to_owned())));
            }
            let name =
                record.text(Field::Label).map_or_else(String::new, |l| format!("{l} ")) + record.text(Field::Name).unwrap_or("");
            rows.push(JointRow {
                id: record.id,
                name,
                method: joint.key.clone(),
                count: joint.count,
                assemblies,
                stated,
                manual: joint.manual,
                assembly: joint.assembly,
                parts: record.all_refers(Field::Parts).to_vec(),
            });
        }
        let fasteners: Vec<FastenerRow> = (0..self.index.parts.len())
            .filter(|p| self.index.parts[*p].item.text(Field::Form) == Some("fastener") && !self.inside_costed(*p))
            .map(|part| FastenerRow { part, listed: self.pieces(part), used: used.get(&part).copied().unwrap_or(0.0) })
            .collect();
        for row in fasteners.iter().filter(|r| (r.listed - r.used).abs() > 1e-9) {
            let node = &self.index.parts[row.part];
            let (name, label) = (node.item.text(Field::Name).unwrap_or("").to_owned(), node.label.clone());
            let diag = Diag::warning("fasteners-differ", format!("{} {name} listed, {} used by joints", row.listed, row.used))
                .at(Place::address(label));
            self.problem(diag.hint("record the missing joint, or correct the count in the parts list or the joint"));
        }
        (rows, fasteners)
    }

    /// The places of an assembly's item that hold what is recorded at one of them: all, where it describes the item.
    fn places_described_by(&self, assembly: usize) -> Vec<usize> {
        let item = self.index.parts[assembly].item.id;
        let body = self.index.home(item).map(|home| self.index.body(home));
        match self.index.parts_of_item.get(&item) {
            Some(places) if body == Some(assembly) => places.clone(),
            _ => self.index.uses(assembly).collect(),
        }
    }

    /// The part at another place of an assembly that corresponds to one at the first: the same items on the way down.
    fn same_place(&self, from: usize, to: usize, part: usize) -> Option<usize> {
        let mut way = Vec::new();
        let mut at = part;
        while at != from {
            way.push(self.index.parts[at].item.id);
            at = self.index.parts[at].parent?;
        }
        if from == to {
            return Some(part);
        }
        way.into_iter()
            .rev()
            .try_fold(to, |at, item| self.index.parts[at].children.iter().copied().find(|c| self.index.parts[*c].item.id == item))
    }

    /// The number a leaf states; counts are exact.
    fn stated_number(&self, line: LineRef) -> Option<f64> {
        match line {
            LineRef::Leaf(leaf) => Some(self.lines.leaves[leaf as usize].quantity.value),
            LineRef::Line { .. } => None,
        }
    }

    /// Manual time, needed parts and ideal-time share of every assembly and of the product.
    pub(crate) fn assembly_rows(&mut self, totals: &mut Totals) -> Vec<AssemblyRow> {
        let recorded = self.recorded_times();
        let mut rows = Vec::new();
        let (mut all_counts, mut all_times) = (Vec::new(), Vec::new());
        let (mut needed_total, mut unjudged_total) = (0.0, 0);
        for part in 0..self.index.parts.len() {
            let node = self.index.parts[part].clone();
            if node.children.is_empty() || !self.index.pays(part) {
                continue;
            }
            let (by_kind, manual) = self.time_by_kind(part);
            let places: Vec<usize> = self.index.parts_of_item[&node.item.id].clone();
            let pieces: f64 = places.iter().map(|p| self.index.places.paid[*p]).sum();
            if let Some(manual) = manual {
                for place in places {
                    if !self.inside_costed(place) {
                        all_counts.push(self.pieces_line(place));
                        all_times.push(manual);
                    }
                }
            }
            let (mut needed, mut unjudged, mut parts) = (0.0, 0, 0.0);
            for at in &node.children {
                let child = &self.index.parts[*at];
                let bulk = child.item.text(Field::Form) == Some("bulk");
                parts += if bulk { 0.0 } else { child.count };
                match (child.record.number(Field::Needed), child.item.text(Field::Form)) {
                    // Fasteners are never needed, whatever was judged.
                    (_, Some("fastener" | "bulk")) => {}
                    (Some(n), _) => {
                        let n = n.min(child.count);
                        needed += n;
                        // A sub-assembly counts where it is put in; in the product its own parts stand for it.
                        let stands_for_parts = !self.index.is_leaf(*at) && !self.costed_here(child.item.id);
                        needed_total += if stands_for_parts { 0.0 } else { n * pieces };
                    }
                    (None, _) => unjudged += 1,
                }
            }
            unjudged_total += unjudged;
            let subject = self.record_subject(node.record.id);
            let ideal_share = if unjudged > 0 { None } else { manual.and_then(|m| self.ideal_share(subject, m, needed)) };
            let recorded = recorded.get(&part).cloned().unwrap_or_default();
            rows.push(AssemblyRow {
                part,
                pieces,
                by_kind,
                manual,
                recorded,
                parts,
                needed: (unjudged == 0).then_some(needed),
                unjudged,
                ideal_share,
            });
        }
        let subject = self.subject("product", "product", None);
        if !all_times.is_empty() {
            let given = [("counts", Given::Many(&all_counts)), ("times", Given::Many(&all_times))];
            totals.manual = self.roll(subject, "manual", "roll-ups/seconds", &given, "time");
        }
        if let (Some(manual), 0) = (totals.manual, unjudged_total) {
            totals.ideal_share = self.ideal_share(subject, manual, needed_total);
        }
        rows
    }

    fn ideal_share(&mut self, subject: crate::lines::SubjectId, manual: LineRef, needed: f64) -> Option<LineRef> {
        let needed = self.count(subject, "needed parts", needed, "the three questions, part by part");
        self.roll(
            subject,
            "ideal-time share",
            "roll-ups/ideal-share",
            &[("manual", Given::One(manual)), ("needed", Given::One(needed))],
            "share",
        )
    }

    /// Strip-down times recorded at the bench, by the assembly whose parts were removed.
    fn recorded_times(&mut self) -> BTreeMap<usize, Vec<LineRef>> {
        let mut found: BTreeMap<usize, Vec<LineRef>> = BTreeMap::new();
        let removals: Vec<&Record> = self.sources.study.of_kind(None, Kind::Removal).collect();
        for removal in removals {
            let parts: Vec<usize> =
                removal.all_refers(Field::Parts).iter().filter_map(|p| self.index.part_of.get(p).copied()).collect();
            let Some(assembly) = self.index.common_parent(parts.into_iter()) else { continue };
            let subject = self.record_subject(removal.id);
            if let Some(line) = self.chosen(subject, removal.id, "duration") {
                found.entry(assembly).or_default().push(line);
            }
        }
        found
    }

    /// Operators, paid time and loss of every line of stations; the loss acts on the labour of its operations.
    pub(crate) fn line_balances(&mut self, demands: &BTreeMap<Id, Demand>) -> Vec<LineRow> {
        let order = self.items_in_order();
        let mut rows = Vec::new();
        let lines: Vec<&Record> = self.sources.study.of_kind(None, Kind::Line).collect();
        for line in lines {
            let subject = self.record_subject(line.id);
            let mut stations = Vec::new();
            let (mut people, mut cycles, mut operations) = (Vec::new(), Vec::new(), Vec::new());
            let mut organisation = line.refers(Field::Organisation);
            for step in order.iter().filter_map(|item| demands.get(item)).flat_map(|d| &d.uses) {
                let Some(operation) = step.operation else { continue };
                if self.sources.study.get(operation).and_then(|o| o.refers(Field::Line)) != Some(line.id) {
                    continue;
                }
                let (block, key) = (step.block, step.key.clone());
                // Cure holds a station, not its people: where a station says how long they attend, that is their work.
                let attended = self.line(block, "attended").or_else(|| self.line_or_input(block, &key, "cycle"));
                let (Some(cycle), Some(crew)) = (attended, self.line_or_input(block, &key, "people")) else {
                    continue;
                };
                organisation = organisation.or(step.context.organisation);
                stations.push((step.title.clone(), cycle));
                people.push(crew);
                cycles.push(cycle);
                operations.push(operation);
            }
            let mut row = LineRow {
                id: line.id,
                name: line.text(Field::Name).unwrap_or("").to_owned(),
                stations,
                work: None,
                takt: None,
                operators: None,
                paid: None,
            };
            if !cycles.is_empty() {
                self.balance(subject, line, organisation, [&people, &cycles], &operations, &mut row);
            }
            rows.push(row);
        }
        rows
    }

    fn balance(
        &mut self,
        subject: crate::lines::SubjectId,
        line: &Record,
        organisation: Option<Id>,
        [people, cycles]: [&[LineRef]; 2],
        operations: &[Id],
        row: &mut LineRow,
    ) -> Option<()> {
        row.work = self.roll(
            subject,
            "work",
            "roll-ups/sum-seconds",
            &[("people", Given::Many(people)), ("cycles", Given::Many(cycles))],
            "work",
        );
        let stated = self.chosen(subject, line.id, "takt").or_else(|| self.scenario_line(organisation, "takt"));
        row.takt = match stated {
            Some(takt) => Some(takt),
            None => {
                let hours = self.rate(organisation, "machine.hours")?;
                let volume = self.scenario_line(organisation, "volume")?;
                self.roll(
                    subject,
                    "takt",
                    "roll-ups/takt",
                    &[("hours", Given::One(hours)), ("volume", Given::One(volume))],
                    "takt",
                )
            }
        };
        let given = [("work", Given::One(row.work?)), ("takt", Given::One(row.takt?))];
        let block = self.place(subject, "balance", "estimates/line-balance", &given)?;
        row.operators = self.line(block, "operators");
        row.paid = self.line(block, "paid");
        let loss = self.roll(
            subject,
            "loss",
            "roll-ups/line-loss",
            &[("paid", Given::One(row.paid?)), ("work", Given::One(row.work?))],
            "loss",
        )?;
        self.line_losses.extend(operations.iter().map(|o| (*o, loss)));
        Some(())
    }

    /// Cost per yardstick.
    pub(crate) fn yardsticks(&mut self, totals: &mut Totals) {
        let records: Vec<&Record> = self.sources.study.of_kind(None, Kind::Yardstick).collect();
        for record in records {
            let subject = self.record_subject(record.id);
            let Some(value) = self.index.values.get(&record.id).and_then(|v| v.first()).map(|(q, _)| (*q).to_owned()) else {
                continue;
            };
            let Some(line) = self.chosen(subject, record.id, &value) else { continue };
            let mut ratio = None;
            if let Some(total) = totals.cost
                && let Some(block) = self.place(
                    subject,
                    "cost",
                    "roll-ups/yardstick",
                    &[("total", Given::One(total)), ("yardstick", Given::One(line))],
                )
            {
                let unit = self.lines.unit(line).text.clone();
                let code = self.currency.map_or_else(|| "money".to_owned(), |c| c.to_string());
                let text = if unit == "1" {
                    code
                } else {
                    format!("{code}/{}", if unit.contains(['*', '/']) { format!("({unit})") } else { unit })
                };
                self.lines.blocks[block as usize].unit = tare_units::Unit::parse(&text).ok();
                ratio = self.line(block, "ratio");
            }
            totals.yardsticks.push((record.id, line, ratio));
        }
    }
}
