//! Rows of a proposal become items, parts and values.

use super::{cell_of, value_record};
use crate::clock;
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};
use tare_exchange::{PartRow, Per, Price, Proposal};
use tare_library::Library;
use tare_model::{Change, Document, Field, FieldValue, Id, Kind, Record, first_order, order_between};

/// Changes that put a list into a study.
pub(super) struct Built {
    pub(super) changes: Vec<Change>,
    /// The part made for each row of the proposal, where one was.
    pub(super) parts: Vec<Option<Id>>,
    pub(super) under: Option<String>,
}

/// Builds the changes for all rows; groups become parts of their own where the list has them.
pub(super) fn build(library: &Library, study: &Document, proposal: &Proposal, under: Option<&str>) -> Result<Built, Vec<Diag>> {
    let mut maker = Maker::new(library, study);
    let (top, label) = maker.top(proposal, under)?;
    let mut groups: Vec<Option<Id>> = vec![None; proposal.groups.len()];
    let mut parts: Vec<Option<Id>> = vec![None; proposal.rows.len()];
    let standing = standing(proposal);
    for (at, row) in proposal.rows.iter().enumerate() {
        if !standing[at] {
            continue;
        }
        let parent = match (row.parent.and_then(|p| parts[p]), row.group) {
            (Some(parent), _) => parent,
            (None, Some(group)) => maker.group(proposal, &mut groups, group, top),
            (None, None) => top,
        };
        parts[at] = Some(maker.row(row, parent, count_in_parent(proposal, &standing, at), !takes(row)));
    }
    Ok(Built { changes: maker.changes, parts, under: label })
}

/// Whether a row becomes a part: options, alternatives and what is not fitted do not.
pub(super) fn takes(row: &PartRow) -> bool {
    row.counted || (row.component && row.fitted && !row.optional && row.alternative.is_none() && row.why_not.is_none())
}

/// Which rows become parts: those that are taken, and the assemblies that hold them.
pub(super) fn standing(proposal: &Proposal) -> Vec<bool> {
    let mut standing: Vec<bool> = proposal.rows.iter().map(takes).collect();
    for at in (0..standing.len()).rev() {
        if let Some(parent) = proposal.rows[at].parent.filter(|_| standing[at]) {
            standing[parent] = true;
        }
    }
    standing
}

/// How many of a row are in one of the assembly above it: the proposal counts for the whole product, the tree of parts for one parent.
pub(super) fn count_in_parent(proposal: &Proposal, standing: &[bool], at: usize) -> Option<f64> {
    use tare_exchange::QuantityKind::{Length, Mass, Volume};
    let row = &proposal.rows[at];
    let count = count_of(row)?;
    let above = row.parent.filter(|p| standing[*p]).and_then(|p| count_of(&proposal.rows[p])).filter(|n| *n > 0.0);
    Some(if matches!(row.quantity.kind, Length | Mass | Volume) { count } else { count / above.unwrap_or(1.0) })
}

/// Makes records for rows and keeps their order.
pub(super) struct Maker<'a> {
    library: &'a Library,
    study: &'a Document,
    pub(super) changes: Vec<Change>,
    items: BTreeMap<String, Id>,
    last: BTreeMap<Option<Id>, String>,
}

impl<'a> Maker<'a> {
    pub(super) fn new(library: &'a Library, study: &'a Document) -> Self {
        Self { library, study, changes: Vec::new(), items: BTreeMap::new(), last: BTreeMap::new() }
    }

    /// The part the list goes under: the one asked for, the study's product, or a new product named after the study.
    pub(super) fn top(&mut self, proposal: &Proposal, under: Option<&str>) -> Result<(Id, Option<String>), Vec<Diag>> {
        if let Some(label) = under {
            let by_label = self.study.records().find(|r| r.kind == Kind::Part && r.text(Field::Label) == Some(label));
            let known: Vec<&str> =
                self.study.records().filter(|r| r.kind == Kind::Part).filter_map(|r| r.text(Field::Label)).collect();
            let missing = || {
                vec![
                    Diag::error("part-unknown", format!("there is no part with the label `{label}`"))
                        .did_you_mean(label, known.iter().copied()),
                ]
            };
            return by_label.map(|r| (r.id, Some(label.to_owned()))).ok_or_else(missing);
        }
        let mut products = self.study.of_kind(None, Kind::Part);
        match (products.next(), products.next()) {
            (Some(only), None) => return Ok((only.id, only.text(Field::Label).map(str::to_owned))),
            (Some(_), Some(_)) => {
                let says = "the study has several products, so it is open which one the list belongs to";
                return Err(vec![
                    Diag::error("product-open", says)
                        .at(Place::File(proposal.file.clone()))
                        .hint("name the part it goes under: `--under LABEL`"),
                ]);
            }
            _ => {}
        }
        let name = self
            .study
            .of_kind(None, Kind::Study)
            .next()
            .and_then(|s| s.text(Field::Product).or(s.text(Field::Name)))
            .unwrap_or("Product")
            .to_owned();
        let item = self.item_record(&name, None);
        self.changes.push(Change::Add { record: item.clone().with_text(Field::Make, "make").with_text(Field::Form, "assembly") });
        let part = self.part_record(item.id, None, 1.0).with_text(Field::Label, "P1");
        let id = part.id;
        self.changes.push(Change::Add { record: part });
        Ok((id, None))
    }

