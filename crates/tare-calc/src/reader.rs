//! Typed access to a TOML table, with a located message for whatever does not fit.

use crate::calculation::Declared;
use crate::expr::Expr;
use crate::parse_formula::parse_formula;
use crate::problem::Problem;
use crate::span::{Located, Span};
use crate::toml_text::SourceMap;
use tare_diag::{Diag, Place};
use tare_units::{Quantity, Unit};
use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

/// A value of a TOML table with its place.
pub(crate) type Value<'t> = Spanned<DeValue<'t>>;
/// A key of a TOML table with its place.
pub(crate) type Name<'t> = Spanned<DeString<'t>>;

/// Words that no input, table, equation or use may be called.
const RESERVED: [&str; 8] = ["pi", "method", "true", "false", "and", "or", "not", "if"];

/// Most entries of a list.
pub const MAX_LIST: usize = 100_000;

/// Text inside a TOML string, with the way back to the file.
#[derive(Clone, Debug)]
pub(crate) struct Text {
    pub(crate) value: String,
    map: SourceMap,
}

impl Text {
    /// The place of the whole text, without its quotes.
    pub(crate) fn span(&self) -> Span {
        self.map.map(Span::new(0, self.value.len()))
    }

    pub(crate) fn located(&self) -> Located<String> {
        Located::new(self.value.clone(), self.span())
    }
}

