//! How a procedure is shown.

use crate::kept::Kept;
use domain::{procedures::Procedure, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A procedure, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ProcedureView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub procedure: Procedure,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Procedure>> for ProcedureView {
    fn from(kept: Kept<Procedure>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            procedure: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
