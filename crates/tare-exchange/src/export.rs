//! Text for tables that other programs open.

/// Writes a text as one CSV field that stays text.
///
/// A spreadsheet takes a field that begins with `=`, `+`, `-`, `@`, a tab or a carriage return for a formula; an apostrophe before it keeps it text.
/// Separators, quotation marks and line ends are quoted. Numbers are not written through this function.
///
/// ```
/// assert_eq!(tare_exchange::write_csv_text("=1+2"), "'=1+2");
/// assert_eq!(tare_exchange::write_csv_text("a;\"b\""), "\"a;\"\"b\"\"\"");
/// assert_eq!(tare_exchange::write_csv_text("M5"), "M5");
/// ```
pub fn write_csv_text(text: &str) -> String {
    let risky = text.trim_start_matches(' ').starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    let guarded = if risky { format!("'{text}") } else { text.to_owned() };
    if guarded.contains(['"', ',', ';', '\t', '|', '\n', '\r']) {
        format!("\"{}\"", guarded.replace('"', "\"\""))
    } else {
        guarded
    }
}
