//! How a sample is shown.

use crate::kept::Kept;
use domain::{samples::Sample, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A sample, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct SampleView {
    /// The sample.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub sample: Sample,
    /// When it was registered.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Sample>> for SampleView {
    fn from(kept: Kept<Sample>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            sample: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
