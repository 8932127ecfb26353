//! Masking a document: names first, then prices, then every field.

use super::marks::{self, Secrets};
use super::price;
use super::rules::{Treatment, is_free, rule};
use super::{Masked, MaskedRow, Masker, Told};
use crate::held::Texts;
use crate::idea::sealed as sealed_text;
use crate::text_form::id_of;
use std::collections::{HashMap, HashSet};
use tare_library::Library;
use tare_model::{Document, Edit, Field, FieldValue, Id, Kind, Record, SetField};
use tare_units::Quantity;

/// Endings of picture files.
const PICTURES: [&str; 8] = [".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff"];

/// Forms of address before a name.
const TITLES: [&str; 9] = ["Mr", "Mrs", "Ms", "Miss", "Dr", "Prof", "Herr", "Frau", "Monsieur"];

/// Which records hold a licensed price, and their numbers.
#[derive(Default)]
struct Licensed {
    records: HashSet<Id>,
    quotes: HashSet<Id>,
    secrets: Secrets,
}

impl Masker {
    /// A document and the texts it is computed with, masked. For the people of the workspace they stay as they are.
    pub fn mask(&mut self, document: &Document, texts: &Texts) -> Masked {
        if !self.readers.are_others() {
            return Masked { document: document.clone(), texts: texts.clone(), told: Told::default() };
        }
        (self.counts, self.prices, self.look) = Default::default();
        self.learn(document, &texts.library);
        for known in std::iter::once(document).chain(&texts.books) {
            self.gather(known);
        }
        let mut licensed = Licensed::default();
        for known in std::iter::once(document).chain(&texts.books) {
            licensed.take(known);
        }
        for book in texts.library.books() {
            let all = book.rates.iter().filter(|(key, rate)| rate.restricted || (book.restricted && is_price(key, &rate.value)));
            all.for_each(|(_, rate)| licensed.secrets.take(&rate.value.text));
        }
        for known in std::iter::once(document).chain(&texts.books) {
            licensed.take_repeated(known);
        }
        let books: Vec<Document> = texts.books.iter().map(|book| self.document(book, &licensed, &texts.library)).collect();
        let library = self.library(&texts.library, &licensed.secrets);
        let masked = Texts { library, books };
        let made = self.document(document, &licensed, &texts.library);
        let mut records: Vec<Record> = made.records().cloned().collect();
        self.hold_masked(&mut records, texts, &masked);
        if self.prices > 0 {
            records.push(self.boundary(&made));
        }
        let document = Document::from_records(made.id, made.kind, records);
        self.look_at(&document);
        let masked_rows = self.counts.iter().map(|(what, count)| MaskedRow { what: (*what).to_owned(), count: *count }).collect();
        let told = Told {
            class: self.readers.class,
            masked: masked_rows,
            prices: self.prices,
            withheld: self.readers.withhold,
            look: self.look.clone(),
        };
        Masked { document, texts: masked, told }
    }

    /// Takes up the everyday words: those of the library and of the names of things. Remarks are left aside, where names are written as they come.
    fn learn(&mut self, document: &Document, library: &Library) {
        for calculation in library.calculations() {
            [&calculation.title, &calculation.says].into_iter().for_each(|text| self.names.learn(text));
        }
        library.materials().for_each(|material| self.names.learn(&material.name));
        let things = [Kind::Item, Kind::Joint, Kind::Operation, Kind::Feature, Kind::Tool, Kind::Removal];
        for record in document.records().filter(|record| things.contains(&record.kind)) {
            record.text(Field::Name).into_iter().for_each(|text| self.names.learn(text));
        }
    }

    /// Takes up every name that gets a pseudonym, in the order of the document, so that numbers do not hang on identifiers.
    fn gather(&mut self, document: &Document) {
        let class = self.readers.class;
        let kept: HashSet<&str> = document
            .records()
            .flat_map(|record| [Field::Client, Field::Product, Field::Name].map(|field| (record, field)))
            .filter(|(record, field)| rule(record.kind, *field).is_some_and(|rule| rule.treatment(class) == Treatment::Keep))
            .filter_map(|(record, field)| record.text(field))
            .collect();
        for record in in_order(document) {
            for (field, value) in record.fields.iter() {
                let (Some(rule), FieldValue::Text(text)) = (rule(record.kind, field), value) else { continue };
                match rule.treatment(class) {
                    Treatment::Named(group) if !kept.contains(text.as_str()) && !is_word(record.kind, field) => {
                        self.names.named(group, text);
                    }
                    _ => {}
                }
            }
        }
    }

