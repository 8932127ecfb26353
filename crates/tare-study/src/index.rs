//! What a study and its books hold, arranged for compiling.

use crate::places::Places;
use rustc_hash::FxHashMap as HashMap;
use tare_library::Library;
use tare_model::{Document, Field, Id, Kind, Record};

/// What a study is compiled from.
#[derive(Clone, Copy, Debug)]
pub struct Sources<'a> {
    /// The study.
    pub study: &'a Document,
    /// Rate books of the workspace; the library's own are found through `library`.
    pub books: &'a [&'a Document],
    /// Calculations, quantities, materials and illustrative books.
    pub library: &'a Library,
}

/// Records by what is asked of them.
pub(crate) struct Index<'a> {
    /// Values by subject, each with its quantity.
    pub(crate) values: HashMap<Id, Vec<(&'a str, &'a Record)>>,
    pub(crate) chosen: HashMap<Id, Vec<&'a Record>>,
    pub(crate) items: Vec<&'a Record>,
    /// Parts in depth-first order.
    pub(crate) parts: Vec<PartNode<'a>>,
    pub(crate) part_of: HashMap<Id, usize>,
    pub(crate) parts_of_item: HashMap<Id, Vec<usize>>,
    pub(crate) operations: HashMap<Id, Vec<&'a Record>>,
    pub(crate) features: HashMap<Id, Vec<&'a Record>>,
    pub(crate) joints: Vec<&'a Record>,
    pub(crate) tools: Vec<&'a Record>,
    pub(crate) quotes: HashMap<Id, Vec<Id>>,
    pub(crate) places: Places,
    pub(crate) study: Option<&'a Record>,
    pub(crate) scenario: Option<&'a Record>,
    /// Labels of parts that lie deeper than is followed, and are left out with all below them.
    pub(crate) too_deep: Vec<String>,
}

/// A part with its place in the tree.
#[derive(Clone, Debug)]
pub(crate) struct PartNode<'a> {
    pub(crate) record: &'a Record,
    pub(crate) item: &'a Record,
    pub(crate) count: f64,
    pub(crate) level: usize,
    pub(crate) parent: Option<usize>,
    pub(crate) children: Vec<usize>,
    /// Label as shown and used in addresses: the stated one, or the position in the list.
    pub(crate) label: String,
}

impl<'a> Index<'a> {
    pub(crate) fn new(study: &'a Document) -> Self {
        let mut index = Self {
            values: HashMap::default(),
            chosen: HashMap::default(),
            items: Vec::new(),
            parts: Vec::new(),
            part_of: HashMap::default(),
            parts_of_item: HashMap::default(),
            operations: HashMap::default(),
            features: HashMap::default(),
            joints: Vec::new(),
            tools: Vec::new(),
            quotes: HashMap::default(),
            places: Places::default(),
            study: None,
            scenario: None,
            too_deep: Vec::new(),
        };
        for record in study.records() {
            let Some(parent) = record.parent else { continue };
            match record.kind {
                Kind::Value => index.values.entry(parent).or_default().push((record.text(Field::Quantity).unwrap_or(""), record)),
                Kind::Choose => index.chosen.entry(parent).or_default().push(record),
                Kind::Operation => index.operations.entry(parent).or_default().push(record),
                Kind::Feature => index.features.entry(parent).or_default().push(record),
                _ => {}
            }
        }
        for list in index.values.values_mut() {
            list.sort_by(|a, b| a.1.order.cmp(&b.1.order).then(a.1.id.cmp(&b.1.id)));
        }
        for list in [&mut index.operations, &mut index.features].into_iter().flat_map(HashMap::values_mut) {
            list.sort_by(|a, b| a.order.cmp(&b.order).then(a.id.cmp(&b.id)));
        }
        for record in study.children(None) {
            match record.kind {
                Kind::Item => index.items.push(record),
                Kind::Joint => index.joints.push(record),
                Kind::Tool => index.tools.push(record),
                Kind::Quote => {
                    if let Some(item) = record.refers(Field::Item) {
                        index.quotes.entry(item).or_default().push(record.id);
                    }
                }
                Kind::Study => index.study = index.study.or(Some(record)),
                Kind::Scenario => index.scenario = index.scenario.or(Some(record)),
                _ => {}
            }
        }
        index.walk(study);
        index.arrange_places();
        index
    }

    /// Parts depth-first, without recursion: a hostile list may be deep.
    fn walk(&mut self, study: &'a Document) {
        let tops: Vec<&Record> = study.of_kind(None, Kind::Part).collect();
        let mut open: Vec<(&'a Record, usize, Option<usize>)> = tops.into_iter().rev().map(|r| (r, 0, None)).collect();
        while let Some((record, level, parent)) = open.pop() {
            let Some(item) = record.refers(Field::Item).and_then(|id| study.get(id)) else { continue };
            let at = self.parts.len();
            let label =
                record.text(Field::Label).or(item.text(Field::Label)).map_or_else(|| format!("P{}", at + 1), str::to_owned);
            if level >= crate::circle::LEVELS {
                self.too_deep.push(label);
                continue;
            }
            let count = record.number(Field::Count).unwrap_or(1.0);
            self.parts.push(PartNode { record, item, count, level, parent, children: Vec::new(), label });
            self.part_of.insert(record.id, at);
            self.parts_of_item.entry(item.id).or_default().push(at);
            if let Some(parent) = parent {
                self.parts[parent].children.push(at);
            }
            let below: Vec<&Record> = study.of_kind(Some(record.id), Kind::Part).collect();
            open.extend(below.into_iter().rev().map(|r| (r, level + 1, Some(at))));
        }
    }

    /// The values of a quantity of a subject, in order.
    pub(crate) fn of(&self, subject: Id, quantity: &str) -> impl Iterator<Item = &'a Record> {
        self.values.get(&subject).into_iter().flatten().filter(move |(q, _)| *q == quantity).map(|(_, v)| *v)
    }

    pub(crate) fn operations(&self, subject: Id) -> &[&'a Record] {
        self.operations.get(&subject).map_or(&[], Vec::as_slice)
    }

    /// The lowest part that holds all of these parts.
    pub(crate) fn common_parent(&self, parts: impl Iterator<Item = usize>) -> Option<usize> {
        let mut common: Option<Vec<usize>> = None;
        for part in parts {
            let mut path: Vec<usize> = std::iter::successors(self.parts[part].parent, |p| self.parts[*p].parent).collect();
            path.reverse();
            common = Some(match common {
                None => path,
                Some(known) => known.iter().zip(&path).take_while(|(a, b)| a == b).map(|(a, _)| *a).collect(),
            });
        }
        common.and_then(|c| c.last().copied())
    }
}
