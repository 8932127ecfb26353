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
#[ignore = "prints"]
fn coverage_by_file() {
    let library = library();
    let mut all = 0;
    let mut open = 0;
    for c in tare_library::coverage(&library) {
        all += c.constants;
        open += c.uncovered.len();
        if !c.uncovered.is_empty() {
            println!("{} {}/{}", c.key, c.uncovered.len(), c.constants);
        }
    }
    println!("{open} of {all} open");
}
