//! Quantities stated on records, as the study uses them, and the lines of the calculations that work and joints are bound to.

use super::make::Making;
use super::{COLUMNS, Fixed, RowKind};
use rustc_hash::FxHashMap as HashMap;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use std::sync::OnceLock;
use tare_calc::{LineKind, Ty};
use tare_model::{Field, Id, Kind, Record};
use tare_study::{Evidence, LineRef, Lines};
use tare_units::{Dim, Quantity, Unit};

/// What a record states of one quantity.
#[derive(Clone, Debug)]
enum Stated {
    Number(Unit, f64),
    Word(String),
    Flag(bool),
}

/// What a record states, by quantity.
type Statements = Vec<(String, Stated)>;

/// Calculations whose result stands for a quantity in the place of what was read, and the line that is their result.
const RESULTS: [(&str, &str); 5] = [
    ("roll-ups/reading", "mass"),
    ("roll-ups/bunch", "piece"),
    ("roll-ups/mean", "mean"),
    ("roll-ups/weighted-mean", "mean"),
    ("roll-ups/exchange", "here"),
];

/// Where the numbers of a study stand.
struct Where {
    /// The leaf a value record feeds.
    leaves: HashMap<Id, u32>,
    /// The result that stands for a quantity of a record.
    results: HashMap<(Id, String), LineRef>,
    /// The copy of a calculation by record and name.
    blocks: HashMap<(Id, String), u32>,
    /// The copy a joint is bound to, by the copy that adds up its time: joints of one name have one subject.
    before: HashMap<u32, u32>,
}

impl Where {
    fn new(lines: &Lines) -> Self {
        let mut found = Self {
            leaves: HashMap::default(),
            results: HashMap::default(),
            blocks: HashMap::default(),
            before: HashMap::default(),
        };
        for (at, leaf) in (0_u32..).zip(&lines.leaves) {
            found.leaves.extend(leaf.record.map(|record| (record, at)));
        }
        let mut joint: HashMap<_, u32> = HashMap::default();
        for (at, block) in (0_u32..).zip(&lines.blocks) {
            match block.name.as_str() {
                "joint" => {
                    joint.insert(block.subject, at);
                }
                "time" => found.before.extend(joint.get(&block.subject).map(|joint| (at, *joint))),
                _ => {}
            }
            let template = &lines.templates[block.template as usize];
            let result = RESULTS.iter().find(|(key, _)| *key == template.key).map(|(_, line)| *line);
            let work = ["op", "feature", "joint"].iter().any(|word| block.name.starts_with(word));
            let subject = lines.lines_of(at).next().filter(|_| result.is_some() || work).map(|line| lines.subject(line));
            let Some(record) = subject.and_then(|s| s.record) else { continue };
            let line = result.and_then(|name| lines.lines_of(at).find(|line| lines.name(*line) == name));
            found.results.extend(line.map(|line| ((record, block.name.clone()), line)));
            if work {
                found.blocks.insert((record, block.name.clone()), at);
            }
        }
        found
    }
}

