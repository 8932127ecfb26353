//! Byte ranges of the text that a tree came from.

use std::ops::Range;

/// A byte range in a text, end exclusive.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// Makes a span from byte offsets; offsets beyond 4 GiB are cut.
    pub fn new(start: usize, end: usize) -> Self {
        let cut = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Self { start: cut(start), end: cut(end.max(start)) }
    }

    /// The smallest span that holds both.
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }

    /// The span as a range of bytes.
    pub fn range(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

impl From<Range<usize>> for Span {
    fn from(range: Range<usize>) -> Self {
        Self::new(range.start, range.end)
    }
}

/// A value together with where it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Located<T> {
    /// The value.
    pub value: T,
    /// Where it stands in the file.
    pub span: Span,
}

impl<T> Located<T> {
    /// Puts a value and its place together.
    pub fn new(value: T, span: Span) -> Self {
        Self { value, span }
    }
}
