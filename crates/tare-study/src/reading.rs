//! Readings of an instrument: what was shown is exact, its errors are variables of their own.
//!
//! Zero and gain are one variable for all readings of an instrument and period. Scatter and rounding are the set's own, once for what was
//! shown and once for the container: from four readings on their own scatter counts, else what was stated with them, else the
//! instrument's repeatability, else the default spread of the quantity.

use crate::builder::{Builder, Given, LeafSpec, plain};
use crate::lines::{Evidence, LineRef, SubjectId};
use crate::pick::is_tare;
use crate::stated;
use crate::value::source_of;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Record};
use tare_units::{Quantity, Spread};

/// Readings from which their own scatter counts (JCGM 101, 6.4.9: the variance of Student's distribution needs more than two degrees
/// of freedom).
const ENOUGH: usize = 4;

/// What one side of a weighing is called in the calculation.
struct Side {
    student: &'static str,
    repeat: &'static str,
    unrepeated: &'static str,
    resolution: &'static str,
    /// Before the names of its leaves.
    prefix: &'static str,
}

const SHOWN: Side = Side { student: "student", repeat: "repeat", unrepeated: "unrepeated", resolution: "resolution", prefix: "" };
const TARE: Side = Side {
    student: "tare_student",
    repeat: "tare_repeat",
    unrepeated: "tare_unrepeated",
    resolution: "tare_resolution",
    prefix: "tare ",
};

/// A problem was found and is among those reported.
struct Said;

