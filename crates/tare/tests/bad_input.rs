//! Bad input of every kind: a message with place, what was found, what was expected and what to do; exit code 1; nothing changed.

mod common;

use common::{Bench, SMALL};
use std::io::Write;
use std::path::Path;

/// The study with one text replaced.
#[track_caller]
fn with(from: &str, to: &str) -> String {
    assert!(SMALL.contains(from), "`{from}` is in the study");
    SMALL.replace(from, to)
}

/// Reads a study text that must be refused; nothing may be created.
#[track_caller]
fn text_refused(text: &str, words: &[&str]) -> String {
    let bench = Bench::new();
    bench.write("study.toml", text);
    let err = bench.run(&["new", "--from", "study.toml"]).refused(words);
    assert!(!bench.path("tare-work").exists(), "nothing was created");
    err
}

/// An edit of the small study that must be refused; no entry may be recorded.
#[track_caller]
fn edit_refused(args: &[&str], words: &[&str]) {
    let bench = Bench::with_study(SMALL);
    bench.run(args).refused(words);
    assert_eq!(bench.entries(), 1, "nothing was recorded");
}

/// A file that must be refused by import; no entry may be recorded.
#[track_caller]
fn import_refused(name: &str, bytes: &[u8], words: &[&str]) {
    let bench = Bench::with_study(SMALL);
    bench.write(name, bytes);
    bench.run(&["import", name, "--yes"]).refused(words);
    assert_eq!(bench.entries(), 1, "nothing was recorded");
}

