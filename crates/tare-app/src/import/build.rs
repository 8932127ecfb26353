//! A proposal as changes: items by part number or name, parts by tree, values with their cells.

use super::Left;
use crate::address::Addresses;
use crate::clock;
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::{Diag, Place};
use tare_exchange::{Amount, Origin, PartRow, Per, Proposal, QuantityKind, Told};
use tare_model::{Change, Document, Field, FieldValue, Id, Kind, Record, order_between};
use tare_units::{Dim, Unit};

/// Counts beyond this are refused: no list of parts holds more pieces of one kind.
const MOST: f64 = 1e12;
/// Words before a part number in an item's text.
const NUMBER: &str = "part number ";

/// Changes with what became of each row.
pub(super) struct Built {
    pub(super) changes: Vec<Change>,
    /// The part of each row.
    pub(super) parts: Vec<Option<Id>>,
    pub(super) taken: usize,
    pub(super) left: Vec<Left>,
}

/// The changes of a first import.
pub(super) fn changes(document: &Document, proposal: &Proposal, under: Option<&str>) -> Result<Built, Vec<Diag>> {
    let mut building = Building::new(document, proposal);
    let top = building.top(under).map_err(|d| vec![d])?;
    let all: Vec<usize> = (0..proposal.rows.len()).collect();
    building.rows(&all, top);
    building.finish()
}

/// What a row is called.
pub(super) fn row_name(row: &PartRow) -> String {
    let told = [&row.name, &row.description, &row.part_number, &row.value, &row.device];
    told.into_iter().flatten().map(|t| t.value.trim()).find(|t| !t.is_empty()).unwrap_or("unnamed").to_owned()
}

/// Where a value came from, as a place in a file.
pub(super) fn place(origin: &Origin) -> Place {
    let sheet = Some(origin.sheet.clone()).filter(|s| !s.is_empty());
    Place::Cell { file: origin.file.clone(), sheet, cell: origin.cell.clone() }
}

pub(super) struct Building<'a> {
    document: &'a Document,
    proposal: &'a Proposal,
    items: BTreeMap<(String, String), Id>,
    orders: BTreeMap<Option<Id>, String>,
    groups: BTreeMap<usize, Id>,
    next_label: usize,
    labels: BTreeSet<String>,
    pub(super) parts: Vec<Option<Id>>,
    changes: Vec<Change>,
    left: Vec<Left>,
    problems: Vec<Diag>,
}

impl<'a> Building<'a> {
    pub(super) fn new(document: &'a Document, proposal: &'a Proposal) -> Self {
        let items = document.of_kind(None, Kind::Item).filter_map(|i| {
            let number = i.text(Field::Says).and_then(|s| s.strip_prefix(NUMBER)).map(|s| s.split(';').next().unwrap_or(s).trim());
            Some(((i.text(Field::Name)?.to_lowercase(), number.unwrap_or_default().to_owned()), i.id))
        });
        let labels: BTreeSet<String> = document.records().filter_map(|r| r.text(Field::Label)).map(str::to_owned).collect();
        let highest = labels.iter().filter_map(|l| l.strip_prefix('P')?.parse::<usize>().ok()).max().unwrap_or(0);
        Self {
            document,
            proposal,
            items: items.collect(),
            orders: BTreeMap::new(),
            groups: BTreeMap::new(),
            next_label: highest + 1,
            labels,
            parts: vec![None; proposal.rows.len()],
            changes: Vec::new(),
            left: Vec::new(),
            problems: Vec::new(),
        }
    }

    pub(super) fn finish(self) -> Result<Built, Vec<Diag>> {
        if !self.problems.is_empty() {
            return Err(self.problems);
        }
        let taken = self.parts.iter().flatten().count();
        Ok(Built { changes: self.changes, parts: self.parts, taken, left: self.left })
    }

    pub(super) fn push(&mut self, change: Change) {
        self.changes.push(change);
    }

