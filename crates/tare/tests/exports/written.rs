//! Files that an export wrote, as tables and as bytes.

use super::common::Bench;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

/// Rows by column.
pub(super) type Rows = Vec<BTreeMap<String, Value>>;

/// Reads a table from a file.
type Reader = fn(&Path) -> Rows;

/// The forms that this program writes, and what a file of each holds.
pub(super) fn forms() -> Vec<(&'static str, Reader)> {
    vec![
        ("csv", csv_rows),
        ("jsonl", json_rows),
        #[cfg(feature = "parquet")]
        ("parquet", parquet_rows),
    ]
}

/// CSV by another hand than the one it is written with; numbers by what the header says, one leading apostrophe taken away as docs/tables.md says.
fn csv_rows(file: &Path) -> Rows {
    let schema = read_json(&file.with_file_name("schema.json"));
    let name = file.file_stem().and_then(|name| name.to_str()).expect("a name");
    let tables = schema["tables"].as_array().expect("tables");
    let table = tables.iter().find(|table| table["name"] == name).expect("described");
    let columns = table["columns"].as_array().expect("columns");
    let mut reader = csv::Reader::from_path(file).expect("a file");
    let head: Vec<String> = columns
        .iter()
        .map(|column| match text(column, "unit") {
            "" => text(column, "name").to_owned(),
            unit => format!("{} ({unit})", text(column, "name")),
        })
        .collect();
    assert_eq!(reader.headers().expect("a header").iter().collect::<Vec<_>>(), head, "units stand in the header");
    let cell = |column: &Value, field: &str| match text(column, "type") {
        "text" if field.is_empty() => Value::Null,
        "text" => Value::from(field.strip_prefix('\'').unwrap_or(field)),
        _ if field.is_empty() => Value::Null,
        "number" => Value::from(field.parse::<f64>().expect("a number")),
        "whole number" => Value::from(field.parse::<i64>().expect("a whole number")),
        _ => Value::from(field.parse::<bool>().expect("true or false")),
    };
    let row = |record: csv::StringRecord| {
        columns.iter().zip(record.iter()).map(|(column, field)| (text(column, "name").to_owned(), cell(column, field))).collect()
    };
    reader.records().map(|record| row(record.expect("a row of the header's length"))).collect()
}

fn json_rows(file: &Path) -> Rows {
    let text = std::fs::read_to_string(file).expect("a file");
    text.split_terminator('\n').map(|line| serde_json::from_str(line).expect("a JSON object in each line")).collect()
}

#[cfg(feature = "parquet")]
fn parquet_rows(file: &Path) -> Rows {
    let found = super::parquet::read(file);
    assert!(found.metadata.contains_key("tare.table") && found.metadata.contains_key("tare.basis"), "{:?}", found.metadata);
    found.rows.into_iter().map(|row| found.columns.iter().cloned().zip(row).collect()).collect()
}

pub(super) fn read_json(file: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(file).expect("a file")).expect("JSON")
}

pub(super) fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().unwrap_or_default()
}

/// Everything that leaves the workspace for a class of readers: file names with their bytes, packed files with what is in them. Every new export has its
/// line here.
pub(super) fn everything(bench: &Bench, whom: &[&str]) -> BTreeMap<String, Vec<u8>> {
    let out = bench.path("out");
    let _ = std::fs::remove_dir_all(&out);
    std::fs::create_dir_all(&out).expect("made");
    let formats: Vec<&str> = forms().into_iter().map(|(format, _)| format).collect();
    bench.run(&[&["export"], whom, &["text", "out/study.toml"]].concat()).well();
    bench.run(&[&["export"], whom, &["parts", "out/parts.csv"]].concat()).well();
    bench.run(&[&["export"], whom, &["workbook", "out/study.xlsx", "--draws", "128"]].concat()).well();
    for format in formats {
        let folder = format!("out/{format}");
        bench.run(&[&["export"], whom, &["tables", &folder, "--format", format, "--draws", "128"]].concat()).well();
    }
    bench.run(&[&["export"], whom, &["cards", "out/cards.html"]].concat()).well();
    bench.run(&[&["export"], whom, &["figures", "out/figures", "--draws", "128", "--no-set"]].concat()).well();
    let report = bench.run(&[&["report"], whom, &["--draws", "128", "--against", "Rival", "--out", "out/report.html"]].concat());
    // without its prices the study is not whole, and says so
    assert_eq!(report.code, i32::from(whom.contains(&"--withhold")), "{}", report.err);
    let found = in_folder(&out);
    assert!(found.len() > 40, "{}", found.len());
    found
}

/// All files below a folder, packed ones with what is in them.
pub(super) fn in_folder(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    gather(folder, folder, &mut found);
    found
}

fn gather(root: &Path, folder: &Path, found: &mut BTreeMap<String, Vec<u8>>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            gather(root, &path, found);
            continue;
        }
        let name = path.strip_prefix(root).expect("inside").to_string_lossy().into_owned();
        let bytes = std::fs::read(&path).expect("read");
        // a workbook is packed too
        if let Ok(mut packed) = zip::ZipArchive::new(std::io::Cursor::new(&bytes)) {
            for at in 0..packed.len() {
                let mut inside = packed.by_index(at).expect("a file in it");
                let mut content = Vec::new();
                std::io::Read::read_to_end(&mut inside, &mut content).expect("unpacked");
                found.insert(format!("{name}:{at}"), content);
            }
        }
        #[cfg(feature = "parquet")]
        if name.ends_with(".parquet") {
            let rows = super::parquet::read(&path);
            found.insert(format!("{name}:rows"), format!("{:?} {:?}", rows.rows, rows.metadata).into_bytes());
        }
        found.insert(name, bytes);
    }
}
