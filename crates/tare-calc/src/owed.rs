//! What a calculation owes its caller: scalars per kind, and repeated groups of material, labour, machine, tool, consumable.

use crate::calculation::Kind;
use crate::expr::Expr;
use crate::reader::Reader;
use crate::span::{Located, Span};
use std::sync::Arc;
use toml::de::DeTable;

/// The names of the groups.
pub const GROUPS: [&str; 5] = ["material", "labour", "machine", "tool", "consumable"];

/// What a calculation owes in groups.
#[derive(Clone, Debug, Default)]
pub struct Owed {
    /// The groups, by kind of group, then in the order of the file.
    pub groups: Vec<Group>,
}

/// A kind of group.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GroupKind {
    /// What goes in, per piece started.
    Material,
    /// A person's work.
    Labour,
    /// A machine or station.
    Machine,
    /// A tool that wears.
    Tool,
    /// What is used up.
    Consumable,
}

/// One owed group, such as `[material.blank]`.
#[derive(Clone, Debug)]
pub struct Group {
    /// The kind of group.
    pub kind: GroupKind,
    /// Its name.
    pub name: Located<String>,
    /// The text that names what it is about: `of` of a material, `role` of labour, `material` of a consumable.
    pub about: Option<Located<String>>,
    /// Its formulas.
    pub fields: Vec<OwedField>,
}

impl Group {
    /// The formula of a field.
    pub fn field(&self, name: &str) -> Option<&OwedField> {
        self.fields.iter().find(|f| f.name == name)
    }
}

/// A formula owed.
#[derive(Clone, Debug)]
pub struct OwedField {
    /// The field.
    pub name: &'static str,
    /// The unit it must have, and in which it is shown.
    pub unit: &'static str,
    /// The formula.
    pub formula: Arc<Expr>,
    /// The formula as written.
    pub text: String,
    /// Where it stands.
    pub span: Span,
}

/// The roles whose wage a rate book knows.
pub const ROLES: [&str; 4] = ["operator", "skilled", "setter", "inspector"];

impl GroupKind {
    /// Every kind of group.
    pub const ALL: [Self; 5] = [Self::Material, Self::Labour, Self::Machine, Self::Tool, Self::Consumable];

    /// The word in the file.
    pub fn word(self) -> &'static str {
        GROUPS[self as usize]
    }

    /// The field that names what the group is about.
    pub fn about(self) -> Option<&'static str> {
        match self {
            Self::Material => Some("of"),
            Self::Labour => Some("role"),
            Self::Consumable => Some("material"),
            Self::Machine | Self::Tool => None,
        }
    }

    /// The formula fields, each with its unit.
    pub fn fields(self) -> &'static [(&'static str, &'static str)] {
        match self {
            Self::Material => &[("gross", "kg"), ("recovered", "kg")],
            Self::Labour => &[("people", "1"), ("time", "s")],
            Self::Machine => &[("price", "money"), ("power", "kW"), ("floor", "m^2"), ("rate", "money/h"), ("time", "s")],
            Self::Tool => &[("cost", "money"), ("life", "1"), ("upkeep", "1")],
            Self::Consumable => &[("cost", "money"), ("mass", "kg")],
        }
    }

    /// The sets of fields of which one must be complete, and no field of another set may stand beside it.
    fn complete(self) -> &'static [&'static [&'static str]] {
        match self {
            Self::Material => &[&["of", "gross"]],
            Self::Labour => &[&["role", "people", "time"]],
            Self::Machine => &[&["price", "power", "floor", "time"], &["rate", "time"]],
            Self::Tool => &[&["cost", "life"]],
            Self::Consumable => &[&["cost"], &["material", "mass"]],
        }
    }
}

impl Kind {
    /// The scalars owed, each with its unit; each is an equation or input of that name.
    pub fn owes(self) -> &'static [(&'static str, &'static str)] {
        match self {
            Self::Process => &[("cycle", "s"), ("pieces", "1"), ("setup", "s"), ("yield", "1")],
            Self::Joint => &[("manual", "s"), ("process", "s"), ("yield", "1")],
            Self::Purchase => &[("price", "money")],
            Self::Motion => &[("time", "s")],
            Self::Estimate | Self::Test | Self::BuildUp => &[],
        }
    }

    /// The groups allowed.
    pub fn groups(self) -> &'static [GroupKind] {
        match self {
            Self::Process | Self::Joint => &GroupKind::ALL,
            Self::Purchase => &[GroupKind::Tool],
            Self::Motion | Self::Estimate | Self::Test | Self::BuildUp => &[],
        }
    }
}

