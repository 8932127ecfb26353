//! One JSON object a line; what is not known is `null`.

use super::{Cell, Table, fits};
use std::io::{self, Write};

pub(super) fn write(table: Table<'_>, out: &mut dyn Write) -> io::Result<u64> {
    let mut rows = 0;
    for row in table.rows {
        fits(table.of, &row)?;
        for (at, (cell, column)) in row.iter().zip(table.of.columns).enumerate() {
            // names are plain words
            write!(out, "{}\"{}\":", if at == 0 { '{' } else { ',' }, column.name)?;
            match cell {
                Cell::None => out.write_all(b"null")?,
                Cell::Text(text) => serde_json::to_writer(&mut *out, text)?,
                // not finite: null
                Cell::Number(number) => serde_json::to_writer(&mut *out, number)?,
                Cell::Whole(number) => write!(out, "{number}")?,
                Cell::Flag(flag) => write!(out, "{flag}")?,
            }
        }
        out.write_all(b"}\n")?;
        rows += 1;
    }
    Ok(rows)
}
