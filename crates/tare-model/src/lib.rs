//! Documents, records, values, and the edits that change them.
