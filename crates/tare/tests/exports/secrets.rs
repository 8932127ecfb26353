//! Nothing that a reader may not see is in what leaves the workspace: neither searched for, nor by any difference it makes.

use super::common::{Bench, SMALL};
use super::written::everything;
use std::collections::BTreeMap;

/// What one workspace has to hide. Two of them differ in everything that may not be told, within the bands of prices.
struct Hidden {
    supplier: &'static str,
    maker: &'static str,
    client: &'static str,
    product: &'static str,
    owner: &'static str,
    person: &'static str,
    surname: &'static str,
    email: &'static str,
    phone: &'static str,
    serial: &'static str,
    file: &'static str,
    order: &'static str,
    /// Price of the screw, quoted beside it, what an idea would make it, an hour in a book of the library, an hour in a book of the workspace.
    prices: [&'static str; 5],
    /// Words and numbers of the above that would give it away.
    words: &'static [&'static str],
}

const FIRST: Hidden = Hidden {
    supplier: "Quorvane Schraubwerk GmbH & Co. KG",
    maker: "Zellimont Stanzteile AG",
    client: "Brakkusta Fahrzeuge",
    product: "Tindravel X2",
    owner: "Marchwick Leihpool",
    person: "Dr. Isolde Halveric (buyer)",
    surname: "Halveric",
    email: "i.halveric@quorvane.example",
    phone: "+49 711 4482910",
    serial: "XK-40713-B",
    file: "C:\\Users\\ihalveric\\offerlist-q3.xlsx",
    order: "4500671239",
    prices: ["0.0834", "0.0871", "0.0612", "23.417", "30.417"],
    words: &["quorvane", "zellimont", "marchwick", "halveric", "isolde", "4482910", "40713", "offerlist", "4500671239"],
};

const SECOND: Hidden = Hidden {
    supplier: "Ostrelle Fixings Ltd",
    maker: "Vandimar Pressings",
    client: "Grulanda Mobility",
    product: "Perrowane 7",
    owner: "Cobbleton Pool Inc",
    person: "Tomas Bellweatherby",
    surname: "Bellweatherby",
    email: "tb@ostrelle.example",
    phone: "+44 20 79460123",
    serial: "07-99815",
    file: "/home/tbell/prices may.csv",
    order: "88-120734",
    prices: ["0.0791", "0.0926", "0.0655", "24.853", "33.853"],
    words: &["ostrelle", "vandimar", "cobbleton", "bellweatherby", "79460123", "99815", "prices may", "120734"],
};

/// What only the widest circle may not see.
const FIRST_OPEN: [&str; 2] = ["brakkusta", "tindravel"];
const SECOND_OPEN: [&str; 2] = ["grulanda", "perrowane"];

fn library_file(name: &str) -> String {
    std::fs::read_to_string(format!("{}/../../library/{name}", env!("CARGO_MANIFEST_DIR"))).expect("a library file")
}

#[track_caller]
fn replaced(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "{from}");
    text.replacen(from, to, 1)
}

