//! Rates have the dimension declared for their key, wherever they are stated.

use super::bench::{Bench, cost, library};
use tare_model::{Document, DocumentKind, Field, Id, Kind, Record};
use tare_study::{Sources, compile};

/// Amounts without "per hour", shares without "per year", hours without "per year": each is said at its place, none is computed with.
#[test]
fn a_rate_of_another_dimension_is_refused() {
    for (key, wrong, right) in [
        ("wage.operator", "24 EUR", "24 EUR/h"),
        ("wage.operator", "24 kg", "24 EUR/h"),
        ("electricity", "0.2 EUR", "0.2 EUR/kWh"),
        ("interest", "10 %", "10 %/a"),
        ("machine.hours", "4000 h", "4000 h/a"),
        ("machine.life", "10", "10 a"),
        ("labour.fringe", "0.3 EUR/h", "30 %"),
    ] {
        let mut bench = Bench::new();
        let machine = [("cycle", "60 s"), ("price", "100000 EUR"), ("power", "10 kW")];
        let (item, _) = bench.product("processes/test-priced", &machine);
        bench.operation(item, "processes/test-press", &[("cycle", "60 s"), ("rate", "30 EUR/h")]);
        bench.rate(bench.study, key, right);
        bench.clean();
        bench.rate(bench.study, key, wrong);
        let study = bench.compile();
        let problem = study.problems.iter().find(|d| d.code == "rate-unit").unwrap_or_else(|| panic!("{key} = {wrong}"));
        let said = format!("{problem} at {:?}, {:?}", problem.place, problem.hints);
        assert!(problem.is_error() && said.contains(&format!("rate/{key}")) && said.contains("write"), "{said}");
        assert!(study.problems.iter().all(|d| d.code != "rate-missing"), "one cause, one message: {:?}", study.problems);
    }
}

/// A rate of an organisation, of a book of the workspace, and of a key that only a calculation of one's own asks for.
#[test]
fn the_message_names_the_place_of_the_rate() {
    let mut bench = Bench::new();
    let (item, _) = bench.product("processes/test-press", &[("cycle", "60 s"), ("rate", "30 EUR/h")]);
    let maker = bench.organisation("Maker");
    bench.set(item, Field::Organisation, tare_model::FieldValue::Ref(maker));
    bench.rate(maker, "wage.operator", "24 EUR");
    let study = bench.compile();
    let problem = study.problems.iter().find(|d| d.code == "rate-unit").expect("refused");
    assert!(format!("{:?}", problem.place).contains("organisation Maker/rate.wage.operator"), "{problem:?}");

    let own = Document::from_records(
        Id(0xb00c),
        DocumentKind::Book,
        vec![
            Record::new(Id(0x1), Kind::Book).with_text(Field::Name, "own").with_text(Field::Currency, "EUR"),
            Record::new(Id(0x2), Kind::Rate)
                .under(Id(0x1))
                .with_text(Field::Key, "wage.operator")
                .with_text(Field::Text, "24 EUR"),
        ],
    );
    let study = Document::from_records(
        Id(0xbe7c),
        DocumentKind::Study,
        vec![
            Record::new(Id(10), Kind::Study)
                .with_text(Field::Name, "S")
                .with_text(Field::Currency, "EUR")
                .with_text(Field::Book, "own"),
            Record::new(Id(11), Kind::Item).with_text(Field::Name, "Product").with_text(Field::Make, "make"),
            Record::new(Id(12), Kind::Part)
                .with(Field::Item, tare_model::FieldValue::Ref(Id(11)))
                .with(Field::Count, tare_model::FieldValue::Number(1.0)),
            Record::new(Id(13), Kind::Operation)
                .under(Id(11))
                .with_text(Field::Name, "Work")
                .with_text(Field::Calculation, "processes/test-press"),
            Record::new(Id(14), Kind::Value)
                .under(Id(13))
                .with_text(Field::Quantity, "cycle")
                .with_text(Field::Text, "60 s")
                .with_text(Field::Evidence, "assumed"),
            Record::new(Id(15), Kind::Value)
                .under(Id(13))
                .with_text(Field::Quantity, "rate")
                .with_text(Field::Text, "30 EUR/h")
                .with_text(Field::Evidence, "assumed"),
            Record::new(Id(16), Kind::Scenario).with_text(Field::Name, "Base"),
            Record::new(Id(17), Kind::Value)
                .under(Id(16))
                .with_text(Field::Quantity, "volume")
                .with_text(Field::Text, "1000 1/a")
                .with_text(Field::Evidence, "assumed"),
        ],
    );
    let compiled = compile(Sources { study: &study, books: &[&own], library: library() });
    let problem = compiled.problems.iter().find(|d| d.code == "rate-unit").unwrap_or_else(|| panic!("{:?}", compiled.problems));
    assert!(problem.to_string().contains("`own`"), "{problem}");
}

/// A key of one's own has no declared unit; the input that asks for it says what is due.
#[test]
fn a_rate_of_ones_own_key_is_held_to_the_input_that_asks() {
    let mut bench = Bench::new();
    bench.product("processes/test-own-rate", &[]);
    bench.rate(bench.study, "own.fee", "2 EUR");
    assert!(cost(&bench.clean()) > 0.0);
    bench.rate(bench.study, "own.fee", "2 EUR/kg");
    let study = bench.compile();
    let problem = study.problems.iter().find(|d| d.code == "rate-unit").expect("refused");
    assert!(format!("{problem} {:?}", problem.place).contains("rate/own.fee"), "{problem:?}");
    assert!(study.problems.iter().all(|d| d.code != "input-missing"), "one cause, one message: {:?}", study.problems);
}
