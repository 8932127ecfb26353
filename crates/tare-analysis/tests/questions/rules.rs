//! Rules over the box and over a generated study, and what is said of rules that cannot be read.

use super::bench::{box_study, library, schema};
use super::plain;
use tare_analysis::{Facts, Hit, OneOff, Risk, RowKind, Rules};
use tare_diag::{Diag, Place, render};
use tare_model::{Field, FieldValue};
use tare_study::generate::{Size, study};
use tare_study::{Sources, compile};

pub(super) const SCREWS: &str = r#"
title = "Screws into tapped holes: thread-forming screws"
kind = "fastening"
about = "joint"
when = "method == 'joints/screw-tapped-hole' and diameter <= 8 [mm] and any(parts.family == 'aluminium')"
says = "{count} screws {diameter:mm} hold {parts.name} of {assembly}; {snaps} snaps could; {fastener} for {fastener.cost:money}"
source = "common practice"
risk = "low"
one_off = "2000 .. 5000 .. 12000 EUR"
one_off_source = "common practice: trial and release of one screw"
advice = "Check strip and drive torque on the real wall."
[let]
half = "count / 2"
snaps = "max(2, ceil(half))"
[[edit]]
do = "set {joint}/calculation joints/screw-thread-forming"
[[edit]]
for = "features"
when = "calculation == 'processes/tapping' and joint.count >= 4"
do = "remove {feature}"
[[edit]]
for = "parts"
when = "family == 'polymer'"
do = 'set {part}/wall_thickness "{2.5 [mm] * joint.count / 8:mm}" --says "as {joint} has {snaps}; {part.item}"'
[[edit]]
do = "set {fastener}/count {snaps}"
"#;

const SAFETY: &str = r#"
title = "A hold stands open"
kind = "safety"
about = "hold"
when = "state == 'open' and any(removals.destructive)"
says = "{name} is open, and {removals} destroys {joints}"
source = "common practice"
advice = "A qualified person records it before work goes on; local codes hold."
safety = true
"#;

const THIN: &str = r#"
title = "Thinner wall"
kind = "material"
about = "part"
when = "material == 'PA66-GF30' and first and count(joints) > 0"
says = "{name} of {family}, {mass:g}, {wall_thickness:mm}"
source = "common practice"
risk = "medium"
advice = "Check stiffness."
one_off = "{1000 [money] * count(joints):money}"
one_off_source = "common practice"
[[edit]]
do = 'set {part}/wall_thickness "{wall_thickness * 0.8:mm}"'
"#;

fn read(files: &[(&str, &str)]) -> Rules {
    let (rules, problems) = Rules::read(files.iter().copied(), schema());
    let text =
        |file: &str| files.iter().find(|(key, _)| file == format!("library/opportunities/{key}.toml")).map(|(_, text)| *text);
    assert!(problems.is_empty(), "{}", problems.iter().map(|p| render(p, text)).collect::<String>());
    rules
}

fn hits(files: &[(&str, &str)]) -> Vec<Hit> {
    read(files).hits(&box_study().bench.facts())
}

