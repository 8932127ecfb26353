//! What renewing held texts would change, before anything is recorded.

use crate::figure::Figure;
use crate::held::Texts;
use crate::held_text::{book_document, file_of};
use crate::lock::Difference;
use crate::ranges::headlines;
use crate::release::paired;
use crate::session::Session;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_diag::Diag;
use tare_model::{Document, Field, Kind};
use tare_study::{LineRef, Study};

/// Texts whose effect is computed one by one; of more, the rest is computed only together.
const MOST_ALONE: usize = 24;
/// Lines and places that are named for one text.
const NAMED: usize = 6;

/// What renewing would change.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Renewal {
    /// The texts that differ.
    pub differences: Vec<Difference>,
    /// The headlines with the texts that are held and with those there are now.
    pub headlines: Vec<Change>,
    /// What each changed text does alone.
    pub texts: Vec<TextChange>,
}

/// A number before and after.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// What it is: a headline, or the address of a line.
    pub name: String,
    /// As it is; none where there is no such number.
    pub before: Option<Figure>,
    /// As it would be.
    pub after: Option<Figure>,
    /// Whether a bit of it differs.
    pub differs: bool,
}

/// A place in a text before and after.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlaceChange {
    /// The place: `equation.cycle.is`.
    pub at: String,
    /// What stands there; a dash where nothing does.
    pub before: String,
    /// What would stand there.
    pub after: String,
}

/// A text that differs, and what it alone would change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TextChange {
    /// Its key.
    pub key: String,
    /// The first places in it that differ.
    pub places: Vec<PlaceChange>,
    /// How many places differ.
    pub all_places: usize,
    /// The headlines it would change; none where it was not computed alone.
    pub headlines: Vec<Change>,
    /// The first lines it would change, those nearest to what was stated.
    pub lines: Vec<Change>,
    /// How many lines it would change; none where it was not computed alone.
    pub all_lines: Option<usize>,
}

impl Session {
    /// What taking the present texts for those a study holds would change. Nothing is recorded.
    ///
    /// # Errors
    /// A held text that is not in the workspace any more: there is no number to compare with.
    pub fn renewal(&self, document: &Document) -> Result<Renewal, Vec<Diag>> {
        let differences = self.lock_differences(document)?;
        if differences.is_empty() {
            return Ok(Renewal::default());
        }
        let (held, present) = (self.texts(document)?, self.workspace.present(&self.library)?);
        let (before, after) = (held.compile(document), present.compile(document));
        let changed: Vec<&str> = differences.iter().filter(|d| d.what == "changed").map(|d| d.key.as_str()).collect();
        let texts = changed.iter().enumerate().filter_map(|(at, key)| {
            let (old, new) = (held.current(key)?, present.current(key)?);
            let alone = (at < MOST_ALONE).then(|| held.with(key, &new).compile(document));
            Some(text_change(document, key, (&old, &new), &before, alone.as_ref()))
        });
        let texts = texts.collect();
        Ok(Renewal { differences, headlines: headline_changes(document, &before, &after), texts })
    }
}

impl Texts {
    /// The same with another text for one key.
    fn with(&self, key: &str, text: &str) -> Self {
        let mut other = self.clone();
        match key.strip_prefix("books/") {
            Some(name) => {
                other.books.retain(|book| crate::workspace::name_of(book) != Some(name));
                other.books.extend(book_document(text));
            }
            None => {
                let file = file_of(key);
                other.library = Arc::new((*self.library).clone().with_own([(file.as_str(), text)]).0);
            }
        }
        other
    }
}

fn headline_changes(document: &Document, before: &Study, after: &Study) -> Vec<Change> {
    let now = headlines(document, after);
    let old = headlines(document, before);
    let of = |all: &[(String, LineRef)], name: &str| all.iter().find(|(known, _)| known == name).map(|(_, line)| *line);
    let mut names: Vec<&String> = old.iter().map(|(name, _)| name).collect();
    names.extend(now.iter().map(|(name, _)| name).filter(|name| of(&old, name).is_none()));
    let change = |name: &String| changed(name, (before, of(&old, name)), (after, of(&now, name)));
    names.into_iter().map(change).collect()
}

