//! Simple formulas: sums, products and arithmetic over cells, recomputed to find stale or missing values.

use crate::book::{Sheet, cell_name, parse_cell_name};
use crate::limits::FORMULA_STEPS;
use std::collections::BTreeMap;

const DEPTH: u32 = 40;
const CELLS: usize = 200_000;

/// A cell or range a formula refers to on its own sheet, zero-based and inclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Area {
    /// First row.
    pub(crate) top: u32,
    /// First column.
    pub(crate) left: u32,
    /// Last row.
    pub(crate) bottom: u32,
    /// Last column.
    pub(crate) right: u32,
}

impl Area {
    /// Whether a position lies inside.
    pub(crate) fn covers(&self, row: u32, column: u32) -> bool {
        row >= self.top && row <= self.bottom && column >= self.left && column <= self.right
    }
}

#[derive(Clone, Debug, PartialEq)]
enum Token {
    Number(f64),
    Name(String),
    Area(Area),
    Sign(char),
    Text,
}

/// Moves the relative cell names of a formula, as filling it into another cell does.
pub(crate) fn shift(formula: &str, rows: i64, columns: i64) -> String {
    let mut out = String::with_capacity(formula.len());
    let mut word = String::new();
    let mut quote = None;
    for c in formula.chars().chain(std::iter::once('\0')) {
        if quote.is_none() && (c.is_ascii_alphanumeric() || matches!(c, '$' | '_' | '.')) {
            word.push(c);
            continue;
        }
        if !word.is_empty() {
            let moved = if c == '(' || c == '!' { None } else { moved(&word, rows, columns) };
            out.push_str(moved.as_deref().unwrap_or(&word));
            word.clear();
        }
        match quote {
            Some(q) if q == c => quote = None,
            None if c == '"' || c == '\'' => quote = Some(c),
            _ => {}
        }
        if c != '\0' {
            out.push(c);
        }
    }
    out
}

fn moved(word: &str, rows: i64, columns: i64) -> Option<String> {
    let (row, column) = parse_cell_name(word)?;
    let fixed_column = word.starts_with('$');
    let fixed_row = word[1..].contains('$');
    let row = if fixed_row { i64::from(row) } else { i64::from(row) + rows };
    let column = if fixed_column { i64::from(column) } else { i64::from(column) + columns };
    let (row, column) = (u32::try_from(row).ok()?, u32::try_from(column).ok()?);
    let name = cell_name(row, column);
    let digits = name.find(|c: char| c.is_ascii_digit()).unwrap_or(0);
    let (letters, digits) = name.split_at(digits);
    Some(format!("{}{letters}{}{digits}", if fixed_column { "$" } else { "" }, if fixed_row { "$" } else { "" }))
}

fn tokens(formula: &str) -> Option<Vec<Token>> {
    let mut out = Vec::new();
    let mut rest = formula.trim().trim_start_matches('=');
    while let Some(c) = rest.chars().next() {
        if out.len() > 2000 {
            return None;
        }
        if c.is_whitespace() {
            rest = &rest[c.len_utf8()..];
        } else if c == '"' {
            let end = rest[1..].find('"')? + 2;
            out.push(Token::Text);
            rest = &rest[end..];
        } else if c.is_ascii_digit() || c == '.' {
            let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
            out.push(Token::Number(rest[..end].parse().ok()?));
            rest = &rest[end..];
        } else if c.is_ascii_alphabetic() || c == '$' {
            let end = rest.find(|c: char| !c.is_ascii_alphanumeric() && c != '$' && c != '_').unwrap_or(rest.len());
            let word = &rest[..end];
            rest = &rest[end..];
            if rest.starts_with('!') {
                return None;
            }
            let Some((top, left)) = parse_cell_name(word).filter(|_| !rest.starts_with('(')) else {
                out.push(Token::Name(word.to_ascii_uppercase()));
                continue;
            };
            let mut area = Area { top, left, bottom: top, right: left };
            if let Some(after) = rest.strip_prefix(':') {
                let end = after.find(|c: char| !c.is_ascii_alphanumeric() && c != '$').unwrap_or(after.len());
                let (bottom, right) = parse_cell_name(&after[..end])?;
                area = Area { top: top.min(bottom), left: left.min(right), bottom: top.max(bottom), right: left.max(right) };
                rest = &after[end..];
            }
            out.push(Token::Area(area));
        } else if "+-*/^(),;%<>=".contains(c) {
            out.push(Token::Sign(if c == ';' { ',' } else { c }));
            rest = &rest[1..];
        } else {
            return None;
        }
    }
    Some(out)
}

/// The cells and ranges a formula names on its own sheet; `None` if it is not understood.
pub(crate) fn areas(formula: &str) -> Option<Vec<Area>> {
    Some(tokens(formula)?.into_iter().filter_map(|t| if let Token::Area(a) = t { Some(a) } else { None }).collect())
}

