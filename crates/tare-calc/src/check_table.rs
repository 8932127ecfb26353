//! The check of tables: keys that fit their rules, rows in order, nothing twice.

use crate::calculation::{Calculation, Declared};
use crate::series::series;
use crate::span::Span;
use crate::table::{Outside, Rule, Table};
use tare_diag::{Diag, Place};

pub(crate) fn check(calc: &Calculation, diags: &mut Vec<Diag>) {
    for table in &calc.tables {
        let mut check = Checker { calc, table, diags };
        check.keys();
        check.columns();
        check.rows();
    }
}

struct Checker<'a> {
    calc: &'a Calculation,
    table: &'a Table,
    diags: &'a mut Vec<Diag>,
}

impl Checker<'_> {
    fn error(&mut self, code: &'static str, message: String, span: Span, hint: &str) {
        let diag = Diag::error(code, message).at(Place::span(&self.calc.file, span.range()));
        self.diags.push(if hint.is_empty() { diag } else { diag.hint(hint) });
    }

    fn keys(&mut self) {
        let table = self.table;
        for key in &table.keys {
            let name = &key.name;
            match (&key.declared, key.rule) {
                (Declared::Row(_), _) => {
                    self.error("bad-key", format!("key `{}` cannot be a row", name.value), key.unit.span, "")
                }
                (Declared::Number(_), Rule::Equals) => {
                    let message = format!("key `{}` is a number, and numbers are not compared for equality", name.value);
                    self.error("bad-key", message, key.unit.span, "write `unit = \"choice\"`, or another rule");
                }
                (Declared::Choice | Declared::Bool, rule) if rule != Rule::Equals => {
                    let message = format!("key `{}` is no number, so `{}` means nothing", name.value, rule.word());
                    self.error("bad-key", message, key.unit.span, "write `rule = \"equals\"`");
                }
                _ => {}
            }
            if key.outside == Outside::Extend && key.rule != Rule::Interpolate {
                let message = format!("key `{}` can be extended only where it is interpolated", name.value);
                self.error("bad-key", message, name.span, "write `outside = \"refuse\"` or `outside = \"hold\"`");
            }
            if key.outside == Outside::Hold && key.rule == Rule::Equals {
                self.error("bad-key", format!("key `{}` has no end to hold", name.value), name.span, "leave out `outside`");
            }
        }
        let interpolated: Vec<_> = table.keys.iter().filter(|k| k.rule == Rule::Interpolate).collect();
        if let Some(second) = interpolated.get(1) {
            self.error(
                "bad-key",
                "only one key may be interpolated".to_owned(),
                second.name.span,
                "choose another rule for this key",
            );
        }
    }

    fn columns(&mut self) {
        let table = self.table;
        for column in &table.columns {
            if let Some(key) = table.keys.iter().find(|k| k.name.value == column.name.value) {
                let message = format!("`{}` is a key already", key.name.value);
                self.error("duplicate-name", message, column.name.span, "choose another name");
            }
            if matches!(column.name.value.as_str(), "name" | "source") {
                self.error("reserved-name", format!("`{}` is a field of every row", column.name.value), column.name.span, "");
            }
            if table.interpolates() && matches!(column.declared, Declared::Choice | Declared::Bool) {
                let message = format!("column `{}` holds no numbers and cannot be interpolated", column.name.value);
                self.error("bad-column", message, column.unit.span, "move it to a table of its own");
            }
        }
    }

    fn rows(&mut self) {
        let table = self.table;
        let numeric = |rule: Rule| rule != Rule::Equals;
        let mut names = std::collections::BTreeMap::new();
        for row in &table.rows {
            if let Some(first) = names.insert(row.name.as_str(), row.span) {
                let diag = Diag::error("duplicate-row", format!("two rows are called `{}`", row.name))
                    .at(Place::span(&self.calc.file, row.span.range()))
                    .with(Place::span(&self.calc.file, first.range()), "the first is here");
                self.diags.push(diag.hint("give each row its own `name`"));
            }
        }
        if table.rows.iter().any(|r| r.keys.iter().any(|c| c.value.number().is_none())) {
            return;
        }
        let values = |row: usize, wanted: fn(Rule) -> bool| -> Vec<f64> {
            let keys = table.keys.iter().zip(&table.rows[row].keys);
            keys.filter(|(k, _)| wanted(k.rule)).filter_map(|(_, c)| c.value.number()).collect()
        };
        // rows with the same choices, in the order of the file, must ascend in their other keys
        let mut last: std::collections::BTreeMap<Vec<u64>, usize> = std::collections::BTreeMap::new();
        for row in 0..table.rows.len() {
            let group: Vec<u64> = values(row, |r| r == Rule::Equals).iter().map(|x| x.to_bits()).collect();
            if let Some(before) = last.insert(group, row) {
                let (a, b) = (values(before, numeric), values(row, numeric));
                let order = a.iter().zip(&b).map(|(x, y)| x.total_cmp(y)).find(|o| o.is_ne());
                if order != Some(std::cmp::Ordering::Less) {
                    let key = table.keys.iter().position(|k| numeric(k.rule)).unwrap_or(0);
                    let shown =
                        |r: usize| table.rows[r].keys.iter().map(|c| c.text.value.as_str()).collect::<Vec<_>>().join(", ");
                    let what = if order.is_none() { "is the same as" } else { "stands behind the larger" };
                    let message = format!("keys must ascend, but `{}` {what} `{}`", shown(row), shown(before));
                    let span = table.rows[row].keys.get(key).map_or(table.rows[row].span, |c| c.text.span);
                    self.error("key-order", message, span, "sort the rows by their keys, and join rows with equal keys");
                    return;
                }
            }
        }
        for list in series(table).iter().filter(|s| table.interpolates() && s.rows.len() < 2) {
            let span = list.rows.first().map_or(table.name.span, |r| table.rows[*r].span);
            let message = "there is only one row to interpolate between".to_owned();
            self.error("key-order", message, span, "add a row, or use the rule `up_to` or `from`");
        }
    }
}
