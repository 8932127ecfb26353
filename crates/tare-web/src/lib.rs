//! Bench and desk: pages for the browser on this machine and, when asked, for tablets on the shop's network.
//!
//! - [`serve`]: listens and answers until it is stopped.
//! - `api`: JSON under the pages: the same edits and analyses as the command line has, described by `/api/openapi.json`.
//! - `page`: pages, printed on the server; small modules in `assets/` add the parts grid, the bench, call-outs and live changes.
//! - `guard`: who may ask for what, and which headers every answer carries.
//!
//! Handlers run on blocking threads: they read a study as it is now ([`tare_app::live`]) and never wait for a computation. Nothing is loaded from
//! the network, and no page holds a script or style of its own.

mod answer;
mod api;
mod assets;
mod guard;
pub mod labels;
mod page;
mod serve;
mod state;

pub use serve::{Config, serve};
