//! Uncertainty: no false precision, shared errors, evidence.

use super::bench::{Bench, cost, near, same, text};
use tare_model::{Field, Id};
use tare_study::{Evidence, LineRef, Study};
use tare_units::Spread;

fn total(study: &Study) -> LineRef {
    study.totals.cost.expect("a cost")
}

/// Relative standard uncertainty of the product's cost.
fn relative(study: &Study) -> f64 {
    study.standard_uncertainty(total(study)) / cost(study)
}

/// A product of parts made by one calculation, each with inputs of its own spread.
fn hundred(key: &str, stated: &[(&str, &str)]) -> Study {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for number in 0..100 {
        let made = bench.item(&format!("Part {number}"));
        bench.bulk(made, top, 1.0);
        bench.operation(made, key, stated);
    }
    bench.clean()
}

/// Independent default spreads over a hundred parts shrink a total to 1 to 2 %: false precision. The method's error is shared and stays.
#[test]
fn a_shared_method_error_does_not_shrink_over_a_hundred_parts() {
    // Method +- 20 % (k = 2), each part's own input +- 30 %.
    let study = hundred("processes/test-made", &[("spent", "10 +- 3 EUR")]);
    near(cost(&study), 1000.0, 1e-9);
    near(relative(&study), 0.10f64.hypot(0.15 / 10.0), 1e-9);
    // Without a method error the same parts would claim 1.5 %.
    let falsely = hundred("processes/test-step", &[("spent", "10 +- 3 EUR")]);
    near(relative(&falsely), 0.015, 1e-9);
}

/// So it is with a process of the library: a hundred mouldings of different parts.
#[test]
fn a_hundred_mouldings_keep_the_methods_error() {
    let mut bench = Bench::new();
    bench.set(bench.study, Field::Book, text("region-a"));
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for number in 0..100 {
        let made = bench.item(&format!("Part {number}"));
        bench.set(made, Field::Material, text("PA66-GF30"));
        bench.values(
            made,
            &[
                ("mass", &format!("{} g", 20 + number)),
                ("length", "120 mm"),
                ("width", "80 mm"),
                ("height", "20 mm"),
                ("wall_thickness", "2.5 mm"),
            ],
        );
        bench.bulk(made, top, 1.0);
        bench.operation(made, "processes/injection-moulding", &[]);
    }
    let study = bench.clean();
    let grounds = study.grounds(total(&study));
    let method = grounds
        .drivers
        .iter()
        .find(|d| study.lines.address(d.leaf) == "processes/injection-moulding/method")
        .expect("the method's error is a driver");
    assert!(grounds.standard_uncertainty >= method.contribution.abs());
    assert!(relative(&study) > 0.02, "{}", relative(&study));
}

/// Two calculations have two method errors.
#[test]
fn each_calculation_has_one_method_error() {
    let study = hundred("processes/test-made", &[("spent", "10 EUR")]);
    assert_eq!(study.lines.leaves.iter().filter(|l| l.name == "method").count(), 1);
}

/// Each time system carries one shared method error: all elementary motions of a study move together.
#[test]
fn a_time_system_has_one_method_error() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for number in 0..20 {
        let plate = bench.bought(&format!("Plate {number}"), "1 EUR");
        bench.values(plate, &[("mass", &format!("{} g", 100 + 10 * number)), ("size", "100 mm")]);
        bench.part(plate, Some(top), 1.0);
    }
    let study = bench.clean();
    let named = |at: &str| (0..study.lines.leaves.len() as u32).filter(|l| study.lines.address(LineRef::Leaf(*l)) == at).count();
    assert_eq!(named("motions/tmu/method"), 1);
    // +- 10 % (k = 2) of every motion: 5 % of the total stays, however many parts there are.
    let manual = study.totals.manual.expect("a time");
    let grounds = study.grounds(manual);
    let bias = grounds.drivers.iter().find(|d| study.lines.address(d.leaf) == "motions/tmu/method").expect("a driver");
    near(bias.contribution.abs() / study.value(manual), 0.05, 1e-3);
}

