//! Every chart at several widths: well formed, inside its frame, no text on another.

use super::label::{SIZE, width};
use super::{
    Balances, Bar, Bars, Chart, Frontier, Gain, Gains, Gaps, Group, Grouped, Pareto, Scatter, Shares, Spot, Waterfall, standalone,
};
use crate::*;

const NASTY: &str = "</title><script>alert('1')</script> & \"q\"";

fn fig(number: f64, text: &str) -> Figure {
    Figure::new(number, text)
}

fn bars(labels: &[(&str, f64)]) -> Vec<Bar> {
    labels.iter().map(|(l, x)| Bar { label: (*l).to_owned(), value: fig(*x, &format!("{x} kg")), ..Bar::default() }).collect()
}

fn rows() -> Vec<Bar> {
    bars(&[
        ("Cover with gasket, stiffeners, inserts and a name that must be cut", 812.5),
        ("b", 3.0),
        (NASTY, 40.0),
        ("negative", -25.0),
        ("none", 0.0),
        ("missing", f64::NAN),
    ])
}

fn step(label: &str, x: f64, kind: StepKind) -> CostStep {
    CostStep { label: label.to_owned(), value: fig(x, &format!("{x} EUR")), kind, share: String::new() }
}

fn balance(label: &str, weighed: Option<f64>, parts: f64, u: f64) -> MassBalance {
    let gap = weighed.map(|w| w - parts);
    MassBalance {
        label: label.to_owned(),
        weighed: weighed.map(|w| fig(w, &format!("{w} kg"))),
        parts: Some(fig(parts, &format!("{parts} kg"))),
        gap: gap.map(|g| fig(g, &format!("{g:+.3} kg"))),
        gap_uncertainty: Some(fig(u, &format!("{u} kg"))),
        verdict: if gap.is_some_and(|g| g.abs() > u) { GapVerdict::Larger } else { GapVerdict::Within },
        ..MassBalance::default()
    }
}

/// A walk whose steps are small beside its totals.
fn walk() -> Waterfall {
    let mut steps = vec![step("A", 5_000.0, StepKind::Total)];
    steps.extend((0..14).map(|n| step(&format!("step {n}"), if n % 3 == 0 { 40.0 } else { -30.0 }, StepKind::Add)));
    steps.push(step(NASTY, 4_930.0, StepKind::Total));
    // five times 40 less nine times 30 is 70 less
    Waterfall { title: "walk".into(), unit: "EUR per pack".into(), steps, near: true }
}

/// Savings of which the n-th is 10 less n, each within one up or down.
fn gains(n: u32) -> Gains {
    let gain = |n: u32| {
        let x = 10.0 - f64::from(n);
        Gain {
            label: format!("idea {n} with a name that is too long to be told beside its bar"),
            place: if n.is_multiple_of(2) { format!("J{n}") } else { format!("finding of a place with many words {n}") },
            value: fig(x, &format!("{x} EUR")).within(x - 1.0, x + 1.0, "one up or down"),
            mean: Some(fig(x + 0.5, "mean")),
            note: NASTY.into(),
        }
    };
    Gains { title: "gains".into(), unit: "EUR per pack".into(), rows: (0..n).map(gain).collect(), most: 20 }
}

fn grouped() -> Grouped {
    let some = |x: f64| Some(fig(x, &format!("{x} kg")).within(x * 0.9, x * 1.1, "a tenth"));
    let group = |label: &str, values: [Option<Figure>; 3]| Group { label: label.into(), values: values.into() };
    Grouped {
        title: "grouped".into(),
        unit: "kg per pack".into(),
        products: [("A", "Pack with a name"), ("B", NASTY), ("C", "Third")].map(|(l, n)| (l.to_owned(), n.to_owned())).into(),
        groups: vec![
            group("energy storage", [some(300.0), some(150.0), some(75.0)]),
            group(NASTY, [some(40.0), None, some(-10.0)]),
            group("none of them", [None, None, Some(fig(f64::NAN, ""))]),
            group("c", [some(4.0), some(4.0), None]),
            group("d", [some(3.0), some(2.0), None]),
            group("e", [some(2.0), None, None]),
        ],
        most: 0,
    }
}

