//! Picks from tables: which row, its cells, and whether the need lies outside.

use crate::expr::{Expr, ExprKind};
use crate::lower::{Lowerer, Scope, Stop};
use crate::lowered::{Line, LineKind, Param, ParamKind, Refusal};
use crate::series::{Plan, Series, key_number};
use crate::span::Span;
use crate::table::{CellValue, Outside, Rule, Table};
use crate::ty::Ty;
use crate::value::{Chosen, Index, Items, PickedRow, TableAt, Value};
use std::sync::Arc;
use tare_engine::{Op, Operand};
use tare_units::Unit;

/// Share of the need within which a key still counts as equal to it, as whole numbers snap in `floor` and `ceil`.
const NEAR: f64 = 1e-9;

/// What is asked of one key.
#[derive(Clone, Copy, Debug)]
enum Need {
    /// A number, and the number with the nearness taken off and put on.
    Number { value: Operand, below: Operand, above: Operand },
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
        Ok(Value::Row(at, items))
    }

    fn one_row(&mut self, at: TableAt, table: &'a Table, plan: &Plan, needs: &[Index]) -> (PickedRow, Vec<Flag>) {
        let needs: Vec<Need> = table.keys.iter().zip(needs).map(|(key, need)| self.need(key.rule, *need)).collect();
        let suits: Vec<Option<Vec<Operand>>> =
            plan.series.iter().map(|s| self.conditions(at, table, plan, s.rows[0], &needs)).collect();
        let between = table.keys.iter().position(|k| k.rule == Rule::Interpolate);
        // from the last series to the first, so that the first that suits is taken
        let mut index: Option<Index> = None;
        for (series, conditions) in plan.series.iter().zip(&suits).rev() {
            let Some(conditions) = conditions else { continue };
            let own = match between {
                None => Index::Known(series.rows[0]),
                Some(key) => self.segment(at, series, key, needs[key]),
            };
            index = Some(match (conditions.split_first(), index) {
                (None, _) => own,
                (Some((first, rest)), other) => {
                    let test = rest.iter().fold(*first, |all, next| self.op(Op::And, &[all, *next]));
                    let own = self.position(own);
                    let other = match other {
                        Some(other) => self.position(other),
                        None => self.constant(f64::NAN),
                    };
                    Index::Found(self.op(Op::If, &[test, own, other]))
                }
            });
        }
        let index = match index {
            Some(index) => index,
            None => Index::Found(self.constant(f64::NAN)),
        };
        let mut flags = self.flags(at, table, plan, &suits, &needs);
        let row = match between {
            Some(key) => self.between(at, table, plan, key, needs[key], index, &mut flags),
            None => PickedRow { index, weight: None },
        };
        (row, flags)
    }

    fn need(&mut self, rule: Rule, need: Index) -> Need {
        if rule == Rule::Equals {
            return Need::Level(need);
        }
        let value = self.position(need);
        let near = self.constant(NEAR);
        let size = self.op(Op::Abs, &[value]);
        let slack = self.op(Op::Mul, &[size, near]);
        Need::Number { value, below: self.op(Op::Sub, &[value, slack]), above: self.op(Op::Add, &[value, slack]) }
    }

    /// What must hold for a row (or the series it begins) to suit the needs; none when it never does.
    fn conditions(&mut self, at: TableAt, table: &'a Table, plan: &Plan, row: usize, needs: &[Need]) -> Option<Vec<Operand>> {
        let mut conditions = Vec::new();
        for (k, (key, need)) in table.keys.iter().zip(needs).enumerate() {
            match (key.rule, need) {
                (Rule::Equals, Need::Level(need)) => {
                    let level = match table.rows[row].keys.get(k).map(|c| &c.value) {
                        Some(CellValue::Level(level)) => *level,
                        _ => return None,
                    };
                    match need {
                        Index::Known(known) if *known == level => {}
                        Index::Known(_) => return None,
                        Index::Found(operand) => {
                            let level = self.constant(level as f64);
                            conditions.push(self.op(Op::Eq, &[*operand, level]));
                        }
                    }
                }
                (Rule::UpTo | Rule::From, Need::Number { value, below, above }) => {
                    if key.outside == Outside::Hold && plan.is_end(k, row) {
                        // always suits, but a need that is no number gives no row
                        conditions.push(self.op(Op::Eq, &[*value, *value]));
                        continue;
                    }
                    let cell = self.cell(at, row, k, true);
                    conditions.push(match key.rule {
                        Rule::UpTo => self.op(Op::Ge, &[cell, *below]),
                        _ => self.op(Op::Le, &[cell, *above]),
                    });
                }
                _ => {}
            }
        }
        Some(conditions)
    }

    /// The lower row of the two that the need lies between.
    fn segment(&mut self, at: TableAt, series: &Series, key: usize, need: Need) -> Index {
        let Need::Number { value, .. } = need else { return Index::Known(series.rows[0]) };
        let lower = &series.rows[..series.rows.len().saturating_sub(1).max(1)];
        let mut found = Index::Known(lower[0]);
        for row in &lower[1..] {
            let cell = self.cell(at, *row, key, true);
            let test = self.op(Op::Ge, &[value, cell]);
            let (own, other) = (self.constant(*row as f64), self.position(found));
            found = Index::Found(self.op(Op::If, &[test, own, other]));
        }
        found
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
        let Need::Number { value, below, above } = need else { return PickedRow { index, weight: None } };
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

    /// The flags of the keys that are not interpolated: each alone, the choices together, and all together.
    fn flags(&mut self, at: TableAt, table: &'a Table, plan: &Plan, suits: &[Option<Vec<Operand>>], needs: &[Need]) -> Vec<Flag> {
        let mut flags = Vec::new();
        let stepped = |rule: Rule| matches!(rule, Rule::UpTo | Rule::From);
        let steps: Vec<usize> = (0..table.keys.len()).filter(|k| stepped(table.keys[*k].rule)).collect();
        for key in steps.iter().copied().filter(|k| table.keys[*k].outside == Outside::Refuse) {
            let Need::Number { value, below, above } = needs[key] else { continue };
            let Some(end) = self.end_cell(at, table, plan, key, needs) else { continue };
            let operand = match table.keys[key].rule {
                Rule::UpTo => self.op(Op::Gt, &[below, end]),
                _ => self.op(Op::Lt, &[above, end]),
            };
            flags.push(Flag { key: vec![key], operand, need: Some(value) });
        }
        let choices: Vec<usize> = (0..table.keys.len()).filter(|k| table.keys[*k].rule == Rule::Equals).collect();
        if !choices.is_empty() && !plan.full {
            let operand = self.no_choices(table, plan, needs);
            flags.push(Flag { key: choices, operand, need: None });
        }
        if steps.len() > 1 && !plan.corner {
            let mut any = self.constant(0.0);
            for conditions in suits.iter().flatten() {
                let Some((first, rest)) = conditions.split_first() else { continue };
                let all = rest.iter().fold(*first, |all, next| self.op(Op::And, &[all, *next]));
                any = self.op(Op::Or, &[any, all]);
            }
            let operand = self.op(Op::Not, &[any]);
            flags.push(Flag { key: steps, operand, need: None });
        }
        flags
    }

    /// The end cell of a key among the rows with the chosen texts.
    fn end_cell(&mut self, at: TableAt, table: &'a Table, plan: &Plan, key: usize, needs: &[Need]) -> Option<Operand> {
        let ends = (0..table.rows.len()).filter(|row| plan.is_end(key, *row));
        // one end row per group of choices
        let mut ends: Vec<(Vec<u64>, usize)> = ends.map(|row| (choices_of(table, row), row)).collect();
        ends.sort();
        ends.dedup_by(|a, b| a.0 == b.0);
        let mut found: Option<Operand> = None;
        for (_, row) in ends.into_iter().rev() {
            let Some(test) = self.chosen(table, row, needs) else { continue };
            let cell = self.cell(at, row, key, true);
            found = Some(match test {
                None => cell,
                Some(test) => {
                    let other = match found {
                        Some(other) => other,
                        None => self.constant(f64::NAN),
                    };
                    self.op(Op::If, &[test, cell, other])
                }
            });
        }
        found
    }

    /// Whether the chosen texts are those of a row: none when never, no operand when always.
    fn chosen(&mut self, table: &Table, row: usize, needs: &[Need]) -> Option<Option<Operand>> {
        let mut all: Option<Operand> = None;
        for (k, need) in needs.iter().enumerate() {
            let Need::Level(need) = need else { continue };
            let level = key_number(table, row, k);
            match need {
                Index::Known(known) if *known as f64 == level => {}
                Index::Known(_) => return None,
                Index::Found(operand) => {
                    let level = self.constant(level);
                    let test = self.op(Op::Eq, &[*operand, level]);
                    all = Some(match all {
                        Some(before) => self.op(Op::And, &[before, test]),
                        None => test,
                    });
                }
            }
        }
        Some(all)
    }

    /// 1 when no row has the chosen texts.
    fn no_choices(&mut self, table: &Table, plan: &Plan, needs: &[Need]) -> Operand {
        let mut any: Option<Operand> = None;
        for row in &plan.groups {
            match self.chosen(table, *row, needs) {
                None => {}
                Some(None) => return self.constant(0.0),
                Some(Some(test)) => {
                    any = Some(match any {
                        Some(before) => self.op(Op::Or, &[before, test]),
                        None => test,
                    });
                }
            }
        }
        match any {
            Some(any) => self.op(Op::Not, &[any]),
            None => self.constant(1.0),
        }
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

/// The levels of a row's choices, for comparing.
fn choices_of(table: &Table, row: usize) -> Vec<u64> {
    let keys = (0..table.keys.len()).filter(|k| table.keys[*k].rule == Rule::Equals);
    keys.map(|k| key_number(table, row, k).to_bits()).collect()
}
