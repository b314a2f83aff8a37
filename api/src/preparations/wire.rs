//! How a preparation is shown.

use crate::kept::Kept;
use domain::{preparations::Preparation, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A preparation, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct PreparationView {
    /// The preparation.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub preparation: Preparation,
    /// When it was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

/// A preparation that was just recorded, and what nobody had to type.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RecordedPreparationView {
    /// The preparation as it was recorded.
    #[serde(flatten)]
    pub recorded: PreparationView,
    /// JSON pointers of the members that the bench of the sample's site filled in.
    pub filled_in: Vec<String>,
}

impl From<Kept<Preparation>> for PreparationView {
    fn from(kept: Kept<Preparation>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            preparation: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
