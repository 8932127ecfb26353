//! Rows of a comparison: the same thing in each product.

use super::best::{BestOf, best_of};
use std::collections::BTreeMap;
use tare_library::Library;
use tare_model::{Document, Field, Id};
use tare_study::{CostKind, Joined, LineRef, NO_FUNCTION, Over, Sources, Study, SubjectId};

/// One product of a comparison.
#[derive(Clone, Copy, Debug)]
pub struct Side<'a> {
    /// What its addresses begin with.
    pub name: &'a str,
    /// Its records.
    pub document: &'a Document,
    /// The study, compiled under the common scenario.
    pub study: &'a Study,
}

/// How a comparison is cut into rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cut {
    /// Cost by kind.
    Kind,
    /// Cost by function.
    Function,
    /// Cost by process.
    Process,
    /// Cost by material.
    Material,
    /// Mass by function.
    MassFunction,
    /// Mass by material.
    MassMaterial,
    /// Joints by method: how many.
    Joints,
}

impl Cut {
    /// All cuts, in the order shown.
    pub const ALL: [Self; 7] =
        [Self::Function, Self::Kind, Self::Process, Self::Material, Self::MassFunction, Self::MassMaterial, Self::Joints];

    /// The words shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Kind => "cost by kind",
            Self::Function => "cost by function",
            Self::Process => "cost by process",
            Self::Material => "cost by material",
            Self::MassFunction => "mass by function",
            Self::MassMaterial => "mass by material",
            Self::Joints => "joints by method",
        }
    }

    fn change(self) -> &'static str {
        match self {
            Self::MassFunction | Self::MassMaterial => "roll-ups/change-mass",
            Self::Joints => "roll-ups/change-count",
            _ => "roll-ups/change-cost",
        }
    }

    fn sum(self) -> (&'static str, &'static str) {
        match self {
            Self::MassFunction | Self::MassMaterial => ("roll-ups/sum-of-masses", "total"),
            Self::Joints => ("roll-ups/sum-count", "total"),
            _ => ("roll-ups/sum", "total"),
        }
    }
}

/// One thing in each product.
#[derive(Clone, Debug)]
pub struct Row {
    /// What it is.
    pub name: String,
    /// Its line in each product, in the joined study; none where a product does not have it.
    pub lines: Vec<Option<LineRef>>,
    /// The difference to the first product, for each; none for the first.
    pub changes: Vec<Option<LineRef>>,
    /// Words that no list of functions knows stand in rows of their own.
    pub unmapped: bool,
}

/// A yardstick in each product.
#[derive(Clone, Debug)]
pub struct Yard {
    /// Its name.
    pub name: String,
    /// What each study says it means.
    pub qualifiers: Vec<String>,
    /// Its value in each product, in the joined study.
    pub values: Vec<Option<LineRef>>,
    /// Cost per unit of it, with the difference to the first.
    pub costs: Row,
    /// How much of it a mass unit holds, where it is an energy.
    pub per_mass: Option<Vec<Option<LineRef>>>,
}

/// Products side by side.
#[derive(Debug)]
pub struct Comparison {
    /// All lines.
    pub study: Study,
    /// Cost, cost without the dominant bought item, mass, manual time, ideal-time share, investment, pieces, joints.
    pub headlines: Vec<Row>,
    /// Yardsticks that at least two products state.
    pub yards: Vec<Yard>,
    /// Rows by cut.
    pub cuts: BTreeMap<Cut, Vec<Row>>,
    /// The best of each group of functions.
    pub best: Option<BestOf>,
}

/// Joins studies that were compiled under one scenario and writes what differs. `sources` is what the first was compiled from.
pub fn compare(sources: Sources<'_>, sides: &[Side<'_>]) -> Comparison {
    let studies: Vec<(&str, &Study)> = sides.iter().map(|side| (side.name, side.study)).collect();
    let mut joined = Joined::new(sources, &studies);
    let mut aligning = Aligning { joined: &mut joined, sides, library: sources.library };
    let headlines = aligning.headlines();
    let yards = aligning.yards();
    let cuts: BTreeMap<Cut, Vec<Row>> = Cut::ALL.into_iter().map(|cut| (cut, aligning.cut(cut))).collect();
    let best = best_of(&mut joined, sources.library, sides.len(), &cuts[&Cut::Function]);
    Comparison { study: joined.finish(), headlines, yards, cuts, best }
}

struct Aligning<'j, 'a> {
    joined: &'j mut Joined<'a>,
    sides: &'j [Side<'j>],
    library: &'a Library,
}

