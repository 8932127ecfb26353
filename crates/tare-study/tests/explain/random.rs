//! Random calculations in a study: what any formula's explanation says, it is.

use super::again::{Again, again};
use proptest::prelude::*;
use std::sync::OnceLock;
use tare_library::Library;
use tare_model::{Document, DocumentKind, Field, FieldValue, Id, Kind, Record};
use tare_study::{LineRef, Sources, compile};

/// Writes formulas of a wanted kind, one choice per byte; without bytes it takes the first, which ends.
struct Writer<'a> {
    choices: &'a [u8],
    at: usize,
}

impl Writer<'_> {
    fn pick(&mut self, n: u8) -> u8 {
        let choice = self.choices.get(self.at).copied().unwrap_or(0);
        self.at += 1;
        choice % n
    }

    fn number(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match self.pick(if depth == 0 { 5 } else { 17 }) {
            0 => "a".to_owned(),
            1 => "2.5".to_owned(),
            2 => "class.factor".to_owned(),
            3 => "blank.ratio".to_owned(),
            4 => "method".to_owned(),
            5 => format!("{} + {}", self.number(d), self.number(d)),
            6 => format!("({}) - ({})", self.number(d), self.number(d)),
            7 => format!("({}) * -({})", self.number(d), self.number(d)),
            8 => format!("({}) / ({})", self.number(d), self.number(d)),
            9 => format!("if({}, {}, {})", self.condition(d), self.number(d), self.number(d)),
            10 => format!("max({}, {})", self.number(d), self.number(d)),
            11 => format!("sqrt(abs({}))", self.number(d)),
            12 => format!("ln(1 + abs({}))", self.number(d)),
            13 => format!("({}) / ({})", self.length(d), self.length(d)),
            14 => format!("sum({})", self.list(d)),
            15 => format!("if(given(maybe), maybe, {})", self.number(d)),
            _ => format!("(warm - ({} [degC])) / 1 [K]", self.pick(40)),
        }
    }

    fn length(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match self.pick(if depth == 0 { 2 } else { 5 }) {
            0 => "b".to_owned(),
            1 => "3.7 [mm]".to_owned(),
            2 => format!("({}) + ({})", self.length(d), self.length(d)),
            3 => format!("({}) * ({})", self.length(d), self.number(d)),
            _ => format!("if({}, {}, 0)", self.condition(d), self.length(d)),
        }
    }

    fn condition(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match self.pick(if depth == 0 { 3 } else { 6 }) {
            0 => "flag".to_owned(),
            1 => "kind == 'y'".to_owned(),
            2 => "warm > 10 [degC]".to_owned(),
            3 => format!("({}) < ({})", self.number(d), self.number(d)),
            4 => format!("({}) and ({})", self.condition(d), self.condition(d)),
            _ => format!("not ({}) or ({})", self.condition(d), self.condition(d)),
        }
    }

    fn list(&mut self, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        match self.pick(if depth == 0 { 2 } else { 5 }) {
            0 => "l".to_owned(),
            1 => "next(l)".to_owned(),
            2 => format!("({}) * ({})", self.list(d), self.number(d)),
            3 => format!("({}) - ({})", self.list(d), self.list(d)),
            _ => format!("max({}, {})", self.number(d), self.list(d)),
        }
    }
}

/// A calculation with one random equation of each kind, each able to read those before it.
fn calculation(choices: &[u8]) -> String {
    let mut write = Writer { choices, at: 0 };
    let (one, two) = (write.number(3), write.number(3));
    let (length, holds, many) = (write.length(3), write.condition(3), write.list(3));
    let word = write.condition(2);
    format!(
        r#"
title = "Random"
kind = "process"
[method]
spread = "+- 10 %"
reason = "invented for a test"
[input]
a = {{ unit = "1" }}
b = {{ unit = "mm" }}
flag = {{ unit = "bool" }}
kind = {{ unit = "choice", choices = ["x", "y", "z"] }}
l = {{ unit = "1", list = "1..9" }}
warm = {{ unit = "degC" }}
maybe = {{ unit = "1", optional = true }}
[table.size]
source = "invented for a test"
key.reach = {{ unit = "mm", rule = "interpolate", outside = "hold" }}
column.factor = {{ unit = "1" }}
rows = [ {{ name = "small", reach = "10 mm", factor = "2" }}, {{ name = "large", reach = "90 mm", factor = "7" }} ]
[use.blank]
calculation = "build-up/test-blank"
given = {{ side = "b + 1 [mm]" }}
[equation]
class = {{ unit = "row size", is = "pick(size, b)" }}
direct = {{ unit = "1", is = "pick(size, 2 * b).factor + 1" }}
one = {{ unit = "1", is = "{one}" }}
two = {{ unit = "1", is = "one + ({two})" }}
length = {{ unit = "mm", is = "{length}" }}
holds = {{ unit = "bool", is = "{holds}" }}
many = {{ unit = "1", is = "{many}" }}
word = {{ unit = "choice", is = "if({word}, 'left', 'right')" }}
cycle = {{ unit = "s", is = "1 [s]" }}
pieces = {{ unit = "1", is = "1" }}
setup = {{ unit = "s", is = "0 [s]" }}
yield = {{ unit = "1", is = "1" }}
"#
    )
}

