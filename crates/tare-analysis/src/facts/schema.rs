//! Which columns there can be: those of every study, every quantity of the library, every line of its calculations, and what given facts hold besides.

use super::{COLUMNS, Data, Facts, Fixed, RELATIONS, RowKind};
use std::collections::{BTreeMap, BTreeSet};
use tare_calc::{Calculation, Declared, Kind};
use tare_library::Library;
use tare_model::Field;
use tare_units::Unit;

/// What a column holds.
#[derive(Clone, Debug, PartialEq)]
pub enum ColumnType {
    /// Numbers of a dimension, shown in this unit.
    Number(Unit),
    /// Texts; the words there can be where that is known, else none.
    Text(BTreeSet<String>),
    /// Truths.
    Flag,
}

/// The columns and relations that a question may name.
#[derive(Clone, Debug)]
pub struct Schema {
    /// Of each kind of rows: the columns of a name, likelier ones first.
    columns: BTreeMap<(RowKind, String), Vec<ColumnType>>,
}

impl Schema {
    /// The columns that any study may have: fixed ones, quantities of the library, inputs and lines of its calculations.
    pub fn of(library: &Library) -> Self {
        let mut schema = Self { columns: BTreeMap::new() };
        let keys: BTreeSet<String> = library.calculations().map(|c| c.key.clone()).collect();
        let families: BTreeSet<String> = library.materials().map(|m| m.family.clone()).collect();
        for (kind, name, fixed) in COLUMNS {
            let ty = match fixed {
                Fixed::Number(unit) => Unit::parse(unit).map(ColumnType::Number).ok(),
                Fixed::Text => Some(ColumnType::Text(BTreeSet::new())),
                Fixed::Word(of, field) => Some(ColumnType::Text(words(*of, *field))),
                Fixed::Calculation => Some(ColumnType::Text(keys.clone())),
                Fixed::Family => Some(ColumnType::Text(families.clone())),
                Fixed::Flag => Some(ColumnType::Flag),
            };
            ty.into_iter().for_each(|ty| schema.add(*kind, name, ty));
        }
        for quantity in library.quantities() {
            let (only, name) = match quantity.name.split_once('.') {
                Some((kind, name)) => (Some(kind), name),
                None => (None, quantity.name.as_str()),
            };
            let ty = match &quantity.unit {
                Some(unit) => ColumnType::Number(unit.clone()),
                None if quantity.choices == ["no", "yes"] => ColumnType::Flag,
                None => ColumnType::Text(quantity.choices.iter().cloned().collect()),
            };
            for kind in RowKind::ALL.into_iter().filter(|k| k.states()) {
                let carried = only.is_none_or(|only| only == kind.word() || (only == "item" && kind == RowKind::Part));
                if carried && !name.contains('.') {
                    schema.add(kind, name, ty.clone());
                }
            }
        }
        schema.lines(library);
        schema
    }

