//! The page as a whole: links, escaping, determinism, words, contrast. All data here is invented.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use tare_report::*;

fn fig(x: f64, text: &str) -> Figure {
    Figure::new(x, text).because("study/cost").within(x - 1.0, x + 1.0, "about one more or less")
}

fn some(x: f64) -> Option<Figure> {
    Some(fig(x, &format!("{x} u")))
}

fn s(text: &str) -> String {
    text.to_owned()
}

fn worth(net: f64, chance: f64) -> IdeaWorth {
    let drawn = |x: f64, text: &str| fig(x, text).within(x - 2.0, x + 2.0, format!("{} to {}", x - 2.0, x + 2.0));
    IdeaWorth {
        saving: drawn(net + 0.5, "gross"),
        net_saving: drawn(net, &format!("{net} EUR net")),
        mean: some(net),
        chance: Some(Figure::new(chance, format!("{} %", chance * 100.0))),
        yearly: some(1.0),
        one_off: some(2.0),
        investment: some(3.0),
        stake: some(5.0),
        payback: (net > 0.0).then(|| fig(0.5, "half a year")),
        turning_volume: some(6.0),
        mass: some(-0.1),
        seconds: some(-7.0),
        operators: Some(Figure::new(0.0, "0 people")),
        pieces: some(-4.0),
        joints: some(-2.0),
        ideal_share: Some((fig(0.2, "20 %"), fig(0.3, "30 %"))),
    }
}

fn ideas() -> Ideas {
    let edit = |state: EditState| IdeaEdit { text: s("J9 removed"), state, problem: s("note") };
    let idea = |id: &str, worth: Option<IdeaWorth>| Idea {
        id: s(id),
        name: format!("name of {id}"),
        place: format!("place of {id}"),
        part: Some(s("p1")),
        kind: s("fastening"),
        says: s("why"),
        source: s("common practice"),
        advice: s("settle the pull-out strength"),
        risk: s("medium"),
        state: s("open"),
        edits: vec![edit(EditState::Fits), edit(EditState::AlreadySo), edit(EditState::Conflicts), edit(EditState::Gone)],
        problems: if worth.is_none() { vec![s("its edits do not fit")] } else { vec![] },
        worth,
        changes: vec![ChangeTable {
            title: s("By kind of cost"),
            rows: vec![
                ChangeRow { name: s("labour"), before: some(9.0), after: some(8.0), change: fig(-1.0, "-1 EUR") },
                ChangeRow { name: s("nut"), before: some(1.0), after: None, change: fig(-1.0, "-1 EUR") },
            ],
        }],
    };
    let point = |stake: f64, ideas: &[&str], chosen: bool| FrontierPoint {
        stake: fig(stake, &format!("{stake} EUR")),
        saving: fig(stake * 3.0, "saved"),
        ideas: ideas.iter().map(|i| s(i)).collect(),
        chosen,
    };
    Ideas {
        unit: s("EUR per pack"),
        how: s("1000 draws"),
        safety: vec![SafetyFinding {
            name: s("barriers few"),
            place: s("P6"),
            part: Some(s("p1")),
            says: s("seen"),
            advice: s("for qualified people"),
            source: s("counted"),
        }],
        rows: vec![
            idea("loss", Some(worth(-13.5, 0.0))),
            idea("gain", Some(worth(8.0, 1.0))),
            idea("turned", Some(worth(5.0, 0.135))),
            idea("misfit", None),
        ],
        set: Some(IdeaSet {
            ideas: vec![s("gain"), s("nobody")],
            worth: Some(worth(9.0, 1.0)),
            bound: s("No set saves more than 99 EUR a year."),
            stake_unit: s("EUR"),
            saving_unit: s("EUR a year"),
            frontier: vec![point(1.0, &["loss"], false), point(5.0, &["gain", "nobody"], true)],
            groups: vec![vec![s("gain"), s("loss")], vec![s("turned")]],
        }),
        dropped: vec![DroppedIdea { name: s("glue"), place: s("J2"), reason: s("service") }],
        notes: vec![s("note")],
    }
}

