//! Tables of a calculation file.

use crate::calculation::Declared;
use crate::reader::{Reader, Text};
use crate::span::{Located, Span};
use crate::table::{Cell, CellValue, Column, Key, Outside, Row, Rule, Table};
use tare_diag::Diag;
use toml::de::{DeTable, DeValue};

/// Most rows of one table.
pub const MAX_ROWS: usize = 2_000;

pub(crate) fn tables(reader: &mut Reader<'_>, root: &DeTable<'_>) -> Vec<Table> {
    let mut found = Vec::new();
    for (name, table) in reader.tables(root, "table") {
        reader.check_name(&name);
        reader.only(table, &["source", "says", "key", "column", "rows"], "a table");
        let keys = keys(reader, table, &name);
        let columns = columns(reader, table);
        let mut out = Table {
            source: reader.text(table, "source").map(|t| t.value),
            says: reader.words(table, "says"),
            rows: Vec::new(),
            name,
            keys,
            columns,
        };
        rows(reader, table, &mut out);
        found.push(out);
    }
    found
}

fn keys(reader: &mut Reader<'_>, table: &DeTable<'_>, owner: &Located<String>) -> Vec<Key> {
    let mut found = Vec::new();
    for (name, key) in reader.tables(table, "key") {
        reader.check_name(&name);
        reader.only(key, &["unit", "rule", "outside", "says"], "a key");
        let what = format!("key `{}`", name.value);
        let unit = reader.required(key, "unit", &what, name.span, "add `unit = \"...\"`; `choice` for texts");
        let declared = unit.as_ref().map_or(Declared::Bad, |u| reader.declared(u));
        let rules = Rule::ALL.map(Rule::word);
        let rule_text =
            reader.required(key, "rule", &what, name.span, &format!("add `rule = \"...\"`, one of: {}", rules.join(", ")));
        let rule = rule_text.and_then(|t| word(reader, &t, &rules, "rule").map(|i| Rule::ALL[i]));
        let words = Outside::ALL.map(Outside::word);
        let outside =
            reader.text(key, "outside").and_then(|t| word(reader, &t, &words, "rule for outside").map(|i| Outside::ALL[i]));
        let rule = rule.unwrap_or(if matches!(declared, Declared::Choice) { Rule::Equals } else { Rule::UpTo });
        if rule != Rule::Equals && outside.is_none() && !key.contains_key("outside") {
            reader
                .error("missing-field", format!("{what} has no `outside`"), name.span)
                .hints
                .push("say what happens beyond the rows: `refuse`, `hold` or `extend`".to_owned());
        }
        found.push(Key {
            declared,
            unit: unit.map_or(Located::new(String::new(), name.span), |u| u.located()),
            rule,
            outside: outside.unwrap_or(Outside::Refuse),
            choices: Vec::new(),
            says: reader.words(key, "says"),
            name,
        });
    }
    if found.is_empty() && !table.contains_key("key") {
        reader
            .error("missing-field", format!("table `{}` has no key", owner.value), owner.span)
            .hints
            .push("add `key.name = { unit = \"...\", rule = \"...\", outside = \"...\" }`".to_owned());
    }
    found
}

fn word(reader: &mut Reader<'_>, text: &Text, known: &[&str], what: &str) -> Option<usize> {
    let found = known.iter().position(|k| *k == text.value);
    if found.is_none() {
        let diag = Diag::error("unknown-rule", format!("no {what} named `{}`", text.value)).at(reader.place(text.span()));
        let diag = diag.did_you_mean(&text.value, known.iter().copied());
        reader.diags.push(diag.hint(format!("choose one of: {}", known.join(", "))));
    }
    found
}

