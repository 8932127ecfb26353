//! Checks across rows: dates proved by arithmetic, notes against quantities, alternatives, private data.

use crate::book::Book;
use crate::limits::MESSAGES;
use crate::number;
use crate::proposal::{Changed, Origin, PartRow, Question};
use crate::rows::{DATE, Gathered, places_differ};
use crate::tables::Found;
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};

fn place(origin: &Origin) -> Place {
    Place::Cell {
        file: origin.file.clone(),
        sheet: Some(origin.sheet.clone()).filter(|s| !s.is_empty()),
        cell: origin.cell.clone(),
    }
}

fn near(a: f64, b: f64, quantity: f64) -> bool {
    (a - b).abs() <= 0.005 * quantity.abs().max(1.0) + 1e-9
}

/// Repairs dates where prices or quantities belong, if quantity x unit price = line price proves it; asks otherwise.
pub(crate) fn dates(out: &mut Gathered, answers: &BTreeMap<String, String>) {
    let (rows, changed, warnings, questions) = (&mut out.rows, &mut out.changed, &mut out.warnings, &mut out.questions);
    for row in rows {
        let quantity = row.quantity.value;
        let unit = row.price.as_ref().and_then(|p| p.value);
        let line = row.line_price.as_ref().and_then(|p| p.value);
        let mut fix = |value: &mut Option<f64>, origin: &mut Origin, proof: &dyn Fn(f64) -> bool| {
            if origin.rule != DATE {
                return;
            }
            let candidates = number::date(&origin.raw).map(|(y, m, d)| number::before_date(y, m, d)).unwrap_or_default();
            let id = format!("date:{}:{}", origin.sheet, origin.cell);
            let answer = answers.get(&id).and_then(|a| a.parse::<f64>().ok());
            let proven: Vec<&(f64, String)> = candidates.iter().filter(|(v, _)| proof(*v)).collect();
            if let Some(v) = answer {
                (*value, origin.rule) = (Some(v), "date read back as answered".to_owned());
            } else if let Some((v, rule)) = proven.first().filter(|_| proven.iter().all(|p| p.0 == proven[0].0)) {
                *value = Some(*v);
                origin.rule = format!("{rule}, proved by quantity x unit price = line price");
            } else {
                warnings.push(
                    Diag::warning(
                        "date-for-number",
                        format!("found the date `{}` where a number belongs; it is left unknown", origin.raw),
                    )
                    .at(place(origin)),
                );
                let choices = candidates.iter().map(|(v, why)| (v.to_string(), why.clone())).collect();
                questions.push(Question {
                    id,
                    text: format!("which number was `{}` before a program made it a date?", origin.raw),
                    choices,
                    cell: Some(origin.clone()),
                });
                return;
            }
            changed.push(Changed { cell: origin.clone(), became: value.map(|v| v.to_string()).unwrap_or_default() });
        };
        if let Some(p) = &mut row.price {
            fix(&mut p.value, &mut p.origin, &|v| quantity.zip(line).is_some_and(|(q, l)| near(q * v, l, q)));
        }
        let unit = unit.or_else(|| row.price.as_ref().and_then(|p| p.value));
        if let Some(p) = &mut row.line_price {
            fix(&mut p.value, &mut p.origin, &|v| quantity.zip(unit).is_some_and(|(q, u)| near(q * u, v, q)));
        }
        let line = row.line_price.as_ref().and_then(|p| p.value);
        let amount = &mut row.quantity;
        fix(&mut amount.value, &mut amount.origin, &|v| unit.zip(line).is_some_and(|(u, l)| u > 0.0 && near(u * v, l, v)));
    }
}

