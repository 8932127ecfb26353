//! Any text as a value: what is read prints and reads back as the same value.
#![no_main]
libfuzzer_sys::fuzz_target!(|text: &str| {
    if let Ok(quantity) = tare_units::Quantity::parse(text) {
        let printed = quantity.print();
        assert_eq!(tare_units::Quantity::parse(&printed).as_ref(), Ok(&quantity), "{text:?} prints as {printed:?}");
    }
});
