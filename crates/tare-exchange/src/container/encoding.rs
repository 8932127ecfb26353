//! Which letters the bytes of a text file stand for: the mark first, then strict UTF-8, then a legacy code page, always stated.

use crate::book::Encoding;
use crate::limits::MESSAGES;
use encoding_rs::{MACINTOSH, SHIFT_JIS, UTF_16BE, UTF_16LE, WINDOWS_1250, WINDOWS_1251, WINDOWS_1252};
use tare_diag::{Diag, Place};

fn told(name: &str, reason: &str, certain: bool) -> Encoding {
    Encoding { name: name.to_owned(), reason: reason.to_owned(), certain }
}

/// Decodes a text file and says how it was decided.
pub(crate) fn decode(file: &str, bytes: &[u8], remarks: &mut Vec<Diag>) -> (String, Encoding) {
    if let Some(rest) = bytes.strip_prefix(b"\xEF\xBB\xBF") {
        if let Ok(text) = std::str::from_utf8(rest) {
            return (text.to_owned(), told("UTF-8", "byte-order mark", true));
        }
        let text = line_by_line(file, rest, remarks);
        return (text, told("UTF-8 with legacy lines", "byte-order mark, but some lines are no valid UTF-8", false));
    }
    for (mark, encoding, name) in
        [(b"\xFF\xFE", UTF_16LE, "UTF-16, low byte first"), (b"\xFE\xFF", UTF_16BE, "UTF-16, high byte first")]
    {
        if let Some(rest) = bytes.strip_prefix(mark) {
            return (encoding.decode_without_bom_handling(rest).0.into_owned(), told(name, "byte-order mark", true));
        }
    }
    let sample = &bytes[..bytes.len().min(4096)];
    let zeros = |odd: usize| sample.iter().skip(odd).step_by(2).filter(|b| **b == 0).count() * 5 > sample.len() * 2;
    if sample.len() >= 8 && zeros(1) {
        return (
            UTF_16LE.decode_without_bom_handling(bytes).0.into_owned(),
            told("UTF-16, low byte first", "every second byte is zero, no mark", false),
        );
    }
    if sample.len() >= 8 && zeros(0) {
        return (
            UTF_16BE.decode_without_bom_handling(bytes).0.into_owned(),
            told("UTF-16, high byte first", "every second byte is zero, no mark", false),
        );
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        let reason = if bytes.is_ascii() { "plain ASCII" } else { "strict UTF-8 without a mark" };
        warn_of_broken_letters(file, text, remarks);
        return (text.to_owned(), told("UTF-8", reason, true));
    }
    let valid = bytes.split(|b| *b == b'\n').filter(|l| !l.is_ascii() && std::str::from_utf8(l).is_ok()).count();
    if valid > 0 {
        let text = line_by_line(file, bytes, remarks);
        return (text, told("UTF-8 with legacy lines", "some lines are strict UTF-8 and others are not", false));
    }
    let (page, name) = legacy(bytes);
    let text = page.decode(bytes);
    remarks.push(
        Diag::warning("encoding-guessed", format!("the file is no valid UTF-8 and has no mark; it was read as {name}"))
            .at(Place::File(file.to_owned()))
            .hint("look at the letters beyond ASCII; if they are wrong, save the file as UTF-8"),
    );
    (text, told(name, "no mark and no valid UTF-8; the letters fit this code page best", false))
}

fn line_by_line(file: &str, bytes: &[u8], remarks: &mut Vec<Diag>) -> String {
    let (page, name) = legacy(bytes);
    let mut out = String::with_capacity(bytes.len());
    let mut bad = Vec::new();
    for (i, line) in bytes.split_inclusive(|b| *b == b'\n').enumerate() {
        match std::str::from_utf8(line) {
            Ok(text) => out.push_str(text),
            Err(_) => {
                bad.push(i + 1);
                out.push_str(&page.decode(line));
            }
        }
    }
    if let Some(first) = bad.first() {
        let lines: Vec<String> = bad.iter().take(MESSAGES).map(usize::to_string).collect();
        remarks.push(
            Diag::warning(
                "encoding-mixed",
                format!("{} lines are no valid UTF-8 and were read as {name}: {}", bad.len(), lines.join(", ")),
            )
            .at(Place::Line { file: file.to_owned(), line: *first })
            .hint("check the letters on these lines"),
        );
    }
    out
}

/// Letters of code page 850 above ASCII, in order.
const DOS: &str = "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜø£Ø×ƒáíóúñÑªº¿®¬½¼¡«»░▒▓│┤ÁÂÀ©╣║╗╝¢¥┐\
                   └┴┬├─┼ãÃ╚╔╩╦╠═╬¤ðÐÊËÈıÍÎÏ┘┌█▄¦Ì▀ÓßÔÒõÕµþÞÚÛÙýÝ¯´\u{ad}±‗¾¶§÷¸°¨·¹³²■\u{a0}";

