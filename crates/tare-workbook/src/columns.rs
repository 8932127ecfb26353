//! The columns of a calculation in the workbook: its inputs and equations, each with the formula of its cells.

use crate::bit::{Bit, Piece};
use crate::translate::Translator;
use crate::value::Value;
use std::sync::Arc;
use tare_calc::{LineKind, ParamKind, Resolve, TableOrder, Ty};
use tare_engine::Operand;
use tare_study::{CompiledTemplate, Lines};
use tare_units::Unit;

/// What the cells of a column hold.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Holds {
    Number,
    Condition,
    /// One of several texts.
    Choice(Arc<[String]>),
    /// The place of a row in a look-up table, from 0; between two rows with the share of the way.
    Place,
    /// The lower one of the two rows that a place lies between.
    LowerRow(Arc<TableOrder>),
}

/// Where the content of a column's cells comes from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Fill {
    /// The same formula in every use.
    Formula(Vec<Piece>),
    /// What each use binds: one parameter, or one per entry; with the exchange rate that an amount is multiplied (or divided) by.
    Bound { params: Vec<u32>, exchange: Option<(Vec<Piece>, bool)> },
    /// A value alone, where the formula cannot be written for a spreadsheet.
    Value(String),
}

/// A column.
#[derive(Clone, Debug)]
pub(crate) struct Column {
    pub(crate) name: String,
    pub(crate) holds: Holds,
    pub(crate) unit: Unit,
    pub(crate) list: bool,
    pub(crate) fill: Fill,
    /// Where our own value of each entry stands.
    pub(crate) values: Vec<Operand>,
    /// The formula as its author wrote it; empty for what is bound.
    pub(crate) authored: String,
    pub(crate) source: String,
}

/// Where a line of a calculation is found.
#[derive(Clone, Debug)]
pub(crate) enum Found {
    /// In a column.
    Column(usize),
    /// It only passes on what stands elsewhere, or is a constant.
    Same(Bit),
    /// Nowhere: it is not for showing.
    Nowhere,
}

/// A calculation translated for one shape of its inputs.
#[derive(Clone, Debug)]
pub(crate) struct Translated {
    pub(crate) columns: Vec<Column>,
    pub(crate) lines: Vec<Found>,
    /// The most entries of its lists.
    pub(crate) entries: usize,
}

/// Translates one compiled calculation.
pub(crate) fn translate(lib: &dyn Resolve, lines: &Lines, template: &CompiledTemplate) -> Translated {
    let mut translator = Translator::new(lib, lines, template);
    translator.inputs();
    let mut places = Vec::with_capacity(template.lowered.lines.len());
    for at in 0..template.lowered.lines.len() {
        let found = translator.line(at);
        places.push(found);
    }
    let entries = translator.columns.iter().filter(|c| c.list).map(|c| c.values.len()).max().unwrap_or(0);
    Translated { columns: translator.columns, lines: places, entries }
}

