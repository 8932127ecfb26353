//! Stated values become lines: a leaf, a corrected reading, an estimate, or one chosen among several.

use crate::builder::{Builder, Given, LeafSpec, plain};
use crate::lines::{Evidence, LineRef, SubjectId};
use crate::stated;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Record};
use tare_units::{Quantity, Spread};

impl Builder<'_> {
    /// The line that stands for a quantity of a subject: the chosen value, or the best of those stated. `None` if none is.
    pub(crate) fn chosen(&mut self, subject: SubjectId, record: Id, quantity: &str) -> Option<LineRef> {
        if !self.index.values.contains_key(&record) {
            return None;
        }
        let asked = (record, quantity.to_owned());
        if let Some(known) = self.chosen.get(&asked) {
            return *known;
        }
        let made = self.choose(subject, record, quantity);
        self.chosen.insert(asked, made);
        made
    }

    fn choose(&mut self, subject: SubjectId, record: Id, quantity: &str) -> Option<LineRef> {
        let values: Vec<&Record> = self.index.of(record, quantity).collect();
        let chosen =
            self.index.chosen.get(&record).and_then(|c| c.iter().find(|c| c.text(Field::Quantity) == Some(quantity)).copied());
        match (values.as_slice(), chosen) {
            ([], _) => None,
            ([one], _) => self.stated(subject, quantity, &[one]),
            (many, Some(choice)) => match (choice.text(Field::Method), choice.refers(Field::Value)) {
                (Some("mean"), _) => {
                    let lines: Vec<LineRef> = many.iter().filter_map(|v| self.stated(subject, quantity, &[v])).collect();
                    let unit = self.lines.unit(*lines.first()?).clone();
                    let block = self.place(subject, quantity, "roll-ups/mean", &[("values", Given::Many(&lines))])?;
                    self.lines.blocks[block as usize].unit = Some(unit);
                    self.line(block, "mean")
                }
                (_, Some(id)) => {
                    let picked: Vec<&Record> = many.iter().copied().filter(|v| v.id == id).collect();
                    let set: Vec<&Record> = same_set(many, *picked.first()?);
                    self.stated(subject, quantity, &set)
                }
                _ => self.best(subject, quantity, many),
            },
            (many, None) => {
                let set = same_set(many, many[0]);
                if set.len() < many.len() {
                    self.warn_conflict(subject, quantity, many);
                }
                self.best(subject, quantity, many)
            }
        }
    }

    /// The strongest evidence; among equals the last stated.
    fn best(&mut self, subject: SubjectId, quantity: &str, values: &[&Record]) -> Option<LineRef> {
        let rank = |v: &Record| v.text(Field::Evidence).and_then(Evidence::from_word).unwrap_or(Evidence::Assumed);
        let strongest = values.iter().map(|v| rank(v)).min()?;
        let last = values.iter().copied().rfind(|v| rank(v) == strongest)?;
        self.stated(subject, quantity, &same_set(values, last))
    }

    fn warn_conflict(&mut self, subject: SubjectId, quantity: &str, values: &[&Record]) {
        let subject = self.lines.subjects[subject.0 as usize].clone();
        let said: Vec<String> = values
            .iter()
            .map(|v| {
                format!(
                    "{} ({})",
                    v.text(Field::Text).unwrap_or("?"),
                    v.text(Field::Source).or(v.text(Field::Evidence)).unwrap_or("no source")
                )
            })
            .collect();
        let diag = Diag::warning(
            "values-differ",
            format!("several values stand for the {quantity} of {}: {}", subject.title, said.join("; ")),
        )
        .at(Place::address(format!("{}/{quantity}", subject.address)))
        .hint("choose one (with a reason), or their mean; until then the strongest evidence counts, the last among equals");
        self.problem(diag);
    }

    /// One value, or several readings of one set.
    fn stated(&mut self, subject: SubjectId, quantity: &str, set: &[&Record]) -> Option<LineRef> {
        let first = *set.first()?;
        if let Some(calculation) = first.text(Field::Calculation) {
            return self.estimated(subject, quantity, first, calculation);
        }
        let instrument = first.refers(Field::Instrument);
        if let Some(instrument) = instrument.filter(|i| !self.has_errors(*i)) {
            let name = self.sources.study.get(instrument).map_or_else(String::new, |r| self.name_among_its_kind(r));
            let diag = Diag::warning("instrument-errors", format!("nothing is stated of the errors of {name}"))
                .at(Place::address(format!("instrument {name}")));
            self.problem(diag.hint(format!(
                "state them from its certificate, such as `tare edit set \"{name}/gain\" \"0 +- 0.1 %\"` (zero, gain, repeat, \
                 resolution); until then its single readings take the usual spread of a measured value"
            )));
        }
        // An instrument of which nothing is known does not make a reading exact.
        if set.len() > 1 || instrument.is_some_and(|i| self.has_errors(i)) {
            return self.reading(subject, quantity, set);
        }
        let number = first.number(Field::Number).filter(|n| *n > 0.0 && *n != 1.0);
        let line = self.value_leaf(subject, quantity, first, number.is_none())?;
        if self.in_unknown_money(line) {
            return None;
        }
        let line = self.in_study_currency(line);
        let Some(number) = number else { return Some(line) };
        let count = self.count(subject, "bunch", number, "counted");
        let unit = self.lines.unit(line).clone();
        let block =
            self.place(subject, quantity, "roll-ups/bunch", &[("bunch", Given::One(line)), ("number", Given::One(count))])?;
        self.lines.blocks[block as usize].unit = Some(unit);
        self.line(block, "piece")
    }

    fn has_errors(&self, instrument: Id) -> bool {
        ["zero", "gain", "repeat", "resolution"].iter().any(|error| self.index.of(instrument, error).next().is_some())
    }

    /// Readings of an instrument: shared zero and gain, own scatter and rounding.
    fn reading(&mut self, subject: SubjectId, quantity: &str, set: &[&Record]) -> Option<LineRef> {
        let first = set[0];
        let mut shown = Vec::new();
        let mut tare = None;
        for value in set {
            let Some(line) = self.exact_leaf(subject, quantity, value, shown.len()) else { continue };
            if value.text(Field::Method) == Some("tare") { tare = Some(line) } else { shown.push(line) }
        }
        if shown.is_empty() {
            return None;
        }
        let mut given: Vec<(&str, Given<'_>)> = vec![("shown", Given::Many(&shown))];
        let one;
        if let Some(tare) = tare {
            one = self.count(subject, "tared", 1.0, "a tare was read on the same instrument");
            given.push(("tare", Given::One(tare)));
            given.push(("tared", Given::One(one)));
        }
        if let Some(instrument) = first.refers(Field::Instrument) {
            let period = first.text(Field::Period).unwrap_or("any period").to_owned();
            for error in ["zero", "gain"] {
                if let Some(line) = self.instrument(instrument, error, Some(&period)) {
                    given.push((if error == "zero" { "zero" } else { "gain" }, Given::One(line)));
                }
            }
            if let Some(line) = self.own_error(subject, first, instrument, "repeat", &shown) {
                given.push(("repeat", Given::One(line)));
            }
            if let Some(line) = self.own_error(subject, first, instrument, "resolution", &[]) {
                given.push(("resolution", Given::One(line)));
            }
        }
        let number;
        if let Some(n) = first.number(Field::Number).filter(|n| *n > 0.0) {
            number = self.count(subject, "bunch", n, "counted");
            given.push(("number", Given::One(number)));
        }
        let unit = self.lines.unit(shown[0]).clone();
        let block = self.place(subject, quantity, "roll-ups/reading", &given)?;
        self.lines.blocks[block as usize].unit = Some(unit);
        self.line(block, "mass")
    }

    /// A record's name, with a number where an earlier one of its kind has the same: what two records state is never one variable.
    pub(crate) fn name_among_its_kind(&self, record: &Record) -> String {
        let name = record.text(Field::Name).unwrap_or(record.kind.word());
        let before = |other: &&Record| other.text(Field::Name).unwrap_or(other.kind.word()) == name;
        let position = self
            .sources
            .study
            .of_kind(record.parent, record.kind)
            .filter(before)
            .position(|other| other.id == record.id)
            .unwrap_or(0);
        if position == 0 { name.to_owned() } else { format!("{name} {}", position + 1) }
    }

    /// A shared error of an instrument: one variable for all its readings (of a period).
    fn instrument(&mut self, instrument: Id, error: &str, period: Option<&str>) -> Option<LineRef> {
        let record = self.sources.study.get(instrument)?;
        let title = self.name_among_its_kind(record);
        let value = self.index.of(instrument, error).next()?;
        let name = period.map_or_else(|| error.to_owned(), |p| format!("{error} ({p})"));
        let quantity = self.quantity(value, error)?;
        let source = source_of(value);
        Some(self.shared_leaf(&title, &name.clone(), |subject| LeafSpec {
            subject,
            name,
            quantity,
            word: None,
            evidence: Evidence::Measured,
            source,
            record: Some(value.id),
            shared: true,
        }))
    }

    /// An error of one reading: own to it, sized by the instrument (or by the scatter of four and more repeats).
    fn own_error(
        &mut self,
        subject: SubjectId,
        value: &Record,
        instrument: Id,
        error: &str,
        shown: &[LineRef],
    ) -> Option<LineRef> {
        let stated = self.index.of(instrument, error).next()?;
        let mut quantity = self.quantity(stated, error)?;
        let mut source = format!("{error} of the instrument: {}", source_of(stated));
        if error == "resolution" {
            let half = quantity.value / 2.0;
            quantity.spread = Some(Spread::Rectangular { low: -half, high: half });
            quantity.value = 0.0;
        } else {
            let seen: Vec<f64> = shown
                .iter()
                .filter_map(
                    |l| if let LineRef::Leaf(at) = l { Some(self.lines.leaves[*at as usize].quantity.value) } else { None },
                )
                .collect();
            let n = seen.len() as f64;
            if seen.len() >= 4 {
                let mean = seen.iter().sum::<f64>() / n;
                let scatter = (seen.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0)).sqrt();
                // Variance of a t distribution with n - 1 degrees of freedom (JCGM 101, 6.4.9).
                quantity.spread = Some(Spread::Normal { u: scatter / n.sqrt() * ((n - 1.0) / (n - 3.0)).sqrt() });
                source = format!("scatter of {} repeated readings", seen.len());
            } else if let Some(Spread::Normal { u }) = quantity.spread {
                quantity.spread = Some(Spread::Normal { u: u / n.max(1.0).sqrt() });
            }
        }
        quantity.text = tare_units::show(quantity.value, &quantity.unit, 3);
        let spec = LeafSpec {
            subject,
            name: error.to_owned(),
            quantity,
            word: None,
            evidence: Evidence::Measured,
            source,
            record: Some(value.id),
            shared: false,
        };
        Some(self.leaf(spec))
    }

    /// What the instrument showed: exact, its errors are leaves of their own.
    fn exact_leaf(&mut self, subject: SubjectId, quantity: &str, value: &Record, number: usize) -> Option<LineRef> {
        let mut shown = self.quantity(value, quantity)?;
        if value.refers(Field::Instrument).is_some() {
            shown.spread = None;
        }
        let name = if number == 0 { format!("{quantity} shown") } else { format!("{quantity} shown {}", number + 1) };
        let spec = LeafSpec {
            subject,
            name,
            quantity: shown,
            word: None,
            evidence: Evidence::Measured,
            source: source_of(value),
            record: Some(value.id),
            shared: false,
        };
        Some(self.leaf(spec))
    }

    /// A leaf as stated, with the default spread of its quantity and evidence where none is.
    fn value_leaf(&mut self, subject: SubjectId, quantity: &str, value: &Record, whole_name: bool) -> Option<LineRef> {
        let evidence = stated::evidence(value);
        let mut stated = self.quantity(value, quantity)?;
        let definition = stated::definition(self.sources.library, self.sources.study, value, quantity);
        let said = stated::add_default_spread(definition, evidence, quantity, &mut stated);
        let source = source_of(value) + &said.unwrap_or_default();
        let name = if whole_name { quantity.to_owned() } else { format!("{quantity} of the bunch") };
        let spec =
            LeafSpec { subject, name, quantity: stated, word: None, evidence, source, record: Some(value.id), shared: false };
        Some(self.leaf(spec))
    }

    /// The stated text as a quantity of the right dimension; a problem otherwise.
    pub(crate) fn quantity(&mut self, value: &Record, quantity: &str) -> Option<Quantity> {
        let text = value.text(Field::Text)?;
        let parsed = stated::parse(stated::definition(self.sources.library, self.sources.study, value, quantity), text);
        match parsed {
            Ok(parsed) => {
                self.plausible(value, quantity, &parsed);
                Some(parsed)
            }
            Err(error) => {
                let place = self.place_of(value, quantity);
                self.problem(Diag::error("value-text", format!("{quantity}: {error}")).at(place));
                None
            }
        }
    }

    fn plausible(&mut self, value: &Record, quantity: &str, stated: &Quantity) {
        let Some(definition) = stated::definition(self.sources.library, self.sources.study, value, quantity) else { return };
        if let Some(Quantity { spread: Some(Spread::Rectangular { low, high }), .. }) = &definition.band
            && stated::outside_band(definition, stated)
        {
            let (unit, label) = (definition.unit.clone(), definition.label.clone());
            let show = |v: f64| unit.as_ref().map_or_else(|| v.to_string(), |u| tare_units::show(v, u, 4));
            let negative_mass = quantity == "mass" && stated.value < 0.0;
            let says = format!("{label} {} lies outside the plausible band {} .. {}", stated.text, show(*low), show(*high));
            let place = self.place_of(value, quantity);
            let diag = if negative_mass {
                Diag::error("negative-mass", format!("a mass cannot be negative, found {}", stated.text))
            } else {
                Diag::warning("implausible", says)
            };
            self.problem(diag.at(place).hint("look at the unit and the decimal mark; keep the value if it is right"));
        }
    }

    /// A value given by a calculation of the library.
    fn estimated(&mut self, subject: SubjectId, quantity: &str, value: &Record, key: &str) -> Option<LineRef> {
        let Some(calculation) = self.sources.library.find(key) else {
            let known: Vec<&str> = self.sources.library.calculations().map(|c| c.key.as_str()).collect();
            let diag = Diag::error("calculation-unknown", format!("the library has no calculation `{key}`"))
                .at(self.place_of(value, quantity))
                .did_you_mean(key, known);
            self.problem(diag);
            return None;
        };
        let line = calculation.gives.iter().find(|g| g.quantity.value == quantity).map(|g| g.equation.value.clone());
        let line = line.or_else(|| calculation.equation(quantity).map(|e| e.name.value.clone()));
        let Some(line) = line else {
            self.problem(
                Diag::error("estimate", format!("`{key}` does not estimate the {quantity}")).at(self.place_of(value, quantity)),
            );
            return None;
        };
        let context = self.context_of(value.parent?);
        let block = self.bind(subject, &format!("{quantity} estimate"), key, &context)?;
        self.line(block, &line)
    }

    /// A word of a choice as a leaf that holds its position among the choices.
    pub(crate) fn word_leaf(
        &mut self,
        subject: SubjectId,
        name: &str,
        word: &str,
        choices: &[String],
        value: Option<&Record>,
        source: &str,
    ) -> Option<LineRef> {
        let Some(position) = choices.iter().position(|c| c == word) else {
            let address = format!("{}/{name}", self.lines.subjects[subject.0 as usize].address);
            let says = format!("`{word}` is no {}; expected one of {}", name.replace('_', " "), choices.join(", "));
            self.problem(
                Diag::error("choice-unknown", says)
                    .at(Place::address(address))
                    .did_you_mean(word, choices.iter().map(String::as_str)),
            );
            return None;
        };
        let evidence = value.and_then(|v| v.text(Field::Evidence)).and_then(Evidence::from_word).unwrap_or(Evidence::Measured);
        let spec = LeafSpec {
            subject,
            name: name.to_owned(),
            quantity: plain(position as f64),
            word: Some(word.to_owned()),
            evidence,
            source: value.map_or_else(|| source.to_owned(), source_of),
            record: value.map(|v| v.id),
            shared: false,
        };
        Some(self.leaf(spec))
    }

    pub(crate) fn place_of(&self, value: &Record, quantity: &str) -> Place {
        if let (Some(file), Some(cell)) = (value.text(Field::File), value.text(Field::Cell)) {
            return Place::Cell { file: file.to_owned(), sheet: None, cell: cell.to_owned() };
        }
        let subject = value.parent.and_then(|p| self.sources.study.get(p));
        let title = subject.and_then(|r| r.text(Field::Label).or(r.text(Field::Name))).unwrap_or("?");
        Place::address(format!("{title}/{quantity}"))
    }
}

/// Where a value says it is from.
pub(crate) fn source_of(value: &Record) -> String {
    let mut parts: Vec<String> = Vec::new();
    if let Some(source) = value.text(Field::Source) {
        parts.push(source.to_owned());
    }
    if let (Some(file), Some(cell)) = (value.text(Field::File), value.text(Field::Cell)) {
        parts.push(format!("{file}, {cell}"));
    }
    if let Some(state) = value.text(Field::MassState) {
        parts.push(state.to_owned());
    }
    if let Some(who) = value.text(Field::Who) {
        parts.push(who.to_owned());
    }
    if let Some(when) = value.text(Field::When) {
        parts.push(when.to_owned());
    }
    if parts.is_empty() { "no source stated".to_owned() } else { parts.join(", ") }
}

/// The readings that were taken together with one.
fn same_set<'r>(values: &[&'r Record], with: &'r Record) -> Vec<&'r Record> {
    match with.text(Field::Set) {
        Some(set) => values.iter().copied().filter(|v| v.text(Field::Set) == Some(set)).collect(),
        None => vec![with],
    }
}
