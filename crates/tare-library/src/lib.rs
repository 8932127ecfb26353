//! The library that ships with Tare, user overrides, and its published checks.
