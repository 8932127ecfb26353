//! The best of each: for every group of functions that share an interface the cheapest product.

use super::aligned::Row;
use tare_library::Library;
use tare_study::{Joined, LineRef, Over, SubjectId};

/// What would be left of the cost if every group of functions were as in the product that does it cheapest.
#[derive(Clone, Debug)]
pub struct BestOf {
    /// The groups.
    pub picked: Vec<Picked>,
    /// The sum of the cheapest, in the joined study.
    pub total: LineRef,
}

/// One group of functions that have to come from one product.
#[derive(Clone, Debug)]
pub struct Picked {
    /// Its functions.
    pub functions: Vec<String>,
    /// Why they go together; empty for a function alone.
    pub says: String,
    /// Its cost in each product; none where a product has nothing of it.
    pub costs: Vec<Option<LineRef>>,
    /// The least of them; of what is not in every product the greatest.
    pub best: LineRef,
}

/// What is left over, and why it is counted as it is.
const REST: &str = "not on the list, or not in every product: counted at its dearest, so that nothing that is only filed elsewhere counts as saved";

/// Groups rows of cost by function along the interfaces of the library and takes the least of each. What a product does not have, or calls
/// by a word of its own, may be part of something else in another: all such rows are one group, which is counted as in the product where it is
/// dearest.
pub(crate) fn best_of(joined: &mut Joined<'_>, library: &Library, sides: usize, rows: &[Row]) -> Option<BestOf> {
    let functions = library.functions();
    let interface = |row: &Row| {
        let key = functions.find(&row.name).map(|f| f.key.clone())?;
        functions.interfaces.iter().find(|i| i.functions.contains(&key))
    };
    // by the interface, or the function alone
    let mut groups: Vec<(String, String, Vec<&Row>)> = Vec::new();
    for row in rows {
        let (key, says) = match interface(row) {
            Some(interface) if !row.unmapped => (format!("interface {}", interface.key), interface.says.clone()),
            _ => (row.name.clone(), String::new()),
        };
        match groups.iter_mut().find(|(known, _, _)| *known == key) {
            Some((_, _, members)) => members.push(row),
            None => groups.push((key, says, vec![row])),
        }
    }
    let everywhere = |members: &[&Row]| {
        members.iter().all(|row| !row.unmapped) && (0..sides).all(|side| members.iter().any(|row| row.lines[side].is_some()))
    };
    let (whole, rest): (Vec<_>, Vec<_>) = groups.into_iter().partition(|(_, _, members)| everywhere(members));
    let rest: Vec<&Row> = rest.into_iter().flat_map(|(_, _, members)| members).collect();
    let subject = joined.subject("best of each", "best of each", None);
    let mut picked = Vec::new();
    for (_, says, members) in whole {
        picked.push(pick(joined, subject, sides, &members, says, "best")?);
    }
    if !rest.is_empty() {
        picked.push(pick(joined, subject, sides, &rest, REST.to_owned(), "dearest")?);
    }
    let each: Vec<LineRef> = picked.iter().map(|p| p.best).collect();
    let total = joined.roll(subject, "total", "roll-ups/sum", &[("terms", Over::Many(&each))], "total")?;
    Some(BestOf { picked, total })
}

/// Adds a group up in each product and takes one of the sums.
fn pick(joined: &mut Joined<'_>, subject: SubjectId, sides: usize, members: &[&Row], says: String, line: &str) -> Option<Picked> {
    let functions: Vec<String> = members.iter().map(|row| row.name.clone()).collect();
    let name = functions.join(", ");
    let mut costs = Vec::new();
    for side in 0..sides {
        let lines: Vec<LineRef> = members.iter().filter_map(|row| row.lines[side]).collect();
        let block = format!("{name} {}", side + 1);
        costs.push(joined.roll(subject, &block, "roll-ups/sum", &[("terms", Over::Many(&lines))], "total"));
    }
    let known: Vec<LineRef> = costs.iter().flatten().copied().collect();
    let best = joined.roll(subject, &name, "roll-ups/best-of", &[("products", Over::Many(&known))], line)?;
    Some(Picked { functions, says, costs, best })
}
