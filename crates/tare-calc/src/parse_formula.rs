//! Formula text to a tree.
//!
//! ```text
//! formula    = or
//! or         = and { "or" and }
//! and        = not { "and" not }
//! not        = "not" not | comparison
//! comparison = sum [ ("<" | "<=" | ">" | ">=" | "==" | "!=") sum ]      no chains
//! sum        = product { ("+" | "-") product }
//! product    = sign { ("*" | "/") sign }
//! sign       = "-" sign | power
//! power      = postfix [ "^" sign ]                                     right-binding; -x^2 = -(x^2)
//! postfix    = atom { "." name }
//! atom       = number [ "[" unit "]" ] | "'" text "'" | "true" | "false" | name | name "(" formula { "," formula } ")" | "(" formula ")"
//! ```

use crate::expr::{Binary, Expr, ExprKind, Literal, NEG_LEVEL, NOT_LEVEL};
use crate::function::Function;
use crate::lex::{Token, TokenKind, tokens};
use crate::problem::Problem;
use crate::span::Span;
use tare_units::{Quantity, Unit};

/// Deepest nesting of parentheses, calls, signs and exponents.
pub const MAX_NESTING: usize = 100;
/// Tallest tree; a sum of more terms than this has to be split into several equations.
pub const MAX_HEIGHT: usize = 250;
/// Most nodes in one formula.
pub const MAX_NODES: usize = 4000;
/// Longest formula text in bytes.
pub const MAX_TEXT: usize = 20_000;

/// Reads a formula; never fails: what cannot be read becomes [`ExprKind::Bad`] and a problem.
///
/// Spans count from the start of `text`. One cause gives one problem: reading stops at the first error of syntax, while
/// unknown units and functions are all reported.
///
/// ```
/// let (tree, problems) = tare_calc::parse_formula("-x^2 / 3 [mm]");
/// assert!(problems.is_empty());
/// assert_eq!(tree.to_string(), "-x^2 / 3 [mm]");
/// ```
pub fn parse_formula(text: &str) -> (Expr, Vec<Problem>) {
    if text.len() > MAX_TEXT {
        let span = Span::new(0, text.len());
        let problem =
            Problem::new("formula-too-long", format!("the formula has {} bytes, more than {MAX_TEXT}", text.len()), span);
        return (Expr::new(ExprKind::Bad, span), vec![problem.hint("split it into several equations")]);
    }
    let tokens = tokens(text);
    let mut parser = Parser { text, tokens: &tokens, at: 0, depth: 0, nodes: 0, problems: Vec::new(), stopped: false };
    let (tree, _) = parser.operand(0);
    let next = parser.peek();
    if !parser.stopped && next.kind != TokenKind::End {
        parser.unexpected(next, "an operator or the end of the formula");
    }
    // half a formula would give messages about what was never meant
    let tree = if parser.stopped { Expr::new(ExprKind::Bad, Span::new(0, text.len())) } else { tree };
    (tree, parser.problems)
}

struct Parser<'a> {
    text: &'a str,
    tokens: &'a [Token],
    at: usize,
    depth: usize,
    nodes: usize,
    problems: Vec<Problem>,
    /// Set by the first error of syntax: no further one is reported.
    stopped: bool,
}

/// A tree and its height.
type Tree = (Expr, usize);

impl<'a> Parser<'a> {
    fn peek(&self) -> Token {
        // the last token is always `End`
        self.tokens[self.at.min(self.tokens.len() - 1)]
    }

    fn next(&mut self) -> Token {
        let token = self.peek();
        self.at = (self.at + 1).min(self.tokens.len() - 1);
        token
    }

    fn eat(&mut self, sign: &'static str) -> Option<Token> {
        (self.peek().kind == TokenKind::Sign(sign)).then(|| self.next())
    }

