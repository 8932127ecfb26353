//! The library as it ships: every file reads, checks, and reproduces its published examples.

use tare_diag::render;
use tare_library::Library;

fn library() -> Library {
    let (library, problems) = Library::embedded();
    assert!(problems.is_empty(), "{}", problems.iter().map(|p| render(p, |_| None)).collect::<String>());
    library
}

#[test]
fn every_file_reads_and_checks() {
    let library = library();
    let problems = library.check();
    let text = |file: &str| library.calculations().find(|c| c.file == file).map(|c| c.text.as_str());
    assert!(problems.is_empty(), "{} problems\n{}", problems.len(), problems.iter().map(|p| render(p, text)).collect::<String>());
}

#[test]
fn every_published_check_is_reproduced() {
    let library = library();
    let results = tare_library::verify(&library);
    let failed: Vec<String> = results.iter().filter(|r| !r.ok).map(|r| format!("{r:?}")).collect();
    assert!(failed.is_empty(), "{} of {} fail:\n{}", failed.len(), results.len(), failed.join("\n"));
    let published = results.iter().filter(|r| r.kind != "derived").count();
    assert!(published >= 60, "only {published} published results");
    println!("{} results, {published} of them published", results.len());
}

#[test]
fn the_kinds_file_says_what_the_checker_holds() {
    use tare_calc::Kind;
    let text =
        std::fs::read_to_string(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../library/kinds.toml")).unwrap();
    let file: toml::Table = text.parse().unwrap();
    let kinds = file["kind"].as_table().unwrap();
    assert_eq!(kinds.len(), Kind::ALL.len());
    for kind in Kind::ALL {
        let said = kinds[kind.word()].as_table().unwrap();
        let scalars: Vec<(&str, &str)> =
            said["scalars"].as_table().unwrap().iter().map(|(k, v)| (k.as_str(), v.as_str().unwrap())).collect();
        let mut owed = kind.owes().to_vec();
        owed.sort_unstable();
        assert_eq!(scalars, owed, "{}", kind.word());
        let groups: Vec<&str> = said["groups"].as_array().unwrap().iter().map(|g| g.as_str().unwrap()).collect();
        let allowed: Vec<&str> = kind.groups().iter().map(|g| g.word()).collect();
        assert_eq!(groups, allowed, "{}", kind.word());
    }
}

#[test]
fn every_standard_fastener_and_material_has_its_figures() {
    let library = library();
    assert!(library.fasteners().count() >= 60);
    for fastener in library.fasteners() {
        assert!(fastener.properties.values().all(|p| !p.source.is_empty()), "{}", fastener.key);
        assert!(fastener.pieces.windows(2).all(|w| w[0].length.value < w[1].length.value), "{}", fastener.key);
    }
    let screw = library.fastener("screw-hexagon-M6").unwrap();
    assert_eq!(screw.properties["thread_diameter"].value.value, 0.006);
    assert!(library.materials().count() >= 90);
}

/// Every key of every shipped book, and every rate a calculation asks for, has a declared unit; asked and declared agree.
#[test]
fn every_rate_has_a_declared_unit() {
    let library = library();
    for book in library.books() {
        for key in book.rates.keys() {
            assert!(library.rate_unit(key).is_some(), "`{key}` of {}", book.key);
        }
    }
    let mut asked = 0;
    for calculation in library.calculations() {
        for input in &calculation.inputs {
            let tare_calc::Declared::Number(due) = &input.declared else { continue };
            let rates = input.from.iter().filter_map(|f| f.value.strip_prefix("rate."));
            // What a tier states is picked from a table of the calculation, not from a book.
            for key in rates.filter(|key| !key.starts_with("tier.")) {
                let unit = library.rate_unit(key).unwrap_or_else(|| panic!("`{key}` of {}", calculation.key));
                assert_eq!(unit.dim, due.dim, "`{key}` of {}", calculation.key);
                asked += 1;
            }
        }
    }
    assert!(asked >= 50, "{asked}");
    assert_eq!(library.rate_unit("wage.operator").map(|u| u.text.as_str()), Some("money/h"));
    assert_eq!(library.rate_unit("price.pack_energy.2021").map(|u| u.text.as_str()), Some("money/kWh"));
    assert!(library.rate_unit("own.key").is_none());
}

#[test]
fn a_book_with_rates_of_another_dimension_is_refused_at_their_places() {
    let book = r#"
[book]
name = "Own"
currency = "EUR"
date = "2025"
place = "here"

[rate.wage.operator]
value = "24 EUR"
source = "asked"

[rate.interest]
value = "10 %"
source = "asked"

[rate.machine.hours]
value = "4000 h"
source = "asked"

[rate.machine.life]
value = "10 a"
source = "asked"
"#;
    // The file of quantities may come behind the books.
    let own = "[quantity.\"rate.own\"]\nunit = \"kg\"\non = [\"rate\"]\n";
    let more = format!("{book}\n[rate.own.load]\nvalue = \"3 mm\"\nsource = \"asked\"\n");
    let (library, problems) = library().with_own([("rates/own.toml", more.as_str()), ("quantities.toml", own)]);
    let said: Vec<String> = problems.iter().map(|p| render(p, |_| Some(&more))).collect();
    assert_eq!(problems.iter().map(|p| p.code).collect::<Vec<_>>(), ["rate-unit"; 4], "{said:?}");
    for (said, key) in said.iter().zip(["wage.operator", "interest", "machine.hours", "own.load"]) {
        assert!(said.contains(&format!("rate `{key}`")) && said.contains("rates/own.toml:"), "{said}");
    }
    assert_eq!(library.book("own").unwrap().rates.keys().collect::<Vec<_>>(), ["machine.life"]);
}

#[test]
fn own_rules_lie_over_those_of_the_same_key() {
    let (with, problems) = library().with_own([("opportunities/zz.toml", "first"), ("opportunities/yy.toml", "other")]);
    let (with, more) = with.with_own([("opportunities/zz.toml", "second")]);
    assert!(problems.is_empty() && more.is_empty(), "{problems:?} {more:?}");
    let text = |key: &str| with.opportunities().find(|(k, _)| *k == key).map(|(_, text)| text);
    assert_eq!((text("zz"), text("yy"), text("xx")), (Some("second"), Some("other"), None));
    assert!(with.find("opportunities/zz").is_none());
}
