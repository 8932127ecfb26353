//! Quantities as people write them: `2x`, `x4`, `4x 10pcs M5`, `1 set`, `2 rails + 4 carriages`, `TBD`, `6 m`.

use crate::number::{self, NumberStyle};
use crate::proposal::QuantityKind;

/// A quantity understood from a text.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Read {
    pub(crate) value: Option<f64>,
    pub(crate) kind: QuantityKind,
    pub(crate) unit: Option<String>,
    pub(crate) about: bool,
    pub(crate) rule: String,
    pub(crate) warning: Option<(&'static str, String)>,
}

fn unknown(rule: &str) -> Read {
    Read { rule: rule.to_owned(), ..Read::default() }
}

/// What a unit word counts, with its symbol.
pub(crate) fn unit_kind(word: &str) -> Option<(QuantityKind, &'static str)> {
    use QuantityKind::{Length, Mass, Pieces, Set, Volume};
    let word = word.trim().trim_end_matches('.').to_lowercase();
    Some(match word.as_str() {
        "pcs" | "pc" | "pce" | "piece" | "pieces" | "ea" | "each" | "stk" | "stck" | "stück" | "st" | "szt" | "pz" | "ud"
        | "uds" | "pièce" | "pièces" | "pezzi" | "ks" | "шт" | "off" | "nos" | "unit" | "units" => (Pieces, "pcs"),
        "m" | "metre" | "metres" | "meter" | "meters" | "mtr" | "mètre" | "mètres" | "metr" | "metry" => (Length, "m"),
        "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => (Length, "mm"),
        "cm" | "centimetres" | "centimeters" => (Length, "cm"),
        "ft" | "feet" | "foot" => (Length, "ft"),
        "in" | "inch" | "inches" => (Length, "in"),
        "kg" | "kilogram" | "kilograms" | "kilo" => (Mass, "kg"),
        "g" | "gram" | "grams" | "gramm" | "gr" => (Mass, "g"),
        "mg" => (Mass, "mg"),
        "lb" | "lbs" => (Mass, "lb"),
        "oz" => (Mass, "oz"),
        "l" | "litre" | "litres" | "liter" | "liters" => (Volume, "l"),
        "ml" => (Volume, "ml"),
        "set" | "sets" | "kit" | "kits" | "satz" | "sätze" | "jeu" | "pack" | "packs" | "pkg" | "package" | "box" | "boxes"
        | "roll" | "rolls" | "pair" | "pairs" | "paar" | "bag" | "bags" | "reel" | "reels" => (Set, "set"),
        _ => return None,
    })
}

pub(crate) fn words_of_not_known(text: &str) -> bool {
    matches!(
        text.trim_matches(['(', ')', '.', '?']).to_lowercase().as_str(),
        "" | "tbd"
            | "tbc"
            | "tba"
            | "n/a"
            | "na"
            | "-"
            | "--"
            | "as needed"
            | "as required"
            | "as req"
            | "a/r"
            | "ar"
            | "various"
            | "several"
            | "some"
            | "nach bedarf"
            | "n.b"
            | "unknown"
            | "x"
            | "many"
            | "few"
    )
}

fn split_cross(rest: &str) -> Option<&str> {
    let rest = rest.trim_start();
    let after = rest.strip_prefix(['x', 'X', '×', '*'])?;
    // `4x`, `4 x M5`, `4x10pcs`; not `4xyz`.
    (!after.starts_with(|c: char| c.is_alphabetic() && !c.is_ascii_uppercase())).then_some(after)
}

/// Reads a quantity text; `style` is the column's decided number style, `None` while it is undecided.
pub(crate) fn read(text: &str, style: Option<NumberStyle>) -> Read {
    let text = text.trim();
    if words_of_not_known(text) {
        return unknown("marked as not known");
    }
    let mut about = false;
    let mut body = text;
    for mark in ["~", "≈", "about ", "approx. ", "approx ", "ca. ", "ca ", "circa ", "est. ", "c. "] {
        if let Some(rest) = body.get(..mark.len()).filter(|s| s.eq_ignore_ascii_case(mark)).map(|_| &body[mark.len()..]) {
            (about, body) = (true, rest.trim_start());
        }
    }
    if let Some(rest) = body.strip_suffix('?') {
        (about, body) = (true, rest.trim_end());
    }
    let body =
        body.strip_prefix(['x', 'X', '×']).filter(|b| b.trim_start().starts_with(|c: char| c.is_ascii_digit())).unwrap_or(body);
    let mut read = if body.contains('+') { sum(body, style) } else { one(body, style) };
    read.about = about;
    if let Some(v) = read.value
        && v < 0.0
    {
        read.warning = Some(("quantity-negative", format!("found the negative quantity `{text}`; it is not counted")));
        read.value = None;
    }
    if let Some(v) = read.value
        && v > 1e9
    {
        read.warning =
            Some(("number-too-large", format!("found the quantity `{text}`, larger than a thousand million; it is not counted")));
        read.value = None;
    }
    read
}

