//! Methods, sources, and the reason behind every figure shown.

use super::amount::{grouped, shown};
use super::filling::Filling;
use std::collections::{BTreeMap, BTreeSet};
use tare_report::{Figure, Method, Reason, ReasonRow, Source};

/// Reasons kept in one report; beyond it only those that figures link to directly.
const MOST: usize = 1_600;
/// Entries of a list that are written out in a reason.
const ENTRIES: usize = 8;

pub(super) fn methods(f: &Filling<'_>) -> Vec<Method> {
    let mut uses: BTreeMap<&str, usize> = BTreeMap::new();
    for block in &f.study.lines.blocks {
        *uses.entry(f.study.lines.templates[block.template as usize].key.as_str()).or_default() += 1;
    }
    let method = |(key, count): (&str, usize)| {
        let calculation = f.library.find(key)?;
        let mut sources: Vec<String> = calculation.equations.iter().filter_map(|e| e.source.clone()).collect();
        sources.sort();
        sources.dedup();
        Some(Method {
            key: key.to_owned(),
            title: calculation.title.clone(),
            kind: calculation.kind.map_or("calculation", |k| k.word()).to_owned(),
            uses: count.to_string(),
            spread: calculation.method.as_ref().map(|m| typeset(&m.spread.text)).unwrap_or_default(),
            reason: calculation.method.as_ref().map(|m| m.reason.clone()).unwrap_or_default(),
            sources,
        })
    };
    uses.into_iter().filter_map(method).collect()
}

/// Classes of evidence, in the order in which sources are listed; where one source gives several, the first counts.
const CLASSES: [&str; 5] = ["handbook", "quoted", "measured", "derived", "assumed"];

/// Every source that a leaf or an equation cites, once, with what rests on it: by class, most used first.
pub(super) fn sources(f: &Filling<'_>) -> Vec<Source> {
    #[derive(Default)]
    struct Uses {
        class: usize,
        inputs: usize,
        lines: usize,
    }
    let mut found: BTreeMap<String, Uses> = BTreeMap::new();
    let mut put = |text: &str, class: &str, inputs: usize, lines: usize| {
        let class = CLASSES.iter().position(|c| *c == class).unwrap_or(CLASSES.len() - 1);
        let uses = found.entry(cited(text).to_owned()).or_insert(Uses { class, ..Uses::default() });
        *uses = Uses { class: uses.class.min(class), inputs: uses.inputs + inputs, lines: uses.lines + lines };
    };
    for leaf in &f.study.lines.leaves {
        put(&leaf.source, class_of_value(&leaf.source, leaf.evidence.word()), 1, 0);
    }
    let mut copies: BTreeMap<&str, usize> = BTreeMap::new();
    for block in &f.study.lines.blocks {
        *copies.entry(f.study.lines.templates[block.template as usize].key.as_str()).or_default() += 1;
    }
    for (key, count) in copies {
        for equation in f.library.find(key).into_iter().flat_map(|calculation| &calculation.equations) {
            if let Some(text) = &equation.source {
                put(text, class_of_formula(text), 0, count);
            }
        }
    }
    let counted = |n: usize, word: &str| match n {
        0 => None,
        1 => Some(format!("1 {word}")),
        n => Some(format!("{} {word}s", grouped(&n.to_string()))),
    };
    let row = |(at, (text, uses)): (usize, (String, Uses))| Source {
        key: format!("S{}", at + 1),
        kind: CLASSES[uses.class].to_owned(),
        seen: if text.contains("from memory") {
            "from memory".to_owned()
        } else if text.contains("second-hand") {
            "second-hand copy".to_owned()
        } else {
            String::new()
        },
        uses: [counted(uses.inputs, "input"), counted(uses.lines, "line")].into_iter().flatten().collect::<Vec<_>>().join(", "),
        text,
    };
    let mut found: Vec<_> = found.into_iter().filter(|(text, _)| !text.is_empty()).collect();
    let most = |uses: &Uses| std::cmp::Reverse(uses.inputs + uses.lines);
    found.sort_by(|(a, m), (b, n)| m.class.cmp(&n.class).then(most(m).cmp(&most(n))).then(a.cmp(b)));
    found.into_iter().enumerate().map(row).collect()
}

