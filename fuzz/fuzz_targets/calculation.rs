//! Any text as a calculation file.
#![no_main]
libfuzzer_sys::fuzz_target!(|text: &str| tare_calc::fuzz_file(text));