/// A product of one item with values of two classes of evidence.
fn mixed() -> Study {
    let mut bench = Bench::new();
    let (made, blank) = bench.product("processes/test-blank", &[("recovery", "0")]);
    bench.set(made, Field::Material, text("steel-DC04"));
    bench.another(made, "mass", "2 +- 0.02 kg", "measured");
    bench.another(blank, "material_use", "0.5 +- 0.1", "assumed");
    bench.rate(bench.study, "price.steel-DC04", "1 EUR/kg");
    let cell = bench.add(
        tare_model::Kind::Operation,
        Some(made),
        &[(Field::Name, text("bought step")), (Field::Calculation, text("processes/test-step"))],
    );
    bench.another(cell, "spent", "4 +- 0.4 EUR", "quoted");
    bench.clean()
}

/// Evidence share of a cost: by elasticity; the classes add to one.
#[test]
fn evidence_shares_are_by_elasticity_and_add_to_one() {
    let study = mixed();
    near(cost(&study), 8.0, 1e-9);
    let grounds = study.grounds(total(&study));
    near(grounds.shares.iter().map(|(_, s)| s).sum::<f64>(), 1.0, 1e-12);
    let share = |e: Evidence| grounds.shares.iter().find(|(c, _)| *c == e).map_or(0.0, |(_, s)| *s);
    // Elasticities: mass 1/2, price and material use (both assumed) 1/2 each, quote 1/2, and the counted product 1. What holds by
    // definition (a yield of one, one piece a cycle) is no evidence.
    near(share(Evidence::Measured), 1.5 / 3.0, 1e-9);
    near(share(Evidence::Assumed), 1.0 / 3.0, 1e-9);
    near(share(Evidence::Quoted), 0.5 / 3.0, 1e-9);
    near(share(Evidence::Derived), 0.0, 1e-12);
}

/// The weakest link stands beside it: the leaf that carries most of the spread.
#[test]
fn the_weakest_link_stands_first() {
    let study = mixed();
    let grounds = study.grounds(total(&study));
    // Material use 4 * 10 % = 0.4, quote 0.2, mass 4 * 0.5 % = 0.02; the price is stated without spread.
    let names: Vec<&str> = grounds.drivers.iter().map(|d| study.lines.name(d.leaf)).collect();
    assert_eq!(names, ["material_use", "spent", "mass"]);
    near(grounds.drivers[0].contribution.abs(), 0.4, 1e-9);
    near(grounds.standard_uncertainty, (0.4f64.powi(2) + 0.2f64.powi(2) + 0.02f64.powi(2)).sqrt(), 1e-9);
}

/// A wage is one variable for all that hangs on it.
#[test]
fn a_wage_is_one_variable() {
    let mut bench = Bench::new();
    bench.rate(bench.study, "wage.operator", "36 +- 3.6 EUR/h");
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for number in 0..50 {
        let made = bench.item(&format!("Part {number}"));
        bench.bulk(made, top, 1.0);
        bench.operation(made, "processes/test-press", &[("cycle", "100 s"), ("rate", "0 EUR/h")]);
    }
    let study = bench.clean();
    near(cost(&study), 50.0, 1e-9);
    near(relative(&study), 0.05, 1e-9);
}

/// A stated value without a spread takes the default of its quantity and evidence; a count takes none.
#[test]
fn default_spreads_by_evidence_and_none_for_counts() {
    let spread = |evidence: &str| {
        let mut bench = Bench::new();
        let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "1 EUR"));
        let top = bench.part(pack, None, 1.0);
        bench.bulk(plate, top, 7.0);
        bench.another(plate, "mass", "1 kg", evidence);
        let study = bench.clean();
        let mass = study.totals.mass.expect("a mass");
        study.standard_uncertainty(mass) / study.value(mass)
    };
    // quantities.toml: +- 0.2 % measured, +- 30 % assumed, k = 2.
    near(spread("measured"), 0.001, 1e-12);
    near(spread("assumed"), 0.15, 1e-12);
}