fn frontier() -> Frontier {
    let point = |stake: f64, saving: f64, n: usize| FrontierPoint {
        stake: fig(stake, &format!("{stake} EUR")),
        saving: fig(saving, &format!("{saving} EUR")),
        ideas: vec![String::new(); n],
        chosen: n == 17,
    };
    Frontier {
        title: "frontier".into(),
        level: "money laid out, EUR".into(),
        upright: "net saving, EUR a year".into(),
        points: vec![point(48.0, 168_225.0, 3), point(-9_094.0, -637.0, 1), point(144_971.0, 947_776.0, 17)],
    }
}

/// Points along a line, six of which are chosen.
fn scatter(n: u32) -> Scatter {
    let spot = |k: u32| {
        let x = f64::from(k * 7 % n);
        Spot {
            label: format!("pack {k}"),
            level: fig(100.0 + x, "x").within(99.0 + x, 101.0 + x, "one"),
            upright: fig(1_000.0 + 20.0 * x, "y").within(900.0 + 20.0 * x, 1_100.0 + 20.0 * x, "hundred"),
            chosen: k.is_multiple_of(n / 6),
        }
    };
    let mut points: Vec<Spot> = (0..n).map(spot).collect();
    points.push(Spot { label: NASTY.into(), level: fig(f64::NAN, ""), ..Spot::default() });
    Scatter { title: "scatter".into(), level: "mass, kg".into(), upright: "cost, EUR".into(), points }
}

/// One of each chart, with awkward values.
fn charts() -> Vec<Box<dyn Chart>> {
    let balances = vec![
        balance("Pack", Some(131.2), 130.9, 0.4),
        balance(NASTY, Some(5.7), 5.2, 0.1),
        balance("Cover", None, 9.8, f64::NAN),
    ];
    let cell = |l: &str, x: f64| AreaCell { label: l.to_owned(), value: fig(x, &format!("{x} kg")), cells: Vec::new() };
    let group = |l: &str, cells: Vec<AreaCell>| AreaCell { label: l.to_owned(), value: fig(0.0, "sum"), cells };
    let many: Vec<AreaCell> = (0..60).map(|i| cell(&format!("part number {i}"), 1.5f64.powi(i % 17))).collect();
    let station = |n: &str, x: f64| Station { name: n.to_owned(), work: fig(x, &format!("{x} s")), ..Station::default() };
    let bins =
        (0..20i32).map(|i| Bin { low: f64::from(i), high: f64::from(i) + 1.0, count: f64::from((i - 9).pow(2)) }).collect();
    let mark = |l: &str, x: f64| Mark { label: l.to_owned(), value: fig(x, &format!("{x} EUR")) };
    let driver = |i: &str, a: f64, b: f64| Driver {
        input: i.to_owned(),
        at_low: fig(a, &format!("{a} EUR")),
        at_high: fig(b, &format!("{b} EUR")),
        ..Driver::default()
    };
    vec![
        Box::new(Bars { title: "bars".into(), unit: "kg".into(), rows: rows(), most: 0 }),
        Box::new(Pareto {
            title: "pareto".into(),
            unit: "EUR per pack".into(),
            rows: rows(),
            most: 3,
            parts: Some(("own".into(), NASTY.into())),
        }),
        Box::new(Waterfall {
            title: "waterfall".into(),
            unit: "EUR per pack".into(),
            steps: vec![
                step("cells", 1700.0, StepKind::Add),
                step("credit", -120.0, StepKind::Add),
                step("sum", 1580.0, StepKind::Total),
                step(NASTY, 5.0, StepKind::Add),
            ],
            near: false,
        }),
        Box::new(walk()),
        Box::new(gains(30)),
        Box::new(Grouped { most: 3, ..grouped() }),
        Box::new(Grouped { products: vec![("A".into(), String::new())], groups: grouped().groups[..1].to_vec(), ..grouped() }),
        Box::new(frontier()),
        Box::new(scatter(12)),
        Box::new(scatter(600)),
        Box::new(AreaMap {
            title: "map".into(),
            unit: "kg".into(),
            cells: vec![
                group("many", many),
                cell(NASTY, 900.0),
                group("two", vec![cell("x", -4.0), cell("y", f64::NAN), cell("z", 30.0)]),
            ],
        }),
        Box::new(Shares {
            title: "shares".into(),
            rows: vec![
                EvidenceBar {
                    label: "cost".into(),
                    shares: vec![("assumed".into(), 0.3), ("measured".into(), 0.695), ("rumour".into(), 0.005)],
                },
                EvidenceBar { label: NASTY.into(), shares: vec![("quoted".into(), 1.0)] },
            ],
        }),
        Box::new(Distribution {
            title: "distribution".into(),
            unit: "EUR".into(),
            bins,
            point: Some(fig(9.1, "9.1 EUR")),
            marks: vec![mark("5 %", 8.8), mark("median", 9.0), mark("95 %", 19.9)],
        }),
        Box::new(Drivers {
            title: "drivers".into(),
            unit: "EUR".into(),
            base: fig(3400.0, "3400 EUR"),
            rows: vec![driver("cell price", 3162.0, 3692.0), driver(NASTY, 3420.0, 3388.0)],
        }),
        Box::new(LineBalance {
            title: "line".into(),
            takt: fig(150.0, "150 s"),
            stations: vec![station("Station 10", 140.0), station("Station 20", 171.0), station(NASTY, 0.0)],
            ..LineBalance::default()
        }),
        Box::new(Balances { title: "balances".into(), unit: "kg".into(), rows: balances.clone() }),
        Box::new(Gaps { title: "gaps".into(), rows: balances }),
    ]
}

