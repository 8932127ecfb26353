//! Numbers as text: the style of a column is decided from all its cells, never cell by cell.

use serde::{Deserialize, Serialize};

/// How numbers are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NumberStyle {
    /// `1,234.5`
    Point,
    /// `1.234,5`
    Comma,
    /// Both are proven in one column: each cell that proves its own style is read so, the others are not read.
    Mixed,
}

/// What one text says about the style it is written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Vote {
    Point,
    Comma,
    Open,
    None,
}

/// The leading number of a text: sign, digits, marks. Returns the number's text and the rest.
pub(crate) fn leading(text: &str) -> Option<(&str, &str)> {
    let text = text.trim_start();
    let sign = text.chars().next().filter(|c| matches!(c, '-' | '+' | '−')).map_or(0, char::len_utf8);
    let mut end = sign;
    let mut digits = 0;
    let chars: Vec<(usize, char)> = text[sign..].char_indices().collect();
    for (k, (i, c)) in chars.iter().enumerate() {
        let next_digit = chars.get(k + 1).is_some_and(|(_, c)| c.is_ascii_digit());
        if c.is_ascii_digit() {
            digits += 1;
        } else if matches!(c, '.' | ',') && next_digit {
            // A decimal or thousands mark.
        } else if matches!(c, '\'' | '’' | '\u{a0}' | '\u{202f}' | ' ') && digits > 0 && digit_run(&chars[k + 1..]) == 3 {
            // A mark between groups of three digits.
        } else {
            break;
        }
        end = sign + i + c.len_utf8();
    }
    if digits == 0 {
        return None;
    }
    let rest = &text[end..];
    if let Some(exp) = exponent(rest) {
        end += exp;
    }
    Some((&text[..end], &text[end..]))
}

fn digit_run(chars: &[(usize, char)]) -> usize {
    chars.iter().take_while(|(_, c)| c.is_ascii_digit()).count()
}

fn exponent(rest: &str) -> Option<usize> {
    let after = rest.strip_prefix(['e', 'E'])?;
    let signed = after.strip_prefix(['-', '+']).unwrap_or(after);
    let digits = signed.bytes().take_while(u8::is_ascii_digit).count();
    let length = rest.len() - signed.len() + digits;
    (digits > 0 && digits < 4 && !rest[length..].starts_with(|c: char| c.is_alphanumeric())).then_some(length)
}

/// What a number's text says about the style.
pub(crate) fn vote(number: &str) -> Vote {
    let body = number.trim_start_matches(['-', '+', '−']);
    let (points, commas) = (body.matches('.').count(), body.matches(',').count());
    match (points, commas) {
        (0, 0) => Vote::None,
        (1.., 1..) => {
            let (last_point, last_comma) = (body.rfind('.'), body.rfind(','));
            if last_point > last_comma { Vote::Point } else { Vote::Comma }
        }
        (2.., 0) => Vote::Comma,
        (0, 2..) => Vote::Point,
        _ => {
            let mark = if points == 1 { '.' } else { ',' };
            let (before, after) = body.split_once(mark).unwrap_or((body, ""));
            let open = after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0');
            match (open, mark) {
                (true, _) => Vote::Open,
                (false, '.') => Vote::Point,
                (false, _) => Vote::Comma,
            }
        }
    }
}