#[test]
fn text_mistakes_are_reported_together_each_at_its_line() {
    let text = with(r#"value.mass = "2 kg""#, "value.mass = \"2 mm\"\nvalue.lengt = \"300 mm\"\ncolour = \"red\"")
        .replace("parent = \"bracket\"\ncount = 4", "parent = \"braket\"\ncount = -4");
    let err = text_refused(
        &text,
        &[
            "study.toml:",
            "found a length",
            "mass is due",
            "`lengt`",
            "did you mean `length`?",
            "an item has no field `colour`",
            "`braket`",
            "did you mean `bracket`?",
            "0 to 1e12",
        ],
    );
    assert_eq!(err.matches("error[").count(), 5, "{err}");
    assert!(err.contains("value.mass = \"2 mm\"") && err.contains("^"), "the line is shown and underlined: {err}");
}

#[test]
fn broken_and_foreign_text() {
    text_refused("[study.main\nname = 1", &["study.toml:1"]);
    text_refused("", &["[study.<key>]"]);
    text_refused("[studdy.main]\nname = \"x\"", &["`studdy`", "did you mean `study`?"]);
    let bench = Bench::new();
    bench.write("study.toml", [0xff, 0xfe, 0x00, 0x80]);
    bench.run(&["new", "--from", "study.toml"]).refused(&["no text in UTF-8"]);
    bench.run(&["new", "--from", "missing.toml"]).refused(&["there is no file missing.toml"]);
}

#[test]
fn quantity_abc() {
    edit_refused(&["edit", "set", "P2/mass", "abc"], &["P2/mass", "abc"]);
    edit_refused(&["edit", "set", "P2", "count", "abc"], &["number", "`abc`"]);
    text_refused(&with("\"2 kg\"", "\"abc\""), &["study.toml:", "abc"]);
    import_refused("list.csv", b"Name;Qty\nFrame;1\nBolt;abc\nNut;4\n", &["list.csv", "B3", "abc", "--keep-unknown"]);
    let bench = Bench::with_study(SMALL);
    bench.write("list.csv", "Name;Qty\nFrame;1\nBolt;abc\nNut;4\n");
    bench.run(&["import", "list.csv", "--yes", "--keep-unknown"]).well();
    assert_eq!(bench.entries(), 2);
}

#[test]
fn mass_in_millimetres_and_negative_mass() {
    edit_refused(&["edit", "set", "P2/mass", "12 mm"], &["found a length (`12 mm`) where a mass is due"]);
    edit_refused(&["edit", "set", "P2/mass", "7.5"], &["7.5 kg"]);
    edit_refused(&["edit", "set", "P2/mass", "-2 kg"], &["negative", "-2 kg"]);
    text_refused(&with("\"2 kg\"", "\"-2 kg\""), &["study.toml:", "negative"]);
}

#[test]
fn a_part_inside_itself() {
    let bench = Bench::with_study(SMALL);
    bench.run(&["edit", "move", "P3", "--under", "P2"]).well();
    bench.run(&["edit", "move", "P2", "--under", "P3"]).refused(&["inside itself"]);
    assert_eq!(bench.entries(), 2);
    let text = with("label = \"P1\"", "label = \"P1\"\nparent = \"plate\"");
    text_refused(&text, &["study.toml:", "inside itself"]);
}

#[test]
fn unknown_material_and_calculation_name_the_nearest() {
    edit_refused(&["edit", "set", "P2/material", "steel-DC05"], &["steel-DC05", "did you mean `steel-DC0"]);
    edit_refused(
        &["edit", "set", "item P2/op1/calculation", "processes/debur"],
        &["processes/debur", "did you mean `processes/deburr`?"],
    );
    edit_refused(
        &["edit", "add", "operation", "--under", "item P2", "name=x", "calculation=deburr"],
        &["there is `processes/deburr`"],
    );
    text_refused(&with("processes/deburr", "processes/debur"), &["study.toml:", "did you mean `processes/deburr`?"]);
}

#[test]
fn two_of_one_name() {
    let twice = format!("{SMALL}\n[item.plate]\nname = \"again\"\n");
    text_refused(&twice, &["study.toml:", "plate"]);
    let bench = Bench::new();
    bench.write("a.toml", SMALL);
    bench.write("b.toml", "[item.plate]\nname = \"again\"\n");
    bench.run(&["new", "--from", "a.toml", "b.toml"]).refused(&["b.toml:1", "two records are called `item.plate`", "a.toml:"]);
    let bench = Bench::with_study(SMALL);
    bench.run(&["new", "--from", "study.toml"]).refused(&["already has `Bracket`", "another name"]);
    bench.run(&["edit", "set", "P3", "label", "P2"]).well();
    bench.run(&["edit", "set", "P2/mass", "3 kg"]).refused(&["means 2 records"]);
}

#[test]
fn numbers_of_1e15() {
    edit_refused(&["edit", "set", "P2", "count", "1e15"], &["0 to 1e12", "1000000000000000"]);
    edit_refused(&["edit", "set", "P2/mass", "1e15 kg"], &["1e15 kg"]);
    text_refused(&with("count = 2", "count = 1e15"), &["study.toml:", "0 to 1e12"]);
    text_refused(&with("\"2 kg\"", "\"1e15 kg\""), &["study.toml:", "1e15 kg"]);
    import_refused("list.csv", b"Name;Qty\nFrame;1\nBolt;1000000000000000\nNut;4\n", &["list.csv", "B3"]);
}

#[test]
fn a_hundred_levels() {
    let mut text = SMALL.to_owned();
    for level in 0..100 {
        let parent = if level == 0 { "plate".to_owned() } else { format!("deep{}", level - 1) };
        text.push_str(&format!("\n[part.deep{level}]\nitem = \"plate\"\nparent = \"{parent}\"\ncount = 1\n"));
    }
    text_refused(&text, &["study.toml:", "levels deep", "at most 64"]);
    let mut list = String::from("Level;Name;Qty\n");
    for level in 0..100 {
        list.push_str(&format!("{level};Part {level};1\n"));
    }
    import_refused("deep.csv", list.as_bytes(), &["level", "64"]);
}

#[test]
fn files_that_are_no_parts_list() {
    import_refused("empty.csv", b"", &["empty.csv"]);
    import_refused("prose.csv", b"Dear all,\nplease find the drawing attached.\nRegards\n", &["prose.csv"]);
    // Ten megabytes of noise from a fixed generator.
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let noise: Vec<u8> = std::iter::repeat_with(|| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state.to_le_bytes()
    })
    .take(10 << 17)
    .flatten()
    .collect();
    assert_eq!(noise.len(), 10 << 20);
    import_refused("noise.xlsx", &noise, &["noise.xlsx"]);
    let bench = Bench::with_study(SMALL);
    bench.run(&["import", "missing.xlsx", "--yes"]).refused(&["there is no file missing.xlsx"]);
    bench.run(&["import", "tare-work", "--yes"]).refused(&["is a folder, expected a file"]);
    assert_eq!(bench.entries(), 1);
}

/// A packed file of these parts.
fn packed(parts: &[(&str, &[u8], usize)]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    for (name, content, times) in parts {
        zip.start_file(*name, options).expect("a part");
        for _ in 0..*times {
            zip.write_all(content).expect("content");
        }
    }
    zip.finish().expect("a file").into_inner()
}

const WORKBOOK: &[u8] = br#"<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="S" sheetId="1" r:id="r1"/></sheets></workbook>"#;
const RELATIONS: &[u8] = br#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/s.xml"/></Relationships>"#;
const TYPES: &[u8] = br#"<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/></Types>"#;

