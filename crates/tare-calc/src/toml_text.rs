//! Where the text inside a TOML string stands in the file, through quotes, escapes and line ends.

use crate::span::Span;

/// Maps byte offsets of a decoded TOML string to the file.
#[derive(Clone, Debug)]
pub struct SourceMap {
    /// Where the first byte of the decoded text stands.
    start: usize,
    /// One entry per decoded byte and one for the end, when the text is not a plain copy.
    offsets: Option<Vec<u32>>,
    /// The whole string, quotes included.
    whole: Span,
}

impl SourceMap {
    /// A map for the decoded text of the string at `span` of `source`.
    pub fn new(source: &str, span: std::ops::Range<usize>, decoded: &str) -> Self {
        let whole = Span::from(span.clone());
        let Some(raw) = source.get(span.clone()) else { return Self { start: span.start, offsets: Some(Vec::new()), whole } };
        let quote = ["\"\"\"", "'''", "\"", "'"].into_iter().find(|q| raw.starts_with(q)).unwrap_or("");
        let mut at = quote.len();
        if quote.len() == 3 {
            at += line_end(&raw[at..]);
        }
        if raw[at..].starts_with(decoded) && raw.len() == at + decoded.len() + quote.len() {
            return Self { start: span.start + at, offsets: None, whole };
        }
        let offsets = decode(raw, at, quote, decoded, span.start).unwrap_or_default();
        Self { start: span.start, offsets: Some(offsets), whole }
    }

    /// The place in the file of a span of the decoded text.
    pub fn map(&self, span: Span) -> Span {
        match &self.offsets {
            None => Span::new(self.start + span.start as usize, self.start + span.end as usize),
            Some(offsets) => match (offsets.get(span.start as usize), offsets.get(span.end as usize)) {
                (Some(start), Some(end)) => Span::new(*start as usize, *end as usize),
                _ => self.whole,
            },
        }
    }
}

/// Length of the line end at the start of a text: 0, 1 or 2.
fn line_end(text: &str) -> usize {
    if text.starts_with("\r\n") { 2 } else { usize::from(text.starts_with('\n')) }
}

/// Walks raw and decoded text together; none when they do not fit, which would be an unforeseen escape.
fn decode(raw: &str, mut at: usize, quote: &str, decoded: &str, base: usize) -> Option<Vec<u32>> {
    let escapes = quote.starts_with('"');
    let mut offsets = Vec::with_capacity(decoded.len() + 1);
    let push = |offsets: &mut Vec<u32>, bytes: usize, at: usize| {
        offsets.extend(std::iter::repeat_n(u32::try_from(base + at).unwrap_or(u32::MAX), bytes));
    };
    for c in decoded.chars() {
        // a backslash at the end of a line swallows the white space behind it
        while escapes && quote.len() == 3 && raw.get(at..)?.starts_with('\\') {
            let rest = &raw[at + 1..];
            let blank = rest.len() - rest.trim_start().len();
            if !rest[..blank].contains('\n') {
                break;
            }
            at += 1 + blank;
        }
        push(&mut offsets, c.len_utf8(), at);
        let rest = raw.get(at..)?;
        at += if escapes && rest.starts_with('\\') {
            match rest.as_bytes().get(1)? {
                b'x' => 4,
                b'u' => 6,
                b'U' => 10,
                _ => 2,
            }
        } else if c == '\n' {
            line_end(rest).max(1)
        } else {
            rest.starts_with(c).then_some(c.len_utf8())?
        };
    }
    push(&mut offsets, 1, at);
    Some(offsets)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The raw text that the decoded `wanted` points at.
    #[track_caller]
    fn pointed<'a>(source: &'a str, wanted: &str) -> &'a str {
        let (table, errors) = toml::de::DeTable::parse_recoverable(source);
        assert!(errors.is_empty(), "{errors:?}");
        let value = table.get_ref().get("is").unwrap();
        let text = value.get_ref().as_str().unwrap();
        let at = text.find(wanted).unwrap();
        let span = SourceMap::new(source, value.span(), text).map(Span::new(at, at + wanted.len()));
        &source[span.range()]
    }

    #[test]
    fn finds_text_in_every_form_of_string() {
        assert_eq!(pointed("is = \"a + b\"", "b"), "b");
        assert_eq!(pointed("is = 'a + b'", "b"), "b");
        assert_eq!(pointed("is = \"\\u0061\\t + bc\"", "bc"), "bc");
        assert_eq!(pointed("is = \"\\u0061\\t + bc\"", "a"), "\\u0061");
        assert_eq!(pointed("is = \"\"\"\n  ä +\n  bc\"\"\"", "bc"), "bc");
        assert_eq!(pointed("is = \"\"\"\r\n  a +\r\n  bc\"\"\"", "bc"), "bc");
        assert_eq!(pointed("is = \"\"\"a + \\\n\n   bc\"\"\"", "bc"), "bc");
        assert_eq!(pointed("is = '''\na\nbc'''", "bc"), "bc");
    }
}
