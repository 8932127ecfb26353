//! Reports, cards and drawings on paper: printed by a real browser and read back, and what is said where there is none.

mod common;

use common::{Bench, Run, SMALL};
use serde_json::Value;
use std::ffi::OsStr;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

/// Texts that mean something to a browser or to a spreadsheet, and one that turns direction.
const SCRIPT: &str = "<script>alert(1)</script>";
const FORMULA: &str = "=cmd()";
const TURNED: &str = "\u{5e9}\u{5dc}\u{5d5}\u{5dd} \u{202e}zyx";

/// The small study with hostile names.
fn hostile() -> Bench {
    let bench = Bench::with_study(SMALL);
    for (part, name) in [("P1", SCRIPT), ("P2", TURNED), ("P3", FORMULA)] {
        bench.run(&["edit", "set", part, "name", name]).well();
    }
    bench
}

/// Runs the program where the browser is on PATH.
fn printed(bench: &Bench, args: &[&str]) -> Run {
    let path = std::env::var_os("PATH").unwrap_or_default();
    bench.run_with(bench.path("").as_path(), args, &[("PATH", path.as_os_str())])
}

/// The words of a PDF, page for page.
fn words(pdf: &Path) -> Vec<String> {
    let done = Command::new("pdftotext").args(["-layout", "-enc", "UTF-8"]).args([pdf.as_os_str(), OsStr::new("-")]).output();
    let done = done.expect("the tests read PDF with pdftotext: apt-get install -y poppler-utils");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let text = String::from_utf8(done.stdout).expect("UTF-8");
    text.split('\u{c}').filter(|page| !page.trim().is_empty()).map(str::to_owned).collect()
}

/// The number at the end of the entry of a section in the contents.
fn page_of(cover: &str, section: &str) -> usize {
    let behind = cover.split(&format!("{section} ")).nth(1).unwrap_or_else(|| panic!("no {section} in\n{cover}"));
    behind.split(' ').next().and_then(|n| n.parse().ok()).unwrap_or_else(|| panic!("no page of {section} in\n{cover}"))
}

#[test]
fn a_report_is_printed_and_reads_back() {
    let bench = hostile();
    let said = printed(&bench, &["report", "--pdf", "pack.pdf", "--draws", "0", "--json"]).json();
    let pages = words(&bench.path("pack.pdf"));
    assert_eq!(said["pages"].as_u64(), Some(pages.len() as u64));
    let cover = &pages[0];
    for text in ["Bracket", "Contents", "High-voltage and thermal hazards", "How every number came about is in the HTML file"] {
        assert!(cover.contains(text), "{text} is missing in\n{cover}");
    }
    for (n, page) in pages.iter().enumerate() {
        assert!(page.contains(&format!("{} / {}", n + 1, pages.len())), "page {} has no number:\n{page}", n + 1);
        assert!(page.contains("Bracket") && page.contains("entry "), "page {} has no header or footer:\n{page}", n + 1);
    }
    // the contents say where sections begin, and there they do
    let flat = |page: &str| page.split_whitespace().collect::<Vec<_>>().join(" ");
    for section in ["1. Summary", "5. Should-cost", "10. Parts", "19. Sources"] {
        let (at, heads) = (page_of(&flat(cover), section), |page: &String| flat(page).contains(section));
        assert!(heads(&pages[at - 1]), "{section} does not begin on page {at}:\n{}", pages[at - 1]);
        assert_eq!(pages.iter().filter(|page| heads(page)).count(), 2, "{section} stands in the contents and where it begins");
    }
    let all = pages.join("\n");
    for text in ["Figure 1", "Table 1", SCRIPT, FORMULA, "\u{5e9}\u{5dc}\u{5d5}\u{5dd}"] {
        assert!(all.contains(text), "{text} is missing");
    }
    assert!(!all.contains("Left out of this report"));

    // some sections, on other paper
    let out =
        printed(&bench, &["report", "--pdf", "cost.pdf", "--draws", "0", "--sections", "cost,parts", "--paper", "letter"]).well();
    assert!(out.contains("cost.pdf, ") && out.contains(" pages"), "{out}");
    let some = words(&bench.path("cost.pdf"));
    assert!(
        some.len() < pages.len() && some[0].contains("Left out of this report: Summary, What drives the cost"),
        "{}",
        some[0]
    );
    let letter = std::fs::read(bench.path("cost.pdf")).expect("written");
    let (a4, letter) = (std::fs::read(bench.path("pack.pdf")).expect("written"), String::from_utf8_lossy(&letter).into_owned());
    assert!(letter.contains("/MediaBox [0 0 612 792]"), "8.5 by 11 inches of 72 points");
    assert!(String::from_utf8_lossy(&a4).contains("/MediaBox [0 0 594.9"), "210 mm");

    // the summary is one page
    let said = printed(&bench, &["report", "--summary", "--pdf", "page.pdf", "--draws", "0", "--json"]).json();
    assert_eq!(said["pages"], 1);
    assert!(said["report"].as_str().is_some_and(|file| file.ends_with("summary.html")), "{said}");
    let page = words(&bench.path("page.pdf")).concat();
    assert!(page.contains("Hazards") && page.contains("Should-cost per product") && !page.contains("Contents"), "{page}");
}