impl Aligning<'_, '_> {
    /// A line of each product as a row, with the difference to the first by a roll-up.
    fn row(&mut self, subject: SubjectId, name: &str, key: &str, lines: Vec<Option<LineRef>>) -> Row {
        let mut changes = vec![None];
        for (at, line) in lines.iter().enumerate().skip(1) {
            let (before, after): (Vec<LineRef>, Vec<LineRef>) = (lines[0].into_iter().collect(), line.iter().copied().collect());
            if before.is_empty() && after.is_empty() {
                changes.push(None);
                continue;
            }
            let given = [("before", Over::Many(&before)), ("after", Over::Many(&after))];
            let block = format!("{} less {}", self.sides[at].name, self.sides[0].name);
            changes.push(self.joined.roll(subject, &block, key, &given, "change"));
        }
        Row { name: name.to_owned(), lines, changes, unmapped: false }
    }

    fn of_each(&self, line: impl Fn(&Study) -> Option<LineRef>) -> Vec<Option<LineRef>> {
        self.sides.iter().enumerate().map(|(at, side)| line(side.study).map(|line| self.joined.line(at, line))).collect()
    }

    fn headlines(&mut self) -> Vec<Row> {
        let dominant = self.sides.iter().all(|side| side.study.items.iter().any(|item| item.dominant));
        type Of = fn(&Study) -> Option<LineRef>;
        let rows: [(&str, &str, Of); 6] = [
            ("should-cost", "roll-ups/change-cost", |s| s.totals.cost),
            ("without the dominant bought item", "roll-ups/change-cost", |s| s.totals.without_dominant),
            ("mass", "roll-ups/change-mass", |s| s.totals.mass),
            ("manual assembly time", "roll-ups/change-time", |s| s.totals.manual),
            ("ideal-time share", "roll-ups/change-count", |s| s.totals.ideal_share),
            ("investment in tools", "roll-ups/change-cost", |s| s.totals.investment),
        ];
        let mut found = Vec::new();
        for (name, key, of) in rows {
            let lines = self.of_each(of);
            if lines.iter().all(Option::is_none) || (name.starts_with("without") && !dominant) {
                continue;
            }
            let subject = self.joined.subject(name, name, None);
            found.push(self.row(subject, name, key, lines));
        }
        let counted: Vec<(f64, f64)> = self.sides.iter().map(|side| crate::ideas::counted(side.study)).collect();
        for (name, of) in [("pieces", 0), ("joints", 1)] {
            let subject = self.joined.subject(name, name, None);
            let number = |at: usize| if of == 0 { counted[at].0 } else { counted[at].1 };
            let lines = (0..self.sides.len()).map(|at| {
                let name = format!("{name} of {}", self.sides[at].name);
                Some(self.joined.count(subject, &name, number(at), "counted over the parts list"))
            });
            let lines = lines.collect();
            found.push(self.row(subject, name, "roll-ups/change-count", lines));
        }
        found
    }

    fn yards(&mut self) -> Vec<Yard> {
        let mut names: Vec<String> = Vec::new();
        let named = |side: &Side<'_>, id: Id| side.document.get(id).and_then(|r| r.text(Field::Name)).unwrap_or("").to_owned();
        let sides = self.sides;
        for side in sides {
            for (id, _, _) in &side.study.totals.yardsticks {
                let name = named(side, *id);
                if !names.contains(&name) {
                    names.push(name);
                }
            }
        }
        let mut found = Vec::new();
        for name in names {
            let stated: Vec<_> = sides
                .iter()
                .map(|side| side.study.totals.yardsticks.iter().find(|(id, _, _)| named(side, *id) == name))
                .collect();
            // what is said in another dimension is another yardstick of the same name
            let dim = |at: usize, y: &(Id, LineRef, Option<LineRef>)| sides[at].study.lines.unit(y.1).dim;
            let first = stated.iter().enumerate().find_map(|(at, y)| Some(dim(at, (*y)?)));
            let other = |at: usize| stated[at].is_some_and(|y| Some(dim(at, y)) != first);
            let others: Vec<bool> = (0..sides.len()).map(other).collect();
            let stated: Vec<_> = stated.iter().enumerate().map(|(at, y)| y.filter(|_| !others[at])).collect();
            if stated.iter().flatten().count() < 2.min(sides.len()) {
                continue;
            }
            let qualifier = |at: usize| {
                if others[at] {
                    return "stated in another dimension, left out".to_owned();
                }
                let record = stated[at].and_then(|(id, _, _)| sides[at].document.get(*id));
                record.and_then(|r| r.text(Field::Qualifier)).unwrap_or_default().to_owned()
            };
            let place = |joined: &Joined<'_>, at: usize, line: Option<LineRef>| line.map(|line| joined.line(at, line));
            let values: Vec<Option<LineRef>> =
                stated.iter().enumerate().map(|(at, y)| place(self.joined, at, y.map(|y| y.1))).collect();
            let costs: Vec<Option<LineRef>> =
                stated.iter().enumerate().map(|(at, y)| place(self.joined, at, y.and_then(|y| y.2))).collect();
            let unit = stated.iter().enumerate().find_map(|(at, y)| Some(sides[at].study.lines.unit(y.as_ref()?.1).clone()));
            let energy = unit.as_ref().is_some_and(|unit| tare_units::Unit::parse("J").is_ok_and(|joule| unit.dim == joule.dim));
            let subject = self.joined.subject(&format!("yardstick {name}"), &name, None);
            let costs = self.row(subject, &format!("cost per unit of {name}"), "roll-ups/change-cost", costs);
            if let Some(first) = costs.lines.iter().flatten().next() {
                costs.changes.iter().flatten().for_each(|change| self.joined.show_as(*change, *first));
            }
            let per_mass = energy.then(|| self.per_mass(subject, &values));
            let qualifiers = (0..sides.len()).map(qualifier).collect();
            found.push(Yard { name, qualifiers, values, costs, per_mass });
        }
        found
    }

