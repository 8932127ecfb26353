//! Inputs of a calculation file.

use crate::calculation::{Declared, Default, Input, Length};
use crate::expr::ExprKind;
use crate::file_table::condition;
use crate::parse_formula::parse_formula;
use crate::reader::{MAX_LIST, Reader, Text};
use crate::span::{Located, Span};
use crate::table::Table;
use std::sync::Arc;
use tare_diag::Diag;
use tare_units::Quantity;
use toml::de::{DeTable, DeValue};

/// What a `from` may begin with.
pub const ROOTS: [&str; 12] = [
    "operation",
    "part",
    "item",
    "material",
    "joint",
    "feature",
    "rate",
    "scenario",
    "route",
    "readings",
    "organisation",
    "tool",
];

const FIELDS: [&str; 10] = ["unit", "from", "default", "spread", "source", "evidence", "says", "choices", "optional", "list"];

pub(crate) fn inputs(reader: &mut Reader<'_>, root: &DeTable<'_>, tables: &[Table]) -> Vec<Input> {
    let sections = reader.tables(root, "input");
    let names: Vec<String> = sections.iter().map(|(n, _)| n.value.clone()).collect();
    sections.into_iter().map(|(name, table)| input(reader, name, table, tables, &names)).collect()
}

fn input(reader: &mut Reader<'_>, name: Located<String>, table: &DeTable<'_>, tables: &[Table], names: &[String]) -> Input {
    reader.check_name(&name);
    reader.only(table, &FIELDS, "an input");
    let owner = format!("input `{}`", name.value);
    let unit = reader.required(table, "unit", &owner, name.span, "add `unit = \"...\"`; use \"1\" for a plain number");
    let declared = unit.as_ref().map_or(Declared::Bad, |u| reader.declared(u));
    let list = table.get("list").and_then(|value| {
        let text = reader.scalar(value, "`list`")?;
        let length = length(&text.value);
        if length.is_none() {
            reader
                .error("bad-list", format!("`{}` is no length of a list (at most {MAX_LIST})", text.value), text.span())
                .hints
                .push("write `list = 5`, `list = \"1..12\"` or `list = \"1..\"`".to_owned());
        }
        length
    });
    let choices = choices(reader, table, &declared, &owner, name.span);
    let from = reader.texts(table, "from");
    for address in &from {
        check_root(reader, address);
    }
    let (default, default_text) = default(reader, table, &declared, list, &choices, tables, names);
    let spread = reader.text(table, "spread").and_then(|t| {
        let factor = reader.factor(&t)?;
        let formula = matches!(&default, Some(d) if matches!(d.value, Default::Formula(_) | Default::Bad));
        if !formula {
            reader
                .error("spread-without-formula", "`spread` belongs to a formula default", t.span())
                .hints
                .push("write the spread of a value in its default: `2 +- 0.2 mm`".to_owned());
        } else if !matches!(&declared, Declared::Number(u) if !u.is_point()) && declared != Declared::Bad {
            reader.error("spread-of-level", format!("a `spread` multiplies, which {owner} cannot take"), t.span());
        }
        Some(factor)
    });
    let source = reader.text(table, "source").map(|t| t.value);
    if default.is_some() && source.as_deref().is_none_or(|s| s.trim().is_empty()) {
        reader
            .error("missing-source", format!("{owner} has a default but no `source`"), name.span)
            .hints
            .push("add `source`: the work it is from, `common practice`, or `assumption: why`".to_owned());
    }
    let evidence = reader.text(table, "evidence").map(|t| {
        if !["handbook", "assumed"].contains(&t.value.as_str()) {
            let diag = Diag::error("unknown-evidence", format!("no evidence named `{}` for a default", t.value))
                .at(reader.place(t.span()));
            reader.diags.push(diag.hint("write `handbook` or `assumed`"));
        }
        t.value
    });
    Input {
        unit: unit.map_or(Located::new(String::new(), name.span), |u| u.located()),
        says: reader.words(table, "says"),
        optional: reader.flag(table, "optional").unwrap_or(false),
        name,
        declared,
        list,
        choices,
        from,
        default,
        default_text,
        spread,
        source,
        evidence,
    }
}

/// Reads `5`, `1..12` or `1..`.
fn length(text: &str) -> Option<Length> {
    let number = |t: &str| t.trim().parse::<usize>().ok().filter(|n| *n <= MAX_LIST);
    let length = match text.split_once("..") {
        None => Length::exactly(number(text)?),
        Some((least, most)) if most.trim().is_empty() => Length { least: number(least)?, most: None },
        Some((least, most)) => Length { least: number(least)?, most: Some(number(most)?) },
    };
    length.most.is_none_or(|most| most >= length.least && most > 0).then_some(length)
}

fn choices(reader: &mut Reader<'_>, table: &DeTable<'_>, declared: &Declared, owner: &str, at: Span) -> Vec<String> {
    let texts = reader.texts(table, "choices");
    let mut found: Vec<String> = Vec::new();
    for text in texts {
        if text.value.is_empty() || text.value.contains('\'') {
            reader.error("bad-choice", format!("`{}` cannot be written in a formula", text.value), text.span);
        } else if found.contains(&text.value) {
            reader.error("duplicate-choice", format!("`{}` is listed twice", text.value), text.span);
        } else {
            found.push(text.value);
        }
    }
    match declared {
        Declared::Choice if found.is_empty() && !table.contains_key("choices") => {
            reader
                .error("missing-field", format!("{owner} has no `choices`"), at)
                .hints
                .push("add `choices = [\"...\", \"...\"]`".to_owned());
        }
        Declared::Choice | Declared::Bad => {}
        _ if !found.is_empty() => {
            reader
                .error("choices-without-choice", format!("{owner} has choices, but its unit is not `choice`"), at)
                .hints
                .push("write `unit = \"choice\"`".to_owned());
        }
        _ => {}
    }
    found
}

