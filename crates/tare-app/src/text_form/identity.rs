//! Identifiers made from names.

use sha2::{Digest, Sha256};
use tare_model::Id;

/// The identifier of a record of a set of files: the same names give the same identifier, on every machine.
pub fn id_of(set: &str, path: &str) -> Id {
    let mut hash = Sha256::new();
    hash.update(set.as_bytes());
    hash.update([0]);
    hash.update(path.as_bytes());
    let digest = hash.finalize();
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&digest[..16]);
    Id(u128::from_be_bytes(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_decide_and_their_border_counts() {
        assert_eq!(id_of("demo", "item.cover"), id_of("demo", "item.cover"));
        assert_ne!(id_of("demo", "item.cover"), id_of("demo", "part.cover"));
        assert_ne!(id_of("ab", "c"), id_of("a", "bc"));
    }
}
