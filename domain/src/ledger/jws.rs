//! Compact JWS (RFC 7515) with Ed25519 signatures (RFC 8037, RFC 9864), attached or detached.
//!
//! Writes `alg` `EdDSA`; accepts `EdDSA` and `Ed25519` and nothing else. Refuses padding and spare
//! bits in base64url, a header with a name given twice, and extensions it does not know (`crit`).
//! A key is never taken from the header.

use super::canonical;
use super::key::{KeyError, PublicKey, SecretKey};
use super::strict_json::{self, StrictJsonError};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde_json::{Map, Value};

/// Why a JWS is refused.
#[derive(Debug, thiserror::Error)]
pub enum JwsError {
    /// Not three parts with dots between them, or a payload where none is due.
    #[error("not a compact JWS of three parts")]
    Parts,
    /// A part is not base64url without padding and spare bits.
    #[error("a part is not base64url without padding")]
    Base64(#[source] base64::DecodeError),
    /// The header is no strict JSON.
    #[error("the header is no strict JSON")]
    Header(#[source] StrictJsonError),
    /// The header is not the one that is due.
    #[error("the header {0}")]
    HeaderMembers(&'static str),
    /// The signature is not 64 bytes long.
    #[error("a signature has 64 bytes")]
    SignatureLength,
    /// The signature does not verify.
    #[error("the signature of the JWS is refused")]
    Signature(#[source] KeyError),
}

/// A compact JWS taken apart; not yet verified.
#[derive(Debug, Clone)]
pub struct Jws<'a> {
    signed: &'a str,
    header_bytes: Vec<u8>,
    header: Map<String, Value>,
    payload: Vec<u8>,
    signature: [u8; 64],
}

impl<'a> Jws<'a> {
    /// Takes a compact JWS apart.
    ///
    /// # Errors
    /// [`JwsError`], for whatever is not in its one form.
    ///
    /// ```
    /// use domain::ledger::{jws::{self, Jws}, SecretKey};
    /// let key = SecretKey::from_seed(&[7; 32]);
    /// let compact = jws::sign(r#"{"alg":"EdDSA"}"#, b"payload", &key);
    /// let read = Jws::parse(&compact)?;
    /// assert_eq!(read.payload(), b"payload");
    /// read.verify(key.public())?;
    /// assert!(Jws::parse("a.b").is_err());
    /// # Ok::<(), jws::JwsError>(())
    /// ```
    pub fn parse(compact: &'a str) -> Result<Self, JwsError> {
        let (signed, signature) = compact.rsplit_once('.').ok_or(JwsError::Parts)?;
        let (header, payload) = signed.split_once('.').ok_or(JwsError::Parts)?;
        if payload.contains('.') {
            return Err(JwsError::Parts);
        }
        let header_bytes = decode(header)?;
        let Value::Object(header) = strict_json::read(&header_bytes).map_err(JwsError::Header)?
        else {
            return Err(JwsError::HeaderMembers("is no JSON object"));
        };
        Ok(Self {
            signed,
            header_bytes,
            header,
            payload: decode(payload)?,
            signature: decode(signature)?
                .try_into()
                .ok()
                .ok_or(JwsError::SignatureLength)?,
        })
    }

    /// The payload's bytes.
    #[must_use]
    pub fn payload(&self) -> &[u8] {
        &self.payload
    }

    /// A text member of the header.
    #[must_use]
    pub fn header_text(&self, name: &str) -> Option<&str> {
        self.header.get(name).and_then(Value::as_str)
    }

    /// The key's name, where the header is exactly `alg`, `kid` and this `typ`, in canonical form.
    ///
    /// # Errors
    /// [`JwsError::HeaderMembers`].
    pub fn strict_header(&self, typ: &str) -> Result<&str, JwsError> {
        self.check_algorithm()?;
        let kid = self
            .header_text("kid")
            .ok_or(JwsError::HeaderMembers("names no key (kid)"))?;
        if self.header_text("typ") != Some(typ) {
            return Err(JwsError::HeaderMembers("has another typ"));
        }
        if self.header.len() != 3 {
            return Err(JwsError::HeaderMembers(
                "has other members than alg, kid and typ",
            ));
        }
        if !canonical::is_canonical(&self.header_bytes) {
            return Err(JwsError::HeaderMembers("is not in canonical form"));
        }
        Ok(kid)
    }

    /// Checks the signature by a key that was found elsewhere.
    ///
    /// # Errors
    /// [`JwsError::HeaderMembers`] for another algorithm or an extension,
    /// [`JwsError::Signature`] where the signature is not the key's.
    pub fn verify(&self, key: &PublicKey) -> Result<(), JwsError> {
        self.check_algorithm()?;
        if self.header.contains_key("crit") || self.header.contains_key("b64") {
            return Err(JwsError::HeaderMembers("asks for an extension (crit)"));
        }
        key.verify(self.signed.as_bytes(), &self.signature)
            .map_err(JwsError::Signature)
    }

    fn check_algorithm(&self) -> Result<(), JwsError> {
        match self.header_text("alg") {
            Some("EdDSA" | "Ed25519") => Ok(()),
            _ => Err(JwsError::HeaderMembers(
                "has another alg than EdDSA or Ed25519",
            )),
        }
    }
}

/// Signs a payload under a header that is given as JSON text.
#[must_use]
pub fn sign(header: &str, payload: &[u8], key: &SecretKey) -> String {
    let mut compact = String::with_capacity((header.len() + payload.len()) * 4 / 3 + 96);
    URL_SAFE_NO_PAD.encode_string(header, &mut compact);
    compact.push('.');
    URL_SAFE_NO_PAD.encode_string(payload, &mut compact);
    let signature = key.sign(compact.as_bytes());
    compact.push('.');
    URL_SAFE_NO_PAD.encode_string(signature, &mut compact);
    compact
}

/// The header of everything that is signed here: `alg`, `kid`, `typ`, in canonical form.
pub(crate) fn header(typ: &str, key: &SecretKey) -> String {
    format!(r#"{{"alg":"EdDSA","kid":"{}","typ":"{typ}"}}"#, key.kid())
}

/// Signs a payload that travels beside its signature (RFC 7797, `b64` false): `header..signature`.
///
/// ```
/// use domain::ledger::{jws, SecretKey};
/// let key = SecretKey::from_seed(&[7; 32]);
/// let detached = jws::sign_detached(b"body", &key);
/// jws::verify_detached(&detached, b"body", key.public())?;
/// assert!(jws::verify_detached(&detached, b"another body", key.public()).is_err());
/// # Ok::<(), jws::JwsError>(())
/// ```
#[must_use]
pub fn sign_detached(payload: &[u8], key: &SecretKey) -> String {
    let header = format!(
        r#"{{"alg":"EdDSA","b64":false,"crit":["b64"],"kid":"{}"}}"#,
        key.kid()
    );
    let mut compact = URL_SAFE_NO_PAD.encode(header);
    let signature = key.sign(&detached_input(&compact, payload));
    compact.push_str("..");
    URL_SAFE_NO_PAD.encode_string(signature, &mut compact);
    compact
}

/// Checks a detached JWS (RFC 7797) against the payload that came beside it.
///
/// # Errors
/// [`JwsError`].
pub fn verify_detached(compact: &str, payload: &[u8], key: &PublicKey) -> Result<(), JwsError> {
    let (protected, signature) = compact.split_once("..").ok_or(JwsError::Parts)?;
    let header = strict_json::read(&decode(protected)?).map_err(JwsError::Header)?;
    if !matches!(
        header.get("alg").and_then(Value::as_str),
        Some("EdDSA" | "Ed25519")
    ) {
        return Err(JwsError::HeaderMembers(
            "has another alg than EdDSA or Ed25519",
        ));
    }
    if header.get("b64") != Some(&Value::Bool(false))
        || header.get("crit") != Some(&serde_json::json!(["b64"]))
    {
        return Err(JwsError::HeaderMembers(
            "is not that of an unencoded payload (b64, crit)",
        ));
    }
    let signature = decode(signature)?;
    key.verify(&detached_input(protected, payload), &signature)
        .map_err(JwsError::Signature)
}

fn detached_input(protected: &str, payload: &[u8]) -> Vec<u8> {
    let mut input = Vec::with_capacity(protected.len() + 1 + payload.len());
    input.extend_from_slice(protected.as_bytes());
    input.push(b'.');
    input.extend_from_slice(payload);
    input
}

fn decode(part: &str) -> Result<Vec<u8>, JwsError> {
    URL_SAFE_NO_PAD.decode(part).map_err(JwsError::Base64)
}