/// Reads TOML values and collects messages.
pub(crate) struct Reader<'a> {
    pub(crate) file: &'a str,
    pub(crate) source: &'a str,
    pub(crate) diags: Vec<Diag>,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(file: &'a str, source: &'a str) -> Self {
        Self { file, source, diags: Vec::new() }
    }

    pub(crate) fn place(&self, span: impl Into<Span>) -> Place {
        Place::span(self.file, span.into().range())
    }

    pub(crate) fn error(&mut self, code: &'static str, message: impl Into<String>, span: impl Into<Span>) -> &mut Diag {
        let diag = Diag::error(code, message).at(self.place(span));
        self.diags.push(diag);
        let last = self.diags.len() - 1;
        &mut self.diags[last]
    }

    pub(crate) fn problems(&mut self, problems: Vec<Problem>, map: impl Fn(Span) -> Span) {
        let file = self.file;
        self.diags.extend(problems.into_iter().map(|p| p.locate(file, &map)));
    }

    /// A message for every key that is not among `known`.
    pub(crate) fn only(&mut self, table: &DeTable<'_>, known: &[&str], what: &str) {
        let mut strangers: Vec<&Name<'_>> = table.keys().filter(|k| !known.contains(&k.get_ref().as_ref())).collect();
        strangers.sort_by_key(|k| k.span().start);
        for key in strangers {
            let name = key.get_ref().as_ref();
            let diag = Diag::error("unknown-field", format!("{what} has no field `{name}`")).at(self.place(key.span()));
            let diag = diag.did_you_mean(name, known.iter().copied());
            let diag = if diag.hints.is_empty() { diag.hint(format!("fields are: {}", known.join(", "))) } else { diag };
            self.diags.push(diag);
        }
    }

    /// The sub-tables of `table[key]`, in the order of the file.
    pub(crate) fn tables<'t>(&mut self, table: &'t DeTable<'t>, key: &str) -> Vec<(Located<String>, &'t DeTable<'t>)> {
        let mut found = Vec::new();
        let Some(value) = table.get(key) else { return found };
        let DeValue::Table(inner) = value.get_ref() else {
            self.error("wrong-kind", format!("`{key}` must be a table"), value.span())
                .hints
                .push(format!("write `[{key}.name]`"));
            return found;
        };
        for (name, value) in inner {
            match value.get_ref() {
                DeValue::Table(t) => found.push((Located::new(name.get_ref().to_string(), name.span().into()), t)),
                _ => {
                    self.error("wrong-kind", format!("`{key}.{}` must be a table", name.get_ref()), value.span());
                }
            }
        }
        found.sort_by_key(|(name, _)| name.span);
        found
    }

    /// Refuses names that are not lower snake case or are reserved.
    pub(crate) fn check_name(&mut self, name: &Located<String>) {
        let text = name.value.as_str();
        let shape = text.starts_with(|c: char| c.is_ascii_lowercase())
            && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
        if !shape {
            let wanted: String =
                text.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' }).collect();
            let hint = format!("write lower_snake_case, such as `{}`", wanted.trim_matches('_'));
            self.error("bad-name", format!("`{text}` is no name for a formula"), name.span).hints.push(hint);
        } else if RESERVED.contains(&text) {
            self.error("reserved-name", format!("`{text}` is a reserved word"), name.span)
                .hints
                .push("choose another name".to_owned());
        }
    }

    fn text_at(&self, decoded: &str, span: std::ops::Range<usize>) -> Text {
        Text { value: decoded.to_owned(), map: SourceMap::new(self.source, span, decoded) }
    }

    /// A string; a message for anything else.
    pub(crate) fn string(&mut self, value: &Value<'_>, what: &str) -> Option<Text> {
        match value.get_ref() {
            DeValue::String(text) => Some(self.text_at(text, value.span())),
            _ => {
                self.error("wrong-kind", format!("{what} must be a text in quotes"), value.span());
                None
            }
        }
    }

    /// Text of a value: a string, or a bare number or condition as written.
    pub(crate) fn scalar(&mut self, value: &Value<'_>, what: &str) -> Option<Text> {
        match value.get_ref() {
            DeValue::String(text) => Some(self.text_at(text, value.span())),
            DeValue::Integer(n) => Some(self.text_at(n.as_str(), value.span())),
            DeValue::Float(x) => Some(self.text_at(x.as_str(), value.span())),
            DeValue::Boolean(b) => Some(self.text_at(if *b { "true" } else { "false" }, value.span())),
            _ => {
                self.error("wrong-kind", format!("{what} must be one value"), value.span());
                None
            }
        }
    }

    /// The string under a key, if the key is there.
    pub(crate) fn text(&mut self, table: &DeTable<'_>, key: &str) -> Option<Text> {
        let value = table.get(key)?;
        self.string(value, &format!("`{key}`"))
    }

    /// The string under a key, or nothing.
    pub(crate) fn words(&mut self, table: &DeTable<'_>, key: &str) -> String {
        self.text(table, key).map(|t| t.value).unwrap_or_default()
    }

    /// The string under a key that must be there.
    pub(crate) fn required(&mut self, table: &DeTable<'_>, key: &str, owner: &str, at: Span, hint: &str) -> Option<Text> {
        if table.contains_key(key) {
            return self.text(table, key);
        }
        self.error("missing-field", format!("{owner} has no `{key}`"), at).hints.push(hint.to_owned());
        None
    }

    /// A condition under a key.
    pub(crate) fn flag(&mut self, table: &DeTable<'_>, key: &str) -> Option<bool> {
        let value = table.get(key)?;
        match value.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            _ => {
                self.error("wrong-kind", format!("`{key}` must be true or false"), value.span());
                None
            }
        }
    }

    /// The strings of an array under a key.
    pub(crate) fn texts(&mut self, table: &DeTable<'_>, key: &str) -> Vec<Located<String>> {
        let Some(value) = table.get(key) else { return Vec::new() };
        let DeValue::Array(array) = value.get_ref() else {
            self.error("wrong-kind", format!("`{key}` must be a list of texts"), value.span())
                .hints
                .push(format!("write `{key} = [\"...\"]`"));
            return Vec::new();
        };
        array.iter().filter_map(|v| self.string(v, &format!("each entry of `{key}`"))).map(|t| t.located()).collect()
    }

    /// Reads a formula; its spans count in the file.
    pub(crate) fn formula(&mut self, text: &Text) -> Expr {
        let (mut tree, problems) = parse_formula(&text.value);
        tree.relocate(&|span| text.map.map(span));
        self.problems(problems, |span| text.map.map(span));
        tree
    }

    /// Reads a declared unit.
    pub(crate) fn declared(&mut self, text: &Text) -> Declared {
        let unit = text.value.trim();
        match unit {
            "bool" => return Declared::Bool,
            "choice" => return Declared::Choice,
            _ => {}
        }
        if let Some(table) = unit.strip_prefix("row ") {
            return Declared::Row(table.trim().to_owned());
        }
        match Unit::parse(unit) {
            Ok(unit) if unit.currency.is_some() => {
                self.error("currency-in-unit", format!("the unit `{}` names a currency", unit.text), text.span())
                    .hints
                    .push("write `money`: the study decides the currency".to_owned());
                Declared::Bad
            }
            Ok(unit) => Declared::Number(unit),
            Err(error) => {
                let start = text.value.len() - text.value.trim_start().len();
                self.problems(vec![Problem::of_text(&error, start)], |span| text.map.map(span));
                Declared::Bad
            }
        }
    }

    /// Reads a value of a declared number; amounts of money must carry a code.
    pub(crate) fn quantity(&mut self, text: &Text, unit: &Unit) -> Option<Quantity> {
        match Quantity::parse_as(&text.value, unit) {
            Ok(q) if !unit.dim.money().is_zero() && q.unit.currency.is_none() && q.value != 0.0 => {
                self.error("currency-missing", format!("the amount `{}` names no currency", text.value), text.span())
                    .hints
                    .push("write the code of the currency, such as `15 USD/kg`".to_owned());
                None
            }
            Ok(q) => Some(q),
            Err(error) => {
                self.problems(vec![Problem::of_text(&error, 0)], |span| text.map.map(span));
                None
            }
        }
    }

    /// Reads a factor with mean 1: `+- 20 %`, or a full value text about 1.
    pub(crate) fn factor(&mut self, text: &Text) -> Option<Quantity> {
        let trimmed = text.value.trim();
        let mut due = Unit::plain();
        let (full, before) = if trimmed.starts_with("+-") || trimmed.starts_with('\u{b1}') {
            // `1 +- 20 %` would be ambiguous value text: percent stand on both sides or on none
            let percent = Unit::parse("%").ok().filter(|_| trimmed.ends_with('%'));
            let one = if percent.is_some() { "100" } else { "1" };
            due = percent.unwrap_or(due);
            (format!("{one} {trimmed}"), one.len() + 1)
        } else {
            (trimmed.to_owned(), 0)
        };
        match Quantity::parse_as(&full, &due) {
            Ok(q) if (q.mean() - 1.0).abs() > 1e-9 => {
                self.error("spread-mean", format!("the factor `{}` has the mean {}, not 1", text.value, q.mean()), text.span())
                    .hints
                    .push("write a spread about 1, such as `+- 20 %`".to_owned());
                None
            }
            Ok(q) => Some(q),
            Err(error) => {
                let mut problem = Problem::of_text(&error, 0);
                problem.span = Span::new(
                    (problem.span.start as usize).saturating_sub(before),
                    (problem.span.end as usize).saturating_sub(before),
                );
                self.problems(vec![problem], |span| text.map.map(span));
                None
            }
        }
    }
}
