//! One record of a document and the values its fields hold.

use crate::{Field, Id, Kind};
use serde::de::{MapAccess, Visitor};
use serde::ser::SerializeMap;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// What a field holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FieldValue {
    /// Text as written: names, words of a set, quantity texts, times.
    Text(String),
    /// An exact number without unit: counts and positions.
    Number(f64),
    /// Yes or no.
    Flag(bool),
    /// Another record of the same document.
    Ref(Id),
    /// Several other records, in order.
    Refs(Vec<Id>),
}

/// One thing of a document: an item, a part, a joint, a value ...
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Its identifier.
    pub id: Id,
    /// What it is.
    pub kind: Kind,
    /// The record it belongs to; `None` at the top.
    pub parent: Option<Id>,
    /// Its place among its siblings.
    pub order: String,
    /// Its fields, sorted by field.
    pub fields: Fields,
}

/// The fields of a record, sorted, each at most once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fields(Vec<(Field, FieldValue)>);

impl Fields {
    /// What a field holds.
    pub fn get(&self, field: Field) -> Option<&FieldValue> {
        self.0.binary_search_by_key(&field, |(f, _)| *f).ok().map(|i| &self.0[i].1)
    }

    /// Sets or clears a field and returns what it held.
    pub fn set(&mut self, field: Field, value: Option<FieldValue>) -> Option<FieldValue> {
        match (self.0.binary_search_by_key(&field, |(f, _)| *f), value) {
            (Ok(i), Some(value)) => Some(std::mem::replace(&mut self.0[i].1, value)),
            (Ok(i), None) => Some(self.0.remove(i).1),
            (Err(i), Some(value)) => {
                self.0.insert(i, (field, value));
                None
            }
            (Err(_), None) => None,
        }
    }

    /// All fields in order.
    pub fn iter(&self) -> impl Iterator<Item = (Field, &FieldValue)> {
        self.0.iter().map(|(f, v)| (*f, v))
    }
}

impl Serialize for Fields {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (field, value) in &self.0 {
            map.serialize_entry(field, value)?;
        }
        map.end()
    }
}

impl<'de> Deserialize<'de> for Fields {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Read;
        impl<'de> Visitor<'de> for Read {
            type Value = Fields;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a table of fields")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Fields, A::Error> {
                let mut fields = Vec::with_capacity(map.size_hint().unwrap_or(0).min(64));
                while let Some(entry) = map.next_entry::<Field, FieldValue>()? {
                    fields.push(entry);
                }
                fields.sort_by_key(|(f, _)| *f);
                fields.dedup_by_key(|(f, _)| *f);
                Ok(Fields(fields))
            }
        }
        deserializer.deserialize_map(Read)
    }
}

impl Record {
    /// An empty record at the top of a document.
    pub fn new(id: Id, kind: Kind) -> Self {
        Self { id, kind, parent: None, order: crate::first_order(), fields: Fields::default() }
    }

    /// Puts it under a parent.
    #[must_use]
    pub fn under(mut self, parent: Id) -> Self {
        self.parent = Some(parent);
        self
    }

    /// Sets its place among its siblings.
    #[must_use]
    pub fn ordered(mut self, order: impl Into<String>) -> Self {
        self.order = order.into();
        self
    }

    /// Sets a field.
    #[must_use]
    pub fn with(mut self, field: Field, value: FieldValue) -> Self {
        self.fields.set(field, Some(value));
        self
    }

    /// Sets a text field.
    #[must_use]
    pub fn with_text(self, field: Field, text: impl Into<String>) -> Self {
        self.with(field, FieldValue::Text(text.into()))
    }

    /// The text a field holds.
    pub fn text(&self, field: Field) -> Option<&str> {
        match self.fields.get(field) {
            Some(FieldValue::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// The number a field holds.
    pub fn number(&self, field: Field) -> Option<f64> {
        match self.fields.get(field) {
            Some(FieldValue::Number(number)) => Some(*number),
            _ => None,
        }
    }

    /// Whether a flag is set.
    pub fn flag(&self, field: Field) -> bool {
        matches!(self.fields.get(field), Some(FieldValue::Flag(true)))
    }

    /// The record a field refers to.
    pub fn refers(&self, field: Field) -> Option<Id> {
        match self.fields.get(field) {
            Some(FieldValue::Ref(id)) => Some(*id),
            _ => None,
        }
    }

    /// The records a field refers to.
    pub fn all_refers(&self, field: Field) -> &[Id] {
        match self.fields.get(field) {
            Some(FieldValue::Refs(ids)) => ids,
            Some(FieldValue::Ref(id)) => std::slice::from_ref(id),
            _ => &[],
        }
    }
}
