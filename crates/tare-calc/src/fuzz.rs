//! What fuzz targets call: plain functions that panic when a promise is broken.

use crate::{Calculation, any_shape, check, flat_inputs, lower, parse, parse_formula, run_checks};
use std::collections::BTreeMap;

/// Reads any text as a formula; what was read without a problem must print and read back as the same tree.
pub fn fuzz_formula(text: &str) {
    let (tree, problems) = parse_formula(text);
    for problem in &problems {
        assert!(problem.span.end as usize <= text.len(), "bug: a problem points behind the text: {problem:?}");
    }
    if problems.is_empty() {
        assert!(!tree.has_bad(), "bug: a place holder without a problem in {text:?}");
        let printed = tree.to_string();
        let (again, problems) = parse_formula(&printed);
        assert!(
            problems.is_empty() && again == tree,
            "bug: {text:?} prints as {printed:?}, which reads differently: {problems:?}"
        );
    }
}

/// Reads any text as a calculation file; what passes the check must lower and run its checks.
pub fn fuzz_file(text: &str) {
    let (calc, problems) = parse("fuzz", "fuzz.toml", text);
    let lib: BTreeMap<String, Calculation> = [("fuzz".to_owned(), calc.clone())].into();
    let diags = check(&calc, &lib);
    let all = problems.iter().chain(&diags);
    for diag in all.clone() {
        let shown = tare_diag::render(diag, |_| Some(text));
        assert!(!shown.is_empty(), "bug: a message without text");
    }
    if !all.into_iter().any(tare_diag::Diag::is_error) {
        let inputs = flat_inputs(&calc, &lib);
        if let Err(diags) = lower(&calc, &lib, &any_shape(&inputs)) {
            let codes: Vec<&str> = diags.iter().map(|d| d.code).collect();
            assert!(!codes.contains(&"unchecked"), "bug: lowering found what the check missed: {diags:?}\n{text}");
        }
        let _ = run_checks(&calc, &lib);
    }
}