/// The source itself: where only the spread of a value was taken from a default, the words on that are left off.
fn cited(text: &str) -> &str {
    text.split_once("; spread ").filter(|(_, spread)| spread.contains("default of")).map_or(text, |(source, _)| source).trim()
}

/// Words with which judgement begins.
const JUDGED: [&str; 6] = ["assum", "common practice", "judgement", "by judgement", "own estimate", "own experience"];

/// The class under which the source of a value is listed: that of its evidence, but what calls itself common practice or invented does not stand among
/// what others have published.
fn class_of_value<'a>(text: &str, class: &'a str) -> &'a str {
    let text = text.to_lowercase();
    let judged = JUDGED.iter().any(|word| text.starts_with(word)) || text.contains("invented");
    if class == "handbook" && judged { "assumed" } else { class }
}

/// The class of a formula's source, which is words only: judgement where it says so, published where it cites something, else what follows from
/// other values.
fn class_of_formula(text: &str) -> &'static str {
    let lower = text.to_lowercase();
    if JUDGED.iter().any(|word| lower.starts_with(word)) {
        "assumed"
    } else if !lower.starts_with("definition") && !lower.starts_with("geometry") && cites(text) {
        "handbook"
    } else {
        "derived"
    }
}

/// Whether words name something that can be looked up: a key, a chapter, a year, the initials of an author, letters of a standard.
fn cites(text: &str) -> bool {
    let marks = ["[", "ch. ", "eq. ", "reference id", "textbook", "handbook", "recalled"];
    let year = |word: &str| word.len() == 4 && word.bytes().all(|b| b.is_ascii_digit());
    let letters = |word: &str| word.len() > 1 && word.chars().all(|c| c.is_ascii_uppercase());
    let initial = |word: &str| {
        word.ends_with('.')
            && word.len() > 1
            && word.split('.').all(|part| part.len() < 2)
            && word.starts_with(|c: char| c.is_uppercase())
    };
    marks.iter().any(|mark| text.contains(mark))
        || text.split(|c: char| !c.is_alphanumeric()).any(|word| year(word) || letters(word))
        || text.split([' ', ',']).any(initial)
}

/// Whether a stated value says how far it may lie off.
pub(super) fn spreads(text: &str) -> bool {
    ["+-", "\u{b1}", ".."].iter().any(|mark| text.contains(mark))
}

/// A stated value as printed: a plus-minus sign, dots between the ends of a range, digits in groups.
pub(super) fn typeset(text: &str) -> String {
    grouped(&text.replace("+-", "\u{b1}").replace(" .. ", " \u{2026} "))
}

/// The text with a capital first letter.
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Reasons of all figures, and of what they rest on while there is room, so that most can be followed to the leaves.
pub(super) fn reasons(f: &mut Filling<'_>) -> Vec<Reason> {
    let mut at = 0;
    while at < f.wanted.len() && f.wanted.len() < MOST {
        let (line, group) = f.wanted[at].clone();
        f.group = group;
        let step = f.study.step(line);
        for named in &step.names {
            for line in named.lines.iter().take(ENTRIES) {
                f.anchor(*line);
            }
        }
        at += 1;
    }
    let wanted = std::mem::take(&mut f.wanted);
    let mut reasons: Vec<Reason> = wanted.iter().map(|(line, group)| reason(f, *line, group)).collect();
    // Reasons of one heading stand together, headings in the order of their first use.
    let mut order: Vec<String> = Vec::new();
    for reason in &reasons {
        if !order.contains(&reason.group) {
            order.push(reason.group.clone());
        }
    }
    reasons.sort_by_key(|r| order.iter().position(|g| *g == r.group));
    reasons
}

