//! Texts that try to be more than text, and names in many scripts: one fixture for every export.

use super::SMALL;
use std::fmt::Write;

/// Texts by what they try.
pub(crate) const TEXTS: [&str; 34] = [
    "=cmd()",
    "=1+2",
    "+1",
    "-2",
    "@x",
    "=HYPERLINK(\"http://example.invalid\";\"open\")",
    "  =1+1",
    "\t=1+1",
    "\u{a0}=1+1",
    "\u{200b}=1+1",
    "\u{feff}=1+1",
    "\u{ff1d}1+1",
    "\u{ff0b}1",
    "\u{2212}2",
    "'=1+1",
    "'quoted",
    "a,b;c\td|e",
    "two\nlines",
    "say \"when\"",
    "<script>alert(1)</script>",
    "</td><img src=x onerror=alert(1)>",
    "&lt;b&gt; & co",
    "\u{202e}gnp.exe",
    "\u{2067}right\u{2069} left",
    "{{7*7}} ${7*7} %s",
    "Łukasz Ångström",
    "Ελένη Παπαδοπούλου",
    "Юрий Щербаков",
    "김민준",
    "山田 太郎",
    "שלום עולם",
    "محمد القحطاني",
    "नमस्ते",
    "e\u{301}te\u{301} 👩\u{200d}🔧",
];

/// A small study with bought items called by each of the texts, which stand in their remarks and sources too.
pub(crate) fn study() -> String {
    let mut out = SMALL.to_owned();
    for (at, text) in TEXTS.iter().enumerate() {
        let text = quoted(text);
        let _ = write!(
            out,
            "\n[item.hostile_{at}]\nname = {text}\nmake = \"buy\"\nsays = {text}\nsupplier = {text}\n\
             value.mass = {{ text = \"{}.5 g\", source = {text}, who = {text} }}\n\
             value.price = {{ text = \"0.{:02} EUR\", evidence = \"quoted\", source = {text} }}\n\
             \n[part.hostile_{at}]\nitem = \"hostile_{at}\"\nparent = \"bracket\"\ncount = {}\nsays = {text}\n",
            at + 1,
            at + 1,
            at % 3 + 1,
        );
    }
    out
}

/// As a basic string of TOML.
fn quoted(text: &str) -> String {
    let mut out = String::from('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out + "\""
}
