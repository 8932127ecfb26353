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
    "gesamtmenge",
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
    "von",
    "seite",
    "aus",
    "from",
    "to",
    "previous",
    "next",
    "zzgl",
    "inkl",
    "exkl",
    "mwst",
    "weight",
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
    total_word(first) || total_word(last) || is_strict_total(text)
}

/// A word for total, also as the end of a compound such as `Nettosumme`.
fn total_word(w: &str) -> bool {
    TOTAL.contains(&w) || w.ends_with("summe") || w.ends_with("betrag")
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
    let ends = text.trim_end().ends_with(':') && words.first().is_some_and(|w| total_word(w));
    ends || (words.iter().any(|w| total_word(w))
        && words.iter().all(|w| total_word(w) || TOTAL_COMPANIONS.contains(w) || w.parse::<f64>().is_ok()))
}

const CHARGES: &[&str] = &[
    "shipping",
    "postage",
    "freight",
    "versand",
    "versandkosten",
    "porto",
    "livraison",
    "vat",
    "tax",
    "mwst",
    "ust",
    "tva",
    "iva",
    "handling",
    "customs",
    "zoll",
    "duty",
    "transport",
    "fracht",
    "wysyłka",
    "envío",
    "spedizione",
    "rabatt",
    "discount",
];
const CHARGE_COMPANIONS: &[&str] = &[
    "zzgl",
    "plus",
    "incl",
    "inkl",
    "excl",
    "and",
    "und",
    "cost",
    "costs",
    "kosten",
    "fee",
    "fees",
    "est",
    "estimated",
    "less",
    "abzgl",
    "import",
];

/// Whether a row is postage, tax, a fee or a discount.
pub(crate) fn is_charge(text: &str) -> bool {
    let p = plain(text);
    let words: Vec<&str> = p.split(' ').collect();
    let leads = CHARGES[..14].contains(&words[0])
        && words.len() <= 4
        && !matches!(p.as_str(), "freight lift" | "shipping box" | "shipping crate" | "shipping container");
    let mut rest = words.iter().filter(|w| !CHARGE_COMPANIONS.contains(w) && w.parse::<f64>().is_err()).peekable();
    leads || (rest.peek().is_some() && rest.all(|w| CHARGES.contains(w)))
}

fn not_fitted_word(text: &str) -> bool {
    let p = plain(text);
    let begins =
        ["do not", "not fitted", "not placed", "not mounted", "not populated", "excluded", "exclude from", "nicht bestückt"];
    if begins.iter().any(|b| p.starts_with(b)) {
        return true;
    }
    matches!(
        p.as_str(),
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
    "alignmentmark",
    "solderjumper",
    "solderbridge",
    "testpad",
    "testpoint",
    "mountinghole",
    "toolinghole",
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
        let all = [&part.device, &part.package, &part.description, &part.value]
            .into_iter()
            .flatten()
            .map(|t| t.value.to_lowercase().replace([' ', '-', '_'], ""))
            .collect::<Vec<_>>()
            .join(" ");
        if MARK_PREFIXES.contains(&prefix.as_str()) || MARK_WORDS.iter().any(|w| all.contains(w)) {
            part.component = false;
            not_counted(part, "no component: an alignment mark, solder bridge or the like");
        }
    }
    let fitted_title = map.column(Meaning::Fitted).map(|c| plain(&c.title)).unwrap_or_default();
    let negative = fitted_title.contains("not")
        || fitted_title.starts_with("dn")
        || fitted_title.starts_with("exclude")
        || fitted_title == "nofit";
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
    let options: Vec<(String, String)> = map
        .columns
        .iter()
        .filter(|c| c.meaning == Meaning::Option)
        .filter_map(|c| Some((plain(&c.title), plain(&sheet.seen(row, c.column)?.text))))
        .collect();
    let ticked = |titles: &[&str]| {
        let yes = |t: &str| matches!(t, "x" | "yes" | "y" | "1" | "true" | "ja" | "oui" | "tak");
        options.iter().any(|(title, text)| begins(title, titles) && yes(text))
    };
    let name = part.name.as_ref().map(|n| n.value.as_str()).unwrap_or_default();
    let note = part.note.as_ref().map(|n| plain(&n.value)).unwrap_or_default();
    let marked = |words: &[&str]| {
        asides(name).iter().any(|a| begins(a, words))
            || begins(&note, words)
            || options.iter().any(|(_, text)| begins(text, words))
    };
    if marked(OPTIONAL) || ticked(OPTIONAL) {
        part.optional = true;
        not_counted(part, "marked as optional");
    } else if marked(SPARE) || ticked(SPARE) {
        part.optional = true;
        not_counted(part, "marked as spare");
    } else if asides(name).iter().any(|a| begins(a, ALTERNATIVE))
        || instead(&plain(name))
        || instead(&note)
        || says_alternative(&note)
        || options.iter().any(|(_, text)| begins(text, ALTERNATIVE))
        || ticked(&["alternative", "alternatives", "alternate", "alt", "oder"])
    {
        part.alternative = Some(String::new());
    }
}

