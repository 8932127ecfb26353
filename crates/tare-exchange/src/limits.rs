//! Bounds on what a file may cost, so that a hostile or broken one cannot exhaust the machine.

/// The largest file that is read, in bytes.
pub(crate) const FILE_BYTES: usize = 64 << 20;
/// The most a packed file may unpack to, all read parts together, in bytes.
pub(crate) const UNPACKED_BYTES: u64 = 256 << 20;
/// The most a packed part may grow while unpacking, once it is past [`RATIO_FREE_BYTES`].
pub(crate) const RATIO: u64 = 250;
/// Parts below this unpacked size are not held to the ratio.
pub(crate) const RATIO_FREE_BYTES: u64 = 8 << 20;
/// The most non-empty cells of a file.
pub(crate) const CELLS: usize = 1_000_000;
/// The most cells the bounding box of a binary sheet may span.
pub(crate) const BOX_CELLS: u64 = 4_000_000;
/// The most sheets of a file.
pub(crate) const SHEETS: usize = 256;
/// The longest text kept of a cell, in bytes.
pub(crate) const CELL_BYTES: usize = 32 << 10;
/// How often a non-empty repeated cell or row is written out.
pub(crate) const REPEATS: u32 = 1_000;
/// The most merged ranges kept of a sheet.
pub(crate) const MERGES: usize = 10_000;
/// The most cells visited to recompute the formulas of a book.
pub(crate) const FORMULA_STEPS: usize = 20_000_000;
/// The most messages gathered from the rows; further ones are counted only.
pub(crate) const ROW_MESSAGES: usize = 10_000;
/// The most stated totals that are compared.
pub(crate) const TOTALS: usize = 1_000;
/// How far back a total named after its group looks for the rows it adds up.
pub(crate) const TOTAL_ROWS: usize = 2_000;
/// The most places on boards that runs such as `R1-R9` are written out to.
pub(crate) const PLACES: usize = 200_000;
/// The deepest hierarchy that is followed.
pub(crate) const LEVELS: usize = 64;
/// How many messages of one kind are given before the rest is only counted.
pub(crate) const MESSAGES: usize = 12;

/// Cuts a text to at most [`CELL_BYTES`], on a letter boundary; tells whether it was cut.
pub(crate) fn cut_text(text: &mut String) -> bool {
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