    fn document(&mut self, document: &Document, licensed: &Licensed, library: &Library) -> Document {
        let mut gone: HashSet<Id> = HashSet::new();
        let mut made: Vec<Record> = Vec::new();
        for record in in_order(document) {
            if record.parent.is_some_and(|parent| gone.contains(&parent)) {
                gone.insert(record.id);
                continue;
            }
            match self.record(record, licensed, library) {
                Some(record) => made.push(record),
                None => {
                    gone.insert(record.id);
                }
            }
        }
        for record in &mut made {
            drop_references(record, &gone);
        }
        let by_id: HashMap<Id, Record> = made.iter().map(|record| (record.id, record.clone())).collect();
        for record in made.iter_mut().filter(|record| record.kind == Kind::Idea) {
            if let Some(text) = record.text(Field::Edits) {
                let edits = sealed_text::from_text(text).unwrap_or_default();
                let text = self.edits(edits, document, &by_id, licensed, library);
                record.fields.set(Field::Edits, Some(FieldValue::Text(text)));
            }
        }
        Document::from_records(document.id, document.kind, made)
    }

    /// A record as others may see it; `None` for a price that is withheld.
    fn record(&mut self, record: &Record, licensed: &Licensed, library: &Library) -> Option<Record> {
        let mut made = record.clone();
        if licensed.holds(record) {
            self.prices += 1;
            let band = record.text(Field::Text).and_then(price::band).filter(|_| !self.readers.withhold)?;
            for field in [Field::Raw, Field::File, Field::Cell, Field::Says, Field::Who, Field::When] {
                made.fields.set(field, None);
            }
            for (field, text) in [(Field::Text, band), (Field::Evidence, "assumed".into()), (Field::Source, price::SOURCE.into())]
            {
                made.fields.set(field, Some(FieldValue::Text(text)));
            }
        }
        for (field, value) in record.fields.iter() {
            if let (FieldValue::Text(text), Some(FieldValue::Text(now))) = (value, made.fields.get(field))
                && now == text
            {
                let to = self.text(record.kind, field, text, &licensed.secrets, library);
                made.fields.set(field, to.map(FieldValue::Text));
            }
        }
        Some(made)
    }

    /// What a text field of a record becomes; `None` where it is left out.
    fn text(&mut self, kind: Kind, field: Field, text: &str, secrets: &Secrets, library: &Library) -> Option<String> {
        if is_word(kind, field) || field == Field::Edits {
            return Some(text.to_owned());
        }
        let rule = rule(kind, field);
        match rule.map_or(Treatment::Keep, |rule| rule.treatment(self.readers.class)) {
            Treatment::Strip => {
                self.count(rule.map_or("", |rule| rule.what), 1);
                if field == Field::Name { Some(String::new()) } else { None }
            }
            Treatment::Named(group) => match self.names.known(text).map(str::to_owned) {
                Some(known) => {
                    self.count(rule.map_or(group, |rule| rule.what), 1);
                    Some(known)
                }
                // a name that stays elsewhere, such as the client's own
                None => Some(self.free(text, secrets)),
            },
            Treatment::NamedIfFile(group) if PICTURES.iter().any(|end| text.to_lowercase().ends_with(end)) => {
                self.count(rule.map_or(group, |rule| rule.what), 1);
                Some(self.names.named(group, text))
            }
            _ if field == Field::Book && library.book(text).is_some() => Some(text.to_owned()),
            _ if rule.is_some() || is_free(kind, field) => Some(self.free(text, secrets)),
            _ => Some(text.to_owned()),
        }
    }

    /// Free text with names and private marks replaced.
    pub(super) fn free(&mut self, text: &str, secrets: &Secrets) -> String {
        let mut out = std::borrow::Cow::Borrowed(text);
        // marks first: an address may hold a name, which would hide the rest of it
        if let Some((text, found)) = marks::replaced(&out, secrets) {
            self.count("e-mail addresses in texts", found.emails);
            self.count("telephone numbers in texts", found.phones);
            self.count("paths in texts", found.paths);
            self.count("order numbers in texts", found.orders);
            self.count("amounts of money in texts", found.amounts);
            out = text.into();
        }
        if let Some((text, count)) = self.names.replaced(&out) {
            self.count("names in texts", count);
            out = text.into();
        }
        out.into_owned()
    }

