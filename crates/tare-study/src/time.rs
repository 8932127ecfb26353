//! Assembly: handling and inserting of parts, work without a part, what adds up at a station.

use crate::bind::Context;
use crate::builder::{Builder, Given};
use crate::index::PartNode;
use crate::lines::LineRef;
use std::collections::BTreeMap;
use tare_model::{Field, Id};

/// One contribution to the manual time of an assembly.
#[derive(Clone, Debug)]
pub(crate) struct Motion {
    /// What kind of work: handling, inserting, joining, other.
    pub(crate) kind: MotionKind,
    /// How often it occurs per assembly, and its seconds each.
    pub(crate) count: LineRef,
    pub(crate) time: LineRef,
    /// The operation it belongs to, where one was named.
    pub(crate) operation: Option<Id>,
}

/// The kinds of manual work in an assembly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum MotionKind {
    /// Getting a part and bringing it to its place.
    Handling,
    /// Putting it in.
    Inserting,
    /// Making a joint.
    Joining,
    /// Work without a part: turning over, testing, changing tools.
    Other,
}

impl MotionKind {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Handling => "handling",
            Self::Inserting => "inserting",
            Self::Joining => "joining",
            Self::Other => "other work",
        }
    }
}

/// Manual and station time found for one assembly.
#[derive(Clone, Debug, Default)]
pub(crate) struct AssemblyTimes {
    pub(crate) motions: Vec<Motion>,
    /// Station time of joints: count line, seconds line, operation.
    pub(crate) process: Vec<(LineRef, LineRef, Option<Id>)>,
    /// Cure of joints, which holds a station without its people: count line, seconds line, operation.
    pub(crate) cure: Vec<(LineRef, LineRef, Option<Id>)>,
}

impl AssemblyTimes {
    pub(crate) fn is_empty(&self) -> bool {
        self.motions.is_empty() && self.process.is_empty()
    }

    /// The part of it at one station: what names it, and what names none for the first.
    pub(crate) fn at_station(&self, operation: Id, first: bool) -> Self {
        let here = |o: Option<Id>| o == Some(operation) || (first && o.is_none());
        Self {
            motions: self.motions.iter().filter(|m| here(m.operation)).cloned().collect(),
            process: self.process.iter().filter(|p| here(p.2)).copied().collect(),
            cure: self.cure.iter().filter(|c| here(c.2)).copied().collect(),
        }
    }

    pub(crate) fn all(&self) -> Self {
        self.clone()
    }
}

