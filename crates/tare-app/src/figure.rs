//! A number of a compiled study as faces show it.

use serde::{Deserialize, Serialize};
use tare_study::{LineRef, Study};
use tare_units::{Dim, Unit, show, show_number};

/// A number with its unit, its text and the address that explains it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Figure {
    /// The number in `unit`.
    pub value: f64,
    /// The unit; a currency code for money.
    pub unit: String,
    /// As shown.
    pub text: String,
    /// The address for `tare explain`.
    pub address: String,
}

impl Figure {
    /// The figure of a line with so many significant digits (money: two decimals).
    pub fn new(study: &Study, line: LineRef, digits: usize) -> Self {
        Self::scaled(study, line, 1.0, digits)
    }

    /// The figure of a line times an exact count, for rows that show all pieces of a kind together.
    pub fn scaled(study: &Study, line: LineRef, times: f64, digits: usize) -> Self {
        let unit = study.lines.unit(line);
        let si = study.value(line) * times;
        Self {
            value: unit.from_si(si),
            unit: unit.text.replace("money", &study.currency),
            text: shown(si, unit, &study.currency, digits),
            address: study.lines.address(line),
        }
    }
}

/// An SI value as shown, money in the study's currency.
pub fn shown(si: f64, unit: &Unit, currency: &str, digits: usize) -> String {
    if unit.dim == Dim::MONEY {
        let currency = unit.currency.map_or_else(|| currency.to_owned(), |c| c.to_string());
        let x = unit.from_si(si);
        return if !x.is_finite() {
            "n/a".to_owned()
        } else if x != 0.0 && x.abs() < 0.1 {
            format!("{} {currency}", show_number(x, 3))
        } else if x.abs() >= 1e5 {
            format!("{x:.0} {currency}")
        } else {
            format!("{x:.2} {currency}")
        };
    }
    show(si, unit, digits).replace("money", currency)
}
