//! What column titles mean, in the languages lists come in.

use crate::mapping::Meaning;
use crate::price;
use crate::proposal::{Per, Tax};
use crate::vocabulary::{BUILT, EXACT, FOR_WHAT, HEADS, WORDS};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A title understood.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Title {
    pub(crate) meaning: Meaning,
    /// Whether the whole title is a known one.
    pub(crate) exact: bool,
    pub(crate) unit: Option<String>,
    pub(crate) currency: Option<String>,
    pub(crate) per: Per,
    pub(crate) tax: Tax,
}

use Meaning as M;

/// A title without blanks, marks, unit and letter case.
pub(crate) fn plain(text: &str) -> String {
    let mut out = String::new();
    for c in text.trim().trim_start_matches('\u{feff}').chars() {
        if c.is_alphanumeric() || matches!(c, '#' | '°' | '№' | '/') {
            out.extend(c.to_lowercase());
        } else if !out.ends_with(' ') {
            out.push(' ');
        }
    }
    out.trim().to_owned()
}

fn lookup(plain: &str) -> Option<Meaning> {
    static TABLE: OnceLock<BTreeMap<&'static str, Meaning>> = OnceLock::new();
    let table = TABLE.get_or_init(|| EXACT.iter().rev().flat_map(|(m, list)| list.split('|').map(|t| (t, *m))).collect());
    table.get(plain).copied()
}

/// What a single word of a title means.
fn word(w: &str) -> Option<Meaning> {
    static TABLE: OnceLock<BTreeMap<&'static str, Meaning>> = OnceLock::new();
    let table = TABLE.get_or_init(|| WORDS.iter().flat_map(|(m, list)| list.split('|').map(|t| (t, *m))).collect());
    let head = || HEADS.iter().find(|(h, _)| w.len() > h.len() && w.ends_with(h)).map(|(_, m)| *m);
    table.get(w).copied().or_else(head)
}

/// A title of several words means what its head says: the last known word before `per`, `of` and the like.
///
/// `Material cost` is a cost; `Supplier name` is a supplier, for `name` alone says nothing; `Price qty 100` is a price.
fn by_words(words: &[&str]) -> Option<(Meaning, bool)> {
    let cut = words.iter().skip(1).position(|w| FOR_WHAT.contains(w)).map_or(words.len(), |i| i + 1);
    let (head, tail) = words.split_at(cut);
    let known: Vec<Meaning> = head.iter().filter_map(|w| word(w)).collect();
    let built = |list: &[&str]| list.iter().any(|w| BUILT.contains(w));
    // `Number of assemblies` and `Anzahl Geräte` count what is built, `Qty per assembly` counts parts.
    if known.first() == Some(&M::Quantity) && (built(&head[1..]) || (tail.first() == Some(&"of") && built(tail))) {
        return Some((M::Multiplier, false));
    }
    if cut < words.len()
        && let Some(meaning) = lookup(&head.join(" "))
    {
        return Some((meaning, true));
    }
    let telling = |m: &&Meaning| !matches!(m, M::Name | M::Description);
    // A price or mass stays one whatever follows: `Masse/Stk`, `Price qty 100`; a cost of something is a cost.
    let meaning = if known.contains(&M::Price) && matches!(known[0], M::Price | M::Mass | M::Material) {
        Some(M::Price)
    } else if matches!(known.first(), Some(M::Price | M::Mass)) {
        known.first().copied()
    } else {
        known.iter().rev().find(telling).or(known.last()).copied()
    };
    let suffix = || (1..head.len()).find_map(|i| Some(lookup(&head[i..].join(" "))?).filter(|m| *m == M::PartNumber));
    meaning.filter(|m| !matches!(m, M::Supplier)).or_else(suffix).or(meaning).map(|m| (m, false))
}

