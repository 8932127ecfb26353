//! Stated values become lines: a leaf, a corrected reading, an estimate, or one chosen among several.

use crate::builder::{Builder, Given, LeafSpec, plain};
use crate::circle::Question;
use crate::lines::{Evidence, LineRef, SubjectId};
use crate::pick::{Asked, Picked, Set, is_tare};
use crate::stated;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Record};
use tare_units::{Quantity, Spread};

impl Builder<'_> {
    /// The line that stands for a quantity of a subject: the chosen value, or the best of those stated. `None` if none is.
    pub(crate) fn chosen(&mut self, subject: SubjectId, record: Id, quantity: &str) -> Option<LineRef> {
        self.chosen_as(subject, record, quantity, &Asked::Made)
    }

    /// As [`Builder::chosen`], for a mass in the state asked for.
    pub(crate) fn chosen_as(&mut self, subject: SubjectId, record: Id, quantity: &str, asked: &Asked) -> Option<LineRef> {
        if !self.index.values.contains_key(&record) {
            return None;
        }
        let key = (record, quantity.to_owned(), if quantity == "mass" { asked.clone() } else { Asked::Made });
        if let Some(known) = self.chosen.get(&key) {
            return *known;
        }
        let question = Question::Stated(record, quantity.to_owned());
        let made = self.answered(question, |b| {
            let picked = b.pick(subject, record, quantity, asked);
            b.picked_once(subject, quantity, &picked)
        });
        self.chosen.insert(key, made);
        made
    }

    /// What was picked has one line, whatever asks for it: the same readings for cost and balance are the same variables.
    fn picked_once(&mut self, subject: SubjectId, quantity: &str, picked: &Picked<'_>) -> Option<LineRef> {
        let key = (picked.values().next()?.id, matches!(picked, Picked::Mean { .. }));
        if let Some(known) = self.picked_lines.get(&key) {
            return *known;
        }
        let made = match picked {
            Picked::Nothing => None,
            Picked::One(set) => self.stated(subject, quantity, quantity, set),
            Picked::Mean { sets, weighted } => self.mean(subject, quantity, sets, *weighted),
        };
        self.picked_lines.insert(key, made);
        made
    }

    /// The plain mean of several sets, or the one weighted by their uncertainties.
    fn mean(&mut self, subject: SubjectId, quantity: &str, sets: &[Set<'_>], weighted: bool) -> Option<LineRef> {
        let mut lines = Vec::new();
        for (number, set) in sets.iter().enumerate() {
            // What one value lacks is reported; a mean of the others would be another one than was chosen.
            lines.push(self.stated(subject, &format!("{quantity} {}", number + 1), quantity, set)?);
        }
        let unit = self.lines.unit(*lines.first()?).clone();
        let mut given = vec![("values", Given::Many(&lines))];
        let weights;
        let key = if weighted {
            weights = self.weights(subject, quantity, &lines)?;
            given.push(("uncertainties", Given::Many(&weights)));
            "roll-ups/weighted-mean"
        } else {
            "roll-ups/mean"
        };
        let block = self.place(subject, quantity, key, &given)?;
        self.lines.blocks[block as usize].unit = Some(unit);
        let mean = self.line(block, "mean")?;
        if weighted {
            given.push(("mean", Given::One(mean)));
            self.warn_scatter(subject, quantity, &given);
        }
        Some(mean)
    }

    /// The standard uncertainty of each value as an exact number: a weight has no spread of its own.
    fn weights(&mut self, subject: SubjectId, quantity: &str, lines: &[LineRef]) -> Option<Vec<LineRef>> {
        let values = self.lines.evaluate();
        self.read_values = true;
        let mut weights = Vec::new();
        for (number, line) in lines.iter().enumerate() {
            let u = self.lines.grounds(&values, *line).standard_uncertainty;
            if !(u > 0.0 && u.is_finite()) {
                let s = &self.lines.subjects[subject.0 as usize];
                let says = format!("value {} of the {quantity} of {} has no uncertainty to be weighted by", number + 1, s.title);
                let diag = Diag::error("weight", says).at(Place::address(format!("{}/{quantity}", s.address)));
                self.problem(diag.hint("state its spread (`12.5 +- 0.2 mm`), or choose the plain mean"));
                return None;
            }
            // The unit of a difference: 5 K of uncertainty, not 5 degC.
            let unit = self.lines.unit(*line);
            let unit = if unit.is_point() { tare_units::Unit::of(unit.dim) } else { unit.clone() };
            weights.push(self.leaf(LeafSpec {
                subject,
                name: format!("{quantity} {} uncertainty", number + 1),
                quantity: Quantity::new(u, None, unit),
                word: None,
                evidence: Evidence::Derived,
                source: "definition: the value's own standard uncertainty, first order (JCGM 100:2008, 5.1.2)".to_owned(),
                record: None,
                shared: false,
            }));
        }
        Some(weights)
    }

    /// Says where weighted values scatter more than their uncertainties explain.
    fn warn_scatter(&mut self, subject: SubjectId, quantity: &str, given: &[(&str, Given<'_>)]) {
        let Some(block) = self.place(subject, &format!("{quantity} scatter"), "roll-ups/birge-ratio", given) else { return };
        let Some(ratio) = self.line(block, "ratio") else { return };
        let ratio = self.lines.value(ratio, &self.lines.evaluate());
        if ratio > 1.0 {
            let s = &self.lines.subjects[subject.0 as usize];
            let says = format!(
                "the values of the {quantity} of {} scatter {ratio:.2} times as far as their uncertainties explain (Birge ratio)",
                s.title
            );
            let diag = Diag::note("scatter", says).at(Place::address(format!("{}/{quantity}", s.address)));
            self.problem(diag.hint(
                "look for a reading that is wrong or of another state; the uncertainty of the weighted mean is not enlarged for it",
            ));
        }
    }

    /// One value, or several readings of one set.
    ///
    /// `name` is what its lines are called: the quantity, with a number where several stand side by side.
    fn stated(&mut self, subject: SubjectId, name: &str, quantity: &str, set: &[&Record]) -> Option<LineRef> {
        let first = *set.first()?;
        if let Some(calculation) = first.text(Field::Calculation) {
            return self.estimated(subject, name, quantity, first, calculation);
        }
        let instrument = first.refers(Field::Instrument);
        if let Some(instrument) = instrument.filter(|i| !self.has_errors(*i)) {
            let name = self.sources.study.get(instrument).map_or_else(String::new, |r| self.name_among_its_kind(r));
            let diag = Diag::warning("instrument-errors", format!("nothing is stated of the errors of {name}"))
                .at(Place::address(format!("instrument {name}")));
            self.problem(diag.hint(format!(
                "state them from its certificate, such as `tare edit set \"{name}/gain\" \"0 +- 0.1 %\"` (zero, gain, repeat, \
                 resolution); until then its readings take the usual spread of a measured value"
            )));
        }
        if first.refers(Field::Instrument).is_some() || set.len() > 1 || is_tare(first) {
            return self.reading(subject, name, quantity, set);
        }
        let number = first.number(Field::Number).filter(|n| *n > 0.0 && *n != 1.0);
        let own_name = if number.is_none() { name.to_owned() } else { format!("{name} of the bunch") };
        let line = self.value_leaf(subject, &own_name, quantity, first)?;
        if self.in_unknown_money(line) {
            return None;
        }
        let line = self.in_study_currency(line);
        let Some(number) = number else { return Some(line) };
        let count = self.count(subject, "bunch", number, "counted");
        let unit = self.lines.unit(line).clone();
        let block = self.place(subject, name, "roll-ups/bunch", &[("bunch", Given::One(line)), ("number", Given::One(count))])?;
        self.lines.blocks[block as usize].unit = Some(unit);
        self.line(block, "piece")
    }

    fn has_errors(&self, instrument: Id) -> bool {
        ["zero", "gain", "repeat", "resolution"].iter().any(|error| self.index.of(instrument, error).next().is_some())
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

    /// A leaf as stated, with the default spread of its quantity and evidence where none is.
    fn value_leaf(&mut self, subject: SubjectId, name: &str, quantity: &str, value: &Record) -> Option<LineRef> {
        let evidence = stated::evidence(value);
        let mut stated = self.quantity(value, quantity)?;
        let definition = stated::definition(self.sources.library, self.sources.study, value, quantity);
        let said = stated::add_default_spread(definition, evidence, quantity, &mut stated);
        let source = source_of(value) + &said.unwrap_or_default();
        let (name, record) = (name.to_owned(), Some(value.id));
        let spec = LeafSpec { subject, name, quantity: stated, word: None, evidence, source, record, shared: false };
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
    fn estimated(&mut self, subject: SubjectId, name: &str, quantity: &str, value: &Record, key: &str) -> Option<LineRef> {
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
        let block = self.bind(subject, &format!("{name} estimate"), key, &context)?;
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
        let raw = value.text(Field::Raw).map_or_else(String::new, |raw| format!(": `{raw}`"));
        parts.push(format!("{file}, {cell}{raw}"));
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
