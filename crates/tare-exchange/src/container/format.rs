//! Number formats: what a stored number looks like in its cell, and whether it is a date.

/// Whether a format shows a date (not only a time).
pub(crate) fn is_date(format: &str) -> bool {
    let mut plain = String::new();
    let mut chars = format.chars();
    let mut quoted = false;
    while let Some(c) = chars.next() {
        match c {
            '"' => quoted = !quoted,
            '\\' | '_' | '*' if !quoted => {
                chars.next();
            }
            '[' if !quoted => {
                for c in chars.by_ref() {
                    if c == ']' {
                        break;
                    }
                }
            }
            ';' if !quoted => break,
            c if !quoted => plain.push(c.to_ascii_lowercase()),
            _ => {}
        }
    }
    if plain.contains("general") || plain.contains(['0', '#', '?']) {
        return false;
    }
    plain.contains(['d', 'y']) || (plain.contains('m') && !plain.contains(['h', 's']))
}

/// The built-in formats of a workbook that are not stored with it.
pub(crate) fn builtin(id: u32) -> Option<&'static str> {
    Some(match id {
        1 => "0",
        2 => "0.00",
        3 => "#,##0",
        4 => "#,##0.00",
        9 => "0%",
        10 => "0.00%",
        11 => "0.00E+00",
        12 => "# ?/?",
        13 => "# ??/??",
        14 => "yyyy-mm-dd",
        15 => "d-mmm-yy",
        16 => "d-mmm",
        17 => "mmm-yy",
        18 => "h:mm AM/PM",
        19 => "h:mm:ss AM/PM",
        20 => "h:mm",
        21 => "h:mm:ss",
        22 => "yyyy-mm-dd h:mm",
        37 => "#,##0 ;(#,##0)",
        39 | 40 => "#,##0.00",
        44 => "0.00",
        45..=47 => "mm:ss",
        49 => "@",
        _ => return None,
    })
}

/// The shortest text of a number, as the general format shows it.
pub(crate) fn general(value: f64) -> String {
    if value.is_finite() && value.abs() >= 1e21 {
        return format!("{value:E}");
    }
    // Stored binary noise such as 0.30000000000000004 is not what was typed: 15 digits are what spreadsheets keep.
    let short = format!("{value:.*e}", 14).parse::<f64>().unwrap_or(value);
    let text = format!("{short}");
    if text == "-0" { "0".to_owned() } else { text }
}

/// The text of a number under a simple format; `None` if the format is more than digits, grouping, percent and literals.
pub(crate) fn show(value: f64, format: &str) -> Option<String> {
    let section = format.split(';').next().unwrap_or(format);
    if section.eq_ignore_ascii_case("general") || section == "@" {
        return Some(general(value));
    }
    let (mut before, mut digits, mut after) = (String::new(), String::new(), String::new());
    let mut chars = section.chars().peekable();
    while let Some(c) = chars.next() {
        let literal = match c {
            '"' => chars.by_ref().take_while(|c| *c != '"').collect(),
            '\\' => chars.next().map(String::from).unwrap_or_default(),
            '_' | '*' => {
                chars.next();
                String::new()
            }
            '[' => {
                let inside: String = chars.by_ref().take_while(|c| *c != ']').collect();
                inside.strip_prefix('$').map(|s| s.split('-').next().unwrap_or("").to_owned()).unwrap_or_default()
            }
            '0' | '#' | '?' | '.' | ',' => {
                if !after.is_empty() {
                    return None;
                }
                digits.push(c);
                continue;
            }
            '%' | '€' | '$' | '£' | '¥' | ' ' | '(' | ')' | '-' | '/' | '+' => c.to_string(),
            _ => return None,
        };
        if digits.is_empty() { before.push_str(&literal) } else { after.push_str(&literal) }
    }
    if digits.is_empty() || digits.contains('?') || after.contains('/') {
        return None;
    }
    let scaled = if after.contains('%') || before.contains('%') { value * 100.0 } else { value };
    let (whole, fraction) = digits.split_once('.').unwrap_or((&digits, ""));
    if fraction.contains(',') || whole.ends_with(',') {
        return None;
    }
    let (least, most) = (fraction.matches('0').count(), fraction.len());
    let mut text = format!("{:.*}", most, scaled.abs());
    while text.contains('.') && text.ends_with('0') && text.len() - text.find('.').unwrap_or(0) - 1 > least {
        text.pop();
    }
    let text = text.strip_suffix('.').unwrap_or(&text).to_owned();
    let (int, frac) = text.split_once('.').map_or((text.as_str(), None), |(i, f)| (i, Some(f)));
    let mut int = int.to_owned();
    let zeros = whole.matches('0').count();
    while int.len() < zeros {
        int.insert(0, '0');
    }
    if whole.contains(',') {
        int = group(&int);
    }
    let sign = if scaled < 0.0 { "-" } else { "" };
    Some(format!("{sign}{before}{int}{}{after}", frac.map(|f| format!(".{f}")).unwrap_or_default()).trim().to_owned())
}

fn group(int: &str) -> String {
    let mut out = String::new();
    for (i, c) in int.chars().enumerate() {
        if i > 0 && (int.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    out
}

/// Year, month and day of a stored day number; `since_1904` for workbooks that count from 1904.
pub(crate) fn day(serial: f64, since_1904: bool) -> Option<(i32, u32, u32)> {
    if !(1.0..2_958_466.0).contains(&serial) {
        return None;
    }
    let serial = serial.floor() as i64 + if since_1904 { 1462 } else { 0 };
    // Day 60 is 29 February 1900, which never was; days before it are one off.
    let days = if serial < 60 { serial + 1 } else { serial } - 25_569;
    Some(civil(days))
}

/// The date of a number of days since 1970-01-01 (proleptic Gregorian calendar).
fn civil(days: i64) -> (i32, u32, u32) {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let day = (doy - (153 * mp + 2) / 5 + 1) as u32;
    let month = if mp < 10 { mp + 3 } else { mp - 9 } as u32;
    let year = (yoe + era * 400 + i64::from(month <= 2)) as i32;
    (year, month, day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_look_as_their_format_says() {
        let cases = [
            (1.1, "0.00", "1.10"),
            (42.0, "00000", "00042"),
            (1234.5, "#,##0.00", "1,234.50"),
            (0.125, "0.0%", "12.5%"),
            (12.5, "[$€-407] #,##0.00", "€ 12.50"),
            (12.5, "#,##0.00\\ \"EUR\"", "12.50 EUR"),
            (3.0, "0.##", "3"),
            (-2.0, "0.0", "-2.0"),
        ];
        for (value, format, text) in cases {
            assert_eq!(show(value, format).as_deref(), Some(text), "{format}");
        }
        assert_eq!(general(0.1 + 0.2), "0.3");
        assert_eq!(general(1e15), "1000000000000000");
    }

    #[test]
    fn dates_are_told_from_numbers() {
        for f in ["d-mmm", "dd.mm.yyyy", "[$-407]d. mmm", "mmm\\-yy"] {
            assert!(is_date(f), "{f}");
        }
        for f in ["0.00", "General", "h:mm:ss", "#,##0 \"days\"", "0.00 \"m\""] {
            assert!(!is_date(f), "{f}");
        }
        assert_eq!(day(1.0, false), Some((1900, 1, 1)));
        assert_eq!(day(61.0, false), Some((1900, 3, 1)));
        assert_eq!(day(45_082.0, false), Some((2023, 6, 5)));
        assert_eq!(day(0.5, false), None);
    }
}