fn frames() -> [Frame<'static>; 3] {
    [340.0, 490.0, 820.0].map(Frame::plain)
}

use super::Frame;

/// Fails unless tags close in order and attributes are quoted.
#[track_caller]
fn assert_well_formed(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some(at) = rest.find('<') {
        let end = rest[at..].find('>').expect("tag ends") + at;
        let tag = &rest[at + 1..end];
        assert_eq!(tag.matches('"').count() % 2, 0, "quotes in <{tag}>");
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "in {tag}");
        } else if !tag.ends_with('/') {
            open.push(tag.split(' ').next().expect("name"));
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

fn attribute(tag: &str, name: &str) -> Option<f64> {
    tag.split(&format!(" {name}=\"")).nth(1)?.split('"').next()?.parse().ok()
}

/// The boxes of all texts: left, right, top, bottom, text.
fn texts(svg: &str) -> Vec<(f64, f64, f64, f64, String)> {
    let mut out = Vec::new();
    for piece in svg.split("<text").skip(1) {
        let (tag, rest) = piece.split_once('>').expect("tag");
        let raw = rest.split_once('<').expect("end").0;
        let text =
            raw.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&#39;", "'").replace("&amp;", "&");
        let (x, y) = (attribute(tag, "x").expect("x"), attribute(tag, "y").expect("y"));
        let size = if tag.contains("tick") || tag.contains("on-") { 11.0 } else { SIZE };
        let w = width(&text, size);
        let left = if tag.contains("\"middle\"") {
            x - w / 2.0
        } else if tag.contains("\"end\"") {
            x - w
        } else {
            x
        };
        out.push((left, left + w, y - size * 0.75, y + size * 0.2, text));
    }
    out
}

#[test]
fn charts_are_well_formed_and_escaped() {
    for chart in charts() {
        for frame in frames() {
            let svg = chart.draw(&frame);
            assert!(svg.starts_with("<svg "), "{}", chart.title());
            assert_well_formed(&svg);
            assert!(!svg.contains("<script") && !svg.contains("NaN") && !svg.contains("inf\""), "{svg}");
            assert!(svg.contains("<title>") && svg.contains("viewBox=\"0 0 "), "{}", chart.title());
            assert_well_formed(standalone(&svg, "a < b", "c & d").as_str());
            assert!(standalone(&svg, "", "").starts_with("<svg xmlns="));
        }
        let table = chart.table();
        assert!(!table.rows.is_empty() && table.rows.iter().all(|r| r.len() == table.head.len()), "{}", chart.title());
    }
}

#[test]
fn texts_stay_inside_and_apart() {
    for chart in charts() {
        for frame in frames() {
            let svg = chart.draw(&frame);
            let height =
                svg.split("viewBox=\"0 0 ").nth(1).and_then(|v| v.split(['"', ' ']).nth(1)).and_then(|h| h.parse::<f64>().ok());
            let height = height.expect("height");
            let texts = texts(&svg);
            for (i, a) in texts.iter().enumerate() {
                assert!(a.0 >= -0.5 && a.1 <= frame.width + 0.5, "{} at {}: {a:?} leaves the frame", chart.title(), frame.width);
                assert!(a.2 >= -0.5 && a.3 <= height + 0.5, "{} at {}: {a:?} leaves {height}", chart.title(), frame.width);
                for b in &texts[i + 1..] {
                    let apart = a.1 <= b.0 || b.1 <= a.0 || a.3 <= b.2 || b.3 <= a.2;
                    assert!(apart, "{} at {}: {a:?} on {b:?}", chart.title(), frame.width);
                }
            }
        }
    }
}

#[test]
fn nothing_to_draw_is_no_drawing() {
    let empty: Vec<Box<dyn Chart>> = vec![
        Box::new(Bars::default()),
        Box::new(Pareto::default()),
        Box::new(Waterfall::default()),
        Box::new(AreaMap::default()),
        Box::new(Shares::default()),
        Box::new(Distribution::default()),
        Box::new(Drivers::default()),
        Box::new(LineBalance::default()),
        Box::new(Balances::default()),
        Box::new(Gaps::default()),
        Box::new(Gains::default()),
        Box::new(Grouped::default()),
        Box::new(Grouped { products: vec![("A".into(), String::new())], ..Grouped::default() }),
        Box::new(Frontier::default()),
        Box::new(Scatter::default()),
        Box::new(Bars { rows: bars(&[("x", f64::INFINITY)]), ..Bars::default() }),
    ];
    for chart in empty {
        assert_eq!(chart.draw(&Frame::plain(400.0)), "");
    }
}

#[test]
fn extreme_numbers_do_not_break_a_drawing() {
    for x in [1e300, -1e300, 1e-300, f64::MAX, f64::MIN_POSITIVE, 5e-324] {
        let rows = bars(&[("a", x), ("b", 1.0), ("c", -x)]);
        for chart in [
            Box::new(Bars { rows: rows.clone(), ..Bars::default() }) as Box<dyn Chart>,
            Box::new(Pareto { rows, ..Pareto::default() }),
            Box::new(Waterfall { steps: vec![step("a", x, StepKind::Add), step("b", x, StepKind::Add)], ..Waterfall::default() }),
            Box::new(Waterfall {
                near: true,
                ..Waterfall { steps: vec![step("a", x, StepKind::Total)], ..Waterfall::default() }
            }),
            Box::new(Gains { rows: vec![Gain { value: fig(x, ""), ..Gain::default() }], ..Gains::default() }),
            Box::new(Grouped {
                products: vec![("A".into(), String::new())],
                groups: vec![Group { label: String::new(), values: vec![Some(fig(x, ""))] }],
                ..Grouped::default()
            }),
            Box::new(Frontier {
                points: vec![
                    FrontierPoint { stake: fig(x, ""), saving: fig(-x, ""), chosen: true, ..FrontierPoint::default() },
                    FrontierPoint::default(),
                ],
                ..Frontier::default()
            }),
            Box::new(Scatter {
                points: [x, 1.0].map(|x| Spot { level: fig(x, ""), upright: fig(-x, ""), ..Spot::default() }).into(),
                ..Scatter::default()
            }),
            Box::new(AreaMap {
                cells: vec![
                    AreaCell { value: fig(x, ""), ..AreaCell::default() },
                    AreaCell { value: fig(1.0, ""), ..AreaCell::default() },
                ],
                ..AreaMap::default()
            }),
        ] {
            let svg = chart.draw(&Frame::plain(500.0));
            assert_well_formed(&svg);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{x}: {svg}");
        }
    }
}

#[test]
fn waterfall_steps_join_and_close() {
    // pseudo-random amounts from a linear congruence; any would do
    let mut state = 12_345u64;
    let mut next = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(state >> 40).unwrap_or(0)) / 1000.0 - 6000.0
    };
    for _ in 0..100 {
        let mut steps: Vec<CostStep> = (0..9).map(|_| step("s", next(), StepKind::Add)).collect();
        let sum: f64 = steps.iter().map(|s| s.value.number).sum();
        steps.push(step("total", sum, StepKind::Total));
        let chart = Waterfall { steps, ..Waterfall::default() };
        let runs = chart.runs();
        for pair in runs[..9].windows(2) {
            assert_eq!(pair[0].1, pair[1].0);
        }
        assert_eq!(runs[9], (0.0, sum));
        assert!((runs[8].1 - sum).abs() < 1e-6);
        assert!(chart.open_totals().is_empty());
        let mut wrong = chart.clone();
        wrong.steps[3].value.number += 100.0;
        assert_eq!(wrong.open_totals().len(), 1);
    }
}

