//! Pieces of a spreadsheet formula: text, and references whose cells are known once everything has its place.

use std::fmt::Write;

/// What a range of a look-up table holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Part {
    /// Each row's turn in the search.
    Turn,
    /// Each row's next row, counted from 0.
    Next,
    /// What a need is held against, by key.
    Bound(usize),
    /// The keys themselves.
    Key(usize),
    /// A column.
    Column(usize),
}

/// A look-up table: the key of its calculation, and its position there.
pub(crate) type TableKey = (String, usize);

/// A piece of a formula.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Piece {
    /// Text as it stands.
    Text(String),
    /// A column's cell in the row of this use.
    Cell(usize),
    /// A list's cell in the same row of entries.
    Entry(usize),
    /// The cell below that, of the last entry the same.
    NextEntry(usize),
    /// All of a list's cells.
    Range(usize),
    /// What a parameter of the calculation is bound to in every use.
    Param(u32),
    /// A range of a look-up table.
    Table(TableKey, Part),
}

/// How tightly operators of spreadsheets bind. A minus sign binds tighter than a power there.
pub(crate) const COMPARE: u8 = 1;
pub(crate) const SUM: u8 = 3;
pub(crate) const PRODUCT: u8 = 4;
pub(crate) const POWER: u8 = 5;
pub(crate) const SIGN: u8 = 6;
pub(crate) const ATOM: u8 = 9;

/// A formula or a part of one.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Bit {
    pub(crate) pieces: Vec<Piece>,
    pub(crate) level: u8,
    /// Whether it stands for a whole list.
    pub(crate) many: bool,
}

impl Bit {
    pub(crate) fn text(text: impl Into<String>) -> Self {
        Self { pieces: vec![Piece::Text(text.into())], level: ATOM, many: false }
    }

    pub(crate) fn piece(piece: Piece) -> Self {
        let many = matches!(piece, Piece::Range(_));
        Self { pieces: vec![piece], level: ATOM, many }
    }

    /// A number with every digit; one below zero stands in brackets where it must.
    pub(crate) fn number(value: f64) -> Self {
        let level = if value < 0.0 { SIGN } else { ATOM };
        Self { level, ..Self::text(number(value)) }
    }

    /// Words in quotation marks.
    pub(crate) fn words(words: &str) -> Self {
        Self::text(format!("\"{}\"", words.replace('"', "\"\"")))
    }

    /// The name of a function, its arguments in brackets.
    pub(crate) fn call(name: &str, arguments: &[&Self]) -> Self {
        let mut bit = Self::text(format!("{name}("));
        for (at, argument) in arguments.iter().enumerate() {
            if at > 0 {
                bit.push_text(",");
            }
            bit.append(argument);
        }
        bit.push_text(")");
        bit
    }

    /// An operation on two operands, with brackets where they bind less tightly.
    pub(crate) fn between(sign: &str, level: u8, left: &Self, right: &Self) -> Self {
        let mut bit = left.within(left.level < level || (level == POWER && left.level <= POWER));
        bit.push_text(sign);
        // from the left: a - (b - c), a / (b * c) and a^(b^c) keep their brackets
        bit.append(&right.within(right.level <= level || right.level == SIGN));
        Self { level, many: left.many || right.many, ..bit }
    }

    pub(crate) fn negative(&self) -> Self {
        let mut bit = Self::text("-");
        bit.append(&self.within(self.level < ATOM));
        Self { level: SIGN, many: self.many, ..bit }
    }

    fn within(&self, brackets: bool) -> Self {
        if !brackets {
            return self.clone();
        }
        let mut bit = Self::text("(");
        bit.append(self);
        bit.push_text(")");
        Self { many: self.many, ..bit }
    }

    pub(crate) fn push_text(&mut self, text: &str) {
        match self.pieces.last_mut() {
            Some(Piece::Text(last)) => last.push_str(text),
            _ => self.pieces.push(Piece::Text(text.to_owned())),
        }
    }

    pub(crate) fn append(&mut self, other: &Self) {
        self.many |= other.many;
        for piece in &other.pieces {
            match piece {
                Piece::Text(text) => self.push_text(text),
                piece => self.pieces.push(piece.clone()),
            }
        }
    }
}

/// A number as a spreadsheet reads it.
pub(crate) fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let mut text = String::new();
    let size = value.abs();
    let _ = if (1e-5..1e15).contains(&size) { write!(text, "{value}") } else { write!(text, "{value:E}") };
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(bit: &Bit) -> String {
        bit.pieces.iter().map(|p| if let Piece::Text(t) = p { t.as_str() } else { "?" }).collect()
    }

    #[test]
    fn brackets_stand_where_spreadsheets_bind_otherwise() {
        let [a, b, c] = ["a", "b", "c"].map(Bit::text);
        let power = Bit::between("^", POWER, &a, &b);
        assert_eq!(shown(&power.negative()), "-(a^b)", "a minus sign binds tighter than a power there");
        assert_eq!(shown(&Bit::between("^", POWER, &power, &c)), "(a^b)^c");
        assert_eq!(shown(&Bit::between("^", POWER, &a, &Bit::between("^", POWER, &b, &c))), "a^(b^c)");
        assert_eq!(shown(&Bit::between("^", POWER, &a.negative(), &b)), "-a^b", "which is the power of minus a there");
        let difference = Bit::between("-", SUM, &a, &b);
        assert_eq!(shown(&Bit::between("-", SUM, &difference, &c)), "a-b-c");
        assert_eq!(shown(&Bit::between("-", SUM, &c, &difference)), "c-(a-b)");
        assert_eq!(shown(&Bit::between("/", PRODUCT, &c, &Bit::between("*", PRODUCT, &a, &b))), "c/(a*b)");
        assert_eq!(shown(&Bit::between("*", PRODUCT, &c, &Bit::number(-2.0))), "c*(-2)");
    }

    #[test]
    fn numbers_read_back() {
        for value in [0.0, 1.0, -2.5, 1e-7, 6.02e23, 0.1 + 0.2, 1e15, 123_456.789] {
            assert_eq!(number(value).parse::<f64>().unwrap(), value);
        }
    }
}
