//! What there is of one sample, with the version of each.

use crate::analytes::Analyte;
use crate::id::{PreparationId, RunId};
use crate::lots::Lot;
use crate::orders::Order;
use crate::preparations::Preparation;
use crate::results::Facts;
use crate::runs::{Run, RunState};
use crate::samples::Sample;
use crate::samplings::Sampling;
use crate::time::Moment;
use crate::versions::SubjectVersion;

/// A run as it is recorded.
#[derive(Debug, Clone, Copy)]
pub struct RecordedRun<'a> {
    /// Which version of which run.
    pub source: SubjectVersion,
    /// What it says.
    pub run: &'a Run,
    /// When its version 1 was recorded: a clock ahead then stays ahead.
    pub recorded_at: Moment,
}

impl RecordedRun<'_> {
    /// Its id.
    #[must_use]
    pub const fn id(&self) -> RunId {
        RunId(self.source.subject)
    }
}

/// What there is of one sample.
#[derive(Debug, Clone)]
pub struct Dossier<'a> {
    /// The sample.
    pub sample: Facts<'a, Sample>,
    /// Its lot.
    pub lot: Option<Facts<'a, Lot>>,
    /// The sampling that it came from.
    pub sampling: Option<Facts<'a, Sampling>>,
    /// Its order: the one that it names, else its lot's.
    pub order: Option<Facts<'a, Order>>,
    /// What was made of it.
    pub preparations: Vec<Facts<'a, Preparation>>,
    /// Its runs.
    pub runs: Vec<RecordedRun<'a>>,
}

impl<'a> Dossier<'a> {
    /// A step of the preparation.
    pub(super) fn preparation(&self, id: PreparationId) -> Option<Facts<'a, Preparation>> {
        let mut steps = self.preparations.iter();
        steps.find(|facts| facts.source.subject == id.0).copied()
    }

    /// The runs that were read for an analyte, and still stand.
    pub(super) fn read_for(&self, analyte: Analyte) -> impl Iterator<Item = &RecordedRun<'a>> {
        self.runs.iter().filter(move |recorded| {
            recorded.run.state == RunState::Recorded && recorded.run.reading_of(analyte).is_some()
        })
    }
}
