//! Edits in the words of the command line, turned into changes.
//!
//! A target is an address, and behind its last stroke a field or a quantity: `P12/mass`, `P12/name`, `P12/op2/hits`,
//! `scenario/volume`, `rate/wage.operator`, `J3/count`. `#2` behind a quantity names the second of several values.

mod add;
mod choose;
mod line;
mod set;

use crate::address::Addresses;
use crate::check_value::{Subject, calculation_problem, check_value, material_problem};
use crate::conflict::shown;
use crate::text_form::article;
pub use add::addable;
pub use line::parse_line;
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Change, Document, Field, FieldType, FieldValue, Id, Kind, Record, order_between};

/// What may be said beside a value's text.
#[derive(Clone, Debug, Default)]
pub struct About {
    /// Evidence class.
    pub evidence: Option<String>,
    /// Where it is from.
    pub source: Option<String>,
    /// The instrument, by name.
    pub instrument: Option<String>,
    /// Mass state.
    pub state: Option<String>,
    /// Who took it.
    pub who: Option<String>,
    /// When.
    pub when: Option<String>,
    /// Readings of one set carry the same name.
    pub set: Option<String>,
    /// Pieces weighed together.
    pub number: Option<f64>,
    /// Period in which the instrument kept its errors.
    pub period: Option<String>,
    /// How it was taken: `tare`.
    pub method: Option<String>,
    /// The specimen it was taken of, by name.
    pub specimen: Option<String>,
}

/// An edit as asked for.
#[derive(Clone, Debug)]
pub enum EditCommand {
    /// Sets a field, a value or a rate.
    Set {
        /// `P12/mass`, `P12/name`, `rate/wage.operator`.
        target: String,
        /// The new content.
        to: String,
        /// What is said beside a value.
        about: Box<About>,
        /// Puts a value beside those that stand instead of replacing one.
        beside: bool,
    },
    /// Clears a field or removes the values of a quantity.
    Clear {
        /// As for `Set`.
        target: String,
    },
    /// Adds a record with fields and values.
    Add {
        /// What kind: `part`, `item`, `operation`, `joint`.
        kind: String,
        /// What it stands under.
        under: Option<String>,
        /// `name=Lid`, `count=2`, `hits=5`.
        fields: Vec<String>,
        /// What is said beside the values among them.
        about: Box<About>,
        /// The identifier it gets; a new one where none is given.
        id: Option<Id>,
    },
    /// Removes a record and what stands under it.
    Remove {
        /// An address.
        target: String,
    },
    /// Chooses among the values of a quantity.
    Choose {
        /// `P12/mass`.
        target: String,
        /// A number from 1, `mean`, or `none` to take the choice back.
        which: String,
        /// Why.
        says: Option<String>,
    },
    /// Puts a part or operation elsewhere.
    Move {
        /// An address.
        target: String,
        /// The new record above.
        under: Option<String>,
        /// The sibling it follows; first place without one.
        after: Option<String>,
    },
}

/// What an edit command comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Intent {
    /// The changes.
    pub changes: Vec<Change>,
    /// The same in one line.
    pub says: String,
}

/// Turns a command into changes that fit the document. All problems at once.
///
/// # Errors
/// Unknown addresses, fields, quantities, words, materials and calculations (with the nearest names); texts that do not read.
pub fn intent(document: &Document, library: &Library, command: &EditCommand) -> Result<Intent, Vec<Diag>> {
    intent_with(Addresses::new(document), document, library, command)
}

/// As [`intent`], with addresses that are known.
pub(crate) fn intent_with<'a>(
    addresses: Addresses<'a>,
    document: &'a Document,
    library: &'a Library,
    command: &EditCommand,
) -> Result<Intent, Vec<Diag>> {
    let editing = Editing { document, library, addresses };
    match command {
        EditCommand::Set { target, to, about, beside } => editing.set(target, to, about, *beside),
        EditCommand::Clear { target } => editing.clear(target),
        EditCommand::Add { kind, under, fields, about, id } => editing.add(kind, under.as_deref(), fields, about, *id),
        EditCommand::Remove { target } => editing.remove(target),
        EditCommand::Choose { target, which, says } => editing.choose(target, which, says.as_deref()),
        EditCommand::Move { target, under, after } => editing.shift(target, under.as_deref(), after.as_deref()),
    }
}

