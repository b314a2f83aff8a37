//! How a column map is shown.

use crate::kept::Kept;
use domain::{column_maps::ColumnMap, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A column map, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ColumnMapView {
    /// The map.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub column_map: ColumnMap,
    /// When it was drafted.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<ColumnMap>> for ColumnMapView {
    fn from(kept: Kept<ColumnMap>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            column_map: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// A column map after a change, and what the change does that nobody may have meant.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RevisedColumnMapView {
    /// The map as it is now.
    #[serde(flatten)]
    pub map: ColumnMapView,
    /// What to look at again; empty where nothing is.
    pub warnings: Vec<String>,
}
