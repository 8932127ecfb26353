//! Formula text to tokens.

use crate::span::Span;

/// What a token is; the text itself is read through the token's span.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum TokenKind {
    /// Digits with an optional fraction and exponent.
    Number,
    /// A unit in brackets; the span includes the brackets.
    Unit,
    /// A text in single quotes; the span includes the quotes.
    Text,
    /// A name or a word such as `and`.
    Word,
    /// One of `+ - * / ^ < <= > >= == != ( ) , .`.
    Sign(&'static str),
    /// Something that starts no token.
    Stray,
    /// A quote or bracket without its partner.
    Open,
    /// The end of the text.
    End,
}

/// One token and where it stands in the formula.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Token {
    pub(crate) kind: TokenKind,
    pub(crate) span: Span,
}

/// Signs, longer ones first.
const SIGNS: [&str; 16] = ["<=", ">=", "==", "!=", "+", "-", "*", "/", "^", "<", ">", "(", ")", ",", ".", "="];

/// Splits a formula into tokens, the last of which is `End`. Every byte that is no blank belongs to exactly one token.
pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let mut out = Vec::new();
    let mut at = 0;
    loop {
        let rest = &text[at..];
        let blank = rest.len() - rest.trim_start().len();
        at += blank;
        let rest = &text[at..];
        let Some(first) = rest.chars().next() else { break };
        let (kind, length) = token(rest, first);
        out.push(Token { kind, span: Span::new(at, at + length) });
        at += length;
    }
    out.push(Token { kind: TokenKind::End, span: Span::new(text.len(), text.len()) });
    out
}

fn token(rest: &str, first: char) -> (TokenKind, usize) {
    match first {
        '0'..='9' => (TokenKind::Number, number(rest)),
        '.' if rest[1..].starts_with(|c: char| c.is_ascii_digit()) => (TokenKind::Number, number(rest)),
        '[' => enclosed(rest, ']', TokenKind::Unit),
        '\'' => enclosed(rest, '\'', TokenKind::Text),
        c if c.is_alphabetic() || c == '_' => (TokenKind::Word, word(rest)),
        c => match SIGNS.iter().find(|sign| rest.starts_with(**sign)) {
            Some(sign) => (TokenKind::Sign(sign), sign.len()),
            None => (TokenKind::Stray, c.len_utf8()),
        },
    }
}

fn enclosed(rest: &str, close: char, kind: TokenKind) -> (TokenKind, usize) {
    match rest[1..].find(close) {
        Some(inner) => (kind, inner + 2),
        None => (TokenKind::Open, rest.len()),
    }
}

fn word(rest: &str) -> usize {
    rest.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(rest.len())
}

/// Length of `12`, `12.5`, `.5`, `1.`, `1e-3`; an `e` without digits behind it is not part of the number.
fn number(rest: &str) -> usize {
    let digits = |from: usize| rest[from..].bytes().take_while(u8::is_ascii_digit).count();
    let mut length = digits(0);
    if rest[length..].starts_with('.') {
        length += 1;
        length += digits(length);
    }
    if rest[length..].starts_with(['e', 'E']) {
        let sign = usize::from(rest[length + 1..].starts_with(['+', '-']));
        let exponent = digits(length + 1 + sign);
        if exponent > 0 {
            length += 1 + sign + exponent;
        }
    }
    length
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> Vec<&str> {
        tokens(text).iter().map(|t| &text[t.span.range()]).collect()
    }

    #[test]
    fn splits_formulas() {
        assert_eq!(shown("4 [mm]*sqrt(t/1[mm])"), ["4", "[mm]", "*", "sqrt", "(", "t", "/", "1", "[mm]", ")", ""]);
        assert_eq!(shown("a<=b == 'x y'.c"), ["a", "<=", "b", "==", "'x y'", ".", "c", ""]);
        assert_eq!(shown("1.5e-3e 2e .5"), ["1.5e-3", "e", "2", "e", ".5", ""]);
    }

    #[test]
    fn strays_and_open_ends_are_tokens_too() {
        assert_eq!(
            tokens("a § 'b").iter().map(|t| t.kind).collect::<Vec<_>>(),
            [TokenKind::Word, TokenKind::Stray, TokenKind::Open, TokenKind::End]
        );
    }
}