#[test]
fn a_hit_says_what_it_found_and_which_edits_to_try() {
    let b = box_study();
    let facts = b.bench.facts();
    let hits = read(&[("screws", SCREWS)]).hits(&facts);
    assert_eq!(hits.len(), 1, "{hits:?}");
    let hit = &hits[0];
    let id = |kind: RowKind, row: usize| facts.table(kind).ids[row];
    assert_eq!((hit.rule.as_str(), hit.subject, hit.about, hit.address.as_str()), ("screws", b.screwed, RowKind::Joint, "J1"));
    let part = |label: &str| b.bench.records.iter().find(|r| r.text(Field::Label) == Some(label)).unwrap().id;
    assert_eq!(hit.parts, [b.cover, part("B2")]);
    let price = facts.table(RowKind::Part).numbers("cost", "money").unwrap()[3];
    assert!((0.10..0.12).contains(&price), "{price}");
    assert_eq!(
        hit.says,
        format!(
            "8 screws 6 mm hold COVER, upper, Base plate of B1; 4 snaps could; B4 for {} EUR",
            tare_units::show_number(price, 4)
        )
    );
    let feature = id(RowKind::Feature, 0);
    assert_eq!(
        hit.commands,
        [
            format!("set @{}/calculation joints/screw-thread-forming", b.screwed),
            format!("remove @{feature}"),
            format!("set @{}/wall_thickness \"2.5 mm\" --says \"as @{} has 4; @{}\"", b.cover, b.screwed, b.cover_item),
            format!("set @{}/count 4", part("B4")),
        ]
    );
    assert!(hit.lacking.is_empty());
    assert_eq!((hit.risk, hit.safety, hit.kind.as_str()), (Some(Risk::Low), false, "fastening"));
    let one_off = OneOff {
        text: "2000 .. 5000 .. 12000 EUR".to_owned(),
        source: "common practice: trial and release of one screw".to_owned(),
    };
    assert_eq!(hit.one_off, Some(one_off));
}

#[test]
fn safety_comes_first_without_edits_or_price() {
    let found = hits(&[("screws", SCREWS), ("a-thin", THIN), ("z-hold", SAFETY)]);
    assert_eq!(found.iter().map(|h| h.rule.as_str()).collect::<Vec<_>>(), ["z-hold", "a-thin", "screws"]);
    let first = &found[0];
    assert_eq!(first.says, "voltage absent is open, and removal cover off destroys J1");
    assert!(first.safety && first.commands.is_empty() && first.one_off.is_none() && first.risk.is_none());
    assert_eq!(first.parts.len(), 1);
}

#[test]
fn half_an_idea_is_none_when_the_study_does_not_say_enough() {
    let mut b = box_study();
    let rules = read(&[("thin", THIN)]);
    let found = rules.hits(&b.bench.facts());
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].says, "COVER, upper of polymer, 500 g, not known");
    assert_eq!((found[0].commands.len(), found[0].lacking.as_slice()), (0, &["wall_thickness * 0.8".to_owned()][..]));
    assert_eq!(found[0].one_off.as_ref().unwrap().text, "2000 EUR");
    b.bench.value(b.cover_item, "wall_thickness", "3 mm");
    let found = rules.hits(&b.bench.facts());
    assert_eq!(found[0].commands, [format!("set @{}/wall_thickness \"2.4 mm\"", b.cover)]);
    assert!(found[0].lacking.is_empty());
}

#[test]
fn a_text_that_would_break_a_command_is_lacking() {
    let rule = THIN.replace("{part}/wall_thickness \"{wall_thickness * 0.8:mm}\"", "{part}/says \"{name}\"");
    let mut b = box_study();
    let rules = read(&[("thin", &rule)]);
    let commands = |b: &super::bench::BoxStudy| rules.hits(&b.bench.facts()).remove(0).commands;
    assert_eq!(commands(&b), [format!("set @{}/says \"COVER, upper\"", b.cover)]);
    b.bench.set(b.cover_item, Field::Name, FieldValue::Text("6\" cover\" --beside".to_owned()));
    assert_eq!(commands(&b), [""; 0]);
}

#[test]
fn long_lists_are_cut_and_empty_ones_say_so() {
    let rule = r#"
title = "t"
kind = "k"
about = "part"
when = "count(children) > 2"
says = "{children.address}; {count(children)}; {children.count > 1}; {twin.name}; {leaf}"
source = "s"
risk = "high"
advice = "a"
"#;
    let mut b = box_study();
    let top = b.bench.records.iter().find(|r| r.text(Field::Label) == Some("B1")).unwrap().id;
    b.bench.place(Some(top), "B8", 1.0, b.cover_item);
    let found = read(&[("r", rule)]).hits(&b.bench.facts());
    assert_eq!(found[0].says, "B2, B3, B4, B5 and 2 more; 6; no, no, yes, no and 2 more; none; no");
}

