//! The files in `tests/suite`: those in `good` pass everything, those in `bad` give exactly the messages noted beside their lines.
//!
//! A note is a comment at the end of a line: `# error: code` or `# warning: code`, several codes separated by commas.

use std::collections::BTreeMap;
use std::path::Path;
use tare_calc::{Calculation, any_shape, check, flat_inputs, lower, parse, run_checks, table_probes};
use tare_diag::{Diag, Place, line_and_column, render};

/// Every file of the suite by key (`good/moulding`), with the messages of reading it.
fn suite() -> BTreeMap<String, (String, Calculation, Vec<Diag>)> {
    let mut found = BTreeMap::new();
    for folder in ["good", "bad"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/suite").join(folder);
        for entry in std::fs::read_dir(path).expect("the suite is there") {
            let path = entry.expect("readable").path();
            let key = format!("{folder}/{}", path.file_stem().expect("a name").to_string_lossy());
            let text = std::fs::read_to_string(&path).expect("readable");
            let (calc, diags) = parse(&key, &format!("{key}.toml"), &text);
            found.insert(key, (text, calc, diags));
        }
    }
    found
}

fn library(suite: &BTreeMap<String, (String, Calculation, Vec<Diag>)>) -> BTreeMap<String, Calculation> {
    suite.iter().map(|(key, (_, calc, _))| (key.clone(), calc.clone())).collect()
}

fn found(text: &str, diags: &[Diag]) -> Vec<(usize, String)> {
    let mut found: Vec<(usize, String)> = diags
        .iter()
        .map(|d| {
            let line = match &d.place {
                Some(Place::Span { span, .. }) => line_and_column(text, span.start).0,
                _ => 0,
            };
            (line, format!("{}: {}", d.severity.word(), d.code))
        })
        .collect();
    found.sort();
    found
}

fn noted(text: &str) -> Vec<(usize, String)> {
    let mut noted = Vec::new();
    for (number, line) in text.lines().enumerate() {
        for word in ["error", "warning"] {
            let Some((_, codes)) = line.split_once(&format!("# {word}: ")) else { continue };
            let codes = codes.split(" # ").next().unwrap_or("");
            noted.extend(codes.split(',').map(|code| (number + 1, format!("{word}: {}", code.trim()))));
        }
    }
    noted.sort();
    noted
}

#[test]
fn bad_files_give_the_messages_noted_beside_their_lines() {
    let suite = suite();
    let lib = library(&suite);
    let mut wrong = String::new();
    for (key, (text, calc, read)) in suite.iter().filter(|(key, _)| key.starts_with("bad/")) {
        let mut diags = read.clone();
        diags.extend(check(calc, &lib));
        let (found, noted) = (found(text, &diags), noted(text));
        if found != noted {
            let extra: Vec<_> = found.iter().filter(|f| !noted.contains(f)).collect();
            let missing: Vec<_> = noted.iter().filter(|n| !found.contains(n)).collect();
            wrong += &format!("{key}: found but not noted {extra:?}, noted but not found {missing:?}\n");
            for d in diags.iter().filter(|d| !noted.iter().any(|n| n.1.ends_with(d.code))) {
                wrong += &render(d, |_| Some(text));
            }
        }
        assert!(diags.iter().any(Diag::is_error), "{key} is not bad");
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn good_files_pass_check_lowering_examples_and_probes() {
    let suite = suite();
    let lib = library(&suite);
    let (mut seen, mut refused) = (0, 0);
    for (key, (text, calc, read)) in suite.iter().filter(|(key, _)| key.starts_with("good/")) {
        let mut diags = read.clone();
        diags.extend(check(calc, &lib));
        let shown: String = diags.iter().map(|d| render(d, |_| Some(text))).collect();
        assert!(!tare_diag::any_error(&diags) && found(text, &diags) == noted(text), "{key}:\n{shown}");
        match lower(calc, &lib, &any_shape(&flat_inputs(calc, &lib))) {
            Ok(lowered) => {
                for line in &lowered.lines {
                    let read = tare_calc::parse_formula(&line.formula.to_string());
                    assert!(read.1.is_empty() && read.0 == *line.formula, "{key}: `{}` does not read back", line.name);
                }
            }
            // lists whose lengths only the caller can match
            Err(diags) => assert!(diags.iter().all(|d| d.code == "list-length"), "{key}: {diags:?}"),
        }
        for result in run_checks(calc, &lib) {
            seen += 1;
            assert!(result.ok, "{key}: {} `{}` expected {}, got {}", result.id, result.name, result.expected, result.got);
        }
        let probes = table_probes(calc, &lib);
        let rows: usize = calc.tables.iter().map(|t| t.rows.len()).sum();
        assert!(probes.len() >= rows, "{key}: {} probes of {rows} rows", probes.len());
        for probe in probes {
            refused += usize::from(probe.expected.is_none());
            assert!(probe.ok, "{key}: {probe:?}");
        }
    }
    assert!(refused > 3, "only {refused} probes were refused");
    assert!(seen > 30, "only {seen} expectations were run");
}
