//! What each kind of record may hold.

use serde::{Deserialize, Serialize};

/// What a field of a kind must be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FieldType {
    /// Free text.
    Text,
    /// One of a set of words.
    Word(&'static [&'static str]),
    /// A number that is not negative.
    Count,
    /// Yes or no.
    Flag,
    /// A record of a kind (or of several).
    Ref(&'static [Kind]),
    /// Several records of a kind (or of several).
    Refs(&'static [Kind]),
}

/// The fields of a kind, and the kinds it may stand under.
#[derive(Clone, Copy, Debug)]
pub struct Schema {
    /// The kind described.
    pub kind: Kind,
    /// Short description, third person.
    pub says: &'static str,
    /// Kinds it may stand under; empty means the top of the document.
    pub parents: &'static [Kind],
    /// Its fields, with type and whether they are required.
    pub fields: &'static [(Field, FieldType, bool)],
}

macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $($variant:ident = $word:literal),* $(,)? }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name { $(#[doc = concat!("`", $word, "`")] #[serde(rename = $word)] $variant),* }
        impl $name {
            /// All of them, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];
            /// The word used in files and messages.
            pub fn word(self) -> &'static str { match self { $(Self::$variant => $word),* } }
            /// The one with this word.
            pub fn from_word(word: &str) -> Option<Self> { match word { $($word => Some(Self::$variant),)* _ => None } }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.write_str(self.word()) }
        }
    };
}

words! {
    /// What a record is. New kinds are added at the end: snapshots hold the position.
    Kind {
        Study = "study", Scenario = "scenario", Organisation = "organisation", Item = "item", Part = "part",
        Feature = "feature", Joint = "joint", Operation = "operation", Line = "line", Station = "station", Tool = "tool",
        Removal = "removal", Hold = "hold", Specimen = "specimen", Sample = "sample", Value = "value", Choose = "choose",
        Finding = "finding", Photo = "photo", Quote = "quote", Boundary = "boundary", Yardstick = "yardstick",
        Review = "review", Instrument = "instrument", Book = "book", Rate = "rate", Lock = "lock", Correlation = "correlation",
        Idea = "idea",
    }
}

words! {
    /// A field of a record. New fields are added at the end: snapshots hold the position.
    Field {
        Name = "name", Label = "label", Says = "says", Item = "item", Count = "count", Needed = "needed", Make = "make",
        Material = "material", Constituents = "constituents", Costed = "costed", Organisation = "organisation",
        Function = "function", Form = "form", Calculation = "calculation", Joint = "joint", Parts = "parts", Joints = "joints",
        Fastener = "fastener", Operation = "operation", Operations = "operations", Line = "line", Station = "station",
        After = "after", Quantity = "quantity", Text = "text", Evidence = "evidence", Source = "source",
        Instrument = "instrument", Set = "set", Number = "number", MassState = "mass_state", When = "when", Who = "who",
        File = "file", Cell = "cell", Raw = "raw", Value = "value", Method = "method", Severity = "severity", Photos = "photos",
        Tool = "tool", Destructive = "destructive", Due = "due", Removals = "removals", State = "state", Owner = "owner",
        Serial = "serial", Condition = "condition", Place = "place", Date = "date", Contains = "contains", Key = "key",
        Currency = "currency", Product = "product", Book = "book", BuildUp = "build_up", Scenario = "scenario", Tier = "tier",
        Group = "group", Digest = "digest", Callouts = "callouts", Twin = "twin", Illustrative = "illustrative", Period = "period",
        Dominant = "dominant", Year = "year", Specimen = "specimen", Order = "order", Items = "items", Supplier = "supplier", Qualifier = "qualifier",
        Subject = "subject", Leaves = "leaves", Edits = "edits", Base = "base", Risk = "risk", Needs = "needs", Against = "against",
        Rule = "rule", Client = "client", VariantOf = "variant_of", Reason = "reason", Extra = "extra", Licence = "licence",
    }
}

use Field as F;
use FieldType::{Count, Flag, Ref, Refs, Text, Word};
use Kind as K;

/// Evidence classes of a value, strongest first.
const EVIDENCE: &[&str] = &["measured", "derived", "handbook", "quoted", "assumed"];
/// States in which a mass is taken.
const MASS_STATES: &[&str] = &["as removed", "cleaned", "with residue", "wet", "dry", "after cutting"];