#[test]
fn a_rule_for_rows_of_its_own_kind_means_the_row_in_hand() {
    let rule = r#"
title = "t"
kind = "k"
about = "part"
when = "count(children) > 2"
says = "s"
source = "s"
risk = "low"
advice = "a"
[[edit]]
for = "children"
when = "form == 'fastener'"
do = "set {part}/count {count}"
"#;
    let b = box_study();
    let screws = b.bench.records.iter().find(|r| r.text(Field::Label) == Some("B4")).unwrap().id;
    assert_eq!(read(&[("r", rule)]).hits(&b.bench.facts())[0].commands, [format!("set @{screws}/count 8")]);
}

#[test]
fn edits_for_a_way_of_relations_meet_each_row_once() {
    let rule = r#"
title = "t"
kind = "part count"
about = "part"
when = "has(name, 'cover') and first"
says = "s"
source = "s"
risk = "low"
advice = "a"
[let]
own = "address"
[[edit]]
for = "joints.parts"
when = "address != own"
do = "set {part}/says \"joined to {own}\""
[[edit]]
for = "joints.fastener"
do = "remove {part}"
[[edit]]
when = "count(findings) == 0"
do = "remove {part}"
"#;
    let b = box_study();
    let part = |label: &str| b.bench.records.iter().find(|r| r.text(Field::Label) == Some(label)).unwrap().id;
    let found = read(&[("r", rule)]).hits(&b.bench.facts());
    // the cover itself is met through both of its joints, and left out; a finding keeps it
    assert_eq!(
        found[0].commands,
        [
            format!("set @{}/says \"joined to B3\"", part("B2")),
            format!("set @{}/says \"joined to B3\"", part("B5")),
            format!("remove @{}", part("B4")),
        ]
    );
}

/// The first word of a message's code, the text it points at, and its hints.
fn said(text: &str) -> Vec<(String, String, String)> {
    let (rules, problems) = Rules::read([("r", text)], schema());
    assert!(rules.rules().is_empty() || problems.is_empty());
    let pointed = |d: &Diag| match &d.place {
        Some(Place::Span { file, span }) => {
            assert_eq!(file, "library/opportunities/r.toml");
            text[span.clone()].to_owned()
        }
        other => panic!("{other:?}"),
    };
    problems.iter().map(|d| (d.code.to_owned(), pointed(d), d.hints.join("; "))).collect()
}

#[track_caller]
fn refused(from: &str, what: &str, instead: &str, code: &str, pointed: &str, hint: &str) {
    assert!(from.contains(what), "{what}");
    let found = said(&from.replacen(what, instead, 1));
    assert!(
        found.iter().any(|(c, p, h)| c == code && p == pointed && h.contains(hint)) && found.len() == 1,
        "{instead}: {found:?}"
    );
}