    fn text_of(&self, token: Token) -> &'a str {
        &self.text[token.span.range()]
    }

    /// Reports the first error of syntax and moves to the end.
    fn stop(&mut self, problem: Problem) -> Tree {
        let span = problem.span;
        if !self.stopped {
            self.problems.push(problem);
        }
        self.stopped = true;
        self.at = self.tokens.len() - 1;
        (Expr::new(ExprKind::Bad, span), 1)
    }

    fn unexpected(&mut self, token: Token, expected: &str) -> Tree {
        let found = match token.kind {
            TokenKind::End => "the end".to_owned(),
            _ => format!("`{}`", self.text_of(token)),
        };
        let mut problem = Problem::new("formula-syntax", format!("expected {expected}, found {found}"), token.span);
        problem = match token.kind {
            TokenKind::Sign("=") => problem.hint("write `==` to compare"),
            TokenKind::Open if self.text_of(token).starts_with('\'') => problem.hint("close the text with `'`"),
            TokenKind::Open => problem.hint("close the unit with `]`"),
            TokenKind::Unit => problem.hint("a unit in brackets stands right behind a number: `4 [mm]`"),
            TokenKind::Word if self.at > 0 && self.tokens[self.at - 1].kind == TokenKind::Number => {
                problem.hint(format!("write a unit in brackets, `[{}]`, or `*` to multiply", self.text_of(token)))
            }
            TokenKind::Stray if self.text_of(token) == "\"" => problem.hint("write a text in single quotes"),
            _ => problem,
        };
        self.stop(problem)
    }

    fn make(&mut self, kind: ExprKind, span: Span, height: usize) -> Tree {
        self.nodes += 1;
        if self.nodes > MAX_NODES || height > MAX_HEIGHT {
            let problem = Problem::new("formula-too-long", "the formula has too many terms", span);
            return self.stop(problem.hint("split it into several equations"));
        }
        (Expr::new(kind, span), height)
    }

    /// Reads an operand and every operation behind it that binds at least as tightly as `least`.
    fn operand(&mut self, least: u8) -> Tree {
        self.depth += 1;
        if self.depth > MAX_NESTING {
            let problem =
                Problem::new("formula-too-deep", format!("the formula is nested more than {MAX_NESTING} deep"), self.peek().span);
            let stopped = self.stop(problem.hint("split it into several equations"));
            self.depth -= 1;
            return stopped;
        }
        let mut left = self.prefix();
        let mut compared = false;
        while !self.stopped {
            let token = self.peek();
            let op = match token.kind {
                TokenKind::Sign(sign) => Binary::of_sign(sign),
                TokenKind::Word => Binary::of_sign(self.text_of(token)),
                _ => None,
            };
            let Some(op) = op.filter(|op| op.level() >= least) else { break };
            if op.compares() && compared {
                let problem = Problem::new("formula-syntax", "comparisons do not chain", token.span);
                left = self.stop(problem.hint("join two comparisons with `and`"));
                break;
            }
            compared |= op.compares();
            self.next();
            let right = self.operand(if op == Binary::Pow { NEG_LEVEL } else { op.level() + 1 });
            let span = left.0.span.to(right.0.span);
            let height = left.1.max(right.1) + 1;
            left = self.make(ExprKind::Binary(op, Box::new(left.0), Box::new(right.0)), span, height);
        }
        self.depth -= 1;
        left
    }

    fn prefix(&mut self) -> Tree {
        let token = self.peek();
        let (level, negative) = match token.kind {
            TokenKind::Sign("-") => (NEG_LEVEL, true),
            TokenKind::Word if self.text_of(token) == "not" => (NOT_LEVEL, false),
            _ => return self.postfix(),
        };
        self.next();
        let (inner, height) = self.operand(level);
        let span = token.span.to(inner.span);
        let inner = Box::new(inner);
        self.make(if negative { ExprKind::Neg(inner) } else { ExprKind::Not(inner) }, span, height + 1)
    }

    fn postfix(&mut self) -> Tree {
        let mut tree = self.atom();
        while !self.stopped && self.eat(".").is_some() {
            let field = self.next();
            if field.kind != TokenKind::Word {
                return self.unexpected(field, "a column or line name after `.`");
            }
            let span = tree.0.span.to(field.span);
            let name = self.text_of(field).to_owned();
            tree = self.make(ExprKind::Field(Box::new(tree.0), name), span, tree.1 + 1);
        }
        tree
    }

    fn atom(&mut self) -> Tree {
        let token = self.peek();
        match token.kind {
            TokenKind::Number => self.number(),
            TokenKind::Text => {
                self.next();
                let text = self.text_of(token);
                self.make(ExprKind::Text(text[1..text.len() - 1].to_owned()), token.span, 1)
            }
            TokenKind::Word => self.word(),
            TokenKind::Sign("(") => {
                self.next();
                let inner = self.operand(0);
                if !self.stopped && self.eat(")").is_none() {
                    let found = self.peek();
                    return self.unexpected(found, "an operator or `)`");
                }
                inner
            }
            _ => self.unexpected(token, "a value"),
        }
    }

    fn word(&mut self) -> Tree {
        let token = self.next();
        let word = self.text_of(token);
        match word {
            "true" | "false" => return self.make(ExprKind::Bool(word == "true"), token.span, 1),
            "and" | "or" | "not" => return self.unexpected(token, "a value"),
            _ => {}
        }
        if self.eat("(").is_some() {
            return self.call(token, word);
        }
        self.make(ExprKind::Name(word.to_owned()), token.span, 1)
    }

    fn call(&mut self, name: Token, word: &str) -> Tree {
        let mut arguments = Vec::new();
        let mut height = 0;
        let mut end = name.span;
        if let Some(close) = self.eat(")") {
            end = close.span;
        } else {
            while !self.stopped {
                let (argument, h) = self.operand(0);
                height = height.max(h);
                arguments.push(argument);
                if self.stopped {
                    break;
                }
                let token = self.next();
                end = token.span;
                match token.kind {
                    TokenKind::Sign(",") => {}
                    TokenKind::Sign(")") => break,
                    _ => return self.unexpected(token, "`,` or `)`"),
                }
            }
        }
        let span = name.span.to(end);
        let Some(function) = Function::named(word) else {
            let problem = Problem::new("unknown-function", format!("no function named `{word}`"), name.span)
                .did_you_mean(word, Function::ALL.iter().map(|f| f.name()));
            self.problems.push(problem);
            return self.make(ExprKind::Bad, span, height + 1);
        };
        let (least, most) = function.arity();
        if !self.stopped && !(least..=most).contains(&arguments.len()) {
            let wanted = if least == most { least.to_string() } else { format!("{least} or more") };
            let plural = if least == 1 && most == 1 { "" } else { "s" };
            let message = format!("`{word}` takes {wanted} argument{plural}, found {}", arguments.len());
            self.problems.push(Problem::new("argument-count", message, span).hint(format!("write `{}`", function.usage())));
            return self.make(ExprKind::Bad, span, height + 1);
        }
        self.make(ExprKind::Call(function, arguments), span, height + 1)
    }

    fn number(&mut self) -> Tree {
        let token = self.next();
        let text = self.text_of(token);
        let value: f64 = text.parse().unwrap_or(f64::NAN);
        if !value.is_finite() {
            self.problems.push(Problem::new("number-range", format!("`{text}` is too large a number"), token.span));
            return self.make(ExprKind::Bad, token.span, 1);
        }
        let text = text.to_owned();
        if self.peek().kind != TokenKind::Unit {
            let literal = Literal { text, value, si: value, unit: None, unit_text: String::new() };
            return self.make(ExprKind::Number(literal), token.span, 1);
        }
        let bracket = self.next();
        let span = token.span.to(bracket.span);
        let inside = &self.text[bracket.span.start as usize + 1..bracket.span.end as usize - 1];
        let unit_text = inside.trim();
        match Unit::parse(unit_text) {
            Ok(unit) => {
                // value text and literals must give the same bits, so both are read by the same reader
                let si = Quantity::parse(&format!("{text} {unit_text}")).map_or(unit.to_si(value), |q| q.value);
                let literal = Literal { text, value, si, unit: Some(unit), unit_text: unit_text.to_owned() };
                self.make(ExprKind::Number(literal), span, 1)
            }
            Err(error) => {
                let start = bracket.span.start as usize + 1 + (inside.len() - inside.trim_start().len());
                self.problems.push(Problem::of_text(&error, start));
                self.make(ExprKind::Bad, span, 1)
            }
        }
    }
}
