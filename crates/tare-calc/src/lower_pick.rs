//! Picks from tables: which row, its cells, and whether the need lies outside.

use crate::expr::{Expr, ExprKind};
use crate::lower::{Lowerer, Scope, Stop};
use crate::lowered::{Line, LineKind, Param, ParamKind, Refusal};
use crate::series::{Plan, key_number};
use crate::span::Span;
use crate::table::{CellValue, Outside, Rule, Table};
use crate::ty::Ty;
use crate::value::{Chosen, Index, Items, PickedRow, TableAt, Value};
use std::sync::Arc;
use tare_engine::{Match, Op, Operand};
use tare_units::Unit;

/// Share of the need by which it may lie outside an interpolated table, as in [`Match`].
const NEAR: f64 = 1e-9;

/// What is asked of one key.
#[derive(Clone, Copy, Debug)]
enum Need {
    /// A number.
    Number(Operand),
    /// The position of a text among the key's texts, or of a condition.
    Level(Index),
}

/// A flag of a key that refuses.
struct Flag {
    key: Vec<usize>,
    operand: Operand,
    need: Option<Operand>,
}

impl<'a> Lowerer<'a> {
    pub(crate) fn pick(&mut self, scope: &Scope<'a>, arguments: &[Expr], span: Span) -> Result<Value, Stop> {
        let calc = self.files[scope.file].calc;
        let table = match arguments.first().map(|a| &a.kind) {
            Some(ExprKind::Name(name)) => calc.table(name),
            _ => None,
        };
        let Some((position, table)) = table.filter(|(_, t)| t.keys.len() + 1 == arguments.len()) else {
            return Err(self.unchecked(scope.file, span));
        };
        let at = TableAt { file: scope.file, table: position };
        // names never change within a scope, so the same words pick the same row
        let call = Expr::new(ExprKind::Call(crate::Function::Pick, arguments.to_vec()), span);
        let name = format!("{}{call}", scope.prefix);
        if let Some(known) = self.picked.get(&name) {
            return Ok(known.clone());
        }
        let mut needs: Vec<Items<Index>> = Vec::new();
        for (key, argument) in table.keys.iter().zip(&arguments[1..]) {
            let value = self.expr(scope, argument)?;
            needs.push(match value {
                Value::Number(items) | Value::Condition(items) => items.map(|o| Index::Found(*o)),
                Value::Known(holds) => Items::One(Index::Known(usize::from(holds))),
                Value::Choice(chosen) => {
                    let set: Arc<[String]> = Arc::from(key.choices.as_slice());
                    self.recoded(&chosen, &set).items
                }
                Value::Row(..) | Value::Absent => return Err(self.unchecked(scope.file, argument.span)),
            });
        }
        let lengths: Vec<Option<usize>> = needs.iter().map(Items::length).collect();
        let length = self.length(scope.file, &lengths, span)?;
        let plan = self.plan(at);
        let mut rows = Vec::with_capacity(length.unwrap_or(1));
        let mut flags: Vec<Vec<Flag>> = Vec::new();
        for place in 0..length.unwrap_or(1) {
            if self.left == 0 {
                break;
            }
            let entry: Vec<Index> = needs.iter().filter_map(|n| n.at(place).copied()).collect();
            let (row, refused) = self.one_row(at, table, &plan, &entry);
            rows.push(row);
            flags.push(refused);
        }
        self.refuse(scope, at, table, &flags, arguments, span);
        let items = match (length, rows.first()) {
            (None, Some(one)) => Items::One(*one),
            _ => Items::Many(rows),
        };
        let row = Value::Row(at, items);
        if self.equation != Some(span) {
            self.row_line(scope, &name, &row, call);
        }
        self.picked.insert(name, row.clone());
        Ok(row)
    }

