//! Setting fields, values and rates.

use super::{About, Editing, Intent, Target, one};
use crate::check_value::{READ_ERRORS, check_rate};
use crate::clock;
use crate::conflict::shown;
use crate::text_form::article;
use tare_diag::{Diag, Place};
use tare_model::{Change, Field, FieldValue, Id, Kind, Record};
use tare_units::{Quantity, Unit};

impl Editing<'_> {
    pub(super) fn set(&self, target: &str, to: &str, about: &About, beside: bool) -> Result<Intent, Vec<Diag>> {
        match self.target(target).map_err(one)? {
            Target::Field(record, field, ty) => {
                if to.trim().is_empty() && record.kind.schema().requires(field) {
                    let diag =
                        Diag::error("field-missing", format!("{} {} needs its {field}", article(record.kind), record.kind));
                    return Err(one(diag.at(Place::address(target))));
                }
                let value = self.field_value(target, field, ty, to).map_err(one)?;
                self.known(field, to, target)?;
                let says = format!(
                    "{}: {} -> {}",
                    self.named(record, field),
                    shown(record.fields.get(field), &self.addresses),
                    shown(Some(&value), &self.addresses)
                );
                let mut changes = vec![Change::Set { id: record.id, field, to: Some(value) }];
                let said = self.about(about).map_err(one)?;
                let evidence = about.evidence.clone().map(|class| (Field::Evidence, FieldValue::Text(class)));
                for (field, content) in said.into_iter().chain(evidence) {
                    if record.kind.schema().field(field).is_none() {
                        let says = format!("{} {} has no field `{field}`", article(record.kind), record.kind);
                        let diag = Diag::error("field-unknown", says).at(Place::address(target));
                        return Err(one(diag.hint("what is said beside a value does not go with a field")));
                    }
                    changes.push(Change::Set { id: record.id, field, to: Some(content) });
                }
                Ok(Intent { changes, says })
            }
            Target::Rate { owner, key } => self.set_rate(target, owner, &key, to, about),
            Target::Quantity { subject, quantity, number } => {
                self.check(subject, subject.text(Field::Calculation), &quantity, to, target)?;
                self.instrument_fits(subject, &quantity, to, about, target)?;
                let standing: Vec<&Record> = self.stated(subject.id, &quantity).collect();
                let name = format!("{} {quantity}", self.addresses.of(subject.id));
                let at = match (number, standing.len()) {
                    _ if beside => None,
                    (None, 0) => None,
                    (None, 1) => Some(0),
                    (Some(number), many) if number <= many => Some(number - 1),
                    (Some(number), many) => {
                        return Err(one(Diag::error("value-unknown", format!("{name} has {many} values, found `#{number}`"))
                            .at(Place::address(target))));
                    }
                    (None, many) => {
                        let each: Vec<String> = standing
                            .iter()
                            .enumerate()
                            .map(|(i, v)| format!("#{} {}", i + 1, v.text(Field::Text).unwrap_or("?")))
                            .collect();
                        let diag = Diag::error("value-many", format!("{many} values stand for {name}: {}", each.join(", ")))
                            .at(Place::address(target));
                        return Err(one(diag.hint(format!("name one, such as `{target}#1`, or add another with `--beside`"))));
                    }
                };
                match at {
                    Some(at) => self.replace_value(standing[at], &name, to, about),
                    None => self.add_value(subject, &quantity, &name, to, about),
                }
            }
        }
    }

    /// Another text is another statement: what was said beside the old one (who, when, on which instrument, by which method, from
    /// which source) goes, unless it is said again.
    fn replace_value(&self, value: &Record, name: &str, to: &str, about: &About) -> Result<Intent, Vec<Diag>> {
        let mut said = self.about(about).map_err(one)?;
        said.extend([(Field::Text, FieldValue::Text(to.to_owned())), self.usual_evidence(about)]);
        let (changes, dropped) = restated(value, &[Field::Quantity], said);
        let mut says = format!("{name}: {} -> {to}", value.text(Field::Text).unwrap_or("?"));
        if !dropped.is_empty() {
            says += &format!(" (no longer said: {})", dropped.join(", "));
        }
        Ok(Intent { changes, says })
    }

    /// The class of evidence said; nothing said: an instrument measures, everything else is a judgement until somebody says more.
    pub(super) fn usual_evidence(&self, about: &About) -> (Field, FieldValue) {
        let usual = if about.instrument.is_some() { "measured" } else { "assumed" };
        (Field::Evidence, FieldValue::Text(about.evidence.clone().unwrap_or_else(|| usual.to_owned())))
    }

    fn add_value(&self, subject: &Record, quantity: &str, name: &str, to: &str, about: &About) -> Result<Intent, Vec<Diag>> {
        let mut record =
            Record::new(clock::new_id(), Kind::Value).under(subject.id).ordered(self.document.last_order(Some(subject.id)));
        let (field, class) = self.usual_evidence(about);
        record = record.with_text(Field::Quantity, quantity).with_text(Field::Text, to).with(field, class);
        for (field, content) in self.about(about).map_err(one)? {
            record = record.with(field, content);
        }
        Ok(Intent { changes: vec![Change::Add { record }], says: format!("{name}: {to} added") })
    }

    pub(super) fn about(&self, about: &About) -> Result<Vec<(Field, FieldValue)>, Diag> {
        let texts = [
            (Field::Source, &about.source),
            (Field::MassState, &about.state),
            (Field::Who, &about.who),
            (Field::When, &about.when),
            (Field::Set, &about.set),
            (Field::Period, &about.period),
            (Field::Method, &about.method),
        ];
        let mut fields: Vec<(Field, FieldValue)> =
            texts.into_iter().filter_map(|(f, t)| Some((f, FieldValue::Text(t.clone()?)))).collect();
        if let Some(name) = &about.instrument {
            fields.push((Field::Instrument, FieldValue::Ref(self.instrument(name)?.id)));
        }
        if let Some(name) = &about.specimen {
            let found = self.addresses.find(&format!("specimen {name}")).or_else(|_| self.addresses.find(name))?;
            fields.push((Field::Specimen, FieldValue::Ref(found.id)));
        }
        if let Some(number) = about.number.filter(|n| *n < 1.0) {
            let diag = Diag::error("count-range", format!("found {number} pieces weighed together, expected 1 or more"));
            return Err(diag.hint("leave `--number` out for a single piece"));
        }
        fields.extend(about.number.map(|n| (Field::Number, FieldValue::Number(n))));
        Ok(fields)
    }

    fn set_rate(&self, target: &str, owner: &Record, key: &str, to: &str, about: &About) -> Result<Intent, Vec<Diag>> {
        if let Some(error) = check_rate(self.library, key, to) {
            let mut diag = error.unplaced();
            diag.message = format!("rate `{key}`: {}", diag.message);
            return Err(one(diag.at(Place::address(target))));
        }
        if !Kind::Rate.schema().parents.contains(&owner.kind) {
            return Err(one(Diag::error("parent-kind", format!("{} {} carries no rates", article(owner.kind), owner.kind))
                .at(Place::address(target))));
        }
        let standing = self.document.of_kind(Some(owner.id), Kind::Rate).find(|r| r.text(Field::Key) == Some(key));
        let source = about.source.clone().unwrap_or_else(|| "assumption: set by hand".to_owned());
        let class = about.evidence.clone().unwrap_or_else(|| "assumed".to_owned());
        let mut said = vec![(Field::Text, to.to_owned()), (Field::Evidence, class), (Field::Source, source)];
        said.extend(about.when.clone().map(|when| (Field::Date, when)));
        let said = said.into_iter().map(|(field, text)| (field, FieldValue::Text(text)));
        if let Some(rate) = standing {
            // As with a value: another text is another statement.
            let (changes, _) = restated(rate, &[Field::Key], said.collect());
            return Ok(Intent { changes, says: format!("rate {key}: {} -> {to}", rate.text(Field::Text).unwrap_or("?")) });
        }
        let mut record =
            Record::new(clock::new_id(), Kind::Rate).under(owner.id).ordered(self.document.last_order(Some(owner.id)));
        record = said.fold(record.with_text(Field::Key, key), |record, (field, content)| record.with(field, content));
        Ok(Intent { changes: vec![Change::Add { record }], says: format!("rate {key}: {to} added") })
    }

    /// Whether a reading is of the kind its instrument reads, and an error of an instrument of the kind it is taken with.
    fn instrument_fits(
        &self,
        subject: &Record,
        quantity: &str,
        text: &str,
        about: &About,
        target: &str,
    ) -> Result<(), Vec<Diag>> {
        let instrument = match &about.instrument {
            Some(name) => Some(self.instrument(name).map_err(one)?),
            None if subject.kind == Kind::Instrument && READ_ERRORS.contains(&quantity) => Some(subject),
            None => None,
        };
        let (Some(instrument), Ok(stated)) = (instrument, Quantity::parse(text)) else { return Ok(()) };
        // A text that stands for what is being replaced is no witness.
        let but = |value: &Record| value.parent == Some(subject.id) && value.text(Field::Quantity) == Some(quantity);
        let Some((unit, witness)) = self.reads(instrument.id, but) else { return Ok(()) };
        if unit.dim == stated.unit.dim {
            return Ok(());
        }
        let name = self.addresses.of(instrument.id);
        let says = format!("{quantity}: found `{text}`, but {name} reads in {} ({witness})", unit.text);
        let diag = Diag::error("dimension", says).at(Place::address(target));
        Err(one(diag.hint(format!("state it in {}, or name another instrument", unit.text))))
    }

    /// The unit an instrument reads in, by what was read on it or by its other errors, with what says so.
    fn reads(&self, instrument: Id, but: impl Fn(&Record) -> bool) -> Option<(Unit, String)> {
        let own = self
            .document
            .of_kind(Some(instrument), Kind::Value)
            .filter(|v| v.text(Field::Quantity).is_some_and(|q| READ_ERRORS.contains(&q)));
        let read = self.document.records().filter(|r| r.kind == Kind::Value && r.refers(Field::Instrument) == Some(instrument));
        own.chain(read).filter(|v| !but(v)).find_map(|value| {
            let stated = Quantity::parse(value.text(Field::Text)?).ok()?;
            Some((stated.unit, format!("{} is {}", self.addresses.of(value.id), stated.text)))
        })
    }

    fn instrument(&self, name: &str) -> Result<&Record, Diag> {
        let found = self.addresses.find(&format!("instrument {name}")).or_else(|_| self.addresses.find(name)).map_err(|_| {
            let known = self.document.of_kind(None, Kind::Instrument).filter_map(|i| i.text(Field::Name));
            Diag::error("instrument-unknown", format!("there is no instrument `{name}`"))
                .did_you_mean(name, known)
                .hint(format!("add it: `tare edit add instrument name=\"{name}\"`"))
        })?;
        if found.kind == Kind::Instrument {
            return Ok(found);
        }
        let diag = Diag::error("reference-kind", format!("`{name}` is a {}, expected an instrument", found.kind));
        Err(diag.at(Place::address(name)))
    }
}

/// Changes that make a record say this and nothing else, but for the fields that say what it is about; and the fields that go.
fn restated(record: &Record, kept: &[Field], said: Vec<(Field, FieldValue)>) -> (Vec<Change>, Vec<&'static str>) {
    let id = record.id;
    let mut changes: Vec<Change> = Vec::new();
    let mut dropped = Vec::new();
    let going = record.fields.iter().map(|(field, _)| field).filter(|f| !kept.contains(f) && said.iter().all(|(s, _)| s != f));
    for field in going {
        changes.push(Change::Set { id, field, to: None });
        dropped.push(field.word());
    }
    let new = said.into_iter().filter(|(field, content)| record.fields.get(*field) != Some(content));
    changes.extend(new.map(|(field, content)| Change::Set { id, field, to: Some(content) }));
    (changes, dropped)
}