type Arguments = Vec<(&'static str, LineRef)>;

impl<'a> Builder<'a> {
    /// One set of readings as a line called `name`.
    pub(crate) fn reading(&mut self, subject: SubjectId, name: &str, quantity: &str, set: &[&Record]) -> Option<LineRef> {
        let (tares, readings): (Vec<&Record>, Vec<&Record>) = set.iter().copied().partition(|v| is_tare(v));
        let Some(first) = readings.first().copied() else {
            let says = format!("a container was read for the {quantity}, but nothing with it");
            let diag = Diag::error("tare-alone", says).at(self.place_of(set.first()?, quantity));
            self.problem(diag.hint("add the gross reading to the same set"));
            return None;
        };
        self.taken_together(quantity, first, set, &readings)?;
        let shown = self.shown(subject, name, quantity, &readings)?;
        let tare = self.shown(subject, &format!("{name} tare"), quantity, &tares)?;
        let mut own = Arguments::new();
        if let Some(instrument) = first.refers(Field::Instrument) {
            for error in ["zero", "gain"] {
                if let Some(line) = self.instrument(instrument, error, first, quantity, shown[0]).ok()? {
                    own.push((error, line));
                }
            }
        }
        own.extend(self.own_errors(subject, name, quantity, &readings, &shown, &SHOWN)?);
        if !tares.is_empty() {
            own.extend(self.own_errors(subject, name, quantity, &tares, &tare, &TARE)?);
        }
        if let Some(n) = first.number(Field::Number).filter(|n| *n > 0.0) {
            own.push(("number", self.count(subject, "bunch", n, "counted")));
        }
        let mut given: Vec<(&str, Given<'_>)> = vec![("shown", Given::Many(&shown)), ("tare", Given::Many(&tare))];
        given.extend(own.iter().map(|(n, l)| (*n, Given::One(*l))));
        let unit = self.lines.unit(shown[0]).clone();
        let block = self.place(subject, name, "roll-ups/reading", &given)?;
        self.lines.blocks[block as usize].unit = Some(unit);
        self.line(block, "mass")
    }

    /// A set is read on one instrument in one period, and counts the same pieces; otherwise nothing cancels and nothing repeats.
    fn taken_together(&mut self, quantity: &str, first: &Record, set: &[&Record], readings: &[&Record]) -> Option<()> {
        let same = |field| set.iter().all(|v| v.fields.get(field) == first.fields.get(field));
        let wrong = if !same(Field::Instrument) {
            "on different instruments"
        } else if !same(Field::Period) {
            "in different periods of the instrument"
        } else if readings.iter().any(|v| v.number(Field::Number) != first.number(Field::Number)) {
            "of different numbers of pieces"
        } else {
            return Some(());
        };
        let set = first.text(Field::Set).unwrap_or("?");
        let diag = Diag::error("set-mixed", format!("the readings of set `{set}` of the {quantity} were taken {wrong}"))
            .at(self.place_of(first, quantity));
        self.problem(
            diag.hint("give each its own set; a container is read on the instrument and in the period of the gross reading"),
        );
        None
    }

    /// What the instrument showed, as leaves: exact but for a spread stated with a reading.
    fn shown(&mut self, subject: SubjectId, name: &str, quantity: &str, values: &[&Record]) -> Option<Vec<LineRef>> {
        let mut lines = Vec::new();
        for (number, value) in values.iter().enumerate() {
            let shown = self.quantity(value, quantity)?;
            let number = if number == 0 { String::new() } else { format!(" {}", number + 1) };
            let what = if is_tare(value) { "" } else { " shown" };
            let spec = LeafSpec {
                subject,
                name: format!("{name}{what}{number}"),
                quantity: shown,
                word: None,
                evidence: stated::evidence(value),
                source: source_of(value),
                record: Some(value.id),
                shared: false,
            };
            lines.push(self.leaf(spec));
        }
        Some(lines)
    }

    /// Scatter and rounding of one side of a weighing.
    fn own_errors(
        &mut self,
        subject: SubjectId,
        name: &str,
        quantity: &str,
        values: &[&Record],
        shown: &[LineRef],
        side: &Side,
    ) -> Option<Arguments> {
        let first = *values.first()?;
        let mut found = Arguments::new();
        let (mut rounding, mut repeat) = (None, None);
        if let Some(instrument) = first.refers(Field::Instrument) {
            rounding = self.instrument_error(instrument, "resolution", first, quantity, shown[0]).ok()?;
            repeat = self.instrument_error(instrument, "repeat", first, quantity, shown[0]).ok()?;
        }
        let read: Vec<Quantity> = shown.iter().filter_map(|l| self.leaf_quantity(*l)).collect();
        let scatters = read.iter().any(|q| q.value != read[0].value);
        let stated_with = read.iter().any(|q| q.spread.is_some());
        // Readings that are all alike say that the scatter is below the rounding, where that is known; alone they say nothing.
        let (argument, leaf, source) = if read.len() >= ENOUGH && (scatters || rounding.is_some()) {
            let n = read.len() as f64;
            let mut leaf = plain(0.0);
            leaf.text = format!("t with {} degrees of freedom", read.len() - 1);
            // Standard deviation of Student's distribution with n - 1 degrees of freedom (JCGM 101, 6.4.9).
            leaf.spread = Some(Spread::Normal { u: ((n - 1.0) / (n - 3.0)).sqrt() });
            (side.student, leaf, format!("scatter of {} repeated readings", read.len()))
        } else if stated_with {
            return self.with_rounding(subject, name, first, rounding, found, side);
        } else if let Some((mut leaf, source)) = repeat {
            leaf.text = tare_units::show(leaf.value, &leaf.unit, 3);
            (side.repeat, leaf, format!("repeat of the instrument: {source}"))
        } else {
            // Sized by the largest reading; it stands for everything unknown about the set, so that it does not shrink with repeats.
            let mut sized = read.into_iter().reduce(|a, b| if b.value.abs() > a.value.abs() { b } else { a })?;
            let definition = stated::definition(self.sources.library, self.sources.study, first, quantity);
            let Some(said) = stated::add_default_spread(definition, stated::evidence(first), quantity, &mut sized) else {
                return self.with_rounding(subject, name, first, rounding, found, side);
            };
            let leaf = Quantity { value: 0.0, text: tare_units::show(0.0, &sized.unit, 3), ..sized };
            (side.unrepeated, leaf, format!("no repeatability stated{said}"))
        };
        let line = self.own_leaf(subject, first, format!("{name} {}repeat", side.prefix), leaf, source);
        if argument == side.student {
            self.degrees_of_freedom(line, values.len() as f64 - 1.0);
        }
        found.push((argument, line));
        self.with_rounding(subject, name, first, rounding, found, side)
    }

    fn with_rounding(
        &mut self,
        subject: SubjectId,
        name: &str,
        value: &Record,
        rounding: Option<(Quantity, String)>,
        mut found: Arguments,
        side: &Side,
    ) -> Option<Arguments> {
        if let Some((mut leaf, source)) = rounding {
            // Anything that rounds to the figure shown (JCGM 100, F.2.2.1).
            let half = leaf.value / 2.0;
            leaf.spread = Some(Spread::Rectangular { low: -half, high: half });
            leaf.value = 0.0;
            leaf.text = tare_units::show(0.0, &leaf.unit, 3);
            let source = format!("resolution of the instrument: {source}");
            let line = self.own_leaf(subject, value, format!("{name} {}resolution", side.prefix), leaf, source);
            found.push((side.resolution, line));
        }
        Some(found)
    }

    fn own_leaf(&mut self, subject: SubjectId, value: &Record, name: String, quantity: Quantity, source: String) -> LineRef {
        let evidence = Evidence::Measured;
        self.leaf(LeafSpec { subject, name, quantity, word: None, evidence, source, record: Some(value.id), shared: false })
    }

    fn degrees_of_freedom(&mut self, line: LineRef, freedom: f64) {
        if let LineRef::Leaf(at) = line {
            self.lines.leaves[at as usize].freedom = Some(freedom);
        }
    }

    fn leaf_quantity(&self, line: LineRef) -> Option<Quantity> {
        match line {
            LineRef::Leaf(at) => Some(self.lines.leaves[at as usize].quantity.clone()),
            LineRef::Line { .. } => None,
        }
    }

    /// A shared error of an instrument: one variable for all its readings of a period.
    fn instrument(
        &mut self,
        instrument: Id,
        error: &str,
        reading: &Record,
        quantity: &str,
        shown: LineRef,
    ) -> Result<Option<LineRef>, Said> {
        let Some((value, source)) = self.instrument_error(instrument, error, reading, quantity, shown)? else { return Ok(None) };
        let title = self.instrument_title(instrument);
        let name = format!("{error} ({})", reading.text(Field::Period).unwrap_or("any period"));
        let id = self.instrument_value(instrument, error, reading, quantity)?.map(|v| v.id);
        Ok(Some(self.shared_leaf(&title, &name.clone(), |subject| LeafSpec {
            subject,
            name,
            quantity: value,
            word: None,
            evidence: Evidence::Measured,
            source,
            record: id,
            shared: true,
        })))
    }

    /// An error of an instrument as stated for a reading's period, with its source.
    fn instrument_error(
        &mut self,
        instrument: Id,
        error: &str,
        reading: &Record,
        quantity: &str,
        shown: LineRef,
    ) -> Result<Option<(Quantity, String)>, Said> {
        let Some(value) = self.instrument_value(instrument, error, reading, quantity)? else { return Ok(None) };
        let stated = self.quantity(value, error).ok_or(Said)?;
        let due = if error == "gain" { plain(1.0).unit.dim } else { self.lines.unit(shown).dim };
        if stated.unit.dim != due {
            let word = |d| tare_units::name_of(d).map_or_else(|| format!("{d}"), str::to_owned);
            let title = self.instrument_title(instrument);
            let says =
                format!("{error} of the instrument {title}: found a {} where it reads a {}", word(stated.unit.dim), word(due));
            let diag = Diag::error("dimension", says).at(self.place_of(value, error));
            self.problem(diag.hint("state zero, repeat and resolution in the unit the instrument shows, gain as a share"));
            return Err(Said);
        }
        Ok(Some((stated, source_of(value))))
    }

    /// The value stated for a reading's period, else the one for no period in particular.
    fn instrument_value(
        &mut self,
        instrument: Id,
        error: &str,
        reading: &Record,
        quantity: &str,
    ) -> Result<Option<&'a Record>, Said> {
        let stated: Vec<&'a Record> = self.index.of(instrument, error).collect();
        if stated.is_empty() {
            return Ok(None);
        }
        let of_period = |period: Option<&str>| -> Vec<&'a Record> {
            stated.iter().copied().filter(|v| v.text(Field::Period) == period).collect()
        };
        let period = reading.text(Field::Period);
        let mut fitting = of_period(period);
        if fitting.is_empty() {
            fitting = of_period(None);
        }
        let choices = self.index.chosen.get(&instrument).into_iter().flatten();
        let chosen = choices.filter(|c| c.text(Field::Quantity) == Some(error)).find_map(|c| c.refers(Field::Value));
        if let Some(one) = fitting.iter().copied().find(|v| Some(v.id) == chosen) {
            fitting = vec![one];
        }
        if let [one] = fitting.as_slice() {
            return Ok(Some(one));
        }
        let asked = period.map_or_else(|| "states no period".to_owned(), |p| format!("is of the period `{p}`"));
        let title = self.instrument_title(instrument);
        let says = match fitting.len() {
            0 => format!("`{title}` states its {error} for other periods only, and the reading {asked}"),
            n => format!("`{title}` states {n} values of its {error} that fit, and the reading {asked}"),
        };
        let diag = Diag::error("period", says)
            .at(self.place_of(reading, quantity))
            .with(Place::address(format!("{title}/{error}")), "stated here");
        self.problem(diag.hint("give each value of the instrument its period, and the reading the one it was taken in"));
        Err(Said)
    }

    fn instrument_title(&self, instrument: Id) -> String {
        self.sources.study.get(instrument).map_or_else(|| "?".to_owned(), |record| self.name_among_its_kind(record))
    }
}