#[test]
fn bars_begin_at_zero_and_keep_proportion() {
    let chart = Bars { rows: bars(&[("a", 40.0), ("b", 10.0), ("c", -20.0)]), ..Bars::default() };
    let svg = chart.draw(&Frame::plain(600.0));
    let marks: Vec<(f64, f64)> = svg
        .split("<rect")
        .skip(1)
        .filter(|r| r.contains("class=\"c1 edge\"") || r.contains("class=\"c4 edge\""))
        .map(|r| (attribute(r, "x").expect("x"), attribute(r, "width").expect("width")))
        .collect();
    let [(a, wa), (b, wb), (c, wc)] = marks[..] else { panic!("{marks:?}") };
    assert!((wa / wb - 4.0).abs() < 0.01 && (wa / wc - 2.0).abs() < 0.01, "{marks:?}");
    assert!((a - b).abs() < 0.01 && (c + wc - a).abs() < 0.01, "{marks:?}");
}

#[test]
fn pareto_ends_at_the_whole() {
    let chart = Pareto { rows: rows(), most: 2, ..Pareto::default() };
    let last = chart.table().rows.last().cloned().expect("rows");
    assert_eq!(last[2], "100.0 %");
    assert!(chart.draw(&Frame::plain(600.0)).contains("3 others"));
}