/// Unit price times quantity must be the line price; where prices say nothing, this tells what they are for.
pub(crate) fn prices(out: &mut Gathered, answers: &BTreeMap<String, String>) {
    use crate::proposal::Per;
    let mut sign_without_code = None;
    let answer = answers.get("currency").map(|a| a.trim());
    let known = answer.filter(|a| a.len() == 3 && a.bytes().all(|b| b.is_ascii_uppercase()));
    for row in &mut out.rows {
        let quantity = row.quantity.value;
        for p in [&mut row.price, &mut row.line_price].into_iter().flatten() {
            if let (None, Some(code)) = (&p.currency, known) {
                p.currency = Some(code.to_owned());
                p.origin.rule.push_str("; currency as answered");
            }
            if p.value.is_some() && p.currency.is_none() {
                sign_without_code.get_or_insert((p.sign.clone(), p.origin.clone()));
            }
        }
        let (Some(p), Some(l), Some(q)) = (row.price.as_mut(), row.line_price.as_ref(), quantity) else { continue };
        let (Some(u), Some(line)) = (p.value, l.value) else { continue };
        let packs = if let Per::Pack(n) = p.per { q / n } else { q };
        if near(packs * u, line, q) || near(packs.ceil() * u, line, q) {
            if p.per == Per::Unknown {
                p.per = Per::Piece;
                p.origin.rule.push_str("; per piece, for quantity x price = line price");
            }
        } else {
            let bought = row.bought.as_ref().and_then(|b| b.value).is_some_and(|b| near(b * u, line, b));
            if !bought {
                let message = format!("{q} x {u} is {}, but the line price says {line}", (q * u * 1e6).round() / 1e6);
                out.warnings.push(
                    Diag::warning("price-line-differs", message)
                        .at(place(&l.origin))
                        .hint("the price may be for a pack, or one of the numbers is wrong"),
                );
            }
        }
    }
    if let Some((sign, at)) = sign_without_code {
        let message = match sign {
            Some(s) => format!("prices carry `{s}`, which stands for several currencies; the currency is left unknown"),
            None => "prices carry no currency; it is left unknown".to_owned(),
        };
        out.warnings.push(Diag::warning("currency-unknown", message).at(place(&at)));
        if answer == Some("unknown") {
            return;
        }
        let choices = vec![
            ("EUR".to_owned(), "euro; or any other code of three capital letters".to_owned()),
            ("unknown".to_owned(), "it stays unknown".to_owned()),
        ];
        out.questions.push(Question {
            id: "currency".to_owned(),
            text: "which currency are the prices in?".to_owned(),
            choices,
            cell: Some(at),
        });
    }
}

/// Masses without a unit anywhere: the unit is asked for, and nothing is dropped in silence.
pub(crate) fn mass_units(out: &mut Gathered, answers: &BTreeMap<String, String>) {
    let answer = answers.get("mass-unit").map(|a| a.trim());
    let unit = answer.and_then(|a| Some((a.to_owned(), crate::rows::kilograms(a)?)));
    let mut open: Option<(Origin, usize)> = None;
    for mass in out.rows.iter_mut().filter_map(|r| r.mass.as_mut()) {
        let Some(value) = mass.value.filter(|_| mass.kg.is_none() && mass.unit.is_empty()) else { continue };
        match &unit {
            Some((symbol, kilograms)) => {
                (mass.unit, mass.kg) = (symbol.clone(), Some(value * kilograms));
                mass.origin.rule.push_str(&format!("; in {symbol}, as answered"));
            }
            None => {
                let count = open.as_ref().map_or(0, |(_, count)| *count);
                open = Some((open.map_or_else(|| mass.origin.clone(), |(first, _)| first), count + 1));
            }
        }
    }
    let Some((at, count)) = open else { return };
    let message = format!("{count} masses carry no unit, neither in their cells nor in the title; they are not taken");
    out.warnings.push(Diag::warning("mass-unit-unknown", message).at(place(&at)));
    if answer == Some("unknown") {
        return;
    }
    let choice = |unit: &str, word: &str| (unit.to_owned(), word.to_owned());
    let choices =
        vec![choice("g", "grams"), choice("kg", "kilograms"), choice("lb", "pounds"), choice("unknown", "they stay unknown")];
    let text = "which unit are the masses in?".to_owned();
    out.questions.push(Question { id: "mass-unit".to_owned(), text, choices, cell: Some(at) });
}

