//! How a correction is shown.

use crate::kept::Kept;
use domain::{corrections::Correction, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A correction, as it is shown. Why it was made stands in its act, among the records.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct CorrectionView {
    /// The correction.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub correction: Correction,
    /// When it was recorded.
    pub created_at: Moment,
}

impl From<Kept<Correction>> for CorrectionView {
    fn from(kept: Kept<Correction>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            correction: kept.content,
            created_at: kept.created_at,
        }
    }
}