const OPTIONAL: &[&str] =
    &["optional", "option", "opt", "optionnel", "opcional", "opcja", "opcjonalnie", "opzionale", "optioneel"];
const SPARE: &[&str] =
    &["spare", "spares", "ersatz", "ersatzteil", "ersatzteile", "reserve", "rechange", "repuesto", "zapas", "zapasowy"];
const ALTERNATIVE: &[&str] = &[
    "alternative",
    "alternatively",
    "alternate",
    "alternativ",
    "alternativteil",
    "alt",
    "oder",
    "instead of",
    "anstelle",
    "statt",
];

fn begins(plain: &str, words: &[&str]) -> bool {
    words.iter().any(|w| plain.strip_prefix(w).is_some_and(|rest| rest.is_empty() || rest.starts_with(' ')))
}

/// What a name says beside itself, in plain form: in brackets, before a colon or dash, after a dash or comma, or a last `alt.`.
fn asides(name: &str) -> Vec<String> {
    let mut out: Vec<&str> = Vec::new();
    for (open, close) in [('(', ')'), ('[', ']')] {
        out.extend(name.split(open).skip(1).map(|a| a.split(close).next().unwrap_or(a)));
    }
    for mark in [":", " - ", " – "] {
        if let Some((before, after)) = name.split_once(mark) {
            out.extend([before, after]);
        }
    }
    out.extend(name.rsplit_once(", ").map(|(_, after)| after));
    out.extend(name.rsplit_once(' ').map(|(_, last)| last).filter(|l| l.ends_with('.')));
    out.iter().map(|a| plain(a)).collect()
}

/// `or motor B` stands for another row; `or similar` only says how particular one is.
fn instead(plain: &str) -> bool {
    let like = [
        "similar",
        "equivalent",
        "equal",
        "better",
        "comparable",
        "like",
        "larger",
        "ähnlich",
        "gleichwertig",
        "vergleichbar",
        "besser",
        "équivalent",
        "similaire",
        "zamiennik",
        "podobn",
        "równoważn",
        "odpowiednik",
    ];
    ["or ", "oder ", "ou ", "lub "]
        .iter()
        .any(|or| plain.strip_prefix(or).is_some_and(|rest| !rest.is_empty() && !like.iter().any(|l| rest.starts_with(l))))
}

/// `alternative to X` and a bare `alternative` speak of this row; `alternatively use X` speaks of another.
fn says_alternative(note: &str) -> bool {
    ["alternative", "alternate", "alternativ", "alt", "ersatzweise", "substitute"].iter().any(|w| {
        note.strip_prefix(w).is_some_and(|rest| {
            rest.is_empty()
                || [" to", " for", " of", " zu", " für", " à", " au", " do"].iter().any(|p| begins(&rest[1..], &[&p[1..]]))
        })
    }) || begins(note, &["instead of", "anstelle", "statt"])
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
        assert!(is_charge("zzgl. 19 % MwSt") && is_charge("plus VAT") && !is_charge("Transport roller"));
        assert!(is_charge("Shipping") && !is_charge("Shipping box") && !is_charge("Taxi sign"));
    }
}
