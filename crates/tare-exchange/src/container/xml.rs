//! A small pull reader for the XML inside workbooks: no recursion, no entity expansion beyond characters.

/// One step through an XML text.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Event<'a> {
    /// An opening tag: local name, attribute text, whether it closes itself.
    Open(&'a str, &'a str, bool),
    /// A closing tag: local name.
    Close(&'a str),
    /// Text between tags, entities still written out; `true` for a verbatim section.
    Text(&'a str, bool),
}

/// Walks over an XML text.
pub(crate) struct Reader<'a> {
    text: &'a str,
    at: usize,
    /// Set when the text ended inside a tag.
    pub(crate) cut_off: bool,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self { text, at: 0, cut_off: false }
    }

    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn skip_past(&mut self, end: &str) -> Option<&'a str> {
        let rest = self.rest();
        if let Some(i) = rest.find(end) {
            self.at += i + end.len();
            Some(&rest[..i])
        } else {
            self.at = self.text.len();
            self.cut_off = true;
            None
        }
    }
}

impl<'a> Iterator for Reader<'a> {
    type Item = Event<'a>;

    fn next(&mut self) -> Option<Event<'a>> {
        loop {
            let rest = self.rest();
            if rest.is_empty() {
                return None;
            }
            if !rest.starts_with('<') {
                let end = rest.find('<').unwrap_or(rest.len());
                self.at += end;
                return Some(Event::Text(&rest[..end], false));
            }
            if rest.starts_with("<![CDATA[") {
                self.at += 9;
                let inner = self.skip_past("]]>")?;
                return Some(Event::Text(inner, true));
            }
            if rest.starts_with("<!--") {
                self.at += 4;
                self.skip_past("-->")?;
                continue;
            }
            if rest.starts_with("<?") {
                self.skip_past("?>")?;
                continue;
            }
            if rest.starts_with("<!") {
                self.skip_past(">")?;
                continue;
            }
            let Some(end) = tag_end(rest) else {
                self.at = self.text.len();
                self.cut_off = true;
                return None;
            };
            self.at += end + 1;
            let inner = &rest[1..end];
            if let Some(name) = inner.strip_prefix('/') {
                return Some(Event::Close(local(name.trim())));
            }
            let (inner, empty) = inner.strip_suffix('/').map_or((inner, false), |i| (i, true));
            let cut = inner.find(|c: char| c.is_ascii_whitespace()).unwrap_or(inner.len());
            return Some(Event::Open(local(&inner[..cut]), &inner[cut..], empty));
        }
    }
}

/// Where the tag that begins `text` ends; a `>` inside a quoted attribute does not end it.
fn tag_end(text: &str) -> Option<usize> {
    let mut quote = None;
    for (i, b) in text.bytes().enumerate() {
        match (quote, b) {
            (None, b'>') => return Some(i),
            (None, b'"' | b'\'') => quote = Some(b),
            (Some(q), b) if q == b => quote = None,
            _ => {}
        }
    }
    None
}

fn local(name: &str) -> &str {
    name.rsplit_once(':').map_or(name, |(_, l)| l)
}

/// The value of an attribute by its local name.
pub(crate) fn attribute(attributes: &str, name: &str) -> Option<String> {
    let mut rest = attributes;
    loop {
        let eq = rest.find('=')?;
        let key = rest[..eq].trim();
        let after = rest[eq + 1..].trim_start();
        let quote = after.chars().next().filter(|c| *c == '"' || *c == '\'')?;
        let end = after[1..].find(quote)?;
        if local(key) == name && !key.starts_with("xmlns") {
            return Some(decode(&after[1..=end]));
        }
        rest = &after[end + 2..];
    }
}

/// Replaces character entities; an unknown one stays as written.
pub(crate) fn decode(text: &str) -> String {
    if !text.contains('&') {
        return text.to_owned();
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(i) = rest.find('&') {
        out.push_str(&rest[..i]);
        rest = &rest[i..];
        let known = rest.find(';').filter(|e| *e <= 12).and_then(|e| entity(&rest[1..e]).map(|c| (c, e)));
        if let Some((c, end)) = known {
            out.push(c);
            rest = &rest[end + 1..];
        } else {
            out.push('&');
            rest = &rest[1..];
        }
    }
    out.push_str(rest);
    out
}

fn entity(name: &str) -> Option<char> {
    match name {
        "lt" => Some('<'),
        "gt" => Some('>'),
        "amp" => Some('&'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        _ => {
            let number = name.strip_prefix('#')?;
            let code = match number.strip_prefix(['x', 'X']) {
                Some(hex) => u32::from_str_radix(hex, 16).ok()?,
                None => number.parse().ok()?,
            };
            char::from_u32(code)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn walks_tags_text_and_verbatim_sections() {
        let text = r#"<?xml version="1.0"?><a:r x:v="1&gt;2" w='q>'><b/>t&#228;<![CDATA[<&]]><!-- no --></a:r>"#;
        let seen: Vec<String> = Reader::new(text).map(|e| format!("{e:?}")).collect();
        assert_eq!(seen.len(), 5, "{seen:?}");
        let Some(Event::Open(name, attributes, false)) = Reader::new(text).next() else { panic!("no opening tag") };
        assert_eq!(
            (name, attribute(attributes, "v").as_deref(), attribute(attributes, "w").as_deref()),
            ("r", Some("1>2"), Some("q>"))
        );
        assert_eq!(decode("t&#228;&#x20AC;&nope;&amp"), "tä€&nope;&amp");
    }

    #[test]
    fn a_cut_off_text_is_told() {
        let mut r = Reader::new("<a><b attr=\"");
        assert!(r.by_ref().count() == 1);
        assert!(r.cut_off);
    }
}
