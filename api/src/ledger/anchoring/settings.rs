//! Which parties outside are asked about checkpoints.
//!
//! Refuses to start with a party that cannot be asked: a witness without an address or with a key
//! that cannot cosign, roots that are no certificates.

use base64::{Engine as _, engine::general_purpose::STANDARD};
use domain::ledger::{note::VerifierKey, witness::Policy};
use std::path::Path;

/// A witness and where it is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WitnessAt {
    /// Its cosigning key.
    pub key: VerifierKey,
    /// Its address, under which `add-checkpoint` is.
    pub url: String,
}

/// A time-stamping authority.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimeStampingAuthority {
    /// Its address.
    pub url: String,
    /// The certificates that its stamps must lead to, in DER.
    pub roots: Vec<Vec<u8>>,
    /// Least seconds between two stamps of a log.
    pub interval_s: u32,
}

/// The parties outside; none of them unless the operator names them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Anchors {
    /// The witnesses.
    pub witnesses: Vec<WitnessAt>,
    /// Which of them have to cosign a checkpoint before proofs are kept under it.
    pub policy: Option<Policy>,
    /// The authority.
    pub authority: Option<TimeStampingAuthority>,
}

/// Why the parties cannot be asked.
#[derive(Debug, thiserror::Error)]
pub enum AnchorsError {
    /// The file cannot be read.
    #[error("{0} cannot be read")]
    File(String, #[source] std::io::Error),
    /// It is no policy of C2SP tlog-policy.
    #[error("{0} is no policy: {1}")]
    Policy(String, String),
    /// A witness of it cannot be asked.
    #[error("{0}: the witness {1} has no address: write it behind its key")]
    NoAddress(String, String),
    /// No root certificate is in the file.
    #[error("{0} holds no certificate in PEM")]
    NoRoots(String),
}

/// A policy file (C2SP tlog-policy) and its witnesses; each has an address behind its key.
///
/// # Errors
/// [`AnchorsError`].
pub fn witnesses(path: &Path) -> Result<(Policy, Vec<WitnessAt>), AnchorsError> {
    let named = path.display().to_string();
    let text =
        std::fs::read_to_string(path).map_err(|error| AnchorsError::File(named.clone(), error))?;
    let refuse = |why: &dyn std::error::Error| AnchorsError::Policy(named.clone(), why.to_string());
    let policy = Policy::parse(&text).map_err(|error| refuse(&error))?;
    let mut found = Vec::new();
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            ["witness", _, key, url] => found.push(WitnessAt {
                key: VerifierKey::parse(key).map_err(|error| refuse(&error))?,
                url: url.trim_end_matches('/').to_owned(),
            }),
            ["witness", name, ..] => {
                return Err(AnchorsError::NoAddress(named, (*name).to_owned()));
            }
            _ => {}
        }
    }
    Ok((policy, found))
}

/// The certificates of a PEM file, in DER.
///
/// # Errors
/// [`AnchorsError`].
pub fn roots(path: &Path) -> Result<Vec<Vec<u8>>, AnchorsError> {
    let named = path.display().to_string();
    let text =
        std::fs::read_to_string(path).map_err(|error| AnchorsError::File(named.clone(), error))?;
    let found: Vec<Vec<u8>> = text
        .split("-----BEGIN CERTIFICATE-----")
        .skip(1)
        .filter_map(|rest| rest.split("-----END CERTIFICATE-----").next())
        .filter_map(|body| {
            STANDARD
                .decode(body.split_whitespace().collect::<String>())
                .ok()
        })
        .collect();
    if found.is_empty() {
        return Err(AnchorsError::NoRoots(named));
    }
    Ok(found)
}
