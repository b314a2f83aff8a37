//! Secrets that live outside the database: the key-encryption key and the token-signing seed.
//!
//! Promises that a private key is stored only sealed (XChaCha20-Poly1305), so that a dump of the
//! database signs nothing. Refuses a key file that others may read.

use crate::ids::{NoRandomBytes, random_bytes};
use chacha20poly1305::{
    KeyInit as _, XChaCha20Poly1305, XNonce,
    aead::{Aead as _, Payload},
};
use std::path::Path;

/// Why a secret cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum SecretError {
    /// The file cannot be read.
    #[error("the key file {0} cannot be read")]
    Unreadable(String, #[source] std::io::Error),
    /// Group or others may read it.
    #[error("the key file {0} may be read by others: set its mode to 0600")]
    TooOpen(String),
    /// It does not hold 32 bytes in hex.
    #[error("the key file {0} does not hold 32 bytes in hex")]
    NotASeed(String),
    /// What was sealed does not open under this key.
    #[error("a sealed key does not open: this is not the key that it was sealed under")]
    DoesNotOpen,
    /// Sealing failed.
    #[error("a key could not be sealed")]
    DoesNotSeal,
    /// No random bytes for the nonce.
    #[error(transparent)]
    NoRandomBytes(#[from] NoRandomBytes),
}

/// 32 secret bytes.
#[derive(Clone)]
pub struct Seed([u8; 32]);

impl std::fmt::Debug for Seed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Seed(…)")
    }
}

impl Seed {
    /// A seed of these bytes.
    #[must_use]
    pub const fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The bytes.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Reads 32 bytes in hex from a file that only its owner may read.
    ///
    /// # Errors
    /// [`SecretError`].
    pub fn from_file(path: &Path) -> Result<Self, SecretError> {
        let name = path.display().to_string();
        let unreadable = |error| SecretError::Unreadable(name.clone(), error);
        if is_open_to_others(&std::fs::metadata(path).map_err(unreadable)?) {
            return Err(SecretError::TooOpen(name));
        }
        let text = std::fs::read_to_string(path).map_err(unreadable)?;
        from_hex(text.trim())
            .map(Self)
            .ok_or(SecretError::NotASeed(name))
    }

    /// Seals a private key; `name` binds it to its place.
    ///
    /// # Errors
    /// [`SecretError::DoesNotSeal`] or [`SecretError::NoRandomBytes`].
    pub fn seal(&self, name: &str, secret: &[u8; 32]) -> Result<Vec<u8>, SecretError> {
        let nonce = random_bytes::<24>()?;
        let payload = Payload {
            msg: secret,
            aad: name.as_bytes(),
        };
        let sealed = XChaCha20Poly1305::new(&self.0.into())
            .encrypt(&XNonce::from(nonce), payload)
            .map_err(|_opaque| SecretError::DoesNotSeal)?;
        Ok([nonce.as_slice(), &sealed].concat())
    }

    /// Opens what [`Seed::seal`] sealed under the same name.
    ///
    /// # Errors
    /// [`SecretError::DoesNotOpen`].
    pub fn open(&self, name: &str, sealed: &[u8]) -> Result<[u8; 32], SecretError> {
        let (nonce, sealed) = sealed
            .split_first_chunk::<24>()
            .ok_or(SecretError::DoesNotOpen)?;
        let payload = Payload {
            msg: sealed,
            aad: name.as_bytes(),
        };
        XChaCha20Poly1305::new(&self.0.into())
            .decrypt(&XNonce::from(*nonce), payload)
            .ok()
            .and_then(|secret| secret.try_into().ok())
            .ok_or(SecretError::DoesNotOpen)
    }
}

#[cfg(unix)]
fn is_open_to_others(metadata: &std::fs::Metadata) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    // A secret that a container mounts belongs to somebody else and is read by its group.
    metadata.mode() & 0o007 != 0
}

#[cfg(not(unix))]
fn is_open_to_others(_: &std::fs::Metadata) -> bool {
    false
}

fn from_hex(text: &str) -> Option<[u8; 32]> {
    let bytes: Option<Vec<u8>> = text
        .as_bytes()
        .chunks(2)
        .map(|pair| {
            let pair = std::str::from_utf8(pair).ok()?;
            (pair.len() == 2)
                .then(|| u8::from_str_radix(pair, 16).ok())
                .flatten()
        })
        .collect();
    bytes?.try_into().ok()
}