    fn per_mass(&mut self, subject: SubjectId, values: &[Option<LineRef>]) -> Vec<Option<LineRef>> {
        let masses = self.of_each(|study| study.totals.mass);
        let pairs = values.iter().zip(&masses).enumerate();
        pairs
            .map(|(at, (value, mass))| {
                let given = [("energy", Over::One((*value)?)), ("mass", Over::One((*mass)?))];
                let name = format!("per mass of {}", self.sides[at].name);
                self.joined.roll(subject, &name, "roll-ups/specific-energy", &given, "specific_energy")
            })
            .collect()
    }

    /// Rows of one cut: groups of the same name in each product, those of the first in order, the largest first.
    fn cut(&mut self, cut: Cut) -> Vec<Row> {
        let mut groups: Vec<(String, bool, Vec<Vec<LineRef>>)> = Vec::new();
        for at in 0..self.sides.len() {
            for (name, line) in self.grouped(cut, at) {
                let (name, unmapped) = self.called(cut, name);
                let place = match groups.iter().position(|(known, _, _)| *known == name) {
                    Some(place) => place,
                    None => {
                        groups.push((name, unmapped, vec![Vec::new(); self.sides.len()]));
                        groups.len() - 1
                    }
                };
                groups[place].2[at].push(line);
            }
        }
        let mut rows = Vec::new();
        for (name, unmapped, each) in groups {
            let subject = self.joined.subject(&format!("{} {name}", cut.word()), &name, None);
            let mut lines = Vec::new();
            for (at, group) in each.into_iter().enumerate() {
                lines.push(match group.as_slice() {
                    [] => None,
                    [one] => Some(*one),
                    many => {
                        let (key, line) = cut.sum();
                        let block = format!("in {}", self.sides[at].name);
                        self.joined.roll(subject, &block, key, &[("terms", Over::Many(many))], line)
                    }
                });
            }
            let row = self.row(subject, &name, cut.change(), lines);
            rows.push(Row { unmapped, ..row });
        }
        rows
    }

    /// What a group is called in common: functions by the library's list, materials by their family.
    fn called(&self, cut: Cut, name: String) -> (String, bool) {
        match cut {
            Cut::Function | Cut::MassFunction if name == NO_FUNCTION => (name, true),
            Cut::Function | Cut::MassFunction => match self.library.functions().find(&name) {
                Some(function) => (function.title.clone(), false),
                None => (name, true),
            },
            Cut::Material | Cut::MassMaterial => match self.library.material(&name) {
                Some(material) => (material.family.clone(), false),
                None => (name, false),
            },
            _ => (name, false),
        }
    }

    fn grouped(&mut self, cut: Cut, at: usize) -> Vec<(String, LineRef)> {
        let study = self.sides[at].study;
        let totals = &study.totals;
        let own: Vec<(String, LineRef)> = match cut {
            Cut::Kind => {
                totals.by_kind.iter().map(|(kind, line): &(CostKind, LineRef)| (kind.word().to_owned(), *line)).collect()
            }
            Cut::Function => totals.cost_by_function.clone(),
            Cut::Process => totals.by_process.clone(),
            Cut::Material => totals.cost_by_material.clone(),
            Cut::MassFunction => totals.mass_by_function.clone(),
            Cut::MassMaterial => totals.mass_by_material.clone(),
            Cut::Joints => return self.joints(at),
        };
        own.into_iter().map(|(name, line)| (name, self.joined.line(at, line))).collect()
    }

    fn joints(&mut self, at: usize) -> Vec<(String, LineRef)> {
        let study = self.sides[at].study;
        let mut methods: BTreeMap<String, f64> = BTreeMap::new();
        for joint in &study.joints {
            let title = self.library.find(&joint.method).map_or_else(|| joint.method.clone(), |c| c.title.clone());
            *methods.entry(title).or_default() += study.value(joint.count) * joint.assemblies;
        }
        let mut found = Vec::new();
        for (title, many) in methods {
            let subject = self.joined.subject(&format!("{} {title}", Cut::Joints.word()), &title, None);
            let name = format!("in {}", self.sides[at].name);
            let line = self.joined.count(subject, &name, many, "counted over the joints");
            found.push((title, line));
        }
        found
    }
}
