//! Adding a record with its fields and values.

use super::{About, Editing, Intent, one};
use crate::address::Addresses;
use crate::clock;
use crate::text_form::article;
use tare_diag::{Diag, Place};
use tare_model::{Change, Field, FieldValue, Id, Kind, Record, order_between};

/// Kinds that are not added by themselves.
const NOT_ADDED: [Kind; 5] = [Kind::Value, Kind::Choose, Kind::Rate, Kind::Study, Kind::Book];

/// The kinds of record that can be added.
pub fn addable() -> impl Iterator<Item = Kind> {
    Kind::ALL.iter().copied().filter(|k| !NOT_ADDED.contains(k))
}

/// What a record of a kind takes, in words for a message.
fn takes(kind: Kind) -> String {
    let words = |kind: Kind| kind.schema().fields.iter().map(|(f, _, _)| f.word()).collect::<Vec<_>>().join(", ");
    let mut said = format!("{} {kind} takes {}", article(kind), words(kind));
    if kind == Kind::Part {
        said = format!("{said}; a new one with `name=` takes what its item does: {}", words(Kind::Item));
    }
    if kind == Kind::Part || Kind::Value.schema().parents.contains(&kind) {
        said.push_str("; and quantities (`tare calc quantities`)");
    }
    said
}

/// Fields and values as they were written, sorted by where they go.
#[derive(Default)]
struct Sorted {
    record: Vec<(Field, FieldValue)>,
    /// Fields of the item that a new part brings with it.
    item: Vec<(Field, FieldValue)>,
    values: Vec<(String, String)>,
}

