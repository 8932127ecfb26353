//! What records are called: by label, by place, by name; and the record an address means.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use tare_diag::{Diag, Place};
use tare_model::{Document, Field, Id, Kind, Record};

/// The addresses of a document's records, as explanations and messages use them.
#[derive(Clone, Debug)]
pub struct Addresses<'a> {
    document: &'a Document,
    index: Arc<Index>,
}

/// Every address of a document as it stood: whoever answers many questions about one document keeps it between them.
#[derive(Clone, Debug, Default)]
pub struct Index {
    by_id: HashMap<Id, String>,
    by_text: BTreeMap<String, Vec<Id>>,
}

impl Index {
    /// Works out every address of a document.
    pub fn new(document: &Document) -> Self {
        let mut making = Making { document, index: Self::default() };
        making.all();
        making.index
    }
}

/// An index that is being made.
struct Making<'a> {
    document: &'a Document,
    index: Index,
}

impl Making<'_> {
    fn all(&mut self) {
        let document = self.document;
        self.parts();
        for record in document.records().filter(|r| !is_said(r)) {
            if !self.index.by_id.contains_key(&record.id) {
                let address = self.index.work_out(document, record);
                self.put(record.id, address);
            }
        }
        for record in document.records().filter(|r| !is_said(r)) {
            if let Some(name) = record.text(Field::Name) {
                self.call(record.id, &format!("{} {}", record.kind, name));
            }
        }
    }

    /// Parts depth-first: an unlabelled one is called by its position in the list.
    fn parts(&mut self) {
        let mut open: Vec<&Record> = self.document.of_kind(None, Kind::Part).rev().collect();
        let mut number = 0;
        while let Some(part) = open.pop() {
            let Some(item) = part.refers(Field::Item).and_then(|i| self.document.get(i)) else { continue };
            number += 1;
            let label = part.text(Field::Label).or(item.text(Field::Label)).map_or_else(|| format!("P{number}"), str::to_owned);
            if !self.index.by_id.contains_key(&item.id) {
                let own = item.text(Field::Label).unwrap_or(&label);
                self.put(item.id, format!("item {own}"));
            }
            self.put(part.id, label);
            open.extend(self.document.of_kind(Some(part.id), Kind::Part).rev());
        }
    }

    fn put(&mut self, id: Id, address: String) {
        self.call(id, &address);
        self.index.by_id.insert(id, address);
    }

    /// A text that means a record. Its address and its kind with its name may be the same: that is one record, not two.
    fn call(&mut self, id: Id, text: &str) {
        let called = self.index.by_text.entry(text.to_lowercase()).or_default();
        if !called.contains(&id) {
            called.push(id);
        }
    }
}

impl Index {
    fn work_out(&self, document: &Document, record: &Record) -> String {
        let above = record
            .parent
            .and_then(|p| document.get(p))
            .map(|p| self.by_id.get(&p.id).cloned().unwrap_or_else(|| self.work_out(document, p)));
        let under = |name: &str| above.as_ref().map_or_else(|| name.to_owned(), |a| format!("{a}/{name}"));
        let place = |kind: Kind| document.of_kind(record.parent, kind).position(|r| r.id == record.id).map_or(0, |i| i + 1);
        match record.kind {
            Kind::Study => "product".to_owned(),
            Kind::Scenario => "scenario".to_owned(),
            Kind::Operation => under(&format!("op{}", place(Kind::Operation))),
            Kind::Feature => under(&format!("feature{}", place(Kind::Feature))),
            Kind::Value | Kind::Choose => {
                let quantity = record.text(Field::Quantity).unwrap_or("?");
                let same = document.of_kind(record.parent, record.kind).filter(|r| r.text(Field::Quantity) == Some(quantity));
                let (mut number, mut many) = (0, 0);
                for (at, other) in same.enumerate() {
                    many += 1;
                    if other.id == record.id {
                        number = at + 1;
                    }
                }
                under(&if many > 1 { format!("{quantity}#{number}") } else { quantity.to_owned() })
            }
            Kind::Rate => {
                let key = record.text(Field::Key).unwrap_or("?");
                let top = record.parent.and_then(|p| document.get(p)).is_none_or(|p| matches!(p.kind, Kind::Book | Kind::Study));
                if top { format!("rate/{key}") } else { under(&format!("rate.{key}")) }
            }
            Kind::Joint => record.text(Field::Label).or(record.text(Field::Name)).unwrap_or("joint").to_owned(),
            kind => {
                let item = || record.refers(Field::Item).and_then(|i| document.get(i)).and_then(|i| i.text(Field::Name));
                let name = record
                    .text(Field::Label)
                    .or(record.text(Field::Name))
                    .or(record.text(Field::Key))
                    .or(record.text(Field::Group))
                    .or_else(item);
                name.map_or_else(|| format!("{kind} {}", record.id), |n| format!("{kind} {n}"))
            }
        }
    }
}

