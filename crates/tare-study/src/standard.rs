//! Standard fasteners of the library behind items that name one: thread, mass and price by length.

use crate::builder::{Builder, LeafSpec};
use crate::lines::{Evidence, LineRef};
use tare_calc::FlatInput;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

impl Builder<'_> {
    /// A property of the standard fastener an item names; mass and price go with its length.
    pub(crate) fn standard(&mut self, item: Id, property: &str) -> Option<LineRef> {
        let key = self.sources.study.get(item)?.text(Field::Key)?.to_owned();
        let library = self.sources.library;
        let Some(fastener) = library.fastener(&key) else {
            let address = self.item_address(item);
            let diag = Diag::error("fastener-unknown", format!("the library has no fastener `{key}`"))
                .at(Place::address(format!("{address}/key")));
            self.problem(diag.did_you_mean(&key, library.fasteners().map(|f| f.key.as_str())));
            return None;
        };
        let (name, quantity, source) = match property {
            "mass" | "price" => {
                let length = self.index.of(item, "length").next()?;
                let length = self.quantity(length, "length")?;
                let piece = fastener.piece(length.value)?;
                let stated = if property == "mass" { piece.mass.clone() } else { piece.price.clone() };
                (format!("{property} at {}", length.text), stated?, fastener.pieces_source.clone())
            }
            _ => {
                let stated = fastener.properties.get(property)?;
                let memory = if stated.seen { "" } else { " (from memory)" };
                (property.to_owned(), stated.value.clone(), format!("{}{memory}", stated.source))
            }
        };
        let evidence = if property == "price" { Evidence::Assumed } else { Evidence::Handbook };
        let leaf = self.shared_leaf(&key, &name.clone(), |subject| LeafSpec {
            subject,
            name,
            quantity,
            word: None,
            evidence,
            source,
            record: None,
            shared: true,
        });
        Some(self.in_study_currency(leaf))
    }

    /// What a joint does not state itself, its fastener may: as stated on the item, or by its standard.
    pub(crate) fn stated_by_fastener(&mut self, joint: Id, quantity: &str, input: &FlatInput<'_>) -> Option<Vec<LineRef>> {
        let part = self.sources.study.get(joint)?.refers(Field::Fastener).and_then(|p| self.index.part_of.get(&p).copied())?;
        let item = self.index.parts[part].item.id;
        let property = match quantity {
            "diameter" => "thread_diameter",
            "pitch" => "pitch",
            _ => return None,
        };
        self.stated_on(item, property, input).or_else(|| self.standard(item, property).map(|line| vec![line]))
    }
}
