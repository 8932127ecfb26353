//! Reading unit expressions.
//!
//! ```text
//! expression = term { ("*" | "·" | white space | "/") term }     no product after a quotient: W/(m*K)
//! term       = ( symbol | "1" | "(" expression ")" ) [ power ]
//! power      = "^" exponent | superscript digits | digit 2..4 after a length (mm2)
//! exponent   = [-] number | "(" [-] number [ "/" number ] ")"
//! ```

use crate::exact::Fraction;
use crate::{Currency, Dim, Ratio, UnitError, table};
use std::ops::Range;

/// Bounds on depth, length and size: far beyond any real unit, so that no text costs more than a moment.
const MAX_TEXT: usize = 200;
const MAX_DEPTH: usize = 12;
const MAX_EXPONENT: u32 = 24;
const MAX_BITS: i64 = 2000;
const MAX_EXTENT: u32 = 1000;

/// What an expression means.
pub(crate) struct Found {
    pub(crate) dim: Dim,
    pub(crate) factor: Fraction,
    pub(crate) offset: Option<Fraction>,
    pub(crate) currency: Option<Currency>,
}

/// Reads a whole expression; empty text is the plain unit.
pub(crate) fn read(text: &str) -> Result<Found, UnitError> {
    let mut reader = Reader { text, at: 0, money: None, alone: None, terms: 0 };
    if text.len() > MAX_TEXT {
        return Err(UnitError::new("unit-too-long", 0..text.len(), "the unit text is too long"));
    }
    reader.space();
    if reader.rest().is_empty() {
        return Ok(Found { dim: Dim::ONE, factor: Fraction::one(), offset: None, currency: None });
    }
    let (factor, dim) = reader.expression(0)?;
    if let Some(c) = reader.peek() {
        return Err(reader.stray(c));
    }
    let alone = reader.alone.take();
    if let Some((_, why, span)) = &alone
        && (reader.terms > 1 || text.trim() != &text[span.clone()])
    {
        return Err(
            UnitError::new("unit-alone", span.clone(), format!("`{}` stands in a product", &text[span.clone()])).hint(*why)
        );
    }
    let size = factor.to_f64();
    if !(1e-200..=1e200).contains(&size) {
        return Err(UnitError::new("unit-size", 0..text.len(), "the unit is beyond any size in use"));
    }
    let currency = match reader.money {
        Some((Money::Code(code), _)) if !dim.money().is_zero() => Some(code),
        _ => None,
    };
    Ok(Found { dim, factor, offset: alone.and_then(|(offset, ..)| offset), currency })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Money {
    Open,
    Code(Currency),
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
    money: Option<(Money, Range<usize>)>,
    /// A symbol that may not stand in a product: its offset, why, where.
    alone: Option<(Option<Fraction>, &'static str, Range<usize>)>,
    terms: usize,
}

type Part = (Fraction, Dim);

impl<'a> Reader<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn space(&mut self) {
        self.at += self.rest().len() - self.rest().trim_start().len();
    }

    fn take(&mut self, wanted: &[char]) -> bool {
        match self.peek() {
            Some(c) if wanted.contains(&c) => {
                self.at += c.len_utf8();
                true
            }
            _ => false,
        }
    }

    fn expression(&mut self, depth: usize) -> Result<Part, UnitError> {
        let start = self.at;
        let (mut factor, mut dim) = self.term(depth)?;
        let mut divided = false;
        loop {
            let before = self.at;
            self.space();
            let over = match self.peek() {
                None | Some(')') => return Ok((factor, dim)),
                Some('/' | '\u{2215}' | '\u{f7}') => {
                    self.take(&['/', '\u{2215}', '\u{f7}']);
                    false
                }
                Some('*' | '\u{b7}' | '\u{22c5}' | '\u{d7}' | '\u{2219}') => {
                    self.take(&['*', '\u{b7}', '\u{22c5}', '\u{d7}', '\u{2219}']);
                    true
                }
                Some(c) if self.at > before && starts_term(c) => true,
                Some(c) => return Err(self.stray(c)),
            };
            self.space();
            let (f, d) = self.term(depth)?;
            if over && divided {
                let shown = self.text[start..self.at].trim();
                let message = format!("`{shown}` has a product after a quotient and can be read two ways");
                return Err(UnitError::new("unit-ambiguous", start..self.at, message)
                    .hint("put what is divided by in parentheses: `W/(m*K)`"));
            }
            divided |= !over;
            (factor, dim) = if over { (factor.mul(&f), dim.mul(d)) } else { (factor.div(&f), dim.div(d)) };
            self.bounded(&factor, dim, start)?;
        }
    }

    fn bounded(&self, factor: &Fraction, dim: Dim, start: usize) -> Result<(), UnitError> {
        if factor.bits() > MAX_BITS || dim.extent() > MAX_EXTENT {
            return Err(UnitError::new("unit-size", start..self.at, "the unit is beyond any size in use"));
        }
        Ok(())
    }

    fn term(&mut self, depth: usize) -> Result<Part, UnitError> {
        let start = self.at;
        self.terms += 1;
        let (part, length) = match self.peek() {
            Some('(') if depth >= MAX_DEPTH => {
                return Err(UnitError::new("unit-too-deep", start..start + 1, "too many nested parentheses in a unit"));
            }
            Some('(') => {
                self.take(&['(']);
                self.space();
                let part = self.expression(depth + 1)?;
                if !self.take(&[')']) {
                    return Err(
                        UnitError::new("unit-parenthesis", start..self.at, "this parenthesis is not closed").hint("add `)`")
                    );
                }
                (part, false)
            }
            Some(c) if c.is_ascii_digit() => {
                self.one()?;
                return Ok((Fraction::one(), Dim::ONE));
            }
            Some(c) if starts_symbol(c) => self.symbol()?,
            Some(c) => return Err(self.stray(c)),
            None => return Err(UnitError::new("unit-incomplete", start..start, "the unit ends where another symbol is due")),
        };
        let Some(exponent) = self.power(length)? else { return Ok(part) };
        let (factor, dim) = part;
        let (n, d) = (exponent.numerator(), exponent.denominator().unsigned_abs());
        if n.unsigned_abs() > MAX_EXPONENT || d > MAX_EXPONENT / 2 {
            return Err(UnitError::new("unit-size", start..self.at, format!("exponent {exponent} is beyond any in use")));
        }
        let raised = factor.pow(n);
        let dim = dim.pow(exponent);
        self.bounded(&raised, dim, start)?;
        Ok((if d == 1 { raised } else { raised.root(d) }, dim))
    }

    /// The only number a unit may hold: the `1` of `1/a`.
    fn one(&mut self) -> Result<(), UnitError> {
        let start = self.at;
        self.at += self.rest().len() - self.rest().trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
        let number = &self.text[start..self.at];
        if number == "1" {
            return Ok(());
        }
        let message = format!("`{number}` stands inside a unit, which may hold no number but 1");
        Err(UnitError::new("unit-number", start..self.at, message)
            .hint("write a fraction as a decimal (`1.5 in`), and a power with `^` (`m^2`)"))
    }

    fn symbol(&mut self) -> Result<(Part, bool), UnitError> {
        let start = self.at;
        self.at += self.rest().find(|c| !starts_symbol(c)).unwrap_or(self.rest().len());
        let (symbol, span) = (&self.text[start..self.at], start..self.at);
        if let Some(known) = table::known(symbol) {
            if known.info.symbol == "money" {
                self.spend(Money::Open, span.clone())?;
            }
            if let Some(why) = known.info.alone {
                self.alone = Some((known.offset.clone(), why, span));
            }
            return Ok(((known.factor.clone(), known.info.dim), known.info.dim == Dim::LENGTH));
        }
        if let Some(code) = Currency::parse(symbol) {
            self.spend(Money::Code(code), span)?;
            return Ok(((Fraction::one(), Dim::MONEY), false));
        }
        Err(unknown(symbol, span))
    }

    /// One expression holds one currency: a price in two is an exchange rate, which the rate book states.
    fn spend(&mut self, money: Money, span: Range<usize>) -> Result<(), UnitError> {
        match &self.money {
            Some((before, first)) if *before != money => {
                let (a, b) = (&self.text[first.clone()], &self.text[span.clone()]);
                Err(UnitError::new("unit-currencies", span, format!("two currencies in one unit: `{a}` and `{b}`"))
                    .hint("state exchange rates in the rate book, as plain numbers"))
            }
            _ => {
                self.money = Some((money, span));
                Ok(())
            }
        }
    }

    fn power(&mut self, length: bool) -> Result<Option<Ratio>, UnitError> {
        let start = self.at;
        let text = match self.peek() {
            Some('^') => {
                self.take(&['^']);
                self.space();
                self.exponent_text()
            }
            Some(c) if superscript(c).is_some() => {
                let text: String = self.rest().chars().map_while(superscript).collect();
                self.at += self.rest().chars().take(text.chars().count()).map(char::len_utf8).sum::<usize>();
                text
            }
            Some(c) if c.is_ascii_digit() => {
                self.at += self.rest().len() - self.rest().trim_start_matches(|c: char| c.is_ascii_digit()).len();
                let digits = &self.text[start..self.at];
                if length && matches!(digits, "2" | "3" | "4") {
                    return Ok(digits.parse::<i32>().ok().map(Ratio::whole));
                }
                return Err(UnitError::new("unit-number", start..self.at, format!("`{digits}` follows a unit symbol"))
                    .hint(format!("write a power with `^`: `s^{digits}`")));
            }
            _ => return Ok(None),
        };
        match Ratio::parse(&text) {
            Some(exponent) => Ok(Some(exponent)),
            None => Err(UnitError::new(
                "unit-exponent",
                start..self.at.max(start + 1),
                "an exponent is due here: a whole number or a fraction",
            )
            .hint("write it as `^2`, `^-1`, `^0.5` or `^(1/3)`")),
        }
    }

    fn exponent_text(&mut self) -> String {
        let rest = self.rest();
        let length = if rest.starts_with('(') {
            rest.find(')').map_or(rest.len(), |i| i + 1)
        } else {
            let sign = rest.chars().next().filter(|c| matches!(c, '-' | '\u{2212}')).map_or(0, char::len_utf8);
            let tail = &rest[sign..];
            sign + tail.len() - tail.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len()
        };
        self.at += length;
        let text = &rest[..length];
        text.strip_prefix('(').map_or(text, |t| t.strip_suffix(')').unwrap_or("")).to_owned()
    }

    fn stray(&self, c: char) -> UnitError {
        let span = self.at..self.at + c.len_utf8();
        let error = UnitError::new("unit-character", span, format!("`{c}` does not belong in a unit"));
        match c {
            '-' | '\u{2010}' | '\u{2011}' | '.' => error.hint("write a product with `*`: `ft*lbf`"),
            ')' => error.hint("remove it, or add `(` before"),
            '/' => error.hint("write `1/` in front: `1/a`"),
            ',' => error.hint("write one value with one unit"),
            _ => error,
        }
    }
}

