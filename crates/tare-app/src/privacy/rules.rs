//! What is masked for whom: the one table, from which docs/privacy.md is written too.

use super::Class;
use tare_model::{Field, Kind};

/// What happens to what a field holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Treatment {
    /// It stays, as free text: known names and private marks in it are replaced.
    Keep,
    /// It becomes a word with a letter or number, the same throughout one export.
    Named(&'static str),
    /// It is left out.
    Strip,
    /// It becomes a word with a number where it is the name of a picture's file.
    NamedIfFile(&'static str),
}

/// One line of the table: fields (of one kind, or of any) and their treatment.
pub(super) struct Rule {
    pub(super) what: &'static str,
    pub(super) fields: &'static [(Option<Kind>, Field)],
    pub(super) client: Treatment,
    pub(super) open: Treatment,
}

impl Rule {
    pub(super) fn treatment(&self, class: Class) -> Treatment {
        match class {
            Class::Own => Treatment::Keep,
            Class::Client => self.client,
            Class::Open => self.open,
        }
    }
}

use Treatment::{Keep, Named, NamedIfFile, Strip};

/// The table. A field without a line is free text or a technical word (see [`is_free`]).
pub(super) const RULES: &[Rule] = &[
    Rule {
        what: "people (who read, took, recorded, reviewed, proposed)",
        fields: &[(None, Field::Who)],
        client: Named("person"),
        open: Named("person"),
    },
    Rule {
        what: "owners of specimens",
        fields: &[(Some(Kind::Specimen), Field::Owner)],
        client: Named("owner"),
        open: Named("owner"),
    },
    Rule {
        what: "serial numbers of specimens and instruments",
        fields: &[(None, Field::Serial)],
        client: Named("serial"),
        open: Strip,
    },
    Rule { what: "the client", fields: &[(None, Field::Client)], client: Keep, open: Named("client") },
    Rule { what: "suppliers and makers", fields: &[(None, Field::Supplier)], client: Named("supplier"), open: Named("supplier") },
    Rule {
        what: "organisations",
        fields: &[(Some(Kind::Organisation), Field::Name)],
        client: Named("organisation"),
        open: Named("organisation"),
    },
    Rule {
        what: "names of the product and its study",
        fields: &[(Some(Kind::Study), Field::Name), (Some(Kind::Study), Field::Product), (Some(Kind::Study), Field::VariantOf)],
        client: Keep,
        open: Named("product"),
    },
    Rule { what: "files of imports", fields: &[(None, Field::File)], client: Named("file"), open: Named("file") },
    Rule { what: "raw cells of imports", fields: &[(None, Field::Raw)], client: Strip, open: Strip },
    Rule {
        what: "photos named after their file",
        fields: &[(Some(Kind::Photo), Field::Name)],
        client: NamedIfFile("photo"),
        open: NamedIfFile("photo"),
    },
];

/// The line of a field.
pub(super) fn rule(kind: Kind, field: Field) -> Option<&'static Rule> {
    let is = |(of, known): &(Option<Kind>, Field)| *known == field && of.is_none_or(|of| of == kind);
    RULES.iter().find(|rule| rule.fields.iter().any(is))
}

/// Whether a text field is free: people write what they like. The others are words that computing hangs on; they stay as they are, and what looks
/// private in them is told before anything is given away.
pub(super) fn is_free(kind: Kind, field: Field) -> bool {
    match field {
        Field::Name
        | Field::Label
        | Field::Says
        | Field::Source
        | Field::Reason
        | Field::Condition
        | Field::Place
        | Field::Contains
        | Field::Qualifier
        | Field::Callouts
        | Field::Leaves
        | Field::Set
        | Field::Period
        | Field::Cell
        | Field::Due
        | Field::Book => true,
        Field::Tool => kind == Kind::Removal,
        Field::State => kind == Kind::Sample,
        // of an idea a title of its own, of a tool and a finding a word
        Field::Group => kind == Kind::Idea,
        _ => false,
    }
}

/// The table as it stands in docs/privacy.md.
pub(super) fn reference() -> String {
    let word = |treatment| match treatment {
        Keep => "stays".to_owned(),
        Named(word) => format!("\"{word} {}\"", if is_lettered(word) { "A" } else { "1" }),
        NamedIfFile(word) => format!("\"{word} 1\""),
        Strip => "left out".to_owned(),
    };
    let mut out = "| what | client | open |\n|---|---|---|\n".to_owned();
    for rule in RULES {
        out += &format!("| {} | {} | {} |\n", rule.what, word(rule.client), word(rule.open));
    }
    out
}

/// Whether names of a group are told apart by letters.
pub(super) fn is_lettered(group: &str) -> bool {
    matches!(group, "supplier" | "organisation" | "product" | "owner" | "client")
}