#[test]
fn a_workbook_without_a_table() {
    let sheet = br#"<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>Notes of the meeting</t></is></c></row><row r="2"><c r="A2" t="inlineStr"><is><t>Nothing was decided.</t></is></c></row></sheetData></worksheet>"#;
    let file = packed(&[
        ("[Content_Types].xml", TYPES, 1),
        ("xl/workbook.xml", WORKBOOK, 1),
        ("xl/_rels/workbook.xml.rels", RELATIONS, 1),
        ("xl/worksheets/s.xml", sheet, 1),
    ]);
    import_refused("notes.xlsx", &file, &["notes.xlsx", "nothing is imported"]);
}

#[test]
fn a_zip_bomb_is_refused_within_bounded_memory() {
    let million = vec![b' '; 1 << 20];
    // Two gigabytes of blanks in a file of some two megabytes.
    let file = packed(&[
        ("[Content_Types].xml", TYPES, 1),
        ("xl/workbook.xml", WORKBOOK, 1),
        ("xl/_rels/workbook.xml.rels", RELATIONS, 1),
        ("xl/worksheets/s.xml", &million, 2048),
    ]);
    assert!(file.len() < 4 << 20);
    let bench = Bench::with_study(SMALL);
    bench.write("bomb.xlsx", &file);
    let shell = "ulimit -v 1500000; exec \"$0\" import bomb.xlsx --yes";
    let done = std::process::Command::new("sh")
        .args(["-c", shell, env!("CARGO_BIN_EXE_tare")])
        .current_dir(bench.path(""))
        .output()
        .expect("runs");
    let err = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(1), "{err}");
    assert!(err.contains("bomb.xlsx"), "{err}");
    assert_eq!(bench.entries(), 1);
}

/// An own calculation beside the small study, used by its operation.
fn with_own(files: &[(&str, &str)], used: &str) -> Bench {
    let bench = Bench::with_study(SMALL);
    for (name, text) in files {
        bench.write(&format!("tare-work/library/{name}.toml"), text);
    }
    bench.run(&["edit", "set", "item P2/op1/calculation", used]).well();
    bench
}

#[test]
fn a_circle_between_calculations() {
    let one = |other: &str| {
        format!(
            "title = \"One\"\nkind = \"estimate\"\nsays = \"x\"\ngives = {{ volume = \"volume\" }}\n[use.other]\ncalculation = \"{other}\"\n[equation.volume]\nunit = \"cm^3\"\nis = \"other.volume * 2\"\nsource = \"definition\"\n"
        )
    };
    let bench = Bench::with_study(SMALL);
    bench.write("tare-work/library/estimates/one.toml", one("estimates/two"));
    bench.write("tare-work/library/estimates/two.toml", one("estimates/one"));
    bench.run(&["doctor"]).refused(&["library/estimates/one.toml:", "circle"]);
    bench.run(&["calc", "check", "tare-work/library/estimates/one.toml"]).refused(&["one.toml:", "circle"]);
    assert_eq!(bench.entries(), 1);
}

/// A process whose cycle divides by a value of the item.
const DIVIDES: &str = r#"
title = "Divides"
kind = "process"
says = "x"
[input.rate_of_work]
unit = "1/s"
from = ["item.rate_of_work"]
default = "0 1/s"
source = "assumption: nothing known"
[equation.cycle]
unit = "s"
is = "1 / rate_of_work"
source = "definition"
[equation.pieces]
unit = "1"
is = "1"
source = "definition"
[equation.setup]
unit = "s"
is = "0 [s]"
source = "definition"
[equation.yield]
unit = "1"
is = "1"
source = "definition"
[labour.operator]
role = "operator"
people = "1"
time = "cycle"
"#;

#[test]
fn division_by_zero_in_a_cost() {
    let bench = with_own(&[("processes/divides", DIVIDES)], "processes/divides");
    let run = bench.run(&["cost"]);
    assert!(!run.out.contains("inf") && !run.out.contains("NaN"), "{}", run.out);
    run.refused(&["cycle", "divi", "P2"]);
}

