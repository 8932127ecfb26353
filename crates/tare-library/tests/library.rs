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
