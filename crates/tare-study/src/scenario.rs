//! Quantities of the scenario: an organisation's own where it states one, else the study's. A volume may be a list of years.

use crate::builder::{Builder, Given, LeafSpec};
use crate::lines::LineRef;
use crate::stated;
use tare_calc::FlatInput;
use tare_diag::Diag;
use tare_model::{Field, Id, Record};

/// Yearly volumes that differ: the years of a ramp.
#[derive(Clone, Debug)]
pub(crate) struct Ramp {
    /// 1, 2, 3 ... one for each year.
    pub(crate) numbers: Vec<LineRef>,
    /// Products in each year.
    pub(crate) volumes: Vec<LineRef>,
    /// Their mean: the volume of everything that does not ask for years.
    mean: LineRef,
}

impl Builder<'_> {
    /// What an input with `from = scenario.*` is bound to.
    pub(crate) fn scenario(&mut self, organisation: Option<Id>, quantity: &str, input: &FlatInput<'_>) -> Option<Vec<LineRef>> {
        let record = self.scenario_record(organisation, quantity)?;
        if quantity == "volume" && self.ramp(organisation).is_some() {
            return self.scenario_line(organisation, quantity).map(|line| vec![line]);
        }
        self.stated_on(record, quantity, input)
    }

    /// A quantity of the scenario as a line.
    pub(crate) fn scenario_line(&mut self, organisation: Option<Id>, quantity: &str) -> Option<LineRef> {
        if quantity == "volume"
            && let Some(ramp) = self.ramp(organisation)
        {
            return Some(ramp.mean);
        }
        let record = self.scenario_record(organisation, quantity)?;
        let subject = self.record_subject(record);
        self.chosen(subject, record, quantity)
    }

    /// Who states a quantity of the scenario: the organisation where it differs, else the study's scenario.
    fn scenario_record(&self, organisation: Option<Id>, quantity: &str) -> Option<Id> {
        let own = organisation.filter(|o| self.index.of(*o, quantity).next().is_some());
        own.or_else(|| self.index.scenario.map(|s| s.id))
    }

    /// The years of the volume, where more than one is stated: `10000 1/a; 20000 1/a; 30000 1/a`.
    pub(crate) fn ramp(&mut self, organisation: Option<Id>) -> Option<Ramp> {
        let record = self.scenario_record(organisation, "volume")?;
        let ramp = match self.ramps.get(&record) {
            Some(known) => known.clone(),
            None => {
                let years = |v: &&Record| v.text(Field::Text).is_some_and(|t| t.contains(';'));
                let made = self.index.of(record, "volume").last().filter(years).and_then(|value| self.make_ramp(record, value));
                self.ramps.insert(record, made.clone());
                made
            }
        }?;
        self.years_fit(organisation, ramp.volumes.len());
        Some(ramp)
    }

    fn make_ramp(&mut self, record: Id, value: &Record) -> Option<Ramp> {
        let subject = self.record_subject(record);
        let definition = stated::definition(self.sources.library, self.sources.study, value, "volume");
        let (mut numbers, mut volumes) = (Vec::new(), Vec::new());
        for (year, entry) in value.text(Field::Text)?.split(';').enumerate() {
            let quantity = match stated::parse(definition, entry.trim()) {
                Ok(quantity) => quantity,
                Err(error) => {
                    let place = self.place_of(value, "volume");
                    self.problem(Diag::error("value-text", format!("volume of year {}: {error}", year + 1)).at(place));
                    return None;
                }
            };
            let spec = LeafSpec {
                subject,
                name: format!("volume of year {}", year + 1),
                quantity,
                word: None,
                evidence: stated::evidence(value),
                source: crate::value::source_of(value),
                record: Some(value.id),
                shared: false,
            };
            volumes.push(self.leaf(spec));
            numbers.push(self.count(subject, &format!("year {}", year + 1), (year + 1) as f64, "definition: years in order"));
        }
        let block = self.place(subject, "volume", "roll-ups/mean", &[("values", Given::Many(&volumes))])?;
        self.lines.blocks[block as usize].unit = Some(self.lines.unit(volumes[0]).clone());
        let mean = self.line(block, "mean")?;
        Some(Ramp { numbers, volumes, mean })
    }

    /// Tools are paid back over the years of production: a list of years states the same ones.
    fn years_fit(&mut self, organisation: Option<Id>, years: usize) {
        let owner = self.scenario_record(organisation, "life");
        let Some(life) = owner.and_then(|o| self.index.of(o, "life").last()) else { return };
        let Some(quantity) = self.quantity(life, "life") else { return };
        let stated = quantity.value / crate::builder::YEAR;
        if (stated - years as f64).abs() > 1e-6 {
            let place = self.place_of(life, "life");
            let says = format!("the volume is stated for {years} years, and the life is {stated} a");
            self.problem(Diag::error("ramp-years", says).at(place).hint("state a volume for each year of the life"));
        }
    }
}