#[test]
fn cards_and_drawings_are_files_of_their_own() {
    let bench = hostile();
    let said = printed(&bench, &["export", "cards", "wall.pdf", "--json"]).json();
    assert_eq!((said["cards"].as_u64(), said["pages"].as_u64()), (Some(3), Some(1)), "four to a page");
    let pages = words(&bench.path("wall.pdf"));
    for text in ["P1", "P2", "P3", SCRIPT, FORMULA, "2.0000 kg", "DC04", "Cost, each", "4 in the product", "no photo"] {
        assert!(pages[0].contains(text), "{text} is missing in\n{}", pages[0]);
    }
    let out = printed(&bench, &["export", "cards", "one.html", "--under", "P2"]).well();
    assert!(out.contains("one.html: 1 card on 1 page"), "{out}");
    bench.run(&["export", "cards", "one.html", "--under", "P22"]).refused(&["part-unknown", "P22", "did you mean `P2`?"]);

    let said = printed(&bench, &["export", "figures", "figures", "--png", "--width", "800", "--draws", "0", "--json"]).json();
    let files: Vec<&str> = said["files"].as_array().expect("files").iter().filter_map(Value::as_str).collect();
    assert_eq!(files.len() as u64, 2 * said["figures"].as_u64().expect("a count"), "each as SVG and as PNG");
    let index = std::fs::read_to_string(bench.path("figures/index.csv")).expect("a list");
    assert_eq!(index.lines().count(), files.len() + 1);
    for file in files {
        assert!(index.contains(file), "{file} is missing in\n{index}");
        let bytes = std::fs::read(bench.path("figures").join(file)).expect(file);
        if file.ends_with(".png") {
            assert!(bytes.starts_with(b"\x89PNG\r\n\x1a\n"), "{file}");
            let size = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes"));
            assert!((300..=800).contains(&size(16)) && size(20) > 40, "{file}: {} x {}", size(16), size(20));
            // a drawing and not an empty ground: that packs to next to nothing
            assert!(bytes.len() > 2_000, "{file}: {} bytes", bytes.len());
        } else {
            let svg = String::from_utf8(bytes).expect("text");
            assert!(svg.starts_with("<svg xmlns=") && !svg.contains("<script"), "{file}");
        }
    }
}

#[test]
fn without_a_browser_it_is_said_what_to_install() {
    let bench = Bench::with_study(SMALL);
    let err = bench.run(&["report", "--pdf", "pack.pdf", "--draws", "0"]).refused(&[
        "browser-missing",
        "no browser of the Chromium family is on PATH",
        "apt-get install chromium",
        "TARE_BROWSER",
        "the report itself is written",
    ]);
    assert!(!err.contains("panicked"), "{err}");
    assert!(bench.path("tare-work/report.html").is_file() && !bench.path("pack.pdf").exists());
    bench.run(&["export", "cards", "wall.pdf"]).refused(&["browser-missing", "tare export cards NAME.html"]);
    assert!(!bench.path("wall.pdf").exists());
    bench
        .run(&["export", "figures", "figures", "--png", "--draws", "0"])
        .refused(&["browser-missing", "the SVG files are written"]);
    assert!(bench.path("figures/index.csv").is_file(), "what was written is listed");
    let named = [("TARE_BROWSER", OsStr::new("no/such/browser"))];
    let folder = bench.path("");
    bench
        .run_with(&folder, &["report", "--pdf", "p.pdf", "--draws", "0"], &named)
        .refused(&["no/such/browser", "which is no program here"]);
    // a program that is no browser writes nothing
    let named = [("TARE_BROWSER", OsStr::new("/bin/true"))];
    bench
        .run_with(&folder, &["report", "--pdf", "p.pdf", "--draws", "0"], &named)
        .refused(&["browser-failed", "ended without writing anything"]);
    assert!(!bench.path("p.pdf").exists());
    bench.run(&["report", "--out", "one", "--pdf", "one", "--draws", "0"]).refused(&["file-twice", "--out another name"]);
    bench.run(&["report", "--sections", "cots,mass"]).refused(&[
        "section-unknown",
        "did you mean `cost`?",
        "sections: summary, drivers",
    ]);
    assert_eq!(bench.run(&["report", "--paper", "a7"]).code, 2);
}

#[test]
fn a_watched_report_follows_the_study() {
    let bench = Bench::with_study(SMALL);
    let mut watching = Command::new(env!("CARGO_BIN_EXE_tare"))
        .args(["report", "--watch", "--draws", "0"])
        .current_dir(bench.path(""))
        .env_clear()
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it starts");
    let mut lines = BufReader::new(watching.stdout.take().expect("a pipe")).lines().map(|l| l.expect("a line"));
    let mut until = |word: &str| lines.find(|l| l.contains(word)).unwrap_or_else(|| panic!("it ended before it said {word}"));
    until("Watching");
    let page = || std::fs::read_to_string(bench.path("tare-work/report.html")).expect("written");
    assert!(!page().contains("Plate of another name"));
    bench.run(&["edit", "set", "P2", "name", "Plate of another name"]).well();
    until("written in");
    assert!(page().contains("Plate of another name"));
    watching.kill().expect("stopped");
    watching.wait().expect("ended");
}
