//! The text of a calculation file to a [`Calculation`].

use crate::calculation::{Calculation, Equation, Give, Given, Kind, Method, Use};
use crate::file_check::checks;
use crate::reader::{Reader, Value};
use crate::span::{Located, Span};
use crate::{file_input, file_table, order, owed};
use std::sync::Arc;
use tare_diag::Diag;
use tare_units::{Quantity, Unit};
use toml::de::{DeTable, DeValue};

/// Longest file in bytes.
pub const MAX_FILE: usize = 4_000_000;

const FIELDS: [&str; 16] = [
    "title",
    "kind",
    "says",
    "method",
    "input",
    "table",
    "equation",
    "use",
    "check",
    "gives",
    "verdict",
    "material",
    "labour",
    "machine",
    "tool",
    "consumable",
];

/// Reads a calculation file. Never fails and never panics: what cannot be read is left out and has a message.
///
/// `key` is the file's path without `.toml` relative to the library, `file` its name for messages. The messages are those of
/// reading alone; [`crate::check()`] adds those of names, dimensions and types.
pub fn parse(key: &str, file: &str, text: &str) -> (Calculation, Vec<Diag>) {
    let mut reader = Reader::new(file, text);
    let mut calc = Calculation {
        key: key.to_owned(),
        file: file.to_owned(),
        text: text.to_owned(),
        title: String::new(),
        kind: None,
        says: String::new(),
        method: None,
        inputs: Vec::new(),
        tables: Vec::new(),
        equations: Vec::new(),
        uses: Vec::new(),
        owes: owed::Owed::default(),
        gives: Vec::new(),
        verdict: None,
        checks: Vec::new(),
        complete: false,
        order: Vec::new(),
        circles: Vec::new(),
    };
    if text.len() > MAX_FILE {
        reader.error("file-too-long", format!("the file has {} bytes, more than {MAX_FILE}", text.len()), 0..0);
        return (calc, reader.diags);
    }
    let (root, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        reader.error("toml-syntax", error.message().trim().to_lowercase(), error.span().unwrap_or(0..0));
    }
    read(&mut reader, root.get_ref(), &mut calc);
    unique_names(&mut reader, &calc);
    let (steps, circles) = order::within(&calc);
    (calc.order, calc.circles) = (steps, circles);
    let mut diags = reader.diags;
    calc.complete = !tare_diag::any_error(&diags);
    sort(&mut diags);
    (calc, diags)
}

/// Puts messages in the order of the file.
pub(crate) fn sort(diags: &mut [Diag]) {
    diags.sort_by_key(|d| match &d.place {
        Some(tare_diag::Place::Span { span, .. }) => (span.start, span.end),
        _ => (usize::MAX, usize::MAX),
    });
}

fn read(reader: &mut Reader<'_>, root: &DeTable<'_>, calc: &mut Calculation) {
    reader.only(root, &FIELDS, "a calculation");
    let top = Span::new(0, 0);
    if let Some(title) = reader.required(root, "title", "the calculation", top, "add `title = \"...\"`") {
        calc.title = title.value;
    }
    let words = Kind::ALL.map(Kind::word);
    if let Some(kind) =
        reader.required(root, "kind", "the calculation", top, &format!("add `kind = \"...\"`, one of: {}", words.join(", ")))
    {
        calc.kind = Kind::ALL.into_iter().find(|k| k.word() == kind.value);
        if calc.kind.is_none() {
            let diag = Diag::error("unknown-kind", format!("no kind of calculation named `{}`", kind.value))
                .at(reader.place(kind.span()));
            let diag = diag.did_you_mean(&kind.value, words);
            reader.diags.push(diag.hint(format!("kinds are: {}", words.join(", "))));
        }
    }
    calc.says = reader.words(root, "says");
    calc.method = method(reader, root);
    calc.tables = file_table::tables(reader, root);
    calc.inputs = file_input::inputs(reader, root, &calc.tables);
    calc.equations = equations(reader, root);
    calc.uses = uses(reader, root);
    calc.owes = owed::read(reader, root);
    calc.gives = gives(reader, root);
    calc.verdict = reader.text(root, "verdict").map(|t| t.located());
    calc.checks = checks(reader, root);
}

fn method(reader: &mut Reader<'_>, root: &DeTable<'_>) -> Option<Method> {
    let value = root.get("method")?;
    let DeValue::Table(table) = value.get_ref() else {
        reader.error("wrong-kind", "`method` must be a table", value.span()).hints.push("write `[method]`".to_owned());
        return None;
    };
    reader.only(table, &["spread", "reason"], "the method");
    let span = Span::from(value.span());
    let spread = reader.required(table, "spread", "the method", span, "add `spread = \"+- 20 %\"` with your figure");
    let reason = reader.required(table, "reason", "the method", span, "say why that much, or give the source");
    let reason = reason.map(|t| t.value).unwrap_or_default();
    // a spread that could not be read has its message; the name `method` stays known
    let spread = spread.and_then(|t| reader.factor(&t)).unwrap_or_else(|| Quantity::new(1.0, None, Unit::plain()));
    Some(Method { spread, reason, span })
}

