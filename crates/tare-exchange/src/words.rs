//! Words in cells that change what a row is: totals, charges, not fitted, no component, optional, alternative.

use crate::book::Sheet;
use crate::mapping::{Meaning, TableMapping};
use crate::proposal::PartRow;
use crate::titles::plain;

const TOTAL: &[&str] = &[
    "total",
    "totals",
    "sum",
    "subtotal",
    "subtotals",
    "summe",
    "gesamt",
    "gesamtsumme",
    "zwischensumme",
    "insgesamt",
    "totale",
    "suma",
    "razem",
    "łącznie",
    "totaal",
    "итого",
    "всего",
    "celkem",
    "summa",
    "合計",
    "grandtotal",
    "gesamtgewicht",
    "gesamtpreis",
    "gesamtkosten",
    "übertrag",
];
const TOTAL_COMPANIONS: &[&str] = &[
    "parts",
    "part",
    "pieces",
    "mass",
    "weight",
    "cost",
    "costs",
    "price",
    "qty",
    "quantity",
    "of",
    "the",
    "not",
    "all",
    "items",
    "printed",
    "incl",
    "excl",
    "vat",
    "tax",
    "per",
    "general",
    "grand",
    "sub",
    "sum",
    "in",
    "eur",
    "usd",
    "kg",
    "g",
    "amount",
    "number",
    "without",
    "with",
    "bom",
    "shipping",
    "list",
    "ttc",
    "ht",
    "masse",
    "gewicht",
    "kosten",
    "preis",
    "anzahl",
    "menge",
    "stück",
    "teile",
    "for",
    "page",
    "this",
    "assembly",
    "estimated",
    "net",
    "gross",
    "netto",
    "brutto",
    "général",
    "pièces",
    "unique",
    "3d",
];

/// Whether a label begins or ends with a word for total.
pub(crate) fn is_total(text: &str) -> bool {
    if text.len() > 120 {
        return false;
    }
    let p = plain(text);
    let mut words = p.split(' ');
    let first = words.next().unwrap_or("");
    let last = words.next_back().unwrap_or(first);
    TOTAL.contains(&first) || TOTAL.contains(&last) || is_strict_total(text)
}

/// Whether a label is nothing but a word for total and its usual companions.
pub(crate) fn is_strict_total(text: &str) -> bool {
    let p = plain(text);
    if ["carried forward", "brought forward", "carry over", "report", "à reporter", "sub total", "grand total"]
        .contains(&p.as_str())
    {
        return true;
    }
    let words: Vec<&str> = p.split(' ').collect();
    let ends = text.trim_end().ends_with(':') && words.first().is_some_and(|w| TOTAL.contains(w));
    ends || (words.iter().any(|w| TOTAL.contains(w))
        && words.iter().all(|w| TOTAL.contains(w) || TOTAL_COMPANIONS.contains(w) || w.parse::<f64>().is_ok()))
}

/// Whether a row is postage, tax or a fee.
pub(crate) fn is_charge(text: &str) -> bool {
    let p = plain(text);
    let first = p.split(' ').next().unwrap_or("");
    matches!(
        first,
        "shipping"
            | "postage"
            | "freight"
            | "versand"
            | "versandkosten"
            | "porto"
            | "livraison"
            | "vat"
            | "tax"
            | "mwst"
            | "tva"
            | "iva"
            | "handling"
    ) && p.split(' ').count() <= 4
        && !matches!(p.as_str(), "freight lift" | "shipping box" | "shipping crate" | "shipping container")
}

fn not_fitted_word(text: &str) -> bool {
    matches!(
        plain(text).as_str(),
        "n/a"
            | "n a"
            | "dnp"
            | "dnf"
            | "dni"
            | "nc"
            | "nofit"
            | "not fitted"
            | "do not populate"
            | "do not fit"
            | "nicht bestückt"
            | "n b"
            | "nb"
            | "nm"
            | "unpopulated"
            | "not populated"
    )
}

const MARK_PREFIXES: &[&str] = &["PASS", "FID", "SJ", "LOGO"];
const MARK_WORDS: &[&str] = &[
    "fiducial",
    "passmarke",
    "alignment mark",
    "solder jumper",
    "solder bridge",
    "testpad",
    "test pad",
    "mounting hole",
    "tooling hole",
];

