//! Currencies: opaque codes, and a dated rate between any two.

use super::bench::{Bench, cost, error, near, text};
use tare_model::{Field, FieldValue, Id, Kind};

/// A pack of a cell quoted in USD and 10 EUR of work.
fn quoted_in_dollars() -> (Bench, Id) {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let cell = bench.add(Kind::Item, None, &[(Field::Name, text("Cell")), (Field::Make, text("buy"))]);
    bench.bulk(cell, top, 1.0);
    bench.operation(pack, "processes/test-step", &[("spent", "10 EUR")]);
    let quote = bench.add(Kind::Quote, None, &[(Field::Item, FieldValue::Ref(cell)), (Field::State, text("used"))]);
    bench.value(quote, "price", "100 USD");
    (bench, cell)
}

/// A quote in another currency is turned into the study's by the book's rate.
#[test]
fn a_quote_in_dollars_needs_a_rate_and_takes_it() {
    let (mut bench, _) = quoted_in_dollars();
    bench.rate(bench.study, "exchange.USD", "0.92 EUR");
    let study = bench.clean();
    near(cost(&study), 102.0, 1e-9);
    assert_eq!(study.lines.unit(study.totals.cost.expect("a cost")).text, "EUR");
}

/// Without a rate it is an error, once, and nothing is added up across currencies.
#[test]
fn a_quote_in_dollars_without_a_rate_is_an_error() {
    let (bench, cell) = quoted_in_dollars();
    let study = bench.compile();
    let said = error(&study, "exchange-missing").expect("an error");
    assert!(said.contains("USD") && said.contains("EUR") && said.contains("exchange.USD"), "{said}");
    assert_eq!(study.problems.iter().filter(|d| d.code == "exchange-missing").count(), 1);
    // The item is not costed; the rest of the product keeps its number.
    assert!(study.items.iter().find(|i| i.id == cell).expect("the cell").uncosted);
    near(cost(&study), 10.0, 1e-9);
}

/// The rate is one variable: two amounts in one foreign currency move together.
#[test]
fn the_rate_of_a_currency_is_one_variable() {
    let (mut bench, _) = quoted_in_dollars();
    bench.rate(bench.study, "exchange.USD", "0.90 +- 0.10 EUR");
    let board = bench.bought("Board", "100 USD");
    let top = bench.top();
    bench.bulk(board, top, 1.0);
    let study = bench.clean();
    near(cost(&study), 190.0, 1e-9);
    let rates = study.lines.leaves.iter().filter(|l| l.name == "USD").count();
    assert_eq!(rates, 1);
    let u = study
        .grounds(study.totals.cost.expect("a cost"))
        .drivers
        .iter()
        .find(|d| study.lines.name(d.leaf) == "USD")
        .map(|d| d.contribution)
        .expect("the rate is a driver");
    near(u, 200.0 * 0.05, 1e-9);
}

/// Literals, defaults and table cells of the library in other currencies take the same rate.
#[test]
fn amounts_of_the_library_take_the_rate_too() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let cell = bench.add(
        Kind::Item,
        None,
        &[(Field::Name, text("Cell")), (Field::Make, text("buy")), (Field::Calculation, text("purchases/cell-purchase"))],
    );
    bench.bulk(cell, top, 1.0);
    // A price of the table, in USD per kWh; the volume is such that it is not moved.
    bench.values(
        cell,
        &[
            ("chemistry", "LFP"),
            ("capacity", "100 A*h"),
            ("voltage", "10 V"),
            ("mass", "5 kg"),
            ("dangerous", "0 EUR/kg"),
            ("slope", "0"),
        ],
    );
    bench.rate(bench.study, "exchange.USD", "0.5 EUR");
    near(bench.cost(), 65.0 * 0.5, 1e-9);
    bench.rate(bench.study, "exchange.USD", "1 EUR");
    near(bench.cost(), 65.0, 1e-9);
}

/// A study without a currency says so.
#[test]
fn a_study_names_its_currency() {
    let mut bench = Bench::new();
    bench.product("processes/test-step", &[("spent", "10 EUR")]);
    bench.set(bench.study, Field::Currency, text("euros"));
    assert!(error(&bench.compile(), "currency-missing").is_some());
}
