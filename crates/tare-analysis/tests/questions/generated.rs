//! Any question gives the same rows by columns as row by row.

use super::bench::{box_study, library, schema};
use super::plain;
use proptest::prelude::*;
use std::sync::OnceLock;
use tare_analysis::{Facts, Question, RowKind};
use tare_study::generate::{Size, study};
use tare_study::{Sources, compile};

/// The box, and a generated study.
fn studies() -> &'static [Facts] {
    static FACTS: OnceLock<Vec<Facts>> = OnceLock::new();
    FACTS.get_or_init(|| {
        let document = study(Size { parts: 60, items: 20, joints: 15 }, 3);
        let compiled = compile(Sources { study: &document, books: &[], library: library() });
        vec![box_study().bench.facts(), Facts::of(&document, &compiled, library())]
    })
}

fn pick(from: &'static [&'static str]) -> BoxedStrategy<String> {
    prop::sample::select(from).prop_map(str::to_owned).boxed()
}

/// A condition over what a prefix leads to: `joints.` over the joints of a part.
fn condition(prefix: &'static str, kind: RowKind) -> BoxedStrategy<String> {
    let op = || pick(&["<", "<=", ">", ">=", "==", "!="]);
    let (numbers, texts): (BoxedStrategy<String>, BoxedStrategy<String>) = match kind {
        RowKind::Part => (
            prop_oneof![
                pick(&["mass", "depth * 1 [kg/m]", "length * 1 [kg/m]", "if(leaf, mass, 2 * mass)", "min(mass, 1 [kg])"])
                    .prop_map(move |n| over(prefix, &n)),
            ]
            .boxed(),
            pick(&[
                "material == 'PA66-GF30'",
                "make == 'buy'",
                "family != 'steel'",
                "has(name, '1')",
                "has(name, 'COVER')",
                "leaf",
                "first",
                "given(wall_thickness)",
            ]),
        ),
        _ => (
            pick(&["count * 1 [kg]", "diameter * 1 [kg/m]", "removals * 1 [kg]", "-count * 1 [kg]"])
                .prop_map(move |n| over(prefix, &n))
                .boxed(),
            pick(&["method == 'joints/clip'", "function == 'seal'", "given(function)", "has(name, 'j')", "drive != 'slot'"]),
        ),
    };
    let limit = pick(&["0", "0.005 [kg]", "0.5 [kg]", "1 [kg]", "3 [kg]", "8 [kg]"]);
    let compared = (numbers, op(), limit).prop_map(|(n, op, limit)| format!("{n} {op} {limit}"));
    let said = texts.prop_map(move |t| over(prefix, &t));
    let leaf = prop_oneof![compared, said];
    leaf.prop_recursive(2, 6, 2, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a} and {b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a} or {b})")),
            inner.prop_map(|a| format!("not ({a})")),
        ]
    })
    .boxed()
}

/// Puts a prefix before every column of a text.
fn over(prefix: &str, text: &str) -> String {
    const COLUMNS: [&str; 17] = [
        "mass",
        "depth",
        "length",
        "leaf",
        "material",
        "make",
        "family",
        "name",
        "first",
        "wall_thickness",
        "count",
        "diameter",
        "removals",
        "method",
        "function",
        "drive",
        "none",
    ];
    let mut out = String::new();
    let mut rest = text;
    let mut quoted = false;
    while let Some(c) = rest.chars().next() {
        let before = text[..text.len() - rest.len()].chars().last().unwrap_or(' ');
        let word = COLUMNS
            .iter()
            .find(|w| rest.starts_with(**w) && !rest[w.len()..].starts_with(|c: char| c.is_alphanumeric() || c == '_'));
        if let Some(word) = word.filter(|_| !quoted && !before.is_alphanumeric() && before != '_') {
            out.push_str(prefix);
            out.push_str(word);
            rest = &rest[word.len()..];
            continue;
        }
        quoted ^= c == '\'';
        out.push(c);
        rest = &rest[c.len_utf8()..];
    }
    out
}

