//! Apache Parquet: text as UTF-8 strings, numbers as doubles and 64-bit integers, every column may be empty. Units, meanings and what is said of the
//! export stand in the file's metadata, as the format has none that readers show for a column.

use super::{Cell, Facts, Row, Table, Type, dictionary, fits};
use parquet::basic::{Compression, LogicalType, Repetition, Type as Physical};
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type as Schema;
use std::io::{self, Write};
use std::sync::Arc;

/// Rows held at a time.
const GROUP: usize = 32_768;

pub(super) fn write(table: Table<'_>, facts: &Facts, out: &mut (dyn Write + Send)) -> io::Result<u64> {
    let said = facts.said.iter().map(|(word, text)| (format!("tare.{word}"), text.clone()));
    let columns = ("tare.table".to_owned(), dictionary::described(table.of, facts).to_string());
    let metadata = said.chain([columns]).map(|(key, text)| KeyValue::new(key, text)).collect();
    let properties = WriterProperties::builder()
        .set_created_by(format!("tare {}", env!("CARGO_PKG_VERSION")))
        .set_compression(Compression::SNAPPY)
        .set_key_value_metadata(Some(metadata))
        .build();
    let schema = Arc::new(schema(&table).map_err(other)?);
    let mut file = SerializedFileWriter::new(out, schema, Arc::new(properties)).map_err(other)?;
    let (mut rows, mut all, mut count) = (table.rows, Vec::new(), 0);
    loop {
        all.clear();
        for row in rows.by_ref().take(GROUP) {
            fits(table.of, &row)?;
            all.push(row);
        }
        if all.is_empty() {
            break;
        }
        count += all.len() as u64;
        let mut group = file.next_row_group().map_err(other)?;
        for at in 0..table.of.columns.len() {
            column(&mut group, at, &all).map_err(other)?;
        }
        group.close().map_err(other)?;
    }
    file.close().map_err(other)?;
    Ok(count)
}

fn schema(table: &Table<'_>) -> Result<Schema, ParquetError> {
    let columns = table.of.columns.iter().map(|column| {
        let (physical, logical) = match column.kind {
            Type::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
            Type::Number => (Physical::DOUBLE, None),
            Type::Whole => (Physical::INT64, None),
            Type::Flag => (Physical::BOOLEAN, None),
        };
        let made = Schema::primitive_type_builder(column.name, physical).with_repetition(Repetition::OPTIONAL);
        made.with_logical_type(logical).build().map(Arc::new)
    });
    Schema::group_type_builder(table.of.name).with_fields(columns.collect::<Result<_, _>>()?).build()
}

/// Writes one column of a group: which cells hold something, and what.
fn column<W: Write + Send>(group: &mut SerializedRowGroupWriter<'_, W>, at: usize, rows: &[Row<'_>]) -> Result<(), ParquetError> {
    let cells = || rows.iter().map(|row| &row[at]);
    let there: Vec<i16> = cells().map(|cell| i16::from(!is_none(cell))).collect();
    let Some(mut column) = group.next_column()? else { return Ok(()) };
    match column.untyped() {
        ColumnWriter::ByteArrayColumnWriter(to) => {
            let texts = cells().filter_map(|cell| match cell {
                Cell::Text(text) => Some(ByteArray::from(text.as_ref())),
                _ => None,
            });
            to.write_batch(&texts.collect::<Vec<_>>(), Some(&there), None)?
        }
        ColumnWriter::DoubleColumnWriter(to) => {
            let numbers = cells().filter_map(|cell| match cell {
                Cell::Number(number) if number.is_finite() => Some(*number),
                _ => None,
            });
            to.write_batch(&numbers.collect::<Vec<_>>(), Some(&there), None)?
        }
        ColumnWriter::Int64ColumnWriter(to) => {
            let numbers = cells().filter_map(|cell| match cell {
                Cell::Whole(number) => Some(*number),
                _ => None,
            });
            to.write_batch(&numbers.collect::<Vec<_>>(), Some(&there), None)?
        }
        ColumnWriter::BoolColumnWriter(to) => {
            let flags = cells().filter_map(|cell| match cell {
                Cell::Flag(flag) => Some(*flag),
                _ => None,
            });
            to.write_batch(&flags.collect::<Vec<_>>(), Some(&there), None)?
        }
        _ => return Err(ParquetError::General("bug: a column of a type that no table has".to_owned())),
    };
    column.close()
}

fn is_none(cell: &Cell<'_>) -> bool {
    match cell {
        Cell::None => true,
        Cell::Number(number) => !number.is_finite(),
        _ => false,
    }
}

fn other(error: ParquetError) -> io::Error {
    match error {
        // a full disk stays a full disk
        ParquetError::External(inner) => match inner.downcast::<io::Error>() {
            Ok(inner) => *inner,
            Err(inner) => io::Error::other(inner),
        },
        error => io::Error::other(error),
    }
}