    /// A row that a formula picks on its way has a line too: its name is the words that pick it.
    fn row_line(&mut self, scope: &Scope<'a>, name: &str, row: &Value, call: Expr) {
        let table = match row {
            Value::Row(at, _) => &self.files[at.file].calc.tables[at.table],
            _ => return,
        };
        let source = table.source.clone();
        let declared = crate::Declared::Row(table.name.value.clone());
        let (ty, values) = self.read(row, &declared);
        self.lines.push(Line {
            name: name.to_owned(),
            kind: LineKind::Picked,
            scope: scope.prefix.clone(),
            calculation: self.files[scope.file].key.clone(),
            unit: Unit::plain(),
            ty,
            text: call.to_string(),
            formula: Arc::new(call),
            source,
            values,
        });
    }

    fn one_row(&mut self, at: TableAt, table: &'a Table, plan: &Plan, needs: &[Index]) -> (PickedRow, Vec<Flag>) {
        let needs: Vec<Need> = table.keys.iter().zip(needs).map(|(key, need)| self.need(key.rule, *need)).collect();
        let between = table.keys.iter().position(|k| k.rule == Rule::Interpolate);
        let open = open_keys(table, &needs);
        // rows in the order in which they are tried; between two rows the lower one stands for both, from the top of its series
        let mut tried: Vec<usize> = Vec::new();
        let mut cells: Vec<Operand> = Vec::new();
        for series in plan.series.iter().filter(|s| chosen(table, s.rows[0], &needs)) {
            let lower = if between.is_some() { series.rows.len().saturating_sub(1).max(1) } else { 1 };
            for (place, row) in series.rows[..lower].iter().enumerate().rev() {
                tried.push(*row);
                for key in &open {
                    cells.push(self.bound(at, table, plan, series.rows[0], *key));
                }
                if let Some(key) = between {
                    cells.push(if place == 0 { self.constant(f64::NEG_INFINITY) } else { self.cell(at, *row, key, true) });
                }
            }
        }
        let mut keys = open.clone();
        keys.extend(between);
        let found = self.find(table, &keys, &needs, &cells);
        let index = match found {
            Index::Known(0) => tried.first().map_or_else(|| Index::Found(self.constant(f64::NAN)), |row| Index::Known(*row)),
            // where rows are tried as they stand, the search gives the row, or -1; a place between rows may be negative too
            index if between.is_none() && tried.iter().copied().eq(0..tried.len()) => index,
            index => {
                let rows: Vec<Operand> = tried.iter().map(|row| self.constant(*row as f64)).collect();
                Index::Found(self.select(index, &rows))
            }
        };
        let mut flags = self.flags(at, table, plan, found, &open, &needs);
        let row = match between {
            Some(key) => self.between(at, table, plan, key, needs[key], index, &mut flags),
            None => PickedRow { index, weight: None },
        };
        (row, flags)
    }

    /// The first of rows of cells that suits the needs of `keys`; the first of all where no key is left to ask.
    fn find(&mut self, table: &Table, keys: &[usize], needs: &[Need], cells: &[Operand]) -> Index {
        if keys.is_empty() {
            return Index::Known(0);
        }
        if self.left <= cells.len() {
            self.left = 0;
            return Index::Found(self.constant(f64::NAN));
        }
        self.left -= cells.len() + 1;
        let matches = keys.iter().map(|key| match table.keys[*key].rule {
            Rule::UpTo => Match::UpTo,
            Rule::From | Rule::Interpolate => Match::From,
            Rule::Equals => Match::Equal,
        });
        let matches: Arc<[Match]> = matches.collect();
        let needs: Vec<Operand> = keys
            .iter()
            .map(|key| match needs[*key] {
                Need::Number(need) => need,
                Need::Level(level) => self.position(level),
            })
            .collect();
        Index::Found(self.build.find(&matches, &needs, cells))
    }

    fn need(&mut self, rule: Rule, need: Index) -> Need {
        match rule {
            Rule::Equals => Need::Level(need),
            _ => Need::Number(self.position(need)),
        }
    }

    /// What a need is held against: the row's key, or no bound at all where the last row holds beyond its key.
    fn bound(&mut self, at: TableAt, table: &'a Table, plan: &Plan, row: usize, key: usize) -> Operand {
        let of = &table.keys[key];
        if of.outside == Outside::Hold && plan.is_end(key, row) {
            return self.constant(if of.rule == Rule::UpTo { f64::INFINITY } else { f64::NEG_INFINITY });
        }
        match of.rule {
            Rule::Equals => self.constant(key_number(table, row, key)),
            _ => self.cell(at, row, key, true),
        }
    }

