//! Any text as a formula.
#![no_main]
libfuzzer_sys::fuzz_target!(|text: &str| tare_calc::fuzz_formula(text));