fn changed(name: &str, (before, old): (&Study, Option<LineRef>), (after, new): (&Study, Option<LineRef>)) -> Change {
    let bits = old.zip(new).map(|(old, new)| tare_engine::conformance::same(before.value(old), after.value(new)));
    Change {
        name: name.to_owned(),
        before: old.map(|line| Figure::new(before, line, 5)),
        after: new.map(|line| Figure::new(after, line, 5)),
        differs: bits != Some(true),
    }
}

fn text_change(document: &Document, key: &str, (old, new): (&str, &str), before: &Study, alone: Option<&Study>) -> TextChange {
    let mut places = places(old, new);
    let all_places = places.len();
    places.truncate(NAMED);
    let mut change =
        TextChange { key: key.to_owned(), places, all_places, headlines: Vec::new(), lines: Vec::new(), all_lines: None };
    let Some(alone) = alone else { return change };
    change.headlines = headline_changes(document, before, alone).into_iter().filter(|c| c.differs).collect();
    let mut all = 0;
    for (line, other) in paired(before, alone) {
        let same = other.is_some_and(|other| tare_engine::conformance::same(before.value(line), alone.value(other)));
        if !same {
            all += 1;
            // names with `#` are steps inside a formula, which no explanation shows by name
            if change.lines.len() < NAMED && !before.lines.name(line).contains('#') {
                change.lines.push(changed(&before.lines.address(line), (before, Some(line)), (alone, other)));
            }
        }
    }
    change.all_lines = Some(all);
    change
}

/// The places of a text, each with what stands there: of a library file by its keys, of a book of the workspace by its rates.
fn read_places(text: &str) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    if let Some(book) = book_document(text) {
        for record in book.records() {
            let name = record.text(Field::Key).unwrap_or_else(|| record.kind.word());
            let about = if record.kind == Kind::Rate { "rate." } else { "" };
            for (field, _) in record.fields.iter().filter(|(field, _)| *field != Field::Key) {
                found.insert(format!("{about}{name}.{field}"), record.text(field).unwrap_or("set").to_owned());
            }
        }
    } else if let Ok(table) = text.parse::<toml::Table>() {
        flattened("", &toml::Value::Table(table), &mut found);
    }
    found
}

fn flattened(at: &str, value: &toml::Value, found: &mut BTreeMap<String, String>) {
    let below = |name: &str| if at.is_empty() { name.to_owned() } else { format!("{at}.{name}") };
    match value {
        toml::Value::Table(table) => table.iter().for_each(|(name, value)| flattened(&below(name), value, found)),
        toml::Value::Array(list) if list.iter().any(|one| one.is_table() || one.is_array()) => {
            list.iter().enumerate().for_each(|(n, value)| flattened(&below(&(n + 1).to_string()), value, found));
        }
        toml::Value::String(text) => drop(found.insert(at.to_owned(), text.clone())),
        other => drop(found.insert(at.to_owned(), other.to_string())),
    }
}

fn places(old: &str, new: &str) -> Vec<PlaceChange> {
    let (old, new) = (read_places(old), read_places(new));
    let names: std::collections::BTreeSet<&String> = old.keys().chain(new.keys()).collect();
    let of = |all: &BTreeMap<String, String>, name: &str| all.get(name).cloned().unwrap_or_else(|| "-".to_owned());
    let change = |name: &String| PlaceChange { at: name.clone(), before: of(&old, name), after: of(&new, name) };
    names.into_iter().map(change).filter(|change| change.before != change.after).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_that_differ_are_named() {
        let old = "title = \"A\"\n[input.v]\ndefault = \"1 mm\"\n[[row]]\na = 1\n[[row]]\na = 2\n";
        let new = "title = \"A\"\n[input.v]\ndefault = \"2 mm\"\nsays = \"x\"\n[[row]]\na = 1\n[[row]]\na = 3\n";
        let found = places(old, new);
        let shown: Vec<String> = found.iter().map(|p| format!("{}: {} -> {}", p.at, p.before, p.after)).collect();
        assert_eq!(shown, ["input.v.default: 1 mm -> 2 mm", "input.v.says: - -> x", "row.2.a: 2 -> 3"]);
    }
}