    /// The share of the way to the next row, and the flag of an interpolated key that refuses.
    #[expect(clippy::too_many_arguments, reason = "one pick, told apart from its table")]
    fn between(
        &mut self,
        at: TableAt,
        table: &'a Table,
        plan: &Plan,
        key: usize,
        need: Need,
        index: Index,
        flags: &mut Vec<Flag>,
    ) -> PickedRow {
        let Need::Number(value) = need else { return PickedRow { index, weight: None } };
        let here: Vec<Operand> = (0..table.rows.len()).map(|row| self.cell(at, row, key, true)).collect();
        let there: Vec<Operand> = plan.next.iter().map(|row| here[*row]).collect();
        let low = self.select(index, &here);
        let high = self.select(index, &there);
        let way = self.op(Op::Sub, &[value, low]);
        let gap = self.op(Op::Sub, &[high, low]);
        let mut weight = self.op(Op::Div, &[way, gap]);
        match table.keys[key].outside {
            Outside::Extend => {}
            Outside::Hold => {
                let (zero, one) = (self.constant(0.0), self.constant(1.0));
                weight = self.op(Op::Max, &[weight, zero]);
                weight = self.op(Op::Min, &[weight, one]);
            }
            Outside::Refuse => {
                let near = self.constant(NEAR);
                let size = self.op(Op::Abs, &[value]);
                let slack = self.op(Op::Mul, &[size, near]);
                let (below, above) = (self.op(Op::Sub, &[value, slack]), self.op(Op::Add, &[value, slack]));
                let under = self.op(Op::Lt, &[above, low]);
                let over = self.op(Op::Gt, &[below, high]);
                let outside = self.op(Op::Or, &[under, over]);
                let nothing = self.constant(f64::NAN);
                weight = self.op(Op::If, &[outside, nothing, weight]);
                flags.push(Flag { key: vec![key], operand: outside, need: Some(value) });
            }
        }
        PickedRow { index, weight: Some(weight) }
    }

    /// The flags of the keys that are not interpolated: the choices together, each other key alone, and all together.
    fn flags(&mut self, at: TableAt, table: &'a Table, plan: &Plan, found: Index, open: &[usize], needs: &[Need]) -> Vec<Flag> {
        let mut flags = Vec::new();
        let steps: Vec<usize> =
            (0..table.keys.len()).filter(|k| matches!(table.keys[*k].rule, Rule::UpTo | Rule::From)).collect();
        let choices: Vec<usize> = (0..table.keys.len()).filter(|k| table.keys[*k].rule == Rule::Equals).collect();
        let mut no_choice = None;
        if !choices.is_empty() && !plan.full {
            let asked: Vec<usize> = open.iter().copied().filter(|k| table.keys[*k].rule == Rule::Equals).collect();
            let groups: Vec<usize> = plan.groups.iter().copied().filter(|row| chosen(table, *row, needs)).collect();
            let operand = self.none_of(at, table, plan, &groups, &asked, needs);
            flags.push(Flag { key: choices, operand, need: None });
            no_choice = (!asked.is_empty()).then_some(operand);
        }
        for key in steps.iter().copied().filter(|k| table.keys[*k].outside == Outside::Refuse) {
            let Need::Number(need) = needs[key] else { continue };
            let ends = plan.ends(table, key).into_iter().filter(|row| chosen(table, *row, needs)).collect::<Vec<_>>();
            if ends.is_empty() {
                continue;
            }
            let asked: Vec<usize> = open.iter().copied().filter(|k| *k == key || table.keys[*k].rule == Rule::Equals).collect();
            let mut operand = match found {
                Index::Found(found) if asked == open && !table.interpolates() => self.below_zero(found),
                _ => self.none_of(at, table, plan, &ends, &asked, needs),
            };
            if let Some(no_choice) = no_choice {
                let some = self.op(Op::Not, &[no_choice]);
                operand = self.op(Op::And, &[some, operand]);
            }
            flags.push(Flag { key: vec![key], operand, need: Some(need) });
        }
        if let (Index::Found(found), true) = (found, steps.len() > 1 && !plan.corner) {
            let operand = self.below_zero(found);
            flags.push(Flag { key: steps, operand, need: None });
        }
        flags
    }

