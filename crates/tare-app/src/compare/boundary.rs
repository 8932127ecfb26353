//! What totals hold in one product and not in another.

use serde::Serialize;
use tare_model::{Document, Field, Kind};

/// A topic whose state is not the same in all products.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct BoundaryDifference {
    /// What it is about.
    pub topic: String,
    /// `in`, `out`, `unknown`, or nothing where the product's register does not name it.
    pub states: Vec<String>,
}

/// Topics of the registers whose states differ; those that one of them does not name differ too.
pub fn boundary_differences(documents: &[&Document]) -> Vec<BoundaryDifference> {
    let mut topics: Vec<(String, Vec<String>)> = Vec::new();
    for (at, document) in documents.iter().enumerate() {
        for record in document.of_kind(None, Kind::Boundary) {
            let name = record.text(Field::Name).unwrap_or_default();
            let place = topics.iter().position(|(known, _)| known.eq_ignore_ascii_case(name)).unwrap_or_else(|| {
                topics.push((name.to_owned(), vec![String::new(); documents.len()]));
                topics.len() - 1
            });
            topics[place].1[at] = record.text(Field::State).unwrap_or("unknown").to_owned();
        }
    }
    let differs = |states: &[String]| states.iter().any(|state| *state != states[0]);
    topics.into_iter().filter(|(_, s)| differs(s)).map(|(topic, states)| BoundaryDifference { topic, states }).collect()
}
