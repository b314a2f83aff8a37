//! Keys that come and go: what is recorded of one, and for which entries it is good.
//!
//! Promises that entry indexes decide, never claimed times: a key is good from the entry after its
//! announcement (a log's first key: from entry 0) up to and including the entry that withdraws it.
//! Refuses nothing: what holds is decided by whoever asks.

use super::PublicKey;
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What a key of the laboratory signs.
///
/// ```
/// use domain::ledger::rotation::SignsWhat;
/// assert_eq!(SignsWhat::Record.word(), "record");
/// assert!(serde_json::from_str::<SignsWhat>("\"mail\"").is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SignsWhat {
    /// Acts and certificates.
    Record,
    /// Checkpoints.
    Log,
}

impl SignsWhat {
    /// Its word in records and rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Record => "record",
            Self::Log => "log",
        }
    }
}

/// Why a key is withdrawn.
///
/// ```
/// use domain::ledger::rotation::WithdrawalCode;
/// assert_eq!(WithdrawalCode::KeyCompromised.name(), "key-compromised");
/// assert!(WithdrawalCode::KeyCompromised.is_urgent());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum WithdrawalCode {
    /// Its time was over; another one follows it.
    KeyRotation,
    /// Somebody else has it, or may have it.
    KeyCompromised,
    /// Something else, which the text says.
    Other,
}

impl WithdrawalCode {
    /// Its name in acts.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::KeyRotation => "key-rotation",
            Self::KeyCompromised => "key-compromised",
            Self::Other => "other",
        }
    }

    /// Whether the key goes at once, its successor announced in the same act where there is none.
    #[must_use]
    pub const fn is_urgent(self) -> bool {
        matches!(self, Self::KeyCompromised)
    }
}

/// A place in a laboratory's logs: which log, which entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Place {
    /// Number of the log, from 1.
    pub log: u32,
    /// Index of the entry, from 0.
    pub entry: u64,
}

/// For which entries a key is good.
///
/// ```
/// use domain::ledger::rotation::{Place, Span};
/// let at = |log, entry| Place { log, entry };
/// let span = Span { from: Some(at(1, 5)), until: Some(at(2, 3)) };
/// assert!(!span.is_good_at(at(1, 4)) && span.is_good_at(at(1, 5)));
/// assert!(span.is_good_at(at(2, 2)) && !span.is_good_at(at(2, 3)));
/// assert_eq!(span.in_log(1), Some((5, None)));
/// assert_eq!(span.in_log(2), Some((0, Some(3))));
/// assert_eq!(span.in_log(3), None);
/// assert!(!Span::default().is_good_at(at(1, 0)), "announced, and not logged yet");
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Span {
    /// The first entry it is good for; none until its announcement has an entry.
    pub from: Option<Place>,
    /// The first entry it is no longer good for; none while it is in use.
    pub until: Option<Place>,
}

impl Span {
    /// Whether the key is good at an entry.
    #[must_use]
    pub fn is_good_at(&self, at: Place) -> bool {
        self.from.is_some_and(|from| from <= at) && self.until.is_none_or(|until| at < until)
    }

    /// The entries of one log that it is good for: from, and until where it ends there.
    #[must_use]
    pub fn in_log(&self, log: u32) -> Option<(u64, Option<u64>)> {
        let from = self.from.filter(|from| from.log <= log)?;
        let first = if from.log == log { from.entry } else { 0 };
        match self.until {
            Some(until) if until.log < log => None,
            Some(until) if until.log == log => {
                (until.entry > first).then_some((first, Some(until.entry)))
            }
            Some(_) | None => Some((first, None)),
        }
    }

    /// What an entry tells of the key: the one that announces it makes it good from the next, the
    /// one that withdraws it is the last it is good for.
    ///
    /// ```
    /// use domain::ledger::rotation::{Place, Span};
    /// let mut span = Span::default();
    /// span.announced(Place { log: 1, entry: 7 });
    /// span.withdrawn(Place { log: 1, entry: 9 });
    /// assert_eq!(span.in_log(1), Some((8, Some(10))));
    /// ```
    pub fn announced(&mut self, by: Place) {
        if self.from.is_none() {
            self.from = Some(after(by));
        }
    }

    /// See [`Span::announced`].
    pub fn withdrawn(&mut self, by: Place) {
        if self.until.is_none() {
            self.until = Some(after(by));
        }
    }
}

const fn after(by: Place) -> Place {
    Place {
        log: by.log,
        entry: by.entry.saturating_add(1),
    }
}

/// The content of a key's record.
///
/// ```
/// use domain::ledger::{SecretKey, rotation::{SignsWhat, key_content}};
/// let key = SecretKey::from_seed(&[7; 32]);
/// let content = key_content(key.public(), SignsWhat::Log);
/// assert_eq!(content["use"], "log");
/// ```
#[must_use]
pub fn key_content(key: &PublicKey, signs: SignsWhat) -> Value {
    serde_json::json!({"jwk": key.to_jwk(), "use": signs.word()})
}

/// How every entry begins that was signed by a key: its protected header, which is the same for
/// all.
///
/// ```
/// use domain::ledger::rotation::entry_beginning;
/// assert!(entry_beginning("abc").starts_with("eyJhbGciOiJFZERTQSIsImtpZCI6"));
/// ```
#[must_use]
pub fn entry_beginning(kid: &str) -> String {
    let header = format!(r#"{{"alg":"EdDSA","kid":"{kid}","typ":"assize-act+jws"}}"#);
    format!("{}.", URL_SAFE_NO_PAD.encode(header))
}