/// The text that stands where a command would set one, as a page shows it; nothing stands there for an empty one.
pub(crate) fn standing<'a>(
    addresses: Addresses<'a>,
    document: &'a Document,
    library: &'a Library,
    target: &str,
) -> Result<String, Diag> {
    let editing = Editing { document, library, addresses };
    let text = match editing.target(target)? {
        Target::Field(record, field, _) => {
            // a part says what its item says until it says something of its own
            let item = record.refers(Field::Item).and_then(|item| document.get(item));
            let own = record.fields.get(field);
            crate::live::plain(own.or_else(|| item?.fields.get(field)), &editing.addresses)
        }
        Target::Quantity { subject, quantity, number } => {
            // without a number all are meant
            let stated = editing.stated(subject.id, &quantity).enumerate().filter(|(at, _)| number.is_none_or(|n| n == at + 1));
            stated.filter_map(|(_, value)| value.text(Field::Text)).collect::<Vec<_>>().join("; ")
        }
        Target::Rate { owner, key } => {
            let rate = document.of_kind(Some(owner.id), Kind::Rate).find(|r| r.text(Field::Key) == Some(&key));
            rate.and_then(|r| r.text(Field::Text)).unwrap_or_default().to_owned()
        }
    };
    Ok(text)
}

struct Editing<'a> {
    document: &'a Document,
    library: &'a Library,
    addresses: Addresses<'a>,
}