    /// Edits of an idea, masked as the records they are about; what they were written for is what the masked document holds.
    fn edits(
        &mut self,
        edits: Vec<Edit>,
        document: &Document,
        masked: &HashMap<Id, Record>,
        licensed: &Licensed,
        library: &Library,
    ) -> String {
        let mut added: HashMap<Id, Record> = HashMap::new();
        let (prices, counts) = (self.prices, self.counts.clone());
        let mut made = Vec::new();
        for edit in edits {
            match edit {
                Edit::Set(set) => made.extend(self.set(set, document, masked, &added, licensed, library).map(Edit::Set)),
                Edit::Add { records, references } => {
                    let records: Vec<Record> = records
                        .iter()
                        .filter_map(|record| {
                            added.insert(record.id, record.clone());
                            self.record(record, licensed, library)
                        })
                        .collect();
                    let references = references
                        .into_iter()
                        .filter_map(|set| self.set(set, document, masked, &added, licensed, library))
                        .collect();
                    made.extend((!records.is_empty()).then_some(Edit::Add { records, references }));
                }
                Edit::Remove { records, references } => {
                    let as_now = |this: &mut Self, record: &Record| match (document.get(record.id), masked.get(&record.id)) {
                        (Some(now), Some(masked)) if now == record => Some(masked.clone()),
                        (Some(_), None) => None,
                        _ => this.record(record, licensed, library),
                    };
                    let records: Vec<Record> = records.iter().filter_map(|record| as_now(self, record)).collect();
                    let references = references
                        .into_iter()
                        .filter_map(|set| self.set(set, document, masked, &added, licensed, library))
                        .collect();
                    made.extend((!records.is_empty()).then_some(Edit::Remove { records, references }));
                }
                moved @ Edit::Move { .. } => made.push(moved),
            }
        }
        // what an idea repeats of records is not counted again
        (self.prices, self.counts) = (prices, counts);
        sealed_text::to_text(&made)
    }

    fn set(
        &mut self,
        set: SetField,
        document: &Document,
        masked: &HashMap<Id, Record>,
        added: &HashMap<Id, Record>,
        licensed: &Licensed,
        library: &Library,
    ) -> Option<SetField> {
        let Some(record) = document.get(set.id).or_else(|| added.get(&set.id)) else {
            // about what is not there: nothing is known of it, so nothing of it is given
            return None;
        };
        // of a price that is withheld nothing is said
        if document.get(set.id).is_some() && !masked.contains_key(&set.id) {
            return None;
        }
        let as_now = record.fields.get(set.field) == set.from.as_ref();
        let from = match masked.get(&set.id) {
            Some(now) if as_now => now.fields.get(set.field).cloned(),
            _ => self.value(record, set.field, set.from, licensed, library),
        };
        let was = set.to.is_some();
        let to = self.value(record, set.field, set.to, licensed, library);
        (to.is_some() || !was).then_some(SetField { from, to, id: set.id, field: set.field })
    }

    /// What a field of a record would hold, as others may see it.
    fn value(
        &mut self,
        record: &Record,
        field: Field,
        value: Option<FieldValue>,
        licensed: &Licensed,
        library: &Library,
    ) -> Option<FieldValue> {
        let text = match value {
            Some(FieldValue::Text(text)) => text,
            other => return other,
        };
        let secret = licensed.holds(record) || licensed.repeats(&text);
        let to = match field {
            Field::Text if secret && matches!(record.kind, Kind::Value | Kind::Rate) => Some(price::band(&text)?),
            _ => self.text(record.kind, field, &text, &licensed.secrets, library),
        };
        to.map(FieldValue::Text)
    }

    /// The row of the boundary register that says, beside every total, that licensed prices are not in it as they are.
    fn boundary(&self, document: &Document) -> Record {
        let (state, says) = if self.readers.withhold {
            ("out", format!("{} prices under licence are left out; what depends on them is not costed", self.prices))
        } else {
            (
                "unknown",
                format!(
                    "{} prices under licence are given as bands; totals rest on the middle of each and differ from the study's own",
                    self.prices
                ),
            )
        };
        let id = id_of(&document.id.to_string(), "boundary.licensed-prices");
        Record::new(id, Kind::Boundary)
            .ordered(document.last_order(None))
            .with_text(
                Field::Name,
                if self.readers.withhold {
                    "licensed prices"
                } else {
                    "licensed prices (bands: totals differ from the study's own)"
                },
            )
            .with_text(Field::State, state)
            .with_text(Field::Says, says)
    }

    /// Notes what a person should look at: nobody else can tell a name that is written nowhere as one.
    fn look_at(&mut self, document: &Document) {
        let addresses = crate::address::Addresses::new(document);
        let (mut free, mut found) = (0, Vec::new());
        for record in in_order(document) {
            for (field, value) in record.fields.iter() {
                let FieldValue::Text(text) = value else { continue };
                let place = || format!("{} {} of {}", record.kind, field, addresses.of(record.parent.unwrap_or(record.id)));
                if is_free(record.kind, field) {
                    free += usize::from(matches!(
                        field,
                        Field::Says | Field::Source | Field::Reason | Field::Condition | Field::Callouts
                    ));
                    if titled(text) {
                        found.push(format!("{} seems to name a person", place()));
                    }
                } else if !is_word(record.kind, field)
                    && !matches!(field, Field::Edits | Field::Digest | Field::Subject)
                    && rule(record.kind, field).is_none()
                    && (self.names.replaced(text).is_some()
                        || marks::replaced(text, &Secrets::default()).is_some_and(|(_, f)| f.emails + f.paths > 0))
                {
                    found.push(format!("{} `{text}` holds a name and is kept, since computing hangs on it", place()));
                }
            }
        }
        if free > 0 {
            self.look.push(format!(
                "{free} remarks, sources and call-outs stay as written but for names that are known: read them for others"
            ));
        }
        if document.of_kind(None, Kind::Photo).next().is_some() {
            self.look.push("pictures may show faces, plates and labels".to_owned());
        }
        found.sort();
        found.dedup();
        self.look.extend(found);
    }
}

