//! Everything the library holds, by key.

use crate::memo::Memo;
use crate::{Book, Fastener, Functions, Material, QuantityDef, Recipe, book, fastener, function, material, quantity, recipe};
use include_dir::{Dir, include_dir};
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_calc::{Calculation, Lowered, Resolve, Shape};
use tare_diag::Diag;
use tare_units::{Currency, Quantity, QuantityError, Unit};

/// The file that declares quantities and the units of rates.
const QUANTITIES: &str = "quantities.toml";

static EMBEDDED: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../library");

/// Calculations, quantities, materials, fasteners and rate books.
#[derive(Clone, Debug, Default)]
pub struct Library {
    calculations: BTreeMap<String, Calculation>,
    quantities: BTreeMap<String, QuantityDef>,
    materials: BTreeMap<String, Material>,
    fasteners: BTreeMap<String, Fastener>,
    books: BTreeMap<String, Book>,
    recipes: Vec<Recipe>,
    functions: Functions,
    memo: Memo,
    /// Texts of rules that find opportunities; who reads facts of studies reads them.
    opportunities: BTreeMap<String, String>,
    /// Texts of saved questions.
    questions: BTreeMap<String, String>,
    /// What tells the texts that studies are computed with from others.
    fingerprint: u64,
}

impl Library {
    /// The library the program carries, with the problems of its files (none, unless it was built wrong).
    pub fn embedded() -> (Self, Vec<Diag>) {
        Self::default().with_own(embedded_files())
    }

    /// What no number of a study rests on (functions, recipes, questions, rules), without calculations, quantities, materials, fasteners and books:
    /// a base for exactly the texts a study was once computed with.
    #[must_use]
    pub fn without_numbers(&self) -> Self {
        Self {
            recipes: self.recipes.clone(),
            functions: self.functions.clone(),
            opportunities: self.opportunities.clone(),
            questions: self.questions.clone(),
            ..Self::default()
        }
    }