#[test]
fn each_mistake_in_a_file_has_its_place() {
    let s = SCREWS;
    refused(s, "title =", "titel =", "unknown-field", "titel", "did you mean `title`?");
    refused(s, "about = \"joint\"", "about = \"joints\"", "unknown-choice", "joints", "did you mean `joint`?");
    refused(s, "\"low\"", "\"lowest\"", "unknown-choice", "lowest", "");
    refused(s, "family == 'aluminium'", "family == 'aluminum'", "unknown-choice", "'aluminum'", "did you mean `aluminium`?");
    refused(s, "parts.family", "parts.famly", "unknown-name", "parts.famly", "family");
    refused(s, "8 [mm]", "8 [kg]", "dimension-mismatch", "diameter <= 8 [kg]", "");
    refused(s, "{count} screws", "{cont} screws", "unknown-name", "cont", "count");
    refused(s, "{diameter:mm}", "{diameter}", "unit-missing", "diameter", "{diameter:mm}");
    refused(s, "{diameter:mm}", "{diameter:kg}", "dimension-mismatch", "diameter", "");
    refused(s, "{diameter:mm}", "{diameter:mmm}", "unit", "mmm", "");
    refused(s, "{fastener.cost:money}", "{fastener.cost:EUR}", "currency-in-unit", "EUR", "money");
    refused(s, "{count} screws", "{count screws", "brace", "{", "in braces");
    refused(s, "{count} screws", "count} screws", "brace", "}", "in braces");
    refused(s, "[let]", "[let]\njoint = \"1\"", "name-taken", "joint", "another");
    refused(s, "[let]", "[let]\nchildren = \"1\"", "name-taken", "children", "another");
    refused(s, "\"features\"", "\"parts.features.jont\"", "unknown-name", "parts.features.jont", "did you mean `joint`?");
    refused(s, "[let]", "[let]\nMany = \"1\"", "bad-name", "Many", "small letters");
    refused(s, "\"features\"", "\"featurs\"", "unknown-name", "featurs", "did you mean `features`?");
    refused(s, "remove {feature}", "remov {feature}", "unknown-choice", "remov {feature}", "did you mean `remove`?");
    refused(s, "{fastener}/count", "{parts}/count", "list", "parts", "for =");
    refused(s, "2000 .. 5000 .. 12000 EUR", "2000 .. 5000 .. 12000 mm", "dimension-mismatch", "2000 .. 5000 .. 12000 mm", "EUR");
    refused(s, "[[edit]]\ndo", "[[edit]]\nd0", "unknown-field", "d0", "did you mean `do`?");
    refused(s, "half = \"count / 2\"", "half = \"coun / 2\"", "unknown-name", "coun", "count");
    refused(SAFETY, "safety = true", "safety = 1", "field-type", "1", "");
    let priced = SAFETY.replace("safety = true", "safety = true\none_off = \"5 EUR\"\none_off_source = \"s\"");
    assert_eq!(said(&priced).iter().map(|(c, ..)| c.as_str()).collect::<Vec<_>>(), ["safety", "safety"]);
    assert!(said("title = ")[0].0 == "file-syntax");
}

#[test]
fn all_mistakes_of_all_files_come_at_once_and_good_rules_stand() {
    let bad =
        SCREWS.replace("count} screws", "cont} screws").replace("title =", "titel =").replace("'processes/tapping'", "'tapping'");
    let (rules, problems) = Rules::read([("bad", bad.as_str()), ("thin", THIN), ("worse", "about = \"part\"")], schema());
    assert_eq!(rules.rules().iter().map(|r| r.key.as_str()).collect::<Vec<_>>(), ["thin"]);
    let codes: Vec<&str> = problems.iter().map(|d| d.code).collect();
    assert!(["unknown-field", "unknown-name", "unknown-choice", "field-missing"].iter().all(|c| codes.contains(c)), "{codes:?}");
}

#[test]
fn names_in_names_do_not_grow_without_end() {
    let mut text = THIN.to_owned() + "[let]\nx0 = \"count\"\n";
    for n in 1..60 {
        text += &format!("x{n} = \"x{0} + x{0}\"\n", n - 1);
    }
    let problems = said(&text);
    assert!(!problems.is_empty() && problems.iter().any(|(code, ..)| code == "question-too-long"), "{problems:?}");
    let deep = |n: usize| format!("x{n} = \"{}x{}\"\n", "not ".repeat(81), n - 1);
    let text = THIN.to_owned() + "[let]\nx0 = \"leaf\"\n" + &(1..50).map(deep).collect::<String>();
    let problems = said(&text);
    assert!(!problems.is_empty() && problems.iter().all(|(code, ..)| code == "question-too-long"), "{problems:?}");
    let many: String = (0..80).map(|n| format!("x{n} = \"1\"\n")).collect();
    assert_eq!(said(&(THIN.to_owned() + "[let]\n" + &many))[0].0, "too-many-names");
    assert_eq!(said(&"#".repeat(100_000))[0].0, "file-too-long");
}