fn comparison() -> Comparison {
    let row = |name: &str, unmapped: bool| ComparedRow {
        name: s(name),
        values: vec![Some(fig(10.0, "10 EUR")), Some(fig(9.0, "9 EUR"))],
        changes: vec![None, Some(fig(-0.5, "-0.5 EUR"))],
        unmapped,
    };
    let yard = |name: &str, b: &str| Yardstick {
        name: s(name),
        unit: s("EUR/kg"),
        qualifiers: vec![s("dry"), s(b)],
        values: vec![some(4.0), some(5.0)],
        costs: row("cost", false),
        per_mass: vec![some(1.0), None],
    };
    let step = |label: &str, x: f64, kind: StepKind| CostStep { label: s(label), value: fig(x, "v"), kind, share: s("") };
    let product = |letter: &str| Compared {
        letter: s(letter),
        name: format!("pack {letter}"),
        product: s("what it is"),
        own: some(10.0),
        problems: vec![s("no rate")],
        invented: true,
    };
    Comparison {
        products: vec![product("A"), product("B")],
        scenario: s("one scenario"),
        how: s("1000 draws"),
        boundary: vec![BoundaryDifference {
            topic: s("warranty"),
            states: vec![Contained::In, Contained::Unknown],
            note: s("ask"),
        }],
        headlines: vec![row("should-cost", false)],
        yardsticks: vec![yard("energy", "dry"), yard("mass", "with coolant")],
        cuts: vec![
            Cut {
                title: s("Cost by function"),
                unit: s("EUR"),
                drawn: true,
                rows: vec![row("housing", false), row("underride", true)],
                note: s("note"),
            },
            Cut { title: s("Joints by method"), rows: vec![row("screw", false)], ..Cut::default() },
        ],
        rank: Some(Rank { by: s("cost"), places: vec![vec![0.00004, 0.99996], vec![0.99996, 0.00004]], draws: 10_240 }),
        walks: vec![Walk {
            title: s("A to B"),
            unit: s("EUR"),
            steps: vec![step("A", 10.0, StepKind::Total), step("housing", -1.0, StepKind::Add), step("B", 9.0, StepKind::Total)],
            note: s("note"),
        }],
        best: Some(BestOfEach {
            total: fig(8.0, "8 EUR"),
            picked: vec![Picked {
                functions: vec![s("housing"), s("sealing")],
                says: s("one shape"),
                costs: vec![some(3.0), None],
                from: s("A"),
            }],
        }),
        notes: vec![s("note")],
    }
}

