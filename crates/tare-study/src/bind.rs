//! Binding: which line feeds each input of a calculation of the library.
//!
//! The operation's own value comes first, then the input's `from` list in order, then the default.

use crate::builder::{Bound, Builder, Given, LeafSpec};
use crate::index::PartNode;
use crate::lines::{Evidence, LineRef, SubjectId};
use crate::pick::{Asked, Picked, Set};
use tare_calc::{Declared, FlatInput};
use tare_diag::{Diag, Place};
use tare_model::{Document, Field, Id, Kind, Record};
use tare_units::Quantity;

/// What the roots of a `from` path mean for one use.
#[derive(Clone, Debug, Default)]
pub(crate) struct Context {
    pub(crate) operation: Option<Id>,
    pub(crate) item: Option<Id>,
    pub(crate) part: Option<usize>,
    pub(crate) joint: Option<Id>,
    pub(crate) feature: Option<Id>,
    pub(crate) tool: Option<Id>,
    /// The bought item whose own values state what its purchase needs.
    pub(crate) purchase: Option<Id>,
    pub(crate) organisation: Option<Id>,
    /// Lines that the study computes for this use, by path.
    pub(crate) extra: Vec<(String, LineRef)>,
    /// Lines given to inputs by name, before anything else is asked.
    pub(crate) given: Vec<(String, LineRef)>,
}

impl<'a> Builder<'a> {
    /// The context a subject gives when one of its values is estimated.
    pub(crate) fn context_of(&self, subject: Id) -> Context {
        let mut context = Context::default();
        match self.sources.study.get(subject).map(|r| r.kind) {
            Some(Kind::Item) => {
                context.item = Some(subject);
                context.part = self.index.parts_of_item.get(&subject).and_then(|p| p.first().copied());
            }
            Some(Kind::Part) => {
                context.part = self.index.part_of.get(&subject).copied();
                context.item = context.part.map(|p| self.index.parts[p].item.id);
            }
            Some(Kind::Joint) => context.joint = Some(subject),
            Some(Kind::Feature) => context.feature = Some(subject),
            Some(Kind::Operation) => context.operation = Some(subject),
            Some(Kind::Tool) => context.tool = Some(subject),
            Some(Kind::Organisation) => context.organisation = Some(subject),
            _ => {}
        }
        context
    }

    /// As [`Builder::bind`], with some inputs given by name.
    pub(crate) fn bind_given(
        &mut self,
        subject: SubjectId,
        name: &str,
        key: &str,
        context: &Context,
        given: &[(String, LineRef)],
    ) -> Option<u32> {
        let mut context = context.clone();
        context.given = given.to_vec();
        self.bind(subject, name, key, &context)
    }

    /// Copies a calculation of the library for a use. Inputs that nothing feeds are reported together and nothing is copied.
    pub(crate) fn bind(&mut self, subject: SubjectId, name: &str, key: &str, context: &Context) -> Option<u32> {
        let Some(inputs) = self.inputs(key) else {
            let library = self.sources.library;
            let address = format!("{}/{name}", self.lines.subjects[subject.0 as usize].address);
            let known: Vec<&str> = library.calculations().map(|c| c.key.as_str()).collect();
            let diag =
                Diag::error("calculation-unknown", format!("the library has no calculation `{key}`")).at(Place::address(address));
            self.problem(diag.did_you_mean(key, known));
            return None;
        };
        let mut bound: Bound = Vec::with_capacity(inputs.len());
        let mut missing = false;
        for input in inputs.iter() {
            let before = self.problems.len();
            let line = self.feed(subject, name, input, context);
            if line.is_none() && input.input.default.is_none() && !input.input.optional {
                missing = true;
                // What was found wrong with the value is reason enough: one cause, one message.
                if !self.problems[before..].iter().any(Diag::is_error) {
                    self.report_missing(subject, name, input, key);
                }
            }
            bound.push(line);
        }
        if missing { None } else { self.copy_once(subject, name, key, bound) }
    }

    fn report_missing(&mut self, subject: SubjectId, name: &str, input: &FlatInput<'_>, key: &str) {
        // A rate that was refused has its message already.
        let refused = |f: &str| f.strip_prefix("rate.").is_some_and(|key| self.refused_rates.contains(key));
        if input.input.from.iter().any(|f| refused(&f.value)) {
            return;
        }
        let subject = &self.lines.subjects[subject.0 as usize];
        let unit = input.input.unit.value.clone();
        let tried = if input.input.from.is_empty() {
            String::new()
        } else {
            format!(" (looked for {})", input.input.from.iter().map(|f| f.value.as_str()).collect::<Vec<_>>().join(", "))
        };
        let diag = Diag::error("input-missing", format!("`{key}` needs `{}` in {unit} and nothing states it{tried}", input.name))
            .at(Place::address(format!("{}/{name}/{}", subject.address, input.name)))
            .hint(format!("add a value: quantity `{}` on the operation, or the first quantity named above", input.name));
        self.problem(diag);
    }