impl Translator<'_> {
    /// The inputs that have a value bound; those with a formula of their own come with the lines.
    fn inputs(&mut self) {
        let lowered = self.lowered;
        for (flat, input) in lowered.inputs.iter().enumerate() {
            let Some(declared) = self.flat.get(flat).map(|f| f.input) else { continue };
            if lowered.lines.iter().any(|l| l.kind == LineKind::Default && l.name == input.name) {
                continue;
            }
            let of = |p: &tare_calc::Param| p.what == ParamKind::Input(flat);
            let params: Vec<u32> = (0..lowered.params.len()).filter(|p| of(&lowered.params[*p])).map(|p| p as u32).collect();
            if params.is_empty() {
                let empty = declared.list.is_some() && !declared.optional;
                self.known.insert(input.name.clone(), if empty { Value::Empty } else { Value::Absent });
                continue;
            }
            let first = &lowered.params[params[0] as usize];
            let holds = holds(&first.ty, &declared.choices);
            let exchange = matches!(input.values.first(), Some(Operand::Inner(_)));
            let exchange = exchange.then(|| first.default.as_ref().and_then(|d| self.exchange(&d.unit))).flatten();
            // what is the same in every use needs a column only where a reader looks for it
            let hidden = input.name.contains('.') && declared.list.is_none() && self.is_shared(params[0]) && exchange.is_none();
            if hidden {
                let bit = Bit::piece(Piece::Param(params[0]));
                let value = self.as_value(bit, &holds, &first.ty, &input.name, None);
                self.known.insert(input.name.clone(), value);
                continue;
            }
            let column = Column {
                name: input.name.clone(),
                holds,
                unit: first.unit.clone(),
                list: declared.list.is_some(),
                fill: Fill::Bound { params, exchange: exchange.map(|(bit, divides)| (bit.pieces, divides)) },
                values: input.values.clone(),
                authored: String::new(),
                source: declared.says.clone(),
            };
            let (list, ty, name) = (column.list, first.ty.clone(), input.name.clone());
            let slot = self.add(column);
            self.slots.insert(name, crate::translate::Slot { slot, lower: None, list, ty });
        }
    }

    /// A line: its column, or what it passes on.
    fn line(&mut self, at: usize) -> Found {
        let lowered = self.lowered;
        let line = &lowered.lines[at];
        if line.kind == LineKind::Outside {
            return Found::Nowhere;
        }
        let list = line.ty.entry().1.is_some();
        self.begin(at, list);
        let whole = self.row_line(at);
        let value = match whole {
            Some(slot) => {
                self.slots.insert(line.name.clone(), slot);
                return Found::Column(self.slots[&line.name].slot);
            }
            None => self.formula(&line.formula, line),
        };
        if line.kind == LineKind::Given
            && !list
            && let Ok(value) = &value
            && let Some(bit) = value.single()
        {
            self.known.insert(line.name.clone(), value.clone());
            return Found::Same(bit);
        }
        let (fill, lower) = match value {
            Ok(Value::Row { place: Some(place), lower, .. }) => (Fill::Formula(place.pieces), Some(lower)),
            Ok(value) => match value.cell() {
                Some(bit) => (Fill::Formula(bit.pieces), None),
                None if list && line.values.is_empty() => (Fill::Value(String::new()), None),
                None => (Fill::Value("no single value".to_owned()), None),
            },
            Err(reason) => (Fill::Value(reason), None),
        };
        let choices = match line.ty.entry().0 {
            Ty::Choice(set) => set.clone(),
            _ => Vec::new(),
        };
        let lower = lower.map(|bit| self.lower_column(at, Fill::Formula(bit.pieces)));
        let slot = self.add(Column {
            name: line.name.clone(),
            holds: holds(line.ty.entry().0, &choices),
            unit: line.unit.clone(),
            list,
            fill,
            values: line.values.clone(),
            authored: line.text.clone(),
            source: line.source.clone().unwrap_or_default(),
        });
        let ty = line.ty.entry().0.clone();
        self.slots.insert(line.name.clone(), crate::translate::Slot { slot, lower, list, ty });
        Found::Column(slot)
    }

    /// A column for the lower row of a line that gives a place between two rows.
    pub(crate) fn lower_column(&mut self, at: usize, fill: Fill) -> usize {
        let lowered = self.lowered;
        let line = &lowered.lines[at];
        let order = self.table_of(&line.ty, line).map(|(_, table)| TableOrder::of(table));
        let order =
            Arc::new(order.unwrap_or(TableOrder { turn: Vec::new(), next: Vec::new(), first: Vec::new(), holds: Vec::new() }));
        self.add(Column {
            name: format!("{} lower row", line.name),
            holds: Holds::LowerRow(order),
            unit: Unit::plain(),
            list: line.ty.entry().1.is_some(),
            fill,
            values: line.values.clone(),
            authored: String::new(),
            source: String::new(),
        })
    }

    pub(crate) fn add(&mut self, column: Column) -> usize {
        self.columns.push(column);
        self.columns.len() - 1
    }
}

/// What a value of a type is in a cell.
pub(crate) fn holds(ty: &Ty, choices: &[String]) -> Holds {
    match ty.entry().0 {
        Ty::Bool => Holds::Condition,
        Ty::Choice(set) => Holds::Choice(Arc::from(set.as_slice())),
        Ty::Row(_) => Holds::Place,
        _ if !choices.is_empty() => Holds::Choice(Arc::from(choices)),
        _ => Holds::Number,
    }
}
