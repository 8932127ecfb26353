//! The `tare` program.
fn main() {}