/// Understands a column title; `None` if it is none that is known.
pub(crate) fn understand(text: &str) -> Option<Title> {
    let telling = |c: char| c.is_alphabetic() || matches!(c, '#' | '№' | '°');
    if text.chars().count() > 48 || !text.contains(telling) || text.contains("://") {
        return None;
    }
    let (before, unit) = unit_part(text);
    // `Mass g`, `Gewicht_kg`: only behind a word for mass, since `g` may be anything elsewhere.
    let (before, unit) = match before.trim().rsplit_once([' ', '_']) {
        Some((title, last))
            if unit.is_none()
                && matches!(crate::quantity::unit_kind(last), Some((crate::QuantityKind::Mass, _)))
                && matches!(lookup(&plain(title)), Some(M::Mass | M::MassLine)) =>
        {
            (title.to_owned(), Some(last.to_owned()))
        }
        _ => (before, unit),
    };
    let plain_whole = plain(&before);
    let stripped = plain_whole.trim_start_matches(['#', ' ']).trim_end_matches(['/', ' ']);
    let mut found = lookup(&plain_whole).or_else(|| lookup(stripped)).map(|m| (m, true));
    // Level 1, Level 2, ... side by side are a path over columns.
    let words: Vec<&str> = stripped.split([' ', '/']).filter(|w| !w.is_empty()).collect();
    if found.is_none()
        && words.len() == 2
        && words[1].parse::<u8>().is_ok()
        && matches!(lookup(words[0]), Some(M::Level | M::Group | M::Path))
    {
        found = Some((M::Path, true));
    }
    if found.is_none() {
        found = by_words(&words);
    }
    let (mut meaning, exact) = found?;
    let total = words.iter().any(|w| {
        matches!(
            *w,
            "total"
                | "line"
                | "extended"
                | "ext"
                | "sum"
                | "summe"
                | "totale"
                | "totaal"
                | "razem"
                | "łączna"
                | "łącznie"
                | "ges"
                | "tot"
        ) || w.starts_with("gesamt")
    });
    let bought = words.iter().any(|w| matches!(*w, "bought" | "ordered" | "order" | "purchased" | "buy"));
    meaning = match meaning {
        M::Price if total => M::PriceLine,
        M::Mass if total => M::MassLine,
        M::Quantity if total && !exact => M::QuantityTotal,
        M::Quantity if bought && !exact => M::QuantityBought,
        m => m,
    };
    let lower = plain(text);
    let each = |w: &str| {
        matches!(
            w,
            "unit" | "unitprice" | "each" | "piece" | "pieces" | "unitaire" | "unitario" | "pu" | "ea" | "pc" | "e" | "ep"
        ) || ["stück", "einzel", "jednostkow", "単価"].iter().any(|m| w.starts_with(m))
    };
    let per = match meaning {
        M::PriceLine | M::MassLine => Per::Line,
        M::Price | M::Mass if (lower.split([' ', '/']).any(each) || lower == "p u") && !lower.contains("pack") => Per::Piece,
        _ => Per::Unknown,
    };
    let money = matches!(meaning, M::Price | M::PriceLine);
    let currency = money.then(|| price::currency(text).0).flatten();
    Some(Title {
        meaning,
        exact,
        unit: unit.filter(|_| !money),
        currency,
        per,
        tax: if money { price::tax(text) } else { Tax::Unknown },
    })
}

/// Splits `Mass (g)`, `Length [mm]`, `Weight in kg` into title and unit.
fn unit_part(text: &str) -> (String, Option<String>) {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let (Some(a), Some(b)) = (text.find(open), text.rfind(close))
            && a < b
        {
            let unit = text[a + open.len_utf8()..b].trim().to_owned();
            let rest = format!("{} {}", &text[..a], &text[b + close.len_utf8()..]);
            return (rest, Some(unit).filter(|u| !u.is_empty() && u.chars().count() < 10));
        }
    }
    if let Some((before, unit)) = text.rsplit_once(" in ").or_else(|| text.rsplit_once(", "))
        && crate::quantity::unit_kind(unit).is_some()
    {
        return (before.to_owned(), Some(unit.trim().to_owned()));
    }
    (text.to_owned(), None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_in_many_dresses() {
        for t in [
            "Qty",
            "Qty.",
            "QTY.",
            "Quantity ",
            "quantity",
            "Menge",
            "menge",
            "Quantité",
            "Ilość",
            "# req in assy",
            "\u{feff}Qty",
            "数量",
        ] {
            assert_eq!(understand(t).map(|t| t.meaning), Some(M::Quantity), "{t}");
        }
        let mass = understand("Mass (g)").expect("known");
        assert_eq!((mass.meaning, mass.unit.as_deref()), (M::Mass, Some("g")));
        for (title, unit) in [("Mass g", "g"), ("Gewicht_kg", "kg"), ("Unit weight lb", "lb")] {
            let mass = understand(title).unwrap();
            assert_eq!((mass.meaning, mass.unit.as_deref()), (M::Mass, Some(unit)), "{title}");
        }
        let price = understand("Unit price [EUR] excl. VAT").expect("known");
        assert_eq!(
            (price.meaning, price.currency.as_deref(), price.per, price.tax),
            (M::Price, Some("EUR"), Per::Piece, Tax::Excluded)
        );
        assert_eq!(understand("Total price").map(|t| t.meaning), Some(M::PriceLine));
        assert_eq!(understand("Level 2").map(|t| t.meaning), Some(M::Path));
        assert_eq!(understand("M5 screw"), None);
    }
}
