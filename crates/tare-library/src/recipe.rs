//! Recipes: what tells more about a number, how well, and at which effort.

use crate::read::{File, tables};
use tare_diag::Diag;
use tare_units::{Unit, Width};

/// Who finds out.
const WHO: [&str; 4] = ["bench", "buyer", "laboratory", "office"];
/// Classes of evidence.
const EVIDENCE: [&str; 5] = ["measured", "derived", "handbook", "quoted", "assumed"];

/// A way to know a number better.
#[derive(Clone, Debug)]
pub struct Recipe {
    /// Its key.
    pub key: String,
    /// What to do, in words.
    pub title: String,
    /// Who does it: bench, buyer, laboratory, office.
    pub who: String,
    /// What the number is about; empty for anything.
    pub on: Vec<String>,
    /// Names it goes for, with `*` for anything; empty for any.
    pub names: Vec<String>,
    /// The dimension it goes for.
    pub unit: Option<Unit>,
    /// Classes of evidence that it improves on; empty for any.
    pub evidence: Vec<String>,
    /// How well the number is known afterwards.
    pub reaches: Width,
    /// The same as written.
    pub reaches_text: String,
    /// Working minutes.
    pub minutes: f64,
    /// The class of evidence it gives.
    pub becomes: String,
    /// Where reach and effort come from.
    pub source: String,
}

impl Recipe {
    /// Whether the recipe goes for a number of this name and unit, about this kind of thing, known by this class of evidence.
    pub fn fits(&self, on: &str, name: &str, unit: &Unit, evidence: &str) -> bool {
        let listed = |list: &[String], word: &str| list.is_empty() || list.iter().any(|known| known == word);
        let named = self.names.is_empty() || self.names.iter().any(|pattern| matches(pattern, name));
        let dimension = self.unit.as_ref().is_none_or(|due| due.dim == unit.dim && unit.currency.is_none());
        listed(&self.on, on) && named && dimension && listed(&self.evidence, evidence)
    }

    /// The standard uncertainty of a number in SI once the recipe is done.
    pub fn uncertainty(&self, value: f64) -> f64 {
        match &self.reaches {
            Width::Relative(half) => value.abs() * half / 2.0,
            Width::Absolute { half, .. } => half / 2.0,
        }
    }
}

/// Whether a name is like a pattern with at most one `*`.
fn matches(pattern: &str, name: &str) -> bool {
    match pattern.split_once('*') {
        Some((start, end)) => name.len() >= start.len() + end.len() && name.starts_with(start) && name.ends_with(end),
        None => pattern == name,
    }
}

/// Reads the file of recipes, in its order.
pub(crate) fn read(name: &str, text: &str, problems: &mut Vec<Diag>) -> Vec<Recipe> {
    let mut file = File { name, problems };
    let root = file.table(text);
    let mut found = Vec::new();
    for (section, _, list) in tables(&root) {
        if section != "recipe" {
            continue;
        }
        for (key, at, table) in tables(list) {
            let [title, who, reaches, becomes, source] =
                ["title", "who", "reaches", "becomes", "source"].map(|field| file.needed(table, field, at.clone()));
            let (Some((title, _)), Some((who, who_at)), Some((reaches_text, reach_at))) = (title, who, reaches) else { continue };
            let (Some((becomes, becomes_at)), Some((source, _))) = (becomes, source) else { continue };
            for (word, known, at) in [(&who, &WHO[..], who_at), (&becomes, &EVIDENCE[..], becomes_at)] {
                if !known.contains(&word.as_str()) {
                    file.problem(at, "choice-unknown", format!("`{word}` is none of {}", known.join(", ")));
                }
            }
            let unit = file.text(table, "unit").and_then(|(text, at)| file.unit(&text, at));
            let reaches = match Width::parse(&reaches_text) {
                Ok(width) => width,
                Err(error) => {
                    file.problem(reach_at, "quantity", error.to_string());
                    continue;
                }
            };
            if let Width::Absolute { unit: of, .. } = &reaches
                && unit.as_ref().is_none_or(|due| due.dim != of.dim)
            {
                let says = format!("`{reaches_text}` needs `unit` of the same dimension");
                file.problem(reach_at, "unit", says);
                continue;
            }
            let Some(minutes) = file.number(table, "minutes", at).filter(|m| *m > 0.0) else { continue };
            let [on, names, evidence] = ["on", "names", "evidence"].map(|field| file.texts(table, field));
            found.push(Recipe { key, title, who, on, names, unit, evidence, reaches, reaches_text, minutes, becomes, source });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fault_of_a_recipe_is_said_at_its_place() {
        let text = "[recipe.a]\ntitle = \"t\"\nwho = \"nobody\"\nreaches = \"+- 0.1 mm\"\nminutes = 5\nbecomes = \"felt\"\nsource = \"s\"\n\
                    [recipe.b]\ntitle = \"t\"\n[recipe.c]\ntitle = \"t\"\nwho = \"bench\"\nreaches = \"5 %\"\nminutes = 5\nbecomes = \"measured\"\nsource = \"s\"\n\
                    [recipe.d]\ntitle = \"t\"\nwho = \"bench\"\nreaches = \"+- 5 %\"\nminutes = \"soon\"\nbecomes = \"measured\"\nsource = \"s\"\n";
        let mut problems = Vec::new();
        assert!(read("recipes.toml", text, &mut problems).is_empty());
        let said: Vec<&str> = problems.iter().map(|p| p.message.as_str()).collect();
        for part in
            ["`nobody`", "`felt`", "needs `unit`", "`who` is missing", "`reaches` is missing", "a spread is due", "`minutes`"]
        {
            assert!(said.iter().any(|s| s.contains(part)), "{part} in {said:?}");
        }
    }

    #[test]
    fn the_shipped_recipes_read_and_fit_by_name_dimension_and_evidence() {
        let (library, problems) = crate::Library::embedded();
        assert!(problems.is_empty(), "{problems:?}");
        let unit = |text: &str| Unit::parse(text).expect("a unit");
        let of = |on: &str, name: &str, text: &str, evidence: &str| {
            library.recipe_for(on, name, &unit(text), evidence).map(|r| r.key.as_str())
        };
        assert_eq!(of("quote", "price", "EUR", "quoted"), Some("offer"));
        assert_eq!(of("rate", "index.copper", "EUR/kg", "assumed"), Some("metal_index"));
        assert_eq!(of("rate", "machine.life", "a", "assumed"), Some("rate"));
        assert_eq!(of("calculation", "method", "%", "assumed"), Some("method"));
        assert_eq!(of("calculation", "setup", "min", "handbook"), None);
        assert_eq!(of("item", "wall_thickness", "mm", "measured"), Some("wall"));
        assert_eq!(of("item", "length", "mm", "measured"), Some("calliper"));
        assert_eq!(of("item", "complexity", "1", "measured"), None);
        let weigh = library.recipe_for("item", "mass", &unit("g"), "assumed").expect("a recipe");
        assert!((weigh.uncertainty(2.0) - 0.001).abs() < 1e-15);
    }
}
