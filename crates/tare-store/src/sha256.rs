//! Content addresses.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::Digest as _;
use std::fmt;
use std::str::FromStr;

/// The SHA-256 (FIPS 180-4) of some content; its name in the store.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Sha256(pub [u8; 32]);

impl Sha256 {
    /// Computes the address of `bytes`.
    pub fn of(bytes: &[u8]) -> Self {
        Self(sha2::Sha256::digest(bytes).into())
    }
}

impl fmt::Display for Sha256 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Sha256 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Sha256 {
    type Err = String;

    /// Reads 64 hexadecimal digits.
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || "expected 64 hexadecimal digits".to_string();
        if text.len() != 64 || !text.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let mut bytes = [0; 32];
        for (byte, at) in bytes.iter_mut().zip((0..64).step_by(2)) {
            *byte = u8::from_str_radix(&text[at..at + 2], 16).map_err(|_| wrong())?;
        }
        Ok(Self(bytes))
    }
}

impl Serialize for Sha256 {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Sha256 {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_published_example() {
        // NIST, "SHA-256 example (one block)" to FIPS 180-4: the message "abc" (from memory).
        let abc = Sha256::of(b"abc");
        assert_eq!(abc.to_string(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(abc.to_string().parse(), Ok(abc));
        assert!("ba78".parse::<Sha256>().is_err());
        assert!("é".repeat(32).parse::<Sha256>().is_err());
        assert!("+1".repeat(32).parse::<Sha256>().is_err());
    }
}
