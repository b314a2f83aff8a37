//! Which version of which thing: what a derived record came from, a correction corrects, a
//! signature covers.
//!
//! Promises the order in which records list them: by subject. Refuses a version zero, and one
//! subject in two versions.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::faults::Faults;

/// A version of a subject; versions count from 1.
///
/// ```
/// use domain::versions::SubjectVersion;
/// let version: SubjectVersion = serde_json::from_str(
///     r#"{"subject":"019ca869-5003-7d46-b59c-6cf85cca57e4","version":2}"#)?;
/// assert!(version.check().is_ok());
/// assert!(SubjectVersion { version: 0, ..version }.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct SubjectVersion {
    /// The id of the thing.
    pub subject: Uuid,
    /// Which version of it, from 1.
    pub version: u32,
}

impl SubjectVersion {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// A version zero.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(self.version > 0, "/version", || {
            "versions count from 1".into()
        });
        faults.into_result()
    }
}

/// Puts versions in the order of records, each once.
///
/// Of a subject that stands there in several versions, the newest stays.
///
/// ```
/// use domain::versions::{in_order, SubjectVersion};
/// let subject = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?;
/// let both = vec![SubjectVersion { subject, version: 2 }, SubjectVersion { subject, version: 1 }];
/// assert_eq!(in_order(both), [SubjectVersion { subject, version: 2 }]);
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn in_order(mut versions: Vec<SubjectVersion>) -> Vec<SubjectVersion> {
    versions.sort_unstable_by(|a, b| a.subject.cmp(&b.subject).then(b.version.cmp(&a.version)));
    versions.dedup_by_key(|version| version.subject);
    versions
}