    fn group(&mut self, proposal: &Proposal, made: &mut [Option<Id>], at: usize, top: Id) -> Id {
        if let Some(known) = made[at] {
            return known;
        }
        let group = &proposal.groups[at];
        // A group names one that stands before it; anything else would be a circle and goes to the top.
        let parent = group.parent.filter(|p| *p < at).map_or(top, |p| self.group(proposal, made, p, top));
        let item = self.item_record(&group.name, Some(&group.origin)).with_text(Field::Form, "assembly");
        let part = self.part_record(item.id, Some(parent), 1.0);
        let part = with_origin(part, &group.origin);
        let id = part.id;
        self.changes.push(Change::Add { record: item });
        self.changes.push(Change::Add { record: part });
        made[at] = Some(id);
        id
    }

    /// The part of a row, with its item and values.
    pub(super) fn row(&mut self, row: &PartRow, parent: Id, count: Option<f64>, assembly: bool) -> Id {
        let name = row_name(row);
        let key = row.part_number.as_ref().map_or_else(|| self::key(row, &name), |n| format!("number {}", n.value));
        // Assemblies of one name may hold different parts, so each is an item of its own.
        let item = match self.items.get(&key).filter(|_| !assembly) {
            Some(known) => *known,
            None => {
                let id = self.new_item(row, &name, assembly);
                if !assembly {
                    self.items.insert(key, id);
                }
                id
            }
        };
        let mut part = self.part_record(item, Some(parent), count.unwrap_or(1.0));
        part = with_origin(part, &row.quantity.origin);
        let mut says = Vec::new();
        if count.is_none() {
            says.push(format!("quantity not understood: `{}`", row.quantity.origin.raw));
        }
        if row.quantity.about {
            says.push("quantity marked as rough".to_owned());
        }
        if !row.designators.is_empty() {
            says.push(row.designators.join(" "));
        }
        says.extend(row.note.as_ref().map(|n| n.value.clone()));
        if !says.is_empty() {
            part = part.with_text(Field::Says, says.join("; "));
        }
        let id = part.id;
        self.changes.push(Change::Add { record: part });
        id
    }

    fn new_item(&mut self, row: &PartRow, name: &str, assembly: bool) -> Id {
        let origin = row.name.as_ref().or(row.part_number.as_ref()).or(row.description.as_ref()).map(|t| &t.origin);
        let mut item = self.item_record(name, origin);
        let mut says: Vec<String> = row.description.iter().map(|d| d.value.clone()).filter(|d| d != name).collect();
        if let Some(material) = &row.material {
            // Only a key the library knows can be priced and costed; any other text is kept as written.
            if self.library.material(&material.value).is_some() {
                item = item.with_text(Field::Material, material.value.clone());
            } else {
                says.push(format!("material as written: {}", material.value));
            }
        }
        says.extend(row.part_number.iter().map(|n| format!("part number {}", n.value)));
        says.extend(row.other.iter().filter(|(_, t)| !t.value.is_empty()).map(|(title, t)| format!("{title}: {}", t.value)));
        if !says.is_empty() {
            item = item.with_text(Field::Says, says.join("; "));
        }
        if let Some(supplier) = &row.supplier {
            item = item.with_text(Field::Supplier, supplier.value.clone());
        }
        let make = row.make_or_buy.as_ref().map(|m| m.value.as_str());
        if let Some(make @ ("make" | "buy")) = make {
            item = item.with_text(Field::Make, make);
        } else if !assembly && (row.price.is_some() || row.line_price.is_some()) {
            item = item.with_text(Field::Make, "buy");
        }
        if assembly {
            item = item.with_text(Field::Form, "assembly");
        }
        let id = item.id;
        self.changes.push(Change::Add { record: item });
        self.values(row, id, assembly);
        id
    }

