//! How a kit lot is shown.

use super::store;
use crate::{db::Tx, error::Answer, kept::Kept};
use domain::{kit_lots::KitLot, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A kit lot, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct KitLotView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub kit_lot: KitLot,
    /// Tests received, in all deliveries.
    pub tests_received: u64,
    /// Runs that name the lot, each of which used a test.
    pub tests_used: u64,
    /// Tests received less tests used.
    pub tests_left: u64,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl KitLotView {
    /// One lot, with its tests counted.
    pub(super) async fn counted(tx: &mut Tx, kept: Kept<KitLot>) -> Answer<Self> {
        let used = store::tests_used(tx, &[kept.id]).await?;
        let used = used.get(&kept.id).copied().unwrap_or(0);
        Ok(Self::of(kept, used))
    }

    /// Several lots, with their tests counted in one question.
    pub(super) async fn all_counted(tx: &mut Tx, lots: Vec<Kept<KitLot>>) -> Answer<Vec<Self>> {
        let ids: Vec<Uuid> = lots.iter().map(|lot| lot.id).collect();
        let used = store::tests_used(tx, &ids).await?;
        Ok(lots
            .into_iter()
            .map(|lot| {
                let used = used.get(&lot.id).copied().unwrap_or(0);
                Self::of(lot, used)
            })
            .collect())
    }

    fn of(kept: Kept<KitLot>, tests_used: u64) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            tests_received: kept.content.tests_received(),
            tests_used,
            tests_left: kept.content.tests_left(tests_used),
            kit_lot: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