    /// The part everything stands under: named, or the product, which is made if there is none.
    pub(super) fn top(&mut self, under: Option<&str>) -> Result<Id, Diag> {
        if let Some(address) = under {
            let found = Addresses::new(self.document).find(address)?;
            let expected = || Diag::error("import-under", format!("`{address}` is a {}, expected a part", found.kind)).at(Place::address(address));
            return if found.kind == Kind::Part { Ok(found.id) } else { Err(expected()) };
        }
        if let Some(product) = self.document.of_kind(None, Kind::Part).next() {
            return Ok(product.id);
        }
        let name = crate::workspace::name_of(self.document).unwrap_or("Product").to_owned();
        let item = self.new_item(&name, "");
        Ok(self.new_part(item, 1.0, None))
    }

    /// Adds rows under their parents, groups as assemblies of their own. Rows come parents first.
    pub(super) fn rows(&mut self, rows: &[usize], top: Id) {
        for &at in rows {
            let row = &self.proposal.rows[at];
            if !row.counted {
                let why = row.why_not.clone().unwrap_or_else(|| "not counted".to_owned());
                let cell = row.quantity.origin.cell.clone();
                self.left.push(Left { name: row_name(row), cell: if cell.is_empty() { format!("row {}", row.row) } else { cell }, why });
                // What hangs below a row that is left out is put where that row would stand.
                if row.parent.is_none() || row.why_not.is_some() {
                    continue;
                }
            }
            let above = self.above(row, top);
            let part = self.row(row, above);
            self.parts[at] = Some(part);
        }
    }

    /// The part a row stands under.
    fn above(&mut self, row: &PartRow, top: Id) -> Id {
        let mut parent = row.parent;
        while let Some(at) = parent {
            if let Some(part) = self.parts.get(at).copied().flatten() {
                return part;
            }
            parent = self.proposal.rows.get(at).and_then(|r| r.parent);
        }
        match row.group {
            Some(group) => self.group(group, top, 0),
            None => top,
        }
    }

    fn group(&mut self, at: usize, top: Id, depth: usize) -> Id {
        if let Some(known) = self.groups.get(&at) {
            return *known;
        }
        let Some(group) = self.proposal.groups.get(at).filter(|_| depth < 64) else { return top };
        let above = group.parent.map_or(top, |p| self.group(p, top, depth + 1));
        let name = group.name.trim().to_owned();
        let origin = group.origin.clone();
        // A revision finds the group of the first import again.
        let standing = self.document.of_kind(Some(above), Kind::Part).find(|p| {
            let item = p.refers(Field::Item).and_then(|i| self.document.get(i));
            item.is_some_and(|i| i.text(Field::Name) == Some(&name) && i.text(Field::Form) == Some("assembly"))
        });
        let part = match standing {
            Some(part) => part.id,
            None => {
                let item = self.item_record(&name, "").with_text(Field::Form, "assembly");
                let item = self.add(from(item, &origin));
                self.new_part(item, 1.0, Some(above))
            }
        };
        self.groups.insert(at, part);
        part
    }

    fn row(&mut self, row: &PartRow, above: Id) -> Id {
        let (item, fresh) = self.item(row);
        let (count, amount) = self.count(row);
        let mut part = Record::new(clock::new_id(), Kind::Part).under(above).with(Field::Item, FieldValue::Ref(item)).with(Field::Count, FieldValue::Number(count));
        part = from(part, &row.quantity.origin).ordered(self.order(Some(above))).with_text(Field::Label, self.label());
        if let Some(note) = count_note(&row.quantity) {
            part = part.with_text(Field::Says, note);
        }
        let id = self.add(part);
        if fresh {
            for value in values(row, item, count, amount) {
                let order = self.order(Some(item));
                self.add(value.ordered(order));
            }
        }
        id
    }

