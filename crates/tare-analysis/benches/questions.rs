//! Questions over many studies at once: time of one core, facts in memory.
//!
//! `cargo bench -p tare-analysis --bench questions` makes 500 studies of 1,000 parts and asks them; `-- quick` makes 50. Figures of one
//! run belong together.

#![expect(clippy::print_stdout, reason = "a bench prints its figures")]

use std::time::Instant;
use tare_analysis::{Facts, Measure, Question, RowKind, Rules, Schema};
use tare_library::Library;
use tare_model::{Document, Field, FieldValue, Kind, Record};
use tare_study::generate::{Size, study};
use tare_study::{Sources, compile};

/// A rule of usual size.
const RULE: &str = r#"
title = "Screws of one cover"
kind = "fastening"
about = "joint"
when = "function == 'seal' and count >= 4 and any(has(parts.name, 'cover')) and not any(parts.make == 'buy')"
says = "{count} screws {diameter:mm} hold {parts.name}"
source = "made up for this bench"
risk = "low"
advice = "none"
[[edit]]
for = "parts"
do = "set {part}/count {joint.count}"
"#;

fn main() {
    let quick = std::env::args().any(|argument| argument == "quick");
    let studies: u64 = if quick { 50 } else { 500 };
    let (library, _) = Library::embedded();
    let (mut seconds, mut all) = (0.0, Vec::new());
    for seed in 0..studies {
        let document = named(&study(Size { parts: 1_000, items: 250, joints: 200 }, seed));
        let compiled = compile(Sources { study: &document, books: &[], library: &library });
        let started = Instant::now();
        all.push(Facts::of(&document, &compiled, &library));
        seconds += started.elapsed().as_secs_f64();
    }
    let bytes: usize = all.iter().map(Facts::bytes).sum();
    println!(
        "{studies} studies of 1,000 parts: {:.2} ms and {:.0} KiB of facts each",
        seconds * 1e3 / studies as f64,
        bytes as f64 / 1024.0 / studies as f64
    );
    let schema = Schema::of(&library);
    let count = |schema: &Schema| RowKind::ALL.iter().map(|kind| schema.columns(*kind).count()).sum::<usize>();
    println!("{:>8.1} ms {:>7} columns of the library", least_ms(|| count(&Schema::of(&library))), count(&schema));
    let wider = || count(&schema.clone().with(&all));
    println!("{:>8.1} ms {:>7} columns with those of all studies", least_ms(wider), wider());
    for text in [
        "has(name, 'cover') and any(joints.function == 'seal') and length * width > 1 [m^2]",
        "has(name, 'cover')",
        "length * width > 1 [m^2]",
        "any(joints.function == 'seal')",
        "any(joints.method == 'joints/screw-tapped-hole' and joints.count > 4)",
        "sum(children.mass) > 5 [kg] or count(joints.parts.make == 'buy') == 1",
    ] {
        let question = Question::read(RowKind::Part, text, &schema).expect("the question reads");
        let hits = || all.iter().map(|facts| question.hits(facts).len()).sum::<usize>();
        println!("{:>8.1} ms {:>7} hits  {text}", least_ms(hits), hits());
    }
    let measure = Measure::read(RowKind::Part, "cost / (length * width)", &schema).expect("the measure reads");
    let known = || all.iter().flat_map(|facts| measure.values(facts)).filter(|x| x.is_finite()).count();
    println!("{:>8.1} ms {:>7} known cost / (length * width)", least_ms(known), known());
    let (rules, problems) = Rules::read([("bench", RULE)], &schema);
    assert!(problems.is_empty(), "{problems:?}");
    let hits = || all.iter().map(|facts| rules.hits(facts).len()).sum::<usize>();
    println!("{:>8.1} ms {:>7} hits of a rule with texts and commands", least_ms(hits), hits());
}

/// The shortest of seven times, in milliseconds: what else the machine does only adds.
fn least_ms(work: impl Fn() -> usize) -> f64 {
    let time = |_| {
        let started = Instant::now();
        std::hint::black_box(work());
        started.elapsed().as_secs_f64() * 1e3
    };
    (0..7).map(time).fold(f64::INFINITY, f64::min)
}

/// The study with covers among its parts, some of them large, and seals among its joints.
fn named(document: &Document) -> Document {
    let mut records: Vec<Record> = document.records().cloned().collect();
    let set = |record: &mut Record, field, text: String| record.fields.set(field, Some(FieldValue::Text(text)));
    let large: Vec<_> = records.iter().filter(|r| r.kind == Kind::Item).step_by(9).map(|r| r.id).collect();
    for (at, record) in records.iter_mut().enumerate() {
        let of_large = record.parent.is_some_and(|parent| large.contains(&parent));
        match (record.kind, record.text(Field::Quantity)) {
            (Kind::Item, _) if at % 5 == 0 => {
                let name = format!("Cover {}", record.text(Field::Name).unwrap_or(""));
                set(record, Field::Name, name);
            }
            (Kind::Joint, _) if at % 3 == 0 => {
                set(record, Field::Function, "seal".to_owned());
            }
            (Kind::Value, Some("length" | "width")) if of_large => {
                set(record, Field::Text, "1.1 m".to_owned());
            }
            _ => {}
        }
    }
    Document::from_records(document.id, document.kind, records)
}
