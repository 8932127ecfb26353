//! Functions over lists, and picks from look-up tables.

use crate::bit::{Bit, COMPARE, PRODUCT, Part, Piece, SUM};
use crate::columns::{Column, Fill, Holds};
use crate::translate::{Refused, Slot, Translator, next_row};
use crate::value::{Value, condition, number};
use tare_calc::{Expr, ExprKind, Function, Outside, Rule, Table};

/// Share of the need within which a key counts as equal to it, as everywhere else.
const NEAR: &str = "1E-9";
/// What is added to the turn of a row that does not suit; more than any table has rows.
const UNSUITED: &str = "1E+9";

impl Translator<'_> {
    pub(crate) fn over_list(&mut self, function: Function, arguments: &[Expr]) -> Result<Value, Refused> {
        // the list as a whole, whatever the formula stands for
        let entry = std::mem::replace(&mut self.entry, false);
        let result = match function {
            Function::At => self.at(arguments),
            _ => self.aggregate(function, arguments),
        };
        self.entry = entry;
        result
    }

    fn at(&mut self, arguments: &[Expr]) -> Result<Value, Refused> {
        let [list, place] = arguments else { return Err("`at` takes a list and a place".to_owned()) };
        let place = self.expr(place).and_then(|v| number(&v))?;
        let index = |list: &Bit| match list.pieces.as_slice() {
            [Piece::Range(_)] => Ok(Bit::call("INDEX", &[&Bit { many: false, ..list.clone() }, &place])),
            _ => Err("an entry of a formula over a list".to_owned()),
        };
        Ok(match self.expr(list)? {
            Value::Number(bit) => Value::Number(index(&bit)?),
            Value::Condition(bit) => Value::Condition(index(&bit)?),
            Value::Choice(bit, _) => Value::Choice(index(&bit)?, None),
            Value::Row { table, lower, place } => {
                let place = place.map(|p| index(&p)).transpose()?;
                Value::Row { table, lower: index(&lower)?, place }
            }
            _ => return Err("an entry of no list".to_owned()),
        })
    }

    fn aggregate(&mut self, function: Function, arguments: &[Expr]) -> Result<Value, Refused> {
        let mut values = Vec::new();
        for argument in arguments {
            match self.expr(argument)? {
                Value::Empty => {}
                value => values.push(value),
            }
        }
        let zero = Bit::number(0.0);
        if values.is_empty() {
            return Ok(match function {
                Function::Sum | Function::Count => Value::Number(zero),
                Function::All => Value::Known(true),
                Function::Any => Value::Known(false),
                // as everywhere, no number stands for what a list without entries has not
                _ => Value::Number(Bit::call("NA", &[])),
            });
        }
        let bits = || values.iter().map(number).collect::<Result<Vec<_>, _>>();
        let joined = |bits: Vec<Bit>| bits.into_iter().reduce(|a, b| Bit::between("+", SUM, &a, &b)).unwrap_or(zero.clone());
        Ok(match function {
            Function::Sum => Value::Number(joined(bits()?.iter().map(total).collect())),
            Function::Count => Value::Number(joined(values.iter().map(count).collect::<Result<_, _>>()?)),
            Function::Mean => {
                let bits = bits()?;
                let sum = joined(bits.iter().map(total).collect());
                let number = joined(bits.iter().map(entries).collect::<Result<_, _>>()?);
                Value::Number(Bit::between("/", PRODUCT, &sum, &number))
            }
            Function::Min => Value::Number(extreme("MIN", &bits()?)),
            Function::Max => Value::Number(extreme("MAX", &bits()?)),
            Function::Range => {
                let bits = bits()?;
                Value::Number(Bit::between("-", SUM, &extreme("MAX", &bits), &extreme("MIN", &bits)))
            }
            Function::All | Function::Any => {
                let holding = joined(values.iter().map(count_holding).collect::<Result<_, _>>()?);
                let conditions = values.iter().map(condition).collect::<Result<Vec<_>, _>>()?;
                let all = joined(conditions.iter().map(entries).collect::<Result<_, _>>()?);
                Value::Condition(match function {
                    Function::All => Bit::between("=", COMPARE, &holding, &all),
                    _ => Bit::between(">", COMPARE, &holding, &zero),
                })
            }
            _ => return Err("no function over lists".to_owned()),
        })
    }

    /// A line that is a pick between two rows and nothing else: the lower row gets a column, on which the place rests.
    pub(crate) fn row_line(&mut self, at: usize) -> Option<Slot> {
        let lowered = self.lowered;
        let line = &lowered.lines[at];
        let ExprKind::Call(Function::Pick, arguments) = &line.formula.kind else { return None };
        let (position, table) = self.table_of(&line.ty, line)?;
        let list = line.ty.entry().1.is_some();
        if !table.interpolates() || self.picked_before(&line.formula.to_string()).is_some() {
            return None;
        }
        let key = (self.scope_key().to_owned(), position);
        let needs = self.needs(table, &arguments[1..]).ok()?;
        let lower = self.lower_column(at, Fill::Formula(search(&key, table, &needs).ok()?.pieces));
        let cell = Bit::piece(if list { Piece::Entry(lower) } else { Piece::Cell(lower) });
        let place = between(&key, table, &needs, &cell).ok()?;
        let slot = self.add(Column {
            name: line.name.clone(),
            holds: Holds::Place,
            unit: line.unit.clone(),
            list,
            fill: Fill::Formula(place.pieces),
            values: line.values.clone(),
            authored: line.text.clone(),
            source: line.source.clone().unwrap_or_default(),
        });
        Some(Slot { slot, lower: Some(lower), list, ty: line.ty.entry().0.clone() })
    }

    fn needs(&mut self, table: &Table, arguments: &[Expr]) -> Result<Vec<Bit>, Refused> {
        let mut needs = Vec::new();
        for (key, argument) in table.keys.iter().zip(arguments) {
            let value = self.expr(argument)?;
            let need = match (key.rule, &value) {
                (Rule::Equals, Value::Choice(bit, _)) => bit.clone(),
                (Rule::Equals, value) => condition(value)?,
                (_, value) => number(value)?,
            };
            if need.many {
                return Err("a row for each entry of a list at once".to_owned());
            }
            needs.push(need);
        }
        Ok(needs)
    }

    pub(crate) fn pick(&mut self, arguments: &[Expr]) -> Result<Value, Refused> {
        let words = Expr::new(ExprKind::Call(Function::Pick, arguments.to_vec()), tare_calc::Span::default()).to_string();
        if let Some(value) = self.picked_before(&words) {
            return Ok(value);
        }
        let Some(Expr { kind: ExprKind::Name(name), .. }) = arguments.first() else { return Err("no table".to_owned()) };
        let found = self.calculation().and_then(|c| c.table(name));
        let (position, table) = found.ok_or_else(|| format!("no table `{name}`"))?;
        let key = (self.scope_key().to_owned(), position);
        let needs = self.needs(table, &arguments[1..])?;
        let lower = search(&key, table, &needs)?;
        let place = if table.interpolates() { Some(between(&key, table, &needs, &lower)?) } else { None };
        Ok(Value::Row { table: key, lower, place })
    }
}