/// Terms under which a price was given: `restricted` may not be passed on.
const LICENCES: &[&str] = &["restricted"];

const SUBJECTS: &[Kind] = &[
    K::Study,
    K::Scenario,
    K::Organisation,
    K::Item,
    K::Part,
    K::Feature,
    K::Joint,
    K::Operation,
    K::Line,
    K::Station,
    K::Tool,
    K::Removal,
    K::Specimen,
    K::Sample,
    K::Finding,
    K::Quote,
    K::Yardstick,
    K::Instrument,
    K::Idea,
];

/// Every kind with its fields.
pub(crate) const SCHEMAS: &[Schema] = &[
    Schema {
        kind: K::Study,
        says: "The strip-down of a specimen of one product.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Product, Text, false),
            (F::Says, Text, false),
            (F::Currency, Text, false),
            (F::Book, Text, false),
            (F::BuildUp, Text, false),
            (F::Year, Text, false),
            (F::Illustrative, Flag, false),
            (F::Client, Text, false),
            (F::VariantOf, Text, false),
            (F::Base, Count, false),
        ],
    },
    Schema {
        kind: K::Scenario,
        says: "Where, how many, how long, which money.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Place, Text, false),
            (F::Currency, Text, false),
            (F::Year, Text, false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Organisation,
        says: "Who does operations: tier, place, mark-ups, rate book.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Tier, Text, false),
            (F::Place, Text, false),
            (F::Book, Text, false),
            (F::BuildUp, Text, false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Item,
        says: "What is made or bought.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Label, Text, false),
            (F::Says, Text, false),
            (F::Make, Word(&["make", "buy", "consigned"]), false),
            (F::Material, Text, false),
            (F::Constituents, Text, false),
            (F::Costed, Word(&["here", "children"]), false),
            (F::Organisation, Ref(&[K::Organisation]), false),
            (F::Function, Text, false),
            (F::Form, Word(&["single", "assembly", "fastener", "bulk"]), false),
            (F::Calculation, Text, false),
            (F::Twin, Ref(&[K::Item]), false),
            (F::Dominant, Flag, false),
            (F::Supplier, Text, false),
            (F::Key, Text, false),
            (F::File, Text, false),
            (F::Cell, Text, false),
            (F::Raw, Text, false),
        ],
    },
    Schema {
        kind: K::Part,
        says: "Where an item sits.",
        parents: &[K::Part],
        fields: &[
            (F::Item, Ref(&[K::Item]), true),
            (F::Count, Count, true),
            (F::Needed, Count, false),
            (F::Label, Text, false),
            (F::Function, Text, false),
            (F::Says, Text, false),
            (F::Set, Word(&["inseparable"]), false),
            (F::File, Text, false),
            (F::Cell, Text, false),
            (F::Raw, Text, false),
        ],
    },
    Schema {
        kind: K::Feature,
        says: "Something on an item that costs work.",
        parents: &[K::Item],
        fields: &[
            (F::Name, Text, true),
            (F::Calculation, Text, false),
            (F::Joint, Ref(&[K::Joint]), false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Joint,
        says: "What holds parts.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Label, Text, false),
            (F::Calculation, Text, true),
            (F::Parts, Refs(&[K::Part]), false),
            (F::Fastener, Ref(&[K::Part]), false),
            (F::Operation, Ref(&[K::Operation]), false),
            (F::Function, Text, false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Operation,
        says: "Making or assembling work bound to a calculation.",
        parents: &[K::Item, K::Part],
        fields: &[
            (F::Name, Text, true),
            (F::Calculation, Text, true),
            (F::Organisation, Ref(&[K::Organisation]), false),
            (F::Line, Ref(&[K::Line]), false),
            (F::Station, Ref(&[K::Station]), false),
            (F::After, Refs(&[K::Operation]), false),
            (F::Tool, Ref(&[K::Tool]), false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Line,
        says: "A line of stations.",
        parents: &[],
        fields: &[(F::Name, Text, true), (F::Organisation, Ref(&[K::Organisation]), false), (F::Says, Text, false)],
    },
    Schema {
        kind: K::Station,
        says: "A place on a line.",
        parents: &[K::Line],
        fields: &[(F::Name, Text, true), (F::Says, Text, false)],
    },
    Schema {
        kind: K::Tool,
        says: "A thing of its own that serves operations.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Items, Refs(&[K::Item]), false),
            (F::Operations, Refs(&[K::Operation]), false),
            (F::Group, Text, false),
            (F::Owner, Word(&["client", "supplier"]), false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Removal,
        says: "One strip-down event.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Parts, Refs(&[K::Part]), false),
            (F::Joints, Refs(&[K::Joint]), false),
            (F::Tool, Text, false),
            (F::Who, Text, false),
            (F::When, Text, false),
            (F::Destructive, Flag, false),
            (F::Due, Text, false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Hold,
        says: "A safety or hand-over point that a named person records.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Says, Text, false),
            (F::Removals, Refs(&[K::Removal]), false),
            (F::Who, Text, false),
            (F::When, Text, false),
            (F::State, Word(&["open", "recorded"]), false),
        ],
    },
    Schema {
        kind: K::Specimen,
        says: "What was received.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Owner, Text, false),
            (F::Serial, Text, false),
            (F::Condition, Text, false),
            (F::Says, Text, false),
            (F::Date, Text, false),
        ],
    },
    Schema {
        kind: K::Sample,
        says: "What was cut from a specimen for a laboratory.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Specimen, Ref(&[K::Specimen]), false),
            (F::Parts, Refs(&[K::Part]), false),
            (F::Says, Text, false),
            (F::State, Text, false),
        ],
    },
    Schema {
        kind: K::Value,
        says: "One statement about a quantity of a subject.",
        parents: SUBJECTS,
        fields: &[
            (F::Quantity, Text, true),
            (F::Text, Text, true),
            (F::Evidence, Word(EVIDENCE), true),
            (F::Source, Text, false),
            (F::Instrument, Ref(&[K::Instrument]), false),
            (F::Set, Text, false),
            (F::Number, Count, false),
            (F::MassState, Word(MASS_STATES), false),
            (F::When, Text, false),
            (F::Who, Text, false),
            (F::File, Text, false),
            (F::Cell, Text, false),
            (F::Raw, Text, false),
            (F::Calculation, Text, false),
            (F::Method, Text, false),
            (F::Period, Text, false),
            (F::Specimen, Ref(&[K::Specimen]), false),
            (F::Says, Text, false),
            (F::Licence, Word(LICENCES), false),
        ],
    },
    Schema {
        kind: K::Choose,
        says: "Which of several values stands.",
        parents: SUBJECTS,
        fields: &[
            (F::Quantity, Text, true),
            (F::Value, Ref(&[K::Value]), false),
            (F::Method, Word(&["one", "mean", "weighted mean"]), false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Finding,
        says: "Something seen.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Group, Word(&["safety", "quality", "design", "cost", "record"]), false),
            (F::Severity, Word(&["note", "look", "serious"]), false),
            (F::Parts, Refs(&[K::Part]), false),
            (F::Joints, Refs(&[K::Joint]), false),
            (F::Photos, Refs(&[K::Photo]), false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Photo,
        says: "An image with numbered call-outs.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Digest, Text, false),
            (F::Parts, Refs(&[K::Part]), false),
            (F::Callouts, Text, false),
            (F::When, Text, false),
            (F::Who, Text, false),
        ],
    },
    Schema {
        kind: K::Quote,
        says: "A bought price with place, date, volume and what it contains.",
        parents: &[],
        fields: &[
            (F::Name, Text, false),
            (F::Item, Ref(&[K::Item]), true),
            (F::Supplier, Text, false),
            (F::Place, Text, false),
            (F::Date, Text, false),
            (F::Contains, Text, false),
            (F::State, Word(&["used", "beside"]), false),
            (F::Says, Text, false),
            (F::File, Text, false),
            (F::Cell, Text, false),
            (F::Licence, Word(LICENCES), false),
        ],
    },
    Schema {
        kind: K::Boundary,
        says: "What a total contains.",
        parents: &[],
        fields: &[(F::Name, Text, true), (F::State, Word(&["in", "out", "unknown"]), true), (F::Says, Text, false)],
    },
    Schema {
        kind: K::Yardstick,
        says: "What comparisons are divided by.",
        parents: &[],
        fields: &[(F::Name, Text, true), (F::Qualifier, Text, false), (F::Says, Text, false)],
    },
    Schema {
        kind: K::Review,
        says: "How far a group of results has been checked, and by whom.",
        parents: &[],
        fields: &[
            (F::Group, Text, true),
            (F::State, Word(&["captured", "costed", "checked", "released"]), true),
            (F::Who, Text, false),
            (F::When, Text, false),
            (F::Says, Text, false),
        ],
    },
    Schema {
        kind: K::Instrument,
        says: "A scale, calliper or clock with its errors.",
        parents: &[],
        fields: &[(F::Name, Text, true), (F::Serial, Text, false), (F::Says, Text, false)],
    },
    Schema {
        kind: K::Book,
        says: "A book of rates for a place and date.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Currency, Text, true),
            (F::Place, Text, false),
            (F::Date, Text, false),
            (F::Illustrative, Flag, false),
            (F::Contains, Text, false),
            (F::Says, Text, false),
            (F::Licence, Word(LICENCES), false),
        ],
    },
    Schema {
        kind: K::Rate,
        says: "One rate or price of a book.",
        parents: &[K::Book, K::Organisation, K::Study],
        fields: &[
            (F::Key, Text, true),
            (F::Text, Text, true),
            (F::Evidence, Word(EVIDENCE), false),
            (F::Source, Text, false),
            (F::Date, Text, false),
            (F::Contains, Text, false),
            (F::Says, Text, false),
            (F::File, Text, false),
            (F::Cell, Text, false),
            (F::Raw, Text, false),
            (F::Licence, Word(LICENCES), false),
        ],
    },
    Schema {
        kind: K::Lock,
        says: "The text of a calculation or book a study holds on to, by content hash.",
        parents: &[],
        fields: &[(F::Key, Text, true), (F::Digest, Text, true), (F::Date, Text, false)],
    },
    Schema {
        kind: K::Correlation,
        says: "Inputs that move together.",
        parents: &[],
        fields: &[(F::Leaves, Text, true), (F::Text, Text, true), (F::Source, Text, true), (F::Says, Text, false)],
    },
    Schema {
        kind: K::Idea,
        says: "A proposed change: edits not yet made, with reason, one-off cost and risk.",
        parents: &[],
        fields: &[
            (F::Name, Text, true),
            (F::Label, Text, false),
            (F::Says, Text, false),
            (F::Edits, Text, false),
            (F::Base, Count, false),
            (F::Risk, Word(&["low", "medium", "high"]), false),
            (F::State, Word(&["open", "taken", "dropped"]), false),
            (F::Needs, Refs(&[K::Idea]), false),
            (F::Against, Refs(&[K::Idea]), false),
            (F::Group, Text, false),
            (F::Rule, Text, false),
            (F::Subject, Text, false),
            (F::Parts, Refs(&[K::Part]), false),
            (F::Who, Text, false),
            (F::When, Text, false),
            (F::Source, Text, false),
            (F::Reason, Text, false),
        ],
    },
];

impl Kind {
    /// What this kind may hold.
    pub fn schema(self) -> &'static Schema {
        // The order of SCHEMAS is that of the enum; a test holds it there.
        &SCHEMAS[self as usize]
    }
}

impl Schema {
    /// The type of a field, if this kind has it. Every kind may hold `extra`: what another or newer program says of it, which this one
    /// only keeps.
    pub fn field(&self, field: Field) -> Option<FieldType> {
        if field == Field::Extra {
            return Some(FieldType::Text);
        }
        self.fields.iter().find(|(f, _, _)| *f == field).map(|(_, t, _)| *t)
    }

    /// Whether a record of this kind cannot stand without the field.
    pub fn requires(&self, field: Field) -> bool {
        self.fields.iter().any(|(f, _, required)| *f == field && *required)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn schemas_stand_in_the_order_of_kinds() {
        assert_eq!(SCHEMAS.len(), Kind::ALL.len());
        for kind in Kind::ALL {
            assert_eq!(kind.schema().kind, *kind);
        }
    }
}