/// Sets what words in a row say about fitting, options and alternatives.
pub(crate) fn status(map: &TableMapping, sheet: &Sheet, row: u32, part: &mut PartRow) {
    let text = |m: Meaning| map.column(m).and_then(|c| sheet.seen(row, c.column)).map(|c| c.text.trim().to_owned());
    let not_counted = |part: &mut PartRow, why: &str| {
        part.counted = false;
        part.why_not.get_or_insert_with(|| why.to_owned());
    };
    if !part.designators.is_empty() {
        let prefix: String = part.designators[0].chars().take_while(char::is_ascii_alphabetic).collect();
        let all = [&part.device, &part.package, &part.description]
            .into_iter()
            .flatten()
            .map(|t| t.value.to_lowercase())
            .collect::<Vec<_>>()
            .join(" ");
        if MARK_PREFIXES.contains(&prefix.as_str()) || MARK_WORDS.iter().any(|w| all.contains(w)) {
            part.component = false;
            not_counted(part, "no component: an alignment mark, solder bridge or the like");
        }
    }
    let fitted_title = map.column(Meaning::Fitted).map(|c| plain(&c.title)).unwrap_or_default();
    let negative = fitted_title.contains("not") || fitted_title.starts_with("dn") || fitted_title == "nofit";
    let says_no = text(Meaning::Fitted).is_some_and(|t| {
        let t = plain(&t);
        let yes = matches!(t.as_str(), "x" | "yes" | "y" | "1" | "true" | "ja" | "oui");
        let no = matches!(t.as_str(), "no" | "n" | "0" | "false" | "nein" | "non");
        not_fitted_word(&t) || (negative && yes) || (!negative && no)
    });
    let value_no = !part.designators.is_empty() && part.value.as_ref().is_some_and(|v| not_fitted_word(&v.value));
    let note_no = part.note.as_ref().is_some_and(|n| {
        matches!(plain(&n.value).as_str(), "dnp" | "dnf" | "dni" | "not fitted" | "do not populate" | "do not fit")
    });
    if says_no || value_no || note_no {
        part.fitted = false;
        not_counted(part, "marked as not fitted");
    }
    let option = text(Meaning::Option).map(|t| plain(&t)).unwrap_or_default();
    let option_title = map.column(Meaning::Option).map(|c| plain(&c.title)).unwrap_or_default();
    let name = part.name.as_ref().map(|n| n.value.to_lowercase()).unwrap_or_default();
    let note = part.note.as_ref().map(|n| n.value.to_lowercase()).unwrap_or_default();
    let marked = |words: &[&str]| {
        words.iter().any(|w| {
            name.contains(&format!("({w}"))
                || name.starts_with(&format!("{w}:"))
                || name.starts_with(&format!("{w} -"))
                || note == *w
                || note.starts_with(&format!("{w} "))
                || note.starts_with(&format!("{w},"))
                || option.starts_with(w)
        })
    };
    let ticked = matches!(option.as_str(), "x" | "yes" | "y" | "1" | "true" | "ja");
    if marked(&["optional", "option", "opt."]) || (ticked && option_title.starts_with("option")) {
        part.optional = true;
        not_counted(part, "marked as optional");
    } else if marked(&["spare", "spares", "ersatz", "reserve"]) || (ticked && matches!(option_title.as_str(), "spare" | "ersatz"))
    {
        part.optional = true;
        not_counted(part, "marked as spare");
    } else if marked(&["alternative", "alternatively", "alternate", "alt.", "oder", "instead of"])
        || name.starts_with("or ")
        || note.starts_with("or ")
        || (ticked && option_title.starts_with("alt"))
    {
        part.alternative = Some(String::new());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn totals_are_told_from_parts() {
        for yes in [
            "Total",
            "Total not 3d printed parts :",
            "Total parts",
            "Summe",
            "Grand total",
            "Sub-total",
            "Gesamt",
            "Carried forward",
            "TOTAL COST (EUR)",
        ] {
            assert!(is_strict_total(yes), "{yes}");
        }
        for no in ["Total station", "Sumo frame", "Bolt", "Summer cover"] {
            assert!(!is_strict_total(no), "{no}");
        }
        assert!(is_charge("Shipping") && !is_charge("Shipping box") && !is_charge("Taxi sign"));
    }
}
