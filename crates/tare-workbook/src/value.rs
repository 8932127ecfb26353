//! What a formula or a part of one stands for while it is translated.

use crate::bit::{ATOM, Bit, COMPARE, PRODUCT, Piece};
use crate::translate::Refused;

/// What a formula or a part of one stands for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Value {
    Number(Bit),
    Condition(Bit),
    /// A condition that is decided by which inputs are given.
    Known(bool),
    /// A text, and what it says where that is known.
    Choice(Bit, Option<String>),
    /// A row of a look-up table: its place; with the lower row apart where it may lie between two.
    Row {
        table: (String, usize),
        lower: Bit,
        place: Option<Bit>,
    },
    /// An optional input that has no value.
    Absent,
    /// A list without entries.
    Empty,
}

impl Value {
    /// What a cell of it holds.
    pub(crate) fn cell(&self) -> Option<Bit> {
        match self {
            Self::Number(bit) | Self::Condition(bit) | Self::Choice(bit, _) => Some(bit.clone()),
            Self::Known(holds) => Some(truth(*holds)),
            Self::Row { lower, place: None, .. } => Some(lower.clone()),
            _ => None,
        }
    }

    /// A single reference or constant, which needs no cell of its own.
    pub(crate) fn single(&self) -> Option<Bit> {
        let bit = self.cell()?;
        (bit.pieces.len() == 1 && bit.level == ATOM && !bit.many && !matches!(self, Self::Row { .. }))
            .then_some(bit)
            .filter(|b| !matches!(&b.pieces[0], Piece::Text(text) if text.contains('(')))
    }
}

pub(crate) fn truth(holds: bool) -> Bit {
    Bit::text(if holds { "TRUE" } else { "FALSE" })
}

/// A value as a number; a condition counts 1 or 0.
pub(crate) fn number(value: &Value) -> Result<Bit, Refused> {
    match value {
        Value::Number(bit) => Ok(bit.clone()),
        Value::Known(holds) => Ok(Bit::number(f64::from(u8::from(*holds)))),
        Value::Condition(bit) if bit.many => Ok(Bit::between("*", PRODUCT, bit, &Bit::number(1.0))),
        Value::Condition(bit) => Ok(Bit::call("IF", &[bit, &Bit::number(1.0), &Bit::number(0.0)])),
        Value::Absent => Err("an input without a value".to_owned()),
        _ => Err("no number".to_owned()),
    }
}

pub(crate) fn condition(value: &Value) -> Result<Bit, Refused> {
    match value {
        Value::Condition(bit) => Ok(bit.clone()),
        Value::Known(holds) => Ok(truth(*holds)),
        Value::Number(bit) => Ok(Bit::between("<>", COMPARE, bit, &Bit::number(0.0))),
        _ => Err("no condition".to_owned()),
    }
}
