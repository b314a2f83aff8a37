//! The holds that stand while the derived records of a log pass in their order.
//!
//! Promises that a release while a hold stood in its way is found; nothing else is decided here.

use std::collections::HashMap;

use uuid::Uuid;

use crate::analytes::Analyte;
use crate::holds::{Hold, HoldState, gates};
use crate::id::{ResultId, RunId, SampleId};
use crate::results::{ResultState, ResultVersion};

/// A result that was released by the version that passes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReleasedResult {
    result: ResultId,
    sample: SampleId,
    analyte: Analyte,
    standing: Vec<RunId>,
}

impl ReleasedResult {
    /// The release, where this version of a result is one: the version before was not released.
    ///
    /// ```
    /// use domain::assessment::ReleasedResult;
    /// use domain::results::ResultVersion;
    /// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?;
    /// let ready = ResultVersion::first(
    ///     serde_json::from_str(include_str!("../results/example.json"))?, false);
    /// let released = ready.release(false)?;
    /// assert!(ReleasedResult::of(id, &released, Some(&ready)).is_some());
    /// assert!(ReleasedResult::of(id, &released, Some(&released)).is_none());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn of(
        result: ResultId,
        this: &ResultVersion,
        before: Option<&ResultVersion>,
    ) -> Option<Self> {
        let was = before.is_some_and(|before| before.state == ResultState::Released);
        if this.state != ResultState::Released || was {
            return None;
        }
        let computed = &this.computed;
        let runs = computed.runs.iter().filter(|run| run.standing);
        Some(Self {
            result,
            sample: computed.sample,
            analyte: computed.analyte,
            standing: runs.map(|run| run.run).collect(),
        })
    }
}

/// The holds that stand, by what they hold.
#[derive(Debug, Default)]
pub struct StandingHolds(HashMap<Uuid, HashMap<Uuid, Hold>>);

impl StandingHolds {
    /// A version of a hold passes.
    pub fn hold(&mut self, id: Uuid, hold: Hold) {
        let of = self.0.entry(hold.of.subject()).or_default();
        match hold.state() {
            HoldState::Raised => of.insert(id, hold),
            HoldState::Lifted => of.remove(&id),
        };
    }

    /// A release passes.
    ///
    /// # Errors
    /// The hold that stood in its way, in words.
    ///
    /// ```
    /// use domain::assessment::{ReleasedResult, StandingHolds};
    /// use domain::holds::{Held, Hold, HoldDraft, HoldKind};
    /// use domain::results::ResultVersion;
    /// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?;
    /// let ready = ResultVersion::first(
    ///     serde_json::from_str(include_str!("../results/example.json"))?, false);
    /// let release = ReleasedResult::of(id, &ready.release(false)?, Some(&ready)).unwrap();
    /// let mut holds = StandingHolds::default();
    /// assert!(holds.release(&release).is_ok());
    /// let draft = HoldDraft::new(HoldKind::Unreportable, "no places are named");
    /// holds.hold(id.0, Hold::raise(Held::Result(id), None, draft, vec![]));
    /// assert!(holds.release(&release).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn release(&self, release: &ReleasedResult) -> Result<(), String> {
        let ReleasedResult {
            result,
            sample,
            analyte,
            standing,
        } = release;
        let held = standing.iter().map(|run| run.0);
        for subject in held.chain([result.0, sample.0]) {
            let of = self.0.get(&subject).into_iter().flatten();
            for (id, hold) in of {
                if gates(hold, *result, *sample, *analyte, standing) {
                    let kind = hold.kind;
                    return Err(format!("it was released while hold {id} ({kind}) stood"));
                }
            }
        }
        Ok(())
    }
}