    fn values(&mut self, row: &PartRow, item: Id, assembly: bool) {
        if let Some((value, origin)) = mass_text(row) {
            self.changes.push(Change::Add { record: value_record(item, "mass", value, "quoted", origin) });
        }
        // An assembly's own mass is held against the sum of its parts; its price would be paid twice.
        if let Some((value, origin)) = price_text(row).filter(|_| !assembly) {
            self.changes.push(Change::Add { record: value_record(item, "price", value, "quoted", origin) });
        }
    }

    fn item_record(&mut self, name: &str, origin: Option<&tare_exchange::Origin>) -> Record {
        let order = self.next_order(None);
        let record = Record::new(clock::new_id(), Kind::Item).ordered(order).with_text(Field::Name, name);
        match origin {
            Some(origin) => with_origin(record, origin),
            None => record,
        }
    }

    fn part_record(&mut self, item: Id, parent: Option<Id>, count: f64) -> Record {
        let order = self.next_order(parent);
        let mut record = Record::new(clock::new_id(), Kind::Part)
            .ordered(order)
            .with(Field::Item, FieldValue::Ref(item))
            .with(Field::Count, FieldValue::Number(count));
        record.parent = parent;
        record
    }

    fn next_order(&mut self, parent: Option<Id>) -> String {
        let next = match self.last.get(&parent) {
            Some(last) => order_between(Some(last), None),
            None if parent.is_none_or(|p| self.study.get(p).is_some()) => self.study.last_order(parent),
            None => first_order(),
        };
        self.last.insert(parent, next.clone());
        next
    }
}

/// What makes two rows without part numbers the same item: name, description, material, mass and price.
fn key(row: &PartRow, name: &str) -> String {
    let mass = mass_text(row).map(|m| m.0).unwrap_or_default();
    let price = price_text(row).map(|p| p.0).unwrap_or_default();
    format!("{name} | {} | {} | {mass} | {price}", text(&row.description), text(&row.material))
}

/// What a row is called: its name, else its description, number or value.
fn row_name(row: &PartRow) -> String {
    let all = [&row.name, &row.description, &row.part_number, &row.value, &row.device];
    let first = all.into_iter().flatten().map(|t| t.value.trim()).find(|t| !t.is_empty());
    first.map_or_else(|| format!("row {}", row.row), str::to_owned)
}

fn text(told: &Option<tare_exchange::Told<String>>) -> &str {
    told.as_ref().map_or("", |t| t.value.as_str())
}

/// Pieces of a row; a length or mass of bulk goods is one piece of that much.
pub(super) fn count_of(row: &PartRow) -> Option<f64> {
    use tare_exchange::QuantityKind::{Length, Mass, Volume};
    if matches!(row.quantity.kind, Length | Mass | Volume) {
        return Some(1.0);
    }
    row.quantity.value.filter(|v| v.is_finite() && (0.0..=1e12).contains(v))
}

/// Mass of one piece as value text.
pub(super) fn mass_text(row: &PartRow) -> Option<(String, &tare_exchange::Origin)> {
    let mass = row.mass.as_ref()?;
    let kg = mass.kg?;
    let piece = match mass.per {
        Per::Piece | Per::Unknown => kg,
        Per::Pack(pieces) if pieces > 0.0 => kg / pieces,
        Per::Line => kg / count_of(row).filter(|c| *c > 0.0)?,
        Per::Pack(_) | Per::Group => return None,
    };
    piece.is_finite().then(|| (format!("{piece} kg"), &mass.origin))
}

/// Price of one piece as value text; without a currency nothing is stated.
pub(super) fn price_text(row: &PartRow) -> Option<(String, &tare_exchange::Origin)> {
    let of = |price: &Price, pieces: f64| -> Option<String> {
        let (currency, low) = (price.currency.as_ref()?, price.value?);
        let low = low / pieces;
        let text = match price.upper {
            Some(high) if high / pieces > low => format!("{low} .. {} {currency}", high / pieces),
            _ => format!("{low} {currency}"),
        };
        low.is_finite().then_some(text)
    };
    let piece = row.price.as_ref().and_then(|p| {
        let pieces = match p.per {
            Per::Piece | Per::Unknown => 1.0,
            Per::Pack(n) if n > 0.0 => n,
            _ => return None,
        };
        of(p, pieces).map(|t| (t, &p.origin))
    });
    piece.or_else(|| {
        let line = row.line_price.as_ref()?;
        of(line, count_of(row).filter(|c| *c > 0.0)?).map(|t| (t, &line.origin))
    })
}

fn with_origin(record: Record, origin: &tare_exchange::Origin) -> Record {
    if origin.cell.is_empty() {
        return record;
    }
    record
        .with_text(Field::File, origin.file.clone())
        .with_text(Field::Cell, cell_of(origin))
        .with_text(Field::Raw, origin.raw.clone())
}
