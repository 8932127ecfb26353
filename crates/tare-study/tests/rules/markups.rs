//! Mark-ups and organisations.

use super::bench::{Bench, cost, error, kind, kinds, near, same, text};
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::CostKind;

/// An organisation with the mark-ups stated, on a plain sum of cost.
fn maker(bench: &mut Bench, name: &str, shares: &[(&str, &str)]) -> Id {
    let maker = bench.organisation(name);
    for share in ["sga", "profit", "engineering", "handling"] {
        bench.rate(maker, &format!("markup.{share}"), "0");
    }
    for (share, said) in shares {
        bench.rate(maker, share, said);
    }
    maker
}

fn made_by(bench: &mut Bench, item: Id, organisation: Id) {
    bench.set(item, Field::Organisation, FieldValue::Ref(organisation));
}

/// 8 % of cost on 100: 108.00.
#[test]
fn a_share_of_cost_is_added() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-step", &[("spent", "100 EUR")]);
    let supplier = maker(&mut bench, "Supplier", &[("markup.profit", "8 %")]);
    made_by(&mut bench, made, supplier);
    near(bench.cost(), 108.00, 1e-9);
}

/// 8 % margin on price: 108.70. Each mark-up names its base.
#[test]
fn a_margin_on_price_is_more() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-step", &[("spent", "100 EUR")]);
    let supplier = maker(&mut bench, "Supplier", &[("margin", "8 %")]);
    bench.set(supplier, Field::BuildUp, text("build-up/test-margin"));
    made_by(&mut bench, made, supplier);
    near(bench.cost(), 108.70, 0.005);
    near(bench.cost(), 100.0 / 0.92, 1e-9);
}

/// Four mark-ups of 0.7, 7, 8, 6 % on 100, each on manufacturing cost: 121.70.
#[test]
fn four_markups_added() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-step", &[("spent", "100 EUR")]);
    let shares = [("tier.scrap", "0.7 %"), ("markup.sga", "7 %"), ("markup.profit", "8 %"), ("markup.engineering", "6 %")];
    let supplier = maker(&mut bench, "Supplier", &shares);
    made_by(&mut bench, made, supplier);
    near(bench.cost(), 121.70, 1e-9);
    // What each is taken on can be followed.
    let study = bench.clean();
    let step = study.step(super::bench::line(&study, "P1/mark-up/profit"));
    assert!(step.formula.contains("manufacturing"), "{}", step.formula);
}

/// The same four compounded: 1.007 * 1.07 * 1.08 * 1.06 = 1.2335106. (The rules print 123.36; the product is 123.35.)
#[test]
fn four_markups_compounded() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-step", &[("spent", "100 EUR")]);
    let supplier = maker(&mut bench, "Supplier", &[]);
    bench.set(supplier, Field::BuildUp, text("build-up/test-compounded"));
    made_by(&mut bench, made, supplier);
    near(bench.cost(), 123.35106, 0.00001);
}

