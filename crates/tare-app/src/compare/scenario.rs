//! A study under the scenario of another.

use super::boundary::BoundaryDifference;
use tare_diag::Diag;
use tare_model::{Change, Document, Field, FieldValue, Id, Kind, Record};

/// What of the study's head belongs to the scenario: money, rates and build-up.
const HEAD: [Field; 4] = [Field::Currency, Field::Book, Field::BuildUp, Field::Year];

/// A study's records with volume, life, money, rates and build-up of a reference. Who makes what, where, stays its own: that is part of
/// the product's make.
///
/// # Errors
/// A record of the scenario cannot be exchanged.
pub fn under(document: &Document, reference: &Document) -> Result<Document, Vec<Diag>> {
    let mut common = document.clone();
    let heads = |d: &Document| d.of_kind(None, Kind::Study).next().cloned();
    let (Some(own), Some(theirs)) = (heads(document), heads(reference)) else { return Ok(common) };
    let mut changes: Vec<Change> =
        HEAD.iter().map(|field| Change::Set { id: own.id, field: *field, to: theirs.fields.get(*field).cloned() }).collect();
    for scenario in document.of_kind(None, Kind::Scenario) {
        changes.push(Change::Remove { id: scenario.id });
    }
    for rate in document.of_kind(Some(own.id), Kind::Rate) {
        changes.push(Change::Remove { id: rate.id });
    }
    for value in apart(document) {
        changes.push(Change::Remove { id: value.id });
    }
    for scenario in reference.of_kind(None, Kind::Scenario) {
        for id in reference.subtree(scenario.id) {
            changes.extend(reference.get(id).map(|record| Change::Add { record: without_references(record, &[]) }));
        }
    }
    for rate in reference.of_kind(Some(theirs.id), Kind::Rate) {
        let mut record = without_references(rate, &[]);
        record.parent = Some(own.id);
        changes.push(Change::Add { record });
    }
    common.change_all(&changes)?;
    Ok(common)
}

/// What organisations state of volume and life for themselves: in a common scenario there is one of each.
fn apart(document: &Document) -> impl Iterator<Item = &Record> {
    let makers = document.of_kind(None, Kind::Organisation);
    makers
        .flat_map(|maker| document.of_kind(Some(maker.id), Kind::Value))
        .filter(|value| matches!(value.text(Field::Quantity), Some("volume" | "life")))
}

/// What was left out of products so that they share one scenario, in the words of the register of boundaries.
pub(crate) fn own_scenarios(products: &[(&str, &Document)]) -> Vec<BoundaryDifference> {
    let topic = |letter: &str, value: &Record, document: &Document| {
        let maker = value.parent.and_then(|id| document.get(id)).and_then(|r| r.text(Field::Name)).unwrap_or("a maker");
        let (quantity, text) = (value.text(Field::Quantity).unwrap_or("?"), value.text(Field::Text).unwrap_or("?"));
        let topic = format!("{quantity} of its own, {text}, that {maker} states in {letter}: left out under the common scenario");
        BoundaryDifference { topic, states: Vec::new() }
    };
    products.iter().flat_map(|(letter, document)| apart(document).map(move |value| topic(letter, value, document))).collect()
}

/// A record whose references to what the other document does not hold are left out.
fn without_references(record: &Record, kept: &[Id]) -> Record {
    let mut copy = record.clone();
    let gone: Vec<Field> = copy
        .fields
        .iter()
        .filter(|(_, value)| match value {
            FieldValue::Ref(id) => !kept.contains(id),
            FieldValue::Refs(ids) => ids.iter().any(|id| !kept.contains(id)),
            _ => false,
        })
        .map(|(field, _)| field)
        .collect();
    for field in gone {
        copy.fields.set(field, None);
    }
    copy
}
