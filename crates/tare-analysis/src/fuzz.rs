//! Bodies of fuzz targets: what must hold for any text.

use crate::{Question, RowKind, Rules, Schema};
use std::sync::LazyLock;
use tare_library::Library;

static SCHEMA: LazyLock<Schema> = LazyLock::new(|| Schema::of(&Library::embedded().0));

/// Any text is a question or gives messages, whatever rows it is asked of.
pub fn fuzz_question(text: &str) {
    for kind in RowKind::ALL {
        if let Err(problems) = Question::read(kind, text, &SCHEMA) {
            assert!(!problems.is_empty(), "refused without a word");
        }
    }
}

/// Any text is a rule or gives messages.
pub fn fuzz_rule(text: &str) {
    let (rules, problems) = Rules::read([("fuzzed", text)], &SCHEMA);
    assert!(!rules.rules().is_empty() || !problems.is_empty(), "neither a rule nor a word");
}