/// The row that suits the needs and is tried first, counted from 0; an error where none suits.
fn search(key: &(String, usize), table: &Table, needs: &[Bit]) -> Result<Bit, Refused> {
    let range = |part: Part| Bit { many: false, ..Bit::piece(Piece::Table(key.clone(), part)) };
    let one = Bit::number(1.0);
    let mut suits: Option<Bit> = None;
    for (at, (of, need)) in table.keys.iter().zip(needs).enumerate() {
        let slack = Bit::between("*", PRODUCT, &Bit::call("ABS", &[need]), &Bit::text(NEAR));
        let held = match of.rule {
            Rule::Equals => Bit::between("=", COMPARE, &range(Part::Key(at)), need),
            Rule::UpTo => Bit::between(">=", COMPARE, &range(Part::Bound(at)), &Bit::between("-", SUM, need, &slack)),
            Rule::From | Rule::Interpolate => {
                Bit::between("<=", COMPARE, &range(Part::Bound(at)), &Bit::between("+", SUM, need, &slack))
            }
        };
        suits = Some(match suits {
            Some(suits) => Bit::between("*", PRODUCT, &suits, &held),
            None => held,
        });
    }
    let suits = suits.ok_or("a table without keys")?;
    let others = Bit::between("-", SUM, &one, &suits);
    let penalty = Bit::between("*", PRODUCT, &Bit::text(UNSUITED), &others);
    let turns = Bit::between("+", SUM, &range(Part::Turn), &penalty);
    // one cell's worth of an array, in every spreadsheet program
    let first = Bit::call("SUMPRODUCT", &[&Bit::call("MIN", &[&turns])]);
    let row = Bit::call("MATCH", &[&first, &range(Part::Turn), &Bit::number(0.0)]);
    Ok(Bit::between("-", SUM, &row, &one))
}

