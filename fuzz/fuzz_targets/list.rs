//! Any bytes as a parts list.
#![no_main]
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    for name in ["list.csv", "list.xlsx", "list.ods", "list.xls"] {
        if let Ok(book) = tare_exchange::read(&tare_exchange::Source { name, bytes }) {
            let _ = tare_exchange::propose(&book, &tare_exchange::Hints::default());
        }
    }
});