    fn feed(&mut self, subject: SubjectId, name: &str, input: &FlatInput<'_>, context: &Context) -> Option<Vec<LineRef>> {
        if let Some((_, line)) = context.given.iter().find(|(n, _)| *n == input.name) {
            return Some(vec![*line]);
        }
        let own = [context.operation, context.feature, context.joint, context.purchase].into_iter().flatten();
        for record in own {
            let own_subject = self.named(subject, name);
            if let Some(lines) = self.stated_for(own_subject, record, &input.input.name.value, input) {
                return Some(lines);
            }
        }
        for path in &input.input.from {
            if let Some(lines) = self.resolve(&path.value, input, context) {
                return Some(lines);
            }
        }
        None
    }

    /// The subject of an operation's own values: `P12/op2`.
    fn named(&mut self, subject: SubjectId, name: &str) -> SubjectId {
        let (address, title) = {
            let s = &self.lines.subjects[subject.0 as usize];
            (format!("{}/{name}", s.address), s.title.clone())
        };
        self.subject(&address, &title, None)
    }

    fn resolve(&mut self, path: &str, input: &FlatInput<'_>, context: &Context) -> Option<Vec<LineRef>> {
        if let Some((_, line)) = context.extra.iter().find(|(p, _)| p == path) {
            return Some(vec![*line]);
        }
        let (root, quantity) = path.split_once('.')?;
        match root {
            "operation" => self.stated_on(context.operation?, quantity, input),
            "feature" => self.stated_on(context.feature?, quantity, input),
            "joint" => {
                let joint = context.joint?;
                self.stated_on(joint, quantity, input).or_else(|| self.stated_by_fastener(joint, quantity, input))
            }
            "tool" => self.stated_on(context.tool?, quantity, input),
            "organisation" => self.stated_on(context.organisation?, quantity, input),
            "part" => {
                let node: PartNode<'_> = self.index.parts.get(context.part?)?.clone();
                if quantity == "count" {
                    let subject = self.subject(&node.label, node.item.text(Field::Name).unwrap_or(""), Some(node.record.id));
                    return Some(vec![self.count(subject, "count", node.count, "counted")]);
                }
                self.stated_on(node.record.id, quantity, input).or_else(|| self.stated_on(node.item.id, quantity, input))
            }
            "item" if quantity == "mass" => self.item_mass(context.item?).map(|l| vec![l]),
            "item" => self.stated_on(context.item?, quantity, input),
            "material" => self.material(context, quantity, input).map(|l| vec![l]),
            // What concerns the whole route of an item is stated on the item.
            "route" => self.stated_on(context.item?, quantity, input),
            "rate" => {
                let due = if let Declared::Number(unit) = &input.input.declared { Some(unit) } else { None };
                self.rate_for(context.organisation, quantity, &input.input.name.value, due).map(|l| vec![l])
            }
            "scenario" => self.scenario(context.organisation, quantity, input),
            "readings" => {
                let record = context.operation.or(context.joint).or(context.item)?;
                let subject = self.record_subject(record);
                self.list(subject, record, quantity, input)
            }
            _ => None,
        }
    }

    pub(crate) fn stated_on(&mut self, record: Id, quantity: &str, input: &FlatInput<'_>) -> Option<Vec<LineRef>> {
        if !self.index.values.contains_key(&record) {
            return None;
        }
        let subject = self.record_subject(record);
        self.stated_for(subject, record, quantity, input)
    }

    /// A stated value in the form an input wants: a number, a word of a choice, or a list.
    fn stated_for(&mut self, subject: SubjectId, record: Id, quantity: &str, input: &FlatInput<'_>) -> Option<Vec<LineRef>> {
        self.index.of(record, quantity).next()?;
        let choices = words_of(input);
        if !choices.is_empty() {
            let set = self.picked_set(subject, record, quantity, "words")?;
            let value = *set.first()?;
            let word = value.text(Field::Text)?.to_owned();
            return self.word_leaf(subject, quantity, &word, &choices, Some(value), "").map(|l| vec![l]);
        }
        if input.input.list.is_some() {
            return self.list(subject, record, quantity, input);
        }
        let line = self.chosen(subject, record, quantity)?;
        self.dimension_fits(subject, quantity, line, input).then_some(vec![line])
    }

