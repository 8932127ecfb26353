//! Rates and prices: an organisation's own, the study's own, then the rate book's.

use crate::builder::{Builder, LeafSpec};
use crate::lines::{Evidence, LineRef};
use tare_diag::{Diag, Place};
use tare_model::{Document, Field, Id, Kind, Record};
use tare_units::{Currency, Quantity, Unit};

/// One entry of a book, wherever the book stands.
struct Entry {
    quantity: Quantity,
    source: String,
    evidence: Evidence,
    record: Option<Id>,
    book: String,
}

impl Builder<'_> {
    /// The name of an organisation's rate book: its own, or the study's.
    fn book_of(&self, organisation: Option<Id>) -> Option<String> {
        let own = organisation.and_then(|o| self.sources.study.get(o)).and_then(|r| r.text(Field::Book));
        own.or_else(|| self.index.study.and_then(|s| s.text(Field::Book))).map(str::to_owned)
    }

    /// What tells rates of one organisation from another's in addresses: its name where it states rates of its own, else its book;
    /// nothing for the study's own book.
    pub(crate) fn place_name(&self, organisation: Option<Id>) -> String {
        let study = self.sources.study;
        let own =
            organisation.filter(|o| study.of_kind(Some(*o), Kind::Rate).next().is_some()).and_then(|o| self.organisation_name(o));
        let book = || organisation.and_then(|o| study.get(o)).and_then(|r| r.text(Field::Book)).map(str::to_owned);
        own.or_else(book).map_or_else(String::new, |place| format!(" ({place})"))
    }

    /// The line of a rate for an organisation; `None` if no book states it.
    pub(crate) fn rate(&mut self, organisation: Option<Id>, key: &str) -> Option<LineRef> {
        let asked = (organisation, key.to_owned());
        if let Some(known) = self.rates.get(&asked) {
            return *known;
        }
        let line = self.find_rate(organisation, key).map(|entry| {
            let Entry { quantity, source, evidence, record, book } = entry;
            let subject = match record.and_then(|r| self.owner_name(r)) {
                Some(owner) => format!("rate of {owner}"),
                None if book.is_empty() => "rate".to_owned(),
                None => format!("rate ({book})"),
            };
            let leaf = self.shared_leaf(&subject, key, |subject| LeafSpec {
                subject,
                name: key.to_owned(),
                quantity,
                word: None,
                evidence,
                source,
                record,
                shared: true,
            });
            self.in_study_currency(leaf)
        });
        self.rates.insert(asked, line);
        line
    }

    /// The line of a rate for an input that asks for it; a rate of one's own key has no declared unit but that of the input.
    pub(crate) fn rate_for(&mut self, organisation: Option<Id>, key: &str, name: &str, due: Option<&Unit>) -> Option<LineRef> {
        let line = self.rate(organisation, key)?;
        let (found, Some(due)) = (self.lines.unit(line).clone(), due) else { return Some(line) };
        if found.dim == due.dim {
            return Some(line);
        }
        let word = |d| tare_units::name_of(d).map_or_else(|| format!("{d}"), str::to_owned);
        let says = format!("rate `{key}`: found a {} where `{name}` is a {}", word(found.dim), word(due.dim));
        let diag = Diag::error("rate-unit", says).at(Place::address(format!("rate/{key}")));
        self.problem(diag.hint(format!("state it in {}", due.text)));
        self.refused_rates.insert(key.to_owned());
        None
    }

    /// Says that a rate is missing, unless it is there and was refused: one cause, one message.
    pub(crate) fn rate_missing(&mut self, key: &str, diag: Diag) {
        if !self.refused_rates.contains(key) {
            self.problem(diag);
        }
    }

    /// The organisation that states a rate of its own.
    fn owner_name(&self, rate: Id) -> Option<String> {
        let study = self.sources.study;
        self.organisation_name(study.get(rate)?.parent?)
    }

    fn organisation_name(&self, id: Id) -> Option<String> {
        self.sources.study.get(id).filter(|r| r.kind == Kind::Organisation).map(|owner| self.name_among_its_kind(owner))
    }

    /// The method error of a calculation as the study or its rate book states it: `method.` and the calculation's key. It keeps the address of
    /// the calculation's own, so that it stays the same variable.
    pub(crate) fn own_method(&mut self, calculation: &str, name: &str) -> Option<LineRef> {
        let entry = self.find_rate(None, &format!("method.{calculation}"))?;
        let Entry { quantity, source, evidence, record, .. } = entry;
        if quantity.value <= 0.0 {
            let says = format!("the method error of {calculation} is a factor above zero, found `{}`", quantity.text);
            let diag = Diag::error("method-factor", says).at(Place::address(format!("rate/method.{calculation}")));
            self.problem(diag.hint("`100 +- 8 %` leaves the calculation's results as they are"));
            return None;
        }
        if !(0.2..=5.0).contains(&quantity.value) {
            let says = format!(
                "the method error of {calculation} multiplies its results by {}",
                tare_units::show_number(quantity.value, 3)
            );
            let diag = Diag::warning("method-factor", says).at(Place::address(format!("rate/method.{calculation}")));
            self.problem(diag.hint("it is stated in per cent: a ratio of 1.03 is `103 +- 8 %`"));
        }
        let (name, word, shared) = (name.to_owned(), None, true);
        Some(self.shared_leaf(calculation, &name.clone(), |subject| LeafSpec {
            subject,
            name,
            quantity,
            word,
            evidence,
            source,
            record,
            shared,
        }))
    }

    fn find_rate(&mut self, organisation: Option<Id>, key: &str) -> Option<Entry> {
        let study = self.sources.study;
        let owners = [organisation, self.index.study.map(|s| s.id)];
        for owner in owners.into_iter().flatten() {
            let own = study.of_kind(Some(owner), Kind::Rate).find(|r| r.text(Field::Key) == Some(key));
            if let Some(entry) = own.and_then(|r| self.entry(r, String::new())) {
                return Some(entry);
            }
        }
        let book = self.book_of(organisation)?;
        let document =
            self.sources.books.iter().copied().find(|d| book_record(d).is_some_and(|b| b.text(Field::Name) == Some(&book)));
        if let Some(document) = document {
            let record = book_record(document)
                .and_then(|b| document.of_kind(Some(b.id), Kind::Rate).find(|r| r.text(Field::Key) == Some(key)))?;
            return self.entry(record, book);
        }
        let library = self.sources.library;
        let Some(shipped) = library.book(&book) else {
            let diag = Diag::error("book-unknown", format!("there is no rate book `{book}`")).at(Place::address("product/book"));
            self.problem(diag.did_you_mean(&book, library.books().map(|b| b.key.as_str())));
            return None;
        };
        let entry = shipped.rates.get(key)?;
        let evidence = if shipped.illustrative { Evidence::Assumed } else { Evidence::Handbook };
        let said = entry.says.as_ref().map_or_else(String::new, |s| format!("{s}; "));
        let source = format!("{said}{}; {}, {}", entry.source, shipped.name, shipped.date);
        Some(Entry { quantity: entry.value.clone(), source, evidence, record: None, book })
    }

    fn entry(&mut self, record: &Record, book: String) -> Option<Entry> {
        let (key, text) = (record.text(Field::Key).unwrap_or("?"), record.text(Field::Text)?);
        match self.sources.library.read_rate(key, text) {
            Ok(quantity) => {
                let evidence = record.text(Field::Evidence).and_then(Evidence::from_word).unwrap_or(Evidence::Assumed);
                let date = record.text(Field::Date).map_or_else(String::new, |d| format!(", {d}"));
                Some(Entry {
                    quantity,
                    source: format!("{}{date}", crate::value::source_of(record)),
                    evidence,
                    record: Some(record.id),
                    book,
                })
            }
            Err(error) => {
                let owner = record.parent.and_then(|p| self.organisation_name(p));
                let place = owner.map_or_else(|| format!("rate/{key}"), |name| format!("organisation {name}/rate.{key}"));
                let whose = if book.is_empty() { String::new() } else { format!(" of the rate book `{book}`") };
                self.problem(Diag::error("rate-unit", format!("rate `{key}`{whose}: {error}")).at(Place::address(place)));
                self.refused_rates.insert(key.to_owned());
                None
            }
        }
    }

    /// Whether an amount is in a currency that no rate turns into the study's. What it would cost is then not known, and is said so.
    pub(crate) fn in_unknown_money(&mut self, line: LineRef) -> bool {
        let Some(currency) = self.lines.unit(line).currency.filter(|c| Some(*c) != self.currency) else { return false };
        let unknown = self.exchange_rate(currency).is_none();
        if unknown {
            self.exchange(currency);
        }
        unknown
    }

    /// The rate that turns a currency into the study's, with its source.
    pub(crate) fn exchange_rate(&mut self, currency: Currency) -> Option<(Quantity, String)> {
        let key = format!("exchange.{currency}");
        let entry = self.find_rate(None, &key)?;
        // The book states money of its own currency for one unit of the other; only the number matters here.
        let own = entry.quantity.unit.currency.is_none_or(|c| Some(c) == self.currency);
        let mut quantity = entry.quantity;
        quantity.unit = crate::builder::plain(1.0).unit;
        own.then_some((quantity, entry.source))
    }
}

fn book_record(document: &Document) -> Option<&Record> {
    document.of_kind(None, Kind::Book).next()
}
