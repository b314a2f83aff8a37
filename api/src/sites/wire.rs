//! How a site is shown.

use crate::kept::Kept;
use domain::{sites::Site, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A site, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct SiteView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub site: Site,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Site>> for SiteView {
    fn from(kept: Kept<Site>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            site: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