/// What a target names.
enum Target<'a> {
    Field(&'a Record, Field, FieldType),
    Quantity { subject: &'a Record, quantity: String, number: Option<usize> },
    Rate { owner: &'a Record, key: String },
}

fn one(diag: Diag) -> Vec<Diag> {
    vec![diag]
}

impl<'a> Editing<'a> {
    fn target(&self, text: &str) -> Result<Target<'a>, Diag> {
        // a rate's key may hold strokes, as that of a calculation does
        if let Some(key) = text.strip_prefix("rate/") {
            if key.trim().is_empty() {
                let diag = Diag::error("target", "a rate has a key, such as `rate/wage.operator`").at(Place::address(text));
                return Err(diag);
            }
            if let Some(calculation) = key.strip_prefix("method.").filter(|key| self.library.find(key).is_none()) {
                let diag = Diag::error("calculation-unknown", format!("no calculation `{calculation}`")).at(Place::address(text));
                return Err(diag.did_you_mean(calculation, self.library.calculations().map(|c| c.key.as_str())));
            }
            return Ok(Target::Rate { owner: self.addresses.find("product")?, key: key.to_owned() });
        }
        if let Some(key) = text.strip_suffix("/method").filter(|key| self.library.find(key).is_some()) {
            return Ok(Target::Rate { owner: self.addresses.find("product")?, key: format!("method.{key}") });
        }
        let (subject, name) = text.rsplit_once('/').ok_or_else(|| {
            let diag = Diag::error("target", format!("`{text}` names a record, expected a field or quantity of it"))
                .at(Place::address(text));
            diag.hint(format!("write `{text}/mass` or `{text}/name`"))
        })?;
        if subject.eq_ignore_ascii_case("rate") {
            return Ok(Target::Rate { owner: self.addresses.find("product")?, key: name.to_owned() });
        }
        let record = self.addresses.find(subject)?;
        if let Some(key) = name.strip_prefix("rate.") {
            return Ok(Target::Rate { owner: record, key: key.to_owned() });
        }
        let (name, number) = match name.split_once('#') {
            Some((name, number)) => {
                let number = number.parse::<usize>().ok().filter(|n| *n > 0);
                let bad = || {
                    Diag::error("target", format!("`{text}` ends in no number, expected one such as `#2`"))
                        .at(Place::address(text))
                };
                (name, Some(number.ok_or_else(bad)?))
            }
            None => (name, None),
        };
        let item = record.refers(Field::Item).filter(|_| record.kind == Kind::Part).and_then(|i| self.document.get(i));
        if number.is_none()
            && let Some(field) = Field::from_word(name)
        {
            for owner in [Some(record), item].into_iter().flatten() {
                if let Some(ty) = owner.kind.schema().field(field) {
                    return Ok(Target::Field(owner, field, ty));
                }
            }
        }
        let holds = |r: &Record| self.stated(r.id, name).next().is_some();
        let subject = item.filter(|item| !holds(record) || holds(item)).unwrap_or(record);
        if !Kind::Value.schema().parents.contains(&subject.kind) {
            let known = subject.kind.schema().fields.iter().map(|(f, _, _)| f.word());
            let diag = Diag::error(
                "field-unknown",
                format!("{} {} has no field `{name}` and carries no values", article(subject.kind), subject.kind),
            )
            .at(Place::address(text));
            return Err(diag.did_you_mean(name, known));
        }
        Ok(Target::Quantity { subject, quantity: name.to_owned(), number })
    }

    fn stated(&self, subject: Id, quantity: &str) -> impl Iterator<Item = &'a Record> {
        let quantity = quantity.to_owned();
        self.document.of_kind(Some(subject), Kind::Value).filter(move |v| v.text(Field::Quantity) == Some(quantity.as_str()))
    }

    fn clear(&self, target: &str) -> Result<Intent, Vec<Diag>> {
        match self.target(target).map_err(one)? {
            Target::Field(record, field, _) => {
                let says =
                    format!("{} cleared, was {}", self.named(record, field), shown(record.fields.get(field), &self.addresses));
                Ok(Intent { changes: vec![Change::Set { id: record.id, field, to: None }], says })
            }
            Target::Rate { owner, key } => {
                let rate = self.document.of_kind(Some(owner.id), Kind::Rate).find(|r| r.text(Field::Key) == Some(&key));
                let rate = rate.ok_or_else(|| {
                    one(Diag::error("rate-unknown", format!("no rate `{key}` is stated here")).at(Place::address(target)))
                })?;
                Ok(Intent {
                    changes: vec![Change::Remove { id: rate.id }],
                    says: format!("rate {key} removed, was {}", rate.text(Field::Text).unwrap_or("?")),
                })
            }
            Target::Quantity { subject, quantity, number } => {
                let name = format!("{} {quantity}", self.addresses.of(subject.id));
                let going: Vec<&Record> = self
                    .stated(subject.id, &quantity)
                    .enumerate()
                    .filter(|(i, _)| number.is_none_or(|n| n == i + 1))
                    .map(|(_, v)| v)
                    .collect();
                if going.is_empty() {
                    return Err(one(
                        Diag::error("value-unknown", format!("no such value stands for {name}")).at(Place::address(target))
                    ));
                }
                let was: Vec<&str> = going.iter().filter_map(|v| v.text(Field::Text)).collect();
                let says = format!("{name} removed, was {}", was.join("; "));
                Ok(Intent { changes: going.iter().map(|v| Change::Remove { id: v.id }).collect(), says })
            }
        }
    }

    fn remove(&self, target: &str) -> Result<Intent, Vec<Diag>> {
        let record = match self.addresses.find(target) {
            Ok(record) => record,
            Err(unknown) => return if target.contains('/') { self.clear(target) } else { Err(one(unknown)) },
        };
        if matches!(record.kind, Kind::Study | Kind::Book) {
            return Err(one(
                Diag::error("remove-whole", "this would remove the study itself").hint("remove parts, items or joints of it")
            ));
        }
        let needed = self.document.needed_by(record.id);
        if !needed.is_empty() {
            let named: Vec<String> = needed.iter().take(8).map(|id| self.addresses.of(*id)).collect();
            let more =
                if needed.len() > named.len() { format!(" and {} more", needed.len() - named.len()) } else { String::new() };
            let says = format!("{} is still used by {}{more}", self.addresses.of(record.id), named.join(", "));
            let diag = Diag::error("reference-needed", says).at(Place::address(target));
            return Err(one(diag.hint(format!("remove those first, such as `tare edit remove \"{}\"`", named[0]))));
        }
        let under = self.document.subtree(record.id).len() - 1;
        let more = if under > 0 { format!(" with {under} records under it") } else { String::new() };
        let title = record.text(Field::Name).map_or_else(String::new, |n| format!(" ({n})"));
        Ok(Intent {
            changes: vec![Change::Remove { id: record.id }],
            says: format!("{}{title} removed{more}", self.addresses.of(record.id)),
        })
    }

    fn shift(&self, target: &str, under: Option<&str>, after: Option<&str>) -> Result<Intent, Vec<Diag>> {
        let record = self.addresses.find(target).map_err(one)?;
        let sibling = after.map(|a| self.addresses.find(a)).transpose().map_err(one)?;
        let above = under.map(|u| self.addresses.find(u)).transpose().map_err(one)?;
        let parent = above.map(|a| a.id).or_else(|| sibling.map_or(record.parent, |s| s.parent));
        let siblings: Vec<&Record> = self.document.of_kind(parent, record.kind).filter(|r| r.id != record.id).collect();
        let at = match sibling {
            Some(sibling) => siblings.iter().position(|s| s.id == sibling.id).map(|i| i + 1).ok_or_else(|| {
                let says = format!("{} does not stand there beside it", self.addresses.of(sibling.id));
                one(Diag::error("move", says).at(Place::address(target)))
            })?,
            None if above.is_some() => siblings.len(),
            None => 0,
        };
        let order =
            order_between(at.checked_sub(1).map(|i| siblings[i].order.as_str()), siblings.get(at).map(|s| s.order.as_str()));
        let place = above.map_or_else(
            || sibling.map_or("first".to_owned(), |s| format!("behind {}", self.addresses.of(s.id))),
            |a| format!("under {}", self.addresses.of(a.id)),
        );
        Ok(Intent {
            changes: vec![Change::Move { id: record.id, parent, order }],
            says: format!("{} moved {place}", self.addresses.of(record.id)),
        })
    }

    fn named(&self, record: &Record, field: Field) -> String {
        format!("{} {field}", self.addresses.of(record.id))
    }

    /// Refuses what the library does not have.
    fn known(&self, field: Field, text: &str, target: &str) -> Result<(), Vec<Diag>> {
        let problem = match field {
            Field::Material => material_problem(self.library, text),
            Field::Calculation | Field::BuildUp => calculation_problem(self.library, text),
            _ => None,
        };
        problem.map_or(Ok(()), |diag| Err(one(diag.at(Place::address(target)))))
    }

    fn check(
        &self,
        subject: &Record,
        calculation: Option<&str>,
        quantity: &str,
        text: &str,
        target: &str,
    ) -> Result<(), Vec<Diag>> {
        let found = check_value(self.library, &Subject { kind: subject.kind, calculation }, quantity, text);
        let problems: Vec<Diag> = found.into_iter().map(|(diag, _)| diag.at(Place::address(target))).collect();
        if problems.is_empty() { Ok(()) } else { Err(problems) }
    }

    fn field_value(&self, target: &str, field: Field, ty: FieldType, text: &str) -> Result<FieldValue, Diag> {
        let wrong = |says: String| Diag::error("field-type", says).at(Place::address(target));
        match ty {
            FieldType::Text => Ok(FieldValue::Text(text.to_owned())),
            FieldType::Word(words) if words.contains(&text) => Ok(FieldValue::Text(text.to_owned())),
            FieldType::Word(words) => Err(wrong(format!("`{field}` is one of {}, found `{text}`", words.join(", ")))
                .did_you_mean(text, words.iter().copied())),
            FieldType::Count => match text.trim().parse::<f64>() {
                Ok(n) if n.is_finite() && (0.0..=1e12).contains(&n) => Ok(FieldValue::Number(n)),
                Ok(n) => Err(wrong(format!("`{field}` is a number from 0 to 1e12, found {n}"))),
                Err(_) => Err(wrong(format!("`{field}` is a number, found `{text}`")).hint("write it in digits, such as 2")),
            },
            FieldType::Flag => match text {
                "yes" | "true" => Ok(FieldValue::Flag(true)),
                "no" | "false" => Ok(FieldValue::Flag(false)),
                _ => Err(wrong(format!("`{field}` is yes or no, found `{text}`"))),
            },
            FieldType::Ref(kinds) => self.referred(text, kinds).map(FieldValue::Ref),
            FieldType::Refs(kinds) => {
                let ids = text.split(',').map(str::trim).filter(|t| !t.is_empty()).map(|t| self.referred(t, kinds));
                Ok(FieldValue::Refs(ids.collect::<Result<_, _>>()?))
            }
        }
    }

    /// The record of a kind that a text names; a part stands for its item where an item is due.
    fn referred(&self, text: &str, kinds: &[Kind]) -> Result<Id, Diag> {
        let by_kind = if text.starts_with('@') { &[] } else { kinds };
        let named = by_kind.iter().find_map(|k| self.addresses.find(&format!("{k} {text}")).ok());
        let record = named.map_or_else(|| self.addresses.find(text), Ok)?;
        if kinds.contains(&record.kind) {
            return Ok(record.id);
        }
        if record.kind == Kind::Part
            && kinds.contains(&Kind::Item)
            && let Some(item) = record.refers(Field::Item)
        {
            return Ok(item);
        }
        let words: Vec<&str> = kinds.iter().map(|k| k.word()).collect();
        Err(Diag::error("reference-kind", format!("`{text}` is a {}, expected a {}", record.kind, words.join(" or a ")))
            .at(Place::address(text)))
    }
}