/// A report in which every list has at least one row.
fn full() -> Report {
    let cell = |label: &str, x: f64| AreaCell { label: s(label), value: fig(x, "v"), cells: vec![] };
    let grouping = Grouping {
        title: s("Mass by material"),
        unit: s("kg"),
        rows: vec![GroupRow { label: s("steel"), value: fig(4.0, "4 kg"), share: s("40 %"), count: s("3"), note: s("note") }],
        total: some(10.0),
        whole: s("pack as weighed"),
        note: s("note"),
    };
    let part = |id: &str, level: u32| PartRow {
        id: s(id),
        level,
        label: s("B17"),
        name: s("tray"),
        count: s("2"),
        item: s("tray item"),
        material: s("aluminium"),
        source: s("make"),
        process: s("stamping"),
        mass: some(3.0),
        cost: some(4.0),
        photos: vec![s("f1"), s("no such photo")],
        review: s("recorded"),
        note: s("by difference"),
    };
    let row = ReasonRow {
        name: s("material"),
        says: s("gross material"),
        value: Figure::new(1.0, "1 EUR").because("study/P1/op 2/mass"),
    };
    let reason = |anchor: &str| Reason {
        anchor: s(anchor),
        group: s("Headlines"),
        title: s("Cost"),
        formula: s("material + labour < 5"),
        rows: vec![row.clone()],
        result: fig(5.0, "5 EUR"),
        source: s("common practice"),
        spread: s("15 %"),
        evidence: s("derived"),
        note: s("note"),
    };
    let time = TimeRow {
        assembly: s("box"),
        operation: s("screw"),
        count: s("4"),
        motions: some(1.0),
        process: some(2.0),
        total: some(3.0),
        needed: some(1.0),
        ideal_share: some(0.1),
        recorded: some(9.0),
        note: s("note"),
    };
    let line = LineBalance {
        title: s("line"),
        takt: fig(150.0, "150 s"),
        stations: vec![Station {
            name: s("10"),
            does: s("tray"),
            work: fig(160.0, "160 s"),
            operators: s("1"),
            paid: some(150.0),
        }],
        used: s("90 %"),
        note: s("note"),
    };
    let strip = StripRow {
        order: s("1"),
        what: s("cover"),
        who: s("A. Invented"),
        tool: s("driver"),
        recorded: some(5.0),
        computed: some(3.0),
        destructive: true,
        note: s("note"),
    };
    let cost = Cost {
        unit: s("EUR per pack"),
        total: some(9.0),
        investment: some(100.0),
        investment_note: s("carried in the piece price"),
        tools_in_price: some(0.1),
        split: Some(CostSplit {
            item: s("cells"),
            note: s("note"),
            rows: vec![SplitRow { label: s("cost"), with: some(9.0), item: some(5.0), without: some(4.0) }],
        }),
        steps: vec![
            CostStep { label: s("material"), value: fig(9.0, "9 EUR"), kind: StepKind::Add, share: s("100 %") },
            CostStep { label: s("total"), value: fig(9.0, "9 EUR"), kind: StepKind::Total, share: s("100 %") },
        ],
        items: vec![ItemCost {
            item: s("tray"),
            part: Some(s("p1")),
            uses: s("1"),
            source: s("make"),
            cost: fig(4.0, "4 EUR"),
            own: some(3.0),
            each: some(4.0),
            share: s("44 %"),
            note: s("note"),
        }],
        processes: vec![ProcessCost {
            process: s("stamping"),
            operations: s("2"),
            material: some(1.0),
            labour: some(1.0),
            machine: some(1.0),
            other: some(1.0),
            total: some(4.0),
            share: s("44 %"),
        }],
        groups: vec![grouping.clone()],
        tools: vec![ToolRow {
            tool: s("die"),
            serves: s("tray"),
            cavities: s("1"),
            life: s("100 000"),
            sets_by_life: s("1"),
            sets_by_rate: s("2"),
            cost: some(90.0),
            investment: some(90.0),
            each: some(0.1),
            owner: s("customer"),
            note: s("note"),
        }],
        routes: [true, false]
            .map(|taken| RouteRow {
                item: s("cell"),
                route: s("quote"),
                taken,
                price: some(2.0),
                apart: if taken { s("") } else { s("+9 %") },
                terms: s("terms"),
                note: s("note"),
            })
            .to_vec(),
        rough: vec![RoughRow { item: s("tray"), taken: some(4.0), rough: some(5.0), apart: s("+25 %") }],
        notes: vec![s("note")],
    };
    let balance = MassBalance {
        label: s("pack"),
        level: 0,
        weighed: some(10.0),
        parts: some(9.0),
        gap: some(1.0),
        gap_uncertainty: some(0.5),
        verdict: GapVerdict::Larger,
        how: s("platform scale"),
        state: s("dry"),
        unknown: vec![s("label set")],
    };
    let link = WeakLink {
        input: s("wage"),
        value: fig(30.0, "30 EUR/h"),
        class: s("assumed"),
        result: s("cost"),
        share: s("40 %"),
        next: s("ask"),
    };
    let picture = s("data:image/png;base64,iVBORw0KGgo=");
    Report {
        title: s("Report"),
        product: s("A pack"),
        invented: Some(s("All invented.")),
        scenario: Scenario { name: s("base"), place: s("somewhere"), more: vec![(s("shifts"), s("2"))], ..Scenario::default() },
        cautions: vec![s("caution")],
        headlines: vec![
            Headline {
                label: s("cost"),
                value: fig(9.0, "9 EUR"),
                without: Some((s("without cells"), fig(4.0, "4 EUR"))),
                note: s("note"),
                total: true,
            },
            Headline {
                label: s("mass"),
                value: Figure::new(5.0, "5 kg").about(0.2, "about \u{b1} 0.2 kg (k = 2, first order)"),
                ..Headline::default()
            },
            Headline {
                label: s("drawn"),
                value: Figure::new(6.0, "6 kg").sampled((5.5, 6.5), "5.5 to 6.5 kg", 0.95, 10_000),
                ..Headline::default()
            },
            Headline { label: s("time"), value: Figure::new(5.0, "5 s"), ..Headline::default() },
        ],
        boundary: [Contained::In, Contained::Out, Contained::Unknown]
            .map(|state| Boundary { topic: s(state.word()), state, note: s("note") })
            .to_vec(),
        parts: vec![part("p1", 0), part("p2", 1), part("p1", 1)],
        photos: vec![
            Photo {
                id: s("f1"),
                caption: s("cover off"),
                taken: s("today"),
                data: Some(picture),
                callouts: vec![Callout { number: 1, x: 0.5, y: 0.5, text: s("bolt"), part: Some(s("p2")) }],
            },
            Photo { id: s("f2"), data: Some(s("https://example.org/x.png")), ..Photo::default() },
        ],
        mass: Mass {
            total: some(10.0),
            state: s("dry"),
            balance: vec![balance],
            groups: vec![grouping],
            maps: vec![AreaMap {
                title: s("map"),
                unit: s("kg"),
                cells: vec![AreaCell { cells: vec![cell("a", 1.0), cell("b", 2.0)], ..cell("g", 3.0) }, cell("h", 4.0)],
            }],
            notes: vec![s("note")],
        },
        joints: Joints {
            rows: vec![JointRow {
                method: s("screw"),
                kind: s("socket head"),
                size: s("M6"),
                drive: s("hexagon"),
                count: some(4.0),
                length: some(1.0),
                seconds: some(9.0),
                note: s("note"),
            }],
            totals: vec![(s("joints"), s("4"))],
            fasteners: vec![FastenerRow {
                item: s("M6"),
                listed: s("5"),
                used: s("4"),
                difference: s("+1"),
                words: s("one left over"),
            }],
            notes: vec![s("note")],
        },
        time: AssemblyTime {
            scale: s("motions"),
            total: some(9.0),
            needed: some(2.0),
            ideal_share: some(0.1),
            rows: vec![time],
            lines: vec![line],
            strip_down: vec![strip],
            notes: vec![s("note")],
        },
        cost,
        evidence: Evidence {
            bars: vec![EvidenceBar { label: s("cost"), shares: vec![(s("measured"), 0.4), (s("assumed"), 0.6)] }],
            strongest: vec![link.clone()],
            weakest: vec![link],
            notes: vec![s("note")],
        },
        ranges: Ranges {
            how: s("1000 draws"),
            distributions: vec![Distribution {
                title: s("cost"),
                unit: s("EUR"),
                bins: vec![Bin { low: 1.0, high: 2.0, count: 5.0 }],
                point: some(1.5),
                marks: vec![Mark { label: s("5 %"), value: fig(1.1, "1.1") }],
            }],
            drivers: vec![Drivers {
                title: s("drivers"),
                unit: s("EUR"),
                base: fig(9.0, "9"),
                rows: vec![Driver {
                    input: s("wage"),
                    at_low: fig(8.0, "8"),
                    at_high: fig(10.0, "10"),
                    interval: s("25 .. 35"),
                    alone: s("71 %"),
                    with_others: s("72 %"),
                    link: Some(s("study/cost")),
                }],
            }],
            drivers_how: s("all inputs screened"),
            work: WorkList {
                of: s("cost"),
                now: s("0.3 EUR"),
                how: s("by gain per minute"),
                rows: vec![WorkRow {
                    input: s("wage"),
                    value: fig(30.0, "30 EUR/h"),
                    recipe: s("statistics of the region"),
                    who: s("office"),
                    effort: s("45 min"),
                    reaches: s("5 %"),
                    gain: s("12 %"),
                    then: s("0.26 EUR"),
                    source: s("common practice"),
                }],
                stuck: vec![s("no recipe goes for it")],
            },
            coverage: s("95 %"),
            rows: vec![RangeRow {
                result: s("Cost"),
                stated: fig(5.0, "5 EUR"),
                at_means: s("5.1 EUR"),
                mean: s("5.2 EUR"),
                uncertainty: s("0.3 EUR"),
                symmetric: s("4.7 to 5.9 EUR"),
                shortest: s("4.6 to 5.8 EUR"),
                note: s("skewed inputs"),
            }],
            causes_of: s("cost"),
            causes: vec![CauseRow {
                cause: s("prices"),
                alone: fig(80.0, "80 %"),
                with_others: fig(82.0, "82 %"),
                inputs: s("7"),
            }],
            causes_how: s("shares from 1000 draws"),
            cuts: vec![CutRow { input: s("mass"), share: s("2 %"), value: fig(1.0, "1 kg") }],
            failed: vec![FailedRow {
                results: vec![s("Cost"), s("Investment")],
                draws: s("no number in 3 of 1000 draws"),
                says: vec![s("a division by nothing")],
                formula: s("study/P1/op 2/cycle = a / b"),
                inputs: vec![s("b = 0 s")],
            }],
            notes: vec![s("note")],
        },
        ideas: Some(ideas()),
        comparison: Some(comparison()),
        findings: vec![Finding {
            kind: s("wear"),
            severity: s("watch"),
            title: s("worn"),
            text: s("scratch"),
            parts: vec![s("p1"), s("nobody")],
            photos: vec![s("f1")],
            who: s("A. Invented"),
        }],
        holds: vec![Hold { name: s("discharge"), recorded: false, who: s(""), when: s(""), words: s(""), waits: s("module") }],
        differs: vec![DiffersRow {
            subject: s("module"),
            quantity: s("mass"),
            values: vec![
                DiffersValue { text: s("5 kg"), evidence: s("label"), who: s("A"), chosen: true },
                DiffersValue { text: s("6 kg"), ..DiffersValue::default() },
            ],
            note: s("note"),
        }],
        problems: vec![Problem {
            level: Level::Error,
            code: s("no-rate"),
            message: s("no rate"),
            place: s("study/P1"),
            hints: vec![s("add it")],
        }],
        methods: vec![Method {
            key: s("processes/x"),
            title: s("X"),
            kind: s("process"),
            uses: s("2"),
            spread: s("15 %"),
            reason: s("scatter"),
            sources: vec![s("book-1"), s("elsewhere")],
        }],
        sources: vec![Source {
            key: s("book-1"),
            text: s("A book"),
            kind: s("handbook"),
            seen: s("from memory"),
            uses: s("3 inputs"),
        }],
        reasons: vec![reason("study/cost"), reason("study/P1/op 2/mass"), reason("study/cost"), reason("unused \"#<>")],
        remarks: vec![s("remark")],
        reasons_off_paper: false,
        cover: Cover { date: s("2025-03-14"), reader: s("the client"), release: s("release 3") },
        printing: Printing::default(),
    }
}

