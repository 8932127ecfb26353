//! Time and new identifiers: the only place that asks the machine for them.

use tare_model::Id;

/// The present moment as RFC 3339 text in universal time, to the second.
pub fn now() -> String {
    let second = jiff::Timestamp::from_second(jiff::Timestamp::now().as_second()).unwrap_or_default();
    second.to_string()
}

/// Today's date in universal time, such as `2026-03-02`.
pub fn today() -> String {
    now().chars().take(10).collect()
}

/// A new identifier: sorted by time, unique without asking anybody.
pub fn new_id() -> Id {
    Id(uuid::Uuid::now_v7().as_u128())
}