    /// The one value or set that stands for what has no mean: words, whole lists.
    fn picked_set(&mut self, subject: SubjectId, record: Id, quantity: &str, what: &str) -> Option<Set<'a>> {
        match self.pick(subject, record, quantity, &Asked::Made) {
            Picked::Nothing => None,
            Picked::One(set) => Some(set),
            Picked::Mean { .. } => {
                let address = format!("{}/{quantity}", self.lines.subjects[subject.0 as usize].address);
                let diag = Diag::error("choice-mean", format!("{what} have no mean, and a mean of the {quantity} was chosen"));
                self.problem(diag.at(Place::address(address)).hint("choose one of them"));
                None
            }
        }
    }

    /// The entries of a list: those of every value stated for it, or of the chosen one.
    fn list(&mut self, subject: SubjectId, record: Id, quantity: &str, input: &FlatInput<'_>) -> Option<Vec<LineRef>> {
        let chosen = self.index.chosen.get(&record).is_some_and(|c| c.iter().any(|c| c.text(Field::Quantity) == Some(quantity)));
        let values: Set<'a> =
            if chosen { self.picked_set(subject, record, quantity, "lists")? } else { self.index.of(record, quantity).collect() };
        let mut lines = Vec::new();
        for value in values {
            lines.extend(self.list_value(subject, quantity, value)?);
        }
        let fits = lines.iter().all(|line| self.dimension_fits(subject, quantity, *line, input));
        (fits && !lines.is_empty()).then_some(lines)
    }

    /// A value that lists several numbers, `1 s; 2 s; 3 s`, one leaf each.
    fn list_value(&mut self, subject: SubjectId, quantity: &str, value: &Record) -> Option<Vec<LineRef>> {
        let text = value.text(Field::Text)?.to_owned();
        let evidence = value.text(Field::Evidence).and_then(Evidence::from_word).unwrap_or(Evidence::Assumed);
        let mut lines = Vec::new();
        for (number, entry) in text.split(';').enumerate() {
            let parsed = Quantity::parse(entry.trim());
            match parsed {
                Ok(parsed) => {
                    let name = if text.contains(';') { format!("{quantity} {}", number + 1) } else { quantity.to_owned() };
                    let spec = LeafSpec {
                        subject,
                        name,
                        quantity: parsed,
                        word: None,
                        evidence,
                        source: crate::value::source_of(value),
                        record: Some(value.id),
                        shared: false,
                    };
                    let line = self.leaf(spec);
                    lines.push(self.in_study_currency(line));
                }
                Err(error) => {
                    let place = self.place_of(value, quantity);
                    self.problem(Diag::error("value-text", format!("{quantity}: {error}")).at(place));
                    return None;
                }
            }
        }
        Some(lines)
    }

    fn dimension_fits(&mut self, subject: SubjectId, quantity: &str, line: LineRef, input: &FlatInput<'_>) -> bool {
        let found = self.lines.unit(line).clone();
        let Declared::Number(due) = &input.input.declared else { return true };
        if found.dim == due.dim {
            return true;
        }
        let address = format!("{}/{quantity}", self.lines.subjects[subject.0 as usize].address);
        let word = |d| tare_units::name_of(d).map_or_else(|| format!("{d}"), str::to_owned);
        let diag = Diag::error("dimension", format!("found a {} where `{}` is a {}", word(found.dim), input.name, word(due.dim)))
            .at(Place::address(address))
            .hint(format!("state it in {}", due.text));
        self.problem(diag);
        false
    }

    /// The subject a record is shown under.
    pub(crate) fn record_subject(&mut self, id: Id) -> SubjectId {
        if let Some(known) = self.record_subjects.get(&id) {
            return *known;
        }
        let made = self.new_record_subject(id);
        self.record_subjects.insert(id, made);
        made
    }

    fn new_record_subject(&mut self, id: Id) -> SubjectId {
        let study: &Document = self.sources.study;
        let Some(record) = study.get(id) else { return self.subject("?", "?", None) };
        // A part is called by its item's name.
        let named = record.refers(Field::Item).and_then(|item| study.get(item)).and_then(|item| item.text(Field::Name));
        let title = record.text(Field::Name).or(named).unwrap_or_else(|| record.kind.word()).to_owned();
        let address = match record.kind {
            Kind::Part => self.index.part_of.get(&id).map(|p| self.index.parts[*p].label.clone()),
            Kind::Item => Some(self.item_address(id)),
            Kind::Study => Some("product".to_owned()),
            Kind::Scenario => Some("scenario".to_owned()),
            Kind::Joint => record.text(Field::Label).map(str::to_owned),
            Kind::Operation | Kind::Feature => record.parent.map(|p| {
                let siblings: Vec<Id> = study.of_kind(Some(p), record.kind).map(|r| r.id).collect();
                let at = siblings.iter().position(|s| *s == id).map_or(0, |i| i + 1);
                let above = self.record_subject(p);
                let short = if record.kind == Kind::Operation { "op" } else { "feature" };
                format!("{}/{short}{at}", self.lines.subjects[above.0 as usize].address)
            }),
            _ => None,
        };
        let address = address.unwrap_or_else(|| format!("{} {title}", record.kind.word()));
        self.subject(&address, &title, Some(id))
    }

    /// Items are addressed by their label, or by the label of their first part.
    pub(crate) fn item_address(&self, item: Id) -> String {
        let label = self.sources.study.get(item).and_then(|r| r.text(Field::Label));
        let part = self.index.parts_of_item.get(&item).and_then(|p| p.first()).map(|p| self.index.parts[*p].label.as_str());
        label.or(part).map_or_else(|| format!("item {item}"), |l| format!("item {l}"))
    }

    /// A material property, or the price of the material in an organisation's rate book.
    fn material(&mut self, context: &Context, property: &str, _input: &FlatInput<'_>) -> Option<LineRef> {
        let item = self.sources.study.get(context.item?)?;
        let key = item.text(Field::Material)?.to_owned();
        if property == "price" || property == "scrap_price" {
            let (paid, scrap) = self.material_price(context.organisation, &key)?;
            return Some(if property == "price" { paid } else { scrap });
        }
        let own = self.index.of(item.id, property).next().is_some();
        if own {
            let subject = self.record_subject(item.id);
            return self.chosen(subject, item.id, property);
        }
        let material = self.known_material(&key, item)?;
        let stated = material.properties.get(property)?.clone();
        Some(self.shared_leaf(&key, property, |subject| LeafSpec {
            subject,
            name: property.to_owned(),
            quantity: stated.value,
            word: None,
            evidence: Evidence::Handbook,
            source: if stated.seen { stated.source } else { format!("{} (from memory)", stated.source) },
            record: None,
            shared: true,
        }))
    }

    fn known_material(&mut self, key: &str, item: &Record) -> Option<&tare_library::Material> {
        let library = self.sources.library;
        let found = library.material(key);
        if found.is_none() {
            let address = self.item_address(item.id);
            let diag = Diag::error("material-unknown", format!("the library has no material `{key}`"))
                .at(Place::address(format!("{address}/material")))
                .did_you_mean(key, library.materials().map(|m| m.key.as_str()));
            self.problem(diag);
        }
        found
    }

    /// Price paid and price of sold scrap of a material, per kilogram.
    pub(crate) fn material_price(&mut self, organisation: Option<Id>, key: &str) -> Option<(LineRef, LineRef)> {
        let family = self.sources.library.material(key).map(|m| m.family.clone()).unwrap_or_default();
        let price = self.rate(organisation, &format!("price.{key}"));
        let index = if price.is_some() { None } else { self.rate(organisation, &format!("index.{family}")) };
        if price.is_none() && index.is_none() {
            let diag = Diag::error("rate-missing", format!("the rate book has no price for the material `{key}`"))
                .at(Place::address(format!("rate/price.{key}")))
                .hint(format!("add `price.{key}` in money per kg, or `index.{family}` with `premium.{key}`"));
            if !self.refused_rates.contains(&format!("index.{family}")) {
                self.rate_missing(&format!("price.{key}"), diag);
            }
            return None;
        }
        let premium =
            self.rate(organisation, &format!("premium.{key}")).or_else(|| self.rate(organisation, &format!("premium.{family}")));
        let scrap = self.rate(organisation, &format!("scrap_share.{family}"));
        let given: Vec<(&str, Given<'_>)> = [("price", price), ("index", index), ("premium", premium), ("scrap_share", scrap)]
            .into_iter()
            .filter_map(|(name, line)| line.map(|l| (name, Given::One(l))))
            .collect();
        let place = self.place_name(organisation);
        let subject = self.subject(&format!("{key}{place}"), key, None);
        let asked = format!("{key}{place}");
        if let Some(known) = self.material_prices.get(&asked) {
            return Some(*known);
        }
        let block = self.place(subject, "price", "roll-ups/material-price", &given)?;
        let pair = (self.line(block, "price_paid")?, self.line(block, "scrap_price")?);
        self.material_prices.insert(asked, pair);
        Some(pair)
    }
}

/// The words an input takes: its choices, or no and yes for a condition.
fn words_of(input: &FlatInput<'_>) -> Vec<String> {
    match input.input.declared {
        Declared::Bool => vec!["no".to_owned(), "yes".to_owned()],
        _ => input.input.choices.clone(),
    }
}