/// Reads every owed group of a file.
pub(crate) fn read(reader: &mut Reader<'_>, root: &DeTable<'_>) -> Owed {
    let mut groups = Vec::new();
    for kind in GroupKind::ALL {
        for (name, table) in reader.tables(root, kind.word()) {
            reader.check_name(&name);
            groups.push(group(reader, kind, name, table));
        }
    }
    Owed { groups }
}

fn group(reader: &mut Reader<'_>, kind: GroupKind, name: Located<String>, table: &DeTable<'_>) -> Group {
    let owner = format!("`{}.{}`", kind.word(), name.value);
    let known: Vec<&str> = kind.about().into_iter().chain(kind.fields().iter().map(|f| f.0)).collect();
    reader.only(table, &known, &owner);
    let about = kind.about().and_then(|field| reader.text(table, field)).map(|t| t.located());
    let mut fields = Vec::new();
    for (field, unit) in kind.fields() {
        let Some(value) = table.get(*field) else { continue };
        if let Some(text) = reader.scalar(value, &format!("`{field}`")) {
            fields.push(OwedField {
                name: field,
                unit,
                formula: Arc::new(reader.formula(&text)),
                span: text.span(),
                text: text.value,
            });
        }
    }
    complete(reader, kind, &name, table, &owner);
    match (kind, &about) {
        (GroupKind::Labour, Some(role)) if !ROLES.contains(&role.value.as_str()) => {
            let diag =
                tare_diag::Diag::error("unknown-role", format!("no role named `{}`", role.value)).at(reader.place(role.span));
            let diag = diag.did_you_mean(&role.value, ROLES);
            reader.diags.push(diag.hint(format!("roles are: {}", ROLES.join(", "))));
        }
        (GroupKind::Material, Some(of)) if of.value.starts_with("item.") && !constituent(&of.value) => {
            reader
                .error("bad-address", format!("`{}` is no constituent", of.value), of.span)
                .hints
                .push("write `item`, `item.2` for the second constituent, or the key of a material".to_owned());
        }
        _ => {}
    }
    Group { kind, name, about, fields }
}

fn constituent(text: &str) -> bool {
    text.strip_prefix("item.").and_then(|n| n.parse::<usize>().ok()).is_some_and(|n| n > 0)
}

/// One of the kind's sets must be complete, without fields of another.
fn complete(reader: &mut Reader<'_>, kind: GroupKind, name: &Located<String>, table: &DeTable<'_>, owner: &str) {
    let sets = kind.complete();
    let has = |field: &&str| table.contains_key(*field);
    // the set meant is the one with the most fields of its own present
    let own = |set: &&[&str]| set.iter().filter(|f| has(f) && sets.iter().filter(|s| s.contains(f)).count() == 1).count();
    let Some(meant) = sets.iter().rev().max_by_key(|set| own(set)) else { return };
    let missing: Vec<String> = meant.iter().filter(|f| !has(f)).map(|f| format!("`{f}`")).collect();
    if !missing.is_empty() {
        let all: Vec<String> = sets.iter().map(|s| s.join(", ")).collect();
        reader
            .error("missing-field", format!("{owner} has no {}", missing.join(", ")), name.span)
            .hints
            .push(format!("give {}", all.join("; or ")));
    }
    let strangers = sets.iter().flat_map(|s| s.iter()).filter(|f| has(f) && !meant.contains(f));
    let strangers: Vec<String> = strangers.map(|f| format!("`{f}`")).collect();
    if !strangers.is_empty() {
        reader
            .error("field-conflict", format!("{owner} has {} beside {}", strangers.join(", "), meant.join(", ")), name.span)
            .hints
            .push("keep one way of giving it".to_owned());
    }
}
