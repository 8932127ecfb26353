//! Dimensions, units and quantity text with spread: parse and print.
//!
//! A bench engineer writes `12.5 +- 0.2 mm`, `12 .. 13 mm` or `15 USD/kg`; this crate turns such text into SI numbers with a
//! spread and back again without losing a bit. Decimal text is multiplied by the exact factor of its unit and rounded once, so
//! `25.4 mm` and `1 in` are the same number.
//!
//! ```
//! use tare_units::{Dim, Quantity, Unit, show};
//! let wall = Quantity::parse("12.5 +- 0.2 mm").unwrap();
//! assert_eq!(wall.value, 0.0125);
//! assert_eq!(wall.standard_uncertainty(), 0.0001); // the written half-width is k = 2
//! assert_eq!(Quantity::parse(&wall.print()).unwrap(), wall);
//! assert_eq!(show(wall.value, &Unit::parse("in").unwrap(), 3), "0.492 in");
//!
//! let kilogram = Unit::parse("kg").unwrap();
//! let wrong = Quantity::parse_as("12 mm", &kilogram).unwrap_err();
//! assert_eq!(wrong.message, "found a length (`12 mm`) where a mass is due");
//! assert_eq!(Unit::parse("W/(m*K)").unwrap().dim, Dim::MASS.mul(Dim::LENGTH).div(Dim::TIME.pow(3.into())).div(Dim::TEMPERATURE));
//! ```
//!
//! - [`Dim`] and [`Ratio`]: exact rational exponents over the seven SI bases and money.
//! - [`Unit`] and [`units`]: unit expressions and the table behind them; [`Currency`]: an opaque code.
//! - [`Quantity`], [`Spread`], [`Width`]: value text.
//! - [`show`], [`group`], [`name_of`]: words and numbers for people.
//!
//! It does not convert currencies, accept decimal commas (import does), or know which quantity belongs to which part.

mod dim;
mod error;
mod exact;
mod expression;
mod name;
mod number;
mod number_text;
mod quantity;
mod ratio;
mod show;
mod table;
mod unit;
mod value_text;

pub use dim::Dim;
pub use error::{QuantityError, TextError, UnitError};
pub use name::name_of;
pub use quantity::{Quantity, Spread};
pub use ratio::Ratio;
pub use show::{group, show, show_number};
pub use table::{UnitInfo, units};
pub use unit::{Currency, Unit};
pub use value_text::Width;
