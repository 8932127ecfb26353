//! The functions a formula may call.

/// A function of the formula language.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Function {
    /// `if(condition, then, else)`.
    If,
    /// Whether an optional input has a value: `given(x)`.
    Given,
    /// A row of a table: `pick(table, key, ...)`.
    Pick,
    /// Smallest of the arguments or of one list.
    Min,
    /// Largest of the arguments or of one list.
    Max,
    /// Sum of a list (0 when empty).
    Sum,
    /// Arithmetic mean of a list.
    Mean,
    /// Number of entries; of a list of conditions, how many hold.
    Count,
    /// Whether all conditions hold.
    All,
    /// Whether any condition holds.
    Any,
    /// Largest minus smallest.
    Range,
    /// Entry of a list, counted from 1.
    At,
    /// The list without its first entry, the last one repeated.
    Next,
    /// Absolute value.
    Abs,
    /// Square root.
    Sqrt,
    /// Exponential.
    Exp,
    /// Natural logarithm.
    Ln,
    /// Logarithm to base 10.
    Log10,
    /// Next whole number below.
    Floor,
    /// Next whole number above.
    Ceil,
    /// Nearest whole number, half away from zero.
    Round,
    /// Sine of an angle in radians.
    Sin,
    /// Cosine of an angle in radians.
    Cos,
    /// Tangent of an angle in radians.
    Tan,
    /// Inverse sine, in radians.
    Asin,
    /// Inverse cosine, in radians.
    Acos,
    /// Inverse tangent, in radians.
    Atan,
    /// Quantile of the standard normal distribution.
    NormalInv,
    /// Quantile of the beta distribution: `beta_inv(p, a, b)`.
    BetaInv,
    /// Kelvin from a temperature point.
    Absolute,
    /// Whether a text contains a piece: `has(name, 'cover')`. For questions about studies; no calculation may call it.
    Has,
}

impl Function {
    /// Every function that a calculation may call, in the order of the reference page.
    pub const ALL: [Self; 30] = [
        Self::If,
        Self::Given,
        Self::Pick,
        Self::Min,
        Self::Max,
        Self::Sum,
        Self::Mean,
        Self::Count,
        Self::All,
        Self::Any,
        Self::Range,
        Self::At,
        Self::Next,
        Self::Abs,
        Self::Sqrt,
        Self::Exp,
        Self::Ln,
        Self::Log10,
        Self::Floor,
        Self::Ceil,
        Self::Round,
        Self::Sin,
        Self::Cos,
        Self::Tan,
        Self::Asin,
        Self::Acos,
        Self::Atan,
        Self::NormalInv,
        Self::BetaInv,
        Self::Absolute,
    ];

    /// The name written in formulas.
    pub fn name(self) -> &'static str {
        match self {
            Self::If => "if",
            Self::Given => "given",
            Self::Pick => "pick",
            Self::Min => "min",
            Self::Max => "max",
            Self::Sum => "sum",
            Self::Mean => "mean",
            Self::Count => "count",
            Self::All => "all",
            Self::Any => "any",
            Self::Range => "range",
            Self::At => "at",
            Self::Next => "next",
            Self::Abs => "abs",
            Self::Sqrt => "sqrt",
            Self::Exp => "exp",
            Self::Ln => "ln",
            Self::Log10 => "log10",
            Self::Floor => "floor",
            Self::Ceil => "ceil",
            Self::Round => "round",
            Self::Sin => "sin",
            Self::Cos => "cos",
            Self::Tan => "tan",
            Self::Asin => "asin",
            Self::Acos => "acos",
            Self::Atan => "atan",
            Self::NormalInv => "normal_inv",
            Self::BetaInv => "beta_inv",
            Self::Absolute => "absolute",
            Self::Has => "has",
        }
    }

    /// The function of a name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().chain([Self::Has]).find(|f| f.name() == name)
    }

    /// Fewest and most arguments.
    pub fn arity(self) -> (usize, usize) {
        match self {
            Self::If | Self::BetaInv => (3, 3),
            Self::Pick => (2, 9),
            Self::Min | Self::Max | Self::Sum | Self::Mean | Self::Count | Self::All | Self::Any | Self::Range => (1, 1000),
            Self::At | Self::Has => (2, 2),
            _ => (1, 1),
        }
    }

    /// How a call is written, for hints.
    pub fn usage(self) -> String {
        let arguments = match self {
            Self::If => "condition, then, else",
            Self::Given => "input",
            Self::Pick => "table, key",
            Self::BetaInv => "p, a, b",
            Self::NormalInv => "p",
            Self::At => "list, k",
            Self::Min | Self::Max => "a, b, ...",
            Self::Sum | Self::Mean | Self::Count | Self::Range | Self::Next => "list",
            Self::All | Self::Any => "conditions",
            Self::Absolute => "temperature",
            Self::Has => "text, 'piece'",
            _ => "x",
        };
        format!("{}({arguments})", self.name())
    }
}
