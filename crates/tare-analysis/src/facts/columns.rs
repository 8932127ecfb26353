//! Kinds of rows, and the columns and relations that every study's facts have.

use serde::{Deserialize, Serialize};
use tare_model::Kind;

/// What the rows of a table are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum RowKind {
    /// Places of items, depth-first.
    Part,
    /// Joints.
    Joint,
    /// Features of items.
    Feature,
    /// Making and assembling work.
    Operation,
    /// Things seen.
    Finding,
    /// Safety and hand-over points.
    Hold,
    /// Strip-down events.
    Removal,
    /// The study itself: one row.
    Study,
}

impl RowKind {
    /// All kinds, in order.
    pub const ALL: [Self; 8] =
        [Self::Part, Self::Joint, Self::Feature, Self::Operation, Self::Finding, Self::Hold, Self::Removal, Self::Study];

    /// The word used in rules: that of the records.
    pub fn word(self) -> &'static str {
        self.record_kind().word()
    }

    /// The words for several.
    pub fn plural(self) -> &'static str {
        match self {
            Self::Part => "parts",
            Self::Joint => "joints",
            Self::Feature => "features",
            Self::Operation => "operations",
            Self::Finding => "findings",
            Self::Hold => "holds",
            Self::Removal => "removals",
            Self::Study => "studies",
        }
    }

    /// One of them, for messages: `a joint`, `an operation`.
    pub(crate) fn one(self) -> String {
        let article = if self == Self::Operation { "an" } else { "a" };
        format!("{article} {}", self.word())
    }

    /// The kind with this word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.word() == word)
    }

    /// The kind of the records behind the rows.
    pub fn record_kind(self) -> Kind {
        match self {
            Self::Part => Kind::Part,
            Self::Joint => Kind::Joint,
            Self::Feature => Kind::Feature,
            Self::Operation => Kind::Operation,
            Self::Finding => Kind::Finding,
            Self::Hold => Kind::Hold,
            Self::Removal => Kind::Removal,
            Self::Study => Kind::Study,
        }
    }

    /// Whether values are stated on its records, so that every quantity of the library is a column.
    pub(crate) fn states(self) -> bool {
        matches!(self, Self::Part | Self::Joint | Self::Feature | Self::Operation)
    }
}

/// What a column is that every study has.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Fixed {
    /// A number, shown in this unit.
    Number(&'static str),
    /// A text.
    Text,
    /// One of the words of a field of the record or its item.
    Word(Kind, tare_model::Field),
    /// The key of a calculation.
    Calculation,
    /// The family of a material.
    Family,
    /// A truth.
    Flag,
}

use Fixed::{Calculation, Family, Flag, Number, Text, Word};
use RowKind as R;
use tare_model::Field as F;

/// Every fixed column.
pub(crate) const COLUMNS: &[(RowKind, &str, Fixed)] = &[
    (R::Part, "address", Text),
    (R::Part, "name", Text),
    (R::Part, "level", Number("1")),
    (R::Part, "count", Number("1")),
    (R::Part, "pieces", Number("1")),
    (R::Part, "needed", Number("1")),
    (R::Part, "function", Text),
    (R::Part, "own_function", Text),
    (R::Part, "form", Word(Kind::Item, F::Form)),
    (R::Part, "make", Word(Kind::Item, F::Make)),
    (R::Part, "material", Text),
    (R::Part, "family", Family),
    (R::Part, "mass", Number("kg")),
    (R::Part, "cost", Number("money")),
    (R::Part, "contribution", Number("money")),
    (R::Part, "own", Number("money")),
    (R::Part, "volume", Number("1/a")),
    (R::Part, "first", Flag),
    (R::Part, "inside_costed", Flag),
    (R::Part, "dominant", Flag),
    (R::Part, "leaf", Flag),
    (R::Joint, "address", Text),
    (R::Joint, "name", Text),
    (R::Joint, "method", Calculation),
    (R::Joint, "function", Text),
    (R::Joint, "count", Number("1")),
    (R::Joint, "assemblies", Number("1")),
    (R::Joint, "manual", Number("s")),
    (R::Joint, "removals", Number("1")),
    (R::Feature, "address", Text),
    (R::Feature, "name", Text),
    (R::Feature, "calculation", Calculation),
    (R::Operation, "address", Text),
    (R::Operation, "name", Text),
    (R::Operation, "calculation", Calculation),
    (R::Finding, "address", Text),
    (R::Finding, "name", Text),
    (R::Finding, "group", Word(Kind::Finding, F::Group)),
    (R::Finding, "severity", Word(Kind::Finding, F::Severity)),
    (R::Finding, "says", Text),
    (R::Hold, "address", Text),
    (R::Hold, "name", Text),
    (R::Hold, "state", Word(Kind::Hold, F::State)),
    (R::Removal, "address", Text),
    (R::Removal, "name", Text),
    (R::Removal, "destructive", Flag),
    (R::Study, "address", Text),
    (R::Study, "name", Text),
    (R::Study, "client", Text),
    (R::Study, "cost", Number("money")),
    (R::Study, "without_dominant", Number("money")),
    (R::Study, "mass", Number("kg")),
    (R::Study, "manual", Number("s")),
    (R::Study, "ideal_share", Number("1")),
    (R::Study, "investment", Number("money")),
    (R::Study, "volume", Number("1/a")),
];

/// Every relation: from, name, to, and whether it may lead to several rows.
pub(crate) const RELATIONS: &[(RowKind, &str, RowKind, bool)] = &[
    (R::Part, "parent", R::Part, false),
    (R::Part, "children", R::Part, true),
    (R::Part, "joints", R::Joint, true),
    (R::Part, "fastens", R::Joint, true),
    (R::Part, "features", R::Feature, true),
    (R::Part, "operations", R::Operation, true),
    (R::Part, "findings", R::Finding, true),
    (R::Part, "twin", R::Part, true),
    (R::Joint, "parts", R::Part, true),
    (R::Joint, "fastener", R::Part, false),
    (R::Joint, "assembly", R::Part, false),
    (R::Joint, "features", R::Feature, true),
    (R::Joint, "findings", R::Finding, true),
    (R::Feature, "part", R::Part, false),
    (R::Feature, "joint", R::Joint, false),
    (R::Operation, "part", R::Part, false),
    (R::Finding, "parts", R::Part, true),
    (R::Finding, "joints", R::Joint, true),
    (R::Hold, "removals", R::Removal, true),
    (R::Hold, "parts", R::Part, true),
    (R::Hold, "joints", R::Joint, true),
    (R::Removal, "parts", R::Part, true),
    (R::Removal, "joints", R::Joint, true),
    (R::Study, "parts", R::Part, true),
    (R::Study, "joints", R::Joint, true),
    (R::Study, "findings", R::Finding, true),
];
