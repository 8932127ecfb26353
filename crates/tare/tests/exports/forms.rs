//! One description, several forms: cell by cell the same, sums as the study has them, hostile texts as they were written.

use super::common::{Bench, hostile};
use super::written::{Rows, forms, read_json, text};
use serde_json::Value;
use std::collections::BTreeMap;

/// The study with hostile texts, its tables in every form, by form and table.
fn exported(bench: &Bench) -> BTreeMap<&'static str, BTreeMap<String, Rows>> {
    let of_form = |(format, read): (&'static str, fn(&std::path::Path) -> Rows)| {
        let done = bench.run(&["export", "tables", format, "--format", format, "--draws", "128", "--json"]).json();
        let files = done["files"].as_array().expect("files").clone();
        let tables = files.iter().map(|file| {
            let name = text(file, "file");
            let rows = read(&bench.path(format).join(name));
            assert_eq!(Some(rows.len() as u64), file["rows"].as_u64(), "{name}");
            (name.trim_end_matches(&format!(".{format}")).to_owned(), rows)
        });
        (format, tables.collect())
    };
    forms().into_iter().map(of_form).collect()
}

fn sum(rows: &Rows, column: &str, of: impl Fn(&BTreeMap<String, Value>) -> f64) -> f64 {
    rows.iter().map(|row| row[column].as_f64().unwrap_or(0.0) * of(row)).sum()
}

#[track_caller]
fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() <= 1e-12 * wanted.abs(), "{found} {wanted}");
}

/// The sums are those of `tare cost` and `tare mass`, which read the study by other ways.
#[test]
fn every_form_holds_the_same_and_adds_up() {
    let bench = Bench::with_study(&hostile::study());
    let found = exported(&bench);
    let csv = &found["csv"];
    assert!(csv.len() > 20 && csv["parts"].len() == 3 + hostile::TEXTS.len(), "{}", csv.len());
    for (format, tables) in &found {
        for (name, rows) in tables {
            assert_eq!(rows.len(), csv[name].len(), "{format} {name}");
            for (row, wanted) in rows.iter().zip(&csv[name]) {
                for (column, cell) in row {
                    let other = &wanted[column];
                    // a reader of CSV does not tell an empty text from nothing; numbers are the same to the bit
                    let same = match (cell.as_f64(), other.as_f64()) {
                        (Some(a), Some(b)) => a.to_bits() == b.to_bits(),
                        _ => cell == other || (cell == "" && other.is_null()),
                    };
                    assert!(same, "{format} {name} {column}: {cell} {other}");
                }
            }
        }
    }
    let cost = bench.run(&["cost", "--json"]).json()["cost"]["total"]["value"].as_f64().expect("a cost");
    let mass = bench.run(&["mass", "--json"]).json();
    let whole = mass["mass"]["rows"][0]["mass"]["value"].as_f64();
    for tables in found.values() {
        let total = |name: &str| {
            let row = tables["totals"].iter().find(|row| row["name"] == name).expect("a total");
            row["value"].as_f64().expect("a number")
        };
        near(total("cost"), cost);
        near(sum(&tables["items"], "contribution", |_| 1.0), cost);
        near(sum(&tables["costs"], "cost", |row| f64::from(u8::from(row["level"] == 0))), cost);
        let leaf = |row: &BTreeMap<String, Value>| match tables["parts"].iter().any(|part| part["parent"] == row["label"]) {
            true => 0.0,
            false => row["pieces"].as_f64().expect("pieces"),
        };
        near(sum(&tables["parts"], "mass", leaf), total("mass"));
        if let Some(whole) = whole {
            near(whole, total("mass"));
        }
    }
}

