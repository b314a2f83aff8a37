//! How a lot is shown: whole to the laboratory; to a customer, what its part in it lets it see.

use crate::kept::Kept;
use domain::{
    id::CustomerId,
    lots::{Lot, Sees},
    time::Moment,
};
use serde::Serialize;
use uuid::Uuid;

/// A lot, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct LotView {
    /// The lot.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says. A party sees neither the other parties nor whose it is, nor the comment.
    #[serde(flatten)]
    pub lot: Lot,
    /// When it was registered.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl LotView {
    /// The lot as the caller may see it; nothing where a customer may not know of it.
    pub(super) fn to(only: Option<CustomerId>, kept: Kept<Lot>) -> Option<Self> {
        let Some(customer) = only else {
            return Some(Self::from(kept));
        };
        if kept.content.seen_by(customer) == Sees::Nothing {
            return None;
        }
        let mut view = Self::from(kept);
        if view.lot.customer != Some(customer) {
            view.lot.parties.retain(|party| party.customer == customer);
            view.lot.customer = None;
            view.lot.order = None;
            view.lot.parent = None;
            view.lot.comment = None;
        }
        Some(view)
    }
}

impl From<Kept<Lot>> for LotView {
    fn from(kept: Kept<Lot>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            lot: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
