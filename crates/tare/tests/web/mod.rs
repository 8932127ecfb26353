//! What the tests of the pages share: the browser, the server and a client of its interface.
#![allow(dead_code)]

pub(crate) mod checks;
pub(crate) mod driver;
mod hands;
pub(crate) mod relay;
pub(crate) mod server;
pub(crate) mod wire;