/// Mark-up is taken where an item crosses from one organisation to another: a chain of two tiers.
#[test]
fn markup_is_taken_where_an_item_crosses() {
    let mut bench = Bench::new();
    let (pack, module) = (bench.item("Pack"), bench.item("Module"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(module, top, 2.0);
    bench.operation(module, "processes/test-step", &[("spent", "50 EUR")]);
    bench.operation(pack, "processes/test-step", &[("spent", "20 EUR")]);
    let integrator = maker(&mut bench, "Integrator", &[("markup.profit", "10 %")]);
    let supplier = maker(&mut bench, "Supplier", &[("markup.profit", "8 %")]);
    made_by(&mut bench, pack, integrator);
    // One organisation makes both: nothing is added between them.
    near(bench.cost(), 120.0 * 1.10, 1e-9);
    made_by(&mut bench, module, integrator);
    near(bench.cost(), 120.0 * 1.10, 1e-9);
    // The module comes from another: 2 * 54 into the pack, which is marked up as a whole.
    made_by(&mut bench, module, supplier);
    let study = bench.clean();
    near(cost(&study), (2.0 * 50.0 * 1.08 + 20.0) * 1.10, 1e-9);
    near(kind(&study, CostKind::Profit), 8.0 + 12.8, 1e-9);
    near(kind(&study, CostKind::Consumable), 120.0, 1e-9);
}

/// Over three tiers each mark-up is taken once on what the tier before asks, and never on the tool that is paid with the piece.
#[test]
fn no_markup_is_taken_on_itself_over_three_tiers() {
    let mut bench = Bench::new();
    let items = ["Pack", "Module", "Bracket"].map(|name| bench.item(name));
    let top = bench.part(items[0], None, 1.0);
    let inner = bench.bulk(items[1], top, 2.0);
    bench.bulk(items[2], inner, 3.0);
    for (item, spent) in items.iter().zip(["20 EUR", "30 EUR", "10 EUR"]) {
        bench.operation(*item, "processes/test-step", &[("spent", spent)]);
    }
    bench.rate(bench.study, "interest", "0 1/a");
    // 6000 brackets a year over 5 years: 1 EUR each.
    bench.operation(items[2], "processes/test-tool", &[("cost", "30000 EUR"), ("life", "1000000")]);
    for (item, name, profit) in [(items[0], "One", "10 %"), (items[1], "Two", "20 %"), (items[2], "Three", "50 %")] {
        let tier = maker(&mut bench, name, &[("markup.profit", profit)]);
        made_by(&mut bench, item, tier);
    }
    let study = bench.clean();
    let bracket = 10.0 * 1.5;
    let module = (3.0 * bracket + 30.0) * 1.2;
    near(cost(&study), (2.0 * module + 20.0) * 1.1 + 6.0 * 1.0, 1e-9);
    near(kind(&study, CostKind::Profit), 6.0 * 5.0 + 2.0 * 15.0 + 20.0, 1e-9);
    near(kind(&study, CostKind::Tooling), 6.0, 1e-9);
    super::places::closes(&study);
}

/// Without organisations nothing crosses.
#[test]
fn no_organisation_no_markup() {
    let mut bench = Bench::new();
    bench.product("processes/test-step", &[("spent", "100 EUR")]);
    for share in ["sga", "profit", "engineering"] {
        bench.rate(bench.study, &format!("markup.{share}"), "10 %");
    }
    same(bench.cost(), 100.0);
}

/// A pack of a bought item and 10 EUR of work, made by an organisation with 10 % profit and 2 % handling.
fn buys(make: &str) -> Bench {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let cell = bench.add(Kind::Item, None, &[(Field::Name, text("Cell")), (Field::Make, text(make))]);
    bench.value(cell, "price", "1000 EUR");
    bench.bulk(cell, top, 1.0);
    bench.operation(pack, "processes/test-step", &[("spent", "10 EUR")]);
    let integrator = maker(&mut bench, "Integrator", &[("markup.profit", "10 %"), ("markup.handling", "2 %")]);
    made_by(&mut bench, pack, integrator);
    bench
}

/// A quote already holds the supplier's own: the buyer's mark-ups are taken, the supplier's are not taken again.
#[test]
fn a_quote_carries_no_markup_of_its_supplier() {
    let mut bench = buys("buy");
    near(bench.cost(), 1010.0 * 1.10, 1e-9);
    // Naming who sells it changes nothing.
    let cell = bench.clean().items[1].id;
    let seller = maker(&mut bench, "Seller", &[("markup.profit", "25 %")]);
    made_by(&mut bench, cell, seller);
    near(bench.cost(), 1010.0 * 1.10, 1e-9);
    // A quote in use takes the place of the stated price, whole.
    let quote = bench.add(Kind::Quote, None, &[(Field::Item, FieldValue::Ref(cell)), (Field::State, text("used"))]);
    bench.value(quote, "price", "900 EUR");
    near(bench.cost(), 910.0 * 1.10, 1e-9);
}

/// Directed or consigned parts take handling only.
#[test]
fn consigned_parts_take_handling_only() {
    let study = buys("consigned").clean();
    near(kind(&study, CostKind::Overhead), 20.0, 1e-9);
    near(kind(&study, CostKind::Profit), 1.0, 1e-9);
    near(cost(&study), 1000.0 + 10.0 + 20.0 + 1.0, 1e-9);
}

/// No profit is taken on tools that are paid with the piece.
#[test]
fn no_profit_on_tools_in_the_piece_price() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-tool", &[("cost", "1000 EUR"), ("life", "1000000")]);
    bench.operation(made, "processes/test-step", &[("spent", "10 EUR")]);
    let supplier = maker(&mut bench, "Supplier", &[("markup.profit", "10 %")]);
    made_by(&mut bench, made, supplier);
    let found = kinds(&bench.clean());
    near(found[&CostKind::Profit], 1.0, 1e-9);
    assert!(found[&CostKind::Tooling] > 0.2);
}

/// Each node is either costed here or the sum of its children: both is an error.
#[test]
fn costed_here_with_costed_children_is_an_error() {
    let mut bench = Bench::new();
    let (pack, bracket) = (bench.item("Pack"), bench.item("Bracket"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(bracket, top, 1.0);
    bench.set(pack, Field::Costed, text("here"));
    bench.value(pack, "price", "100 EUR");
    bench.operation(bracket, "processes/test-step", &[("spent", "10 EUR")]);
    let study = bench.compile();
    let said = study.problems.iter().find(|d| d.is_error()).expect("an error");
    assert!(said.place.is_some(), "{said}");
}

/// Work recorded on a bought item would add nothing: that is said.
#[test]
fn work_on_a_bought_item_is_an_error() {
    let mut bench = Bench::new();
    let (pack, casting) = (bench.item("Pack"), bench.bought("Casting", "20 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(casting, top, 1.0);
    same(bench.cost(), 20.0);
    bench.operation(casting, "processes/test-step", &[("spent", "5 EUR")]);
    let said = error(&bench.compile(), "costed-twice").expect("an error");
    assert!(said.contains("Casting") && said.contains("item P2"), "{said}");
}

/// An item that is costed as a whole takes mass and time from its children, not cost.
#[test]
fn costed_here_takes_no_cost_from_children() {
    let mut bench = Bench::new();
    let (pack, board) = (bench.item("Pack"), bench.bought("Board", "100 EUR"));
    let top = bench.part(pack, None, 1.0);
    let inner = bench.bulk(board, top, 1.0);
    let chip = bench.bought("Chip", "30 EUR");
    bench.value(chip, "mass", "2 g");
    bench.bulk(chip, inner, 4.0);
    let study = bench.clean();
    same(cost(&study), 100.0);
    near(study.value(study.totals.mass.expect("a mass")), 0.008, 1e-12);
    assert!(error(&study, "uncosted").is_none());
}

/// What an organisation states of its own holds for it alone: wages of two makers in one study.
#[test]
fn each_organisation_has_its_own_wages() {
    let mut bench = Bench::new();
    let (pack, module) = (bench.item("Pack"), bench.item("Module"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(module, top, 1.0);
    for made in [module, pack] {
        bench.operation(made, "processes/test-press", &[("cycle", "1 h"), ("rate", "0 EUR/h")]);
    }
    let integrator = maker(&mut bench, "Maker", &[("wage.operator", "30 EUR/h")]);
    let supplier = maker(&mut bench, "Maker", &[("wage.operator", "10 EUR/h")]);
    made_by(&mut bench, pack, integrator);
    made_by(&mut bench, module, supplier);
    near(bench.cost(), 40.0, 1e-9);
}