/// Whether a formula adds up a range.
pub(crate) fn is_sum(formula: &str) -> bool {
    let f = formula.trim_start_matches('=').to_ascii_uppercase();
    f.contains("SUM(") || f.contains("SUBTOTAL(")
}

/// Values already recomputed, so that a chain over all rows is walked once, and what was spent on it.
#[derive(Debug, Default)]
pub(crate) struct Memo {
    sheet: String,
    values: BTreeMap<(u32, u32), f64>,
    spent: usize,
}

/// Recomputes a formula from the cells it names; `None` if it uses anything beyond sums, products and arithmetic.
pub(crate) fn evaluate(sheet: &Sheet, formula: &str) -> Option<f64> {
    evaluate_within(sheet, formula, &mut Memo::default())
}

/// The same with what is known already; gives up once a book's share is spent.
pub(crate) fn evaluate_within(sheet: &Sheet, formula: &str, memo: &mut Memo) -> Option<f64> {
    if memo.sheet != sheet.name {
        (memo.sheet, memo.values) = (sheet.name.clone(), BTreeMap::new());
    }
    let share = CELLS.min(FORMULA_STEPS.saturating_sub(memo.spent));
    let mut budget = share;
    let value = compute(sheet, formula, 0, &mut budget, &mut memo.values);
    memo.spent += share - budget + 1;
    value
}

fn compute(sheet: &Sheet, formula: &str, depth: u32, budget: &mut usize, known: &mut BTreeMap<(u32, u32), f64>) -> Option<f64> {
    if depth > DEPTH {
        return None;
    }
    let tokens = tokens(formula)?;
    let mut parser = Parser { sheet, tokens: &tokens, at: 0, depth, budget, known };
    let value = parser.sum(0)?;
    (parser.at == tokens.len() && value.is_finite()).then_some(value)
}

struct Parser<'a> {
    sheet: &'a Sheet,
    tokens: &'a [Token],
    at: usize,
    depth: u32,
    budget: &'a mut usize,
    known: &'a mut BTreeMap<(u32, u32), f64>,
}

