//! The library that ships with Tare: calculations, quantities, materials, fasteners and illustrative rate books.
//!
//! [`Library::embedded`] reads what the program carries; [`Library::with_own`] lays a user's own files over it. Every value keeps its
//! source. [`verify()`] runs the published checks that stand in the calculations.
//!
//! ```
//! let (library, problems) = tare_library::Library::embedded();
//! assert!(problems.is_empty(), "{problems:?}");
//! assert!(library.quantity("mass").is_some());
//! ```
//!
//! It reads no files at run time: a face hands in the text of a user's own library.

mod book;
mod fastener;
mod function;
mod load;
mod material;
mod memo;
mod quantity;
mod read;
mod recipe;
mod verify;

pub use book::{Book, RateEntry};
pub use fastener::{Fastener, Piece};
pub use function::{Function, Functions, Interface};
pub use load::Library;
pub use material::{Material, Property};
pub use quantity::QuantityDef;
pub use recipe::{Reach, Recipe};
pub use verify::{Coverage, coverage, verify};
