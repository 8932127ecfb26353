//! The next revision of a list: which rows are new, gone or changed, instead of a second copy.

use crate::mapping::Meaning;
use crate::proposal::{PartRow, Proposal};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is remembered of a row of an earlier import: what identifies it, and its values as text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RowKey {
    /// Part number, places, or name and description.
    pub identity: String,
    /// Field name to text.
    pub values: BTreeMap<String, String>,
}

/// A row whose values changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RowChange {
    /// Index of the row in the new proposal.
    pub row: usize,
    /// Index of the row among the old ones.
    pub old: usize,
    /// What identifies it.
    pub identity: String,
    /// Field, old text, new text.
    pub fields: Vec<(String, String, String)>,
}

/// The difference between an earlier import and a new proposal.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Revision {
    /// Indices of new rows in the proposal.
    pub new: Vec<usize>,
    /// Indices of old rows that are gone.
    pub gone: Vec<usize>,
    /// Rows that changed.
    pub changed: Vec<RowChange>,
    /// How many rows stayed the same.
    pub same: usize,
}

impl Proposal {
    /// What to remember of the rows for the next revision.
    pub fn row_keys(&self) -> Vec<RowKey> {
        self.rows.iter().map(|r| key(self, r)).collect()
    }
}

fn key(proposal: &Proposal, row: &PartRow) -> RowKey {
    let identity = proposal.mapping.tables.get(row.table).map(|t| t.identity.as_slice()).unwrap_or_default();
    let text = |t: &Option<crate::proposal::Told<String>>| t.as_ref().map(|t| t.value.clone()).unwrap_or_default();
    let by_number = identity.contains(&Meaning::PartNumber).then(|| text(&row.part_number)).filter(|t| !t.is_empty());
    let by_place = identity.contains(&Meaning::Designator).then(|| row.designators.join(" ")).filter(|t| !t.is_empty());
    let identity = by_number.or(by_place).unwrap_or_else(|| format!("{} | {}", text(&row.name), text(&row.description)));
    let mut values = BTreeMap::new();
    let mut put = |name: &str, value: String| {
        if !value.is_empty() {
            values.insert(name.to_owned(), value);
        }
    };
    put("name", text(&row.name));
    put("description", text(&row.description));
    put("part number", text(&row.part_number));
    put("material", text(&row.material));
    put("value", text(&row.value));
    put("package", text(&row.package));
    put("note", text(&row.note));
    put("supplier", text(&row.supplier));
    put("make or buy", text(&row.make_or_buy));
    put("quantity", row.quantity.value.map_or_else(|| row.quantity.origin.raw.clone(), |v| v.to_string()));
    put(
        "mass",
        row.mass
            .as_ref()
            .map(|m| format!("{} {}", m.value.map(|v| v.to_string()).unwrap_or_default(), m.unit))
            .unwrap_or_default(),
    );
    put("price", row.price.as_ref().and_then(|p| p.value).map(|v| v.to_string()).unwrap_or_default());
    put("line price", row.line_price.as_ref().and_then(|p| p.value).map(|v| v.to_string()).unwrap_or_default());
    put("fitted", row.fitted.to_string());
    RowKey { identity, values }
}

/// Compares the rows of an earlier import with a new proposal.
///
/// Rows of one identity that occur several times are matched by equal values first, then in order.
pub fn compare_revision(old: &[RowKey], new: &Proposal) -> Revision {
    let now = new.row_keys();
    let mut by_identity: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, k) in old.iter().enumerate() {
        by_identity.entry(&k.identity).or_default().push(i);
    }
    let mut partner: Vec<Option<usize>> = vec![None; now.len()];
    for equal in [true, false] {
        for (i, k) in now.iter().enumerate().filter(|(i, _)| partner[*i].is_none()).collect::<Vec<_>>() {
            let Some(list) = by_identity.get_mut(k.identity.as_str()) else { continue };
            let Some(at) = list.iter().position(|o| !equal || old[*o].values == k.values) else { continue };
            partner[i] = Some(list.remove(at));
        }
    }
    let mut out = Revision { gone: by_identity.into_values().flatten().collect(), ..Revision::default() };
    out.gone.sort_unstable();
    for (i, k) in now.iter().enumerate() {
        let Some(o) = partner[i] else {
            out.new.push(i);
            continue;
        };
        let names: std::collections::BTreeSet<&String> = old[o].values.keys().chain(k.values.keys()).collect();
        let text = |k: &RowKey, n: &String| k.values.get(n).cloned().unwrap_or_default();
        let fields: Vec<_> =
            names.into_iter().map(|n| (n.clone(), text(&old[o], n), text(k, n))).filter(|(_, a, b)| a != b).collect();
        if fields.is_empty() {
            out.same += 1
        } else {
            out.changed.push(RowChange { row: i, old: o, identity: k.identity.clone(), fields })
        }
    }
    out
}