/// Reads a number's text in a style; `None` if it does not fit.
pub(crate) fn parse(number: &str, style: NumberStyle) -> Option<f64> {
    let style = match (style, vote(number)) {
        (NumberStyle::Mixed, Vote::Point | Vote::None) => NumberStyle::Point,
        (NumberStyle::Mixed, Vote::Comma) => NumberStyle::Comma,
        (NumberStyle::Mixed, Vote::Open) => return None,
        (s, _) => s,
    };
    let (decimal, group) = if style == NumberStyle::Point { ('.', ',') } else { (',', '.') };
    let mut out = String::with_capacity(number.len());
    let (whole, fraction) = number.split_once(decimal).map_or((number, None), |(w, f)| (w, Some(f)));
    let mut parts = whole.split([group, '\'', '’', '\u{a0}', '\u{202f}', ' ']);
    out.push_str(parts.next().unwrap_or(""));
    for part in parts {
        // Groups after the first have three digits; anything else is no grouping and the text is not understood.
        if part.len() != 3 {
            return None;
        }
        out.push_str(part);
    }
    if let Some(fraction) = fraction {
        if fraction.contains(decimal) || fraction.contains(group) {
            return None;
        }
        out.push('.');
        out.push_str(fraction);
    }
    out.replace('−', "-").parse::<f64>().ok().filter(|v| v.is_finite())
}

/// The style of a column from the numbers in it; `Err` if both readings are possible.
pub(crate) fn style<'a>(numbers: impl Iterator<Item = &'a str>) -> (Option<NumberStyle>, String) {
    let (mut point, mut comma, mut open) = (0usize, 0usize, 0usize);
    let mut example = [None, None, None];
    for n in numbers {
        let slot = match vote(n) {
            Vote::Point => {
                point += 1;
                0
            }
            Vote::Comma => {
                comma += 1;
                1
            }
            Vote::Open => {
                open += 1;
                2
            }
            Vote::None => continue,
        };
        example[slot].get_or_insert(n);
    }
    let shown = |i: usize| example[i].unwrap_or("");
    match (point, comma, open) {
        (0, 0, 0) => (Some(NumberStyle::Point), "whole numbers only".to_owned()),
        (_, 0, _) if point > 0 => {
            (Some(NumberStyle::Point), format!("decimal point, proven by {point} cells such as `{}`", shown(0)))
        }
        (0, ..) if comma > 0 => {
            (Some(NumberStyle::Comma), format!("decimal comma, proven by {comma} cells such as `{}`", shown(1)))
        }
        (0, 0, _) => (None, format!("all {open} cells such as `{}` can be read both ways", shown(2))),
        _ => (Some(NumberStyle::Mixed), format!("both styles occur: `{}` and `{}`", shown(0), shown(1))),
    }
}

/// Year, month, day of a date as people write it; the year may be missing (0).
pub(crate) fn date(text: &str) -> Option<(i32, u32, u32)> {
    let text = text.trim();
    let parts: Vec<&str> = text.split(['-', '.', '/', ' ']).filter(|p| !p.is_empty()).collect();
    if parts.len() < 2 || parts.len() > 3 || text.len() > 20 {
        return None;
    }
    let number = |p: &str| p.parse::<u32>().ok().filter(|_| p.len() <= 4);
    let year = |n: u32, p: &str| if p.len() == 4 { n as i32 } else { 2000 + n as i32 };
    if let Some(k) = parts.iter().position(|p| month(p).is_some()) {
        let m = month(parts[k])?;
        let others: Vec<&str> = parts.iter().enumerate().filter(|(i, _)| *i != k).map(|(_, p)| *p).collect();
        return match others.as_slice() {
            [a] => {
                let n = number(a)?;
                if (1..=31).contains(&n) && a.len() < 4 { Some((0, m, n)) } else { Some((year(n, a), m, 0)) }
            }
            [d, y] => Some((year(number(y)?, y), m, number(d).filter(|d| (1..=31).contains(d))?)),
            _ => None,
        };
    }
    let [a, b, c] = parts.as_slice() else { return None };
    let (x, y, z) = (number(a)?, number(b)?, number(c)?);
    if a.len() == 4 && text.contains('-') && (1..=12).contains(&y) && (1..=31).contains(&z) {
        return Some((x as i32, y, z));
    }
    if !text.contains(' ') && c.len() == 4 && (1900..2100).contains(&z) {
        if text.contains('/') && (1..=12).contains(&x) && (1..=31).contains(&y) {
            return Some((z as i32, x, y));
        }
        if (1..=31).contains(&x) && (1..=12).contains(&y) {
            return Some((z as i32, y, x));
        }
    }
    None
}

