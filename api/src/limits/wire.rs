//! How a limit is shown.

use super::Standing;
use domain::{limits::Limit, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A limit, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct LimitView {
    /// Its id; absent while it is only shipped with the program.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<Uuid>,
    /// Its code, by which addresses may name it too.
    pub code: String,
    /// Its version; 0 while it is only shipped with the program.
    pub version: i32,
    /// Whether nobody has read the value in its source: shown to whoever sees the limit.
    pub unverified: bool,
    /// What it says.
    pub limit: Limit,
    /// When it was proposed by hand, or adopted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub created_at: Option<Moment>,
    /// When this version was recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed_at: Option<Moment>,
}

impl From<&Standing> for LimitView {
    fn from(standing: &Standing) -> Self {
        let limit = standing.limit().clone();
        let (id, created_at, changed_at) = match standing {
            Standing::Kept(kept) => (Some(kept.id), Some(kept.created_at), Some(kept.changed_at)),
            Standing::Shipped(_) => (None, None, None),
        };
        Self {
            id,
            code: limit.id.clone(),
            version: standing.version(),
            unverified: limit.is_unverified(),
            limit,
            created_at,
            changed_at,
        }
    }
}