#[test]
fn hostile_texts_stay_text() {
    let bench = Bench::with_study(&hostile::study());
    let found = exported(&bench);
    for (format, tables) in &found {
        for wanted in hostile::TEXTS {
            for (table, columns) in [("items", ["name", "supplier", "says"]), ("readings", ["source", "source", "who"])] {
                for column in columns {
                    assert!(tables[table].iter().any(|row| row[column] == wanted), "{format} {table} {column} {wanted:?}");
                }
            }
        }
    }
    // the older list, read by another hand
    bench.run(&["export", "parts", "parts.csv"]).well();
    let mut files: Vec<_> = found["csv"].keys().map(|name| bench.path("csv").join(format!("{name}.csv"))).collect();
    files.push(bench.path("parts.csv"));
    let guarded = ['=', '+', '@', '\t', '\r', '\u{ff1d}', '\u{ff0b}', '\u{ff20}', '\u{2212}'];
    for file in files {
        let mut reader = csv::ReaderBuilder::new().flexible(false).from_path(&file).expect("a file");
        for record in reader.records() {
            for field in &record.expect("a row of the header's length") {
                let seen =
                    field.trim_start_matches(|c: char| c.is_whitespace() || "\u{200b}\u{feff}\u{202e}\u{2067}".contains(c));
                assert!(!seen.starts_with(guarded), "{}: {field:?}", file.display());
                assert!(!seen.starts_with('-') || field.parse::<f64>().is_ok(), "{}: {field:?}", file.display());
            }
        }
    }
    let parts = csv::Reader::from_path(bench.path("parts.csv")).expect("a file").into_records();
    let names: Vec<String> = parts.map(|row| row.expect("a row")[2].to_owned()).collect();
    for wanted in hostile::TEXTS {
        assert!(names.iter().any(|name| name.strip_prefix('\'').unwrap_or(name) == wanted), "{wanted:?}");
    }
    // a workbook holds them as strings, and none of its formulas
    bench.run(&["export", "workbook", "study.xlsx", "--draws", "0"]).well();
    let mut packed = zip::ZipArchive::new(std::fs::File::open(bench.path("study.xlsx")).expect("written")).expect("a workbook");
    let (mut strings, mut formulas) = (String::new(), 0);
    for at in 0..packed.len() {
        let mut sheet = String::new();
        let _ = std::io::Read::read_to_string(&mut packed.by_index(at).expect("a file in it"), &mut sheet);
        for formula in sheet.split("<f>").skip(1).map(|rest| rest.split("</f>").next().unwrap_or_default()) {
            formulas += 1;
            assert!(!["cmd(", "HYPERLINK"].iter().any(|hostile| formula.contains(hostile)), "{formula}");
        }
        strings += &sheet;
    }
    assert!(formulas > 100, "{formulas}");
    for wanted in ["=cmd()", "-2", "@x", "&lt;script&gt;alert(1)&lt;/script&gt;", "\u{202e}gnp.exe", "김민준", "שלום עולם"]
    {
        assert!(strings.contains(wanted), "{wanted:?}");
    }
    // study text comes back as it was
    bench.run(&["export", "text", "again.toml"]).well();
    let other = Bench::new();
    let text = std::fs::read(bench.path("again.toml")).expect("written");
    other.write("again.toml", &text);
    other.run(&["new", "--from", "again.toml"]).well();
    other.run(&["export", "text", "third.toml"]).well();
    assert_eq!(std::fs::read(other.path("third.toml")).expect("written"), text);
    // the page holds every text, and nothing of it is markup
    bench.run(&["report", "--draws", "0", "--out", "report.html"]).well();
    let page = std::fs::read_to_string(bench.path("report.html")).expect("written");
    for wanted in hostile::TEXTS {
        let escaped = wanted.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;");
        assert!(page.contains(&escaped), "{wanted:?}");
    }
    assert!(!page.contains("<script>alert") && !page.contains("<img src=x"));
}

#[test]
fn what_is_asked_for_is_written_and_what_is_not_known_is_refused() {
    let bench = Bench::with_study(super::common::SMALL);
    let done = bench.run(&["export", "tables", "few", "--only", "parts,joints", "--json"]).json();
    assert_eq!(done["files"].as_array().map(Vec::len), Some(2));
    let schema = read_json(&bench.path("few/schema.json"));
    assert_eq!((text(&schema, "currency"), schema["tables"].as_array().map(Vec::len)), ("EUR", Some(2)));
    let page = std::fs::read_to_string(bench.path("few/tables.md")).expect("written");
    assert!(page.contains("## parts\n") && page.contains("| cost | EUR | number |"), "{page}");
    bench.run(&["export", "tables", "bad", "--only", "part,joint"]).refused(&[
        "no table `part`",
        "no table `joint`",
        "`parts`",
        "`joints`",
    ]);
    assert!(!bench.path("bad").exists());
    let said = bench.run(&["export", "tables", "none", "--draws", "0"]).well();
    assert!(said.contains("none: 20 tables, ") && !bench.path("none/ideas.csv").exists(), "{said}");
    bench.run(&["export", "tables", "none", "--draws", "0", "--only", "ideas"]).refused(&["ideas", "--draws"]);
    bench.write("file", "no folder");
    bench.run(&["export", "tables", "file"]).refused(&["file"]);
    #[cfg(not(feature = "parquet"))]
    bench.run(&["export", "tables", "none", "--format", "parquet"]).refused(&["built without Parquet", "--features parquet"]);
}