#[derive(Clone, Copy)]
enum Page {
    Known(&'static encoding_rs::Encoding),
    Dos,
}

impl Page {
    fn decode(self, bytes: &[u8]) -> String {
        match self {
            Self::Known(page) => page.decode_without_bom_handling(bytes).0.into_owned(),
            Self::Dos => {
                let table: Vec<char> = DOS.chars().collect();
                bytes.iter().map(|b| if b.is_ascii() { char::from(*b) } else { table[usize::from(b - 0x80)] }).collect()
            }
        }
    }
}

/// The code page whose letters make the most of the bytes above ASCII.
fn legacy(bytes: &[u8]) -> (Page, &'static str) {
    let (page, name) = match inside_words(bytes) {
        Some(found) => return found,
        None => windows(bytes),
    };
    (Page::Known(page), name)
}

/// Bytes between two Latin letters stand for letters. Below 0xC0 the western Windows page has signs there, the DOS and Macintosh pages their
/// umlauts and accents. Japanese text shows itself by its kana.
fn inside_words(bytes: &[u8]) -> Option<(Page, &'static str)> {
    let (text, _, bad) = SHIFT_JIS.decode(&bytes[..bytes.len().min(1 << 20)]);
    let letters = text.chars().filter(|c| !c.is_ascii()).count();
    let kana = text.chars().filter(|c| matches!(c, '\u{3040}'..='\u{30ff}')).count();
    if !bad && kana >= 2 && kana * 5 >= letters {
        return Some((Page::Known(SHIFT_JIS), "Shift JIS (Japanese)"));
    }
    let inner = bytes.windows(3).filter(|w| w[0].is_ascii_alphabetic() && w[2].is_ascii_alphabetic() && !w[1].is_ascii());
    let (mut all, mut dos, mut mac) = (0, 0, 0);
    for w in inner {
        all += 1;
        dos += usize::from(matches!(w[1], 0x81 | 0x82 | 0x84 | 0x87 | 0x88 | 0x8A | 0x94));
        mac += usize::from(matches!(w[1], 0x8A | 0x8D | 0x8E | 0x8F | 0x90 | 0x96 | 0x9A | 0x9F));
    }
    let unused = bytes.iter().filter(|b| matches!(b, 0x81 | 0x8D | 0x8F | 0x90)).count();
    if dos * 2 > all && dos > mac {
        return Some((Page::Dos, "DOS code page 850 (western European)"));
    }
    // The Macintosh's `š`-like places are letters of Windows pages too; old Macintosh files end their lines by a lone return.
    (mac * 2 > all && (unused > 0 || !bytes.contains(&b'\n'))).then_some((Page::Known(MACINTOSH), "Macintosh Roman"))
}

fn windows(bytes: &[u8]) -> (&'static encoding_rs::Encoding, &'static str) {
    let high = bytes.iter().filter(|b| **b >= 0x80).count().max(1);
    let runs = bytes.windows(3).filter(|w| w.iter().all(|b| *b >= 0xC0)).count();
    if runs * 2 > high {
        return (WINDOWS_1251, "Windows code page 1251 (Cyrillic)");
    }
    // Inside a word these bytes are letters in the central European page and mere signs in the western one.
    let letter = |b: u8| b.is_ascii_alphabetic() || b >= 0xC0;
    let central = bytes
        .windows(2)
        .filter(|w| letter(w[0]) && matches!(w[1], 0xB3 | 0xB9 | 0xBF | 0x9C | 0x9F | 0x9D | 0x9E | 0xBE | 0xA3 | 0xA5 | 0xAF))
        .count();
    if central * 5 >= high {
        return (WINDOWS_1250, "Windows code page 1250 (central European)");
    }
    (WINDOWS_1252, "Windows code page 1252 (western European)")
}

fn warn_of_broken_letters(file: &str, text: &str, remarks: &mut Vec<Diag>) {
    for (i, line) in text.lines().enumerate() {
        if let Some(found) = ["Ã¤", "Ã¶", "Ã¼", "ÃŸ", "Ã©", "â€", "Â°", "Âµ"].iter().find(|m| line.contains(**m))
        {
            remarks.push(
                Diag::warning("letters-broken", format!("found `{found}`: the file was once decoded wrongly and saved so"))
                    .at(Place::Line { file: file.to_owned(), line: i + 1 })
                    .hint("look for an earlier copy of the file"),
            );
            return;
        }
    }
}
