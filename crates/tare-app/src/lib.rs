//! Use cases: open, compile, cache, import, report, verify.
