//! The direction of dependencies, and what pure crates may not touch.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// What each crate may use of ours; the order is the way the data flows.
const ALLOWED: &[(&str, &[&str])] = &[
    ("tare-diag", &[]),
    ("tare-units", &["tare-diag"]),
    ("tare-engine", &[]),
    ("tare-model", &["tare-diag", "tare-units"]),
    ("tare-calc", &["tare-diag", "tare-units", "tare-engine"]),
    ("tare-library", &["tare-diag", "tare-units", "tare-engine", "tare-model", "tare-calc"]),
    ("tare-study", &["tare-diag", "tare-units", "tare-engine", "tare-model", "tare-calc", "tare-library"]),
    ("tare-analysis", &["tare-diag", "tare-units", "tare-engine", "tare-model", "tare-calc", "tare-library", "tare-study"]),
    ("tare-store", &["tare-diag"]),
    ("tare-exchange", &["tare-diag", "tare-units"]),
    ("tare-report", &["tare-diag", "tare-units"]),
    ("tare-workbook", &["tare-units", "tare-engine", "tare-calc", "tare-library", "tare-study"]),
    (
        "tare-app",
        &[
            "tare-diag",
            "tare-units",
            "tare-engine",
            "tare-model",
            "tare-calc",
            "tare-library",
            "tare-study",
            "tare-analysis",
            "tare-store",
            "tare-exchange",
            "tare-report",
            "tare-workbook",
        ],
    ),
    ("tare-web", &["tare-diag", "tare-app"]),
    ("tare", &["tare-diag", "tare-app", "tare-web"]),
];

/// Crates that take text and values and return them.
const PURE: &[&str] =
    &["tare-diag", "tare-units", "tare-engine", "tare-model", "tare-calc", "tare-library", "tare-study", "tare-analysis"];

/// What a pure crate's sources must not name.
const FORBIDDEN: &[&str] = &[
    "std::fs",
    "std::net",
    "std::env::",
    "std::process",
    "std::time",
    "SystemTime",
    "Instant::now",
    "println!",
    "eprintln!",
    "print!(",
    "std::io::std",
    " rand::",
    "getrandom",
    "thread_rng",
];

fn crates() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn manifest_dependencies(name: &str) -> BTreeSet<String> {
    let text = fs::read_to_string(crates().join(name).join("Cargo.toml")).unwrap();
    let normal = text.split("[dependencies]").nth(1).unwrap_or("").split("\n[").next().unwrap_or("").to_owned();
    let names = normal.lines().filter_map(|l| l.split(['.', ' ', '=']).next()).filter(|n| n.starts_with("tare"));
    names.map(str::to_owned).collect()
}

#[test]
fn every_dependency_points_down() {
    let allowed: BTreeMap<&str, BTreeSet<&str>> = ALLOWED.iter().map(|(n, d)| (*n, d.iter().copied().collect())).collect();
    let mut seen = 0;
    for entry in fs::read_dir(crates()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let rule = allowed
            .get(name.as_str())
            .unwrap_or_else(|| panic!("{name} is not in the map of crates; add it here and to docs/dev/architecture.md"));
        for dependency in manifest_dependencies(&name) {
            assert!(rule.contains(dependency.as_str()), "{name} must not use {dependency}");
        }
        seen += 1;
    }
    assert_eq!(seen, ALLOWED.len());
}

#[test]
fn pure_crates_touch_nothing_outside() {
    for name in PURE {
        let mut folders = vec![crates().join(name).join("src")];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                    continue;
                }
                let text = fs::read_to_string(&path).unwrap();
                let code: String = text.lines().filter(|l| !l.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n");
                // Tests at the end of a file may print.
                let code = code.split("#[cfg(test)]").next().unwrap_or("");
                for word in FORBIDDEN {
                    assert!(!code.contains(word), "{} names {word}; {name} is pure", path.display());
                }
            }
        }
    }
}
