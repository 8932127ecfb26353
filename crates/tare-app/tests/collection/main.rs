//! All studies at once: clients stay apart, what is kept is only a cache, and a wrong question is told all that is wrong with it.

mod clients;
mod kept;
mod questions;
mod shelf;
