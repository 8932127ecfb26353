//! Any bytes as a study folder.
#![no_main]
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    tare_app::folder::fuzz_folder(bytes);
});
