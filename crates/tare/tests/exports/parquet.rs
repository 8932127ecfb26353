//! Reads Parquet with another implementation than the one it is written with (`parquet2` by other authors, safe Rust): pages are taken from it, and their
//! values are read here by the format's specification (Apache Parquet, "Encodings": PLAIN, RLE and RLE_DICTIONARY).

use parquet2::encoding::Encoding;
use parquet2::encoding::hybrid_rle::HybridRleDecoder;
use parquet2::metadata::ColumnChunkMetaData;
use parquet2::page::{DataPage, Page, split_buffer};
use parquet2::read::{decompress, get_page_iterator, read_metadata};
use parquet2::schema::types::PhysicalType;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

/// A page is at most this long here.
const PAGE: usize = 1 << 26;

/// A file as read.
pub(crate) struct Parquet {
    pub(crate) columns: Vec<String>,
    pub(crate) rows: Vec<Vec<Value>>,
    /// What is said beside the rows.
    pub(crate) metadata: BTreeMap<String, String>,
}

pub(crate) fn read(file: &Path) -> Parquet {
    let mut reader = File::open(file).expect("a file");
    let meta = read_metadata(&mut reader).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    let mut rows = Vec::new();
    for group in &meta.row_groups {
        let columns: Vec<Vec<Value>> = group.columns().iter().map(|chunk| column(chunk, &mut reader)).collect();
        assert!(columns.iter().all(|column| column.len() == group.num_rows()), "every column is as long as its group");
        rows.extend((0..group.num_rows()).map(|at| columns.iter().map(|column| column[at].clone()).collect::<Vec<_>>()));
    }
    let said = meta.key_value_metadata().iter().flatten();
    Parquet {
        columns: meta.schema().fields().iter().map(|field| field.name().to_owned()).collect(),
        rows,
        metadata: said.map(|pair| (pair.key.clone(), pair.value.clone().unwrap_or_default())).collect(),
    }
}

fn column(chunk: &ColumnChunkMetaData, reader: &mut File) -> Vec<Value> {
    let (mut dictionary, mut buffer, mut found) = (Vec::new(), Vec::new(), Vec::new());
    for page in get_page_iterator(chunk, reader, None, Vec::new(), PAGE).expect("pages") {
        match decompress(page.expect("a page"), &mut buffer).expect("unpacked") {
            Page::Dict(page) => dictionary = plain(chunk.physical_type(), &page.buffer, page.num_values),
            Page::Data(page) => found.extend(data(chunk.physical_type(), &page, &dictionary)),
        }
    }
    found
}

fn data(kind: PhysicalType, page: &DataPage, dictionary: &[Value]) -> Vec<Value> {
    let (_, levels, values) = split_buffer(page).expect("levels and values");
    let there: Vec<u32> = runs(levels, 1, page.num_values());
    let count = there.iter().filter(|level| **level == 1).count();
    let values = match page.encoding() {
        Encoding::Plain => plain(kind, values, count),
        Encoding::PlainDictionary | Encoding::RleDictionary => {
            let numbers = match values.split_first() {
                Some((bits, rest)) if *bits > 0 => runs(rest, u32::from(*bits), count),
                // one word needs no bits
                _ => vec![0; count],
            };
            numbers.into_iter().map(|number| dictionary[number as usize].clone()).collect()
        }
        other => panic!("an encoding that Tare does not write: {other:?}"),
    };
    let mut values = values.into_iter();
    there.into_iter().map(|level| if level == 1 { values.next().expect("a value") } else { Value::Null }).collect()
}

fn runs(bytes: &[u8], bits: u32, count: usize) -> Vec<u32> {
    HybridRleDecoder::try_new(bytes, bits, count).expect("runs").map(|number| number.expect("a number")).take(count).collect()
}

fn plain(kind: PhysicalType, bytes: &[u8], count: usize) -> Vec<Value> {
    let eight = |at: usize| <[u8; 8]>::try_from(&bytes[at * 8..at * 8 + 8]).expect("eight bytes");
    match kind {
        PhysicalType::Double => (0..count).map(|at| json!(f64::from_le_bytes(eight(at)))).collect(),
        PhysicalType::Int64 => (0..count).map(|at| json!(i64::from_le_bytes(eight(at)))).collect(),
        PhysicalType::Boolean => (0..count).map(|at| json!(bytes[at / 8] >> (at % 8) & 1 == 1)).collect(),
        PhysicalType::ByteArray => {
            let mut rest = bytes;
            let mut text = || {
                let (length, behind) = rest.split_first_chunk::<4>().expect("a length");
                let (text, behind) = behind.split_at(u32::from_le_bytes(*length) as usize);
                rest = behind;
                json!(String::from_utf8(text.to_vec()).expect("UTF-8"))
            };
            (0..count).map(|_| text()).collect()
        }
        other => panic!("a type that Tare does not write: {other:?}"),
    }
}