    /// Lays files over this library: a key that is there already is replaced. Names are relative to the library's folder.
    pub fn with_own<'a>(mut self, files: impl IntoIterator<Item = (&'a str, &'a str)>) -> (Self, Vec<Diag>) {
        let mut problems = Vec::new();
        // what was lowered of other texts is not what these would give
        self.memo = Memo::default();
        let mut files: Vec<(&str, &str)> = files.into_iter().collect();
        // Quantities first: they declare the units of rates.
        files.sort_by_key(|(name, _)| *name != QUANTITIES);
        for (name, text) in files {
            // no number depends on what may be asked or proposed
            if !name.starts_with("questions/") && !name.starts_with("opportunities/") {
                self.fingerprint = mixed(self.fingerprint, name, text);
            }
            let Some(key) = name.strip_suffix(".toml") else { continue };
            let shown = format!("library/{name}");
            match key.split_once('/') {
                None if name == QUANTITIES => self.quantities.extend(quantity::read(&shown, text, &mut problems)),
                None if key == "kinds" => {}
                None if key == "recipes" => {
                    // one's own come first, and take the place of those of the same key
                    let mut own = recipe::read(&shown, text, &mut problems);
                    self.recipes.retain(|known| own.iter().all(|new| new.key != known.key));
                    own.append(&mut self.recipes);
                    self.recipes = own;
                }
                None if key == "functions" => {
                    let own = function::read(&shown, text, &mut problems);
                    self.functions = self.functions.with(own);
                }
                None if key == "fasteners" => self.fasteners.extend(fastener::read(&shown, text, &mut problems)),
                None => self.materials.extend(material::read(&shown, text, &mut problems)),
                Some(("rates", book_key)) => {
                    self.books.insert(book_key.to_owned(), book::read(book_key, &shown, text, &self.quantities, &mut problems));
                }
                Some(("questions", question)) => {
                    self.questions.insert(question.to_owned(), text.to_owned());
                }
                Some(("opportunities", rule)) => {
                    self.opportunities.insert(rule.to_owned(), text.to_owned());
                }
                Some(_) => {
                    let (calculation, found) = tare_calc::parse(key, &shown, text);
                    problems.extend(found);
                    self.calculations.insert(key.to_owned(), calculation);
                }
            }
        }
        (self, problems)
    }

    /// Every calculation, by key.
    pub fn calculations(&self) -> impl Iterator<Item = &Calculation> {
        self.calculations.values()
    }

    /// A calculation lowered for a shape of its inputs, as `make` gives it for amounts in this money; from memory where it was asked for before.
    ///
    /// # Errors
    /// As `make`.
    pub fn lowered<E>(
        &self,
        money: Option<Currency>,
        key: &str,
        shape: &Shape,
        make: impl FnOnce() -> Result<Lowered, E>,
    ) -> Result<Arc<Lowered>, E> {
        self.memo.get(money, key, shape, make)
    }

    /// A calculation by key.
    pub fn find(&self, key: &str) -> Option<&Calculation> {
        self.calculations.get(key)
    }

    /// A quantity by name.
    pub fn quantity(&self, name: &str) -> Option<&QuantityDef> {
        self.quantities.get(name)
    }

    /// A quantity as one kind of subject carries it: `scenario.volume` where that is declared, else `volume`.
    pub fn quantity_on(&self, kind: &str, name: &str) -> Option<&QuantityDef> {
        self.quantities.get(&format!("{kind}.{name}")).or_else(|| self.quantities.get(name))
    }

    /// The unit in which a rate of a dotted key is declared, `money/h` for `wage.operator`; `None` for keys of one's own.
    pub fn rate_unit(&self, key: &str) -> Option<&Unit> {
        book::unit_of(&self.quantities, key)
    }

    /// Reads the text of a rate; a declared one must have its dimension.
    ///
    /// # Errors
    /// Text that does not read, or is of another dimension.
    pub fn read_rate(&self, key: &str, text: &str) -> Result<Quantity, QuantityError> {
        book::read_rate(&self.quantities, key, text)
    }

    /// Every quantity, by name.
    pub fn quantities(&self) -> impl Iterator<Item = &QuantityDef> {
        self.quantities.values()
    }

    /// A material by key.
    pub fn material(&self, key: &str) -> Option<&Material> {
        self.materials.get(key)
    }

    /// Every material, by key.
    pub fn materials(&self) -> impl Iterator<Item = &Material> {
        self.materials.values()
    }

    /// A standard fastener by key.
    pub fn fastener(&self, key: &str) -> Option<&Fastener> {
        self.fasteners.get(key)
    }

    /// Every standard fastener, by key.
    pub fn fasteners(&self) -> impl Iterator<Item = &Fastener> {
        self.fasteners.values()
    }

    /// Ways to know a number better, the most particular first.
    pub fn recipes(&self) -> &[Recipe] {
        &self.recipes
    }

    /// What parts are for, and which functions share an interface.
    pub fn functions(&self) -> &Functions {
        &self.functions
    }

    /// A number that differs where any text does that studies are computed with, for caches of what was computed. Saved questions and rules
    /// only read what was computed: keeping one makes nothing old.
    pub fn fingerprint(&self) -> u64 {
        self.fingerprint
    }

    /// The texts of saved questions to a collection of studies, by key.
    pub fn questions(&self) -> impl Iterator<Item = (&str, &str)> {
        self.questions.iter().map(|(key, text)| (key.as_str(), text.as_str()))
    }

    /// The texts of rules that find opportunities in studies, by key; they are read where studies are.
    pub fn opportunities(&self) -> impl Iterator<Item = (&str, &str)> {
        self.opportunities.iter().map(|(key, text)| (key.as_str(), text.as_str()))
    }

    /// A rate book by key.
    pub fn book(&self, key: &str) -> Option<&Book> {
        self.books.get(key)
    }

    /// Every rate book, by key.
    pub fn books(&self) -> impl Iterator<Item = &Book> {
        self.books.values()
    }

    /// Checks every calculation: names, dimensions, circles, what it owes.
    pub fn check(&self) -> Vec<Diag> {
        self.calculations().flat_map(|c| tare_calc::check(c, self)).collect()
    }
}

/// Mixes a text into a fingerprint (FNV-1a).
fn mixed(before: u64, name: &str, text: &str) -> u64 {
    let bytes = name.bytes().chain([0]).chain(text.bytes()).chain([0]);
    bytes.fold(before ^ 0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

impl Resolve for Library {
    fn calculation(&self, key: &str) -> Option<&Calculation> {
        self.find(key)
    }
}

/// The files the program carries, by name, in order of name.
fn embedded_files() -> Vec<(&'static str, &'static str)> {
    let mut found = Vec::new();
    let mut folders = vec![&EMBEDDED];
    while let Some(folder) = folders.pop() {
        folders.extend(folder.dirs());
        found.extend(folder.files().filter_map(|f| Some((f.path().to_str()?, f.contents_utf8()?))));
    }
    found.sort_unstable();
    found
}
