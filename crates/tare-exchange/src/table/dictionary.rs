//! The data dictionary of tables: as a page for people, as JSON for programs.

use super::{Description, Facts};
use serde_json::{Value, json};
use std::fmt::Write;

/// The dictionary as Markdown; `head` stands above the tables.
pub fn dictionary<'a>(head: &str, tables: impl IntoIterator<Item = &'a Description>, facts: &Facts) -> String {
    let mut out = head.trim_end().to_owned();
    out.push('\n');
    for table in tables {
        let _ = writeln!(out, "\n## {}\n\n{}\n\n| column | unit | type | meaning |\n|---|---|---|---|", table.name, table.says);
        for column in table.columns {
            let _ = writeln!(out, "| {} | {} | {} | {} |", column.name, facts.unit(column), column.kind.word(), column.says);
        }
    }
    out
}

/// The dictionary as JSON, with what is said of the export.
pub fn schema<'a>(tables: impl IntoIterator<Item = &'a Description>, facts: &Facts) -> Value {
    let said: serde_json::Map<String, Value> = facts.said.iter().map(|(word, text)| (word.clone(), json!(text))).collect();
    let tables: Vec<Value> = tables.into_iter().map(|table| described(table, facts)).collect();
    json!({ "currency": facts.currency, "said": said, "tables": tables })
}

/// One table as JSON.
pub(super) fn described(table: &Description, facts: &Facts) -> Value {
    let columns = table.columns.iter().map(
        |column| json!({ "name": column.name, "unit": facts.unit(column), "type": column.kind.word(), "says": column.says }),
    );
    json!({ "name": table.name, "says": table.says, "columns": columns.collect::<Vec<_>>() })
}