/// `4 per motor` in a note: the quantity must be a multiple, and rows with the same word should agree.
pub(crate) fn notes(out: &mut Gathered) {
    let mut by_word: BTreeMap<String, Vec<(usize, f64, f64)>> = BTreeMap::new();
    for (i, row) in out.rows.iter().enumerate() {
        let (Some(note), Some(q)) = (&row.note, row.quantity.value) else { continue };
        if let Some((n, word)) = per_word(&note.value) {
            by_word.entry(word).or_default().push((i, n, q));
        }
    }
    for (word, list) in by_word {
        let mut counts: BTreeMap<u64, usize> = BTreeMap::new();
        for (_, n, q) in &list {
            *counts.entry((q / n * 1000.0).round() as u64).or_default() += 1;
        }
        let usual = counts
            .iter()
            .max_by_key(|(_, c)| **c)
            .filter(|(k, c)| **c >= 3 && *c * 2 > list.len() && *k % 1000 == 0)
            .map(|(k, _)| *k as f64 / 1000.0);
        for (i, n, q) in list {
            let row = &out.rows[i];
            let name = row.name.as_ref().map(|n| n.value.as_str()).unwrap_or("");
            let whole = (q / n).fract() == 0.0;
            let message = match usual {
                Some(u) if q / n != u => format!(
                    "`{name}`: {q} with {n} per {word} makes {}, but other rows make it {u} (that would be {})",
                    (q / n * 100.0).round() / 100.0,
                    n * u
                ),
                _ if !whole => format!("`{name}`: {q} is no multiple of {n} per {word}"),
                _ => continue,
            };
            out.warnings.push(
                Diag::warning("note-contradicts", message)
                    .at(place(&row.quantity.origin))
                    .hint("the quantity is taken as written; look at the note"),
            );
        }
    }
}

fn per_word(note: &str) -> Option<(f64, String)> {
    let lower = note.to_lowercase();
    let (before, after) = lower.split_once(" per ")?;
    if after.contains(" and ") && after.split_whitespace().any(|w| w == "per")
        || after.contains(" for ") && after.contains(|c: char| c.is_ascii_digit())
    {
        return None;
    }
    let word: String = after.chars().take_while(|c| c.is_alphanumeric()).collect();
    let last = before.split_whitespace().next_back()?;
    let names = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    let n = names
        .iter()
        .position(|n| *n == last)
        .map(|i| i as f64 + 1.0)
        .or_else(|| last.parse::<f64>().ok().filter(|n| *n > 0.0))?;
    (!word.is_empty()).then_some((n, word))
}

/// The name that a note such as `alternative to cover` gives.
fn named_in_note(row: &PartRow) -> Option<String> {
    let note = row.note.as_ref()?.value.to_lowercase();
    let named = [" to ", " zu ", " zum ", " for ", " für ", " instead of "].iter().find_map(|p| note.split_once(p));
    named.map(|(_, name)| name.trim().to_owned())
}

/// Alternatives belong to the row before them; only the first is counted.
pub(crate) fn alternatives(out: &mut Gathered, tables: &[Found], book: &Book) -> usize {
    let name = |r: &PartRow| r.name.as_ref().map(|n| n.value.clone()).unwrap_or_default();
    let mut leader: Option<usize> = None;
    let mut found = 0;
    let said: Vec<bool> = out.rows.iter().map(|r| r.alternative.is_some()).collect();
    let mut by_name: BTreeMap<(usize, String), usize> = BTreeMap::new();
    if said.contains(&true) {
        for (i, r) in out.rows.iter().enumerate().filter(|(i, _)| !said[*i]) {
            by_name.entry((r.table, name(r).trim().to_lowercase())).or_insert(i);
        }
    }
    for (i, said) in said.into_iter().enumerate() {
        if !said {
            leader = Some(i);
            continue;
        }
        let named = named_in_note(&out.rows[i]).and_then(|n| by_name.get(&(out.rows[i].table, n)).copied());
        let Some(first) = named.or(leader).filter(|l| out.rows[*l].table == out.rows[i].table) else {
            out.rows[i].alternative = Some(name(&out.rows[i]));
            continue;
        };
        let key = name(&out.rows[first]);
        out.rows[first].alternative = Some(key.clone());
        let row = &mut out.rows[i];
        row.alternative = Some(key.clone());
        row.counted = false;
        row.why_not.get_or_insert_with(|| format!("an alternative to `{key}`, which is counted"));
        found += 1;
        let place = book.place(tables[row.table].sheet, row.row - 1, tables[row.table].left);
        out.warnings.push(
            Diag::warning("alternatives", format!("`{}` is read as an alternative to `{key}` and not added", name(&out.rows[i])))
                .at(place),
        );
    }
    found
}

