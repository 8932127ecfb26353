//! Searching the rows of a table.

/// Share of the need within which a cell still counts as equal to it, as whole numbers snap in `floor` and `ceil`.
const NEAR: f64 = 1e-9;

/// Says how a need is held against a row's cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Match {
    /// The row serves needs up to its cell (within 1e-9 of the need).
    UpTo,
    /// The row serves needs from its cell on (within 1e-9 of the need).
    From,
    /// The row serves needs that equal its cell.
    Equal,
}

impl Match {
    /// All ways, for tests and tables.
    pub const ALL: [Match; 3] = [Match::UpTo, Match::From, Match::Equal];

    /// Tells whether a cell suits a need; neither may be NaN.
    #[inline]
    pub fn suits(self, need: f64, cell: f64) -> bool {
        // an infinite need has no nearness: it suits infinite cells only
        let slack = if need.is_finite() { need.abs() * NEAR } else { 0.0 };
        match self {
            Match::UpTo => cell >= need - slack,
            Match::From => cell <= need + slack,
            Match::Equal => cell == need,
        }
    }
}

/// Gives the position of the first row all of whose cells suit the needs; -1 where there is none.
///
/// `cells` come row by row, one per key. NaN where a need is NaN, or where a NaN cell is met before a row that suits.
#[inline]
pub fn find(keys: &[Match], need: impl Fn(usize) -> f64, mut cells: impl Iterator<Item = f64>) -> f64 {
    if (0..keys.len()).any(|key| need(key).is_nan()) {
        return f64::NAN;
    }
    let mut row = 0.0;
    loop {
        let mut all = true;
        for (key, rule) in keys.iter().enumerate() {
            let Some(cell) = cells.next() else { return -1.0 };
            if cell.is_nan() {
                return f64::NAN;
            }
            all &= rule.suits(need(key), cell);
        }
        if all {
            return row;
        }
        row += 1.0;
    }
}
