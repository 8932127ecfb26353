//! Rules: opportunities as data. Each is one file that says on which rows it hits, what to say, and which edits to try.
//!
//! [`Rules::read`] checks files against a [`Schema`]; [`Rules::hits`] applies them to any study's [`Facts`]. A rule's edits are words of
//! `tare edit`, for whoever tries them in a copy of the study; nothing here changes anything. A rule of safety has no edits and no
//! cost: it is for qualified people, and its hits come first.
//!
//! ```
//! use tare_analysis::{Rules, Schema};
//! let rule = r#"
//! title = "Thinner wall"
//! kind = "material"                       # a word; hits are counted by it
//! about = "part"                          # the rows it hits
//! when = "family == 'polymer' and wall_thickness > 2 [mm] and first"
//! says = "the wall of {name} is {wall_thickness:mm}; {thin:mm} is often enough"
//! source = "common practice"
//! risk = "medium"                         # low, medium, high
//! advice = "Check stiffness and flow."    # what must be settled first
//! one_off = "2000 .. 4000 .. 9000 EUR"    # optional, with its source
//! one_off_source = "common practice"
//! safety = false                          # true: for qualified people; no edits, no one_off, no risk needed
//! [let]                                   # names for formulas over the row; each sees those before it
//! thin = "0.8 * wall_thickness"
//! [[edit]]
//! do = "set {part}/wall_thickness \"{thin:mm}\""
//! [[edit]]
//! for = "features"                        # for each row once that relations lead to (`joints.fastener`)
//! when = "calculation == 'processes/tapping' and part.first"
//! do = "set {feature}/depth \"{2 * part.wall_thickness:mm}\""
//! "#;
//! let (library, _) = tare_library::Library::embedded();
//! let (rules, problems) = Rules::read([("thin-wall", rule)], &Schema::of(&library));
//! assert!(problems.is_empty() && rules.rules().len() == 1);
//! ```
//!
//! In braces stands a formula over the row in hand, or a kind of row in scope: `{part}` is its address in words and `@` with its
//! identifier in an edit, `{part.item}` the item's. In an edit with `for`, the row in hand is that of `for`; `part.wall_thickness` (the kind of
//! the rule's row) and the names of `[let]` still speak of the rule's. A number with a dimension names the unit to show it in.

mod edit;
mod file;
mod fill;
mod read;
mod template;

use crate::facts::{Facts, NONE, Relation, RowKind, Schema};
use crate::question::{Asked, Checked, true_rows};
use edit::EditRule;
use tare_diag::Diag;
use tare_model::Id;
use template::Template;

/// How likely it is that an idea does not work out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Risk {
    /// Little can go wrong.
    Low,
    /// It wants a trial.
    Medium,
    /// It wants development.
    High,
}

impl Risk {
    /// All, least first.
    pub const ALL: [Self; 3] = [Self::Low, Self::Medium, Self::High];

    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }

    /// The risk with this word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|r| r.word() == word)
    }
}

/// What trying an idea costs once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OneOff {
    /// The text of a value, such as `2000 .. 5000 .. 12000 EUR`.
    pub text: String,
    /// Where it is from.
    pub source: String,
}

/// One rule, read and checked.
#[derive(Clone, Debug)]
pub struct Rule {
    /// The key it is called by: its file name.
    pub key: String,
    /// Its title.
    pub title: String,
    /// A word; hits are counted by it.
    pub kind: String,
    /// The rows it hits.
    pub about: RowKind,
    /// Where it is from.
    pub source: String,
    /// How likely it is not to work out; `None` for a finding of safety.
    pub risk: Option<Risk>,
    /// What must be settled first.
    pub advice: String,
    /// Whether it is a finding for qualified people.
    pub safety: bool,
    when: Checked,
    says: Template,
    one_off: Option<(Template, String)>,
    edits: Vec<EditRule>,
}

/// Rules in the order of their hits: safety first, then by key.
#[derive(Clone, Debug, Default)]
pub struct Rules {
    rules: Vec<Rule>,
}

