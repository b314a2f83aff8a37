//! How a run is shown, and which runs can be asked for.

use crate::{kept::Kept, results::Reference};
use domain::{
    assessment::SharedFacts as _,
    holds::Hold,
    runs::{Run, RunState},
    signals::{SignalCheck, check_signals},
    time::Moment,
};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A run, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RunView {
    /// The run.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub run: Run,
    /// When it was first recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
    /// The holds that stand on it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<Hold>,
    /// Where one run is shown: what its signals come to by the kit lot's curve, as it is now.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub signal_checks: Vec<SignalCheck>,
}

impl RunView {
    /// The same, with what the signals of its readings come to.
    pub(crate) fn with_signals(mut self, reference: &Reference) -> Self {
        self.signal_checks = signal_checks(reference, &self.run);
        self
    }

    /// A run with the holds that stand on it.
    pub(crate) fn with_holds(kept: Kept<Run>, holds: &[Kept<Hold>]) -> Self {
        let holds = holds
            .iter()
            .filter(|hold| hold.content.of.subject() == kept.id)
            .filter(|hold| hold.content.lifted.is_none())
            .map(|hold| hold.content.clone())
            .collect();
        Self {
            id: kept.id,
            version: kept.version,
            run: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
            holds,
            signal_checks: Vec::new(),
        }
    }
}

/// What the signals of a run's readings come to by the curves of its kit lot.
pub(crate) fn signal_checks(reference: &Reference, run: &Run) -> Vec<SignalCheck> {
    let procedure = run.entry.procedure.and_then(|id| reference.procedure(id));
    let procedure = procedure.map(|one| &one.content.entry);
    let kit_lot = run.entry.kit_lot.and_then(|id| reference.kit_lot(id));
    kit_lot.map_or_else(Vec::new, |lot| {
        check_signals(run, &lot.content.entry, procedure)
    })
}

/// Which runs are asked for.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct RunFilter {
    /// Only those of this sample.
    pub sample: Option<Uuid>,
    /// Only those on this reader.
    pub reader: Option<Uuid>,
    /// Only those with this kit lot.
    pub kit_lot: Option<Uuid>,
    /// Only those of this series.
    pub series: Option<Uuid>,
    /// Only those in this state.
    pub state: Option<RunState>,
    /// Only those read from this time on.
    pub read_from: Option<Moment>,
    /// Only those read before this time.
    pub read_to: Option<Moment>,
}
