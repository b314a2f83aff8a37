//! The bundle: what is handed out with a certificate, one JSON file that can be checked anywhere.
//!
//! Promises a file in canonical form; refuses one with a member missing, unknown or of another
//! type, or of another format. What its strings say is for [`super::verify`] to judge.

use super::canonical::{self, CanonicalError};
use super::members::{MemberError, Members};
use super::strict_json::{self, StrictJsonError};
use serde_json::Value;

/// The format written and read here.
pub const FORMAT: u64 = 1;

/// Why a file cannot be taken for a bundle.
#[derive(Debug, thiserror::Error)]
pub enum BundleError {
    /// No I-JSON in UTF-8.
    #[error("the bundle is no strict JSON")]
    NotJson(#[source] StrictJsonError),
    /// A member is missing, unknown or of another type.
    #[error("the bundle is not as it should be")]
    Members(#[source] MemberError),
    /// A format that is not known here.
    #[error("a bundle of format {0} is not known here; it may need a newer program")]
    Format(u64),
    /// The bundle cannot be written.
    #[error("the bundle has no canonical form")]
    Canonical(#[source] CanonicalError),
}

/// A certificate with all that shows it was recorded.
///
/// ```
/// use domain::ledger::bundle::Bundle;
/// let bundle = Bundle {
///     act: "header.payload.signature".into(), act_path: vec![], certificate: "jws~".into(),
///     position: 0, proof: None, record: "{}".into(),
///     trust: "https://records.example/log/trust.json".into(),
/// };
/// let bytes = bundle.to_bytes()?;
/// assert!(bytes.starts_with(br#"{"act":"header.payload.signature","act_path":[],"#));
/// assert_eq!(Bundle::parse(&bytes)?, bundle);
/// assert!(Bundle::parse(br#"{"format":2}"#).is_err());
/// # Ok::<(), domain::ledger::bundle::BundleError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bundle {
    /// The act's JWS: the log's entry.
    pub act: String,
    /// The way from the record to the act's root, the record's sibling first.
    pub act_path: Vec<String>,
    /// The certificate, an SD-JWT.
    pub certificate: String,
    /// The record's place in the act, from 0.
    pub position: u64,
    /// The proof file; none until the act is under a checkpoint.
    pub proof: Option<String>,
    /// The certificate's record, as its canonical text.
    pub record: String,
    /// Where people may look for the trust file: a hint, signed by nobody, never fetched.
    pub trust: String,
}

impl Bundle {
    /// Reads a bundle, in canonical form or not.
    ///
    /// # Errors
    /// [`BundleError`].
    pub fn parse(bytes: &[u8]) -> Result<Self, BundleError> {
        const REQUIRED: [&str; 7] = [
            "act",
            "act_path",
            "certificate",
            "format",
            "position",
            "record",
            "trust",
        ];
        let value = strict_json::read(bytes).map_err(BundleError::NotJson)?;
        // Another format may have other members, so it is looked at before them.
        if let Some(format) = value.get("format").and_then(Value::as_u64)
            && format != FORMAT
        {
            return Err(BundleError::Format(format));
        }
        let read = || {
            let members = Members::new(&value, &REQUIRED, &["proof"])?;
            members.whole("format")?;
            let text = |name: &str| members.text(name).map(str::to_owned);
            Ok(Self {
                act: text("act")?,
                act_path: members.form("act_path", "a list of texts", read_texts)?,
                certificate: text("certificate")?,
                position: members.whole("position")?,
                proof: members.optional("proof", Members::text)?.map(str::to_owned),
                record: text("record")?,
                trust: text("trust")?,
            })
        };
        read().map_err(BundleError::Members)
    }

    /// The bundle's canonical bytes.
    ///
    /// # Errors
    /// [`BundleError::Canonical`].
    pub fn to_bytes(&self) -> Result<Vec<u8>, BundleError> {
        let mut value = serde_json::json!({
            "act": self.act,
            "act_path": self.act_path,
            "certificate": self.certificate,
            "format": FORMAT,
            "position": self.position,
            "record": self.record,
            "trust": self.trust,
        });
        if let (Some(proof), Some(members)) = (&self.proof, value.as_object_mut()) {
            members.insert("proof".to_owned(), Value::from(proof.as_str()));
        }
        canonical::to_bytes(&value).map_err(BundleError::Canonical)
    }
}

fn read_texts(value: &Value) -> Option<Vec<String>> {
    value
        .as_array()?
        .iter()
        .map(|element| element.as_str().map(str::to_owned))
        .collect()
}