const BLANK: &str = r#"
title = "Used by the random one"
kind = "build-up"
[input]
side = { unit = "mm" }
over = { unit = "mm", default = "0.5 * side", source = "definition" }
[equation]
ratio = { unit = "1", is = "(side + over) / side^2 * 1 [mm]" }
"#;

/// A study of one item made by it, with the inputs stated.
fn document(stated: &[(&str, String)]) -> Document {
    let text = |t: &str| FieldValue::Text(t.to_owned());
    let (study, scenario, item, part, operation) = (Id(1), Id(2), Id(3), Id(4), Id(5));
    let mut records = vec![
        Record::new(study, Kind::Study).with(Field::Name, text("Random")).with(Field::Currency, text("EUR")),
        Record::new(scenario, Kind::Scenario).with(Field::Name, text("Random")),
        Record::new(item, Kind::Item).with(Field::Name, text("Made")).with(Field::Make, text("make")),
        Record::new(part, Kind::Part).with(Field::Item, FieldValue::Ref(item)).with(Field::Count, FieldValue::Number(1.0)),
        Record::new(operation, Kind::Operation)
            .under(item)
            .with(Field::Name, text("made"))
            .with(Field::Calculation, text("processes/test-random")),
    ];
    let mut value = |subject: Id, quantity: &str, said: &str| {
        let id = Id(records.len() as u128 + 10);
        let stated =
            Record::new(id, Kind::Value).under(subject).with(Field::Quantity, text(quantity)).with(Field::Text, text(said));
        records.push(stated.with(Field::Evidence, text("measured")));
    };
    value(scenario, "volume", "1000 1/a");
    for (quantity, said) in stated {
        value(operation, quantity, said);
    }
    Document::from_records(Id(9), DocumentKind::Study, records)
}

fn base() -> Library {
    static BASE: OnceLock<Library> = OnceLock::new();
    BASE.get_or_init(|| Library::embedded().0).clone()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_random_calculation_is_what_its_explanation_says(
        choices in proptest::collection::vec(any::<u8>(), 0..160),
        a in -20.0..20.0f64,
        b in 0.1..120.0f64,
        (flag, kind, warm) in (any::<bool>(), 0..3usize, -20.0..90.0f64),
        l in proptest::collection::vec(-5.0..5.0f64, 1..6),
        maybe in proptest::option::of(-3.0..3.0f64),
    ) {
        let text = calculation(&choices);
        let (library, problems) = base().with_own([("build-up/test-blank.toml", BLANK), ("processes/test-random.toml", text.as_str())]);
        prop_assert!(problems.is_empty(), "{problems:?}\n{text}");
        let list = l.iter().map(|x| format!("{x:?}")).collect::<Vec<_>>().join("; ");
        let mut stated = vec![
            ("a", format!("{a:?}")), ("b", format!("{b:?} mm")), ("flag", if flag { "yes" } else { "no" }.to_owned()),
            ("kind", ["x", "y", "z"][kind].to_owned()), ("l", list), ("warm", format!("{warm:?} degC")),
        ];
        stated.extend(maybe.map(|m| ("maybe", format!("{m:?}"))));
        let document = document(&stated);
        let study = compile(Sources { study: &document, books: &[], library: &library });
        let block = study.lines.blocks.iter().position(|b| study.lines.templates[b.template as usize].key == "processes/test-random");
        let Some(block) = block else { return Err(TestCaseError::fail(format!("not placed: {:?}\n{text}", study.problems))) };
        let lines: Vec<LineRef> = study.lines.lines_of(block as u32).filter(|l| matches!(l, LineRef::Line { element: 0, .. }) && !study.lines.name(*l).contains('#')).collect();
        let mut same = 0;
        for line in lines {
            match again(&study.step(line)) {
                Again::Same => same += 1,
                Again::Nothing => {}
                Again::Differs(said) => return Err(TestCaseError::fail(format!("{said}\n{text}"))),
            }
        }
        prop_assert!(same >= 8, "{same} lines worked out again\n{text}");
    }
}
