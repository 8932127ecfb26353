//! Ideas while the study under them moves: how their edits fit, variants that follow their parent, reasons that stay.

mod bench;
mod fitting;
mod variants;