/// The place between a lower row and the next.
fn between(key: &(String, usize), table: &Table, needs: &[Bit], lower: &Bit) -> Result<Bit, Refused> {
    let at = table.keys.iter().position(|k| k.rule == Rule::Interpolate).ok_or("no key lies between rows")?;
    let (need, one, zero) = (&needs[at], Bit::number(1.0), Bit::number(0.0));
    let cells = Bit { many: false, ..Bit::piece(Piece::Table(key.clone(), Part::Key(at))) };
    let low = Bit::call("INDEX", &[&cells, &Bit::between("+", SUM, lower, &one)]);
    let high = Bit::call("INDEX", &[&cells, &next_row(key, lower)]);
    let (way, gap) = (Bit::between("-", SUM, need, &low), Bit::between("-", SUM, &high, &low));
    let weight = Bit::between("/", PRODUCT, &way, &gap);
    let weight = match table.keys[at].outside {
        Outside::Extend => weight,
        Outside::Hold => Bit::call("MIN", &[&one, &Bit::call("MAX", &[&zero, &weight])]),
        Outside::Refuse => {
            let slack = Bit::between("*", PRODUCT, &Bit::call("ABS", &[need]), &Bit::text(NEAR));
            let under = Bit::between("<", COMPARE, &Bit::between("+", SUM, need, &slack), &low);
            let over = Bit::between(">", COMPARE, &Bit::between("-", SUM, need, &slack), &high);
            Bit::call("IF", &[&Bit::call("OR", &[&under, &over]), &Bit::text("NA()"), &weight])
        }
    };
    Ok(Bit::between("+", SUM, lower, &weight))
}

/// The sum of what a bit stands for.
fn total(bit: &Bit) -> Bit {
    match bit.pieces.as_slice() {
        _ if !bit.many => bit.clone(),
        [Piece::Range(_)] => Bit { many: false, ..Bit::call("SUM", &[bit]) },
        _ => Bit { many: false, ..Bit::call("SUMPRODUCT", &[bit]) },
    }
}

/// How many entries a bit stands for.
fn entries(bit: &Bit) -> Result<Bit, Refused> {
    if !bit.many {
        return Ok(Bit::number(1.0));
    }
    let range = bit.pieces.iter().find(|p| matches!(p, Piece::Range(_))).ok_or("a list without a range")?;
    Ok(Bit { many: false, ..Bit::call("ROWS", &[&Bit::piece(range.clone())]) })
}

/// How many entries; of conditions, how many hold.
fn count(value: &Value) -> Result<Bit, Refused> {
    match value {
        Value::Condition(_) | Value::Known(_) => count_holding(value),
        value => entries(&value.cell().ok_or("no list to count")?),
    }
}

fn count_holding(value: &Value) -> Result<Bit, Refused> {
    let bit = condition(value)?;
    match bit.many {
        true => Ok(total(&Bit::between("*", PRODUCT, &bit, &Bit::number(1.0)))),
        false => number(value),
    }
}

fn extreme(function: &str, bits: &[Bit]) -> Bit {
    let simple = bits.iter().all(|b| !b.many || matches!(b.pieces.as_slice(), [Piece::Range(_)]));
    let bits: Vec<&Bit> = bits.iter().collect();
    let found = Bit { many: false, ..Bit::call(function, &bits) };
    if simple { found } else { Bit { many: false, ..Bit::call("SUMPRODUCT", &[&found]) } }
}
