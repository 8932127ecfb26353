//! Bounds on what a file may cost, so that a hostile or broken one cannot exhaust the machine.

/// The largest file that is read, in bytes.
pub const FILE_BYTES: usize = 64 << 20;
/// The most a packed file may unpack to, all read parts together, in bytes.
pub const UNPACKED_BYTES: u64 = 256 << 20;
/// The most a packed part may grow while unpacking, once it is past [`RATIO_FREE_BYTES`].
pub const RATIO: u64 = 250;
/// Parts below this unpacked size are not held to the ratio.
pub const RATIO_FREE_BYTES: u64 = 8 << 20;
/// The most non-empty cells of a file.
pub const CELLS: usize = 2_000_000;
/// The most cells the bounding box of a binary sheet may span.
pub const BOX_CELLS: u64 = 4_000_000;
/// The most sheets of a file.
pub const SHEETS: usize = 256;
/// The longest text kept of a cell, in bytes.
pub const CELL_BYTES: usize = 32 << 10;
/// How often a non-empty repeated cell or row is written out.
pub const REPEATS: u32 = 1_000;
/// The deepest hierarchy that is followed.
pub const LEVELS: usize = 64;
/// How many messages of one kind are given before the rest is only counted.
pub const MESSAGES: usize = 12;

/// Cuts a text to at most [`CELL_BYTES`], on a letter boundary; tells whether it was cut.
pub fn cut_text(text: &mut String) -> bool {
    if text.len() <= CELL_BYTES {
        return false;
    }
    let mut end = CELL_BYTES;
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.truncate(end);
    true
}