    /// 1 when none of some rows suits the needs of some keys.
    fn none_of(&mut self, at: TableAt, table: &'a Table, plan: &Plan, rows: &[usize], keys: &[usize], needs: &[Need]) -> Operand {
        let mut cells = Vec::new();
        for row in rows {
            for key in keys {
                cells.push(self.bound(at, table, plan, *row, *key));
            }
        }
        match self.find(table, keys, needs, &cells) {
            Index::Known(_) => self.constant(f64::from(u8::from(rows.is_empty()))),
            Index::Found(found) => self.below_zero(found),
        }
    }

    fn below_zero(&mut self, found: Operand) -> Operand {
        let zero = self.constant(0.0);
        self.op(Op::Lt, &[found, zero])
    }

    /// Adds the hidden lines and the refusals of a pick.
    fn refuse(&mut self, scope: &Scope<'a>, at: TableAt, table: &'a Table, flags: &[Vec<Flag>], arguments: &[Expr], span: Span) {
        self.picks += 1;
        let calculation = self.files[at.file].key.clone();
        for (f, first) in flags.first().into_iter().flatten().enumerate() {
            let keys: Vec<&str> = first.key.iter().map(|k| table.keys[*k].name.value.as_str()).collect();
            let key = keys.join(", ");
            let hidden = self.lines.len();
            let values: Vec<Operand> = flags.iter().filter_map(|entry| entry.get(f)).map(|flag| flag.operand).collect();
            let list = (values.len() != 1 || self.left == 0).then_some(crate::Length::exactly(values.len()));
            self.lines.push(Line {
                name: format!("{}pick#{} outside {key}", scope.prefix, self.picks),
                kind: LineKind::Outside,
                scope: scope.prefix.clone(),
                calculation: calculation.clone(),
                unit: Unit::plain(),
                ty: Ty::Bool.in_list(list),
                formula: Arc::new(Expr::new(ExprKind::Call(crate::Function::Pick, arguments.to_vec()), span)),
                text: String::new(),
                source: table.source.clone(),
                values,
            });
            let (smallest, largest) = ends(table, &first.key);
            for flag in flags.iter().filter_map(|entry| entry.get(f)) {
                self.refusals.push(Refusal {
                    calculation: calculation.clone(),
                    table: table.name.value.clone(),
                    key: key.clone(),
                    smallest: smallest.clone(),
                    largest: largest.clone(),
                    operand: flag.operand,
                    need: flag.need,
                    unit: table.keys[first.key[0]].declared.unit(),
                    line: self.current.clone(),
                    hidden,
                    span,
                });
            }
        }
    }

    /// The values of a column in picked rows.
    pub(crate) fn column(
        &mut self,
        scope: &Scope<'a>,
        at: TableAt,
        rows: &Items<PickedRow>,
        name: &str,
        span: Span,
    ) -> Result<Value, Stop> {
        let table = &self.files[at.file].calc.tables[at.table];
        let Some((column, found)) = table.column(name) else { return Err(self.unchecked(scope.file, span)) };
        if matches!(found.declared, crate::Declared::Choice) {
            let levels: Vec<Index> = table
                .rows
                .iter()
                .map(|r| match r.cells.get(column).map(|c| &c.value) {
                    Some(CellValue::Level(level)) => Index::Known(*level),
                    _ => Index::Known(usize::MAX),
                })
                .collect();
            let set: Arc<[String]> = Arc::from(found.choices.as_slice());
            let items = rows.map(|row| match row.index {
                Index::Known(place) if place < levels.len() => levels[place],
                index => {
                    let levels: Vec<Operand> = levels.iter().map(|l| self.position(*l)).collect();
                    Index::Found(self.select(index, &levels))
                }
            });
            return Ok(Value::Choice(Chosen { set, items }));
        }
        let cells: Vec<Operand> = (0..table.rows.len()).map(|row| self.cell(at, row, column, false)).collect();
        let next: Option<Vec<Operand>> = table.interpolates().then(|| self.plan(at).next.iter().map(|row| cells[*row]).collect());
        let items = rows.map(|row| {
            let low = self.select(row.index, &cells);
            let (Some(weight), Some(next)) = (row.weight, &next) else { return low };
            // a (1 - w) + b w gives both ends exactly
            let high = self.select(row.index, next);
            let one = self.constant(1.0);
            let rest = self.op(Op::Sub, &[one, weight]);
            let (low, high) = (self.op(Op::Mul, &[low, rest]), self.op(Op::Mul, &[high, weight]));
            self.op(Op::Add, &[low, high])
        });
        Ok(match found.declared {
            crate::Declared::Bool => Value::Condition(items),
            _ => Value::Number(items),
        })
    }

