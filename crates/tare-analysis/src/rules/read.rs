//! Rules from files.

use super::edit::{Each, EditRule};
use super::file::{File, Text};
use super::template::{self, Piece, Purpose, Template};
use super::{Risk, Rule};
use crate::facts::{RELATIONS, RowKind, Schema};
use crate::question::{Checked, Scope, check, is_condition, parse};
use tare_calc::{Expr, ExprKind, Span};
use tare_diag::Diag;
use tare_units::{Dim, Quantity};
use toml::de::{DeTable, DeValue};

const FIELDS: [&str; 13] =
    ["title", "kind", "about", "when", "says", "source", "risk", "one_off", "one_off_source", "advice", "safety", "let", "edit"];
const EDIT_FIELDS: [&str; 3] = ["for", "when", "do"];
/// Longest file in bytes, and most names in it: they are written out wherever they are used.
const MAX_FILE: usize = 64 << 10;
const MAX_LETS: usize = 64;
/// First words of the changes that an edit can be.
const CHANGES: [&str; 6] = ["set", "clear", "add", "remove", "choose", "move"];

/// Reads one file; a rule only where there is no error.
pub(super) fn rule(key: &str, source: &str, schema: &Schema) -> (Option<Rule>, Vec<Diag>) {
    let mut file = File::new(key, source);
    if source.len() > MAX_FILE {
        file.fail("file-too-long", format!("the file has {} bytes, more than {MAX_FILE}", source.len()), 0..0, None);
        return (None, file.problems);
    }
    let table = file.table(source);
    if file.problems.is_empty() {
        file.only(&table, &FIELDS, "a rule");
        let rule = Reading { file: &mut file, schema, root: &table }.rule(key);
        if file.problems.is_empty() {
            return (rule, Vec::new());
        }
    }
    (None, file.problems)
}

struct Reading<'r, 'a, 't> {
    file: &'r mut File<'a>,
    schema: &'r Schema,
    root: &'r DeTable<'t>,
}

