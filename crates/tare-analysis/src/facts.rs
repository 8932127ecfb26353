//! What a compiled study says, as tables of columns: what questions and rules read.
//!
//! [`Facts::of`] fills one [`Table`] per [`RowKind`]. Numbers are SI (NaN where not known), texts are codes into one list of
//! texts, relations are rows of other tables. [`Schema`] says which columns there can be, whatever a study states.
//!
//! Facts hold no lines and no records: they can be kept and read without the study they were made of.

mod columns;
mod make;
mod parts;
mod places;
mod rest;
mod schema;
mod stated;
mod texts;

pub use columns::RowKind;
pub(crate) use columns::{COLUMNS, Fixed, RELATIONS};
pub use schema::{ColumnType, Schema};
pub use texts::Texts;

use serde::{Deserialize, Serialize};
use tare_library::Library;
use tare_model::{Document, Id};
use tare_study::Study;

/// Whether every study's rows of a kind have a column of this name.
pub(crate) fn is_fixed(kind: RowKind, name: &str) -> bool {
    COLUMNS.iter().any(|(k, n, _)| *k == kind && *n == name)
}

/// The code of no text, and the row of no row.
pub const NONE: u32 = u32::MAX;

/// Whether something holds, in three values: `and` is the least of two, `or` the greatest, `not` the distance to [`Truth::YES`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Truth;

impl Truth {
    /// It does not hold.
    pub const NO: u8 = 0;
    /// It is not known whether it holds.
    pub const UNKNOWN: u8 = 1;
    /// It holds.
    pub const YES: u8 = 2;

    /// A truth that is known.
    pub fn of(holds: bool) -> u8 {
        if holds { Self::YES } else { Self::NO }
    }
}

/// What one study says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    /// The code of the study's currency; empty where none is stated. Amounts of money are in it.
    pub currency: String,
    /// Every text, once.
    pub texts: Texts,
    /// One table per kind of row, in the order of [`RowKind::ALL`].
    tables: Vec<Table>,
}

/// The rows of one kind.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// The record behind each row.
    pub ids: Vec<Id>,
    /// For parts: the record of the item at each place; empty for other kinds.
    pub items: Vec<Id>,
    /// Its columns, by name and kind.
    columns: Vec<Column>,
    /// Its relations, by name.
    relations: Vec<(String, Relation)>,
}

/// One column: what every row says of one thing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// Its name; columns of one name differ in kind or dimension.
    pub name: String,
    /// Its entries, one per row.
    pub data: Data,
}

/// The entries of a column.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Data {
    /// Numbers in SI.
    Numbers {
        /// The dimension in base units, such as `kg/(m*s^2)`; money is the study's.
        dim: String,
        /// The unit to show them in.
        unit: String,
        /// The numbers; NaN where not known.
        values: Vec<f64>,
    },
    /// Codes of texts; [`NONE`] where not known.
    Texts(Vec<u32>),
    /// [`Truth`]s.
    Flags(Vec<u8>),
}

/// From each row to rows of another table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Relation {
    /// At most one row; [`NONE`] where there is none.
    One(Vec<u32>),
    /// Any number: those of row `r` are `targets[starts[r]..starts[r + 1]]`.
    Many {
        /// One more than there are rows.
        starts: Vec<u32>,
        /// The rows.
        targets: Vec<u32>,
    },
}

impl Facts {
    /// The version of what facts hold: those kept under another are made again.
    pub const FORM: u32 = 1;

    /// Reads a compiled study: `study` is what `document` was compiled to, with `library`.
    pub fn of(document: &Document, study: &Study, library: &Library) -> Self {
        make::facts(document, study, library)
    }

    /// The rows of a kind.
    pub fn table(&self, rows: RowKind) -> &Table {
        &self.tables[rows as usize]
    }

    /// The same without the rows of all other kinds; relations to them lead nowhere.
    #[must_use]
    pub fn only(&self, rows: RowKind) -> Self {
        let own = &self.tables[rows as usize];
        let used = own.columns.iter().filter_map(|column| if let Data::Texts(codes) = &column.data { Some(codes) } else { None });
        let mut words: Vec<String> = used.flatten().filter_map(|code| self.texts.get(*code)).map(str::to_owned).collect();
        words.sort();
        words.dedup();
        let texts = Texts::from(words);
        let mut columns = own.columns.clone();
        for column in &mut columns {
            if let Data::Texts(codes) = &mut column.data {
                let again = |code: &mut u32| *code = self.texts.get(*code).and_then(|text| texts.code(text)).unwrap_or(NONE);
                codes.iter_mut().for_each(again);
            }
        }
        let mut tables: Vec<Table> = RowKind::ALL.iter().map(|_| Table::default()).collect();
        tables[rows as usize] = Table { ids: own.ids.clone(), items: own.items.clone(), columns, relations: Vec::new() };
        Self { currency: self.currency.clone(), texts, tables }
    }

    /// Bytes held, about: what a cache reckons with.
    pub fn bytes(&self) -> usize {
        self.texts.bytes() + self.tables.iter().map(Table::bytes).sum::<usize>()
    }
}

impl Table {
    /// How many rows there are.
    pub fn rows(&self) -> usize {
        self.ids.len()
    }

    /// Every column.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// The columns of a name.
    pub fn named(&self, name: &str) -> &[Column] {
        let from = self.columns.partition_point(|c| c.name.as_str() < name);
        let count = self.columns[from..].iter().take_while(|c| c.name == name).count();
        &self.columns[from..from + count]
    }

    /// The numbers of a name and dimension.
    pub fn numbers(&self, name: &str, dim: &str) -> Option<&[f64]> {
        self.named(name).iter().find_map(|c| match &c.data {
            Data::Numbers { dim: own, values, .. } if own == dim => Some(values.as_slice()),
            _ => None,
        })
    }

    /// The texts of a name.
    pub fn codes(&self, name: &str) -> Option<&[u32]> {
        self.named(name).iter().find_map(|c| if let Data::Texts(codes) = &c.data { Some(codes.as_slice()) } else { None })
    }

    /// The truths of a name.
    pub fn flags(&self, name: &str) -> Option<&[u8]> {
        self.named(name).iter().find_map(|c| if let Data::Flags(flags) = &c.data { Some(flags.as_slice()) } else { None })
    }

    /// A relation by name.
    pub fn relation(&self, name: &str) -> Option<&Relation> {
        self.relations.iter().find(|(n, _)| n == name).map(|(_, r)| r)
    }

    fn bytes(&self) -> usize {
        let columns: usize = self
            .columns
            .iter()
            .map(|c| match &c.data {
                Data::Numbers { values, .. } => values.len() * 8,
                Data::Texts(codes) => codes.len() * 4,
                Data::Flags(flags) => flags.len(),
            })
            .sum();
        let relations: usize = self
            .relations
            .iter()
            .map(|(_, r)| match r {
                Relation::One(to) => to.len() * 4,
                Relation::Many { starts, targets } => (starts.len() + targets.len()) * 4,
            })
            .sum();
        columns + relations + (self.ids.len() + self.items.len()) * 16
    }
}

impl Relation {
    /// The rows a row is related to.
    pub fn of(&self, row: usize) -> &[u32] {
        match self {
            Self::One(to) => match to.get(row) {
                Some(&NONE) | None => &[],
                Some(one) => std::slice::from_ref(one),
            },
            Self::Many { starts, targets } => &targets[starts[row] as usize..starts[row + 1] as usize],
        }
    }
}
