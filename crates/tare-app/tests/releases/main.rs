//! Releases: computed again bit for bit whatever changed since, or a plain reason why not.

mod bench;
mod kept;
mod made;
mod reproduced;
mod walked;
