//! Joints bound to their calculations: which assembly makes each, at which station, in what time.

use crate::bind::Context;
use crate::builder::{Builder, Given};
use crate::lines::LineRef;
use crate::time::{Motion, MotionKind};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Record};

/// One use of a joint calculation.
#[derive(Clone, Debug)]
pub(crate) struct JointUse {
    pub(crate) joint: Id,
    pub(crate) key: String,
    pub(crate) block: Option<u32>,
    pub(crate) count: LineRef,
    pub(crate) manual: Option<LineRef>,
    pub(crate) context: Context,
    /// The assembly it belongs to.
    pub(crate) assembly: Option<usize>,
    /// The same, where the study pays for it.
    pub(crate) paid: Option<usize>,
}

impl Builder<'_> {
    /// Binds every joint once; the assembly it belongs to is the lowest that holds all its parts.
    pub(crate) fn joint_uses(&mut self) {
        let joints: Vec<&Record> = self.index.joints.clone();
        for joint in joints {
            let parts: Vec<usize> =
                joint.all_refers(Field::Parts).iter().filter_map(|id| self.index.part_of.get(id).copied()).collect();
            let fastener = joint.refers(Field::Fastener).and_then(|id| self.index.part_of.get(&id).copied());
            let assembly = self.index.common_parent(parts.iter().copied().chain(fastener));
            // Inside a bought assembly the joint is in its price: it is counted, and costs neither time nor money.
            let paid = assembly.filter(|a| self.joint_is_paid(joint, *a));
            let subject = self.record_subject(joint.id);
            let count = match self.chosen(subject, joint.id, "count") {
                Some(line) => line,
                None => self.count(subject, "count", 1.0, "one, as none is stated"),
            };
            let key = joint.text(Field::Calculation).unwrap_or_default().to_owned();
            let organisation = assembly.and_then(|a| self.organisation(self.index.parts[a].item.id));
            let mut context =
                Context { joint: Some(joint.id), organisation, part: fastener.or(parts.first().copied()), ..Context::default() };
            context.item = context.part.map(|p| self.index.parts[p].item.id);
            context.extra.push(("joint.count".to_owned(), count));
            let block = self.bind(subject, "joint", &key, &context);
            let mut manual = None;
            if let Some(block) = block {
                let scalars: Vec<Option<LineRef>> =
                    ["manual", "process", "yield"].iter().map(|n| self.line_or_input(block, &key, n)).collect();
                if let [Some(m), Some(p), Some(y)] = scalars[..] {
                    let mut given = vec![
                        ("count", Given::One(count)),
                        ("manual", Given::One(m)),
                        ("process", Given::One(p)),
                        ("yield", Given::One(y)),
                    ];
                    let cures = self.line(block, "cure");
                    given.extend(cures.map(|line| ("cure", Given::One(line))));
                    if let Some(time) = self.place(subject, "time", "roll-ups/joint-time", &given) {
                        manual = self.line(time, "manual_time");
                        let process = self.line(time, "process_time");
                        let cure = self.line(time, "cure_time");
                        if let (Some(assembly), Some(manual), Some(process)) = (paid, manual, process) {
                            let once = self.one("once", "one per assembly");
                            let operation = self.station_of(joint, assembly);
                            if let Some(station) = operation {
                                self.joined_at(station, assembly, &parts);
                            }
                            let times = self.times.entry(assembly).or_default();
                            times.motions.push(Motion { kind: MotionKind::Joining, count: once, time: manual, operation });
                            times.process.push((once, process, operation));
                            if cures.is_some() {
                                times.cure.extend(cure.map(|line| (once, line, operation)));
                            }
                        }
                    }
                }
            }
            self.joints.push(JointUse { joint: joint.id, key, block, count, manual, context, assembly, paid });
        }
    }

    /// Notes the station as the one that puts parts in, unless an earlier one joins them.
    fn joined_at(&mut self, station: Id, assembly: usize, parts: &[usize]) {
        let work = self.index.work_of(self.index.parts[assembly].item.id);
        let Some(place) = work.iter().position(|o| *o == station) else { return };
        for part in parts {
            // a part further down comes with the sub-assembly that stands in this one
            let up = std::iter::successors(Some(*part), |p| self.index.parts[*p].parent);
            let Some(child) = up.into_iter().find(|p| self.index.parts[*p].parent == Some(assembly)) else { continue };
            let known = self.put_in.entry(child).or_insert((place, station));
            *known = (*known).min((place, station));
        }
    }

    /// Whether the study pays for a joint. What is recorded at a second place of an assembly would be paid twice: that is said.
    fn joint_is_paid(&mut self, joint: &Record, assembly: usize) -> bool {
        if self.index.pays(assembly) {
            return true;
        }
        let item = self.index.parts[assembly].item;
        if !self.costed_here(item.id) && !self.inside_costed(assembly) {
            let home = self.index.home(item.id).map_or(assembly, |home| self.index.body(home));
            let (label, here) = (self.index.parts[home].label.clone(), self.index.parts[assembly].label.clone());
            let name = item.text(Field::Name).unwrap_or("?");
            let says = format!("{name} is described at {label}, so this joint at {here} adds neither time nor cost");
            let diag = Diag::error("joint-place", says).at(self.joint_place(joint, "parts"));
            self.problem(diag.hint(format!("record it once, with the parts under {label}")));
        }
        false
    }

    /// The station of its assembly that makes a joint; where the named one is none, that is said and the first station makes it.
    fn station_of(&mut self, joint: &Record, assembly: usize) -> Option<Id> {
        let named = joint.refers(Field::Operation)?;
        let item = self.index.parts[assembly].item;
        let key = |o: &Id| self.sources.study.get(*o).and_then(|r| r.text(Field::Calculation)).unwrap_or_default();
        let work = self.index.work_of(item.id);
        let stations: Vec<Id> = work.iter().copied().filter(|o| crate::route::is_station(key(o))).collect();
        if stations.contains(&named) {
            return Some(named);
        }
        if work.contains(&named) && stations.is_empty() {
            return None;
        }
        let title = self.sources.study.get(named).and_then(|r| r.text(Field::Name)).unwrap_or("?").to_owned();
        let (name, label) = (item.text(Field::Name).unwrap_or("?"), self.index.parts[assembly].label.clone());
        let says = format!("`{title}` is no station of {name}, the lowest assembly that holds all parts of this joint");
        let diag = Diag::error("joint-operation", says).at(self.joint_place(joint, "operation"));
        self.problem(diag.hint(format!("name a station of {label}, or none; until then the time is in its first station")));
        None
    }

    fn joint_place(&self, joint: &Record, field: &str) -> Place {
        let called = joint.text(Field::Label).or(joint.text(Field::Name)).unwrap_or("?");
        Place::address(format!("{called}/{field}"))
    }
}
