//! What is recorded of a laboratory's log when it begins.
//!
//! Promises that a log which follows another names the one it follows: its origin, and the size and
//! root of its last checkpoint, so that nobody takes the new one for the whole.

use super::hash::Hash;
use serde::{Deserialize, Serialize};

/// A log that begins.
///
/// ```
/// use domain::ledger::log::Log;
/// let first: Log = serde_json::from_str(r#"{"number":1,"origin":"lab.example/log/x/1"}"#)?;
/// assert_eq!((first.number, first.follows), (1, None));
/// assert!(serde_json::from_str::<Log>(r#"{"number":1}"#).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Log {
    /// Its number, from 1.
    pub number: u32,
    /// The first line of its checkpoints.
    pub origin: String,
    /// The log that could not be continued.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follows: Option<EndedLog>,
}

/// A log that could not be continued.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct EndedLog {
    /// The first line of its checkpoints.
    pub origin: String,
    /// Entries under its last checkpoint.
    pub size: u64,
    /// Root of the tree over them.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub root: Hash,
    /// How many of its entries are left in the database.
    pub kept: u64,
}