/// A battery cell lighter than a coin is a slip of the unit by a thousand.
///
/// The band, 2 g to 20 kg for a piece named cell together with battery or lithium words, is common practice: small round cells weigh some tens of
/// grams, the largest flat ones a few kilograms.
pub(crate) fn masses(out: &mut Gathered) {
    for row in &out.rows {
        let Some((mass, kg)) = row.mass.as_ref().and_then(|m| Some((m, m.kg?))) else { continue };
        let text =
            [&row.name, &row.description].into_iter().flatten().map(|t| t.value.to_lowercase()).collect::<Vec<_>>().join(" ");
        let cell = text.split(|c: char| !c.is_alphanumeric()).any(|w| matches!(w, "cell" | "cells" | "zelle" | "zellen"));
        let battery = [
            "battery",
            "batterie",
            "akku",
            "lithium",
            "li-ion",
            "lifepo",
            "traction",
            "nmc",
            "lfp",
            "prismatic",
            "pouch",
            "18650",
            "21700",
        ];
        if cell
            && battery.iter().any(|b| text.contains(b))
            && kg > 0.0
            && !(0.002..=20.0).contains(&kg)
            && mass.per != crate::proposal::Per::Line
        {
            let message =
                format!("a cell of {kg} kg: expected 2 g to 20 kg (common practice); the unit may be wrong by a thousand");
            out.warnings.push(Diag::warning("mass-implausible", message).at(place(&mass.origin)));
        }
    }
}

/// `2 per leg`, `4 je Seite`: the number alone says too little.
fn counted_per(raw: &str) -> bool {
    let lower = raw.to_lowercase();
    let mut words = lower.split_whitespace().skip(1);
    matches!(words.next(), Some("per" | "pro" | "je" | "each" | "par" | "por" | "na")) && words.next().is_some()
}

/// Quantities that stay unknown, and places that do not fit the quantity.
pub(crate) fn quantities(out: &mut Gathered) {
    let mut unknown = Vec::new();
    for row in &out.rows {
        let q = &row.quantity;
        if q.value.is_none() && q.origin.rule != DATE {
            unknown.push(q.origin.clone());
        }
        if q.about {
            out.warnings.push(
                Diag::note("quantity-about", format!("the quantity `{}` is marked as rough", q.origin.raw)).at(place(&q.origin)),
            );
        }
        if q.value.is_some() && q.unit.is_none() && counted_per(&q.origin.raw) {
            let message =
                format!("the quantity `{}` counts per something; it is taken as written and not multiplied", q.origin.raw);
            out.warnings.push(
                Diag::warning("quantity-per", message)
                    .at(place(&q.origin))
                    .hint("write the whole count, or a multiplier beside it"),
            );
        }
        if places_differ(row) {
            let message =
                format!("the quantity is {} but {} places are named", q.value.unwrap_or_default(), row.designators.len());
            out.warnings.push(Diag::warning("quantity-unknown", message).at(place(&q.origin)));
        }
    }
    for o in unknown.iter().take(MESSAGES) {
        let message = format!("the quantity `{}` is unknown ({}); the row is kept and adds nothing", o.raw, o.rule);
        out.warnings.push(Diag::warning("quantity-unknown", message).at(place(o)));
    }
    if unknown.len() > MESSAGES {
        let message = format!("{} more quantities are unknown", unknown.len() - MESSAGES);
        out.warnings.push(Diag::warning("quantity-unknown", message));
    }
}

