//! CSV by RFC 4180: commas, CRLF, UTF-8; units stand in the header.

use super::{Cell, Facts, Table, fits};
use crate::export::write_csv_text;
use std::io::{self, Write};

pub(super) fn write(table: Table<'_>, facts: &Facts, out: &mut dyn Write) -> io::Result<u64> {
    let header = table.of.columns.iter().map(|column| match facts.unit(column) {
        unit if unit.is_empty() => column.name.to_owned(),
        unit => format!("{} ({unit})", column.name),
    });
    line(header.map(|name| write_csv_text(&name)), out)?;
    let mut rows = 0;
    for row in table.rows {
        fits(table.of, &row)?;
        line(row.iter().map(cell), out)?;
        rows += 1;
    }
    Ok(rows)
}

fn line(fields: impl Iterator<Item = String>, out: &mut dyn Write) -> io::Result<()> {
    for (at, field) in fields.enumerate() {
        if at > 0 {
            out.write_all(b",")?;
        }
        out.write_all(field.as_bytes())?;
    }
    out.write_all(b"\r\n")
}

/// Nothing is an empty field, an empty text a pair of quotes.
fn cell(cell: &Cell<'_>) -> String {
    match cell {
        Cell::None => String::new(),
        Cell::Text(text) if text.is_empty() => "\"\"".to_owned(),
        Cell::Text(text) => write_csv_text(text),
        Cell::Number(number) => shortest(*number),
        Cell::Whole(number) => number.to_string(),
        Cell::Flag(flag) => flag.to_string(),
    }
}

/// The shortest text that reads back to the same bits.
fn shortest(number: f64) -> String {
    let size = number.abs();
    match number {
        _ if !number.is_finite() => String::new(),
        _ if size == 0.0 || (1e-5..1e16).contains(&size) => format!("{number}"),
        _ => format!("{number:e}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_back_to_the_same_bits() {
        let mut bits: u64 = 1;
        for _ in 0..20_000 {
            bits = bits.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let number = f64::from_bits(bits);
            let text = shortest(number);
            if number.is_finite() {
                assert_eq!(text.parse::<f64>().map(f64::to_bits), Ok(number.to_bits()), "{text}");
                assert!(text.len() < 26, "{text}");
            } else {
                assert_eq!(text, "");
            }
        }
        assert_eq!([1.0, -0.25, 1e-7, 1e300].map(shortest), ["1", "-0.25", "1e-7", "1e300"]);
    }
}
