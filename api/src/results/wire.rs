//! How a result is shown, and which results can be asked for.

use crate::kept::Kept;
use domain::{
    analytes::Analyte,
    results::{ResultState, ResultVersion},
    time::Moment,
};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A result, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ResultView {
    /// The result.
    pub id: Uuid,
    /// Its version: what a reviewer signs.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub result: ResultVersion,
    /// When it was first computed.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<ResultVersion>> for ResultView {
    fn from(kept: Kept<ResultVersion>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            result: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}

/// Which results are asked for.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ResultFilter {
    /// Only those of this sample.
    pub sample: Option<Uuid>,
    /// Only those of this lot's samples.
    pub lot: Option<Uuid>,
    /// Only those in this state.
    pub state: Option<ResultState>,
    /// Only those of this analyte.
    pub analyte: Option<Analyte>,
    /// Only those whose worst decision is this one: pass, conditional-pass, conditional-fail,
    /// fail, negative, suspect or undecided.
    pub decision: Option<String>,
    /// Only those released from this time on.
    pub released_from: Option<Moment>,
    /// Only those released before this time.
    pub released_to: Option<Moment>,
}
