//! Price cells as people write them; currency, per what and tax only where they are said.

use crate::number::{self, NumberStyle};
use crate::proposal::{Per, Tax};

const SIGNS: &[(&str, Option<&str>)] = &[
    ("US$", Some("USD")),
    ("A$", Some("AUD")),
    ("C$", Some("CAD")),
    ("R$", Some("BRL")),
    ("€", Some("EUR")),
    ("£", Some("GBP")),
    ("zł", Some("PLN")),
    ("Kč", Some("CZK")),
    ("₹", Some("INR")),
    ("₽", Some("RUB")),
    ("₩", Some("KRW")),
    ("Fr.", Some("CHF")),
    ("$", None),
    ("¥", None),
    ("kr", None),
];
const CODES: &[&str] = &[
    "EUR", "USD", "GBP", "CHF", "PLN", "CZK", "SEK", "NOK", "DKK", "JPY", "CNY", "RMB", "CAD", "AUD", "INR", "KRW", "HUF", "RON",
    "TRY", "BRL", "MXN", "NZD", "SGD", "HKD", "TWD", "RUB", "ZAR",
];

/// A currency in a text: code where certain, and the sign as written.
pub(crate) fn currency(text: &str) -> (Option<String>, Option<String>) {
    for word in text.split(|c: char| !c.is_alphanumeric()) {
        if let Some(code) = CODES.iter().find(|c| c.eq_ignore_ascii_case(word) && (word.len() == 3)) {
            let upper = word.chars().filter(char::is_ascii_uppercase).count();
            // A lower-case three-letter word such as `try` is more often a word than a code.
            if upper == 3 || matches!(*code, "EUR" | "USD" | "GBP") {
                return (Some(if *code == "RMB" { "CNY" } else { code }.to_owned()), Some(word.to_owned()));
            }
        }
        if word.eq_ignore_ascii_case("euro") || word.eq_ignore_ascii_case("euros") {
            return (Some("EUR".to_owned()), Some(word.to_owned()));
        }
    }
    for (sign, code) in SIGNS {
        let found = if sign.chars().all(char::is_alphabetic) {
            text.split(|c: char| !c.is_alphabetic()).any(|w| w == *sign)
        } else {
            text.contains(sign)
        };
        if found {
            return (code.map(str::to_owned), Some((*sign).to_owned()));
        }
    }
    (None, None)
}

/// What a text says about tax.
pub(crate) fn tax(text: &str) -> Tax {
    let t = text.to_lowercase();
    let has = |words: &[&str]| words.iter().any(|w| t.contains(w));
    if has(&[
        "excl",
        "exkl",
        "ex vat",
        "ex. vat",
        "netto",
        "net price",
        "zzgl",
        "without tax",
        "w/o tax",
        " ht",
        "hors taxe",
        "no vat",
    ]) {
        Tax::Excluded
    } else if has(&["incl", "inkl", "brutto", "gross price", "ttc", "with vat", "with tax"]) {
        Tax::Included
    } else {
        Tax::Unknown
    }
}

/// A price understood from a text.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Read {
    pub(crate) value: Option<f64>,
    pub(crate) upper: Option<f64>,
    pub(crate) currency: Option<String>,
    pub(crate) sign: Option<String>,
    pub(crate) per: Per,
    pub(crate) tax: Tax,
    pub(crate) rule: String,
}

/// The number's text inside a price cell, for the decision about the column.
pub(crate) fn number_text(text: &str) -> Option<&str> {
    let start = text.find(|c: char| c.is_ascii_digit())?;
    let start = if text[..start].ends_with(['-', '−']) && text[..start].trim_end_matches(['-', '−']).trim().is_empty() {
        text[..start].rfind(['-', '−']).unwrap_or(start)
    } else {
        start
    };
    number::leading(&text[start..]).map(|(n, _)| n)
}

/// Whether a text looks like a price: a number with a currency sign or code.
pub(crate) fn looks_like(text: &str) -> bool {
    text.len() < 40 && number_text(text).is_some() && currency(text).1.is_some() && !text.contains("://")
}

/// Reads a price text.
pub(crate) fn read(text: &str, style: Option<NumberStyle>) -> Read {
    let (currency, sign) = currency(text);
    let mut read = Read { currency, sign, tax: tax(text), rule: "no number found".to_owned(), ..Read::default() };
    let Some(number) = number_text(text) else { return read };
    if style.is_none() && number::vote(number) == number::Vote::Open {
        read.rule = "could be read with a decimal or a thousands mark".to_owned();
        return read;
    }
    let style = style.unwrap_or(NumberStyle::Point);
    read.value = number::parse(number, style).filter(|v| v.abs() < 1e12);
    read.rule = if read.value.is_some() {
        "number in a price cell".to_owned()
    } else {
        "number not understood in this column's style or too large".to_owned()
    };
    let rest = &text[text.find(number).unwrap_or(0) + number.len()..];
    let next =
        rest.trim_start().trim_start_matches(|c: char| !c.is_ascii_digit() && !matches!(c, '-' | '–' | '/' | 'p' | 'f' | 'j'));
    let (inner, after) = (number_text(next), next.to_lowercase());
    if let Some(n) = inner.and_then(|n| number::parse(n, style)) {
        if after.starts_with(['-', '–']) {
            read.upper = Some(n);
            read.rule = "range of prices".to_owned();
        } else if (after.starts_with('/')
            || after.starts_with("for ")
            || after.starts_with("für ")
            || after.starts_with("per ")
            || after.starts_with("pro "))
            && n >= 1.0
        {
            read.per = if n == 1.0 { Per::Piece } else { Per::Pack(n) };
            read.rule = format!("price for {n} pieces");
        }
    } else if ["/pc", "/stk", "/ea", "per piece", "each", "pro stück", "/piece", "/ pc"]
        .iter()
        .any(|w| rest.to_lowercase().contains(w))
    {
        read.per = Per::Piece;
    }
    read
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_as_people_write_them() {
        let p = |t| read(t, Some(NumberStyle::Point));
        assert_eq!((p("€12.50").value, p("€12.50").currency.as_deref()), (Some(12.5), Some("EUR")));
        assert_eq!((p("12 USD").value, p("12 USD").currency.as_deref()), (Some(12.0), Some("USD")));
        assert_eq!((p("$3").currency, p("$3").sign.as_deref()), (None, Some("$")), "which dollar is not said");
        assert_eq!(p("9.99 € / 10 pcs").per, Per::Pack(10.0));
        assert_eq!(p("12 for 50 pieces").per, Per::Pack(50.0));
        assert_eq!((p("1.20 - 1.50").value, p("1.20 - 1.50").upper), (Some(1.2), Some(1.5)));
        assert_eq!(p("5 incl. VAT").tax, Tax::Included);
        assert_eq!(p("free").value, None);
        assert_eq!(read("1.234", None).value, None);
        assert!(looks_like("£4.20") && !looks_like("M4 20") && !looks_like("https://x.test/?p=$4"));
    }
}
