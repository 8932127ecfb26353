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
    /// Addresses of what the number is about, `PU-foam*` or `motions/*`; empty for any.
    pub of: Vec<String>,
    /// The dimension it goes for.
    pub unit: Option<Unit>,
    /// Classes of evidence that it improves on; empty for any.
    pub evidence: Vec<String>,
    /// How well the number is known afterwards.
    pub reaches: Reach,
    /// The same as written.
    pub reaches_text: String,
    /// Working minutes.
    pub minutes: f64,
    /// The class of evidence it gives.
    pub becomes: String,
    /// Where reach and effort come from.
    pub source: String,
}

/// How well a number is known once a recipe is done.
#[derive(Clone, Debug, PartialEq)]
pub enum Reach {
    /// Within a half-width, relative or absolute, k = 2.
    Within(Width),
    /// To a share of what its uncertainty is now: `1/5`.
    Share(f64),
}

impl Recipe {
    /// Whether the recipe goes for a number of this name and unit, about this kind of thing at this address, known by this class of
    /// evidence.
    pub fn fits(&self, on: &str, subject: &str, name: &str, unit: &Unit, evidence: &str) -> bool {
        let listed = |list: &[String], word: &str| list.is_empty() || list.iter().any(|known| known == word);
        let like = |patterns: &[String], text: &str| patterns.is_empty() || patterns.iter().any(|pattern| matches(pattern, text));
        let named = like(&self.names, name) && like(&self.of, subject);
        let dimension = self.unit.as_ref().is_none_or(|due| due.dim == unit.dim && unit.currency.is_none());
        listed(&self.on, on) && named && dimension && listed(&self.evidence, evidence)
    }

    /// The standard uncertainty of a number in SI once the recipe is done, from its value and its standard uncertainty now.
    ///
    /// A share of nothing reaches nothing: a relative half-width leaves a number that is 0 as it is.
    pub fn uncertainty(&self, value: f64, now: f64) -> f64 {
        match &self.reaches {
            Reach::Within(Width::Relative(_)) if value == 0.0 => now,
            Reach::Within(Width::Relative(half)) => value.abs() * half / 2.0,
            Reach::Within(Width::Absolute { half, .. }) => half / 2.0,
            Reach::Share(share) => now * share,
        }
    }
}

/// Reads `+- 5 %`, `+- 0.1 mm` or `1/5`.
fn reach(text: &str) -> Result<Reach, String> {
    match text.strip_prefix("1/") {
        Some(parts) => {
            let parts = parts.trim().parse::<f64>().ok().filter(|parts| *parts > 1.0 && parts.is_finite());
            parts
                .map(|parts| Reach::Share(1.0 / parts))
                .ok_or_else(|| format!("`{text}` is no share, expected one such as `1/5`"))
        }
        None => Width::parse(text).map(Reach::Within).map_err(|error| error.to_string()),
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
            let reaches = match reach(&reaches_text) {
                Ok(reach) => reach,
                Err(says) => {
                    file.problem(reach_at, "quantity", says);
                    continue;
                }
            };
            if let Reach::Within(Width::Absolute { unit: of, .. }) = &reaches
                && unit.as_ref().is_none_or(|due| due.dim != of.dim)
            {
                let says = format!("`{reaches_text}` needs `unit` of the same dimension");
                file.problem(reach_at, "unit", says);
                continue;
            }
            let Some(minutes) = file.number(table, "minutes", at).filter(|m| *m > 0.0) else { continue };
            let [on, names, of, evidence] = ["on", "names", "of", "evidence"].map(|field| file.texts(table, field));
            found.push(Recipe {
                key,
                title,
                who,
                on,
                names,
                of,
                unit,
                evidence,
                reaches,
                reaches_text,
                minutes,
                becomes,
                source,
            });
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
                    [recipe.d]\ntitle = \"t\"\nwho = \"bench\"\nreaches = \"+- 5 %\"\nminutes = \"soon\"\nbecomes = \"measured\"\nsource = \"s\"\n\
                    [recipe.e]\ntitle = \"t\"\nwho = \"bench\"\nreaches = \"1/0\"\nminutes = 5\nbecomes = \"measured\"\nsource = \"s\"\n";
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
        let of = |on: &str, subject: &str, name: &str, text: &str, evidence: &str| {
            let fits = |recipe: &&Recipe| recipe.fits(on, subject, name, &unit(text), evidence);
            library.recipes().iter().find(fits).map(|r| r.key.as_str())
        };
        assert_eq!(of("quote", "quote Cell", "price", "EUR", "quoted"), Some("offer"));
        assert_eq!(of("rate", "rate", "index.copper", "EUR/kg", "assumed"), Some("metal_index"));
        assert_eq!(of("rate", "rate", "machine.life", "a", "assumed"), Some("rate"));
        assert_eq!(of("calculation", "purchases/circuit-board", "method", "%", "assumed"), Some("method"));
        assert_eq!(of("calculation", "motions/tmu", "method", "%", "handbook"), Some("time_method"));
        assert_eq!(of("calculation", "processes/hpdc", "setup", "min", "handbook"), None);
        assert_eq!(of("item", "item P1", "wall_thickness", "mm", "measured"), Some("wall"));
        assert_eq!(of("item", "item P1", "length", "mm", "measured"), Some("calliper"));
        assert_eq!(of("item", "item P1", "complexity", "1", "measured"), None);
        // water enters the cells of a foam
        assert_eq!(of("material", "PU-foam-microcellular", "density", "kg/m^3", "handbook"), Some("foam_density"));
        assert_eq!(of("material", "PA66-GF30", "density", "kg/m^3", "handbook"), Some("density"));
        assert_eq!(of("instrument", "Bench scale", "gain (any period)", "%", "measured"), Some("calibrate"));
        // rounding is what it is
        assert_eq!(of("instrument", "item P1", "mass resolution", "kg", "measured"), None);
        let weigh = library.recipes().iter().find(|r| r.key == "weigh").expect("a recipe");
        assert!((weigh.uncertainty(2.0, 1.0) - 0.004).abs() < 1e-15 && weigh.uncertainty(0.0, 1.0) == 1.0);
        let calibrate = library.recipes().iter().find(|r| r.key == "calibrate").expect("a recipe");
        assert!((calibrate.uncertainty(0.0, 1.0) - 0.2).abs() < 1e-15);
    }
}
