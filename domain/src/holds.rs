//! What stands between a result and its release.
//!
//! Promises that whatever is amiss with a recorded run is said by a hold, from facts alone, the
//! same facts always giving the same holds; that a hold leaves only by a correction, another run,
//! a fact recorded later, or a reviewer's reasoned acceptance where its kind allows one; and that
//! no hold is ever deleted. Refuses an acceptance without a reason, of a kind that allows none, or
//! by somebody whose own work it is.
//!
//! The detail of a hold quotes codes, dates and values, never the name of a person.

mod acceptance;
mod evaluate;
mod facts;
mod gate;
mod kinds;
mod of_result;
mod of_sample;
mod reconcile;
#[cfg(test)]
mod tests;

pub use acceptance::AcceptanceError;
pub use evaluate::{evaluate_run, evaluate_run_by};
pub use facts::{Chain, OriginDifference, RunFacts, UsedEquipment};
pub use gate::{gates, standing_in_the_way};
pub use kinds::{Concerns, HoldKind};
pub use of_result::{computation_due, evaluate_result, result_holds};
pub use of_sample::{evaluate_sample_by, results_rules};
pub use reconcile::{ExistingHold, Lift, Reconciliation, reconcile};

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::analytes::Analyte;
use crate::entries;
use crate::faults::Faults;
use crate::id::{AccountId, ResultId, RunId, SampleId};
use crate::time::Moment;
use crate::versions::SubjectVersion;

/// Personal data and free text of a [`Hold`].
pub const DISCLOSED: &[&str] = &["/reason", "/lifted/reason"];

/// The number of the rules by which holds are raised: those of a run by [`evaluate_run`], those of
/// a sample by [`evaluate_sample_by`], those of a result by what its computation by the
/// [`results_rules`] of the same time finds amiss. Number 3 adds those of samples, and multiplies a
/// diluted control before it is compared.
pub const RULES: u32 = 3;

/// Something that stands between a result and its release.
///
/// ```
/// use domain::holds::{Held, Hold, HoldDraft, HoldKind, HoldState};
/// let run = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?;
/// let draft = HoldDraft::new(HoldKind::NoSample, "the run names no sample");
/// let hold = Hold::raise(Held::Run(run), None, draft, vec![]);
/// assert_eq!(hold.state(), HoldState::Raised);
/// assert!(serde_json::to_string(&hold)?.contains("\"kind\":\"no-sample\""));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Hold {
    /// What is held.
    pub of: Held,
    /// The sample it belongs to, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample: Option<SampleId>,
    /// The analyte it is about, where not all of the run's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub analyte: Option<Analyte>,
    /// What is amiss.
    pub kind: HoldKind,
    /// The facts, with codes, dates and values.
    pub detail: String,
    /// A rule, or the person who placed it.
    pub raised_by: RaisedBy,
    /// Why a person placed it (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// How it was lifted; absent while it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifted: Option<Lifted>,
    /// The versions it came from, sorted by subject.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub from: Vec<SubjectVersion>,
    /// The number of the rules that raised it.
    pub rules: u32,
}

/// What is held.
///
/// ```
/// use domain::holds::Held;
/// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4";
/// let held: Held = serde_json::from_str(&format!(r#"{{"run":"{id}"}}"#))?;
/// assert_eq!(held.subject().to_string(), id);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Held {
    /// A run, and with it every result that it stands in.
    Run(RunId),
    /// One result.
    Result(ResultId),
    /// A sample, and with it every result of it.
    Sample(SampleId),
}

impl Held {
    /// The id of what is held.
    #[must_use]
    pub const fn subject(self) -> Uuid {
        match self {
            Self::Run(id) => id.0,
            Self::Result(id) => id.0,
            Self::Sample(id) => id.0,
        }
    }
}

/// Who or what raised a hold.
///
/// ```
/// use domain::holds::RaisedBy;
/// assert_eq!(serde_json::to_string(&RaisedBy::Rule)?, "\"rule\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RaisedBy {
    /// A rule, from facts.
    Rule,
    /// A person.
    Account(AccountId),
}

