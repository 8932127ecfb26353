//! The four kinds of file, each turned into sheets of raw cells.

pub(crate) mod compound;
pub(crate) mod encoding;
pub(crate) mod format;
pub(crate) mod ods;
pub(crate) mod package;
pub(crate) mod text;
pub(crate) mod xls;
pub(crate) mod xlsx;
pub(crate) mod xml;
