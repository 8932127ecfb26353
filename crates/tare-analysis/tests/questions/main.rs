//! Facts of studies, questions over them, and rules.

mod bench;
mod facts;
mod generated;
mod messages;
mod plain;
mod question;
mod rules;
