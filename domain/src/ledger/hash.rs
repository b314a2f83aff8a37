//! SHA-256 as the ledger uses it: leaves and nodes told apart by their first byte (RFC 9162 2.1.1).
//!
//! Promises 64 lower-case hex digits as the one text of a hash; refuses any other.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest, Sha256};

/// A SHA-256 hash; its text is 64 lower-case hex digits.
///
/// ```
/// use domain::ledger::Hash;
/// let empty = Hash::of(b"");
/// assert!(empty.to_string().starts_with("e3b0c44298fc1c14")); // FIPS 180-4, empty message
/// assert_eq!(empty.to_string().parse::<Hash>()?, empty);
/// assert!(empty.to_string().to_uppercase().parse::<Hash>().is_err());
/// # Ok::<(), domain::ledger::hash::HashError>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Hash(pub [u8; 32]);

/// Why a text or a slice is no hash.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HashError {
    /// Not 64 lower-case hex digits.
    #[error("a hash is 64 lower-case hex digits")]
    NotHex,
    /// Not 32 bytes.
    #[error("a hash has 32 bytes, not {0}")]
    Length(usize),
}

impl Hash {
    /// SHA-256 of the bytes, without any prefix.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// The hash of a leaf: SHA-256(0x00 || data), RFC 9162 2.1.1. A record's hash is one.
    ///
    /// ```
    /// use domain::ledger::Hash;
    /// // the empty leaf of the published reference tree of RFC 6962 implementations
    /// assert!(Hash::of_leaf(b"").to_string().starts_with("6e340b9cffb37a98"));
    /// ```
    #[must_use]
    pub fn of_leaf(data: &[u8]) -> Self {
        let mut hasher = Sha256::new();
        hasher.update([0]);
        hasher.update(data);
        Self(hasher.finalize().into())
    }

    /// The hash of a node: SHA-256(0x01 || left || right), RFC 9162 2.1.1.
    #[must_use]
    pub fn of_node(left: &Self, right: &Self) -> Self {
        let mut hasher = Sha256::new();
        hasher.update([1]);
        hasher.update(left.0);
        hasher.update(right.0);
        Self(hasher.finalize().into())
    }

    /// The bytes.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// A hash that was kept as bytes.
    ///
    /// # Errors
    /// [`HashError::Length`] unless there are 32.
    pub fn from_slice(bytes: &[u8]) -> Result<Self, HashError> {
        bytes
            .try_into()
            .map(Self)
            .ok()
            .ok_or(HashError::Length(bytes.len()))
    }
}

impl std::fmt::Display for Hash {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut digits = [0; 64];
        for (pair, byte) in digits.chunks_exact_mut(2).zip(self.0) {
            pair.copy_from_slice(&[digit(byte >> 4), digit(byte & 0x0f)]);
        }
        f.write_str(std::str::from_utf8(&digits).unwrap_or_default())
    }
}

impl std::fmt::Debug for Hash {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Hash({self})")
    }
}

impl std::str::FromStr for Hash {
    type Err = HashError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let digits = text.as_bytes();
        if digits.len() != 64 {
            return Err(HashError::NotHex);
        }
        let mut bytes = [0; 32];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
            let &[high, low] = pair else {
                return Err(HashError::NotHex);
            };
            *byte = nibble(high)? * 16 + nibble(low)?;
        }
        Ok(Self(bytes))
    }
}

const fn digit(nibble: u8) -> u8 {
    match nibble {
        0..=9 => b'0' + nibble,
        _ => b'a' + nibble - 10,
    }
}

fn nibble(digit: u8) -> Result<u8, HashError> {
    match digit {
        b'0'..=b'9' => Ok(digit - b'0'),
        b'a'..=b'f' => Ok(digit - b'a' + 10),
        _ => Err(HashError::NotHex),
    }
}

impl Serialize for Hash {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Hash {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}
