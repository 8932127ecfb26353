//! Material: gross from net, scrap, exchange metal and premium.

use super::bench::{Bench, at, cost, kind, library, near, same, text};
use tare_model::Field;
use tare_study::{CostKind, LineRef};

/// Gross from net through the whole route: net 4.0 kg at a material use of 62 % is 6.452 kg; at 3.40 per kg and 95 % of the offcut
/// recovered at 1.40: 18.675.
#[test]
fn gross_from_net_through_the_route() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-blank", &[("material_use", "0.62"), ("recovery", "0.95")]);
    bench.set(made, Field::Material, text("EN-AW-6082-T6"));
    bench.value(made, "mass", "4.0 kg");
    for (key, rate) in
        [("index.aluminium", "2.00 EUR/kg"), ("premium.EN-AW-6082-T6", "1.40 EUR/kg"), ("scrap_share.aluminium", "0.7")]
    {
        bench.rate(bench.study, key, rate);
    }
    let study = bench.clean();
    near(at(&study, &format!("{}/op1/gross", study.items[0].address)), 6.452, 0.0005);
    near(cost(&study), 18.675, 0.0005);
    same(kind(&study, CostKind::Material), cost(&study));
}

/// Add machined-off stock back to the weighed mass: what later steps of the route take off, stated on the item.
#[test]
fn machined_off_stock_is_added_back() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-blank", &[("material_use", "0.5")]);
    bench.set(made, Field::Material, text("EN-AW-6082-T6"));
    bench.values(made, &[("mass", "4.0 kg"), ("machined_off", "1 kg")]);
    bench.rate(bench.study, "price.EN-AW-6082-T6", "2 EUR/kg");
    near(bench.cost(), 20.0, 1e-9);
}

/// The same stated on the operation itself.
#[test]
fn machined_off_stock_stated_on_the_operation_is_added_back() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-blank", &[("material_use", "0.5"), ("machined_off", "1 kg")]);
    bench.set(made, Field::Material, text("EN-AW-6082-T6"));
    bench.value(made, "mass", "4.0 kg");
    bench.rate(bench.study, "price.EN-AW-6082-T6", "2 EUR/kg");
    near(bench.cost(), 20.0, 1e-9);
}

/// Scrap never earns the new price: for no material of the library in either illustrative book.
#[test]
fn scrap_never_earns_the_new_price() {
    for (book, currency) in [("region-a", "EUR"), ("region-b", "USD")] {
        let mut bench = Bench::new();
        bench.set(bench.study, Field::Book, text(book));
        bench.set(bench.study, Field::Currency, text(currency));
        let pack = bench.item("Pack");
        let top = bench.part(pack, None, 1.0);
        let mut keys = Vec::new();
        for material in library().materials() {
            let made = bench.item(&material.key);
            bench.set(made, Field::Material, text(&material.key));
            bench.value(made, "mass", "1 kg");
            bench.bulk(made, top, 1.0);
            bench.operation(made, "processes/test-blank", &[("material_use", "0.5"), ("recovery", "1")]);
            keys.push(material.key.clone());
        }
        let study = bench.compile();
        let mut seen = 0;
        for key in keys {
            let (Some(paid), Some(scrap)) =
                (study.lines.find(&format!("{key}/price/price_paid")), study.lines.find(&format!("{key}/price/scrap_price")))
            else {
                continue;
            };
            seen += 1;
            let (paid, scrap) = (study.value(paid), study.value(scrap));
            assert!(scrap < paid && scrap >= 0.0, "{book}: {key} costs {paid} and its scrap earns {scrap}");
        }
        assert!(seen > 30, "{seen} materials have a price in {book}");
    }
}

/// The premium for alloy, form and conversion is not earned by scrap.
#[test]
fn scrap_earns_a_share_of_the_metal_alone() {
    let paid = |premium: &str| {
        let mut bench = Bench::new();
        let (made, _) = bench.product("processes/test-blank", &[("material_use", "0.5"), ("recovery", "1")]);
        bench.set(made, Field::Material, text("copper-ETP"));
        bench.value(made, "mass", "1 kg");
        for (key, rate) in [("index.copper", "8 EUR/kg"), ("premium.copper-ETP", premium), ("scrap_share.copper", "0.9")] {
            bench.rate(bench.study, key, rate);
        }
        bench.cost()
    };
    // Two kilograms bought, one sold.
    near(paid("0 EUR/kg"), 16.0 - 7.2, 1e-9);
    near(paid("2 EUR/kg"), 20.0 - 7.2, 1e-9);
}

/// Price = exchange metal (one shared leaf) + premium (own leaves): two alloys move together with their metal.
#[test]
fn exchange_metal_is_one_shared_leaf_for_two_alloys() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for key in ["EN-AW-6082-T6", "EN-AC-43500"] {
        let made = bench.item(key);
        bench.set(made, Field::Material, text(key));
        bench.value(made, "mass", "1 +- 0 kg");
        bench.bulk(made, top, 1.0);
        bench.operation(made, "processes/test-blank", &[("material_use", "1")]);
        bench.rate(bench.study, &format!("premium.{key}"), "1.00 +- 0.20 EUR/kg");
    }
    bench.rate(bench.study, "index.aluminium", "2.00 +- 0.40 EUR/kg");
    bench.rate(bench.study, "scrap_share.aluminium", "0.5");
    let study = bench.clean();
    let named = |name: &str| study.lines.leaves.iter().filter(|l| l.name == name).count();
    assert_eq!(named("index.aluminium"), 1);
    assert_eq!(named("premium.EN-AW-6082-T6") + named("premium.EN-AC-43500"), 2);
    near(cost(&study), 6.0, 1e-9);
    // k = 2: metal 0.2 each way together, premiums 0.1 apart.
    let u = study.standard_uncertainty(study.totals.cost.expect("a cost"));
    near(u, (0.4f64.powi(2) + 0.1f64.powi(2) + 0.1f64.powi(2)).sqrt(), 1e-9);
    let metal = study.grounds(study.totals.cost.expect("a cost")).drivers[0].leaf;
    assert!(matches!(metal, LineRef::Leaf(_)) && study.lines.name(metal) == "index.aluminium");
}

/// Two parts nested in one blank share it by gross mass: each buys what it takes.
#[test]
fn parts_of_one_blank_share_it_by_gross_mass() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    bench.rate(bench.study, "price.steel-DC04", "1 EUR/kg");
    // A blank of 5 kg gives a frame of 3 kg and, from its opening, a bracket of 1 kg: 80 % of it is used by both.
    for (name, mass) in [("Frame", "3 kg"), ("Bracket", "1 kg")] {
        let made = bench.item(name);
        bench.set(made, Field::Material, text("steel-DC04"));
        bench.value(made, "mass", mass);
        bench.bulk(made, top, 1.0);
        bench.operation(made, "processes/test-blank", &[("material_use", "0.8")]);
    }
    near(bench.cost(), 5.0, 1e-9);
}
