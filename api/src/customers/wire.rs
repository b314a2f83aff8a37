//! How a customer is shown.

use crate::kept::Kept;
use domain::{customers::Customer, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A customer, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct CustomerView {
    /// The customer.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub customer: Customer,
    /// When it was registered.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Customer>> for CustomerView {
    fn from(kept: Kept<Customer>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            customer: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
