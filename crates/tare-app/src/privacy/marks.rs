//! Private marks in free text that are told by their form: e-mail addresses, telephone numbers, paths of users, order numbers, amounts of money.

use std::collections::BTreeSet;

/// Words before the number of an order.
const ORDERS: [&str; 16] = [
    "po",
    "p.o",
    "order",
    "orders",
    "invoice",
    "bestellung",
    "bestellnummer",
    "bestellnr",
    "auftrag",
    "auftragsnummer",
    "rechnung",
    "commande",
    "facture",
    "pedido",
    "ordine",
    "zakazka",
];
/// Words before a telephone number.
const PHONES: [&str; 8] = ["tel", "telephone", "telefon", "phone", "mobile", "fax", "mobil", "handy"];
/// Codes and words of money.
const MONEY: [&str; 34] = [
    "eur", "usd", "gbp", "chf", "jpy", "cny", "krw", "inr", "sek", "nok", "dkk", "pln", "czk", "huf", "ron", "brl", "mxn", "cad",
    "aud", "zar", "try", "sgd", "hkd", "twd", "thb", "euro", "euros", "dollar", "dollars", "cent", "cents", "ct", "rmb", "yuan",
];
/// Units that are words of everyday texts too: `137.91 in total`, `0.14 a gram`.
const WORDS: [&str; 5] = ["a", "in", "at", "d", "l"];
const SIGNS: [char; 6] = ['€', '$', '£', '¥', '₩', '₹'];

/// What was found in a text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Found {
    pub(super) emails: usize,
    pub(super) phones: usize,
    pub(super) paths: usize,
    pub(super) orders: usize,
    pub(super) amounts: usize,
}

/// Numbers that may not be told, by their significant digits (three or more), so that `137.91`, `137,91` and `0.13791` are one.
#[derive(Clone, Debug, Default)]
pub(super) struct Secrets {
    digits: BTreeSet<String>,
    /// Whether there is any, short ones too, which are not told from other numbers.
    any: bool,
}

impl Secrets {
    /// Takes up every number of a value text.
    pub(super) fn take(&mut self, text: &str) {
        let mut rest = text;
        self.any = true;
        while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
            let length = number_length(&rest[at..]);
            let digits = significant(&rest[at..at + length]);
            if digits.len() >= 3 {
                self.digits.insert(digits);
            }
            rest = &rest[at + length..];
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        !self.any
    }

    /// Whether a text holds one of the numbers.
    pub(super) fn are_in(&self, text: &str) -> bool {
        let mut rest = text;
        while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
            let length = number_length(&rest[at..]);
            if self.digits.contains(&significant(&rest[at..at + length])) {
                return true;
            }
            rest = &rest[at + length..];
        }
        false
    }
}

/// The text with what is private by its form replaced by words in brackets; with secrets also amounts of money, whoever wrote them, since they may have
/// been worked out from what may not be told.
pub(super) fn replaced(text: &str, secrets: &Secrets) -> Option<(String, Found)> {
    // most texts hold nothing that any mark could begin with
    if !text.bytes().any(|b| b.is_ascii_digit() || matches!(b, b'@' | b'\\' | b'/')) {
        return None;
    }
    let (mut out, mut found, mut kept, mut at) = (String::new(), Found::default(), 0, 0);
    while let Some(c) = text[at..].chars().next() {
        let mark = mark(text, at, kept, secrets);
        if let Some((from, to, word, count)) = mark {
            out.push_str(&text[kept..from]);
            out.push_str(word);
            *count(&mut found) += 1;
            (kept, at) = (to, to);
        } else {
            at += c.len_utf8();
        }
    }
    out.push_str(&text[kept..]);
    (found != Found::default()).then_some((out, found))
}

