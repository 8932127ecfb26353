//! Plain words for dimensions, and how to write a value of each.

use crate::{Dim, Unit};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A unit of the dimension as a bench would use it, its name, and the customary US unit where there is one.
const NAMES: &[(&str, &str, &str)] = &[
    ("1", "plain number", ""),
    ("mm", "length", "in"),
    ("mm^2", "area", "in^2"),
    ("cm^3", "volume", "in^3"),
    ("mm^4", "second moment of area", "in^4"),
    ("kg", "mass", "lb"),
    ("s", "time", ""),
    ("A", "current", ""),
    ("degC", "temperature", "degF"),
    ("mol", "amount of substance", ""),
    ("cd", "luminous intensity", ""),
    ("money", "amount of money", ""),
    ("1/s", "rate per time or frequency", ""),
    ("m/s", "speed", "ft/min"),
    ("m/s^2", "acceleration", "ft/s^2"),
    ("N", "force", "lbf"),
    ("MPa", "pressure or stress", "psi"),
    ("J", "energy or torque", "ft*lbf"),
    ("W", "power", "hp"),
    ("V", "voltage", ""),
    ("ohm", "electric resistance", ""),
    ("S", "electric conductance", ""),
    ("ohm*m", "electric resistivity", ""),
    ("S/m", "electric conductivity", ""),
    ("Ah", "electric charge", ""),
    ("A/mm^2", "current density", ""),
    ("kV/mm", "electric field strength", ""),
    ("uF", "capacitance", ""),
    ("mH", "inductance", ""),
    ("T", "magnetic flux density", ""),
    ("Wb", "magnetic flux", ""),
    ("lx", "illuminance", ""),
    ("kg/m^3", "density", "lb/ft^3"),
    ("kg/m", "mass per length", "lb/ft"),
    ("kg/m^2", "mass per area", "lb/ft^2"),
    ("kg/s", "mass flow", "lb/h"),
    ("m^3/s", "volume flow", "gal/min"),
    ("mm^2/s", "diffusivity or kinematic viscosity", ""),
    ("Pa*s", "dynamic viscosity", ""),
    ("N/mm", "force per length, stiffness or energy per area", "lbf/in"),
    ("W/(m*K)", "thermal conductivity", ""),
    ("J/(kg*K)", "specific heat", ""),
    ("W/(m^2*K)", "heat transfer coefficient", ""),
    ("J/kg", "energy per mass", "BTU/lb"),
    ("J/K", "heat capacity", ""),
    ("K/W", "thermal resistance", ""),
    ("W/m^2", "power per area", ""),
    ("1/K", "expansion coefficient", ""),
    ("1/kg", "count per mass", ""),
    ("1/mm", "count per length", ""),
    ("1/mm^2", "count per area", ""),
    ("s/mm", "time per length", ""),
    ("s/kg", "time per mass", ""),
    ("mm^2/N", "compliance", ""),
    ("m^2/kg", "area per mass", ""),
    ("kg/J", "mass per energy", ""),
    ("W/kg", "power per mass", ""),
    ("Ah/kg", "charge per mass", ""),
    ("kg/mol", "molar mass", ""),
    ("money/kg", "price per mass", "money/lb"),
    ("money/s", "price per time", ""),
    ("money/m", "price per length", "money/ft"),
    ("money/m^2", "price per area", "money/ft^2"),
    ("money/m^3", "price per volume", "money/gal"),
    ("money/J", "price per energy", ""),
    ("money/W", "price per power", ""),
    ("money/N", "price per force", ""),
    ("money/(m^2*s)", "price per area and time", ""),
    ("money/(kg*m)", "price per mass and distance", ""),
];

/// What a dimension is called in plain words, if it has a common name.
///
/// Dimensions shared by several quantities carry both names: `energy or torque`.
pub fn name_of(dim: Dim) -> Option<&'static str> {
    table().get(&dim).map(|(_, name, _)| *name)
}

/// The name with its article, or the base units where there is no name.
pub(crate) fn article(dim: Dim) -> String {
    match name_of(dim) {
        Some(name) if dim == Dim::MASS || dim == Dim::LENGTH || !uncountable(name) => {
            let vowel = name.starts_with(['a', 'e', 'i', 'o']);
            format!("{} {name}", if vowel { "an" } else { "a" })
        }
        Some(name) => name.to_owned(),
        None => format!("a quantity in {dim}"),
    }
}

fn uncountable(name: &str) -> bool {
    [
        "energy",
        "power",
        "electric",
        "capacitance",
        "inductance",
        "thermal",
        "diffusivity",
        "dynamic",
        "mass per",
        "time per",
        "power per",
        "charge per",
        "area per",
        "compliance",
        "acceleration",
        "specific heat",
        "volume flow",
        "mass flow",
        "molar",
    ]
    .iter()
    .any(|start| name.starts_with(start))
}

/// Units to show in "write `3 mm` or `3 in`": the wanted one first, then the customary US one.
pub(crate) fn ways(want: &Unit) -> Vec<String> {
    let mut ways = vec![if want.is_plain() { String::new() } else { want.text.clone() }];
    if let Some((usual, _, us)) = table().get(&want.dim) {
        let point = |text: &str| matches!(text, "degC" | "degF");
        for other in [usual, us] {
            let fits = !other.is_empty() && *other != "1" && !want.dim.is_one() && point(other) == want.is_point();
            if fits && ways.len() < 2 && ways.iter().all(|w| w != other) && (*other == *us || us.is_empty()) {
                ways.push((*other).to_owned());
            }
        }
    }
    ways
}

fn table() -> &'static BTreeMap<Dim, (&'static str, &'static str, &'static str)> {
    static TABLE: OnceLock<BTreeMap<Dim, (&'static str, &'static str, &'static str)>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut map = BTreeMap::new();
        for row in NAMES {
            if let Ok(unit) = Unit::parse(row.0) {
                map.entry(unit.dim).or_insert(*row);
            }
        }
        map
    })
}
