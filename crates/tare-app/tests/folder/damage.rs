//! Damaged folders: each problem at its place, all at once, and nothing is taken in.

use crate::small::{Place, exchange, without_line};
use tare_app::folder::{Files, create, plan};
use tare_diag::Diag;

/// What was done to a folder, and what must be said of it: code, place and a word of the message or its hint.
type Case = (&'static str, fn(&mut Files), &'static [(&'static str, &'static str, &'static str)]);

const CASES: &[Case] = &[
    ("the file that says what it is, gone", |f| drop(f.remove("study.toml")), &[("folder-missing", "study.toml", "what it is")]),
    ("not TOML", |f| exchange(f, "study.toml", "form = 1", "form = "), &[("folder-syntax", "study.toml:2:", "")]),
    ("a later form", |f| exchange(f, "study.toml", "form = 1", "form = 9"), &[("folder-newer", "study.toml:2:", "up to form 1")]),
    ("no form", |f| exchange(f, "study.toml", "form = 1", ""), &[("folder-header", "study.toml", "`form` is missing")]),
    (
        "a form that is no number",
        |f| exchange(f, "study.toml", "form = 1", "form = \"1\""),
        &[("folder-header", "study.toml:2:", "from 1")],
    ),
    ("no document", |f| exchange(f, "study.toml", "[document]", "[other]"), &[("folder-header", "study.toml", "[document]")]),
    (
        "an identifier of the document cut short",
        |f| exchange(f, "study.toml", "[document]\nid = \"", "[document]\nid = \"q"),
        &[("folder-header", "study.toml:5:", "32 hexadecimal")],
    ),
    (
        "an unknown kind of document",
        |f| exchange(f, "study.toml", "kind = \"study\"", "kind = \"stuff\""),
        &[("folder-header", "study.toml:6:", "stuff")],
    ),
    (
        "an entry that is no number",
        |f| exchange(f, "study.toml", "entry = 1\n", "entry = -1\n"),
        &[("folder-header", "study.toml:7:", "from 0")],
    ),
    ("a table gone", |f| drop(f.remove("values.csv")), &[("table-missing", "study.toml:9:", "values.csv")]),
    (
        "brackets without end",
        |f| {
            f.get_mut("study.toml").unwrap().extend(format!("deep = {}", "[".repeat(100_000)).bytes());
        },
        &[("folder-syntax", "study.toml:", "")],
    ),
    (
        "study.toml in another encoding",
        |f| {
            f.get_mut("study.toml").unwrap().extend(b"# M\xfcller\n");
        },
        &[("folder-encoding", "study.toml, line", "UTF-8")],
    ),
    (
        "a table in another encoding",
        |f| {
            f.get_mut("items.csv").unwrap().extend(b"x,M\xfcller,make,,,,\n");
        },
        &[("table-encoding", "items.csv, line 5", "0xfc")],
    ),
    ("a null character", |f| exchange(f, "items.csv", "Screw", "Scr\0ew"), &[("table-binary", "items.csv, line 4", "null")]),
    ("semicolons", |f| exchange(f, "parts.csv", ",", ";"), &[("table-separator", "parts.csv, cell A1", "commas")]),
    ("an empty table", |f| drop(f.insert("joints.csv".into(), Vec::new())), &[("table-empty", "joints.csv", "titles")]),
    (
        "a row cut short",
        |f| exchange(f, "parts.csv", "P3,P1,screw,4,", "P3,P1\nx,"),
        &[("table-width", "parts.csv, cell B4", "holds 2 cells"), ("table-width", "parts.csv, cell C5", "holds 3 cells")],
    ),
    (
        "a comma in a text without marks",
        |f| exchange(f, "items.csv", "screw,Screw,", "screw,Screw, M5,"),
        &[("table-width", "items.csv, cell G4", "holds 8 cells")],
    ),
    (
        "a quotation mark inside a text",
        |f| exchange(f, "items.csv", "screw,Screw,", "screw,Screw 3\","),
        &[("table-quote", "items.csv, cell B4", "double")],
    ),
    (
        "a quotation that never ends",
        |f| exchange(f, "items.csv", "screw,Screw,", "screw,\"Screw,"),
        &[("table-open", "items.csv, cell B4", "never closed")],
    ),
    (
        "text behind a closed quotation",
        |f| exchange(f, "items.csv", "screw,Screw,", "screw,\"Screw\" M5,"),
        &[("table-quote", "items.csv, cell B4", "follows")],
    ),
    (
        "a mark of ours that does not read",
        |f| exchange(f, "items.csv", "screw,Screw,", "screw,\"'\"\"Screw\","),
        &[("cell-mark", "items.csv, cell B4", "JSON")],
    ),
    (
        "a column twice",
        |f| exchange(f, "parts.csv", "ref,under,item,count,label", "ref,under,item,count,count"),
        &[("column-twice", "parts.csv, cell E1", "count")],
    ),
    (
        "a column that is needed, renamed",
        |f| exchange(f, "items.csv", "ref,name,", "ref,nam,"),
        &[("column-missing", "items.csv, cell A1", "`nam`")],
    ),
    (
        "a column without title",
        |f| exchange(f, "items.csv", "form,id", "form,"),
        &[("column-unnamed", "items.csv, cell G2", "title")],
    ),
    (
        "an identifier made a number by a program",
        |f| exchange(f, "parts.csv", ",1,P1,", ",1,P1,2.5E+31"),
        &[("id-form", "parts.csv, cell F2", "leave the cell empty")],
    ),
    (
        "a row copied with its identifier",
        |f| {
            let text = String::from_utf8(f["operations.csv"].clone()).unwrap();
            let row = text.lines().nth(1).unwrap().replace("deburr,item", "again,item");
            f.insert("operations.csv".into(), format!("{text}{row}\n").into_bytes());
        },
        &[("id-twice", "operations.csv, cell E3", "copied")],
    ),
    (
        "two rows of one name",
        |f| exchange(f, "items.csv", "screw,Screw,", "plate,Screw,"),
        &[
            ("ref-twice", "items.csv, cell A4", "`plate`"),
            ("reference-unknown", "parts.csv, cell C4", "screw"),
            ("reference-unknown", "values.csv, cell A7", "screw"),
            ("reference-unknown", "values.csv, cell A8", "screw"),
        ],
    ),
    (
        "a name that is not there",
        |f| exchange(f, "parts.csv", "P3,P1,screw", "P3,P1,screws"),
        &[("reference-unknown", "parts.csv, cell C4", "did you mean `screw`?")],
    ),
    (
        "a row that others name, removed",
        |f| without_line(f, "items.csv", "plate,"),
        &[
            ("reference-unknown", "parts.csv, cell C3", ""),
            ("reference-unknown", "operations.csv, cell B2", ""),
            ("reference-unknown", "values.csv, cell A4", ""),
            ("reference-unknown", "values.csv, cell A5", ""),
            ("reference-unknown", "values.csv, cell A6", ""),
        ],
    ),
    (
        "an unknown kind before a name",
        |f| exchange(f, "operations.csv", "item.plate", "itm.plate"),
        &[("kind-unknown", "operations.csv, cell B2", "did you mean `item.plate`?")],
    ),
    (
        "a reference to another kind",
        |f| {
            let text = String::from_utf8(f["operations.csv"].clone()).unwrap();
            let id = text.lines().nth(1).unwrap().rsplit(',').next().unwrap().to_owned();
            exchange(f, "parts.csv", "P3,P1,screw", &format!("P3,P1,{id}"));
        },
        &[("reference-kind", "parts.csv, cell C4", "names an operation")],
    ),
    (
        "a count in words",
        |f| exchange(f, "parts.csv", "screw,4,", "screw,four,"),
        &[("field-type", "parts.csv, cell D4", "`four`")],
    ),
    (
        "a count with a comma",
        |f| exchange(f, "parts.csv", "screw,4,", "screw,\"2,5\","),
        &[("field-type", "parts.csv, cell D4", "4 or 2.5")],
    ),
    (
        "a count below nought",
        |f| exchange(f, "parts.csv", "screw,4,", "screw,-4,"),
        &[("count-range", "parts.csv, cell D4", "0 to 1e12")],
    ),
    (
        "a word that is none of the list",
        |f| exchange(f, "items.csv", ",buy,", ",buyy,"),
        &[("word-unknown", "items.csv, cell C4", "did you mean `buy`?")],
    ),
    (
        "a needed cell empty",
        |f| exchange(f, "parts.csv", "P3,P1,screw,", "P3,P1,,"),
        &[("field-missing", "parts.csv, cell C4", "needs it")],
    ),
    (
        "a value under nothing",
        |f| exchange(f, "values.csv", "item.screw,price", ",price"),
        &[("parent-missing", "values.csv, cell A8", "`under` is empty")],
    ),
    (
        "a part inside itself",
        |f| exchange(f, "parts.csv", "P2,P1,", "P2,P2,"),
        &[("part-in-itself", "parts.csv, cell B3", "itself")],
    ),
    (
        "parts in a circle",
        |f| {
            exchange(f, "parts.csv", "P1,,bracket", "P1,P3,bracket");
        },
        &[
            ("part-in-itself", "parts.csv, cell B2", ""),
            ("too-deep", "parts.csv, cell B3", "circle"),
            ("part-in-itself", "parts.csv, cell B4", ""),
        ],
    ),
    (
        "something under nothing that it can stand under",
        |f| exchange(f, "study.toml", "[[scenario]]", "[[scenario]]\nunder = \"x\""),
        &[("under-none", "study.toml:", "stands under nothing")],
    ),
    (
        "no study in it",
        |f| exchange(f, "study.toml", "[[study]]", "[[stuff]]"),
        &[("folder-no-study", "study.toml", "[[study]]")],
    ),
    (
        "a study that is no list",
        |f| exchange(f, "study.toml", "[[study]]", "[study]"),
        &[("folder-shape", "study.toml:", "[[study]]"), ("folder-no-study", "study.toml", "")],
    ),
    (
        "an item in study.toml",
        |f| {
            f.get_mut("study.toml").unwrap().extend(b"\n[[item]]\nname = \"x\"\n");
        },
        &[("folder-elsewhere", "study.toml:", "items.csv")],
    ),
    (
        "a field of another type in study.toml",
        |f| exchange(f, "study.toml", "name = \"Bracket\"", "name = [1, 2]"),
        &[("field-type", "study.toml:14:", "a text")],
    ),
    (
        "a held text changed",
        |f| exchange(f, "texts/motions/tmu.toml", "\n", "\n# mine\n"),
        &[("file-digest", "locks.csv, cell D", "library/")],
    ),
    ("a held text gone", |f| drop(f.remove("texts/motions/tmu.toml")), &[("file-missing", "locks.csv, cell D", "tmu.toml")]),
    (
        "a file outside the folder",
        |f| exchange(f, "locks.csv", "texts/motions/tmu.toml", "../../tmu.toml"),
        &[("file-place", "locks.csv, cell D", "no file of `texts/`")],
    ),
    (
        "a file by its absolute path",
        |f| exchange(f, "locks.csv", "texts/motions/tmu.toml", "/etc/passwd"),
        &[("file-place", "locks.csv, cell D", "no file of `texts/`")],
    ),
    (
        "an unknown column and `extra` in one row",
        |f| {
            exchange(f, "operations.csv", "calculation,id", "calculation,colour,extra,id");
            exchange(f, "operations.csv", "processes/deburr,", "processes/deburr,red,{},");
        },
        &[("extra-both", "operations.csv, cell A2", "extra")],
    ),
    (
        "an identifier of another kind's record",
        |f| {
            let text = String::from_utf8(f["items.csv"].clone()).unwrap();
            let row = text.lines().nth(3).unwrap().to_owned();
            let id = row.rsplit(',').next().unwrap().to_owned();
            exchange(f, "items.csv", &id, "");
            exchange(f, "parts.csv", "P3,P1,screw,4,P3,", &format!("P3,P1,screw,4,P3,{id}\nP4,P1,screw,4,P4,"));
        },
        &[("id-kind", "parts.csv, cell F4", "the study has an item")],
    ),
    ("a unit that is none", |f| exchange(f, "values.csv", "2 kg,", "2 kgg,"), &[("", "values.csv, cell C4", "kgg")]),
    ("a quantity of another dimension", |f| exchange(f, "values.csv", "2 kg,", "2 mm,"), &[("", "values.csv, cell C4", "")]),
];

/// Damage that only an import into the study it came from can tell for sure.
const DOUBTFUL: &[&str] = &["a unit that is none", "a quantity of another dimension", "an identifier of another kind's record"];

/// As the command line shows it: bytes of `study.toml` as line and column.
fn told(diag: &Diag, files: &Files) -> String {
    let place = diag.place.as_ref().expect("every problem has a place");
    let place = match place {
        tare_diag::Place::Span { file, span } => {
            let before = &files[file][..span.start.min(files[file].len())];
            let line = before.iter().filter(|b| **b == b'\n').count() + 1;
            format!("{file}:{line}:{}", before.iter().rev().take_while(|b| **b != b'\n').count() + 1)
        }
        other => other.to_string(),
    };
    format!("[{}] {place} | {} | {}", diag.code, diag.message, diag.hints.join(" | "))
}

fn is_told(told: &str, (code, place, word): &(&str, &str, &str)) -> bool {
    let cell = told.split(" | ").next().unwrap_or_default();
    // a cell is meant whole, `D` with any row
    let placed =
        cell.contains(&format!("] {place}")) && (!place.ends_with(|c: char| c.is_ascii_digit()) || cell.ends_with(place));
    (code.is_empty() || told.contains(&format!("[{code}]"))) && (place.is_empty() || placed) && told.contains(word)
}

#[test]
fn damage_is_told_at_its_place_and_nothing_is_taken() {
    let (place, mut other) = (Place::with_study(), Place::empty());
    let whole = place.export();
    assert!(plan(&place.session, &whole, false).expect("reads").is_empty());
    assert!(CASES.len() >= 25);
    let mut wrong = Vec::new();
    for (what, damage, expected) in CASES {
        let mut files = whole.clone();
        damage(&mut files);
        assert_ne!(files, whole, "{what}");
        let mut said = match plan(&place.session, &files, false) {
            Ok(plan) => {
                let problems = plan.problems.clone();
                assert!(!problems.is_empty(), "{what}: nothing is wrong with {:?}", plan.edits);
                assert!(tare_app::folder::accept(&place.session.workspace, plan, "x", "a").is_err(), "{what}");
                problems
            }
            Err(problems) => problems,
        };
        said.retain(Diag::is_error);
        let said: Vec<String> = said.iter().map(|diag| told(diag, &files)).collect();
        for expected in *expected {
            if !said.iter().any(|told| is_told(told, expected)) {
                wrong.push(format!("{what}: expected {expected:?}, found\n  {}", said.join("\n  ")));
            }
        }
        // nor as a new study, where a stated value of ours that does not read is told as doubtful, as it is of a study that has it
        match create(&other.session, &files, None, "a") {
            Err(_) => assert_eq!(other.session.workspace.documents().expect("reads").len(), 0, "{what}"),
            Ok(made) => {
                assert!(DOUBTFUL.contains(what), "{what} was taken as a new study");
                assert_eq!(made.warnings.is_empty(), what.starts_with("an identifier"), "{what}: {:?}", made.warnings);
                other = Place::empty();
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(place.load().head, 1, "nothing was taken in");
}

#[test]
fn all_problems_are_told_at_once() {
    let place = Place::with_study();
    let mut files = place.export();
    exchange(&mut files, "study.toml", "name = \"Base\"", "name = [1]");
    exchange(&mut files, "parts.csv", "screw,4,", "screw,four,");
    exchange(&mut files, "parts.csv", "P2,P1,plate", "P2,P9,plate");
    exchange(&mut files, "items.csv", ",buy,", ",bye,");
    exchange(&mut files, "operations.csv", "item.plate", "itm.plate");
    exchange(&mut files, "values.csv", "item.screw,price", ",price");
    exchange(&mut files, "texts/motions/tmu.toml", "\n", "\n# mine\n");
    files.insert("joints.csv".into(), b"ref;name\n".to_vec());
    let problems = plan(&place.session, &files, false).expect_err("refused");
    let mut codes: Vec<&str> = problems.iter().map(|diag| diag.code).collect();
    codes.sort_unstable();
    let expected = [
        "field-type",
        "field-type",
        "file-digest",
        "kind-unknown",
        "parent-missing",
        "reference-unknown",
        "table-separator",
        "word-unknown",
    ];
    assert_eq!(codes, expected, "{problems:#?}");
    assert!(problems.iter().all(|diag| diag.place.is_some()));
}