#[test]
fn an_idea_of_too_many_edits_has_none() {
    let rule = THIN
        .replace("[[edit]]", "[[edit]]\nfor = \"parent.children\"")
        .replace("wall_thickness \"{wall_thickness * 0.8:mm}\"", "says x");
    let mut b = box_study();
    let top = b.bench.records.iter().find(|r| r.text(Field::Label) == Some("B1")).unwrap().id;
    let edits = |b: &super::bench::BoxStudy| read(&[("r", &rule)]).hits(&b.bench.facts()).remove(0);
    assert_eq!(edits(&b).commands.len(), 5);
    for n in 0..600 {
        b.bench.place(Some(top), &format!("D{n}"), 1.0, b.cover_item);
    }
    let hit = edits(&b);
    assert_eq!((hit.commands.len(), hit.lacking.as_slice()), (0, &["more than 500 edits".to_owned()][..]));
}

#[test]
fn the_library_hands_out_rules_with_own_ones_over_them() {
    let own = [("opportunities/zz-own.toml", THIN), ("opportunities/zz-other.toml", SAFETY)];
    let (with, problems) = library().clone().with_own(own);
    assert!(problems.is_empty(), "{problems:?}");
    let (again, _) = with.with_own([("opportunities/zz-own.toml", SCREWS)]);
    let text = |key: &str| again.opportunities().find(|(k, _)| *k == key).map(|(_, text)| text.to_owned());
    assert_eq!((text("zz-own").as_deref(), text("zz-other").as_deref()), (Some(SCREWS), Some(SAFETY)));
    assert!(again.find("opportunities/zz-own").is_none());
}

#[test]
fn every_rule_that_ships_reads() {
    let (rules, problems) = Rules::read(library().opportunities(), schema());
    let text = |file: &str| {
        let key = file.strip_prefix("library/opportunities/")?.strip_suffix(".toml")?;
        library().opportunities().find(|(k, _)| *k == key).map(|(_, text)| text)
    };
    assert!(problems.is_empty(), "{}", problems.iter().map(|p| render(p, text)).collect::<String>());
    assert_eq!(rules.rules().len(), library().opportunities().count());
    let facts = box_study().bench.facts();
    assert_eq!(rules.hits(&facts), rules.hits(&facts));
}

#[test]
fn hits_and_edits_are_those_of_a_reading_row_by_row() {
    let rule = r#"
title = "t"
kind = "k"
about = "joint"
when = "count > 3 and any(parts.mass > 0.5 [kg]) and not any(parts.make == 'buy')"
says = "{count}"
source = "s"
risk = "low"
advice = "a"
[let]
many = "count(parts.material == 'PA66-GF30')"
[[edit]]
for = "parts"
when = "mass > 0.5 [kg] and joint.count > 4 and many < 3"
do = "set {part}/count {joint.count}"
"#;
    let rules = read(&[("r", rule)]);
    let document = study(Size { parts: 300, items: 60, joints: 90 }, 11);
    let compiled = compile(Sources { study: &document, books: &[], library: library() });
    let facts = Facts::of(&document, &compiled, library());
    let found = rules.hits(&facts);
    let when = "count > 3 and any(parts.mass > 0.5 [kg]) and not any(parts.make == 'buy')";
    let rows = plain::hits(&facts, RowKind::Joint, when);
    let joints = facts.table(RowKind::Joint);
    assert_eq!(
        found.iter().map(|h| h.subject).collect::<Vec<_>>(),
        rows.iter().map(|r| joints.ids[*r as usize]).collect::<Vec<_>>()
    );
    assert!(found.len() > 5, "{}", found.len());
    let heavy = plain::hits(&facts, RowKind::Part, "mass > 0.5 [kg]");
    let larger = plain::hits(&facts, RowKind::Joint, "count > 4 and count(parts.material == 'PA66-GF30') < 3");
    let counts = joints.numbers("count", "1").unwrap();
    for (hit, row) in found.iter().zip(rows) {
        let parts = joints.relation("parts").unwrap().of(row as usize);
        let expected: Vec<String> = parts
            .iter()
            .filter(|part| heavy.contains(part) && larger.contains(&row))
            .map(|part| format!("set @{}/count {}", facts.table(RowKind::Part).ids[*part as usize], counts[row as usize]))
            .collect();
        assert_eq!(hit.commands, expected);
    }
    assert!(found.iter().any(|h| h.commands.len() == 1) && found.iter().any(|h| h.commands.is_empty()));
}