    /// The count of a row, and an amount that is no count (12 m of cable).
    fn count(&mut self, row: &PartRow) -> (f64, Option<(&'static str, f64, String)>) {
        let Some(value) = row.quantity.value else { return (1.0, None) };
        if !value.is_finite() || !(0.0..=MOST).contains(&value) {
            let says = format!("found the quantity {value} of `{}`, expected 0 to 1e12", row_name(row));
            self.problems.push(Diag::error("count-range", says).at(place(&row.quantity.origin)).hint("mend the cell, or leave the row out of the list"));
            return (1.0, None);
        }
        let measured = match row.quantity.kind {
            QuantityKind::Length => Some(("length", Dim::LENGTH)),
            QuantityKind::Mass => Some(("mass", Dim::MASS)),
            QuantityKind::Volume => Some(("volume", Dim::LENGTH.pow(3.into()))),
            _ => None,
        };
        let unit = row.quantity.unit.as_deref().and_then(|u| Unit::parse(u).ok());
        match (measured, unit) {
            (Some((quantity, dim)), Some(unit)) if unit.dim == dim => (1.0, Some((quantity, value, unit.text))),
            _ => (value, None),
        }
    }

    fn item(&mut self, row: &PartRow) -> (Id, bool) {
        let name = row_name(row);
        let number = told(row.part_number.as_ref());
        let more = told(row.description.as_ref().filter(|d| d.value.trim() != name));
        let key = (name.to_lowercase(), if number.is_empty() { more.clone() } else { number.clone() });
        if let Some(known) = self.items.get(&key) {
            return (*known, false);
        }
        let mut says: Vec<String> = Vec::new();
        if !number.is_empty() {
            says.push(format!("{NUMBER}{number}"));
        }
        says.extend([more, told(row.note.as_ref()), told(row.value.as_ref()), told(row.package.as_ref())].into_iter().filter(|t| !t.is_empty() && *t != name));
        says.extend(price_note(row));
        let mut item = self.item_record(&name, &says.join("; "));
        if let Some(material) = &row.material {
            item = item.with_text(Field::Material, material.value.trim());
        }
        if let Some(supplier) = &row.supplier {
            item = item.with_text(Field::Supplier, supplier.value.trim());
        }
        if let Some(make) = row.make_or_buy.as_ref().filter(|m| matches!(m.value.as_str(), "make" | "buy" | "consigned")) {
            item = item.with_text(Field::Make, make.value.clone());
        }
        let origin = [&row.name, &row.part_number, &row.description].into_iter().flatten().next().map(|t| t.origin.clone());
        let id = self.add(match origin {
            Some(origin) => from(item, &origin),
            None => item,
        });
        self.items.insert(key, id);
        (id, true)
    }

    fn item_record(&mut self, name: &str, says: &str) -> Record {
        let order = self.order(None);
        let item = Record::new(clock::new_id(), Kind::Item).ordered(order).with_text(Field::Name, name);
        if says.is_empty() { item } else { item.with_text(Field::Says, says) }
    }

    fn new_item(&mut self, name: &str, says: &str) -> Id {
        let item = self.item_record(name, says);
        self.add(item)
    }

    fn new_part(&mut self, item: Id, count: f64, above: Option<Id>) -> Id {
        let mut part = Record::new(clock::new_id(), Kind::Part).with(Field::Item, FieldValue::Ref(item)).with(Field::Count, FieldValue::Number(count));
        part.parent = above;
        let order = self.order(above);
        let part = part.ordered(order).with_text(Field::Label, self.label());
        self.add(part)
    }

    pub(super) fn add(&mut self, record: Record) -> Id {
        let id = record.id;
        self.changes.push(Change::Add { record });
        id
    }

    fn order(&mut self, parent: Option<Id>) -> String {
        let order = match self.orders.get(&parent) {
            Some(last) => order_between(Some(last), None),
            None => self.document.last_order(parent),
        };
        self.orders.insert(parent, order.clone());
        order
    }

    /// The next free label.
    fn label(&mut self) -> String {
        loop {
            let label = format!("P{}", self.next_label);
            self.next_label += 1;
            if self.labels.insert(label.clone()) {
                return label;
            }
        }
    }
}

fn told(text: Option<&Told<String>>) -> String {
    text.map(|t| t.value.trim().to_owned()).unwrap_or_default()
}

/// Notes file, cell and raw text on a record.
pub(super) fn from(record: Record, origin: &Origin) -> Record {
    if origin.cell.is_empty() {
        return record;
    }
    record.with_text(Field::File, &origin.file).with_text(Field::Cell, cell_of(origin)).with_text(Field::Raw, &origin.raw)
}

/// The cell with its sheet.
pub(super) fn cell_of(origin: &Origin) -> String {
    if origin.sheet.is_empty() { origin.cell.clone() } else { format!("{}!{}", origin.sheet, origin.cell) }
}

fn count_note(amount: &Amount) -> Option<String> {
    match (amount.value, amount.about) {
        (None, _) => Some("count not stated in the list; 1 stands in".to_owned()),
        (Some(_), true) => Some(format!("count is a rough one: `{}`", amount.origin.raw)),
        _ => None,
    }
}

/// The values a row states of its item.
pub(super) fn values(row: &PartRow, item: Id, count: f64, amount: Option<(&'static str, f64, String)>) -> Vec<Record> {
    let mut found = Vec::new();
    if let Some((quantity, value, unit)) = amount {
        found.push(value_record(item, quantity, format!("{value} {unit}"), &row.quantity.origin, "quoted", None, ""));
    }
    if let Some(mass) = &row.mass
        && let (Some(value), Ok(unit)) = (mass.value, Unit::parse(&mass.unit))
        && unit.dim == Dim::MASS
        && value >= 0.0
    {
        let (number, note) = shared(mass.per, count);
        found.push(value_record(item, "mass", format!("{value} {}", unit.text), &mass.origin, "quoted", number, note));
    }
    let price = row.price.as_ref().filter(|p| !matches!(p.per, Per::Unknown | Per::Group)).or(row.line_price.as_ref());
    if let Some(price) = price
        && let (Some(value), Some(currency)) = (price.value, &price.currency)
        && value >= 0.0
    {
        let per = if row.line_price.as_ref() == Some(price) { Per::Line } else { price.per };
        let (number, note) = shared(per, count);
        let text = price.upper.map_or_else(|| format!("{value} {currency}"), |upper| format!("{value} .. {upper} {currency}"));
        found.push(value_record(item, "price", text, &price.origin, "quoted", number, note));
    }
    found
}

/// Pieces a figure is shared by, and what was not said.
fn shared(per: Per, count: f64) -> (Option<f64>, &'static str) {
    match per {
        Per::Piece | Per::Group => (None, ""),
        Per::Pack(pieces) => (Some(pieces), "for a pack"),
        Per::Line => (Some(count).filter(|c| *c > 0.0), "for the whole row"),
        Per::Unknown => (None, "the list does not say what it is for; taken for one piece"),
    }
}

fn value_record(item: Id, quantity: &str, text: String, origin: &Origin, evidence: &str, number: Option<f64>, note: &str) -> Record {
    let mut value = Record::new(clock::new_id(), Kind::Value).under(item).with_text(Field::Quantity, quantity).with_text(Field::Text, text);
    value = from(value.with_text(Field::Evidence, evidence), origin).with_text(Field::Source, "imported list");
    if let Some(number) = number.filter(|n| *n != 1.0) {
        value = value.with(Field::Number, FieldValue::Number(number));
    }
    if note.is_empty() { value } else { value.with_text(Field::Says, note) }
}

/// A price that cannot stand as a value, kept in words.
fn price_note(row: &PartRow) -> Option<String> {
    let price = row.price.as_ref()?;
    let unsaid = match (price.value, &price.currency, price.per) {
        (None, ..) => return None,
        (_, None, _) => "currency not said",
        (_, _, Per::Unknown | Per::Group) => "for what is not said",
        _ => return None,
    };
    Some(format!("listed price `{}` ({unsaid})", price.origin.raw.trim()))
}
