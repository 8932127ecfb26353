//! A conflict in words: both values, and what to do.

use crate::address::Addresses;
use tare_diag::{Diag, Place};
use tare_model::{Conflict, Document, FieldValue};

/// The message for an edit that does not fit any more; it carries both values.
pub fn conflict_diag(document: &Document, conflict: &Conflict) -> Diag {
    let addresses = Addresses::new(document);
    let hint = "look at both and make the change again if it still holds; nothing was changed";
    let (id, says) = match conflict {
        Conflict::Field { id, field, expected, found, wanted } => {
            let show = |value: &Option<FieldValue>| shown(value.as_ref(), &addresses);
            (
                *id,
                format!(
                    "the {field} is {} now; the edit expects {} there and would write {}",
                    show(found),
                    show(expected),
                    show(wanted)
                ),
            )
        }
        Conflict::Gone(id) => (*id, "it has been removed meanwhile".to_owned()),
        Conflict::Exists(id) => (*id, "it is there already".to_owned()),
        Conflict::Changed(id) => (*id, "it has changed since, or something was put under it".to_owned()),
        Conflict::Parent(id) => {
            (*id, "what it stood under is gone, or it would stand inside itself or deeper than the tree may be".to_owned())
        }
        Conflict::Target { id, field, .. } => {
            (*id, format!("its {field} would refer to something that has been removed meanwhile"))
        }
        Conflict::Referred { id, by, field } => (*id, format!("the {field} of {} refers to it meanwhile", addresses.of(*by))),
        Conflict::Required { id, field } => (*id, format!("it cannot stand without its {field}")),
    };
    let address = addresses.of(id);
    Diag::error("conflict", format!("{address}: {says}")).at(Place::address(address)).hint(hint)
}

/// A field's content as shown to people.
pub fn shown(value: Option<&FieldValue>, addresses: &Addresses<'_>) -> String {
    match value {
        None => "nothing".to_owned(),
        Some(FieldValue::Text(text)) => format!("`{text}`"),
        Some(FieldValue::Number(number)) => number.to_string(),
        Some(FieldValue::Flag(flag)) => if *flag { "yes" } else { "no" }.to_owned(),
        Some(FieldValue::Ref(id)) => addresses.of(*id),
        Some(FieldValue::Refs(ids)) => {
            let each: Vec<String> = ids.iter().take(8).map(|id| addresses.of(*id)).collect();
            if ids.is_empty() { "nothing".to_owned() } else { each.join(", ") }
        }
    }
}
