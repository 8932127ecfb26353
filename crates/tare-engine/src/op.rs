//! The operators: names and number of operands.

/// Names one bare operation on numbers.
#[repr(u8)]
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Op {
    /// A value given from outside; no operands.
    Leaf,
    /// A constant; no operands.
    Const,
    /// -a
    Neg,
    /// |a|
    Abs,
    /// Square root; NaN below zero.
    Sqrt,
    /// e to the power a.
    Exp,
    /// Natural logarithm; NaN below zero.
    Ln,
    /// Logarithm to base ten; NaN below zero.
    Log10,
    /// Largest whole number not above a, after snapping.
    Floor,
    /// Smallest whole number not below a, after snapping.
    Ceil,
    /// Nearest whole number, half away from zero.
    Round,
    /// Sine of an angle in radians.
    Sin,
    /// Cosine of an angle in radians.
    Cos,
    /// Tangent of an angle in radians.
    Tan,
    /// Arc sine in radians; NaN outside -1 to 1.
    Asin,
    /// Arc cosine in radians; NaN outside -1 to 1.
    Acos,
    /// Arc tangent in radians.
    Atan,
    /// 1 where a is zero, else 0.
    Not,
    /// Quantile of the standard normal distribution.
    NormalInv,
    /// a + b
    Add,
    /// a - b
    Sub,
    /// a * b
    Mul,
    /// a / b
    Div,
    /// a to the power b.
    Pow,
    /// The smaller of a and b; a where they are equal.
    Min,
    /// The larger of a and b; a where they are equal.
    Max,
    /// a < b
    Lt,
    /// a <= b
    Le,
    /// a > b
    Gt,
    /// a >= b
    Ge,
    /// a == b
    Eq,
    /// a != b
    Ne,
    /// 1 where both are true (not zero).
    And,
    /// 1 where at least one is true (not zero).
    Or,
    /// b where a is true (not zero), else c.
    If,
    /// Quantile of the beta distribution: probability a, shapes b and c.
    BetaInv,
    /// One of a list of operands by an index that counts from 0.
    Pick,
    /// The position of the first row whose cells suit the needs, from 0; -1 where none does.
    Find,
}

impl Op {
    /// All operators in the order of their numbers.
    pub const ALL: [Op; 38] = [
        Op::Leaf,
        Op::Const,
        Op::Neg,
        Op::Abs,
        Op::Sqrt,
        Op::Exp,
        Op::Ln,
        Op::Log10,
        Op::Floor,
        Op::Ceil,
        Op::Round,
        Op::Sin,
        Op::Cos,
        Op::Tan,
        Op::Asin,
        Op::Acos,
        Op::Atan,
        Op::Not,
        Op::NormalInv,
        Op::Add,
        Op::Sub,
        Op::Mul,
        Op::Div,
        Op::Pow,
        Op::Min,
        Op::Max,
        Op::Lt,
        Op::Le,
        Op::Gt,
        Op::Ge,
        Op::Eq,
        Op::Ne,
        Op::And,
        Op::Or,
        Op::If,
        Op::BetaInv,
        Op::Pick,
        Op::Find,
    ];

    /// Counts the operands; `None` for [`Op::Pick`], which takes an index and a list of any length, and for [`Op::Find`], which takes
    /// needs and rows of cells.
    ///
    /// A leaf and a constant have none.
    pub const fn arity(self) -> Option<usize> {
        match self {
            Op::Leaf | Op::Const => Some(0),
            Op::If | Op::BetaInv => Some(3),
            Op::Pick | Op::Find => None,
            _ if (self as u8) < Op::Add as u8 => Some(1),
            _ => Some(2),
        }
    }

    /// Names the operator in lower case, for messages of the program's makers (not for formulas).
    pub const fn name(self) -> &'static str {
        match self {
            Op::Leaf => "leaf",
            Op::Const => "const",
            Op::Neg => "neg",
            Op::Abs => "abs",
            Op::Sqrt => "sqrt",
            Op::Exp => "exp",
            Op::Ln => "ln",
            Op::Log10 => "log10",
            Op::Floor => "floor",
            Op::Ceil => "ceil",
            Op::Round => "round",
            Op::Sin => "sin",
            Op::Cos => "cos",
            Op::Tan => "tan",
            Op::Asin => "asin",
            Op::Acos => "acos",
            Op::Atan => "atan",
            Op::Not => "not",
            Op::NormalInv => "normal_inv",
            Op::Add => "add",
            Op::Sub => "sub",
            Op::Mul => "mul",
            Op::Div => "div",
            Op::Pow => "pow",
            Op::Min => "min",
            Op::Max => "max",
            Op::Lt => "lt",
            Op::Le => "le",
            Op::Gt => "gt",
            Op::Ge => "ge",
            Op::Eq => "eq",
            Op::Ne => "ne",
            Op::And => "and",
            Op::Or => "or",
            Op::If => "if",
            Op::BetaInv => "beta_inv",
            Op::Pick => "pick",
            Op::Find => "find",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_operator_is_listed_once_in_order() {
        for (number, op) in Op::ALL.iter().enumerate() {
            assert_eq!(*op as usize, number, "{}", op.name());
        }
        assert_eq!(Op::ALL.len(), Op::Find as usize + 1, "Find is the last operator");
    }

    #[test]
    fn names_differ() {
        let names: std::collections::BTreeSet<_> = Op::ALL.iter().map(|op| op.name()).collect();
        assert_eq!(names.len(), Op::ALL.len());
    }

    #[test]
    fn arity_changes_at_the_group_borders() {
        let of = |op: Op| op.arity();
        assert_eq!([of(Op::Leaf), of(Op::Const), of(Op::Neg), of(Op::NormalInv)], [Some(0), Some(0), Some(1), Some(1)]);
        assert_eq!(
            [of(Op::Add), of(Op::Or), of(Op::If), of(Op::BetaInv), of(Op::Pick)],
            [Some(2), Some(2), Some(3), Some(3), None]
        );
    }
}
