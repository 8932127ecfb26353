//! What parts are for: a list common to products, with other words for the same, and groups that share an interface.

use crate::read::{File, tables};
use tare_diag::Diag;

/// One function.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Function {
    /// Its key.
    pub key: String,
    /// The word shown.
    pub title: String,
    /// Other words for it, in lower case.
    pub words: Vec<String>,
}

/// Functions that share an interface: they are taken from one product together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Interface {
    /// Its key.
    pub key: String,
    /// The keys of its functions.
    pub functions: Vec<String>,
    /// Why they go together.
    pub says: String,
}

/// Functions and interfaces.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Functions {
    /// The list, in order.
    pub list: Vec<Function>,
    /// Groups that are picked together.
    pub interfaces: Vec<Interface>,
}

impl Functions {
    /// The function that a word means.
    pub fn find(&self, word: &str) -> Option<&Function> {
        let word = word.trim().to_lowercase();
        let titled = self.list.iter().find(|f| f.title.to_lowercase() == word || f.key == word);
        titled.or_else(|| self.list.iter().find(|f| f.words.contains(&word)))
    }

    /// Lays others over these: words are added to a function of the same key, interfaces of the same key are replaced.
    pub(crate) fn with(mut self, own: Self) -> Self {
        for function in own.list {
            match self.list.iter_mut().find(|known| known.key == function.key) {
                Some(known) => {
                    known.title = function.title;
                    known.words.extend(function.words);
                }
                None => self.list.push(function),
            }
        }
        self.interfaces.retain(|known| own.interfaces.iter().all(|new| new.key != known.key));
        self.interfaces.extend(own.interfaces);
        self
    }
}

/// Reads the file of functions, in its order.
pub(crate) fn read(name: &str, text: &str, problems: &mut Vec<Diag>) -> Functions {
    let mut file = File { name, problems };
    let root = file.table(text);
    let mut found = Functions::default();
    for (section, at, list) in tables(&root) {
        match section.as_str() {
            "function" => {
                for (key, at, table) in tables(list) {
                    let Some((title, _)) = file.needed(table, "title", at) else { continue };
                    let words = file.texts(table, "words").iter().map(|word| word.to_lowercase()).collect();
                    found.list.push(Function { key, title, words });
                }
            }
            "interface" => {
                for (key, at, table) in tables(list) {
                    let functions = file.texts(table, "functions");
                    let says = file.text(table, "says").map(|(text, _)| text).unwrap_or_default();
                    if functions.len() < 2 {
                        file.problem(at, "interface", "an interface has two or more functions".to_owned());
                        continue;
                    }
                    found.interfaces.push(Interface { key, functions, says });
                }
            }
            other => file.problem(at, "section-unknown", format!("expected `function` or `interface`, found `{other}`")),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    #[test]
    fn words_lead_to_functions_and_own_words_come_in() {
        let (library, _) = crate::Library::embedded();
        let functions = library.functions();
        assert_eq!(functions.find("Seal").map(|f| f.key.as_str()), Some("sealing"));
        assert_eq!(functions.find("cell fixing"), None);
        let known: Vec<&str> = functions.list.iter().map(|f| f.key.as_str()).collect();
        for interface in &functions.interfaces {
            assert!(interface.functions.iter().all(|f| known.contains(&f.as_str())), "{interface:?}");
        }
        let own = "[function.cell-holding]\ntitle = \"cell holding\"\nwords = [\"Cell fixing\"]\n";
        let (library, problems) = library.clone().with_own([("functions.toml", own)]);
        assert!(problems.is_empty());
        assert_eq!(library.functions().find("cell fixing").map(|f| f.key.as_str()), Some("cell-holding"));
    }
}
