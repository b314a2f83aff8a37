//! A certificate as it is signed: an SD-JWT (RFC 9901) over its payload.
//!
//! Promises that names and free text can be erased without touching the signature, and that results
//! always stand in clear. Refuses every form but the one written here, key binding included.

use super::canonical::{self, CanonicalError};
use super::disclosure::{self, Disclosure, DisclosureError};
use super::hash::Hash;
use super::jws::{self, Jws, JwsError};
use super::key::{PublicKey, SecretKey};
use super::members::{MemberError, Members};
use crate::id::{CertificateId, LaboratoryId};
use serde_json::Value;

/// What the header of a certificate's JWS says it is.
pub const TYP: &str = "assize-certificate+sd-jwt";

/// Names that are never disclosed, because what they name always stands in clear.
const ALWAYS_IN_CLEAR: [&str; 14] = [
    "analyte",
    "decision",
    "decisions",
    "iat",
    "iss",
    "jti",
    "laboratory",
    "limit",
    "number",
    "replaces",
    "results",
    "uncertainty",
    "unit",
    "value",
];

/// Why a certificate is refused.
#[derive(Debug, thiserror::Error)]
pub enum CertificateError {
    /// Not `<JWS>~<disclosure>~…~`.
    #[error("not a JWS and disclosures, each followed by ~")]
    Form,
    /// The JWS is not as it should be.
    #[error("the certificate is no JWS of a certificate")]
    Jws(#[source] JwsError),
    /// The payload is not canonical.
    #[error("the certificate's payload is not canonical")]
    Canonical(#[source] CanonicalError),
    /// The payload lacks a member or has it in another form.
    #[error("the certificate's payload is not as it should be")]
    Payload(#[source] MemberError),
    /// A disclosure or digest is not as it should be.
    #[error("the certificate's disclosures are not as they should be")]
    Disclosure(#[source] DisclosureError),
    /// The disclosures are not in the order of their digests.
    #[error("the disclosures are not in the order of their digests")]
    Order,
    /// Something that always stands in clear is disclosed.
    #[error("\"{0}\" is disclosed and should stand in clear")]
    NotInClear(String),
    /// A control character, which could deceive a reader.
    #[error("the certificate has a control character")]
    ControlCharacter,
}

/// A certificate taken apart and checked for its form; its signature is not yet verified.
///
/// ```
/// use domain::ledger::{certificate::{self, ReadCertificate}, SecretKey};
/// let payload = serde_json::json!({
///     "iat": 1_772_359_200, "iss": "https://records.example",
///     "jti": "019ca869-5007-7d17-ae69-a1b67666e970",
///     "laboratory": "019ca869-5000-76a3-a0ec-7b3041d8cea3",
///     "number": "Q-2026-000001", "results": [{"analyte": "aflatoxin-total"}],
/// });
/// let key = SecretKey::from_seed(&[7; 32]);
/// let jws = certificate::sign(&payload, &key)?;
/// let text = certificate::assemble(&jws, &[]);
/// let read = ReadCertificate::parse(&text)?;
/// assert_eq!(read.number, "Q-2026-000001");
/// read.verify(key.public())?;
/// let hidden = serde_json::json!({"results": []});
/// assert!(certificate::sign(&hidden, &key).is_err());
/// # Ok::<(), certificate::CertificateError>(())
/// ```
#[derive(Debug)]
pub struct ReadCertificate<'a> {
    /// The certificate's id, its record's subject.
    pub id: CertificateId,
    /// Its number.
    pub number: String,
    /// Its laboratory.
    pub laboratory: LaboratoryId,
    /// When it was issued, in seconds since 1970 (RFC 7519 NumericDate).
    pub issued_at: u64,
    /// The payload with the disclosures that are left put back.
    pub payload: Value,
    /// The disclosures that are left.
    pub disclosures: Vec<Disclosure>,
    /// Digests without a disclosure: erased, or withheld by whoever handed this on.
    pub missing: Vec<String>,
    /// The thumbprint of the key that its header names.
    pub kid: String,
    jws_text: &'a str,
    jws: Jws<'a>,
}

impl<'a> ReadCertificate<'a> {
    /// Takes a certificate apart.
    ///
    /// # Errors
    /// [`CertificateError`].
    pub fn parse(text: &'a str) -> Result<Self, CertificateError> {
        let parts = text.strip_suffix('~').ok_or(CertificateError::Form)?;
        let mut parts = parts.split('~');
        let jws_text = parts.next().ok_or(CertificateError::Form)?;
        let jws = Jws::parse(jws_text).map_err(CertificateError::Jws)?;
        let kid = jws
            .strict_header(TYP)
            .map_err(CertificateError::Jws)?
            .to_owned();
        let signed = canonical::read(jws.payload()).map_err(CertificateError::Canonical)?;
        let read = Payload::read(&signed)?;
        let disclosures = parts
            .map(Disclosure::parse)
            .collect::<Result<Vec<_>, _>>()
            .map_err(CertificateError::Disclosure)?;
        disclosures.iter().try_for_each(check_disclosed)?;
        let mut payload = signed;
        let missing =
            disclosure::reveal(&mut payload, &disclosures).map_err(CertificateError::Disclosure)?;
        if !disclosures.is_sorted_by(|a, b| a.digest() < b.digest()) {
            return Err(CertificateError::Order);
        }
        Ok(Self {
            id: read.id,
            number: read.number,
            laboratory: read.laboratory,
            issued_at: read.issued_at,
            payload,
            disclosures,
            missing,
            kid,
            jws_text,
            jws,
        })
    }

    /// SHA-256 of the JWS's ASCII: what the certificate's record holds.
    #[must_use]
    pub fn jws_hash(&self) -> Hash {
        Hash::of(self.jws_text.as_bytes())
    }

    /// The JWS without its disclosures.
    #[must_use]
    pub const fn jws_text(&self) -> &str {
        self.jws_text
    }

    /// Checks the signature.
    ///
    /// # Errors
    /// [`CertificateError::Jws`].
    pub fn verify(&self, key: &PublicKey) -> Result<(), CertificateError> {
        self.jws.verify(key).map_err(CertificateError::Jws)
    }
}

struct Payload {
    id: CertificateId,
    number: String,
    laboratory: LaboratoryId,
    issued_at: u64,
}

impl Payload {
    fn read(payload: &Value) -> Result<Self, CertificateError> {
        const REQUIRED: [&str; 6] = ["iat", "iss", "jti", "laboratory", "number", "results"];
        let refuse = CertificateError::Payload;
        let members = Members::open(payload, &REQUIRED).map_err(refuse)?;
        if payload.get("_sd_alg").is_some() {
            return Err(refuse(MemberError::Unknown("_sd_alg".to_owned())));
        }
        if canonical::has_control_characters(payload) {
            return Err(CertificateError::ControlCharacter);
        }
        members.text("iss").map_err(refuse)?;
        members
            .optional("replaces", Members::text)
            .map_err(refuse)?;
        members
            .form("results", "a list of one result and more", |value| {
                let results = value.as_array()?;
                (!results.is_empty() && results.iter().all(Value::is_object)).then_some(())
            })
            .map_err(refuse)?;
        Ok(Self {
            id: members.id("jti").map_err(refuse)?.into(),
            number: members.text("number").map_err(refuse)?.to_owned(),
            laboratory: members.id("laboratory").map_err(refuse)?.into(),
            issued_at: members.whole("iat").map_err(refuse)?,
        })
    }
}

fn check_disclosed(disclosure: &Disclosure) -> Result<(), CertificateError> {
    if ALWAYS_IN_CLEAR.contains(&disclosure.name()) || !is_textual(disclosure.value()) {
        return Err(CertificateError::NotInClear(disclosure.name().to_owned()));
    }
    Ok(())
}

/// Names, addresses and free text are texts, or lists and objects of texts.
fn is_textual(value: &Value) -> bool {
    match value {
        Value::String(_) => true,
        Value::Array(elements) => elements.iter().all(is_textual),
        Value::Object(members) => members
            .iter()
            .all(|(name, member)| !ALWAYS_IN_CLEAR.contains(&name.as_str()) && is_textual(member)),
        Value::Null | Value::Bool(_) | Value::Number(_) => false,
    }
}

/// Signs a payload whose personal members were concealed before; the result never changes.
///
/// # Errors
/// [`CertificateError`], for a payload that could not be read back.
pub fn sign(payload: &Value, key: &SecretKey) -> Result<String, CertificateError> {
    Payload::read(payload)?;
    // Reading would refuse digests in another form than is written here; so does signing.
    disclosure::reveal(&mut payload.clone(), &[]).map_err(CertificateError::Disclosure)?;
    let mut bytes = Vec::with_capacity(2048);
    canonical::write_recorded(payload, &mut bytes).map_err(CertificateError::Canonical)?;
    Ok(jws::sign(&jws::header(TYP, key), &bytes, key))
}

/// Puts the disclosures that are left behind the JWS, in the order of their digests.
#[must_use]
pub fn assemble(jws: &str, disclosures: &[Disclosure]) -> String {
    let mut sorted: Vec<&Disclosure> = disclosures.iter().collect();
    sorted.sort_by(|a, b| a.digest().cmp(b.digest()));
    let mut text = format!("{jws}~");
    for disclosure in sorted {
        text.push_str(disclosure.text());
        text.push('~');
    }
    text
}
