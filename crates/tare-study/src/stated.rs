//! What a value record states: its number, the default spread of its quantity, and whether it is plausible.

use crate::lines::Evidence;
use tare_library::{Library, QuantityDef};
use tare_model::{Document, Field, Record};
use tare_units::{Quantity, QuantityError, Spread, Width};

/// The definition of a quantity for the kind of subject a value stands under.
pub(crate) fn definition<'l>(library: &'l Library, study: &Document, value: &Record, quantity: &str) -> Option<&'l QuantityDef> {
    let kind = value.parent.and_then(|p| study.get(p)).map_or("", |r| r.kind.word());
    let found = library.quantity_on(kind, quantity)?;
    // Operations, features and joints name inputs of their calculations: the `life` of a mould in shots is not that of a product in years.
    let own_name = matches!(kind, "operation" | "feature" | "joint") && !found.on.iter().any(|on| on == kind);
    let fits = || Quantity::parse(value.text(Field::Text)?).ok().map(|q| Some(q.unit.dim) == found.unit.as_ref().map(|u| u.dim));
    (!own_name || fits() == Some(true)).then_some(found)
}

/// The class of evidence a value states.
pub(crate) fn evidence(value: &Record) -> Evidence {
    value.text(Field::Evidence).and_then(Evidence::from_word).unwrap_or(Evidence::Assumed)
}

/// The stated text as a quantity of the right dimension.
pub(crate) fn parse(definition: Option<&QuantityDef>, text: &str) -> Result<Quantity, QuantityError> {
    match definition.and_then(|q| q.unit.as_ref()) {
        Some(unit) => Quantity::parse_as(text, unit),
        None => Quantity::parse(text),
    }
}

/// Whether a stated value lies outside its plausible band.
pub(crate) fn outside_band(definition: &QuantityDef, stated: &Quantity) -> bool {
    matches!(&definition.band, Some(Quantity { spread: Some(Spread::Rectangular { low, high }), .. }) if !(*low..=*high).contains(&stated.value))
}

/// Adds the default spread of the quantity and evidence class where none is stated; gives the words for the source.
pub(crate) fn add_default_spread(
    definition: Option<&QuantityDef>,
    class: Evidence,
    quantity: &str,
    stated: &mut Quantity,
) -> Option<String> {
    if stated.spread.is_some() {
        return None;
    }
    let text = definition?.spread.get(class.word())?;
    let spread = Width::parse(text).ok()?.around(stated.value);
    if matches!(spread, Spread::Normal { u } if !(u > 0.0 && u.is_finite())) {
        return None;
    }
    stated.spread = Some(spread);
    stated.text = format!("{} {text}", stated.text);
    Some(format!("; spread {text}: default of {} {quantity}", class.word()))
}
