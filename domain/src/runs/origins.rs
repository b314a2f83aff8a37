//! Where a run came from; one typed at the bench and exported later has both origins.

use serde::{Deserialize, Serialize};

use crate::id::ImportId;

/// Where a run came from.
///
/// ```
/// use domain::runs::Origin;
/// assert_eq!(serde_json::to_string(&Origin::bench())?, r#"{"bench":true}"#);
/// assert!(serde_json::from_str::<Origin>(r#"{"line":7}"#).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(untagged)]
pub enum Origin {
    /// Typed at the bench.
    Bench(BenchOrigin),
    /// A line of an uploaded export.
    Import(ImportOrigin),
}

/// Typed at the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BenchOrigin {
    /// Always true.
    pub bench: bool,
}

/// A line of an uploaded export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ImportOrigin {
    /// The import.
    pub import: ImportId,
    /// SHA-256 of the uploaded bytes, 64 lower-case hex digits.
    pub digest: String,
    /// The line, from 1; the header is line 1 where there is one.
    pub line: u64,
}

impl Origin {
    /// Typed at the bench.
    #[must_use]
    pub const fn bench() -> Self {
        Self::Bench(BenchOrigin { bench: true })
    }
}