fn starts_symbol(c: char) -> bool {
    c.is_alphabetic() && superscript(c).is_none()
        || matches!(
            c,
            '_' | '%'
                | '\u{2030}'
                | '\u{b0}'
                | '"'
                | '\u{2033}'
                | '\''
                | '\u{2032}'
                | '$'
                | '#'
                | '\u{20ac}'
                | '\u{a3}'
                | '\u{a5}'
        )
        || matches!(c, '\u{2103}' | '\u{2109}' | '\u{2126}')
}

fn starts_term(c: char) -> bool {
    starts_symbol(c) || c == '(' || c.is_ascii_digit()
}

/// The plain character of a superscript digit or sign.
fn superscript(c: char) -> Option<char> {
    const RAISED: &str = "\u{2070}\u{b9}\u{b2}\u{b3}\u{2074}\u{2075}\u{2076}\u{2077}\u{2078}\u{2079}\u{207b}";
    RAISED.chars().zip("0123456789-".chars()).find(|(raised, _)| *raised == c).map(|(_, plain)| plain)
}

fn unknown(symbol: &str, span: Range<usize>) -> UnitError {
    if let Some(why) = table::refused(symbol) {
        return UnitError::new("unit-refused", span, format!("`{symbol}` is not a unit here")).hint(why);
    }
    let error = UnitError::new("unit-unknown", span, format!("there is no unit `{symbol}`"));
    let near = table::same_but_case(symbol);
    if !near.is_empty() {
        let choices: Vec<String> = near.iter().map(|n| format!("`{n}` ({})", spelled(n))).collect();
        return error.hint(format!("letter case matters: write {}", choices.join(" or ")));
    }
    if let Some(code) = symbol.get(1..).filter(|_| symbol.starts_with(['k', 'M'])).and_then(Currency::parse) {
        return error.hint(format!("currencies take no prefix: write the number as `1e3 {code}` or `1e6 {code}`"));
    }
    match tare_diag::nearest(symbol, table::all().keys().map(String::as_str)) {
        Some(near) => error.hint(format!("did you mean `{near}` ({})?", spelled(near))),
        None => error.hint("the unit table lists what can be written"),
    }
}

/// The name of a known symbol with its prefix in words, such as `milli` + `metre`.
fn spelled(symbol: &str) -> String {
    let Some(known) = table::known(symbol) else { return symbol.to_owned() };
    let bare = std::iter::once(&known.info.symbol).chain(known.info.aliases).find(|s| symbol.ends_with(**s));
    let prefix = bare.and_then(|bare| symbol.strip_suffix(*bare)).unwrap_or("");
    let prefix = match prefix {
        "p" => "pico",
        "n" => "nano",
        "u" | "\u{b5}" | "\u{3bc}" => "micro",
        "m" => "milli",
        "c" => "centi",
        "d" => "deci",
        "h" => "hecto",
        "k" => "kilo",
        "M" => "mega",
        "G" => "giga",
        _ => "",
    };
    format!("{prefix}{}", known.info.name)
}
