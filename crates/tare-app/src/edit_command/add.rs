//! Adding records with their fields and values.

use super::{Editing, Intent, one};
use crate::clock;
use tare_diag::Diag;
use tare_model::{Change, Field, FieldValue, Kind, Record, order_between};

impl Editing<'_> {
    pub(super) fn add(&self, kind: &str, under: Option<&str>, fields: &[String]) -> Result<Intent, Vec<Diag>> {
        let Some(kind) =
            Kind::from_word(kind).filter(|k| !matches!(k, Kind::Value | Kind::Choose | Kind::Rate | Kind::Study | Kind::Book))
        else {
            let known = Kind::ALL.iter().map(|k| k.word());
            return Err(one(Diag::error("kind-unknown", format!("`{kind}` is no kind of record that can be added"))
                .did_you_mean(kind, known)
                .hint("values and rates are added with `tare edit set`")));
        };
        let above = under.map(|u| self.addresses.find(u)).transpose().map_err(one)?;
        // Work named under a part is the work of its item.
        let above = match above {
            Some(part) if part.kind == Kind::Part && kind == Kind::Feature => {
                part.refers(Field::Item).and_then(|i| self.document.get(i))
            }
            other => other,
        };
        let mut record = Record::new(clock::new_id(), kind).ordered(self.document.last_order(above.map(|a| a.id)));
        record.parent = above.map(|a| a.id);
        let (mut values, mut problems, mut before) = (Vec::new(), Vec::new(), Vec::new());
        let mut name = None;
        for entry in fields {
            let Some((word, text)) = entry.split_once('=') else {
                problems.push(Diag::error("field-form", format!("`{entry}` is no field, expected `name=Lid`")));
                continue;
            };
            let word = word.trim();
            let typed = Field::from_word(word).and_then(|f| Some((f, kind.schema().field(f)?)));
            match typed {
                Some((field, ty)) => match self.field_value(word, field, ty, text) {
                    Ok(value) => {
                        problems.extend(self.known(field, text, word).err().into_iter().flatten());
                        record = record.with(field, value);
                    }
                    Err(diag) => problems.push(diag),
                },
                None if kind == Kind::Part && word == "name" => name = Some(text.to_owned()),
                None => values.push((word.to_owned(), text.to_owned())),
            }
        }
        if kind == Kind::Part {
            if record.fields.get(Field::Count).is_none() {
                record = record.with(Field::Count, FieldValue::Number(1.0));
            }
            if let (Some(name), None) = (&name, record.refers(Field::Item)) {
                let item = Record::new(clock::new_id(), Kind::Item)
                    .ordered(self.document.last_order(None))
                    .with_text(Field::Name, name.clone());
                record = record.with(Field::Item, FieldValue::Ref(item.id));
                before.push(Change::Add { record: item });
            }
            if record.refers(Field::Item).is_none() && problems.is_empty() {
                problems.push(Diag::error(
                    "field-missing",
                    "a part needs `item=<label>` of an item that is there, or `name=...` for a new one",
                ));
            }
        }
        let subject = if kind == Kind::Part { record.refers(Field::Item).unwrap_or(record.id) } else { record.id };
        let calculation = record.text(Field::Calculation).map(str::to_owned);
        let mut order = self.document.last_order(Some(subject));
        let mut after = Vec::new();
        for (quantity, text) in values {
            if !Kind::Value.schema().parents.contains(&kind) {
                problems.push(Diag::error("field-unknown", format!("a {kind} has no field `{quantity}` and carries no values")));
                continue;
            }
            problems.extend(self.check(&record, calculation.as_deref(), &quantity, &text, &quantity).err().into_iter().flatten());
            let value = Record::new(clock::new_id(), Kind::Value).under(subject).ordered(order.clone());
            order = order_between(Some(&order), None);
            let value =
                value.with_text(Field::Quantity, quantity).with_text(Field::Text, text).with_text(Field::Evidence, "assumed");
            after.push(Change::Add { record: value });
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let called = record.text(Field::Label).or(record.text(Field::Name)).or(name.as_deref()).unwrap_or("").to_owned();
        let place = above.map_or_else(String::new, |a| format!(" under {}", self.addresses.of(a.id)));
        let mut changes = before;
        changes.push(Change::Add { record });
        changes.extend(after);
        Ok(Intent { changes, says: format!("{kind} {called} added{place}") })
    }
}