/// Reasons of figures of a joined study, to stand beside those of the study itself: only of lines about a subject whose address begins
/// so, and of those that others of them name. What the study itself explains is linked to, not explained twice.
pub(super) fn beside(f: &mut Filling<'_>, known: &BTreeSet<String>, about: &str) -> Vec<Reason> {
    let mut at = 0;
    while at < f.wanted.len() && f.wanted.len() < MOST {
        let (line, group) = f.wanted[at].clone();
        f.group = group;
        let step = f.study.step(line);
        for line in step.names.iter().flat_map(|named| named.lines.iter().take(ENTRIES)) {
            let origin = f.study.step(*line).address;
            if origin.starts_with(about) || known.contains(&origin) {
                f.anchor(*line);
            }
        }
        at += 1;
    }
    let wanted = std::mem::take(&mut f.wanted);
    wanted.iter().map(|(line, group)| reason(f, *line, group)).filter(|reason| !known.contains(&reason.anchor)).collect()
}

fn reason(f: &Filling<'_>, line: tare_study::LineRef, group: &str) -> Reason {
    let step = f.study.step(line);
    let currency = &f.study.currency;
    let text = |values: &[f64], unit: &tare_units::Unit, word: &Option<String>, digits: usize| match (word, values) {
        (Some(word), _) => word.clone(),
        (None, [one]) => shown(*one, unit, currency, digits),
        (None, many) => {
            let each: Vec<String> = many.iter().take(ENTRIES).map(|v| shown(*v, unit, currency, 4)).collect();
            let more = if many.len() > ENTRIES { format!(" ... ({} values)", many.len()) } else { String::new() };
            format!("{}{more}", each.join("; "))
        }
    };
    let rows = step.names.iter().map(|n| {
        let number = match n.values.as_slice() {
            [one] => n.unit.from_si(*one),
            _ => f64::NAN,
        };
        let figure = Figure::new(number, text(&n.values, &n.unit, &n.word, 5));
        let link = n.lines.first().and_then(|l| f.known_anchor(*l));
        ReasonRow { name: n.name.clone(), says: String::new(), value: Figure { link, ..figure } }
    });
    let rows: Vec<ReasonRow> = rows.collect();
    let number = step.values.first().map_or(f64::NAN, |v| step.unit.from_si(*v));
    Reason {
        anchor: step.address.clone(),
        group: group.to_owned(),
        title: format!(
            "{} of {}",
            capital(&step.name.replace('_', " ")),
            if step.subject.is_empty() { "the product" } else { &step.subject }
        ),
        formula: if step.formula.is_empty() { String::new() } else { format!("{} = {}", step.name, step.formula) },
        rows,
        result: Figure::new(number, text(&step.values, &step.unit, &step.word, 6)),
        source: step.source.clone(),
        spread: step.stated.as_deref().filter(|text| spreads(text)).map(typeset).unwrap_or_default(),
        evidence: step.evidence.map(|e| e.word().to_owned()).unwrap_or_default(),
        note: if step.calculation.is_empty() { String::new() } else { format!("calculation {}", step.calculation) },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_can_be_looked_up_is_listed_as_published() {
        for text in [
            "JCGM 100:2008, 4.2.2: experimental standard deviation",
            "MTM-1: the time of a sequence is the sum of its motions",
            "Groover M.P., bending force with a die of eight thicknesses",
            "Boothroyd, Dewhurst, Knight, ch. 8 (recalled)",
            "kinematics (reference id mach_tap)",
            "Kienzle O., 1952; exponent 0.25",
        ] {
            assert_eq!(class_of_formula(text), "handbook", "{text}");
        }
        for text in [
            "definition in Groover M.P., eq. 18.26",
            "geometry: one web along the coil",
            "full width",
            "heat from 20 to about 65 degC",
        ] {
            assert_eq!(class_of_formula(text), "derived", "{text}");
        }
        assert_eq!(class_of_formula("common practice: burden on the sum"), "assumed");
        assert_eq!(class_of_value("common practice, from memory; confirm before use", "handbook"), "assumed");
        assert_eq!(class_of_value("money of this book for 1 USD; illustrative: invented for this book", "handbook"), "assumed");
        assert_eq!(class_of_value("Ashby, Materials Selection in Mechanical Design", "handbook"), "handbook");
        assert_eq!(class_of_value("invented offer of an invented maker", "quoted"), "quoted");
    }
}