/// Warns of e-mail addresses, telephone-like order data and user names in paths.
pub(crate) fn private(book: &Book, warnings: &mut Vec<Diag>) {
    let mut kinds: BTreeMap<&str, Vec<Place>> = BTreeMap::new();
    for (s, sheet) in book.sheets.iter().enumerate() {
        for c in &sheet.cells {
            let kind = if is_mail(&c.text) || c.link.as_deref().is_some_and(|l| l.starts_with("mailto:")) {
                "an e-mail address"
            } else if is_user_path(&c.text) {
                "a path with a user name"
            } else if is_order_number(&c.text) {
                "an order or customer number"
            } else if is_phone(&c.text) {
                "a telephone number"
            } else {
                continue;
            };
            kinds.entry(kind).or_default().push(book.place(s, c.row, c.column));
        }
    }
    for (kind, places) in kinds {
        let mut d = Diag::warning("private-data", format!("{} cells hold {kind}", places.len()))
            .at(places[0].clone())
            .hint("look before sharing or exporting");
        d.related = places.into_iter().skip(1).take(MESSAGES).map(|p| (p, "here too".to_owned())).collect();
        warnings.push(d);
    }
}

fn is_mail(text: &str) -> bool {
    if !text.contains('@') {
        return false;
    }
    text.split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '<' | '>' | '(' | ')' | ':')).any(|w| {
        let Some((user, host)) = w.split_once('@') else { return false };
        !user.is_empty()
            && !w.contains('/')
            && host.split('.').count() > 1
            && host.split('.').all(|p| !p.is_empty() && p.chars().all(|c| c.is_alphanumeric() || c == '-'))
    })
}

fn is_user_path(text: &str) -> bool {
    let lower = text.to_lowercase();
    [":\\users\\", "/home/", "/users/", ":\\documents and settings\\"].iter().any(|m| {
        lower.find(m).is_some_and(|i| {
            (!lower[..i].contains("://") || lower.starts_with("file://"))
                && lower[i + m.len()..].starts_with(|c: char| c.is_alphanumeric())
        })
    })
}

/// `+49 30 1234567`: a plus, then eight digits or more with at least one break.
fn is_phone(text: &str) -> bool {
    let t = text.trim().trim_start_matches("Tel").trim_start_matches(['.', ':', ' ']);
    let digits = t.bytes().filter(u8::is_ascii_digit).count();
    t.starts_with('+')
        && (8..=15).contains(&digits)
        && t.contains([' ', '-', '/', '('])
        && t[1..].chars().all(|c| c.is_ascii_digit() || matches!(c, ' ' | '-' | '/' | '(' | ')' | '.'))
}

fn is_order_number(text: &str) -> bool {
    let lower = text.to_lowercase();
    [
        "order no",
        "order #",
        "order number",
        "order 1",
        "order 2",
        "order 3",
        "order id",
        "bestellnummer",
        "bestellnr",
        "customer no",
        "kundennummer",
        "auftragsnummer",
    ]
    .iter()
    .any(|m| lower.find(m).is_some_and(|i| lower[i..].bytes().filter(u8::is_ascii_digit).count() >= 5))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn private_data_is_noticed() {
        assert!(is_mail("ask jo@example.org") && !is_mail("M3 @ 20 mm") && !is_mail("https://x.test/@a.b"));
        assert!(is_user_path("C:\\Users\\jo\\bom.xlsx") && !is_user_path("https://x.test/users/jo"));
        assert!(is_order_number("Order no. 4711-22-3") && !is_order_number("order no"));
    }

    #[test]
    fn notes_give_counts_per_thing() {
        assert_eq!(per_word("There are three per drive"), Some((3.0, "drive".to_owned())));
        assert_eq!(per_word("12 per drive for 4 drives"), None);
        assert_eq!(per_word("as per drawing"), None);
    }
}
