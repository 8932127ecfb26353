//! Journals, snapshots and blobs in a workspace folder.
