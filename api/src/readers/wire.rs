//! How a reader is shown.

use crate::kept::Kept;
use domain::{readers::Reader, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A reader, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ReaderView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub reader: Reader,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Reader>> for ReaderView {
    fn from(kept: Kept<Reader>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            reader: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
