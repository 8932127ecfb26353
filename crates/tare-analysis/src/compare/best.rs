//! The best of each: for every group of functions that share an interface the cheapest product.

use super::aligned::Row;
use tare_library::Library;
use tare_study::{Joined, LineRef, Over};

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
    /// The least of them.
    pub best: LineRef,
}

/// What is left over is taken from one product together.
const REST: &str = "not on the list, or not in every product";

/// Groups rows of cost by function along the interfaces of the library and takes the least of each. What a product does not have, or calls
/// by a word of its own, may be part of something else in another: all such rows are one group, so that the best never counts as saved what was
/// only filed elsewhere.
pub(crate) fn best_of(joined: &mut Joined<'_>, library: &Library, sides: usize, rows: &[Row]) -> Option<BestOf> {
    let functions = library.functions();
    let key = |row: &Row| functions.find(&row.name).map(|f| f.key.clone());
    let interface = |row: &Row| {
        let key = key(row)?;
        functions.interfaces.iter().find(|i| i.functions.contains(&key))
    };
    let mut groups: Vec<(String, Vec<&Row>)> = Vec::new();
    for row in rows {
        let everywhere = !row.unmapped && row.lines.iter().all(Option::is_some);
        let apart = if everywhere { String::new() } else { REST.to_owned() };
        let says = interface(row).map_or(apart, |i| i.says.clone());
        let known = groups.iter_mut().find(|(other, _)| !says.is_empty() && *other == says);
        match known {
            Some((_, members)) => members.push(row),
            None => groups.push((says, vec![row])),
        }
    }
    let subject = joined.subject("best of each", "best of each", None);
    let mut picked = Vec::new();
    for (says, members) in groups {
        let names: Vec<String> = members.iter().map(|row| row.name.clone()).collect();
        let mut costs = Vec::new();
        for side in 0..sides {
            let lines: Vec<LineRef> = members.iter().filter_map(|row| row.lines[side]).collect();
            let name = format!("{} {}", names.join(", "), side + 1);
            costs.push(joined.roll(subject, &name, "roll-ups/sum", &[("terms", Over::Many(&lines))], "total"));
        }
        let known: Vec<LineRef> = costs.iter().flatten().copied().collect();
        let best = joined.roll(subject, &names.join(", "), "roll-ups/best-of", &[("products", Over::Many(&known))], "best")?;
        picked.push(Picked { functions: names, says, costs, best });
    }
    let each: Vec<LineRef> = picked.iter().map(|p| p.best).collect();
    let total = joined.roll(subject, "total", "roll-ups/sum", &[("terms", Over::Many(&each))], "total")?;
    Some(BestOf { picked, total })
}