impl Making<'_> {
    /// Writes what is stated on parts, joints, features and operations, and the lines they are bound to.
    pub(super) fn stated(&mut self) {
        let known = Where::new(&self.study.lines);
        let mut of_items: HashMap<Id, Rc<Statements>> = HashMap::default();
        let study = self.study;
        for (row, part) in (0_u32..).zip(&study.parts) {
            let own = self.stated_on(&known, part.id);
            let item = of_items.entry(part.item).or_insert_with(|| Rc::new(self.stated_on(&known, part.item))).clone();
            // The place speaks before the item.
            let of_item = item.iter().filter(|(name, _)| !own.iter().any(|(n, _)| n == name));
            own.iter().chain(of_item).for_each(|(name, stated)| self.write(RowKind::Part, row, name, stated));
        }
        let manual: HashMap<Id, LineRef> = study.joints.iter().filter_map(|j| Some((j.id, j.manual?))).collect();
        let numbers = self.numbers_of_work();
        for kind in [RowKind::Joint, RowKind::Feature, RowKind::Operation] {
            let ids = self.rows.of(kind).to_vec();
            for (row, id) in (0_u32..).zip(ids) {
                let own = self.stated_on(&known, id);
                own.iter().for_each(|(name, stated)| self.write(kind, row, name, stated));
                let block = match manual.get(&id) {
                    Some(LineRef::Line { block, .. }) => known.before.get(block).copied(),
                    _ => numbers.get(&id).and_then(|(item, name)| known.blocks.get(&(*item, name.clone())).copied()),
                };
                if let Some(block) = block.filter(|block| self.is_of(*block, id)) {
                    let names: BTreeSet<&str> = own.iter().map(|(name, _)| name.as_str()).collect();
                    self.lines(kind, row, block, &names);
                }
            }
        }
    }

    /// Whether a copy is of the calculation that a record names.
    fn is_of(&self, block: u32, record: Id) -> bool {
        let lines = &self.study.lines;
        let key = &lines.templates[lines.blocks[block as usize].template as usize].key;
        self.document.get(record).and_then(|r| r.text(Field::Calculation)) == Some(key)
    }

    /// The item and the name under which the study binds each operation, feature and joint.
    fn numbers_of_work(&self) -> HashMap<Id, (Id, String)> {
        let document = self.document;
        let mut found: HashMap<Id, (Id, String)> = HashMap::default();
        let items: BTreeSet<Id> = self.study.parts.iter().map(|p| p.item).collect();
        for item in items {
            let places = self.rows.places(item).iter().map(|row| self.study.parts[*row as usize].id);
            let owners: Vec<Id> = std::iter::once(item).chain(places).collect();
            // Work without a part is in the time of a station and counts as no step of its own.
            let is_step = |r: &&Record| {
                let calculation = r.text(Field::Calculation).and_then(|key| self.library.find(key));
                calculation.is_none_or(|c| c.kind != Some(tare_calc::Kind::Motion))
            };
            let steps = owners.iter().flat_map(|owner| document.of_kind(Some(*owner), Kind::Operation)).filter(is_step);
            found.extend(steps.enumerate().map(|(at, step)| (step.id, (item, format!("op{}", at + 1)))));
            let features = document.of_kind(Some(item), Kind::Feature).enumerate();
            found.extend(features.map(|(at, feature)| (feature.id, (item, format!("feature{}", at + 1)))));
        }
        for joint in self.rows.of(RowKind::Joint) {
            found.insert(*joint, (*joint, "joint".to_owned()));
        }
        found
    }

    /// Every quantity stated on a record, as the study uses it.
    fn stated_on(&self, known: &Where, subject: Id) -> Statements {
        let mut values: BTreeMap<&str, Vec<&Record>> = BTreeMap::new();
        for value in self.document.of_kind(Some(subject), Kind::Value) {
            if let Some(name) = value.text(Field::Quantity) {
                values.entry(name).or_default().push(value);
            }
        }
        values
            .into_iter()
            .filter_map(|(name, values)| Some((name.to_owned(), self.used(known, subject, name, &values)?)))
            .collect()
    }

    fn used(&self, known: &Where, subject: Id, name: &str, values: &[&Record]) -> Option<Stated> {
        if let Some(line) = known.results.get(&(subject, name.to_owned())) {
            return Some(Stated::Number(self.study.lines.unit(*line).clone(), self.study.value(*line)));
        }
        let leaf = values.iter().rev().find_map(|value| known.leaves.get(&value.id));
        if let Some(at) = leaf {
            let leaf = &self.study.lines.leaves[*at as usize];
            if let Some(word) = &leaf.word {
                return Some(self.word(name, word));
            }
            return Some(Stated::Number(leaf.quantity.unit.clone(), self.study.value(LineRef::Leaf(*at))));
        }
        self.read(subject, name, chosen(self, subject, name, values)?)
    }

    /// A value that the study has no use for, read as it stands.
    fn read(&self, subject: Id, name: &str, value: &Record) -> Option<Stated> {
        let text = value.text(Field::Text)?.trim();
        let kind = self.document.get(subject)?.kind;
        match self.library.quantity_on(kind.word(), name) {
            Some(definition) => match &definition.unit {
                Some(unit) => {
                    // Work names inputs of its calculation, which may mean something else by the name.
                    let own = matches!(kind, Kind::Operation | Kind::Feature | Kind::Joint);
                    let read = Quantity::parse_as(text, unit).ok().or_else(|| Quantity::parse(text).ok().filter(|_| own))?;
                    Some(Stated::Number(read.unit, read.value))
                }
                None => Some(self.word(name, text)),
            },
            None => match Quantity::parse(text) {
                Ok(read) => Some(Stated::Number(read.unit, read.value)),
                Err(_) => Some(self.word(name, text)),
            },
        }
    }

    /// A word; yes and no are truths.
    fn word(&self, name: &str, word: &str) -> Stated {
        let yes_no = self.library.quantity(name).is_none_or(|q| q.choices == ["no", "yes"]);
        match word {
            "yes" | "true" if yes_no => Stated::Flag(true),
            "no" | "false" if yes_no => Stated::Flag(false),
            _ => Stated::Word(word.to_owned()),
        }
    }

    fn write(&mut self, kind: RowKind, row: u32, name: &str, stated: &Stated) {
        match stated {
            Stated::Number(unit, value) => self.write_number(kind, row, name, unit, *value),
            Stated::Word(_) | Stated::Flag(_) if super::is_fixed(kind, name) => {}
            Stated::Word(word) => self.text(kind, name, row, word),
            Stated::Flag(holds) => self.flag(kind, name, row, *holds),
        }
    }

    fn write_number(&mut self, kind: RowKind, row: u32, name: &str, unit: &Unit, value: f64) {
        // Money in a currency for which there is no rate says nothing in the study's.
        let foreign = unit.currency.is_some() && unit.currency != self.currency;
        if !foreign && !is_fixed_number(kind, name, unit) {
            self.number(kind, name, row, unit, value);
        }
    }

    /// The single lines of a copy of a calculation, but those that the record itself states.
    fn lines(&mut self, kind: RowKind, row: u32, block: u32, stated: &BTreeSet<&str>) {
        let study = self.study;
        let lines = &study.lines;
        let lowered = lines.templates[lines.blocks[block as usize].template as usize].lowered.clone();
        for (at, line) in (0_u32..).zip(&lowered.lines) {
            let shown = matches!(line.kind, LineKind::Equation | LineKind::Default) && line.values.len() == 1;
            if !shown || stated.contains(line.name.as_str()) || !is_plain(&line.name) {
                continue;
            }
            let found = LineRef::Line { block, line: at, element: 0 };
            let value = study.value(found);
            match &line.ty {
                Ty::Num(_) | Ty::Zero | Ty::Point => {
                    self.write_number(kind, row, &line.name, lines.unit(found), value);
                }
                Ty::Bool if value.is_finite() => self.write(kind, row, &line.name, &Stated::Flag(value != 0.0)),
                Ty::Choice(words) if value >= 0.0 => {
                    if let Some(word) = words.get(value as usize) {
                        self.write(kind, row, &line.name, &Stated::Word(word.clone()));
                    }
                }
                _ => {}
            }
        }
    }
}