/// Where a mark begins and ends, what is written for it, and where it is counted.
type Mark = (usize, usize, &'static str, fn(&mut Found) -> &mut usize);

/// The mark that is told by what stands at a place; it does not begin before `kept`.
fn mark(text: &str, at: usize, kept: usize, secrets: &Secrets) -> Option<Mark> {
    let rest = &text[at..];
    let c = rest.chars().next()?;
    let before = text[kept..at].chars().next_back();
    let in_word = before.is_some_and(char::is_alphanumeric);
    if c == '@' || c == '\u{ff20}' {
        let (from, to) = email(text, at, kept)?;
        return Some((from, to, "[e-mail]", |f| &mut f.emails));
    }
    if !in_word && let Some(length) = path(rest) {
        return Some((at, at + length, "[path]", |f| &mut f.paths));
    }
    if !in_word && c.is_alphabetic() {
        let word_end = rest.find(|c: char| !c.is_alphanumeric() && c != '.').unwrap_or(rest.len());
        let word = rest[..word_end].trim_end_matches('.').to_lowercase();
        if ORDERS.contains(&word.as_str())
            && let Some((from, to)) = number_behind(rest, word_end, 4)
        {
            return Some((at + from, at + to, "[number]", |f| &mut f.orders));
        }
        if PHONES.contains(&word.as_str())
            && let Some((from, to)) = number_behind(rest, word_end, 5)
        {
            return Some((at + from, at + to, "[telephone]", |f| &mut f.phones));
        }
    }
    if !in_word
        && (c == '+' || c == '0')
        && let Some(length) = phone(rest)
    {
        return Some((at, at + length, "[telephone]", |f| &mut f.phones));
    }
    if secrets.is_empty() {
        return None;
    }
    let signed = SIGNS.contains(&c);
    if (signed || c.is_ascii_digit()) && !in_word {
        let blank = if signed { c.len_utf8() + blanks(&rest[c.len_utf8()..]) } else { 0 };
        let number = rest[blank..].starts_with(|c: char| c.is_ascii_digit()).then(|| number_length(&rest[blank..]))?;
        let end = blank + number;
        let (unit, unit_end) = unit_behind(rest, end);
        let money =
            signed || money_before(&text[kept..at]) || MONEY.contains(&unit.to_lowercase().as_str()) || unit.starts_with(SIGNS);
        let secret = secrets.digits.contains(&significant(&rest[blank..end]));
        let other_unit = || {
            !unit.is_empty()
                && !WORDS.contains(&unit.to_lowercase().as_str())
                && tare_units::Unit::parse(unit).is_ok_and(|u| u.dim != tare_units::Dim::MONEY)
        };
        if money || (secret && !other_unit()) {
            let to = if money && !unit.is_empty() && !signed { unit_end } else { end };
            return Some((at, at + to, "[amount]", |f| &mut f.amounts));
        }
    }
    None
}

/// The bytes of a number in any hand: digits with points, commas or thin blanks between them.
fn number_length(text: &str) -> usize {
    let mut end = 0;
    let mut letters = text.char_indices().peekable();
    while let Some((at, c)) = letters.next() {
        if c.is_ascii_digit() {
            end = at + 1;
        } else if !(matches!(c, '.' | ',' | '\'' | '\u{a0}' | '\u{202f}' | '\u{2009}')
            && letters.peek().is_some_and(|(_, next)| next.is_ascii_digit()))
        {
            break;
        }
    }
    end
}

/// The digits of a number without point, leading and closing zeros.
fn significant(number: &str) -> String {
    let digits: String = number.chars().filter(char::is_ascii_digit).collect();
    digits.trim_matches('0').to_owned()
}

fn blanks(text: &str) -> usize {
    text.len() - text.trim_start_matches([' ', '\u{a0}', '\u{202f}']).len()
}

/// The word or sign right behind a number, and where it ends.
fn unit_behind(text: &str, end: usize) -> (&str, usize) {
    let from = end + blanks(&text[end..]);
    let rest = &text[from..];
    if rest.starts_with(SIGNS) {
        let to = from + rest.chars().next().map_or(0, char::len_utf8);
        return (&text[from..to], to);
    }
    let to = from + rest.find(|c: char| !c.is_alphanumeric() && !matches!(c, '%' | '°' | 'µ')).unwrap_or(rest.len());
    (&text[from..to], to)
}

fn money_before(text: &str) -> bool {
    let text = text.trim_end();
    let word = text.rsplit(|c: char| !c.is_alphabetic()).next().unwrap_or_default();
    text.ends_with(SIGNS) || MONEY.contains(&word.to_lowercase().as_str())
}

/// An e-mail address around its `@`.
fn email(text: &str, at: usize, kept: usize) -> Option<(usize, usize)> {
    let local = |c: char| c.is_alphanumeric() || matches!(c, '.' | '_' | '%' | '+' | '-' | '\'');
    let from = text[kept..at].char_indices().rev().take_while(|(_, c)| local(*c)).last().map(|(i, _)| kept + i)?;
    let sign = text[at..].chars().next()?.len_utf8();
    let rest = &text[at + sign..];
    let length = rest.find(|c: char| !c.is_alphanumeric() && c != '.' && c != '-').unwrap_or(rest.len());
    let domain = rest[..length].trim_end_matches(['.', '-']);
    let (host, top) = domain.rsplit_once('.')?;
    (!host.is_empty() && top.chars().count() >= 2).then_some((from, at + sign + domain.len()))
}

/// A path that names a user or a server.
fn path(text: &str) -> Option<usize> {
    let lower = text.get(..12).unwrap_or(text).to_ascii_lowercase();
    let bytes = text.as_bytes();
    let drive = bytes.len() > 3
        && bytes[0].is_ascii_alphabetic()
        && bytes[1] == b':'
        && matches!(bytes[2], b'\\' | b'/')
        && bytes[3] != b'/';
    let unix = ["/home/", "/users/", "~/", "/mnt/", "/volumes/", "/root/", "/tmp/", "/var/"]
        .iter()
        .any(|start| lower.starts_with(start));
    let share = lower.starts_with("\\\\") && bytes.get(2).is_some_and(u8::is_ascii_alphanumeric);
    if !drive && !unix && !share && !lower.starts_with("file:/") {
        return None;
    }
    let end = text.find(['"', '\'', '`', ',', ';', '<', '>', '|', ')', ']', '\n', '\r', '\t']).unwrap_or(text.len());
    // a blank is part of a path where a file's ending follows
    let blank = text[..end].rfind(['\\', '/']).and_then(|last| {
        let tail = &text[last..end];
        match (tail.find(' '), tail.rfind('.')) {
            (Some(blank), Some(dot)) if dot > blank => tail[dot..].find(' ').map(|after| last + dot + after),
            (Some(blank), _) => Some(last + blank),
            _ => None,
        }
    });
    Some(blank.unwrap_or(end))
}

/// A telephone number that is told by its form: `+` or a leading zero, and many digits in groups.
fn phone(text: &str) -> Option<usize> {
    let international = text.starts_with('+');
    let (mut digits, mut groups, mut end) = (0, 1, 0);
    for (at, c) in text.char_indices() {
        match c {
            '+' if at == 0 => {}
            '0'..='9' => {
                digits += 1;
                end = at + 1;
            }
            ' ' | '-' | '(' | ')' | '/' | '\u{a0}' => {
                if text[..at].ends_with(|c: char| c.is_ascii_digit()) {
                    groups += 1;
                }
                // two blanks or a blank sign blank are no number
                if text[..at].ends_with(' ') && c == ' ' {
                    break;
                }
            }
            _ => break,
        }
    }
    let enough = if international { digits >= 8 } else { digits >= 9 && groups >= 2 };
    (enough && digits <= 16 && text[1..].starts_with(|c: char| c.is_ascii_digit() || c == '(')).then_some(end)
}

/// A number of so many digits close behind a word, such as `order no. 4500123456`.
fn number_behind(text: &str, word_end: usize, least: usize) -> Option<(usize, usize)> {
    let mut from = word_end;
    for _ in 0..3 {
        from += text[from..].len()
            - text[from..].trim_start_matches([' ', '.', ':', '#', '\u{a0}', '-', '+', '(', '\u{ba}', '\u{b0}']).len();
        let rest = &text[from..];
        let word = rest.find(|c: char| !c.is_alphanumeric() && !matches!(c, '-' | '/' | '_')).unwrap_or(rest.len());
        let digits = rest[..word].bytes().filter(u8::is_ascii_digit).count();
        if digits > 0 {
            let mut end = from + word;
            // groups of digits go on
            let mut all = digits;
            while let Some(more) = text[end..].strip_prefix(' ').filter(|more| more.starts_with(|c: char| c.is_ascii_digit())) {
                let group = more.find(|c: char| !c.is_ascii_digit() && c != '-' && c != '/').unwrap_or(more.len());
                all += more[..group].bytes().filter(u8::is_ascii_digit).count();
                end += 1 + group;
            }
            return (all >= least).then_some((from, end));
        }
        if !["no", "nr", "number", "nummer", "num", "n"].contains(&rest[..word].to_lowercase().as_str()) {
            return None;
        }
        from += word;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn masked(text: &str) -> String {
        replaced(text, &Secrets::default()).map_or_else(|| text.to_owned(), |(text, _)| text)
    }

    #[test]
    fn private_marks_are_found_by_their_form() {
        let cases = [
            ("ask j.doe+x@parts.example.com, please", "ask [e-mail], please"),
            ("юрий@пример.рф", "[e-mail]"),
            ("call +49 (0)711 123456-78 now", "call [telephone] now"),
            ("tel. 4711 22", "tel. [telephone]"),
            ("030 1234567 office", "[telephone] office"),
            (r"C:\Users\A. Weber\list v2.xlsx, B3", "[path], B3"),
            ("see /home/weber/list.csv again", "see [path] again"),
            (r"\\server7\share\list.xlsx", "[path]"),
            ("order no. 4500123456 of May", "order no. [number] of May"),
            ("PO#77-8812", "PO#[number]"),
        ];
        for (text, wanted) in cases {
            assert_eq!(masked(text), wanted);
        }
        for plain in [
            "1 at 0.19 0.41 junction box; 2 at 0.71 0.40 harness",
            "2025-03-06 09:50",
            "12.5 +- 0.2 mm",
            "in order 3 of 4",
            "kg/m^3",
            "3.4 EUR/kg",
            "+ 25 K",
            "ISO 12944-2, table 3",
            "06-03-2025",
            "a/b at C:1",
            "@ 20 degC",
            "x@y",
        ] {
            assert_eq!(masked(plain), plain);
        }
    }

    #[test]
    fn amounts_go_where_prices_are_secret() {
        let mut secrets = Secrets::default();
        secrets.take("137.91 +- 2 EUR");
        let said = |text: &str| replaced(text, &secrets).map_or_else(|| text.to_owned(), |(text, _)| text);
        for (text, wanted) in [
            ("they ask 137,91 for one", "they ask [amount] for one"),
            ("€ 137.91, later EUR 12.40", "[amount], later EUR [amount]"),
            ("saves 4 EUR each", "saves [amount] each"),
            ("0.13791 a gram", "[amount] a gram"),
            ("1 379.1 kg at 20 degC", "1 379.1 kg at 20 degC"),
            ("a 137.91 mm bar", "a 137.91 mm bar"),
            ("torque 9 N*m", "torque 9 N*m"),
        ] {
            assert_eq!(said(text), wanted);
        }
        let mut short = Secrets::default();
        assert!(replaced("12 EUR", &short).is_none());
        short.take("12 EUR");
        let said = replaced("12 EUR for 12 of them", &short).map(|(text, _)| text);
        assert_eq!(said.as_deref(), Some("[amount] for 12 of them"));
        assert!(secrets.are_in("0.13791 EUR/g") && !secrets.are_in("13.8 EUR"));
    }

    /// Whatever is written, nothing breaks, and what was replaced once is not found again.
    #[test]
    fn any_text_is_no_panic() {
        let pieces = [
            "a@b.cd",
            "+49 711 12345678",
            "C:\\x y.z",
            "\u{202e}",
            "€",
            "1,2.3",
            " ",
            "order",
            "né",
            "\0",
            "/home/ü",
            "@",
            "+",
            "0",
            "no. 12345",
        ];
        let mut secrets = Secrets::default();
        secrets.take("12.345 EUR");
        for first in pieces {
            for second in pieces {
                for third in pieces {
                    let text = format!("{first}{second}{third}");
                    if let Some((once, _)) = replaced(&text, &secrets) {
                        let again = replaced(&once, &secrets).map_or_else(|| once.clone(), |(text, _)| text);
                        assert!(!again.contains("a@b.cd"), "{text:?} {again:?}");
                    }
                }
            }
        }
    }
}