impl Parser<'_> {
    fn sign(&mut self, wanted: &str) -> Option<char> {
        match self.tokens.get(self.at) {
            Some(Token::Sign(c)) if wanted.contains(*c) => {
                self.at += 1;
                Some(*c)
            }
            _ => None,
        }
    }

    fn sum(&mut self, nest: u32) -> Option<f64> {
        let mut value = self.product(nest)?;
        while let Some(sign) = self.sign("+-") {
            let next = self.product(nest)?;
            value = if sign == '+' { value + next } else { value - next };
        }
        Some(value)
    }

    fn product(&mut self, nest: u32) -> Option<f64> {
        let mut value = self.power(nest)?;
        while let Some(sign) = self.sign("*/") {
            let next = self.power(nest)?;
            value = if sign == '*' { value * next } else { value / next };
        }
        Some(value)
    }

    fn power(&mut self, nest: u32) -> Option<f64> {
        if nest > DEPTH {
            return None;
        }
        if let Some(sign) = self.sign("+-") {
            let value = self.power(nest + 1)?;
            return Some(if sign == '-' { -value } else { value });
        }
        let mut value = self.atom(nest)?;
        while self.sign("%").is_some() {
            value /= 100.0;
        }
        Some(value)
    }

    fn atom(&mut self, nest: u32) -> Option<f64> {
        let token = self.tokens.get(self.at)?.clone();
        self.at += 1;
        match token {
            Token::Number(n) => Some(n),
            Token::Area(a) if a.top == a.bottom && a.left == a.right => self.cell(a.top, a.left),
            Token::Area(_) => None,
            Token::Sign('(') => {
                let value = self.sum(nest + 1)?;
                self.sign(")").map(|_| value)
            }
            Token::Sign(_) | Token::Text => None,
            Token::Name(name) => {
                self.sign("(")?;
                if name == "IF" {
                    return self.choice(nest + 1);
                }
                let values = self.arguments(nest + 1)?;
                match name.as_str() {
                    "SUM" => Some(values.iter().sum()),
                    "SUBTOTAL" if matches!(values.first(), Some(n) if *n == 9.0 || *n == 109.0) => Some(values[1..].iter().sum()),
                    "PRODUCT" => Some(values.iter().product()),
                    "ROUND" if values.len() == 2 => {
                        let scale = 10f64.powi(values[1] as i32);
                        Some((values[0] * scale).round() / scale)
                    }
                    _ => None,
                }
            }
        }
    }

    /// `IF(B4>0,B4*C4,"")`: both branches are read, the one that holds is given; a text as the answer is no number.
    fn choice(&mut self, nest: u32) -> Option<f64> {
        let left = self.sum(nest)?;
        let sign = self.compare();
        let holds = match sign {
            None => left != 0.0,
            Some(sign) => {
                let right = self.sum(nest)?;
                match sign {
                    "=" => left == right,
                    "<>" => left != right,
                    "<" => left < right,
                    ">" => left > right,
                    "<=" => left <= right,
                    _ => left >= right,
                }
            }
        };
        self.sign(",")?;
        let yes = self.branch(nest)?;
        let no = if self.sign(",").is_some() { self.branch(nest)? } else { None };
        self.sign(")")?;
        if holds { yes } else { no }
    }

    fn branch(&mut self, nest: u32) -> Option<Option<f64>> {
        if self.tokens.get(self.at) == Some(&Token::Text) {
            self.at += 1;
            return Some(None);
        }
        self.sum(nest).map(Some)
    }

    fn compare(&mut self) -> Option<&'static str> {
        let first = self.sign("<>=")?;
        let second = match first {
            '<' => self.sign(">="),
            '>' => self.sign("="),
            _ => None,
        };
        Some(match (first, second) {
            ('<', Some('>')) => "<>",
            ('<', Some(_)) => "<=",
            ('>', Some(_)) => ">=",
            ('<', None) => "<",
            ('>', None) => ">",
            _ => "=",
        })
    }

    fn arguments(&mut self, nest: u32) -> Option<Vec<f64>> {
        let mut values = Vec::new();
        loop {
            let whole = matches!(self.tokens.get(self.at + 1), Some(Token::Sign(',' | ')')));
            if let (Some(Token::Area(a)), true) = (self.tokens.get(self.at).cloned(), whole) {
                self.at += 1;
                self.gather(a, &mut values)?;
            } else {
                values.push(self.sum(nest)?);
            }
            if self.sign(")").is_some() {
                return Some(values);
            }
            self.sign(",")?;
        }
    }

    fn gather(&mut self, a: Area, values: &mut Vec<f64>) -> Option<()> {
        let rows: Vec<u32> = self.sheet.rows().skip_while(|r| *r < a.top).take_while(|r| *r <= a.bottom).collect();
        for row in rows {
            for cell in self.sheet.all_in_row(row).iter().filter(|c| c.column >= a.left && c.column <= a.right) {
                *self.budget = self.budget.checked_sub(1)?;
                if cell.number.is_some() || cell.formula.is_some() {
                    values.push(self.cell(cell.row, cell.column)?);
                }
            }
        }
        Some(())
    }

    fn cell(&mut self, row: u32, column: u32) -> Option<f64> {
        *self.budget = self.budget.checked_sub(1)?;
        let Some(cell) = self.sheet.get(row, column) else { return Some(0.0) };
        match &cell.formula {
            Some(_) if self.known.contains_key(&(row, column)) => self.known.get(&(row, column)).copied(),
            Some(f) => {
                let value = compute(self.sheet, f, self.depth + 1, self.budget, self.known).or(cell.number);
                if let Some(v) = value {
                    self.known.insert((row, column), v);
                }
                value
            }
            None => cell.number,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::{Cell, CellKind};

    fn sheet() -> Sheet {
        let mut cells = Vec::new();
        for (row, n) in [(0, 2.0), (1, 3.0), (2, 4.0)] {
            let mut c = Cell::text(row, 0, n.to_string());
            (c.kind, c.number) = (CellKind::Number, Some(n));
            cells.push(c);
        }
        let mut f = Cell::text(3, 0, "1");
        (f.kind, f.number, f.formula) = (CellKind::Number, Some(1.0), Some("A1*A2".to_owned()));
        cells.push(f);
        let mut circle = Cell::text(4, 0, "1");
        (circle.kind, circle.formula) = (CellKind::Unknown, Some("A5+1".to_owned()));
        cells.push(circle);
        Sheet::new("s", false, cells, Vec::new())
    }

    #[test]
    fn simple_formulas_are_recomputed() {
        let s = sheet();
        for (formula, value) in [
            ("SUM(A1:A3)", 9.0),
            ("=A1*A2+A3/2", 8.0),
            ("PRODUCT(A1:A2;10)", 60.0),
            ("A4", 6.0),
            ("-(A1-A2)*50%", 0.5),
            ("ROUND(A1/A2,2)", 0.67),
            ("IF(A1>0,A1*A2,\"\")", 6.0),
            ("IF(A1<>2,1/0,7)", 7.0),
        ] {
            assert_eq!(evaluate(&s, formula), Some(value), "{formula}");
        }
        for formula in ["A5", "VLOOKUP(A1,A1:A3,1)", "A1/0", "Other!A1", "IF(A1>5,1,\"\")", "IF(A1,", "\"text\"", "((((", ""] {
            assert_eq!(evaluate(&s, formula), None, "{formula}");
        }
        assert_eq!(evaluate(&s, &"(".repeat(1900)), None);
    }

    #[test]
    fn filled_formulas_move_their_cells() {
        assert_eq!(shift("SUM(A1:$B$2)*C$3+LOG10(D4)", 2, 1), "SUM(B3:$B$2)*D$3+LOG10(E6)");
        assert_eq!(shift("\"A1\"&A1", 1, 0), "\"A1\"&A2");
    }
}