impl Reading<'_, '_, '_> {
    fn rule(mut self, key: &str) -> Option<Rule> {
        let root = self.root;
        let safety = self.file.flag(root, "safety");
        let [title, source, advice] = ["title", "source", "advice"].map(|field| self.file.needed(root, field, 0..0));
        let kind = self.kind();
        let risk = self.risk(safety);
        self.no_trade(safety);
        let about = self.about();
        let (when, says) = (self.file.needed(root, "when", 0..0), self.file.needed(root, "says", 0..0));
        // Without knowing the rows nothing more can be said of formulas.
        let about = about?;
        let lets = self.lets(about);
        let scope = Scope { schema: self.schema, rows: about, outer: None, lets: &lets };
        let when = when.and_then(|text| self.condition(&text, scope));
        let says = says.and_then(|text| self.template(&text, Purpose::Words, scope));
        let one_off = self.one_off(scope);
        let edits = self.edits(about, &lets);
        let word = |text: Option<Text>| text.map(|t| t.value);
        Some(Rule {
            key: key.to_owned(),
            title: word(title)?,
            kind: kind?,
            about,
            source: word(source)?,
            risk,
            advice: word(advice)?,
            safety,
            when: when?,
            says: says?,
            one_off,
            edits,
        })
    }

    fn kind(&mut self) -> Option<String> {
        let text = self.file.needed(self.root, "kind", 0..0)?;
        let is_word = text.value.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '-' | ' '));
        if !is_word || text.value.trim() != text.value {
            self.file.fail(
                "bad-name",
                format!("`{}` is no word to count by", text.value),
                text.span(),
                Some("small letters, blanks and `-`"),
            );
        }
        is_word.then_some(text.value)
    }

    fn about(&mut self) -> Option<RowKind> {
        let text = self.file.needed(self.root, "about", 0..0)?;
        let found = RowKind::from_word(&text.value);
        if found.is_none() {
            self.choice("about", &text, &RowKind::ALL.map(RowKind::word));
        }
        found
    }

    fn risk(&mut self, safety: bool) -> Option<Risk> {
        if safety && !self.root.contains_key("risk") {
            return None;
        }
        let text = self.file.needed(self.root, "risk", 0..0)?;
        let found = Risk::from_word(&text.value);
        if found.is_none() {
            self.choice("risk", &text, &Risk::ALL.map(Risk::word));
        }
        found
    }

    fn choice(&mut self, field: &str, text: &Text, words: &[&str]) {
        let says = format!("`{field}` is one of {}, found `{}`", words.join(", "), text.value);
        self.file.fail("unknown-choice", says, text.span(), None);
        self.file.near(text.value.split_whitespace().next().unwrap_or(""), words);
    }

    /// A finding of safety is for qualified people: it proposes no change and has no price.
    fn no_trade(&mut self, safety: bool) {
        for field in ["edit", "one_off", "one_off_source"] {
            if let Some(value) = self.root.get(field).filter(|_| safety) {
                let says = format!("a finding of safety has no `{field}`");
                let hint = "say in `advice` who has to look at it; safety is never traded against cost";
                self.file.fail("safety", says, value.span(), Some(hint));
            }
        }
    }

    fn condition(&mut self, text: &Text, scope: Scope<'_>) -> Option<Checked> {
        let checked = parse(&text.value).and_then(|expr| check(scope, &expr)).and_then(|checked| {
            is_condition(&checked, &text.value).map_err(|problem| vec![problem])?;
            Ok(checked)
        });
        self.file.take(text, checked)
    }

    fn template(&mut self, text: &Text, purpose: Purpose, scope: Scope<'_>) -> Option<Template> {
        self.file.take(text, template::read(text, purpose, scope))
    }

    /// Names for formulas, in the order of the file; each may use those before it.
    fn lets(&mut self, about: RowKind) -> Vec<(String, Expr)> {
        let Some(value) = self.root.get("let") else { return Vec::new() };
        let DeValue::Table(table) = value.get_ref() else {
            self.file.fail("field-type", "`let` must be a table", value.span(), Some("write `[let]` and names below it"));
            return Vec::new();
        };
        let mut names: Vec<_> = table.keys().map(|key| (key.get_ref().to_string(), key.span())).collect();
        names.sort_by_key(|(_, span)| span.start);
        if let Some((_, span)) = names.get(MAX_LETS) {
            self.file.fail("too-many-names", format!("more than {MAX_LETS} names"), span.clone(), None);
        }
        names.truncate(MAX_LETS);
        let mut lets: Vec<(String, Expr)> = Vec::new();
        for (name, span) in names {
            let shaped = name.starts_with(|c: char| c.is_ascii_lowercase())
                && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
            // A name may hide a column, in this rule; of relations and rows it must stay plain which are meant.
            let taken = RELATIONS.iter().any(|(_, n, ..)| *n == name)
                || RowKind::from_word(&name).is_some()
                || ["pi", "true", "false", "and", "or", "not"].contains(&name.as_str());
            if !shaped {
                self.file.fail(
                    "bad-name",
                    format!("`{name}` is no name for a formula"),
                    span.clone(),
                    Some("small letters, digits and `_`"),
                );
            } else if taken {
                let says = format!("`{name}` means something else already");
                self.file.fail("name-taken", says, span.clone(), Some("choose another name"));
                continue;
            }
            let Some(text) = self.file.text(table, &name) else { continue };
            let scope = Scope { schema: self.schema, rows: about, outer: None, lets: &lets };
            let read = parse(&text.value).and_then(|expr| check(scope, &expr).map(|_| expr));
            // A name whose formula is wrong is known all the same: its uses are not wrong as well.
            let bad = || Expr::new(ExprKind::Bad, Span::default());
            lets.push((name, self.file.take(&text, read).unwrap_or_else(bad)));
        }
        lets
    }

    fn one_off(&mut self, scope: Scope<'_>) -> Option<(Template, String)> {
        let text = self.file.text(self.root, "one_off");
        let source = self.file.text(self.root, "one_off_source");
        let (text, source) = match (text, source) {
            (Some(text), Some(source)) => (text, source),
            (Some(text), None) => {
                self.file.fail("field-missing", "`one_off_source` is missing", text.span(), Some("say where the amount is from"));
                return None;
            }
            (None, Some(source)) => {
                self.file.fail("field-missing", "`one_off` is missing", source.span(), None);
                return None;
            }
            (None, None) => return None,
        };
        let template = self.template(&text, Purpose::Words, scope)?;
        if template.pieces.iter().all(|piece| matches!(piece, Piece::Words(_))) {
            match Quantity::parse(&text.value) {
                Ok(amount) if amount.unit.dim == Dim::MONEY => {}
                Ok(_) => self.file.fail(
                    "dimension-mismatch",
                    "`one_off` is an amount of money",
                    text.span(),
                    Some("such as `2000 .. 5000 EUR`"),
                ),
                Err(error) => self.file.fail("quantity", error.to_string(), text.span(), None),
            }
        }
        Some((template, source.value))
    }

    fn edits(&mut self, about: RowKind, lets: &[(String, Expr)]) -> Vec<EditRule> {
        let Some(value) = self.root.get("edit") else { return Vec::new() };
        let DeValue::Array(edits) = value.get_ref() else {
            self.file.fail("field-type", "`edit` must be a list of tables", value.span(), Some("write `[[edit]]`"));
            return Vec::new();
        };
        let mut read = Vec::new();
        for edit in edits.iter() {
            match edit.get_ref() {
                DeValue::Table(table) => read.extend(self.edit(table, edit.span(), about, lets)),
                _ => self.file.fail("field-type", "each `edit` must be a table", edit.span(), Some("write `[[edit]]`")),
            }
        }
        read
    }

    /// The relations after `for`: `features`, or one behind the other, `joints.fastener`.
    fn each(&mut self, text: &Text, about: RowKind) -> Option<Each> {
        let mut each = Each { steps: Vec::new(), to: about };
        for step in text.value.split('.') {
            let found = RELATIONS.iter().find(|(from, name, ..)| *from == each.to && *name == step.trim());
            let Some((from, name, to, _)) = found else {
                let known: Vec<&str> = Schema::relations(each.to).map(|(n, ..)| n).collect();
                let says = format!("{} has no relation `{step}`, only {}", each.to.one(), known.join(", "));
                self.file.fail("unknown-name", says, text.span(), None);
                self.file.near(step, &known);
                return None;
            };
            each.steps.push((*from, name));
            each.to = *to;
        }
        Some(each)
    }

    fn edit(
        &mut self,
        table: &DeTable<'_>,
        span: std::ops::Range<usize>,
        about: RowKind,
        lets: &[(String, Expr)],
    ) -> Option<EditRule> {
        self.file.only(table, &EDIT_FIELDS, "an edit");
        let each = match self.file.text(table, "for") {
            None if table.contains_key("for") => return None,
            None => None,
            Some(text) => Some(self.each(&text, about)?),
        };
        let (rows, outer) = each.as_ref().map_or((about, None), |each| (each.to, Some(about)));
        let scope = Scope { schema: self.schema, rows, outer, lets };
        let when = self.file.text(table, "when").map(|text| self.condition(&text, scope));
        let text = self.file.needed(table, "do", span)?;
        let first = text.value.split_whitespace().next().unwrap_or("");
        if !CHANGES.contains(&first) {
            self.choice("the first word of `do`", &text, &CHANGES);
        }
        let words = self.template(&text, Purpose::Command, scope)?;
        let when = match when {
            Some(None) => return None,
            Some(checked) => checked,
            None => None,
        };
        Some(EditRule { each, when, words })
    }
}