fn equations(reader: &mut Reader<'_>, root: &DeTable<'_>) -> Vec<Equation> {
    let mut found = Vec::new();
    for (name, table) in reader.tables(root, "equation") {
        reader.check_name(&name);
        reader.only(table, &["unit", "is", "source", "says"], "an equation");
        let owner = format!("equation `{}`", name.value);
        let unit = reader.required(table, "unit", &owner, name.span, "add `unit = \"...\"`; use \"1\" for a plain number");
        let is = reader.required(table, "is", &owner, name.span, "add `is = \"...\"`, a formula");
        let Some(is) = is else { continue };
        let declared = unit.as_ref().map_or(crate::Declared::Bad, |u| reader.declared(u));
        found.push(Equation {
            declared,
            unit: unit.map_or(Located::new(String::new(), name.span), |u| u.located()),
            formula: Arc::new(reader.formula(&is)),
            text: is.value,
            source: reader.text(table, "source").map(|t| t.value),
            says: reader.words(table, "says"),
            name,
        });
    }
    found
}

fn uses(reader: &mut Reader<'_>, root: &DeTable<'_>) -> Vec<Use> {
    let mut found = Vec::new();
    for (name, table) in reader.tables(root, "use") {
        reader.check_name(&name);
        if owed::GROUPS.contains(&name.value.as_str()) {
            reader
                .error("reserved-name", format!("a use must not be called `{}`", name.value), name.span)
                .hints
                .push("lines of owed groups have that name: choose another".to_owned());
        }
        reader.only(table, &["calculation", "given", "says"], "a use");
        let owner = format!("use `{}`", name.value);
        let Some(key) =
            reader.required(table, "calculation", &owner, name.span, "add `calculation = \"...\"`, the key of a calculation")
        else {
            continue;
        };
        let mut given = Vec::new();
        for (input, value) in entries(reader, table, "given") {
            if let Some(text) = reader.scalar(value, &format!("`{}`", input.value)) {
                given.push(Given { formula: Arc::new(reader.formula(&text)), text: text.value, name: input });
            }
        }
        found.push(Use { calculation: key.located(), says: reader.words(table, "says"), given, name });
    }
    found
}

fn gives(reader: &mut Reader<'_>, root: &DeTable<'_>) -> Vec<Give> {
    let mut found = Vec::new();
    for (quantity, value) in entries(reader, root, "gives") {
        if let Some(text) = reader.string(value, "the name of an equation") {
            found.push(Give { quantity, equation: text.located() });
        }
    }
    found
}

/// The entries of the table under a key, in the order of the file.
pub(crate) fn entries<'t>(reader: &mut Reader<'_>, table: &'t DeTable<'t>, key: &str) -> Vec<(Located<String>, &'t Value<'t>)> {
    let Some(value) = table.get(key) else { return Vec::new() };
    let DeValue::Table(inner) = value.get_ref() else {
        reader
            .error("wrong-kind", format!("`{key}` must be a table"), value.span())
            .hints
            .push(format!("write `{key} = {{ name = \"...\" }}`"));
        return Vec::new();
    };
    let mut found: Vec<_> = inner.iter().map(|(n, v)| (Located::new(n.get_ref().to_string(), n.span().into()), v)).collect();
    found.sort_by_key(|(name, _)| name.span);
    found
}

/// One name, one thing.
fn unique_names(reader: &mut Reader<'_>, calc: &Calculation) {
    let inputs = calc.inputs.iter().map(|i| ("an input", &i.name));
    let tables = calc.tables.iter().map(|t| ("a table", &t.name));
    let equations = calc.equations.iter().map(|e| ("an equation", &e.name));
    let uses = calc.uses.iter().map(|u| ("a use", &u.name));
    let mut all: Vec<(&str, &Located<String>)> = inputs.chain(tables).chain(equations).chain(uses).collect();
    all.sort_by_key(|(_, name)| name.span);
    let mut first: std::collections::BTreeMap<&str, (&str, Span)> = std::collections::BTreeMap::new();
    for (what, name) in all {
        if let Some((other, span)) = first.get(name.value.as_str()) {
            let diag = Diag::error("duplicate-name", format!("`{}` is the name of {other} already", name.value))
                .at(reader.place(name.span))
                .with(reader.place(*span), format!("{other} has it here"))
                .hint("names are shared by inputs, tables, equations and uses: choose another");
            reader.diags.push(diag);
        } else {
            first.insert(&name.value, (what, name.span));
        }
    }
}
