//! The laboratory's own particulars, as certificates state them.

use crate::faults::Faults;
use serde::{Deserialize, Serialize};

/// JSON pointers of what is personal or free text in a [`Laboratory`].
pub const DISCLOSED: &[&str] = &["/name", "/address", "/telephone", "/email"];

/// Names that addresses of the service itself begin with.
const RESERVED: [&str; 10] = [
    "about",
    "assets",
    "calculator",
    "docs",
    "health",
    "log",
    "metrics",
    "problems",
    "sign-in",
    "v1",
];

/// Who may read a laboratory's log. It carries no personal data, but shows how much was recorded,
/// when, and by which accounts; a certificate's own proof is enough without it.
///
/// ```
/// use domain::laboratories::LogReaders;
/// assert_eq!(serde_json::from_str::<LogReaders>("\"everybody\"").unwrap(), LogReaders::Everybody);
/// assert!(serde_json::from_str::<LogReaders>("\"nobody\"").is_err());
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LogReaders {
    /// The laboratory's own accounts and clients whose role may read it.
    #[default]
    GrantedAccounts,
    /// Whoever asks.
    Everybody,
}

/// A laboratory.
///
/// ```
/// use domain::laboratories::{Laboratory, LogReaders};
/// let mut laboratory = Laboratory {
///     slug: "quay".into(),
///     name: "Quay Grain Laboratory".into(),
///     address: "3 Quay Street".into(),
///     telephone: None,
///     email: None,
///     time_zone: "Europe/Lisbon".into(),
///     certificate_prefix: "Q".into(),
///     signer_retention_years: None,
///     log_readers: LogReaders::GrantedAccounts,
/// };
/// assert!(laboratory.check().is_ok());
/// laboratory.slug = "Quay Street".into();
/// assert!(laboratory.check().is_err());
/// laboratory.slug = "docs".into();
/// assert!(laboratory.check().is_err(), "the service's own pages are there");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Laboratory {
    /// Its name in addresses: 2 to 40 lower-case letters, digits and hyphens. Never changes.
    #[cfg_attr(feature = "openapi", schema(example = "quay"))]
    pub slug: String,
    /// Its name.
    #[cfg_attr(feature = "openapi", schema(example = "Quay Grain Laboratory"))]
    pub name: String,
    /// Its address.
    pub address: String,
    /// Its telephone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub telephone: Option<String>,
    /// Where to write to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// Its time zone (IANA), in which its pages show times.
    #[cfg_attr(feature = "openapi", schema(example = "Europe/Lisbon"))]
    pub time_zone: String,
    /// What its certificates' numbers begin with: 1 to 6 capital letters or digits.
    #[cfg_attr(feature = "openapi", schema(example = "Q"))]
    pub certificate_prefix: String,
    /// How many years the name beside a signature is kept after it was last signed with, 1 to 100;
    /// 10 where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(minimum = 1, maximum = 100))]
    pub signer_retention_years: Option<u16>,
    /// Who may read its log; the trust file and certificates' proofs are for everybody.
    #[serde(default)]
    pub log_readers: LogReaders,
}

impl Laboratory {
    /// Every fault of the particulars.
    ///
    /// # Errors
    /// The faults, each with its JSON pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let allowed = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        faults.require(
            (2..=40).contains(&self.slug.len())
                && self.slug.chars().all(allowed)
                && !self.slug.starts_with('-')
                && !self.slug.ends_with('-'),
            "/slug",
            || "A name in addresses has 2 to 40 lower-case letters, digits and hyphens.".into(),
        );
        faults.require(!RESERVED.contains(&self.slug.as_str()), "/slug", || {
            format!(
                "\"{}\" is an address of the service itself: choose another name.",
                self.slug
            )
        });
        faults.require(!self.name.trim().is_empty(), "/name", || {
            "Give the laboratory's name.".into()
        });
        faults.require(!self.address.trim().is_empty(), "/address", || {
            "Give the laboratory's address: certificates state it.".into()
        });
        faults.require(
            (1..=6).contains(&self.certificate_prefix.len())
                && self
                    .certificate_prefix
                    .chars()
                    .all(|c| c.is_ascii_uppercase() || c.is_ascii_digit()),
            "/certificate_prefix",
            || "Give 1 to 6 capital letters or digits.".into(),
        );
        faults.require(
            self.time_zone.contains('/') || self.time_zone == "UTC",
            "/time_zone",
            || "Give a time zone such as Europe/Lisbon.".into(),
        );
        faults.require(
            self.signer_retention_years
                .is_none_or(|years| (1..=100).contains(&years)),
            "/signer_retention_years",
            || "Give 1 to 100 years.".into(),
        );
        faults.into_result()
    }
}
