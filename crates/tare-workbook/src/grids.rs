//! Look-up tables in the workbook, and the inputs behind their cells.

use crate::bit::{Part, Piece, TableKey};
use crate::columns::Fill;
use crate::place::Place;
use std::collections::BTreeSet;
use tare_calc::{ParamKind, Resolve, Table, TableOrder};
use tare_study::{Argument, LineRef};

/// A look-up table in the workbook.
pub(crate) struct Grid<'a> {
    pub(crate) key: TableKey,
    pub(crate) table: &'a Table,
    pub(crate) order: TableOrder,
    pub(crate) row: u32,
}

/// A cell of a look-up table: table, row, column, and whether it is one of its keys.
pub(crate) type GridCell = (TableKey, usize, usize, bool);

/// The leaf behind a cell, with the exchange rate that it is multiplied or (true) divided by.
pub(crate) type Behind = (LineRef, Option<(LineRef, bool)>);

impl<'a> Place<'a> {
    pub(crate) fn make_grids(&mut self, lib: &'a dyn Resolve) {
        let mut keys: BTreeSet<TableKey> = BTreeSet::new();
        for found in self.translated.iter().flatten() {
            for column in &found.columns {
                if let Fill::Formula(pieces) = &column.fill {
                    keys.extend(
                        pieces.iter().filter_map(|p| if let Piece::Table(key, _) = p { Some(key.clone()) } else { None }),
                    );
                }
            }
        }
        let mut row = 3;
        for key in keys {
            let Some(table) = lib.calculation(&key.0).and_then(|c| c.tables.get(key.1)) else { continue };
            self.grid_of.insert(key.clone(), self.grids.len());
            // title, names, units
            self.grids.push(Grid { key, table, order: TableOrder::of(table), row: row + 3 });
            row += 5 + table.rows.len() as u32;
        }
        let lines = &self.study.lines;
        for template in &lines.templates {
            for (at, param) in template.lowered.params.iter().enumerate() {
                let ParamKind::Cell { table, row, column, key } = param.what else { continue };
                let Argument::Shared(line) = template.arguments[at] else { continue };
                let rate = param.default.as_ref().and_then(|d| d.unit.currency.map(|c| (c, d.unit.dim.money()))).and_then(
                    |(c, power)| {
                        let exchange = template.lowered.params.iter().position(|p| p.what == ParamKind::Exchange(c))?;
                        let Argument::Shared(line) = template.arguments[exchange] else { return None };
                        Some((line, power < tare_units::Ratio::ZERO))
                    },
                );
                let place = ((param.calculation.to_string(), table), row, column, key);
                self.cells.entry(place).or_insert((line, rate));
            }
        }
    }

    /// The sheet of look-up tables: the columns of a grid's parts.
    pub(crate) fn grid_column(grid: &Grid<'_>, part: Part) -> u16 {
        let keys = grid.table.keys.len() as u16;
        match part {
            Part::Turn => 1,
            Part::Next => 2,
            Part::Key(at) => 3 + 2 * at as u16,
            Part::Bound(at) => 4 + 2 * at as u16,
            Part::Column(at) => 3 + 2 * keys + at as u16,
        }
    }
}