fn month(text: &str) -> Option<u32> {
    // Exact names and abbreviations only: `2 marbles` is no March, and `1 set` is no September.
    const NAMES: [&str; 12] = [
        "jan january januar janvier enero ene gennaio gen janeiro styczeń",
        "feb february februar février fév fevr febrero febbraio fevereiro luty",
        "mar march märz mär mrz mars marzo março marzec maart mrt",
        "apr april avril avr abril abr aprile kwiecień",
        "may mai mayo maggio mag maio maj mei",
        "jun june juni juin junio giugno giu junho czerwiec",
        "jul july juli juillet juil julio luglio lug julho lipiec",
        "aug august août aoû agosto ago sierpień augustus",
        "sep sept september septembre septiembre settembre setembro wrzesień",
        "oct okt october oktober octobre octubre ottobre ott outubro październik",
        "nov november novembre noviembre novembro listopad",
        "dec dez december dezember décembre déc diciembre dic dicembre dezembro grudzień",
    ];
    let text = text.to_lowercase();
    let known = |names: &&str| names.split(' ').any(|n| n == text);
    NAMES.iter().position(known).map(|i| i as u32 + 1)
}

/// The numbers a date may have been before a program turned it into one: day.month, day.0month, month.year.
pub(crate) fn before_date(year: i32, month: u32, day: u32) -> Vec<(f64, String)> {
    let mut out = Vec::new();
    let mut add = |text: String, rule: &str| {
        if let Ok(v) = text.parse::<f64>() {
            out.push((v, format!("date read back as {rule}: {text}")));
        }
    };
    if day > 0 {
        add(format!("{day}.{month}"), "day.month");
        add(format!("{day}.{month:02}"), "day.month with two digits");
    }
    if year > 0 && day <= 1 {
        add(format!("{month}.{:02}", year % 100), "month.year");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_column_decides() {
        let comma = ["1.234", "12,5", "7"];
        let (style, why) = style(comma.iter().copied());
        assert_eq!(style, Some(NumberStyle::Comma), "{why}");
        assert_eq!(parse("1.234", NumberStyle::Comma), Some(1234.0));
        assert_eq!(parse("1.234,50", NumberStyle::Comma), Some(1234.5));
        assert_eq!(parse("1'234.50", NumberStyle::Point), Some(1234.5));
        assert_eq!(super::style(["1,234", "2,500"].into_iter()).0, None);
        assert_eq!(super::style(["0,125"].into_iter()).0, Some(NumberStyle::Comma));
        assert_eq!(super::style(["1.5", "2,5"].into_iter()).0, Some(NumberStyle::Mixed));
        assert_eq!(parse("1,234", NumberStyle::Mixed), None);
    }

    #[test]
    fn leading_numbers_stop_where_words_begin() {
        for (text, number, rest) in [
            ("12.5 g", "12.5", " g"),
            ("1 234,50 €", "1 234,50", " €"),
            ("3, maybe", "3", ", maybe"),
            ("4x", "4", "x"),
            ("2 pcs", "2", " pcs"),
            ("1e3", "1e3", ""),
        ] {
            assert_eq!(leading(text), Some((number, rest)), "{text}");
        }
        assert_eq!(leading("M5"), None);
    }

    #[test]
    fn dates_are_seen_and_read_back() {
        assert_eq!(date("05. Jun"), Some((0, 6, 5)));
        assert_eq!(date("Mai 98"), Some((2098, 5, 0)));
        assert_eq!(date("2023-06-05"), Some((2023, 6, 5)));
        assert_eq!(date("5.6"), None);
        assert_eq!(date("Mars bar 3"), None);
        assert_eq!((date("1 set"), date("2 marbles")), (None, None));
        assert!(before_date(2023, 6, 5).iter().any(|(v, _)| *v == 5.6));
        assert!(before_date(1999, 5, 1).iter().any(|(v, _)| *v == 5.99));
    }
}
