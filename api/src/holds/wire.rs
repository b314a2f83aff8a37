//! How a hold is shown, and which holds can be asked for.

use crate::kept::Kept;
use domain::{
    holds::{Hold, HoldKind, HoldState},
    time::Moment,
};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A hold, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct HoldView {
    /// The hold.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub hold: Hold,
    /// What its kind means.
    pub explanation: &'static str,
    /// What lifts it.
    pub remedy: &'static str,
    /// When it was raised.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<Hold>> for HoldView {
    fn from(kept: Kept<Hold>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            explanation: kept.content.kind.explanation(),
            remedy: kept.content.kind.remedy(),
            hold: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// Which holds are asked for.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct HoldFilter {
    /// Only those on this run, result or sample.
    pub subject: Option<Uuid>,
    /// Only those of this sample, its runs and results.
    pub sample: Option<Uuid>,
    /// Only those raised, or lifted.
    pub state: Option<HoldState>,
    /// Only those of this kind.
    pub kind: Option<HoldKind>,
}
