//! Leaves that move together: a Gaussian copula over a checked matrix.

use std::fmt;

/// Most leaves that one matrix may hold: what a document may state is less, but several are joined.
const MOST: usize = 256;

/// Correlations of the normal scores of some leaves.
#[derive(Clone, Debug)]
pub struct Correlation {
    leaves: Vec<u32>,
    /// Per leaf: which leaves' own scores it is made of, by place, with which weights (the Cholesky factor).
    rows: Vec<Vec<(usize, f64)>>,
    matrix: Vec<Vec<f64>>,
    /// Further leaves that are the same variable as one of them: leaf, and the one whose place it has; by leaf.
    same: Vec<(u32, u32)>,
}

/// Why a matrix of correlations cannot be used.
#[derive(Clone, Debug, PartialEq)]
pub enum CorrelationError {
    /// More leaves than may be.
    TooMany {
        /// How many there are.
        found: usize,
        /// How many there may be.
        most: usize,
    },
    /// The matrix does not have a row and a column per leaf.
    Size,
    /// The diagonal is not 1, an entry lies outside -1 to 1, or it is not symmetric; row and column from 0.
    Entry(usize, usize),
    /// Leaves up to this one cannot move together as stated (the matrix is not positive definite).
    Contradiction(usize),
}

impl fmt::Display for CorrelationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooMany { found, most } => write!(f, "{found} leaves are correlated, at most {most} can be"),
            Self::Size => write!(f, "a matrix of correlations has one row and one column for each leaf"),
            Self::Entry(row, column) => {
                write!(
                    f,
                    "row {}, column {}: a correlation lies between -1 and 1, is 1 with itself and the same both ways",
                    row + 1,
                    column + 1
                )
            }
            Self::Contradiction(at) => write!(f, "the correlations up to leaf {} contradict one another", at + 1),
        }
    }
}

impl std::error::Error for CorrelationError {}

impl Correlation {
    /// Correlations of leaves by a symmetric matrix with ones on its diagonal.
    ///
    /// # Errors
    /// What is wrong with the matrix, first place first.
    pub fn new(leaves: &[u32], matrix: &[Vec<f64>]) -> Result<Self, CorrelationError> {
        let n = leaves.len();
        if n > MOST {
            return Err(CorrelationError::TooMany { found: n, most: MOST });
        }
        if matrix.len() != n || matrix.iter().any(|row| row.len() != n) {
            return Err(CorrelationError::Size);
        }
        for (i, row) in matrix.iter().enumerate() {
            for (j, entry) in row.iter().enumerate() {
                let fits = if i == j { *entry == 1.0 } else { entry.abs() <= 1.0 && *entry == matrix[j][i] };
                if !fits {
                    return Err(CorrelationError::Entry(i, j));
                }
            }
        }
        let mut factor = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let done: f64 = (0..j).map(|k| factor[i][k] * factor[j][k]).sum();
                let rest = matrix[i][j] - done;
                if i == j {
                    // a leaf may follow the others exactly; less than nothing may not be left of it
                    if rest < -1e-12 {
                        return Err(CorrelationError::Contradiction(i));
                    }
                    factor[i][j] = rest.max(0.0).sqrt();
                } else if factor[j][j] > 1e-9 {
                    factor[i][j] = rest / factor[j][j];
                } else if rest.abs() > 1e-9 {
                    return Err(CorrelationError::Contradiction(i));
                }
            }
        }
        let rows = factor.iter().map(|row| row.iter().copied().enumerate().filter(|(_, w)| *w != 0.0).collect());
        Ok(Correlation { leaves: leaves.to_vec(), rows: rows.collect(), matrix: matrix.to_vec(), same: Vec::new() })
    }

    /// Correlations by pairs of leaves; those not named are 0. `None` where there is no pair.
    ///
    /// # Errors
    /// As [`Correlation::new`]; a leaf paired with itself is an entry off its diagonal.
    pub fn of_pairs(pairs: &[(u32, u32, f64)]) -> Result<Option<Self>, CorrelationError> {
        let mut leaves: Vec<u32> = pairs.iter().flat_map(|(a, b, _)| [*a, *b]).collect();
        leaves.sort_unstable();
        leaves.dedup();
        if leaves.is_empty() {
            return Ok(None);
        }
        let mut matrix = vec![vec![0.0; leaves.len()]; leaves.len()];
        for (number, row) in matrix.iter_mut().enumerate() {
            row[number] = 1.0;
        }
        let place = |leaf: u32| leaves.partition_point(|known| *known < leaf);
        for (a, b, correlation) in pairs {
            matrix[place(*a)][place(*b)] = *correlation;
            matrix[place(*b)][place(*a)] = *correlation;
        }
        Self::new(&leaves, &matrix).map(Some)
    }

    /// Gives further leaves the place of one that is the same variable, though stated with another value or spread.
    pub fn stands_for(&mut self, mut same: Vec<(u32, u32)>) {
        same.sort_unstable();
        self.same = same;
    }

    /// The leaf whose place in the matrix a leaf has.
    fn stands(&self, leaf: u32) -> u32 {
        self.same.binary_search_by_key(&leaf, |(other, _)| *other).map_or(leaf, |at| self.same[at].1)
    }

    /// The leaves, in the order of the matrix.
    pub fn leaves(&self) -> &[u32] {
        &self.leaves
    }

    /// The correlation of two leaves: 1 with itself, 0 where nothing is stated.
    pub fn of(&self, a: u32, b: u32) -> f64 {
        let place = |leaf: u32| self.leaves.iter().position(|known| *known == self.stands(leaf));
        match (place(a), place(b)) {
            _ if a == b => 1.0,
            (Some(a), Some(b)) => self.matrix[a][b],
            _ => 0.0,
        }
    }

    /// The place of a leaf in the matrix; `None` where it moves alone.
    #[inline]
    pub(crate) fn place(&self, leaf: u32) -> Option<usize> {
        let leaf = self.stands(leaf);
        self.leaves.iter().position(|known| *known == leaf)
    }

    /// What the score of the leaf at a place is made of.
    #[inline]
    pub(crate) fn row(&self, place: usize) -> &[(usize, f64)] {
        &self.rows[place]
    }
}