/// All values of an attribute.
fn attributes(page: &str, name: &str) -> Vec<String> {
    page.split(&format!(" {name}=\"")).skip(1).filter_map(|rest| rest.split('"').next()).map(str::to_owned).collect()
}

#[test]
fn every_link_has_a_target_and_ids_are_unique() {
    let page = html(&full());
    let ids = attributes(&page, "id");
    let unique: BTreeSet<&String> = ids.iter().collect();
    assert_eq!(unique.len(), ids.len(), "{ids:?}");
    let links = attributes(&page, "href");
    assert!(links.len() > 60, "{}", links.len());
    let dead: Vec<&str> = page.split("<a ").skip(1).filter(|a| !a.split('>').next().unwrap_or("").contains("href=")).collect();
    assert!(dead.is_empty(), "in a whole report every link has a place to lead to: {dead:?}");
    for link in links {
        let id = link.strip_prefix('#').unwrap_or_else(|| panic!("{link} leaves the page"));
        assert!(unique.contains(&id.to_owned()), "nothing at {link}");
    }
}

#[test]
fn figures_link_to_their_reason_and_back() {
    let page = html(&full());
    assert!(page.contains("href=\"#R1\"") && page.contains("href=\"#R2\""));
    for (id, address) in [("R1", "study/cost"), ("R2", "study/P1/op 2/mass")] {
        let reason = page.split(&format!("id=\"{id}\"")).nth(1).and_then(|r| r.split("</article>").next()).expect("reason");
        assert!(reason.contains(address), "{id}: {reason}");
        assert!(reason.contains(&format!("href=\"#U{}\"", &id[1..])), "the reason points back");
    }
    let mut report = full();
    report.reasons.clear();
    let page = html(&report);
    assert!(!page.contains("href=\"#R"), "no reason, no link");
    assert!(page.contains("9 EUR"));
}