impl Builder<'_> {
    /// Handling and inserting of every part that is put into an assembly by hand, and work without a part. A part is put in at the first
    /// station that joins it; one that no station joins, at the assembly's first.
    pub(crate) fn part_times(&mut self) {
        let mut handled: BTreeMap<(Id, &str), Option<u32>> = BTreeMap::new();
        for part in 0..self.index.parts.len() {
            let node = self.index.parts[part].clone();
            let Some(parent) = node.parent else { continue };
            if !self.index.pays(parent) || !self.handled(&node) {
                continue;
            }
            let subject = self.record_subject(node.record.id);
            let context = Context {
                item: Some(node.item.id),
                part: Some(part),
                organisation: self.organisation(self.index.parts[parent].item.id),
                ..Context::default()
            };
            let count = self.count_line(part);
            let operation = self.put_in.get(&part).map(|(_, station)| *station);
            for (name, key, kind) in [
                ("handling", "motions/handle-part", MotionKind::Handling),
                ("inserting", "motions/insert-part", MotionKind::Inserting),
            ] {
                // Equal items without values of their own at the part are handled alike.
                let own = self.index.values.contains_key(&node.record.id);
                let known = handled.get(&(node.item.id, key)).copied().filter(|_| !own);
                let bound = known.unwrap_or_else(|| self.bind(subject, name, key, &context));
                if !own {
                    handled.insert((node.item.id, key), bound);
                }
                let Some(block) = bound else { continue };
                let Some(time) = self.line(block, "time") else { continue };
                let process = self.line(block, "process");
                let times = self.times.entry(parent).or_default();
                times.motions.push(Motion { kind, count, time, operation });
                times.process.extend(process.map(|p| (count, p, operation)));
            }
        }
        for part in 0..self.index.parts.len() {
            let node = self.index.parts[part].clone();
            if !self.index.pays(part) {
                continue;
            }
            let operations = self.index.work_of(node.item.id);
            let mut station = None;
            for id in operations {
                let Some(record) = self.sources.study.get(id) else { continue };
                let key = record.text(Field::Calculation).unwrap_or_default().to_owned();
                if self.sources.library.find(&key).is_none_or(|c| c.kind != Some(tare_calc::Kind::Motion)) {
                    station = Some(id).filter(|_| crate::route::is_station(&key)).or(station);
                    continue;
                }
                let subject = self.record_subject(node.item.id);
                let context = Context {
                    item: Some(node.item.id),
                    part: Some(part),
                    operation: Some(id),
                    organisation: self.organisation(node.item.id),
                    ..Context::default()
                };
                let own = self.record_subject(id);
                let count = match self.chosen(own, id, "count") {
                    Some(line) => line,
                    None => self.one("once", "one per assembly"),
                };
                let title = record.text(Field::Name).unwrap_or("").to_owned();
                let Some(block) = self.bind(subject, &format!("work {title}"), &key, &context) else { continue };
                let Some(time) = self.line(block, "time") else { continue };
                self.times.entry(part).or_default().motions.push(Motion {
                    kind: MotionKind::Other,
                    count,
                    time,
                    operation: station,
                });
            }
        }
    }

    /// Fasteners are handled within their joint; what is poured or sprayed has no handling of its own.
    fn handled(&self, node: &PartNode<'_>) -> bool {
        !matches!(node.item.text(Field::Form), Some("fastener" | "bulk"))
    }

    pub(crate) fn assembly_times(&self, part: usize) -> AssemblyTimes {
        self.times.get(&part).cloned().unwrap_or_default()
    }

    /// Sums of manual and station time of one station, as lines bound to its calculation.
    pub(crate) fn station_times(&mut self, item: Id, station: Id, times: AssemblyTimes) -> Vec<(String, LineRef)> {
        let subject = self.record_subject(item);
        let name = if station == item {
            "assembly".to_owned()
        } else {
            format!("station {}", self.sources.study.get(station).and_then(|r| r.text(Field::Name)).unwrap_or(""))
        };
        let mut extra = Vec::new();
        let (counts, seconds): (Vec<LineRef>, Vec<LineRef>) = times.motions.iter().map(|m| (m.count, m.time)).unzip();
        let (process_counts, process): (Vec<LineRef>, Vec<LineRef>) = times.process.iter().map(|(c, t, _)| (*c, *t)).unzip();
        let mut sums = vec![("manual_time", counts, seconds), ("process_time", process_counts, process)];
        if !times.cure.is_empty() {
            let (counts, seconds): (Vec<LineRef>, Vec<LineRef>) = times.cure.iter().map(|(c, t, _)| (*c, *t)).unzip();
            sums.push(("cure_time", counts, seconds));
        }
        for (quantity, counts, seconds) in sums {
            let given = [("counts", Given::Many(&counts)), ("times", Given::Many(&seconds))];
            if let Some(line) =
                self.roll(subject, &format!("{name} {}", quantity.replace('_', " ")), "roll-ups/seconds", &given, "time")
            {
                extra.push((format!("operation.{quantity}"), line));
            }
        }
        extra
    }

    /// Manual seconds of an assembly by kind of work, and their total.
    pub(crate) fn time_by_kind(&mut self, part: usize) -> (BTreeMap<MotionKind, LineRef>, Option<LineRef>) {
        let times = self.assembly_times(part);
        let subject = self.record_subject(self.index.parts[part].record.id);
        let mut found = BTreeMap::new();
        for kind in [MotionKind::Handling, MotionKind::Inserting, MotionKind::Joining, MotionKind::Other] {
            let (counts, seconds): (Vec<LineRef>, Vec<LineRef>) =
                times.motions.iter().filter(|m| m.kind == kind).map(|m| (m.count, m.time)).unzip();
            if counts.is_empty() {
                continue;
            }
            let given = [("counts", Given::Many(&counts)), ("times", Given::Many(&seconds))];
            if let Some(line) = self.roll(subject, kind.word(), "roll-ups/seconds", &given, "time") {
                found.insert(kind, line);
            }
        }
        let (counts, seconds): (Vec<LineRef>, Vec<LineRef>) = times.motions.iter().map(|m| (m.count, m.time)).unzip();
        let given = [("counts", Given::Many(&counts)), ("times", Given::Many(&seconds))];
        let total = if counts.is_empty() { None } else { self.roll(subject, "manual", "roll-ups/seconds", &given, "time") };
        (found, total)
    }
}