/// Whether a hold stands.
///
/// ```
/// use domain::holds::HoldState;
/// assert_eq!(HoldState::Raised.word(), "raised");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum HoldState {
    /// It stands in the way of a release.
    Raised,
    /// It no longer does; it stays readable.
    Lifted,
}

impl HoldState {
    /// The word in the read model.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Raised => "raised",
            Self::Lifted => "lifted",
        }
    }
}

/// How a hold was lifted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Lifted {
    /// In which way.
    pub how: LiftedBy,
    /// By whom, where a person did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<AccountId>,
    /// When.
    pub at: Moment,
    /// A reviewer's reason (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// In which way a hold was lifted.
///
/// ```
/// use domain::holds::LiftedBy;
/// assert_eq!(serde_json::to_string(&LiftedBy::AnotherRun)?, "\"another-run\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LiftedBy {
    /// What was amiss was corrected.
    Correction,
    /// Another run settled it.
    AnotherRun,
    /// Something that was missing was recorded: a lot accepted, a run assigned, a result computed.
    LaterFact,
    /// A reviewer accepted it, with a reason.
    Acceptance,
}

/// What a rule finds amiss, before it is a hold.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::holds::{HoldDraft, HoldKind};
/// let draft = HoldDraft::new(HoldKind::ControlOut, "900 µg/kg against 1000 to 1200 µg/kg");
/// assert_eq!(draft.about(Analyte::Zearalenone).analyte, Some(Analyte::Zearalenone));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HoldDraft {
    /// What is amiss.
    pub kind: HoldKind,
    /// The analyte it is about, where not all of the run's.
    pub analyte: Option<Analyte>,
    /// The facts.
    pub detail: String,
}

impl HoldDraft {
    /// A draft about everything that the run measured.
    #[must_use]
    pub fn new(kind: HoldKind, detail: impl Into<String>) -> Self {
        Self {
            kind,
            analyte: None,
            detail: detail.into(),
        }
    }

    /// The same, about one analyte.
    #[must_use]
    pub fn about(self, analyte: Analyte) -> Self {
        Self {
            analyte: Some(analyte),
            ..self
        }
    }
}

impl Hold {
    /// A hold that a rule raises.
    #[must_use]
    pub fn raise(
        of: Held,
        sample: Option<SampleId>,
        draft: HoldDraft,
        from: Vec<SubjectVersion>,
    ) -> Self {
        Self {
            of,
            sample,
            analyte: draft.analyte,
            kind: draft.kind,
            detail: draft.detail,
            raised_by: RaisedBy::Rule,
            reason: None,
            lifted: None,
            from: crate::versions::in_order(from),
            rules: RULES,
        }
    }

    /// A hold that a person places, with a reason.
    ///
    /// # Errors
    /// A reason that is missing or no text.
    ///
    /// ```
    /// use domain::holds::{Held, Hold};
    /// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    /// let (run, by) = (id.parse()?, id.parse()?);
    /// assert!(Hold::place(Held::Run(run), None, by, "the strip was wet").is_ok());
    /// assert!(Hold::place(Held::Run(run), None, by, " ").is_err());
    /// # Ok::<(), uuid::Error>(())
    /// ```
    pub fn place(
        of: Held,
        sample: Option<SampleId>,
        by: AccountId,
        reason: &str,
    ) -> Result<Self, Faults> {
        let mut faults = Faults::default();
        entries::text(&mut faults, "/reason", reason, entries::TEXT_LENGTH);
        faults.into_result()?;
        let draft = HoldDraft::new(
            HoldKind::PlacedByPerson,
            "placed by a person, with a reason",
        );
        Ok(Self {
            raised_by: RaisedBy::Account(by),
            reason: Some(reason.to_owned()),
            ..Self::raise(of, sample, draft, Vec::new())
        })
    }

    /// Whether it stands.
    #[must_use]
    pub const fn state(&self) -> HoldState {
        match self.lifted {
            None => HoldState::Raised,
            Some(_) => HoldState::Lifted,
        }
    }

    /// What it says, without when or by what it was raised: two holds that say the same are one.
    #[must_use]
    pub fn says(&self) -> HoldDraft {
        HoldDraft {
            kind: self.kind,
            analyte: self.analyte,
            detail: self.detail.clone(),
        }
    }
}
