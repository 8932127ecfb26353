//! Which file holds what.

use tare_model::{Document, Id, Kind, Record};

/// The version of the form that is written; later ones are refused.
pub(crate) const FORM: i64 = 1;
/// The file that says what the folder is, with the small kinds.
pub(super) const STUDY: &str = "study.toml";
/// What explains the folder to those who find it.
pub(super) const README: &str = "README.txt";
/// Where photos stand.
pub(super) const PHOTOS: &str = "photos/";
/// Where the texts stand that the study holds on to.
pub(super) const TEXTS: &str = "texts/";

/// Column by which rows of other tables refer to one.
pub(super) const REF: &str = "ref";
/// Column of the identifier; the last one, since programs drop empty cells at the end of a row.
pub(super) const ID: &str = "id";
/// Column of the record that a row stands under.
pub(super) const UNDER: &str = "under";
/// Column of the file that belongs to a row.
pub(super) const FILE: &str = "file";

/// The table of a kind; `None` for the small kinds, which stand in `study.toml`.
pub(super) fn table(kind: Kind) -> Option<&'static str> {
    Some(match kind {
        Kind::Item => "items.csv",
        Kind::Part => "parts.csv",
        Kind::Feature => "features.csv",
        Kind::Joint => "joints.csv",
        Kind::Operation => "operations.csv",
        Kind::Tool => "tools.csv",
        Kind::Removal => "removals.csv",
        Kind::Value => "values.csv",
        Kind::Choose => "choices.csv",
        Kind::Finding => "findings.csv",
        Kind::Photo => "photos.csv",
        Kind::Quote => "quotes.csv",
        Kind::Rate => "rates.csv",
        Kind::Lock => "locks.csv",
        Kind::Study
        | Kind::Scenario
        | Kind::Organisation
        | Kind::Line
        | Kind::Station
        | Kind::Hold
        | Kind::Specimen
        | Kind::Sample
        | Kind::Boundary
        | Kind::Yardstick
        | Kind::Review
        | Kind::Instrument
        | Kind::Book
        | Kind::Correlation
        | Kind::Idea => return None,
    })
}

/// The kind whose table a file is.
pub(super) fn kind_of_table(file: &str) -> Option<Kind> {
    Kind::ALL.iter().copied().find(|kind| table(*kind) == Some(file))
}

/// Whether a file is one that the form writes itself, whatever the study.
pub(super) fn is_own(path: &str) -> bool {
    path == STUDY || path == README || kind_of_table(path).is_some()
}

/// Whether a file stands where files of the form do: what does not is kept as it is.
pub(super) fn is_of_form(path: &str) -> bool {
    is_own(path) || path.starts_with(PHOTOS) || path.starts_with(TEXTS)
}

/// Whether other rows may refer to a record of a kind by a word of its own; the others are referred to by identifier, if at all.
pub(super) fn has_ref(kind: Kind) -> bool {
    !matches!(kind, Kind::Value | Kind::Choose | Kind::Rate | Kind::Lock)
}

/// Whether a file belongs to each record of a kind.
pub(super) fn has_file(kind: Kind) -> bool {
    matches!(kind, Kind::Photo | Kind::Lock)
}

/// All records in the order of their rows: depth first, siblings kind by kind, each kind in its order.
pub(super) fn sequence(document: &Document) -> Vec<&Record> {
    let mut found = Vec::with_capacity(document.records().len());
    let siblings = |parent: Option<Id>| {
        let mut all: Vec<&Record> = document.children(parent).collect();
        all.sort_by_key(|record| record.kind);
        all.into_iter().rev()
    };
    let mut open: Vec<&Record> = siblings(None).collect();
    while let Some(record) = open.pop() {
        found.push(record);
        open.extend(siblings(Some(record.id)));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use tare_model::Field;

    #[test]
    fn no_field_is_called_like_a_column_of_the_form() {
        for word in [REF, ID, UNDER] {
            assert_eq!(Field::from_word(word), None, "{word}");
        }
        let files = Kind::ALL.iter().filter(|kind| has_file(**kind));
        assert!(files.into_iter().all(|kind| kind.schema().field(Field::File).is_none()));
    }
}