impl Licensed {
    /// Takes up what is marked in a document.
    fn take(&mut self, document: &Document) {
        let marked = |record: &Record| record.text(Field::Licence) == Some("restricted");
        let whole_book = document.of_kind(None, Kind::Book).any(marked);
        self.quotes.extend(document.records().filter(|r| r.kind == Kind::Quote && marked(r)).map(|r| r.id));
        for record in document.records() {
            let Some(text) = record.text(Field::Text) else { continue };
            let of_book = whole_book
                && record.kind == Kind::Rate
                && Quantity::parse(text).is_ok_and(|value| is_price(record.text(Field::Key).unwrap_or_default(), &value));
            if matches!(record.kind, Kind::Value | Kind::Rate) && (self.is_marked(record) || of_book) {
                self.records.insert(record.id);
                self.secrets.take(text);
            }
        }
    }

    /// Takes up where an amount of money repeats a licensed one, marked or not.
    fn take_repeated(&mut self, document: &Document) {
        let said = |record: &&Record| matches!(record.kind, Kind::Value | Kind::Rate);
        let repeats = document.records().filter(said).filter(|r| r.text(Field::Text).is_some_and(|text| self.repeats(text)));
        let found: Vec<Id> = repeats.map(|record| record.id).collect();
        self.records.extend(found);
    }

    fn repeats(&self, text: &str) -> bool {
        self.secrets.are_in(text) && Quantity::parse(text).is_ok_and(|value| value.unit.currency.is_some())
    }

    fn is_marked(&self, record: &Record) -> bool {
        record.text(Field::Licence) == Some("restricted") || record.parent.is_some_and(|parent| self.quotes.contains(&parent))
    }

    fn holds(&self, record: &Record) -> bool {
        matches!(record.kind, Kind::Value | Kind::Rate) && (self.records.contains(&record.id) || self.is_marked(record))
    }
}

/// Whether an entry of a book under licence is a price: an amount of money or a mark-up. Exchange rates, method errors, hours and shares are not what
/// a book is licensed for.
pub(super) fn is_price(key: &str, value: &Quantity) -> bool {
    !key.starts_with("exchange.") && (value.unit.currency.is_some() || key.starts_with("markup."))
}

fn is_word(kind: Kind, field: Field) -> bool {
    matches!(kind.schema().field(field), Some(tare_model::FieldType::Word(_)))
}

fn drop_references(record: &mut Record, gone: &HashSet<Id>) {
    if gone.is_empty() {
        return;
    }
    let changed: Vec<(Field, Option<FieldValue>)> = record
        .fields
        .iter()
        .filter_map(|(field, value)| match value {
            FieldValue::Ref(id) if gone.contains(id) => Some((field, None)),
            FieldValue::Refs(ids) if ids.iter().any(|id| gone.contains(id)) => {
                Some((field, Some(FieldValue::Refs(ids.iter().copied().filter(|id| !gone.contains(id)).collect()))))
            }
            _ => None,
        })
        .collect();
    for (field, value) in changed {
        record.fields.set(field, value);
    }
}

/// Whether a form of address stands before a word with a capital.
fn titled(text: &str) -> bool {
    let words: Vec<&str> = text.split_whitespace().collect();
    words.windows(2).any(|pair| TITLES.contains(&pair[0].trim_end_matches('.')) && pair[1].starts_with(char::is_uppercase))
}

/// Records in the order of the tree.
fn in_order(document: &Document) -> impl Iterator<Item = &Record> {
    let mut open: Vec<&Record> = document.children(None).rev().collect();
    std::iter::from_fn(move || {
        let record = open.pop()?;
        open.extend(document.children(Some(record.id)).rev());
        Some(record)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A field with a rule of its own is a text that this can change.
    #[test]
    fn the_table_speaks_of_texts() {
        for rule in super::super::rules::RULES {
            for (kind, field) in rule.fields {
                let kinds = Kind::ALL.iter().filter(|k| kind.is_none_or(|only| only == **k));
                let types: Vec<_> = kinds.filter_map(|k| k.schema().field(*field)).collect();
                assert!(types.contains(&tare_model::FieldType::Text), "{}", rule.what);
            }
        }
    }
}