/// As a literal in TOML.
fn toml(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

fn study(hidden: &Hidden) -> String {
    let Hidden { supplier, client, product, owner, person, surname, email, phone, serial, file, order, .. } = hidden;
    let [price, quoted, idea, _, _] = hidden.prices;
    let comma = price.replace('.', ",");
    let short = supplier.split_whitespace().next().expect("a word");
    let says = toml(&format!(
        "{short} asks {comma} EUR, {} EUR before; ask {surname} ({email}, {phone}), order no. {order}, list in {file}",
        quoted
    ));
    let (supplier, person, file) = (toml(supplier), toml(person), toml(file));
    let text = replaced(
        SMALL,
        "name = \"Bracket\"\ncurrency",
        &format!("name = {}\nclient = {}\ncurrency", toml(product), toml(client)),
    );
    let text =
        replaced(&text, "name = \"Maker\"", &format!("name = {}\nbook = {}", toml(hidden.maker), toml(&book_name(hidden))));
    let text = replaced(
        &text,
        "value.price = { text = \"0.08 EUR\", evidence = \"quoted\", source = \"offer 1\" }",
        &format!(
            "supplier = {supplier}\nsays = {says}\nfile = {file}\ncell = \"B3\"\nraw = {supplier}\n\
             value.price = {{ text = \"{price} EUR\", evidence = \"quoted\", source = {says}, who = {person}, file = {file}, raw = \"{comma}\", licence = \"restricted\" }}"
        ),
    );
    text + &format!(
        "\n[quote.other]\nitem = \"screw\"\nsupplier = {supplier}\nplace = \"region B\"\nstate = \"beside\"\nlicence = \"restricted\"\nsays = {says}\n\
         value.price = {{ text = \"{quoted} EUR\", evidence = \"quoted\", source = {says} }}\n\
         \n[specimen.one]\nname = \"Specimen 1\"\nowner = {}\nserial = {}\ncondition = {says}\n\
         \n[instrument.scale]\nname = \"Scale\"\nserial = {}\nvalue.resolution = \"1 g\"\n\
         \n[removal.first]\nname = \"Lid off\"\nparts = [\"screw\"]\nwho = {person}\nsays = {says}\n\
         \n[review.costs]\ngroup = \"costs\"\nstate = \"checked\"\nwho = {person}\nsays = {says}\n\
         \n[finding.seen]\nname = \"Marked by {surname}\"\ngroup = \"design\"\nparts = [\"screw\"]\nsays = {says}\n\
         \n[idea.cheaper]\nname = \"Screw of {short}\"\nlabel = \"I1\"\nsays = {says}\nwho = {person}\nsource = {says}\nparts = [\"screw\"]\n\
         value.one_off = {{ text = \"500 EUR\", evidence = \"assumed\", source = {says} }}\n\
         edits = [\"set P3/price \\\"{idea} EUR\\\"\", {}]\n\
         \n[idea.gone]\nname = \"Other plate\"\nlabel = \"I2\"\nstate = \"dropped\"\nreason = {says}\nsays = {says}\n",
        toml(owner),
        toml(serial),
        toml(serial),
        toml(&format!("set \"item P3/says\" {}", toml(&format!("now from {short}")))),
    )
}

fn book_name(hidden: &Hidden) -> String {
    format!("Rates of {}", hidden.maker)
}

/// A workspace with secrets wherever they can be written: study, rival, book, a user's own library.
fn workspace(hidden: &Hidden) -> Bench {
    let bench = Bench::new();
    let hour = format!(
        "[rate.wage.operator]\nlicence = \"restricted\"\nvalue = \"{} EUR/h\"\nsource = \"by {}\"",
        hidden.prices[3], hidden.surname
    );
    let old = "[rate.wage.operator]\nvalue = \"22 +- 3 EUR/h\"\nsource = \"illustrative: invented for this book, level of 2024\"";
    bench.write("tare-work/library/rates/region-a.toml", replaced(&library_file("rates/region-a.toml"), old, &hour));
    let wear = "default = \"0.5 .. 1 .. 3 EUR/h\", source = \"assumption: blades, belts and brushes\"";
    let own = format!("default = \"{} EUR/h\", source = \"told by {}\"", hidden.prices[3], hidden.person);
    let mut deburr = replaced(&library_file("processes/deburr.toml"), wear, &own);
    // its check is about the wear that was
    deburr.truncate(deburr.find("[[check]]").expect("checks"));
    bench.write("tare-work/library/processes/deburr.toml", deburr);
    let rule = format!(
        "title = {0}\nkind = \"cost\"\nabout = \"part\"\nwhen = \"address == 'P3'\"\nsays = {0}\nsource = {0}\nadvice = {0}\nrisk = \"low\"\n\n[[edit]]\ndo = \"set P3/count 3\"\n",
        toml(&format!("as {} of {} says", hidden.surname, hidden.supplier))
    );
    bench.write("tare-work/library/opportunities/other-maker.toml", rule);
    bench.write("own.toml", book(hidden));
    bench.write("study.toml", study(hidden));
    let rival =
        replaced(SMALL, "name = \"Bracket\"\ncurrency", &format!("name = \"Rival\"\nclient = {}\ncurrency", toml(hidden.client)));
    bench.write("rival.toml", replaced(&rival, "name = \"Maker\"", &format!("name = {}", toml(hidden.supplier))));
    bench.run(&["new", "--from", "own.toml", "study.toml", "--author", hidden.person]).well();
    bench.run(&["new", "--from", "rival.toml", "--author", hidden.person]).well();
    bench
}

/// Rates under licence, one of them with its source.
fn book(hidden: &Hidden) -> String {
    let (name, source) = (toml(&book_name(hidden)), toml(&format!("letter of {}", hidden.person)));
    let rates = include_str!("../../../tare-app/tests/small/own-rates.toml");
    let head = format!("name = {name}\nlicence = \"restricted\"\nplace = {source}");
    let wage = format!("{{ text = \"{} EUR/h\", source = {source} }}", hidden.prices[4]);
    replaced(&replaced(rates, "name = \"Own rates\"", &head), "\"30 EUR/h\"", &wage)
}

/// Where a word stands, in whatever case, whatever separates its parts, in one byte or two for a letter; a number only as a number of its own.
fn found_in(files: &BTreeMap<String, Vec<u8>>, words: &[&str], numbers: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for (name, bytes) in files {
        let text = String::from_utf8_lossy(bytes).to_lowercase();
        let squeezed: String = text.chars().filter(|c| *c != '\0').collect();
        for word in words {
            if squeezed.contains(word) || squeezed.contains(&word.replace(' ', "_")) {
                found.push(format!("{name}: {word}"));
            }
        }
        for token in squeezed.split(|c: char| !c.is_ascii_digit() && c != '.' && c != ',') {
            let token = token.trim_matches(['.', ',']).replace(',', ".");
            if numbers.contains(&token.as_str()) {
                found.push(format!("{name}: {token}"));
            }
        }
    }
    found
}

#[test]
fn nothing_masked_is_found_in_what_leaves_and_nothing_hangs_on_it() {
    let bench = workspace(&FIRST);
    let (own, nobody) = (everything(&bench, &[]), Vec::<String>::new());
    let all = [FIRST.words, &FIRST_OPEN].concat();
    let seen = found_in(&own, &all, &FIRST.prices);
    for word in FIRST.words.iter().chain(&FIRST_OPEN).chain(&FIRST.prices) {
        assert!(seen.iter().any(|place| place.ends_with(&format!(": {word}"))), "own readers see {word}");
    }
    let ideas = String::from_utf8_lossy(&own["jsonl/ideas.jsonl"]).into_owned();
    assert!(ideas.contains("other-maker") && ideas.contains("says"), "the own rule finds something: {ideas}");
    let client = everything(&bench, &["--for", "client"]);
    assert_eq!(found_in(&client, FIRST.words, &FIRST.prices), nobody);
    assert!(!found_in(&client, &FIRST_OPEN, &[]).is_empty(), "the client sees who they are");
    let withheld = everything(&bench, &["--for", "open", "--withhold"]);
    assert_eq!(found_in(&withheld, &all, &FIRST.prices), nobody);
    let open = everything(&bench, &["--for", "open"]);
    assert_eq!(found_in(&open, &all, &FIRST.prices), nobody);
    // the same workspace with other secrets leaves as the same bytes
    let other = workspace(&SECOND);
    let second = everything(&other, &["--for", "open"]);
    assert_eq!(found_in(&second, &[SECOND.words, &SECOND_OPEN].concat(), &SECOND.prices), nobody);
    assert_eq!(open.keys().collect::<Vec<_>>(), second.keys().collect::<Vec<_>>());
    for (name, bytes) in &open {
        assert_eq!(difference(bytes, &second[name]), None, "{name}");
    }
}

/// What stands around the first byte in which two files differ.
fn difference(first: &[u8], second: &[u8]) -> Option<(String, String)> {
    let at = first
        .iter()
        .zip(second)
        .position(|(a, b)| a != b)
        .or((first.len() != second.len()).then_some(first.len().min(second.len())))?;
    let around = |bytes: &[u8]| {
        String::from_utf8_lossy(&bytes[at.saturating_sub(120).min(bytes.len())..bytes.len().min(at + 120)]).into_owned()
    };
    Some((around(first), around(second)))
}

#[test]
fn a_masked_study_says_for_whom_it_is_and_that_its_totals_differ() {
    let bench = workspace(&FIRST);
    let run = bench.run(&["export", "tables", "out", "--for", "open", "--draws", "0", "--json"]).json();
    let told = &run["readers"][0];
    assert_eq!((told["class"].as_str(), told["prices"].as_u64().map(|n| n >= 4)), (Some("open"), Some(true)), "{told}");
    assert!(told["masked"].as_array().is_some_and(|rows| rows.len() > 6), "{told}");
    let schema = super::written::read_json(&bench.path("out/schema.json"));
    let said = super::written::text(&schema["said"], "readers");
    assert!(said.starts_with("for open: masked: ") && said.contains("totals differ"), "{said}");
    assert!(super::written::text(&schema["said"], "boundary").contains("licensed prices"), "{schema}");
    // what was there before would leave with it
    bench.write("mixed/notes.txt", "for us");
    bench.run(&["export", "tables", "mixed", "--for", "open", "--draws", "0"]).refused(&["notes.txt", "new folder"]);
    bench.run(&["export", "tables", "out", "--for", "open", "--draws", "0"]).well();
    bench.run(&["export", "tables", "out", "--for", "open", "--draws", "0", "--format", "jsonl"]).refused(&["boundary.csv"]);
    let shown = bench.run(&["export", "--for", "client", "parts"]);
    assert!(shown.err.contains("for client: masked") && shown.err.contains("look"), "{}", shown.err);
    assert_eq!(bench.run(&["export", "--for", "nobody", "parts"]).code, 2);
    bench.run(&["export", "folder", "whole", "--for", "client"]).refused(&["holds everything"]);
    assert!(!bench.path("whole").exists());
    // a release is masked like the study, and what it says of itself stays in the house
    bench
        .run(&["release", "make", "--says", &format!("offer of {}", FIRST.words[0]), "--class", "client", "--draws", "128"])
        .well();
    bench.run(&["export", "tables", "as-released", "--for", "open", "--release", "1"]).well();
    bench.run(&["report", "--for", "open", "--release", "1", "--out", "as-released/report.html"]).well();
    let released = super::written::in_folder(&bench.path("as-released"));
    assert!(released.len() > 10 && String::from_utf8_lossy(&released["report.html"]).contains("release 1"));
    assert_eq!(found_in(&released, &[FIRST.words, &FIRST_OPEN].concat(), &FIRST.prices), Vec::<String>::new());
    let report = bench.run(&["report", "--for", "client", "--draws", "0"]).well();
    assert!(report.contains("report-for-client.html"), "{report}");
    // what is not masked stays: mass and structure
    let mass = |whom: &[&str]| bench.run(&[&["export"], whom, &["parts"]].concat()).well().lines().count();
    assert_eq!(mass(&[]), mass(&["--for", "open"]));
}
