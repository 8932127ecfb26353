//! Routes: the steps of an item in order, bound to their calculations, with starts down from the last.

use crate::bind::Context;
use crate::builder::{Builder, Given};
use crate::demand::{Demand, Use};
use crate::lines::LineRef;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

/// Whether a calculation is a station, where joints and parts add up to its time.
pub(crate) fn is_station(key: &str) -> bool {
    key.contains("/station-")
}

/// One step of a route before it is bound.
pub(crate) struct Step {
    pub(crate) name: String,
    pub(crate) title: String,
    pub(crate) key: String,
    pub(crate) operation: Option<Id>,
    pub(crate) feature: Option<Id>,
    pub(crate) assembles: bool,
    pub(crate) extra: Vec<(String, LineRef)>,
}

impl Builder<'_> {
    /// Binds the steps of an item. Lots are of all the volumes that run together: its own and its twins'.
    pub(crate) fn route(&mut self, item: Id, demand: &mut Demand, lots_of: &[LineRef]) {
        let Some(part) = self.index.home(item).filter(|p| !self.inside_costed(*p)) else { return };
        let subject = self.record_subject(item);
        let organisation = self.organisation(item);
        let mut base = Context { item: Some(item), part: Some(part), organisation, ..Context::default() };
        if let Some(volume) = demand.volume {
            base.extra.push(("item.volume_per_year".to_owned(), volume));
            demand.lot = self.lot(item, volume, lots_of, organisation);
            if let Some(lot) = demand.lot {
                base.extra.push(("route.lot".to_owned(), lot));
            }
        }
        if demand.volume.is_none() || self.costed_here(item) {
            self.work_on_bought(item);
            return;
        }
        let steps = self.steps(item, part);
        let mut made: Vec<(Use, Option<LineRef>)> = Vec::new();
        for step in steps {
            let mut context = Context { operation: step.operation, feature: step.feature, ..base.clone() };
            let record = step.operation.and_then(|o| self.sources.study.get(o));
            context.organisation = record.and_then(|r| r.refers(Field::Organisation)).or(organisation);
            context.tool = record.and_then(|r| r.refers(Field::Tool));
            context.extra.extend(step.extra);
            let Some(block) = self.bind(subject, &step.name, &step.key, &context) else {
                self.uncosted.insert(item);
                continue;
            };
            let yielded = self.line_or_input(block, &step.key, "yield");
            let starts = self.one("starts", "nothing is scrapped");
            made.push((
                Use {
                    name: step.name,
                    title: step.title,
                    key: step.key,
                    block,
                    operation: step.operation,
                    context,
                    starts,
                    assembles: step.assembles,
                },
                yielded,
            ));
        }
        // Starts run down the route: from its last step.
        let mut later: Option<LineRef> = None;
        for (made, yielded) in made.iter_mut().rev() {
            let Some(yielded) = *yielded else { continue };
            let mut given = vec![("yield", Given::One(yielded))];
            if let Some(later) = later {
                given.push(("later", Given::One(later)));
            }
            if let Some(line) = self.roll(subject, &format!("{} starts", made.name), "roll-ups/starts", &given, "starts") {
                later = Some(line);
                made.starts = line;
            }
        }
        demand.sets = made.iter().find(|(u, _)| u.assembles).map(|(u, _)| u.starts);
        demand.uses = made.into_iter().map(|(u, _)| u).collect();
    }

    /// The steps of an item: its operations in order, then its features; an assembly without a station gets one.
    pub(crate) fn steps(&mut self, item: Id, part: usize) -> Vec<Step> {
        let mut steps = Vec::new();
        let times = self.assembly_times(self.index.body(part));
        self.stray_work(item, part);
        let operations = self.index.work_of(item);
        let mut stations = 0;
        for id in operations {
            let Some(record) = self.sources.study.get(id) else { continue };
            let key = record.text(Field::Calculation).unwrap_or_default().to_owned();
            if self.sources.library.find(&key).is_some_and(|c| c.kind == Some(tare_calc::Kind::Motion)) {
                continue; // work without a part: its time is in the station's
            }
            let assembles = is_station(&key);
            let mut extra = Vec::new();
            if assembles {
                let time = times.at_station(id, stations == 0);
                extra = self.station_times(item, id, time);
                if record.refers(Field::Line).is_some() {
                    let none = self.no_loss();
                    extra.push(("operation.line_loss".to_owned(), none));
                }
                stations += 1;
            }
            let name = format!("op{}", steps.len() + 1);
            steps.push(Step {
                name,
                title: record.text(Field::Name).unwrap_or("").to_owned(),
                key,
                operation: Some(id),
                feature: None,
                assembles,
                extra,
            });
        }
        if stations == 0 && !times.is_empty() {
            let extra = self.station_times(item, item, times.all());
            let name = format!("op{}", steps.len() + 1);
            steps.push(Step {
                name,
                title: "assembly (station assumed)".to_owned(),
                key: "processes/station-manual".to_owned(),
                operation: None,
                feature: None,
                assembles: true,
                extra,
            });
        }
        let features: Vec<Id> = self.index.features.get(&item).into_iter().flatten().map(|r| r.id).collect();
        for (number, id) in features.into_iter().enumerate() {
            let Some(record) = self.sources.study.get(id) else { continue };
            let Some(key) = record.text(Field::Calculation) else { continue };
            let title = record.text(Field::Name).unwrap_or("").to_owned();
            steps.push(Step {
                name: format!("feature{}", number + 1),
                title,
                key: key.to_owned(),
                operation: None,
                feature: Some(id),
                assembles: false,
                extra: Vec::new(),
            });
        }
        steps
    }

    /// Says where work stands under a place that does not describe its item: it would be a second description.
    fn stray_work(&mut self, item: Id, home: usize) {
        let known = self.index.work_of(item);
        let label = self.index.parts[self.index.body(home)].label.clone();
        for place in self.index.parts_of_item[&item].clone() {
            if self.inside_costed(place) {
                continue;
            }
            let stray: Vec<Id> = self
                .index
                .operations(self.index.parts[place].record.id)
                .iter()
                .map(|o| o.id)
                .filter(|o| !known.contains(o))
                .collect();
            for operation in stray {
                let subject = self.record_subject(operation);
                let address = self.lines.subjects[subject.0 as usize].address.clone();
                let name = self.index.parts[home].item.text(Field::Name).unwrap_or("?");
                let diag = Diag::error("operation-place", format!("{name} is described at {label}, so this work is not costed"))
                    .at(Place::address(address));
                self.problem(
                    diag.hint(format!("move it to {label} or to the item; a place where other work is done is another item")),
                );
            }
        }
    }

    pub(crate) fn lot(&mut self, item: Id, volume: LineRef, lots_of: &[LineRef], organisation: Option<Id>) -> Option<LineRef> {
        let subject = self.record_subject(item);
        let volume = if lots_of.len() > 1 {
            self.roll(subject, "twins", "roll-ups/item-volume", &[("parts", Given::Many(lots_of))], "volume")?
        } else {
            volume
        };
        let stated = self.chosen(subject, item, "lot");
        let runs = organisation.and_then(|o| {
            let subject = self.record_subject(o);
            self.chosen(subject, o, "runs_per_year")
        });
        let mut given = vec![("volume", Given::One(volume))];
        if let Some(runs) = runs {
            given.push(("runs", Given::One(runs)));
        }
        given.extend(stated.map(|lot| ("stated", Given::One(lot))));
        self.roll(subject, "lot", "roll-ups/lot", &given, "lot")
    }

    /// A line of a block by name, or the line one of its inputs is bound to: owed scalars may be either.
    pub(crate) fn line_or_input(&mut self, block: u32, key: &str, name: &str) -> Option<LineRef> {
        if let Some(line) = self.line(block, name) {
            return Some(line);
        }
        let inputs = self.inputs(key)?;
        let at = inputs.iter().position(|i| i.name == name)?;
        let lowered = self.lines.templates[self.lines.blocks[block as usize].template as usize].lowered.clone();
        let param = lowered.params.iter().position(|p| matches!(&p.what, tare_calc::ParamKind::Input(i) if *i == at))?;
        Some(self.lines.argument(block, param as u32))
    }

    /// On a balanced line the balance carries the line loss: one loss is carried once.
    pub(crate) fn no_loss(&mut self) -> LineRef {
        self.shared_leaf("definition", "line loss at a station", |subject| crate::builder::LeafSpec {
            subject,
            name: "line loss at a station".to_owned(),
            quantity: crate::builder::plain(0.0),
            word: None,
            evidence: crate::lines::Evidence::Derived,
            source: "definition: the balance of the line carries it".to_owned(),
            record: None,
            shared: true,
        })
    }
}
