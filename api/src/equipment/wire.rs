//! How equipment and its checks are shown.

use super::store;
use crate::{db::Tx, error::Answer, kept::Kept};
use domain::{
    equipment::{CheckVerdict, Equipment, EquipmentCheck, suspect_windows},
    time::Moment,
};
use serde::Serialize;
use uuid::Uuid;

/// A piece of equipment, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct EquipmentView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub equipment: Equipment,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Equipment>> for EquipmentView {
    fn from(kept: Kept<Equipment>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            equipment: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// A check, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct EquipmentCheckView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub check: EquipmentCheck,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<EquipmentCheck>> for EquipmentCheckView {
    fn from(kept: Kept<EquipmentCheck>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            check: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// A check, with what it throws doubt on.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct JudgedCheckView {
    /// The check.
    #[serde(flatten)]
    pub check: EquipmentCheckView,
    /// The times in doubt by this check, where it failed.
    pub in_doubt: Vec<DoubtView>,
}

/// A time at which the equipment is in doubt, and the runs that were done with it then.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct DoubtView {
    /// The last good check before; absent where there was none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<Moment>,
    /// The check that left it good again; absent while there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub until: Option<Moment>,
    /// How many runs.
    pub run_count: i64,
    /// The runs; of more than a thousand the newest thousand.
    pub runs: Vec<Uuid>,
}

impl JudgedCheckView {
    /// A check among all `checks` of its thing.
    pub(super) async fn judged(
        tx: &mut Tx,
        kept: Kept<EquipmentCheck>,
        checks: &[EquipmentCheck],
    ) -> Answer<Self> {
        let (of, at) = (kept.content.of, kept.content.at);
        let failed = [kept.content.as_found, kept.content.as_left].contains(&CheckVerdict::Fail);
        let windows = suspect_windows(checks);
        let mut in_doubt = Vec::new();
        for window in windows.into_iter().filter(|_| failed) {
            if window.covers(at) || window.after == Some(at) {
                let (run_count, runs) = store::checks::runs_in(tx, of, window).await?;
                in_doubt.push(DoubtView {
                    after: window.after,
                    until: window.until,
                    run_count,
                    runs,
                });
            }
        }
        Ok(Self {
            check: EquipmentCheckView::from(kept),
            in_doubt,
        })
    }
}
