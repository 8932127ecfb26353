//! The content of a cell as the value of a field.

use super::super::raw::Content;
use super::Making;
use super::words::{either, one, one_of, short};
use std::collections::HashMap;
use tare_diag::Place;
use tare_model::{Field, FieldType, FieldValue, Id, Kind};

impl Making<'_> {
    pub(super) fn value(
        &mut self,
        kind: Kind,
        field: Field,
        ty: FieldType,
        content: &Content,
        place: Place,
    ) -> Option<FieldValue> {
        let wrong = |making: &mut Self, expected: &str| -> Option<FieldValue> {
            let says = format!("`{field}` is {expected}, found {}", described(content));
            making.problem("field-type", says, place.clone());
            None
        };
        match (ty, content) {
            (FieldType::Text, Content::Text(text)) => Some(FieldValue::Text(text.clone())),
            (FieldType::Text, Content::Number(number)) => Some(FieldValue::Text(number.to_string())),
            (FieldType::Text, _) => wrong(self, "a text"),
            (FieldType::Word(known), Content::Text(text)) => {
                if !known.contains(&text.as_str()) {
                    let near = tare_diag::nearest(text, known.iter().copied());
                    let says = format!("`{field}` of {} is one of {}, found `{}`", one(kind), known.join(", "), short(text));
                    self.problem("word-unknown", says, place);
                    near.map(|near| format!("did you mean `{near}`?")).into_iter().for_each(|hint| self.hint(hint));
                    return None;
                }
                Some(FieldValue::Text(text.clone()))
            }
            (FieldType::Word(known), _) => wrong(self, &format!("one of {}", known.join(", "))),
            (FieldType::Count, Content::Number(number)) => self.count(field, *number, place),
            (FieldType::Count, Content::Text(text)) => match text.trim().parse::<f64>() {
                Ok(number) if text.trim().bytes().all(|b| b.is_ascii_digit() || b".eE+-".contains(&b)) => {
                    self.count(field, number, place)
                }
                _ => {
                    wrong(self, "a number such as 4 or 2.5")?;
                    None
                }
            },
            (FieldType::Count, _) => wrong(self, "a number such as 4 or 2.5"),
            (FieldType::Flag, Content::Flag(flag)) => Some(FieldValue::Flag(*flag)),
            (FieldType::Flag, Content::Text(text)) => match text.trim().to_lowercase().as_str() {
                "yes" | "true" => Some(FieldValue::Flag(true)),
                "no" | "false" => Some(FieldValue::Flag(false)),
                _ => wrong(self, "`yes` or `no`"),
            },
            (FieldType::Flag, _) => wrong(self, "`yes` or `no`"),
            (FieldType::Ref(kinds), Content::Text(word)) => self.resolve(field.word(), word, kinds, place).map(FieldValue::Ref),
            (FieldType::Ref(_), _) => wrong(self, "the name of one record"),
            (FieldType::Refs(kinds), Content::Text(words)) => {
                let each: Vec<&str> = words.split(';').map(str::trim).filter(|word| !word.is_empty()).collect();
                Some(FieldValue::Refs(
                    each.into_iter().filter_map(|word| self.resolve(field.word(), word, kinds, place.clone())).collect(),
                ))
            }
            (FieldType::Refs(kinds), Content::List(words)) => Some(FieldValue::Refs(
                words.iter().filter_map(|word| self.resolve(field.word(), word, kinds, place.clone())).collect(),
            )),
            (FieldType::Refs(_), _) => wrong(self, "a list of names, parted by `;`"),
        }
    }

    fn count(&mut self, field: Field, number: f64, place: Place) -> Option<FieldValue> {
        if number.is_finite() && (0.0..=1e12).contains(&number) {
            return Some(FieldValue::Number(number));
        }
        self.problem("count-range", format!("`{field}` is {number}, expected 0 to 1e12"), place);
        None
    }

    /// The record a word names: by its word, else by its identifier.
    pub(super) fn resolve(&mut self, column: &str, word: &str, kinds: &[Kind], place: Place) -> Option<Id> {
        let word = word.trim();
        let by_id = crate::id_of_text(word).filter(|id| self.kinds.contains_key(id));
        let (kinds, bare): (Vec<Kind>, &str) = match (kinds, word.split_once('.')) {
            ([_], _) => (kinds.to_vec(), word),
            (_, Some((kind, bare))) => match Kind::from_word(kind) {
                Some(kind) if kinds.contains(&kind) => (vec![kind], bare),
                _ if by_id.is_some() => (kinds.to_vec(), word),
                _ => {
                    let near = tare_diag::nearest(kind, kinds.iter().map(|kind| kind.word()));
                    let says = format!("`{column}` names the {} `{}`, expected {}", short(kind), short(bare), one_of(kinds));
                    self.problem("kind-unknown", says, place);
                    near.map(|near| format!("did you mean `{near}.{}`?", short(bare)))
                        .into_iter()
                        .for_each(|hint| self.hint(hint));
                    return None;
                }
            },
            (_, None) => (kinds.to_vec(), word),
        };
        let named = kinds.iter().find_map(|kind| self.words.get(kind)?.get(bare)).copied();
        let found = named.or(by_id).or_else(|| crate::id_of_text(bare).filter(|id| self.kinds.contains_key(id)));
        match found.map(|id| (id, self.kinds.get(&id).copied())) {
            Some((id, Some(kind))) if kinds.contains(&kind) => Some(id),
            Some((_, Some(kind))) => {
                let says = format!("`{column}` names {}, expected {}", one(kind), one_of(&kinds));
                self.problem("reference-kind", says, place);
                None
            }
            _ => {
                let all = kinds.iter().filter_map(|kind| self.words.get(kind)).flat_map(HashMap::keys).map(String::as_str);
                // the nearest of tens of thousands, for thousands of rows, would take longer than anything else here
                let near = if self.problems.len() < 100 { tare_diag::nearest(bare, all) } else { None };
                let near = near.map(|near| format!("did you mean `{near}`?"));
                let says = format!("`{column}` names the {} `{}`, which is not there", either(&kinds), short(bare));
                self.problem("reference-unknown", says, place);
                near.into_iter().for_each(|hint| self.hint(hint));
                None
            }
        }
    }
}

fn described(content: &Content) -> String {
    match content {
        Content::Text(text) => format!("`{}`", short(text)),
        Content::Number(number) => format!("the number {number}"),
        Content::Flag(flag) => format!("`{flag}`"),
        Content::List(_) => "a list".to_owned(),
        Content::Other => "another value".to_owned(),
    }
}
