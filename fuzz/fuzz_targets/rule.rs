//! Any text as a rule.
#![no_main]
libfuzzer_sys::fuzz_target!(|text: &str| tare_analysis::fuzz_rule(text));
