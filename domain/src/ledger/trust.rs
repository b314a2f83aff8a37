//! The trust file: the keys of a laboratory, from where the verifier trusts them.
//!
//! Promises that a key is what its name says and that no record key is a log key; refuses a file
//! with a member missing, unknown or of another type, or that contradicts itself.

use super::checkpoint::Origin;
use super::hash::Hash;
use super::key::{KeyError, PublicKey};
use super::members::{MemberError, Members};
use super::note::{KeyUse, NoteError, VerifierKey};
use super::strict_json::{self, StrictJsonError};
use super::witness::{Policy, PolicyError};
use crate::id::LaboratoryId;
use serde_json::Value;

/// Why a file cannot be taken for a trust file.
#[derive(Debug, thiserror::Error)]
pub enum TrustError {
    /// No I-JSON in UTF-8.
    #[error("the trust file is no strict JSON")]
    NotJson(#[source] StrictJsonError),
    /// A member is missing, unknown or of another type.
    #[error("the trust file is not as it should be")]
    Members(#[source] MemberError),
    /// A record key is no Ed25519 key.
    #[error("a key of the trust file is refused")]
    Key(#[source] KeyError),
    /// A log key is no verifier key.
    #[error("a log key of the trust file is refused")]
    LogKey(#[source] NoteError),
    /// The witness policy is not understood.
    #[error("the witness policy of the trust file is refused")]
    Policy(#[source] PolicyError),
    /// The file contradicts itself.
    #[error("the trust file contradicts itself: {0}")]
    Contradiction(&'static str),
}

/// A record key and the entries it is good for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrustedKey {
    /// The key.
    pub key: PublicKey,
    /// Its name, the thumbprint.
    pub kid: String,
    /// The number of the log.
    pub log: u64,
    /// The first entry it is good for.
    pub from_entry: u64,
    /// The first entry it is no longer good for; none while it is in use.
    pub until_entry: Option<u64>,
}

/// A log, once for each of its keys.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrustedLog {
    /// Its number.
    pub number: u64,
    /// Its origin.
    pub origin: String,
    /// The key of its checkpoints.
    pub key: VerifierKey,
    /// Where it ended: size and root; none while it goes on.
    pub end: Option<(u64, Hash)>,
}

/// What a verifier trusts.
///
/// ```
/// use domain::ledger::trust::Trust;
/// let file = br#"{"keys":[],"laboratory":"019ca869-5000-76a3-a0ec-7b3041d8cea3","logs":[],
///     "name":"Quay Grain Laboratory","size":0}"#;
/// assert_eq!(Trust::parse(file)?.name, "Quay Grain Laboratory");
/// assert!(Trust::parse(b"{}").is_err());
/// # Ok::<(), domain::ledger::trust::TrustError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trust {
    /// Whose keys these are.
    pub laboratory: LaboratoryId,
    /// Its name.
    pub name: String,
    /// How far the current log had come.
    pub size: u64,
    /// The record keys.
    pub keys: Vec<TrustedKey>,
    /// The logs.
    pub logs: Vec<TrustedLog>,
    /// Which witnesses must have signed, where that is asked for.
    pub witnesses: Option<Policy>,
}

impl Trust {
    /// Reads a trust file.
    ///
    /// # Errors
    /// [`TrustError`].
    pub fn parse(bytes: &[u8]) -> Result<Self, TrustError> {
        const REQUIRED: [&str; 5] = ["keys", "laboratory", "logs", "name", "size"];
        let refuse = TrustError::Members;
        let value = strict_json::read(bytes).map_err(TrustError::NotJson)?;
        let members = Members::new(&value, &REQUIRED, &["witnesses"]).map_err(refuse)?;
        let list = |name: &str| {
            members
                .form(name, "a list", Value::as_array)
                .map_err(refuse)
        };
        let trust = Self {
            laboratory: members.id("laboratory").map_err(refuse)?.into(),
            name: members.text("name").map_err(refuse)?.to_owned(),
            size: members.whole("size").map_err(refuse)?,
            keys: list("keys")?
                .iter()
                .map(read_key)
                .collect::<Result<_, _>>()?,
            logs: list("logs")?
                .iter()
                .map(read_log)
                .collect::<Result<_, _>>()?,
            witnesses: members
                .optional("witnesses", Members::text)
                .map_err(refuse)?
                .map(|policy| Policy::parse(policy).map_err(TrustError::Policy))
                .transpose()?,
        };
        let is_log_key =
            |key: &TrustedKey| trust.logs.iter().any(|log| log.key.public() == &key.key);
        if trust.keys.iter().any(is_log_key) {
            return Err(TrustError::Contradiction("a record key is a log key"));
        }
        Ok(trust)
    }

    /// The entries of a log, one for each of its keys.
    #[must_use]
    pub fn logs_of(&self, origin: &str) -> Vec<&TrustedLog> {
        self.logs
            .iter()
            .filter(|log| log.origin == origin)
            .collect()
    }

    /// The record key of this name that is good at an entry of a log.
    #[must_use]
    pub fn key_at(&self, kid: &str, log: u64, entry: u64) -> Option<&TrustedKey> {
        self.keys.iter().find(|key| {
            key.kid == kid
                && key.log == log
                && key.from_entry <= entry
                && key.until_entry.is_none_or(|until| entry < until)
        })
    }

    /// The record key of this name that has not been withdrawn.
    #[must_use]
    pub fn key_in_use(&self, kid: &str) -> Option<&TrustedKey> {
        self.keys
            .iter()
            .find(|key| key.kid == kid && key.until_entry.is_none())
    }
}

fn read_key(value: &Value) -> Result<TrustedKey, TrustError> {
    const REQUIRED: [&str; 6] = ["crv", "from_entry", "kid", "kty", "log", "x"];
    let refuse = TrustError::Members;
    let members = Members::new(value, &REQUIRED, &["alg", "until_entry", "use"]).map_err(refuse)?;
    let alg = members.optional("alg", Members::text).map_err(refuse)?;
    let used_for = members.optional("use", Members::text).map_err(refuse)?;
    if !matches!(alg, None | Some("EdDSA" | "Ed25519")) || !matches!(used_for, None | Some("sig")) {
        return Err(TrustError::Contradiction(
            "a key is for something else than signatures",
        ));
    }
    let key = PublicKey::from_jwk(value).map_err(TrustError::Key)?;
    let kid = members.text("kid").map_err(refuse)?;
    if key.kid() != kid {
        return Err(TrustError::Contradiction(
            "a kid is not the thumbprint of its key",
        ));
    }
    Ok(TrustedKey {
        key,
        kid: kid.to_owned(),
        log: members.whole("log").map_err(refuse)?,
        from_entry: members.whole("from_entry").map_err(refuse)?,
        until_entry: members
            .optional("until_entry", Members::whole)
            .map_err(refuse)?,
    })
}

fn read_log(value: &Value) -> Result<TrustedLog, TrustError> {
    let refuse = TrustError::Members;
    let members =
        Members::new(value, &["number", "origin", "vkey"], &["root", "size"]).map_err(refuse)?;
    let origin = members.text("origin").map_err(refuse)?;
    let number = members.whole("number").map_err(refuse)?;
    let key =
        VerifierKey::parse(members.text("vkey").map_err(refuse)?).map_err(TrustError::LogKey)?;
    if key.name() != origin || key.used_for() != KeyUse::Note {
        return Err(TrustError::Contradiction(
            "a log key is not named after its log",
        ));
    }
    if origin
        .parse::<Origin>()
        .is_ok_and(|origin| origin.number != number)
    {
        return Err(TrustError::Contradiction(
            "a log has another number than its origin",
        ));
    }
    let size = members.optional("size", Members::whole).map_err(refuse)?;
    let root = members.optional("root", Members::hash).map_err(refuse)?;
    if size.is_some() != root.is_some() {
        return Err(TrustError::Contradiction(
            "an ended log has both size and root",
        ));
    }
    Ok(TrustedLog {
        number,
        origin: origin.to_owned(),
        key,
        end: size.zip(root),
    })
}