/// Replaces every text of a report; choices and keys stay.
fn poison(value: &mut Value, with: &str) {
    match value {
        Value::String(text) => {
            let choices = [
                "in",
                "out",
                "unknown",
                "within",
                "larger",
                "not_weighed",
                "incomplete",
                "add",
                "total",
                "error",
                "warning",
                "note",
                "fits",
                "already_so",
                "conflicts",
                "gone",
                "a4",
            ];
            if !choices.contains(&text.as_str()) {
                *text = with.to_owned();
            }
        }
        Value::Array(values) => values.iter_mut().for_each(|v| poison(v, with)),
        Value::Object(fields) => fields.values_mut().for_each(|v| poison(v, with)),
        _ => {}
    }
}

#[test]
fn no_text_becomes_markup() {
    let clean = html(&full());
    for bad in [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "' onmouseover='alert(1)",
        "</style><b>",
        "javascript:alert(1)",
        "--><x>",
        "\u{0}\u{1b}&lt;",
    ] {
        let mut value = serde_json::to_value(full()).expect("writes");
        poison(&mut value, bad);
        let report: Report = serde_json::from_value(value).expect("reads");
        let page = html(&report);
        assert_eq!(page.matches("<script").count(), clean.matches("<script").count(), "{bad}");
        assert_eq!(page.matches("<style").count(), clean.matches("<style").count(), "{bad}");
        assert!(!page.contains("<img src=x") && !page.contains("<b></b>") && !page.contains("<x>"), "{bad}");
        for tag in page.split('<').skip(1).filter_map(|t| t.split('>').next()) {
            // inside a tag nothing but our own attributes: no handler, no address out of the page
            let outside_quotes: String = tag.split('"').step_by(2).collect();
            assert!(!outside_quotes.contains("onerror") && !outside_quotes.contains("onmouseover"), "{bad}: <{tag}>");
        }
        assert!(attributes(&page, "href").iter().all(|l| l.starts_with('#')), "{bad}");
        assert!(attributes(&page, "src").iter().all(|l| l.starts_with("data:image/")), "{bad}");
    }
}

#[test]
fn the_page_loads_nothing_and_is_the_same_each_time() {
    let page = html(&full());
    assert_eq!(page, html(&full()));
    for word in ["http://", "https://", "@import", "url("] {
        assert!(!page.contains(word), "{word}");
    }
    assert!(page.contains("default-src 'none'"));
}