    /// What is known of a table, worked out once.
    fn plan(&mut self, at: TableAt) -> Arc<Plan> {
        let file = &mut self.files[at.file];
        let calc = file.calc;
        file.plans.entry(at.table).or_insert_with(|| Arc::new(Plan::new(&calc.tables[at.table]))).clone()
    }

    /// The parameter of a cell, in the study's money if it is an amount.
    pub(crate) fn cell(&mut self, at: TableAt, row: usize, column: usize, key: bool) -> Operand {
        let place = (at.table, row, column, key);
        if let Some(known) = self.files[at.file].cells.get(&place) {
            return *known;
        }
        let table = &self.files[at.file].calc.tables[at.table];
        let of_row = &table.rows[row];
        let (name, declared, cell) = if key {
            (&table.keys[column].name.value, &table.keys[column].declared, of_row.keys.get(column))
        } else {
            (&table.columns[column].name.value, &table.columns[column].declared, of_row.cells.get(column))
        };
        let (default, level) = match cell.map(|c| &c.value) {
            Some(CellValue::Number(q)) => (Some(q.clone()), None),
            Some(CellValue::Level(level)) => (None, Some(*level as f64)),
            _ => (None, None),
        };
        let unit = default.as_ref().map(|q| q.unit.clone());
        let operand = self.add_param(Param {
            name: format!("{}.{}.{name}", table.name.value, of_row.name),
            calculation: self.files[at.file].key.clone(),
            element: None,
            what: ParamKind::Cell { table: at.table, row, column, key },
            unit: declared.unit(),
            ty: Ty::declared(declared, &[]),
            default,
            level,
            source: of_row.source.clone().or_else(|| table.source.clone()),
            span: cell.map_or(Span::default(), |c| c.text.span),
        });
        let operand = match unit {
            Some(unit) => self.exchanged(operand, &unit),
            None => operand,
        };
        self.files[at.file].cells.insert(place, operand);
        operand
    }
}

/// The smallest and largest key as written; for several keys the rows' texts.
fn ends(table: &Table, keys: &[usize]) -> (String, String) {
    let rows = 0..table.rows.len();
    if let [key] = keys
        && table.keys[*key].rule != Rule::Equals
    {
        let by = |a: &usize, b: &usize| key_number(table, *a, *key).total_cmp(&key_number(table, *b, *key));
        let text = |row: Option<usize>| row.map_or(String::new(), |r| table.key_text(r, *key).to_owned());
        return (text(rows.clone().min_by(by)), text(rows.max_by(by)));
    }
    let text = |row: usize| keys.iter().map(|k| table.key_text(row, *k)).collect::<Vec<_>>().join(", ");
    (text(0), text(table.rows.len().saturating_sub(1)))
}

/// The keys whose needs are not known while lowering, interpolated ones apart.
fn open_keys(table: &Table, needs: &[Need]) -> Vec<usize> {
    let open = |k: &usize| table.keys[*k].rule != Rule::Interpolate && !matches!(needs[*k], Need::Level(Index::Known(_)));
    (0..table.keys.len()).filter(open).collect()
}

/// Whether a row has the choices that are known while lowering.
fn chosen(table: &Table, row: usize, needs: &[Need]) -> bool {
    needs.iter().enumerate().all(|(k, need)| match need {
        Need::Level(Index::Known(known)) => *known as f64 == key_number(table, row, k),
        _ => true,
    })
}