fn columns(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Vec<Column> {
    let mut found = Vec::new();
    for (name, column) in reader.tables(table, "column") {
        reader.check_name(&name);
        reader.only(column, &["unit", "says"], "a column");
        let what = format!("column `{}`", name.value);
        let unit = reader.required(column, "unit", &what, name.span, "add `unit = \"...\"`; use \"1\" for a plain number");
        let mut declared = unit.as_ref().map_or(Declared::Bad, |u| reader.declared(u));
        if matches!(declared, Declared::Row(_)) {
            reader.error("bad-column", format!("{what} cannot hold rows"), name.span);
            declared = Declared::Bad;
        }
        let unit = unit.map_or(Located::new(String::new(), name.span), |u| u.located());
        found.push(Column { declared, unit, choices: Vec::new(), says: reader.words(column, "says"), name });
    }
    found
}

fn rows(reader: &mut Reader<'_>, source: &DeTable<'_>, table: &mut Table) {
    let Some(value) = source.get("rows") else {
        reader
            .error("missing-field", format!("table `{}` has no rows", table.name.value), table.name.span)
            .hints
            .push("add `rows = [ { ... }, ... ]`".to_owned());
        return;
    };
    let DeValue::Array(array) = value.get_ref() else {
        reader.error("wrong-kind", "`rows` must be a list of tables", value.span());
        return;
    };
    if array.is_empty() || array.len() > MAX_ROWS {
        let message = format!("table `{}` has {} rows, expected 1 to {MAX_ROWS}", table.name.value, array.len());
        reader.error("table-size", message, value.span());
        return;
    }
    let Table { keys, columns, rows, .. } = table;
    let mut known: Vec<String> = vec!["name".to_owned(), "source".to_owned()];
    known.extend(keys.iter().map(|k| k.name.value.clone()).chain(columns.iter().map(|c| c.name.value.clone())));
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    for (number, value) in array.iter().enumerate() {
        let DeValue::Table(row) = value.get_ref() else {
            reader.error("wrong-kind", "a row must be a table", value.span());
            continue;
        };
        reader.only(row, &known, "this table");
        let span = Span::from(value.span());
        let key_cells: Vec<Cell> =
            keys.iter_mut().map(|k| cell(reader, row, &k.name.value, &k.declared, &mut k.choices, span, true)).collect();
        let cells =
            columns.iter_mut().map(|c| cell(reader, row, &c.name.value, &c.declared, &mut c.choices, span, false)).collect();
        let name = match reader.text(row, "name") {
            Some(name) => name.value,
            None => row_name(&key_cells, number),
        };
        rows.push(Row { name, source: reader.text(row, "source").map(|t| t.value), keys: key_cells, cells, span });
    }
}

/// A row without a name is known by its keys.
fn row_name(keys: &[Cell], number: usize) -> String {
    let texts: Vec<&str> = keys.iter().map(|c| c.text.value.as_str()).filter(|t| !t.is_empty()).collect();
    if texts.is_empty() { format!("row {}", number + 1) } else { texts.join(", ") }
}

fn cell(
    reader: &mut Reader<'_>,
    row: &DeTable<'_>,
    name: &str,
    declared: &Declared,
    choices: &mut Vec<String>,
    span: Span,
    key: bool,
) -> Cell {
    let bad = |text: Located<String>| Cell { text, value: CellValue::Bad };
    let Some(value) = row.get(name) else {
        reader.error("missing-cell", format!("the row has no `{name}`"), span).hints.push(format!("add `{name} = \"...\"`"));
        return bad(Located::new(String::new(), span));
    };
    let Some(text) = reader.scalar(value, &format!("`{name}`")) else {
        return bad(Located::new(String::new(), value.span().into()));
    };
    let value = match declared {
        Declared::Number(unit) => reader.quantity(&text, unit).map(CellValue::Number),
        Declared::Choice => Some(CellValue::Level(match choices.iter().position(|c| *c == text.value) {
            Some(level) => level,
            None => {
                choices.push(text.value.clone());
                choices.len() - 1
            }
        })),
        Declared::Bool => condition(reader, &text).map(CellValue::Level),
        Declared::Row(_) | Declared::Bad => None,
    };
    if key
        && let Some(CellValue::Number(q)) = &value
        && q.unit.currency.is_some()
    {
        reader.error("currency-in-key", "a key cannot be an amount of money", text.span());
    }
    Cell { text: text.located(), value: value.unwrap_or(CellValue::Bad) }
}

/// `true` is 1, `false` 0.
pub(crate) fn condition(reader: &mut Reader<'_>, text: &Text) -> Option<usize> {
    match text.value.as_str() {
        "true" => Some(1),
        "false" => Some(0),
        other => {
            reader.error("bad-condition", format!("expected `true` or `false`, found `{other}`"), text.span());
            None
        }
    }
}
