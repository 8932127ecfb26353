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
