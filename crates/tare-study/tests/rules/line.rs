//! Lines of stations: paid time, operators, takt.

use super::bench::{Bench, kind, near, same, text};
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::{CostKind, Study};

/// Three stations of 140, 140 and 130 s on a line with a takt of 150 s, one person each, no allowance.
fn line(bench: &mut Bench) -> Vec<Id> {
    bench.value(bench.scenario, "takt", "150 s");
    let pack = bench.item("Pack");
    bench.part(pack, None, 1.0);
    let line = bench.add(Kind::Line, None, &[(Field::Name, text("Line 1"))]);
    ["140 s", "140 s", "130 s"]
        .iter()
        .map(|work| {
            let plain = [
                ("manual_time", *work),
                ("yield", "1"),
                ("allowance", "0"),
                ("performance", "1"),
                ("setup", "0 s"),
                ("price", "0 EUR"),
                ("power", "0 kW"),
                ("floor", "0 m^2"),
            ];
            let station = bench.operation(pack, "processes/station-manual", &plain);
            bench.set(station, Field::Line, FieldValue::Ref(line));
            station
        })
        .collect()
}

fn balance(study: &Study) -> (f64, f64, f64) {
    let row = &study.line_balances[0];
    assert_eq!(row.stations.len(), 3);
    let value = |l: Option<tare_study::LineRef>| study.value(l.expect("a balanced line"));
    (value(row.work), value(row.operators), value(row.paid))
}

/// Paid line time = operators x takt: 410 s of work at a takt of 150 s pays 450 s.
#[test]
fn paid_line_time_is_operators_times_takt() {
    let mut bench = Bench::new();
    line(&mut bench);
    let study = bench.clean();
    let (work, operators, paid) = balance(&study);
    near(work, 410.0, 1e-9);
    same(operators, 3.0);
    near(paid, 450.0, 1e-9);
    // 450 s at 36 EUR/h reach the piece.
    near(kind(&study, CostKind::Labour), 4.50, 1e-9);
}

/// Saving 20 s frees nobody; seconds and operators stand apart.
#[test]
fn saving_20_s_frees_nobody() {
    let mut bench = Bench::new();
    let stations = line(&mut bench);
    bench.value(stations[0], "manual_time", "120 s");
    let study = bench.clean();
    let (work, operators, paid) = balance(&study);
    near(work, 390.0, 1e-9);
    same(operators, 3.0);
    near(paid, 450.0, 1e-9);
    near(kind(&study, CostKind::Labour), 4.50, 1e-9);
    // 110 s more do: 300 s fill two operators exactly.
    bench.value(stations[1], "manual_time", "50 s");
    let freed = bench.clean();
    same(balance(&freed).1, 2.0);
    near(kind(&freed, CostKind::Labour), 3.00, 1e-9);
}

/// One loss is carried once: the line loss of a station is not taken on a line that is balanced.
#[test]
fn line_loss_is_carried_once() {
    let mut bench = Bench::new();
    line(&mut bench);
    bench.rate(bench.study, "line_loss", "50 %");
    let study = bench.clean();
    near(balance(&study).0, 410.0, 1e-9);
    near(kind(&study, CostKind::Labour), 4.50, 1e-9);
}

/// Takt = productive hours a year over volume, where none is stated.
#[test]
fn takt_is_productive_hours_over_volume() {
    let mut bench = Bench::new();
    line(&mut bench);
    let takt = |bench: &Bench| {
        let study = bench.clean();
        study.value(study.line_balances[0].takt.expect("a takt"))
    };
    near(takt(&bench), 150.0, 1e-9);
    let mut computed = Bench::new();
    line(&mut computed);
    computed.forget(computed.scenario, "takt");
    computed.value(computed.scenario, "volume", "20000 1/a");
    // 4000 h a year for 20 000.
    near(takt(&computed), 720.0, 1e-6);
}

/// A part is put in where it is joined: getting and placing a lid that the third station glues on is the third station's work, and what no
/// joint names is the first's.
#[test]
fn a_part_is_put_in_at_the_first_station_that_joins_it() {
    let mut bench = Bench::new();
    let stations = line(&mut bench);
    // what a station does by hand is then what its parts and joints take
    stations.iter().for_each(|station| bench.forget(*station, "manual_time"));
    let (lid, label) = (bench.bought("Lid", "0 EUR"), bench.bought("Label", "0 EUR"));
    for item in [lid, label] {
        bench.values(item, &[("mass", "1 kg"), ("size", "300 mm"), ("thickness", "20 mm")]);
    }
    let top = bench.top();
    let lid = bench.part(lid, Some(top), 1.0);
    let cycles = |bench: &Bench| -> Vec<f64> {
        let study = bench.compile();
        study.line_balances[0].stations.iter().map(|(_, cycle)| study.value(*cycle)).collect()
    };
    let unjoined = cycles(&bench);
    let joint = bench.joint("joints/test-glue", &[lid], &[("laid", "0 s"), ("cure_held", "0 s")]);
    bench.set(joint, Field::Operation, FieldValue::Ref(stations[2]));
    let joined = cycles(&bench);
    let moved = unjoined[0] - joined[0];
    assert!(moved > 1.0, "{unjoined:?} {joined:?}");
    near(joined[2] - unjoined[2], moved, 1e-9);
    same(joined[1], unjoined[1]);
    bench.part(label, Some(top), 1.0);
    let both = cycles(&bench);
    assert!(both[0] > joined[0] + 1.0, "{both:?}");
    same(both[2], joined[2]);
}
