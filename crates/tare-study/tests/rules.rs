//! The rules of costing and timing, with their traps, each held at the level of a whole study.
//!
//! One test per rule, named after it. Figures are the rules' own arithmetic (common practice unless a source is named beside the
//! test). Where a process is needed, a tiny one of the test's own is laid over the library (`rules/files.rs`).

mod rules {
    mod bench;
    mod circles;
    mod constituents;
    mod files;
    mod freight;
    mod held;
    mod holds;
    mod line;
    mod machine;
    mod markups;
    mod mass;
    mod material;
    mod money;
    mod places;
    mod rates;
    mod readings;
    mod scenario;
    mod screws;
    mod setup;
    mod share;
    mod states;
    mod table;
    mod time;
    mod tools;
    mod uncertainty;
    mod volume;
    mod words;
}