/// A row on which a rule hits.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// The rule's key.
    pub rule: String,
    /// The record it is about.
    pub subject: Id,
    /// What that record is.
    pub about: RowKind,
    /// Its address.
    pub address: String,
    /// The rule's title.
    pub title: String,
    /// The rule's kind.
    pub kind: String,
    /// What the rule says of this row.
    pub says: String,
    /// Where the rule is from.
    pub source: String,
    /// The rule's risk.
    pub risk: Option<Risk>,
    /// What trying it costs once.
    pub one_off: Option<OneOff>,
    /// What must be settled first.
    pub advice: String,
    /// Whether it is a finding for qualified people.
    pub safety: bool,
    /// Edits to try, each the words behind `tare edit`; empty where one of them lacks something.
    pub commands: Vec<String>,
    /// What the edits need and the study does not say: formulas of the rule.
    pub lacking: Vec<String>,
    /// The parts concerned.
    pub parts: Vec<Id>,
}

impl Rules {
    /// Reads rules from texts by key, as [`tare_library::Library::opportunities`] gives them; a file with an error gives no rule. Messages
    /// point into `library/opportunities/KEY.toml`.
    pub fn read<'t>(files: impl IntoIterator<Item = (&'t str, &'t str)>, schema: &Schema) -> (Self, Vec<Diag>) {
        let mut problems = Vec::new();
        let mut rules = Vec::new();
        for (key, text) in files {
            let (rule, found) = read::rule(key, text, schema);
            problems.extend(found);
            rules.extend(rule);
        }
        rules.sort_by(|a, b| b.safety.cmp(&a.safety).then_with(|| a.key.cmp(&b.key)));
        (Self { rules }, problems)
    }

    /// Every rule, in the order of hits.
    pub fn rules(&self) -> &[Rule] {
        &self.rules
    }

    /// Every row on which a rule hits: safety first, then by rule, then by row.
    pub fn hits(&self, facts: &Facts) -> Vec<Hit> {
        self.rules.iter().flat_map(|rule| rule.hits(facts)).collect()
    }
}

impl Rule {
    fn hits(&self, facts: &Facts) -> Vec<Hit> {
        let asked = Asked { kind: self.about, rows: None, outer: None };
        let rows = true_rows(facts, asked, &self.when);
        if rows.is_empty() {
            return Vec::new();
        }
        let said = self.says.fill(facts, Asked { rows: Some(&rows), ..asked });
        let mut one_offs = self
            .one_off
            .as_ref()
            .map(|(template, source)| (template.fill(facts, Asked { rows: Some(&rows), ..asked }).into_iter(), source));
        let mut edits = edit::commands(&self.edits, facts, self.about, &rows).into_iter();
        let table = facts.table(self.about);
        let mut hits = Vec::with_capacity(rows.len());
        for (row, said) in rows.iter().zip(said) {
            let one_off = one_offs.as_mut().and_then(|(texts, source)| {
                let filled = texts.next().filter(|filled| filled.lacking.is_empty())?;
                Some(OneOff { text: filled.text, source: source.clone() })
            });
            let (commands, lacking) = edits.next().unwrap_or_default();
            hits.push(Hit {
                rule: self.key.clone(),
                subject: table.ids[*row as usize],
                about: self.about,
                address: template::address(facts, self.about, *row),
                title: self.title.clone(),
                kind: self.kind.clone(),
                says: said.text,
                source: self.source.clone(),
                risk: self.risk,
                one_off,
                advice: self.advice.clone(),
                safety: self.safety,
                commands,
                lacking,
                parts: parts(facts, self.about, *row),
            });
        }
        hits
    }
}

/// The parts that a row is about.
fn parts(facts: &Facts, kind: RowKind, row: u32) -> Vec<Id> {
    let ids = &facts.table(RowKind::Part).ids;
    if kind == RowKind::Part {
        return vec![ids[row as usize]];
    }
    // Every part of the product concerns nobody in particular.
    if kind == RowKind::Study {
        return Vec::new();
    }
    let named = facts.table(kind).relation("parts").or_else(|| facts.table(kind).relation("part"));
    let rows = named.map_or(&[][..], |relation: &Relation| relation.of(row as usize));
    rows.iter().filter(|row| **row != NONE).map(|row| ids[*row as usize]).collect()
}