fn sum(text: &str, style: Option<NumberStyle>) -> Read {
    let parts: Vec<Read> = text.split('+').map(|p| one(p, style)).collect();
    let total: Option<f64> = parts.iter().map(|p| p.value).sum();
    match total {
        Some(total) if parts.len() < 20 => {
            let things = text.split('+').filter(|p| p.chars().any(char::is_alphabetic)).count();
            let warning = (things > 1).then(|| {
                (
                    "quantity-two-things",
                    format!("found `{}`: several things in one row, counted together as {total}; split the row", text.trim()),
                )
            });
            Read { value: Some(total), kind: parts[0].kind, rule: "added up as written".to_owned(), warning, ..Read::default() }
        }
        _ => one(text, style),
    }
}

fn one(text: &str, style: Option<NumberStyle>) -> Read {
    let Some((number, rest)) = number::leading(text) else { return unknown("no number found") };
    let Some(value) = number::parse(number, style.unwrap_or(NumberStyle::Point)) else {
        return unknown("number not understood in this column's style");
    };
    if style.is_none() && number::vote(number) == number::Vote::Open {
        return unknown("could be read with a decimal or a thousands mark");
    }
    if let Some(after) = split_cross(rest) {
        // In `4x 10pcs M5` the pack size multiplies; in `2x M2 x 0.4 mm` and `2 x 40 mm` what follows is a size.
        if let Some((inner, tail)) = number::leading(after)
            && let Some((QuantityKind::Pieces, _)) = unit_kind(first_word(tail))
            && let Some(size) = number::parse(inner, style.unwrap_or(NumberStyle::Point))
        {
            let rule = format!("{value} packs of {size} pieces");
            return Read {
                value: Some(value * size),
                kind: QuantityKind::Pieces,
                unit: Some("pcs".to_owned()),
                rule,
                ..Read::default()
            };
        }
        return Read {
            value: Some(value),
            kind: QuantityKind::Pieces,
            rule: "number before the first cross".to_owned(),
            ..Read::default()
        };
    }
    let word = first_word(rest);
    if let Some((kind, symbol)) = unit_kind(word) {
        let warning = matches!(symbol, "oz" | "lb").then(|| {
            (
                "unit-ambiguous",
                format!("`{}` can be a mass or {}", word.trim(), if symbol == "oz" { "a volume" } else { "a force" }),
            )
        });
        return Read {
            value: Some(value),
            kind,
            unit: Some(symbol.to_owned()),
            rule: format!("number with unit `{}`", word.trim()),
            warning,
            ..Read::default()
        };
    }
    let trimmed = rest.trim_start();
    if trimmed.starts_with(['-', '–']) && number::leading(trimmed.trim_start_matches(['-', '–'])).is_some()
        || trimmed.starts_with('/')
    {
        return unknown("a range or a share, not one number");
    }
    if value.fract() != 0.0 {
        let rule = "a fraction without unit: a share of a pack, a length or a mass";
        return Read { value: Some(value), kind: QuantityKind::Unknown, rule: rule.to_owned(), ..Read::default() };
    }
    let rule = if trimmed.is_empty() { "number" } else { "number before words" };
    Read { value: Some(value), kind: QuantityKind::Pieces, rule: rule.to_owned(), ..Read::default() }
}

fn first_word(text: &str) -> &str {
    let text = text.trim_start().trim_start_matches('(');
    let end = text.find(|c: char| c.is_whitespace() || matches!(c, ',' | ')' | ';' | '/')).unwrap_or(text.len());
    &text[..end]
}

/// A length or mass unit named at the beginning of a note, as in `metres, but take more`.
pub(crate) fn unit_in_note(note: &str) -> Option<(QuantityKind, &'static str)> {
    let word = first_word(note);
    let found = unit_kind(word)?;
    (matches!(found.0, QuantityKind::Length | QuantityKind::Mass | QuantityKind::Volume) && word.chars().count() > 1)
        .then_some(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use QuantityKind::{Length, Mass, Pieces, Set, Unknown};

    #[test]
    fn quantities_as_people_write_them() {
        let cases = [
            ("2x", Some(2.0), Pieces),
            ("x4", Some(4.0), Pieces),
            ("X 4", Some(4.0), Pieces),
            ("2 pcs", Some(2.0), Pieces),
            ("12 Stk.", Some(12.0), Pieces),
            ("1 set", Some(1.0), Set),
            ("0.5", Some(0.5), Unknown),
            ("2 rails + 4 carriages", Some(6.0), Pieces),
            ("TBD", None, Unknown),
            ("6 metres", Some(6.0), Length),
            ("350mm", Some(350.0), Length),
            ("20 g", Some(20.0), Mass),
            ("4x 10pcs M5", Some(40.0), Pieces),
            ("2x M2 x 0.4 mm", Some(2.0), Pieces),
            ("10-12", None, Unknown),
            ("-3", None, Unknown),
            ("1e15", None, Unknown),
            ("M5", None, Unknown),
            ("", None, Unknown),
        ];
        for (text, value, kind) in cases {
            let got = read(text, Some(NumberStyle::Point));
            assert_eq!((got.value, if value.is_none() { Unknown } else { got.kind }), (value, kind), "{text}: {got:?}");
        }
        assert!(read("~20", None).about && read("20?", None).about);
        assert_eq!(read("1,234", None).value, None, "undecided stays unknown");
        assert_eq!(read("oz", None).value, None);
        assert!(read("3 oz", Some(NumberStyle::Point)).warning.is_some());
        assert_eq!(unit_in_note("metres, but take more"), Some((Length, "m")));
        assert_eq!(unit_in_note("4 x 1 metre lengths"), None);
    }
}