#[test]
fn a_missing_rate_and_a_missing_exchange_rate() {
    let bench = Bench::with_study(SMALL);
    bench.run(&["edit", "set", "P3/price", "5 XTS"]).well();
    bench.run(&["cost"]).refused(&["XTS", "exchange"]);
    let bench = Bench::with_study(SMALL);
    bench.write(
        "tare-work/library/rates/bare.toml",
        "[book]\nname = \"Bare\"\ncurrency = \"EUR\"\ndate = \"2024-01-01\"\nplace = \"nowhere\"\nillustrative = true\n",
    );
    bench.run(&["edit", "set", "product/book", "bare"]).well();
    bench.run(&["cost"]).refused(&["wage.operator", "add"]);
    bench.run(&["edit", "set", "product/book", "barre"]).well();
    bench.run(&["cost"]).refused(&["no rate book `barre`", "did you mean `bare`?"]);
}

#[test]
fn no_machine_class_is_large_enough() {
    let text = with("processes/deburr", "processes/stamping-single").replace(
        "value.mass = \"2 kg\"\nvalue.length = \"300 mm\"\nvalue.width = \"200 mm\"",
        "value.mass = \"900 kg\"\nvalue.length = \"9000 mm\"\nvalue.width = \"2900 mm\"\nvalue.height = \"300 mm\"\nvalue.wall_thickness = \"9 mm\"\nvalue.thickness = \"9 mm\"",
    );
    let bench = Bench::with_study(&text);
    let err = bench.run(&["cost"]).refused(&["P2"]);
    assert!(err.contains("largest") || err.contains("beyond"), "{err}");
}

#[test]
fn a_database_of_a_newer_program() {
    let bench = Bench::with_study(SMALL);
    let file = bench.path("tare-work/workspace.sqlite");
    let mut bytes = std::fs::read(&file).expect("the database");
    // The user version stands at byte 60, big-endian (SQLite database file format, 1.3).
    bytes[60..64].copy_from_slice(&99u32.to_be_bytes());
    std::fs::write(&file, &bytes).expect("written");
    for command in [&["cost"][..], &["edit", "set", "P2", "count", "3"], &["history"]] {
        bench.run(command).refused(&["form 99", "newer", "nothing was changed"]);
    }
    assert_eq!(std::fs::read(&file).expect("the database"), bytes);
    bench.write("tare-work/workspace.sqlite", b"this is no database at all, only some text that stands here");
    bench.run(&["cost"]).refused(&["is not a database"]);
}

#[test]
fn a_place_that_may_not_be_written() {
    // The user that runs tests may be one that nothing is denied to; then a file system that is always read-only stands in.
    let bench = Bench::new();
    let locked = bench.path("locked");
    std::fs::create_dir(&locked).expect("a folder");
    let mut rights = std::fs::metadata(&locked).expect("rights").permissions();
    rights.set_readonly(true);
    std::fs::set_permissions(&locked, rights.clone()).expect("set");
    let denied = std::fs::write(locked.join("probe"), b"x").is_err();
    let place = if denied {
        Some(locked.clone())
    } else {
        ["/proc", "/sys"].iter().map(Path::new).find(|p| p.exists()).map(Path::to_path_buf)
    };
    let Some(place) = place else { return };
    let folder = place.join("tare-here");
    let run = bench.run(&["demo", "--workspace", folder.to_str().expect("a name")]);
    assert_eq!(run.code, 1, "{}", run.out);
    assert!(run.err.contains("error[") && run.err.contains("tare-here"), "{}", run.err);
    // A report to such a place is refused too, and the study stays as it is.
    let bench = Bench::with_study(SMALL);
    let page = place.join("report.html");
    bench.run(&["report", "--out", page.to_str().expect("a name")]).refused(&["report.html"]);
    assert_eq!(bench.entries(), 1);
}

#[test]
fn no_workspace_and_unknown_names() {
    let bench = Bench::new();
    bench.run(&["cost"]).refused(&["tare-work", "tare demo", "tare new"]);
    assert!(!bench.path("tare-work").exists());
    let bench = Bench::with_study(SMALL);
    bench.run(&["cost", "--study", "Braket"]).refused(&["no study `Braket`", "did you mean `Bracket`?"]);
    bench.run(&["edit", "set", "P2/masss", "1 kg"]).refused(&["`masss`", "did you mean `mass`?"]);
    bench.run(&["edit", "set", "P22/mass", "1 kg"]).refused(&["nothing is called `P22`"]);
    bench.run(&["undo", "7"]).refused(&["there is no entry 7", "the last one is 1"]);
    bench.run(&["redo"]).refused(&["no undone entry"]);
    bench.run(&["calc", "processes/hpd"]).refused(&["did you mean `processes/hpdc`?"]);
    bench.run(&["new", "X", "--currency", "euro"]).refused(&["`euro` is no currency code", "EUR"]);
    assert_eq!(bench.entries(), 1);
}
