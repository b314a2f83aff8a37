//! A certificate after it was issued: its number, what it states, and whether it still stands.
//!
//! Promises that the signed bytes never change: only the state does, in a new version of the
//! record. Refuses to replace or withdraw a certificate twice.

use crate::corrections::Reason;
use crate::id::{CertificateId, LotId, ResultId};
use serde::{Deserialize, Serialize};

/// Whether a certificate still stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CertificateState {
    /// It stands.
    Issued,
    /// It stands, but something it rests on is being looked into.
    UnderInvestigation,
    /// Another certificate stands in its place.
    Replaced,
    /// It no longer stands, and nothing stands in its place.
    Withdrawn,
}

impl CertificateState {
    /// The state's word.
    ///
    /// ```
    /// use domain::certificates::CertificateState;
    /// assert_eq!(CertificateState::UnderInvestigation.word(), "under-investigation");
    /// ```
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Issued => "issued",
            Self::UnderInvestigation => "under-investigation",
            Self::Replaced => "replaced",
            Self::Withdrawn => "withdrawn",
        }
    }

    /// Whether its reader may still rely on it.
    ///
    /// ```
    /// use domain::certificates::CertificateState;
    /// assert!(CertificateState::Issued.stands());
    /// assert!(!CertificateState::Withdrawn.stands());
    /// ```
    #[must_use]
    pub const fn stands(self) -> bool {
        match self {
            Self::Issued | Self::UnderInvestigation => true,
            Self::Replaced | Self::Withdrawn => false,
        }
    }
}

/// A result, in the version that a certificate states.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct StatedResult {
    /// The result.
    pub result: ResultId,
    /// The version stated, from 1.
    pub version: u32,
}

/// Why the state of a certificate does not change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum IssuedError {
    /// It was replaced or withdrawn before.
    #[error("the certificate is {} already", .0.word())]
    NoLongerStands(CertificateState),
    /// It is in that state already.
    #[error("the certificate is {} already", .0.word())]
    Unchanged(CertificateState),
}

/// What the record of a certificate holds.
///
/// ```
/// use domain::certificates::{CertificateState, Issued, IssuedError};
/// let issued: Issued = serde_json::from_str(
///     r#"{"state":"issued","number":"Q-2026-000001","code":"abc","jws":"00",
///     "lot":"019ca869-6000-7000-8000-000000000005","results":[
///     {"result":"019ca869-6000-7000-8000-000000000012","version":3}]}"#)?;
/// let replaced = issued.replace_by("019ca869-6000-7000-8000-00000000001d".parse()?)?;
/// assert_eq!(replaced.state, CertificateState::Replaced);
/// assert_eq!(replaced.jws, issued.jws);
/// assert!(replaced.replace_by("019ca869-6000-7000-8000-00000000001e".parse()?).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Issued {
    /// Whether it still stands.
    pub state: CertificateState,
    /// The number given when it was issued.
    pub number: String,
    /// What its check page is found by; not to be guessed.
    pub code: String,
    /// SHA-256 of the certificate's JWS, in hex.
    pub jws: String,
    /// The lot.
    pub lot: LotId,
    /// What it states, sorted by result.
    pub results: Vec<StatedResult>,
    /// The certificate that it replaces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<CertificateId>,
    /// The certificate that stands in its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<CertificateId>,
    /// Why it no longer stands, or is looked into; the words are disclosed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Reason>,
}

impl Issued {
    /// Personal data and free text of the record.
    pub const DISCLOSED: &'static [&'static str] = &["/reason/text"];

    /// Another certificate stands in its place.
    ///
    /// # Errors
    /// [`IssuedError::NoLongerStands`].
    pub fn replace_by(&self, other: CertificateId) -> Result<Self, IssuedError> {
        self.standing()?;
        Ok(Self {
            state: CertificateState::Replaced,
            by: Some(other),
            reason: None,
            ..self.clone()
        })
    }

    /// It no longer stands, and nothing stands in its place.
    ///
    /// # Errors
    /// [`IssuedError::NoLongerStands`].
    ///
    /// ```
    /// use domain::certificates::{CertificateState, Issued};
    /// let issued: Issued = serde_json::from_str(
    ///     r#"{"state":"issued","number":"Q-2026-000001","code":"abc","jws":"00",
    ///     "lot":"019ca869-6000-7000-8000-000000000005","results":[]}"#)?;
    /// let reason = serde_json::from_str(r#"{"code":"wrong-sample","text":"Another lot's."}"#)?;
    /// let withdrawn = issued.withdraw(reason)?;
    /// assert_eq!(withdrawn.state, CertificateState::Withdrawn);
    /// let again = serde_json::from_str(r#"{"code":"other","text":"Once more."}"#)?;
    /// assert!(withdrawn.withdraw(again).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn withdraw(&self, reason: Reason) -> Result<Self, IssuedError> {
        self.standing()?;
        Ok(Self {
            state: CertificateState::Withdrawn,
            reason: Some(reason),
            ..self.clone()
        })
    }

    /// Something it rests on is being looked into, or was and it stands.
    ///
    /// # Errors
    /// [`IssuedError::NoLongerStands`], or [`IssuedError::Unchanged`].
    ///
    /// ```
    /// use domain::certificates::{CertificateState, Issued};
    /// let issued: Issued = serde_json::from_str(
    ///     r#"{"state":"issued","number":"Q-2026-000001","code":"abc","jws":"00",
    ///     "lot":"019ca869-6000-7000-8000-000000000005","results":[]}"#)?;
    /// let reason = serde_json::from_str(r#"{"code":"instrument-fault","text":"Port 2."}"#)?;
    /// let open = issued.investigate(true, reason)?;
    /// assert_eq!(open.state, CertificateState::UnderInvestigation);
    /// let reason = serde_json::from_str(r#"{"code":"other","text":"Port 2 again."}"#)?;
    /// assert!(open.investigate(true, reason).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn investigate(&self, open: bool, reason: Reason) -> Result<Self, IssuedError> {
        self.standing()?;
        let state = if open {
            CertificateState::UnderInvestigation
        } else {
            CertificateState::Issued
        };
        if state == self.state {
            return Err(IssuedError::Unchanged(state));
        }
        Ok(Self {
            state,
            reason: Some(reason),
            ..self.clone()
        })
    }

    const fn standing(&self) -> Result<(), IssuedError> {
        if self.state.stands() {
            Ok(())
        } else {
            Err(IssuedError::NoLongerStands(self.state))
        }
    }
}
