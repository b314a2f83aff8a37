//! How an order is shown.

use crate::kept::Kept;
use domain::{orders::Order, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// An order, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct OrderView {
    /// The order.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub order: Order,
    /// When it was registered.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Order>> for OrderView {
    fn from(kept: Kept<Order>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            order: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