/// A condition over parts, with lists in it.
fn question() -> impl Strategy<Value = String> {
    const LISTS: [(&str, RowKind); 6] = [
        ("joints.", RowKind::Joint),
        ("children.", RowKind::Part),
        ("joints.parts.", RowKind::Part),
        ("joints.fastener.", RowKind::Part),
        ("parent.", RowKind::Part),
        ("parent.joints.", RowKind::Joint),
    ];
    let folded = prop::sample::select(&LISTS[..]).no_shrink().prop_flat_map(|(prefix, kind)| {
        (pick(&["any", "all", "count"]), condition(prefix, kind)).prop_map(move |(f, c)| match f.as_str() {
            "count" => format!("count({c}) > 1"),
            f => format!("{f}({c})"),
        })
    });
    let paired = (condition("joints.", RowKind::Joint), condition("joints.parts.", RowKind::Part))
        .prop_map(|(a, b)| format!("any({a} and {b})"));
    let sums = (
        pick(&["sum", "mean", "min", "max"]),
        pick(&["children.mass", "joints.parts.mass", "joints.fastener.mass", "joints.count * 1 [kg]"]),
    )
        .prop_map(|(f, list)| format!("{f}({list}) > 0.4 [kg]"));
    let leaf = prop_oneof![condition("", RowKind::Part), folded, paired, sums];
    leaf.prop_recursive(2, 6, 2, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a} and {b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a} or {b})")),
            inner.prop_map(|a| format!("not ({a})")),
        ]
    })
}

/// A text with pieces left out, doubled or put elsewhere.
fn garbled(text: &'static str) -> impl Strategy<Value = String> {
    let cuts = prop::collection::vec((0..text.len(), 0..40_usize, 0..3_u8), 1..4);
    cuts.prop_map(move |cuts| {
        let mut garbled = text.to_owned();
        for (at, length, how) in cuts {
            let edge = |mut at: usize| {
                at = at.min(garbled.len());
                while !garbled.is_char_boundary(at) {
                    at -= 1;
                }
                at
            };
            let (from, to) = (edge(at), edge(at + length));
            let piece = garbled[from..to].to_owned();
            match how {
                0 => garbled.replace_range(from..to, ""),
                1 => garbled.insert_str(from, &piece),
                _ => garbled = piece + &garbled,
            }
        }
        garbled
    })
}

/// Every message has a place within the text, and a rule is read only where there is none.
fn is_sound(problems: &[tare_diag::Diag], text: &str) -> bool {
    problems.iter().all(|d| match &d.place {
        Some(tare_diag::Place::Span { span, .. }) => text.get(span.clone()).is_some(),
        _ => false,
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn no_text_of_a_rule_breaks_anything(text in garbled(super::rules::SCREWS)) {
        let (rules, problems) = tare_analysis::Rules::read([("r", text.as_str())], schema());
        prop_assert!(rules.rules().is_empty() != problems.is_empty());
        prop_assert!(is_sound(&problems, &text), "{problems:?}");
        for facts in studies() {
            rules.hits(facts);
        }
    }

    #[test]
    fn no_text_of_a_question_breaks_anything(
        text in garbled("has(name, 'cöver') and any(joints.function == 'seal' or joints.fastener.mass > 2 [g]) and -length * width^2 > 1 [m^3]"),
    ) {
        match Question::read(RowKind::Part, &text, schema()) {
            Ok(question) => studies().iter().for_each(|facts| drop(question.hits(facts))),
            Err(problems) => prop_assert!(!problems.is_empty() && is_sound(&problems, &text), "{:?}", problems),
        }
    }

    #[test]
    fn columns_say_what_rows_say(text in question()) {
        let read = Question::read(RowKind::Part, &text, schema());
        prop_assert!(read.is_ok(), "{}: {:?}", text, read);
        let read = read.unwrap();
        for facts in studies() {
            prop_assert_eq!(read.hits(facts), plain::hits(facts, RowKind::Part, &text), "{}", &text);
        }
    }
}
