//! How a sampling is shown.

use crate::kept::Kept;
use domain::{samplings::Sampling, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A sampling, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct SamplingView {
    /// The sampling.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub sampling: Sampling,
    /// When it was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Sampling>> for SamplingView {
    fn from(kept: Kept<Sampling>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            sampling: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
