//! How a series is shown.

use crate::kept::Kept;
use domain::{series::Series, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A series, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct SeriesView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub series: Series,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Series>> for SeriesView {
    fn from(kept: Kept<Series>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            series: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