/// Which of several values counts that the study has no use for: the chosen one, else the last of the strongest evidence.
fn chosen<'r>(making: &Making<'_>, subject: Id, name: &str, values: &[&'r Record]) -> Option<&'r Record> {
    let of_name = |c: &&Record| c.text(Field::Quantity) == Some(name);
    let choice = making.document.of_kind(Some(subject), Kind::Choose).find(of_name).and_then(|c| c.refers(Field::Value));
    let evidence = |v: &&&Record| v.text(Field::Evidence).and_then(Evidence::from_word).unwrap_or(Evidence::Assumed);
    let named = values.iter().find(|v| Some(v.id) == choice);
    named.or_else(|| values.iter().rev().min_by_key(evidence)).copied()
}

/// Whether a name can be written in a formula.
fn is_plain(name: &str) -> bool {
    name.starts_with(|c: char| c.is_alphabetic() || c == '_') && name.chars().all(|c| c.is_alphanumeric() || c == '_')
}

/// Whether every study has a column of this name and dimension: it says more than what was stated.
fn is_fixed_number(kind: RowKind, name: &str, unit: &Unit) -> bool {
    static FIXED: OnceLock<HashMap<(RowKind, &str), Dim>> = OnceLock::new();
    let fixed = FIXED.get_or_init(|| {
        let dim = |fixed: &Fixed| if let Fixed::Number(text) = fixed { Unit::parse(text).ok().map(|u| u.dim) } else { None };
        COLUMNS.iter().filter_map(|(kind, name, fixed)| Some(((*kind, *name), dim(fixed)?))).collect()
    });
    fixed.get(&(kind, name)) == Some(&unit.dim)
}