/// Where the result has no finite slope along a leaf with a spread, its uncertainty is not known, and says why; an exact leaf does no harm.
#[test]
fn an_infinite_slope_makes_the_uncertainty_unknown() {
    let rooted = |depth: &str| {
        let mut bench = Bench::new();
        let plate = bench.bought("Plate", "1 EUR");
        bench.part(plate, None, 1.0);
        let mass = bench.another(plate, "mass", "estimated", "derived");
        bench.set(mass, Field::Calculation, text("estimates/test-root"));
        bench.another(plate, "depth", depth, "measured");
        bench.another(plate, "wall_thickness", "2 +- 0.2 mm", "measured");
        let study = bench.clean();
        let mass = study.totals.mass.expect("a mass");
        (study.value(mass), study.grounds(mass), study.why_unknown(mass))
    };
    // sqrt(4) + 2 with slopes 1/4 and 1.
    let (value, grounds, why) = rooted("4 +- 0.8 mm");
    same(value, 4.0);
    near(grounds.standard_uncertainty, 0.1f64.hypot(0.1), 1e-12);
    assert!(grounds.unknown.is_empty() && why.is_none());
    let (value, grounds, why) = rooted("0 +- 0.8 mm");
    same(value, 2.0);
    assert!(grounds.standard_uncertainty.is_nan());
    assert_eq!(grounds.unknown.len(), 1);
    assert_eq!(why.expect("a reason"), "not known: no finite slope along item P1/depth");
    let (_, grounds, _) = rooted("0 +- 0 mm");
    near(grounds.standard_uncertainty, 0.1, 1e-12);
}

/// One pack number is split into with and without the dominant bought item.
#[test]
fn the_headline_is_split_by_the_dominant_bought_item() {
    let mut bench = Bench::new();
    let (pack, cell): (Id, Id) = (bench.item("Pack"), bench.bought("Cell", "20 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(cell, top, 96.0);
    bench.set(cell, Field::Dominant, tare_model::FieldValue::Flag(true));
    bench.operation(pack, "processes/test-step", &[("spent", "80 EUR")]);
    let study = bench.clean();
    same(cost(&study), 2000.0);
    same(study.value(study.totals.without_dominant.expect("a second headline")), 80.0);
}

/// The mean of a line over draws of every normal leaf.
fn drawn_mean(study: &Study, line: LineRef) -> f64 {
    use tare_engine::sample::{Distribution, Sampler, Source, Stream};
    let sources = study.lines.leaves.iter().enumerate().map(|(number, leaf)| match leaf.quantity.spread {
        Some(Spread::Normal { u }) => Some(Source {
            stream: Stream::new(&number.to_string(), 1),
            distribution: Distribution::Normal { mean: leaf.quantity.value, deviation: u },
        }),
        _ => None,
    });
    let sampler = Sampler { sources: sources.collect(), correlation: None };
    let random: Vec<bool> = sampler.sources.iter().map(Option::is_some).collect();
    let tape = tare_engine::Tape::new(&study.lines.graph, &study.values, &random, &[study.lines.node(line)]);
    let drawn = tape.sample(&sampler, 0..800, tare_engine::How::default()).expect("not stopped");
    tare_engine::stats::Sample::new(&drawn[0]).mean()
}

/// E[max] is more than the max of means: what is computed at the stated values hides it, draws show it.
#[test]
fn the_mean_of_the_longest_station_is_more_than_the_longest_mean() {
    let mut bench = Bench::new();
    bench.product(
        "processes/test-cell",
        &[("station", "30 +- 6 s; 30 +- 6 s"), ("index", "0 s"), ("nests", "1"), ("yield", "1"), ("rate", "36 EUR/h")],
    );
    let study = bench.clean();
    // For two equal normals the mean of the larger is u / sqrt(pi) above theirs: 30 + 3 / 1.7725.
    same(cost(&study) / 0.01, 30.0);
    let drawn = drawn_mean(&study, study.totals.cost.expect("a total")) / 0.01;
    near(drawn, 30.0 + 3.0 / std::f64::consts::PI.sqrt(), 0.05);
}
