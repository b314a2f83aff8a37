//! How a sampling is shown.

use crate::kept::Kept;
use domain::{
    lots::Lot,
    samplings::{PlanCheck, Sampling, plan_check},
    time::Moment,
};
use serde::Serialize;
use uuid::Uuid;

/// A sampling, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct SamplingView {
    /// The sampling.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub sampling: Sampling,
    /// What the plan asks for the lot, and what of the sampling departs from it.
    pub plan_check: PlanCheck,
    /// When it was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl SamplingView {
    /// The sampling, against its plan; `lot` is what it was taken from.
    pub(super) fn of(kept: Kept<Sampling>, lot: Option<&Lot>) -> Self {
        Self {
            plan_check: plan_check(&kept.content, lot, None),
            id: kept.id,
            version: kept.version,
            sampling: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