/// Labels of the texts of a drawing.
fn words(svg: &str) -> Vec<String> {
    texts(svg).into_iter().map(|t| t.4).collect()
}

#[test]
fn gains_are_counted_and_never_added() {
    let svg = gains(30).draw(&Frame::plain(820.0));
    let words = words(&svg);
    assert!(words.contains(&"10 more, nearer to zero".to_owned()), "{words:?}");
    assert_eq!(svg.matches("class=\"c1 edge\"").count() + svg.matches("class=\"c4 edge\"").count(), 20, "no bar for the rest");
    // 10 to -19: the furthest losses stand there, the small gains do not
    assert!(
        words.contains(&"-19 EUR".to_owned()) && words.contains(&"10 EUR".to_owned()) && !words.contains(&"1 EUR".to_owned())
    );
    assert_eq!(gains(30).table().rows.len(), 30, "the numbers behind it leave nothing out");
    assert_eq!(gains(22).draw(&Frame::plain(820.0)).matches("<title>").count(), 22, "two are not worth a fold");
}

#[test]
fn a_wide_range_keeps_a_small_gain_in_sight() {
    let mut chart = gains(30);
    chart.rows[10].value = fig(0.0, "0 EUR").within(-1.0, 40.0, "-1 to 40 EUR");
    assert!(words(&chart.draw(&Frame::plain(820.0))).contains(&"0 EUR".to_owned()));
}