impl Editing<'_> {
    pub(super) fn add(
        &self,
        kind: &str,
        under: Option<&str>,
        fields: &[String],
        about: &About,
        id: Option<Id>,
    ) -> Result<Intent, Vec<Diag>> {
        let Some(kind) = Kind::from_word(kind).filter(|k| !NOT_ADDED.contains(k)) else {
            let known: Vec<&str> = addable().map(Kind::word).collect();
            return Err(one(Diag::error("kind-unknown", format!("`{kind}` is no kind of record that can be added"))
                .did_you_mean(kind, known.iter().copied())
                .hint(format!("there is {}", known.join(", ")))
                .hint("values and rates are added with `tare edit set`")));
        };
        if fields.is_empty() {
            return Err(one(Diag::error("field-missing", format!("nothing is said of the {kind}")).hint(takes(kind))));
        }
        let above = under.map(|u| self.addresses.find(u)).transpose().map_err(one)?;
        // Work named under a part is the work of its item.
        let above = match above {
            Some(part) if part.kind == Kind::Part && kind == Kind::Feature => {
                part.refers(Field::Item).and_then(|i| self.document.get(i))
            }
            other => other,
        };
        let mut problems = Vec::new();
        let sorted = self.sorted(kind, fields, &mut problems);
        let mut record =
            Record::new(id.unwrap_or_else(clock::new_id), kind).ordered(self.document.last_order(above.map(|a| a.id)));
        record.parent = above.map(|a| a.id);
        for (field, value) in sorted.record {
            record = record.with(field, value);
        }
        let mut changes = Vec::new();
        if kind == Kind::Part {
            if record.fields.get(Field::Count).is_none() {
                record = record.with(Field::Count, FieldValue::Number(1.0));
            }
            match (sorted.item.iter().any(|(f, _)| *f == Field::Name), record.refers(Field::Item)) {
                (true, None) => {
                    let mut item = Record::new(clock::new_id(), Kind::Item).ordered(self.document.last_order(None));
                    for (field, value) in sorted.item {
                        item = item.with(field, value);
                    }
                    record = record.with(Field::Item, FieldValue::Ref(item.id));
                    changes.push(Change::Add { record: item });
                }
                (_, Some(item)) => {
                    for (field, _) in sorted.item {
                        let says = format!("`{field}` is the item's, which is there already");
                        let set = format!("set it with `tare edit set \"{}/{field}\"`", self.addresses.of(item));
                        problems.push(Diag::error("field-of-item", says).at(Place::address(field.word())).hint(set));
                    }
                }
                (false, None) => {}
            }
        }
        let subject = if kind == Kind::Part { record.refers(Field::Item).unwrap_or(record.id) } else { record.id };
        let values = self.values(&record, subject, sorted.values, about, &mut problems);
        if problems.is_empty() && kind == Kind::Part && record.refers(Field::Item).is_none() {
            let says = "a part needs `item=<label>` of an item that is there, or `name=...` for a new one";
            problems.push(Diag::error("field-missing", says));
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let id = record.id;
        let called = record.text(Field::Label).or(record.text(Field::Name)).map(str::to_owned);
        changes.push(Change::Add { record });
        changes.extend(values);
        let place = above.map_or_else(String::new, |a| format!(" under {}", self.addresses.of(a.id)));
        let says = self.says_added(kind, called, id, &changes);
        Ok(Intent { changes, says: format!("{says} added{place}") })
    }

    /// What was added, with the address it has from now on.
    fn says_added(&self, kind: Kind, called: Option<String>, id: Id, changes: &[Change]) -> String {
        if let Some(called) = called.as_ref().filter(|_| kind == Kind::Part) {
            return format!("{kind} {called}");
        }
        let mut after = self.document.clone();
        let address = after.change_all(changes).ok().map(|_| Addresses::new(&after).of(id));
        let name = called.or_else(|| {
            let item = after.get(id)?.refers(Field::Item)?;
            after.get(item)?.text(Field::Name).map(str::to_owned)
        });
        match (name, address) {
            (Some(name), Some(address)) if address.ends_with(&name) => format!("{kind} {name}"),
            (Some(name), Some(address)) => format!("{kind} {name} ({address})"),
            (None, Some(address)) => address,
            (name, None) => format!("{kind} {}", name.unwrap_or_default()),
        }
    }

    fn sorted(&self, kind: Kind, fields: &[String], problems: &mut Vec<Diag>) -> Sorted {
        let mut sorted = Sorted::default();
        for entry in fields {
            let Some((word, text)) = entry.split_once('=') else {
                problems.push(Diag::error("field-form", format!("`{entry}` is no field, expected `name=Lid`")));
                continue;
            };
            let word = word.trim();
            if word == "under" {
                let diag = Diag::error("field-form", "what a record stands under is no field of it").at(Place::address(word));
                problems.push(diag.hint(format!("write `--under {text}`")));
                continue;
            }
            let field = Field::from_word(word);
            let own = field.and_then(|f| Some((f, kind.schema().field(f)?)));
            let of_item = field.filter(|_| kind == Kind::Part).and_then(|f| Some((f, Kind::Item.schema().field(f)?)));
            let Some((field, ty)) = own.or(of_item) else {
                sorted.values.push((word.to_owned(), text.to_owned()));
                continue;
            };
            match self.field_value(word, field, ty, text) {
                Ok(value) => {
                    problems.extend(self.known(field, text, word).err().into_iter().flatten());
                    let place = if own.is_some() { &mut sorted.record } else { &mut sorted.item };
                    place.push((field, value));
                }
                Err(diag) => problems.push(diag),
            }
        }
        sorted
    }

    /// The values of a new record; what is said beside them holds for each.
    fn values(
        &self,
        record: &Record,
        subject: tare_model::Id,
        stated: Vec<(String, String)>,
        about: &About,
        problems: &mut Vec<Diag>,
    ) -> Vec<Change> {
        let kind = record.kind;
        let calculation = record.text(Field::Calculation);
        let beside = self.about(about).unwrap_or_else(|diag| {
            problems.push(diag);
            Vec::new()
        });
        let (evidence, class) = self.usual_evidence(about);
        let mut order = self.document.last_order(Some(subject));
        let mut changes = Vec::new();
        for (quantity, text) in stated {
            if !Kind::Value.schema().parents.contains(&kind) {
                let diag = Diag::error(
                    "field-unknown",
                    format!("{} {kind} has no field `{quantity}` and carries no values", article(kind)),
                );
                let known = kind.schema().fields.iter().map(|(f, _, _)| f.word());
                problems.push(diag.did_you_mean(&quantity, known).hint(takes(kind)));
                continue;
            }
            let found = self.check(record, calculation, &quantity, &text, &quantity).err().into_iter().flatten();
            problems.extend(found.map(|diag| if diag.code == "quantity-unknown" { nearer(diag, kind, &quantity) } else { diag }));
            let mut value = Record::new(clock::new_id(), Kind::Value).under(subject).ordered(order.clone());
            order = order_between(Some(&order), None);
            value = value.with_text(Field::Quantity, quantity).with_text(Field::Text, text).with(evidence, class.clone());
            for (field, content) in &beside {
                value = value.with(*field, content.clone());
            }
            changes.push(Change::Add { record: value });
        }
        changes
    }
}

/// A word that is no quantity may have been meant for a field.
fn nearer(diag: Diag, kind: Kind, word: &str) -> Diag {
    let item: &[_] = if kind == Kind::Part { Kind::Item.schema().fields } else { &[] };
    let fields: Vec<&str> = kind.schema().fields.iter().chain(item).map(|(f, _, _)| f.word()).collect();
    let diag = if diag.hints.is_empty() { diag.did_you_mean(word, fields) } else { diag };
    diag.hint(takes(kind))
}