fn check_root(reader: &mut Reader<'_>, address: &Located<String>) {
    let (root, rest) = address.value.split_once('.').unwrap_or((&address.value, ""));
    if !ROOTS.contains(&root) {
        let diag = Diag::error("unknown-root", format!("nothing can be read from `{root}`")).at(reader.place(address.span));
        let diag = diag.did_you_mean(root, ROOTS);
        reader.diags.push(diag.hint(format!("begin with one of: {}", ROOTS.join(", "))));
    } else if rest.is_empty() {
        reader
            .error("bad-address", format!("`{}` names no quantity", address.value), address.span)
            .hints
            .push(format!("write `{root}.quantity`"));
    }
}

fn default(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    declared: &Declared,
    list: Option<Length>,
    choices: &[String],
    tables: &[Table],
    names: &[String],
) -> (Option<Located<Default>>, String) {
    let Some(value) = table.get("default") else { return (None, String::new()) };
    if let DeValue::Array(array) = value.get_ref() {
        let span = Span::from(value.span());
        let texts: Vec<Text> = array.iter().filter_map(|v| reader.scalar(v, "each entry of `default`")).collect();
        let words = texts.iter().map(|t| t.value.as_str()).collect::<Vec<_>>().join(", ");
        if list.is_none_or(|l| !l.allows(texts.len())) {
            let expected = list.map_or("one value".to_owned(), |l| format!("a list of {l}"));
            reader.error("list-length", format!("the default has {} values, expected {expected}", texts.len()), span);
            return (Some(Located::new(Default::Bad, span)), words);
        }
        let Declared::Number(unit) = declared else {
            if *declared != Declared::Bad {
                reader.error("wrong-kind", "only numbers may have a list as default", span);
            }
            return (Some(Located::new(Default::Bad, span)), words);
        };
        let values: Vec<Quantity> = texts.iter().filter_map(|t| reader.quantity(t, unit)).collect();
        let all = values.len() == texts.len();
        return (Some(Located::new(if all { Default::Values(values) } else { Default::Bad }, span)), words);
    }
    let Some(text) = reader.scalar(value, "`default`") else {
        return (Some(Located::new(Default::Bad, value.span().into())), String::new());
    };
    let read = match declared {
        Declared::Number(unit) => {
            if is_formula(&text.value, names) && Quantity::parse_as(&text.value, unit).is_err() {
                Default::Formula(Arc::new(reader.formula(&text)))
            } else {
                reader.quantity(&text, unit).map_or(Default::Bad, Default::Value)
            }
        }
        Declared::Choice => match choices.iter().position(|c| *c == text.value) {
            Some(level) => Default::Level(level),
            None if is_formula(&text.value, names) => Default::Formula(Arc::new(reader.formula(&text))),
            None => unknown_level(reader, &text, choices, "choice"),
        },
        Declared::Bool if matches!(text.value.as_str(), "true" | "false") || !is_formula(&text.value, names) => {
            condition(reader, &text).map_or(Default::Bad, Default::Level)
        }
        Declared::Bool => Default::Formula(Arc::new(reader.formula(&text))),
        Declared::Row(name) => match tables.iter().find(|t| t.name.value == *name) {
            None => Default::Bad,
            Some(table) => match table.rows.iter().position(|r| r.name == text.value) {
                Some(row) => Default::Level(row),
                None if is_formula(&text.value, names) => Default::Formula(Arc::new(reader.formula(&text))),
                None => {
                    let rows: Vec<String> = table.rows.iter().map(|r| r.name.clone()).collect();
                    unknown_level(reader, &text, &rows, "row")
                }
            },
        },
        Declared::Bad => Default::Bad,
    };
    (Some(Located::new(read, text.span())), text.value)
}

fn unknown_level(reader: &mut Reader<'_>, text: &Text, known: &[String], what: &str) -> Default {
    let diag = Diag::error("unknown-choice", format!("no {what} named `{}`", text.value)).at(reader.place(text.span()));
    let diag = diag.did_you_mean(&text.value, known.iter().map(String::as_str));
    reader.diags.push(diag.hint(format!("{what}s are: {}", known.join(", "))));
    Default::Bad
}

/// Whether a default is meant as a formula: it reads as one that is more than a number, or it speaks of an input.
fn is_formula(text: &str, names: &[String]) -> bool {
    let (tree, problems) = parse_formula(text);
    if problems.is_empty() {
        return !matches!(tree.kind, ExprKind::Number(_) | ExprKind::Name(_) | ExprKind::Neg(_))
            || matches!(&tree.kind, ExprKind::Name(n) if names.contains(n))
            || matches!(&tree.kind, ExprKind::Neg(inner) if !matches!(inner.kind, ExprKind::Number(_)))
            || matches!(&tree.kind, ExprKind::Number(literal) if literal.unit.is_some());
    }
    let words = text.split(|c: char| !(c.is_alphanumeric() || c == '_'));
    words.into_iter().any(|w| w.len() > 1 && names.iter().any(|n| n == w)) || text.contains('[')
}
