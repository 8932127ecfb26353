//! Any text as a question.
#![no_main]
libfuzzer_sys::fuzz_target!(|text: &str| tare_analysis::fuzz_question(text));