impl<'a> Addresses<'a> {
    /// Works out every address of a document.
    pub fn new(document: &'a Document) -> Self {
        Self { document, index: Arc::new(Index::new(document)) }
    }

    /// The addresses of a document whose index is known: nothing that bears or changes an address was changed since.
    pub fn with(document: &'a Document, index: Arc<Index>) -> Self {
        Self { document, index }
    }

    fn work_out(&self, record: &Record) -> String {
        self.index.work_out(self.document, record)
    }

    /// The address of a record.
    pub fn of(&self, id: Id) -> String {
        let known = self.index.by_id.get(&id).cloned();
        known.or_else(|| Some(self.work_out(self.document.get(id)?))).unwrap_or_else(|| format!("record {id}"))
    }

    /// The records that a text in lower case means.
    fn meant(&self, asked: &str) -> Option<Vec<Id>> {
        if let Some(ids) = self.index.by_text.get(asked) {
            return Some(ids.clone());
        }
        let (above, _) = asked.rsplit_once('/')?;
        let tops = self.document.children(None).filter(|r| matches!(r.kind, Kind::Study | Kind::Book)).map(|r| r.id);
        let subjects: Vec<Id> = match self.index.by_text.get(above) {
            Some(ids) => ids.clone(),
            None if above == "rate" => tops.collect(),
            None => return None,
        };
        let said = subjects.iter().flat_map(|subject| self.document.children(Some(*subject))).filter(|r| is_said(r));
        let ids: Vec<Id> = said.filter(|r| self.work_out(r).to_lowercase() == asked).map(|r| r.id).collect();
        (!ids.is_empty()).then_some(ids)
    }

    /// The record an address or a unique name means, or an identifier behind `@`. Letter case does not matter; a leading `study/` is accepted.
    ///
    /// # Errors
    /// One message: nothing is called so (with the nearest address), or several records are.
    pub fn find(&self, text: &str) -> Result<&'a Record, Diag> {
        let asked = text.trim().to_lowercase();
        if let Some(id) = asked.strip_prefix('@') {
            let found = u128::from_str_radix(id, 16).ok().and_then(|id| self.document.get(Id(id)));
            return found
                .ok_or_else(|| Diag::error("address-unknown", format!("there is no record `{text}`")).at(Place::address(text)));
        }
        let asked = asked.strip_prefix("study/").unwrap_or(&asked);
        let asked = if asked == "study" || asked == "book" { "product" } else { asked };
        if let Some(ids) = self.meant(asked) {
            return self.one(text, &ids);
        }
        if asked == "product"
            && let Some(book) = self.document.of_kind(None, Kind::Book).next()
        {
            return Ok(book);
        }
        // Work stands under the item: `P12/op1` may mean `item P12/op1`.
        if let Some(ids) = self.meant(&format!("item {asked}")).filter(|_| asked.contains('/')) {
            return self.one(text, &ids);
        }
        if let Some((label, rest)) = asked.split_once('/')
            && let Some(part) = self.index.by_text.get(label).and_then(|ids| ids.first()).and_then(|id| self.document.get(*id))
            && let Some(item) = part.refers(Field::Item)
            && let Some(ids) = self.meant(&format!("{}/{rest}", self.of(item).to_lowercase()))
        {
            return self.one(text, &ids);
        }
        let named: Vec<Id> = self
            .document
            .records()
            .filter(|r| !is_said(r))
            .filter(|r| r.text(Field::Name).is_some_and(|n| n.to_lowercase() == asked))
            .map(|r| r.id)
            .collect();
        if !named.is_empty() {
            return self.one(text, &named);
        }
        let known = self.index.by_id.values().map(String::as_str);
        let named = self.document.records().filter_map(|r| r.text(Field::Name));
        let diag = Diag::error("address-unknown", format!("nothing is called `{text}`"))
            .at(Place::address(text))
            .did_you_mean(text, known.chain(named));
        Err(diag.hint("`tare parts` and `tare joints` list the labels"))
    }

    fn one(&self, text: &str, ids: &[Id]) -> Result<&'a Record, Diag> {
        let found: Vec<&Record> = ids.iter().filter_map(|id| self.document.get(*id)).collect();
        match found.as_slice() {
            [one] => Ok(one),
            [] => Err(Diag::error("address-unknown", format!("nothing is called `{text}`"))),
            many => {
                let each: Vec<String> = many.iter().take(6).map(|r| format!("{} ({})", self.of(r.id), r.kind)).collect();
                let says = format!("`{text}` means {} records: {}", many.len(), each.join(", "));
                Err(Diag::error("address-many", says)
                    .at(Place::address(text))
                    .hint("give them labels of their own, or use the full address"))
            }
        }
    }
}

/// What is said of records (values, choices, rates) is most of a study: it is looked for under its subject when it is asked for.
fn is_said(record: &Record) -> bool {
    matches!(record.kind, Kind::Value | Kind::Choose | Kind::Rate)
}