#[test]
fn tags_close_in_order() {
    let page = html(&full());
    let void = ["meta", "img", "input", "br", "!DOCTYPE"];
    let (mut open, mut rest): (Vec<String>, &str) = (Vec::new(), &page);
    while let Some(at) = rest.find('<') {
        let end = rest[at..].find('>').expect("tag ends") + at;
        let tag = &rest[at + 1..end];
        let name = tag.trim_start_matches('/').split([' ', '\n']).next().unwrap_or_default().to_owned();
        rest = &rest[end + 1..];
        if tag.starts_with('/') {
            assert_eq!(open.pop().as_deref(), Some(name.as_str()));
        } else if !tag.ends_with('/') && !void.contains(&name.as_str()) {
            if name == "style" || name == "script" {
                let close = format!("</{name}>");
                rest = &rest[rest.find(&close).expect("closes") + close.len()..];
            } else {
                open.push(name);
            }
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn an_empty_report_says_what_is_missing() {
    let page = html(&Report::default());
    for words in [
        "Nobody has recorded what is in and what is out",
        "No cost is computed",
        "No parts are recorded",
        "No ranges were drawn",
        "No holds are recorded. That does not mean that none are due.",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(page.contains("High-voltage and thermal hazards"));
    assert!(page.contains("Local codes and qualified persons decide"));
}

#[test]
fn hazards_are_always_named_and_never_judged() {
    for report in [Report::default(), full()] {
        let page = html(&report);
        assert!(page.contains("High-voltage and thermal hazards"));
        let body = page.split("<body>").nth(1).and_then(|b| b.split("<script>").next()).expect("body").to_lowercase();
        for word in body.split(|c: char| !c.is_alphanumeric()) {
            assert!(!["safe", "unsafe", "safely", "approved", "passed"].contains(&word), "{word}");
        }
        assert!(!body.contains(['\u{2713}', '\u{2714}', '\u{2705}']), "no ticks");
    }
    assert!(html(&full()).contains("1 hold is"), "an open hold is named on top");
}

#[test]
fn a_range_is_shown_or_announced() {
    let page = html(&full());
    assert!(page.contains("range: about one more or less"));
    assert!(page.contains("about \u{b1} 0.2 kg (k = 2, first order)"));
    assert!(page.contains("95 % of draws: 5.5 to 6.5 kg"));
    assert!(page.contains("spread: not computed"), "a number without both says so");
}

#[test]
fn why_a_spread_is_not_known_stands_where_it_would() {
    let value = Figure::new(1.0, "1 kg").saying("first-order uncertainty not known: no finite slope along item P1/mass");
    let report = Report { headlines: vec![Headline { label: s("Mass"), value, ..Headline::default() }], ..Report::default() };
    let page = html(&report);
    assert!(page.contains("no finite slope along item P1/mass") && !page.contains("spread: not computed"));
}

#[test]
fn a_gap_of_unknown_uncertainty_is_no_verdict() {
    let mut report = full();
    report.mass.balance[0].verdict = GapVerdict::NotKnown;
    let page = html(&report);
    assert!(page.contains("uncertainty not known") && !page.contains("larger than uncertainty explains"));
}

#[test]
fn failed_draws_are_named_on_top_and_located() {
    let page = html(&full());
    assert!(page.contains("href=\"#failed-draws\"") && page.contains("id=\"failed-draws\""));
    assert!(page.contains("study/P1/op 2/cycle = a / b") && page.contains("a division by nothing"));
    assert!(!html(&Report::default()).contains("failed-draws"));
}

/// The rows of the table with a caption, each with whether it is in the part that is folded.
fn rows(page: &str, caption: &str) -> Vec<(bool, String)> {
    let table = page.split(&format!("</b> {caption}</caption>")).nth(1).and_then(|t| t.split("</table>").next()).expect("table");
    let mut found = Vec::new();
    for body in table.split("<tbody").skip(1) {
        let folded = body.starts_with(" class=\"rest\"");
        found.extend(body.split("<tr").skip(1).map(|row| (folded, row.to_owned())));
    }
    found
}

#[test]
fn a_long_table_folds_its_rest_and_keeps_its_total() {
    let with = |n: u32| {
        let item = |n: u32| ItemCost { item: format!("item {n}"), cost: fig(1.0, "1 EUR"), ..ItemCost::default() };
        html(&Report {
            cost: Cost { items: (0..n).map(item).collect(), total: some(60.0), ..Cost::default() },
            ..Report::default()
        })
    };
    let page = with(60);
    let found = rows(&page, "Cost by item");
    assert_eq!(found.len(), 61, "nothing is left out");
    assert_eq!(found.iter().filter(|(folded, _)| *folded).count(), 40);
    assert!(!found[60].0 && found[60].1.contains("60 u"), "the total stays in sight");
    assert!(page.contains("Show the other 40 rows"));
    // paper shows what the screen folds
    let print = page.split("@media print{").nth(1).expect("rules for paper");
    assert!(print.contains(".fold-rows tbody.rest{display:table-row-group!important}"));
    let short = with(22);
    assert!(rows(&short, "Cost by item").iter().all(|(folded, _)| !folded), "two rows are not folded");
}

#[test]
fn the_price_taken_is_said_once_per_item() {
    let page = html(&full());
    let found = rows(&page, "Prices side by side");
    assert!(found[0].1.contains("taken: quote") && !found[1].1.contains("taken:"));
    assert!(found[1].1.contains("+9 %"));
}

#[test]
fn investment_says_how_it_is_paid() {
    let page = html(&full());
    let tools = page.split("<section id=\"tools\">").nth(1).and_then(|t| t.split("</section>").next()).expect("section");
    assert!(tools.contains("Carried in the piece price"));
    let found = rows(&page, "Register of tools");
    assert!(found.last().is_some_and(|(_, row)| row.contains("All tools") && row.contains("100 u")));
}

#[test]
fn totals_stand_over_their_boundary() {
    let page = html(&full());
    // summary, cost, mass and time each print a total
    assert_eq!(page.matches("class=\"boundary\"").count(), 4);
}

/// The section with an id.
fn section(page: &str, id: &str) -> String {
    let rest = page.split(&format!("<section id=\"{id}\">")).nth(1).expect("section");
    rest.split("</section>").next().expect("end").to_owned()
}

#[track_caller]
fn assert_order(text: &str, words: &[&str]) {
    let at: Vec<usize> = words.iter().map(|w| text.find(w).unwrap_or_else(|| panic!("{w} is missing"))).collect();
    assert!(at.is_sorted(), "{words:?} at {at:?}");
}

#[test]
fn safety_stands_before_every_number_of_the_ideas() {
    let page = html(&full());
    assert_order(&page, &["id=\"ranges\"", "id=\"ideas\"", "id=\"compare\"", "id=\"differs\""]);
    let ideas = section(&page, "ideas");
    assert_order(
        &ideas,
        &["for qualified people; never traded against cost", "barriers few", "Gains do not add up", "<svg", "8 EUR net"],
    );
    let mut report = full();
    report.ideas.as_mut().expect("ideas").safety.clear();
    assert!(section(&html(&report), "ideas").contains("That does not mean that there are none."));
}

#[test]
fn losses_are_listed_as_gains_are() {
    let page = html(&full());
    let found = rows(&page, "Ideas, each alone");
    let names: Vec<bool> = ["gain", "turned", "loss", "misfit"]
        .iter()
        .zip(&found)
        .map(|(n, (_, row))| row.contains(&format!("name of {n}")))
        .collect();
    assert_eq!(names, [true; 4], "by net saving, those without a number last");
    assert!(found[2].1.contains("-13.5 EUR net") && found[2].1.contains("-15.5 to -11.5"));
    assert!(
        found[1].1.contains("class=\"flag\"") && found[1].1.contains("most draws lose"),
        "the stated value alone would mislead"
    );
    assert!(!found[0].1.contains("most draws") && !found[2].1.contains("most draws"));
    assert!(found[3].1.contains("not computed: its edits do not fit"));
    assert!(section(&page, "ideas").contains("none: nothing is saved"), "no payback is said");
}

#[test]
fn an_idea_tells_what_stands_against_it_and_what_changes() {
    let ideas = section(&html(&full()), "ideas");
    let one = ideas.split("id=\"idea-gain\"").nth(1).and_then(|d| d.split("</details>").next()).expect("details");
    for words in [
        "settle the pull-out strength",
        "common practice",
        "3 of which do not fit",
        "already so",
        "conflicts",
        "gone",
        "By kind of cost",
    ] {
        assert!(one.contains(words), "{words}");
    }
    let nut = rows(one, "By kind of cost: name of gain, place of gain (1)");
    assert!(nut[1].1.contains("\u{2013}"), "what is no longer there has no number: {}", nut[1].1);
}

#[test]
fn the_set_is_told_as_a_whole() {
    let ideas = section(&html(&full()), "ideas");
    let set = ideas.split("id=\"ideas-set\"").nth(1).expect("set");
    for words in ["9 EUR net", "No set saves more than 99 EUR a year.", "not sums", "set shown: 2 ideas"] {
        assert!(set.contains(words), "{words}");
    }
    let points = rows(set, "Frontier of saving against money laid out");
    assert!(points[1].1.contains("the set shown") && points[1].1.contains("without </i><a class=\"ref\" href=\"#idea-loss\""));
    let together = set.split("computed together</summary>").nth(1).expect("groups");
    assert_eq!(together.matches("<li>").count(), 1, "an idea alone is no group");
}

#[test]
fn the_boundary_stands_before_every_number_of_a_comparison() {
    let compare = section(&html(&full()), "compare");
    assert_order(&compare, &["Read this before any number", "warranty", "Common scenario", "-0.5 EUR", "<svg"]);
    let first = compare.find("class=\"n\"").expect("a number");
    assert!(compare.find("warranty").expect("topic") < first);
    assert!(rows(&compare, "What totals hold in one product and not in another")[0].1.contains("unknown"));
}

#[test]
fn yardsticks_not_said_alike_are_marked() {
    let compare = section(&html(&full()), "compare");
    assert_eq!(compare.matches("Not said alike.").count(), 1);
    assert!(compare.contains("All studies say: dry.") && compare.contains("with coolant"));
}

#[test]
fn what_the_draws_do_not_settle_is_said() {
    let with = |low: f64, high: f64| {
        let mut report = full();
        let c = report.comparison.as_mut().expect("comparison");
        c.headlines[0].changes[1] = Some(fig(-0.5, "-0.5 EUR").within(low, high, "range"));
        rows(&html(&report), "Headlines side by side")[0].1.clone()
    };
    assert!(with(-2.0, 1.0).contains("either way"));
    assert!(!with(-2.0, -1.0).contains("either way"));
    let ranks = rows(&html(&full()), "Share of draws in which each product has each place, by cost");
    assert!(ranks[0].1.contains("&lt;0.1 %") && ranks[0].1.contains("&gt;99.9 %"), "nearly never is not never: {}", ranks[0].1);
}

#[test]
fn words_off_the_list_of_functions_are_named() {
    let compare = section(&html(&full()), "compare");
    assert!(compare.contains("Words not on the list of functions: </b>underride."), "{compare}");
    let mut report = full();
    report.comparison.as_mut().expect("comparison").cuts[0].rows[1].unmapped = false;
    assert!(!section(&html(&report), "compare").contains("not on the list of functions"));
}

#[test]
fn a_row_that_dwarfs_the_others_is_drawn_apart() {
    let with = |first: f64| {
        let row = |name: &str, x: f64| ComparedRow { name: s(name), values: vec![some(x), some(x)], ..ComparedRow::default() };
        let mut report = full();
        let c = report.comparison.as_mut().expect("comparison");
        c.cuts[0].rows = vec![row("cells", first), row("housing", 10.0), row("lid", 5.0)];
        section(&html(&report), "compare").matches("on a scale of its own").count() > 0
    };
    assert!(with(41.0) && !with(39.0));
}

#[test]
fn sections_nobody_asked_for_are_left_off_and_desk_pages_say_so() {
    let page = html(&Report::default());
    for id in ["ideas", "compare"] {
        assert!(!page.contains(&format!("id=\"{id}\"")) && !page.contains(&format!("href=\"#{id}\"")), "{id}");
    }
    let to = |link: Link<'_>| match link {
        Link::Place(id) => format!("/here#{id}"),
        Link::Part(id) => format!("/part/{id}"),
        Link::Reason(address) => format!("/why/{address}"),
        Link::Photo(id) => format!("/photo/{id}"),
    };
    assert!(sections(&Report::default(), &["ideas"], to).contains("No ideas were looked for."));
    assert!(sections(&Report::default(), &["compare"], to).contains("compared with no other"));
    let desk = sections(&full(), &["ideas", "compare"], to);
    for link in ["/here#idea-gain", "/part/p1", "/why/study/cost"] {
        assert!(desk.contains(&format!("href=\"{link}\"")), "{link}");
    }
    assert!(desk.contains("id=\"idea-gain\"") && !desk.contains("href=\"#"));
}

#[test]
fn a_comparison_is_a_page_of_its_own() {
    let page = comparison_html("A & B", &comparison(), Some("All invented."));
    assert_eq!(page, comparison_html("A & B", &comparison(), Some("All invented.")));
    assert!(page.contains("<title>A &amp; B</title>") && page.contains("All invented.") && page.contains("default-src 'none'"));
    assert_order(&page, &["All invented.", "local codes and qualified persons decide", "Read this before any number", "<svg"]);
    let ids = attributes(&page, "id");
    assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), ids.len(), "{ids:?}");
    let links = attributes(&page, "href");
    assert!(
        links.len() > 7 && links.iter().all(|l| l.strip_prefix('#').is_some_and(|l| ids.contains(&l.to_owned()))),
        "{links:?}"
    );
    let empty = comparison_html("t", &Comparison::default(), None);
    assert!(empty.contains("No products are compared.") && !empty.contains("compare-best"));
}

#[test]
fn only_embedded_pictures_are_shown() {
    let page = html(&full());
    assert_eq!(page.matches("<img").count(), 1);
    assert_eq!(page.matches("The picture is not part of this file.").count(), 1);
}

#[test]
fn old_and_partial_data_can_be_read() {
    let empty: Report = serde_json::from_str("{}").expect("reads");
    assert_eq!(empty, Report::default());
    let partial: Report = serde_json::from_str(
        r#"{"title":"t","headlines":[{"label":"cost","value":{"text":"9 EUR"}}],"boundary":[{"topic":"x","state":"out"}]}"#,
    )
    .expect("reads");
    assert_eq!(partial.boundary[0].state, Contained::Out);
    let text = serde_json::to_string(&full()).expect("writes");
    assert_eq!(serde_json::from_str::<Report>(&text).expect("reads"), full());
}

#[test]
fn deep_and_odd_trees_are_drawn() {
    let part = |n: u32, level: u32| PartRow { id: n.to_string(), level, name: format!("part {n}"), ..PartRow::default() };
    let report =
        Report { parts: (0..300).map(|n| part(n, if n % 7 == 3 { u32::MAX } else { n })).collect(), ..Report::default() };
    assert!(html(&report).contains("part 299"));
}

/// Relative luminance of a colour (WCAG 2.2).
#[expect(clippy::disallowed_methods, reason = "a test of colours, not a result")]
fn luminance(hex: &str) -> f64 {
    let channel = |i: usize| {
        let c = f64::from(u8::from_str_radix(&hex[i..i + 2], 16).expect("hex")) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// The colours of the n-th `:root` block of the page.
fn colours(block: usize) -> BTreeMap<String, String> {
    let page = html(&Report::default());
    let text = page.split(":root{").nth(block + 1).and_then(|b| b.split('}').next()).expect("block").to_owned();
    let pairs = text.split(';').filter_map(|p| p.trim().strip_prefix("--")).filter_map(|p| p.split_once(':'));
    let full = |v: &str| {
        if v.len() == 4 { format!("#{}", v[1..].chars().flat_map(|c| [c, c]).collect::<String>()) } else { v.to_owned() }
    };
    pairs.filter(|(_, v)| v.starts_with('#')).map(|(k, v)| (k.to_owned(), full(v))).collect()
}

#[test]
fn text_contrast_meets_wcag_aa_in_light_dark_and_print() {
    for block in 0..3 {
        let c = colours(block);
        let grounds = ["paper", "stripe", "target", "panel"];
        for ground in grounds {
            for ink in ["ink", "soft", "accent"] {
                let ratio = contrast(&c[ink], &c[ground]);
                assert!(ratio >= 4.5, "block {block}: {ink} on {ground} {ratio:.2}");
            }
        }
        for (ink, ground, least) in [
            ("warn-ink", "warn-ground", 4.5),
            ("ink", "tag", 4.5),
            ("paper", "accent", 4.5),
            ("strong-line", "paper", 3.0),
            ("warn-line", "paper", 3.0),
        ] {
            let ratio = contrast(&c[ink], &c[ground]);
            assert!(ratio >= least, "block {block}: {ink} on {ground} {ratio:.2}");
        }
    }
}
