//! The table of rules names tests that exist.

/// Every function that `docs/dev/rules.md` names stands in the file it names.
#[test]
fn the_table_of_rules_names_tests_that_exist() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let table = std::fs::read_to_string(folder.join("../../docs/dev/rules.md")).expect("the table");
    let mut named = 0;
    for row in table.lines().filter(|l| l.starts_with("| ") && l.contains("::")) {
        let tests = row.split(" | ").nth(1).expect("a second column");
        let mut file = String::new();
        for word in tests.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':')) {
            let test = match word.trim_end_matches(':').split_once("::") {
                Some((module, test)) => {
                    file = std::fs::read_to_string(folder.join(format!("tests/rules/{module}.rs"))).expect("a file of rules");
                    test
                }
                None if word.matches('_').count() > 2 && !word.starts_with('_') && word != "min_part_criteria" => word,
                None => continue,
            };
            assert!(file.contains(&format!("fn {test}(")), "{test} is in the table and nowhere else: {row}");
            named += 1;
        }
    }
    assert!(named > 90, "{named}");
}