    /// The same with what facts of studies hold besides: yardsticks, quantities and calculations of one's own.
    #[must_use]
    pub fn with<'f>(mut self, studies: impl IntoIterator<Item = &'f Facts>) -> Self {
        // many studies write the same few units
        let mut units: BTreeMap<String, Option<Unit>> = BTreeMap::new();
        for facts in studies {
            for kind in RowKind::ALL {
                for column in facts.table(kind).columns() {
                    let ty = match &column.data {
                        Data::Numbers { unit, .. } => match units.get(unit) {
                            Some(known) => known.clone(),
                            None => units.entry(unit.clone()).or_insert_with(|| Unit::parse(unit).ok()).clone(),
                        }
                        .map(ColumnType::Number),
                        Data::Texts(codes) => Some(ColumnType::Text(self.new_words(kind, &column.name, facts, codes))),
                        Data::Flags(_) => Some(ColumnType::Flag),
                    };
                    ty.into_iter().for_each(|ty| self.add(kind, &column.name, ty));
                }
            }
        }
        self
    }

    /// The columns of a name, likelier ones first; none where there is no such column.
    pub fn column(&self, kind: RowKind, name: &str) -> &[ColumnType] {
        // a map of pairs is asked with a pair
        self.columns.get(&(kind, name.to_owned())).map_or(&[], Vec::as_slice)
    }

    /// Every column of a kind, by name.
    pub fn columns(&self, kind: RowKind) -> impl Iterator<Item = (&str, &[ColumnType])> {
        let from = (kind, String::new());
        self.columns.range(from..).take_while(move |((k, _), _)| *k == kind).map(|((_, n), t)| (n.as_str(), t.as_slice()))
    }

    /// Every relation of a kind: its name, the kind it leads to, and whether it may lead to several rows.
    pub fn relations(kind: RowKind) -> impl Iterator<Item = (&'static str, RowKind, bool)> {
        RELATIONS.iter().filter(move |(from, ..)| *from == kind).map(|(_, name, to, many)| (*name, *to, *many))
    }

    /// The texts of a column beyond the words known of it; none where it takes any text.
    fn new_words(&self, kind: RowKind, name: &str, facts: &Facts, codes: &[u32]) -> BTreeSet<String> {
        let known =
            self.column(kind, name).iter().find_map(|ty| if let ColumnType::Text(words) = ty { Some(words) } else { None });
        let Some(known) = known.filter(|words| !words.is_empty()) else { return BTreeSet::new() };
        let codes: BTreeSet<u32> = codes.iter().copied().collect();
        let texts = codes.into_iter().filter_map(|code| facts.texts.get(code));
        let new: BTreeSet<String> = texts.filter(|text| !known.contains(*text)).map(str::to_owned).collect();
        // with nothing new, what is known stands: an empty set would take any text
        if new.is_empty() { known.iter().take(1).cloned().collect() } else { new }
    }

    fn add(&mut self, kind: RowKind, name: &str, ty: ColumnType) {
        let known = self.columns.entry((kind, name.to_owned())).or_default();
        for other in known.iter_mut() {
            match (other, &ty) {
                (ColumnType::Number(a), ColumnType::Number(b)) if a.dim == b.dim => return,
                (ColumnType::Flag, ColumnType::Flag) => return,
                (ColumnType::Text(a), ColumnType::Text(b)) => {
                    // Where any text is taken once, it is taken always.
                    if a.is_empty() || b.is_empty() {
                        a.clear();
                    } else {
                        a.extend(b.iter().cloned());
                    }
                    return;
                }
                _ => {}
            }
        }
        known.push(ty);
    }

    /// Inputs and equations of calculations: of each name, what most of them mean by it comes first.
    fn lines(&mut self, library: &Library) {
        let mut counts: BTreeMap<(RowKind, String), Vec<(usize, ColumnType)>> = BTreeMap::new();
        for calculation in library.calculations() {
            let kinds: &[RowKind] = match calculation.kind {
                Some(Kind::Joint) => &[RowKind::Joint],
                Some(Kind::Process) => &[RowKind::Operation, RowKind::Feature],
                Some(Kind::Motion | Kind::Purchase) => &[RowKind::Operation],
                _ => &[],
            };
            for (name, ty) in named(calculation) {
                for kind in kinds {
                    let known = counts.entry((*kind, name.to_owned())).or_default();
                    match known.iter_mut().find(|(_, other)| is_like(other, &ty)) {
                        Some((count, ColumnType::Text(words))) => {
                            *count += 1;
                            words.extend(if let ColumnType::Text(new) = &ty { new.clone() } else { BTreeSet::new() });
                        }
                        Some((count, _)) => *count += 1,
                        None => known.push((1, ty.clone())),
                    }
                }
            }
        }
        for ((kind, name), mut types) in counts {
            types.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
            types.into_iter().for_each(|(_, ty)| self.add(kind, &name, ty));
        }
    }
}

/// Whether two columns of a name are one column.
fn is_like(a: &ColumnType, b: &ColumnType) -> bool {
    match (a, b) {
        (ColumnType::Number(a), ColumnType::Number(b)) => a.dim == b.dim,
        (ColumnType::Text(_), ColumnType::Text(_)) | (ColumnType::Flag, ColumnType::Flag) => true,
        _ => false,
    }
}

/// The single inputs and equations of a calculation that can be columns.
fn named(calculation: &Calculation) -> impl Iterator<Item = (&str, ColumnType)> {
    let inputs = calculation.inputs.iter().filter(|i| i.list.is_none()).map(|i| (&i.name.value, &i.declared, &i.choices));
    let none: &Vec<String> = const { &Vec::new() };
    let equations = calculation.equations.iter().map(move |e| (&e.name.value, &e.declared, none));
    inputs.chain(equations).filter_map(|(name, declared, choices)| {
        let ty = match declared {
            Declared::Number(unit) => ColumnType::Number(unit.clone()),
            Declared::Bool => ColumnType::Flag,
            Declared::Choice => ColumnType::Text(choices.iter().cloned().collect()),
            Declared::Row(_) | Declared::Bad => return None,
        };
        Some((name.as_str(), ty))
    })
}

/// The words of a field.
fn words(kind: tare_model::Kind, field: Field) -> BTreeSet<String> {
    match kind.schema().field(field) {
        Some(tare_model::FieldType::Word(words)) => words.iter().map(|w| (*w).to_owned()).collect(),
        _ => BTreeSet::new(),
    }
}
