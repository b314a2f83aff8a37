//! Ed25519 keys (RFC 8032), named by their thumbprint (RFC 7638).
//!
//! Promises strict verification: S below the group order, points in their one encoding, no key or
//! nonce of small order, so that no signature has a second form that also verifies. Refuses a key
//! that is not such a point. A public key is always computed from its seed, never handed in beside.

use super::canonical::{self, CanonicalError};
use super::hash::Hash;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use serde_json::Value;

/// Why a key or a signature is refused.
#[derive(Debug, thiserror::Error)]
pub enum KeyError {
    /// Not 32 bytes.
    #[error("a public key has 32 bytes, not {0}")]
    Length(usize),
    /// No point of the curve, not in its canonical encoding, or of small order.
    #[error("the bytes are no public key of Ed25519 that can be relied on")]
    NotAKey,
    /// A JWK of another kind, or with a member missing or malformed.
    #[error("the JWK is not an Ed25519 public key (kty OKP, crv Ed25519, x)")]
    NotAJwk,
    /// The signature does not verify.
    #[error("the signature does not verify")]
    Signature,
}

/// A public key that signatures are checked with.
///
/// ```
/// use domain::ledger::{PublicKey, SecretKey};
/// let secret = SecretKey::from_seed(&[7; 32]);
/// let signature = secret.sign(b"text");
/// secret.public().verify(b"text", &signature)?;
/// assert!(secret.public().verify(b"other text", &signature).is_err());
/// assert!(PublicKey::from_bytes(&[0; 32]).is_err());
/// # Ok::<(), domain::ledger::key::KeyError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PublicKey(VerifyingKey);

impl PublicKey {
    /// A key from its 32 bytes.
    ///
    /// # Errors
    /// [`KeyError::Length`] or [`KeyError::NotAKey`].
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, KeyError> {
        let bytes: &[u8; 32] = bytes.try_into().ok().ok_or(KeyError::Length(bytes.len()))?;
        let key = VerifyingKey::from_bytes(bytes)
            .ok()
            .ok_or(KeyError::NotAKey)?;
        // RFC 8032 5.1.3 refuses a y of the field's prime or above; the library reduces it.
        if key.is_weak() || key.to_edwards().compress().as_bytes() != bytes {
            return Err(KeyError::NotAKey);
        }
        Ok(Self(key))
    }

    /// A key from a JWK (RFC 8037 2); members beside `kty`, `crv` and `x` are not looked at.
    ///
    /// # Errors
    /// [`KeyError::NotAJwk`] or [`KeyError::NotAKey`].
    pub fn from_jwk(jwk: &Value) -> Result<Self, KeyError> {
        let text = |name: &str| jwk.get(name).and_then(Value::as_str);
        match (text("kty"), text("crv"), text("x")) {
            (Some("OKP"), Some("Ed25519"), Some(x)) => {
                let bytes = URL_SAFE_NO_PAD.decode(x).ok().ok_or(KeyError::NotAJwk)?;
                Self::from_bytes(&bytes)
            }
            _ => Err(KeyError::NotAJwk),
        }
    }

    /// The 32 bytes.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8; 32] {
        self.0.as_bytes()
    }

    /// The JWK with its three required members.
    #[must_use]
    pub fn to_jwk(&self) -> Value {
        serde_json::json!({
            "crv": "Ed25519",
            "kty": "OKP",
            "x": URL_SAFE_NO_PAD.encode(self.as_bytes()),
        })
    }

    /// The key's name: its RFC 7638 thumbprint in base64url.
    #[must_use]
    pub fn kid(&self) -> String {
        let x = URL_SAFE_NO_PAD.encode(self.as_bytes());
        let members = format!(r#"{{"crv":"Ed25519","kty":"OKP","x":"{x}"}}"#);
        URL_SAFE_NO_PAD.encode(Hash::of(members.as_bytes()).0)
    }

    /// Checks a signature strictly.
    ///
    /// # Errors
    /// [`KeyError::Signature`], also where it is not 64 bytes long.
    pub fn verify(&self, message: &[u8], signature: &[u8]) -> Result<(), KeyError> {
        Signature::from_slice(signature)
            .and_then(|signature| self.0.verify_strict(message, &signature))
            .ok()
            .ok_or(KeyError::Signature)
    }
}

/// A secret key with its name at hand, so that signing an act computes neither again.
#[derive(Clone)]
pub struct SecretKey {
    signing: SigningKey,
    public: PublicKey,
    kid: String,
}

impl SecretKey {
    /// The key of a 32-byte seed (RFC 8032 5.1.5).
    #[must_use]
    pub fn from_seed(seed: &[u8; 32]) -> Self {
        Self::from(SigningKey::from_bytes(seed))
    }

    /// Signs; the same message always gets the same 64 bytes.
    #[must_use]
    pub fn sign(&self, message: &[u8]) -> [u8; 64] {
        self.signing.sign(message).to_bytes()
    }

    /// The public half.
    #[must_use]
    pub const fn public(&self) -> &PublicKey {
        &self.public
    }

    /// The key's name, its RFC 7638 thumbprint.
    #[must_use]
    pub fn kid(&self) -> &str {
        &self.kid
    }
}

impl From<SigningKey> for SecretKey {
    fn from(signing: SigningKey) -> Self {
        let public = PublicKey(signing.verifying_key());
        let kid = public.kid();
        Self {
            signing,
            public,
            kid,
        }
    }
}

impl std::fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "SecretKey({})", self.kid)
    }
}

/// The RFC 7638 thumbprint of the required members of a JWK of any kind.
///
/// # Errors
/// [`CanonicalError`], where the members have no canonical form.
pub fn thumbprint(required_members: &Value) -> Result<String, CanonicalError> {
    let bytes = canonical::to_bytes(required_members)?;
    Ok(URL_SAFE_NO_PAD.encode(Hash::of(&bytes).0))
}