#[test]
fn grouped_bars_carry_letters_and_keep_proportion() {
    let svg = grouped().draw(&Frame::plain(820.0));
    let marks: Vec<f64> = svg
        .split("<g class=\"mark\"")
        .filter(|m| m.contains("<title>energy storage, "))
        .filter_map(|m| attribute(m.split("<rect").find(|r| r.contains(" edge\""))?, "width"))
        .collect();
    let [a, b, c] = marks[..] else { panic!("{marks:?}") };
    assert!((a / b - 2.0).abs() < 0.01 && (b / c - 2.0).abs() < 0.01, "{marks:?}");
    let words = words(&svg);
    for letter in ["A", "B", "C"] {
        // five groups have something to draw
        assert_eq!(words.iter().filter(|w| *w == letter).count(), 5, "{letter} in {words:?}");
    }
    assert!(!words.contains(&"none of them".to_owned()) && words.contains(&"none".to_owned()));
}

#[test]
fn grouped_bars_sum_the_rest_by_product() {
    let words = words(&Grouped { most: 2, ..grouped() }.draw(&Frame::plain(820.0)));
    // 4 + 3 + 2, 4 + 2, nothing
    assert!(
        words.contains(&"3 others".to_owned()) && words.contains(&"9.00 kg".to_owned()) && words.contains(&"6.00 kg".to_owned())
    );
}

#[test]
fn a_frontier_goes_in_steps() {
    let chart = frontier();
    assert_eq!(
        chart.steps(),
        [(-9_094.0, -637.0), (48.0, -637.0), (48.0, 168_225.0), (144_971.0, 168_225.0), (144_971.0, 947_776.0)],
        "what is bought with more money is had only where that money is laid out"
    );
    for frame in frames() {
        assert!(words(&chart.draw(&frame)).contains(&"set shown: 17 ideas".to_owned()), "{}", frame.width);
    }
}

#[test]
fn a_short_walk_still_closes() {
    let full = walk();
    let short = walk().shortened(10);
    assert_eq!(short.steps.len(), 13);
    assert!(full.open_totals().is_empty() && short.open_totals().is_empty());
    assert_eq!(short.steps[11].label, "4 others");
    assert_eq!(full.clone().shortened(13).steps.len(), 16, "one step is not worth a fold");
}

#[test]
fn an_axis_away_from_zero_has_no_bars_for_totals_and_says_so() {
    let svg = walk().draw(&Frame::plain(820.0));
    assert!(!svg.contains("class=\"total edge\"") && svg.contains("the axis does not begin at zero"));
    let from_zero = Waterfall { near: false, ..walk() }.draw(&Frame::plain(820.0));
    assert_eq!(from_zero.matches("class=\"total edge\"").count(), 2);
    assert!(!from_zero.contains("does not begin"));
}

#[test]
fn many_points_stay_within_bounds_and_the_chosen_are_named() {
    for frame in frames() {
        let svg = scatter(600).draw(&frame);
        assert_eq!(svg.matches("<title>").count(), Scatter::MOST);
        assert_eq!(svg.matches("tabindex").count(), 6, "only the chosen stop the keyboard");
        let words = words(&svg);
        assert!(words.contains(&"100 more are not drawn".to_owned()), "{words:?}");
        for k in 0..6 {
            assert!(words.contains(&format!("pack {}", k * 100)), "pack {} at {}: {words:?}", k * 100, frame.width);
        }
    }
    let few = scatter(12).draw(&Frame::plain(490.0));
    assert_eq!((few.matches("tabindex").count(), few.matches("class=\"reach\"").count()), (12, 24));
}
