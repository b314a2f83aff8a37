//! From the sample to the extract: ground sample, test portion, extract, each made from the one
//! before.
//!
//! Promises that every step names its sample, its time, its equipment and its liquids, and that
//! the steps of one chain belong to one sample and follow each other in time. Refuses a chain that
//! does not; a step that lies outside a procedure's tolerances is not refused but held.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::{AccountId, EquipmentId, PreparationId, ProcedureId, SampleId};
use crate::quantity::Number;
use crate::time::Moment;

/// Personal data and free text of a [`Preparation`].
pub const DISCLOSED: &[&str] = &["/comment"];

/// One step of preparing a sample.
///
/// ```
/// use domain::preparations::Preparation;
/// let weighed: Preparation = serde_json::from_str(
///     r#"{"kind":"test-portion","sample":"019ca869-5003-7d46-b59c-6cf85cca57e5",
///         "at":"2026-03-01T08:00:00Z","mass_g":"10.0"}"#)?;
/// assert!(weighed.check().is_ok());
/// let nothing = Preparation { mass_g: "-1".parse().ok(), ..weighed };
/// assert_eq!(nothing.check().unwrap_err().0[0].pointer, "/mass_g");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Preparation {
    /// Which step.
    pub kind: PreparationKind,
    /// The sample it is of.
    pub sample: SampleId,
    /// What it was made from; absent for a ground sample.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<PreparationId>,
    /// The written method that was worked by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub procedure: Option<ProcedureId>,
    /// Who did it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<AccountId>,
    /// When it was finished.
    pub at: Moment,
    /// What was used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub equipment: Vec<EquipmentId>,
    /// Liquids that were added, with their lots.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub liquids: Vec<Liquid>,
    /// Mass in g of what was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<Number>,
    /// How long it was shaken, in s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shaking_s: Option<u32>,
    /// How the extract was cleared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clarification: Option<Clarification>,
    /// Volume in mL that clearing gave.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clarified_volume_ml: Option<Number>,
    /// Free text (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}

/// Which step of preparing a sample.
///
/// ```
/// use domain::preparations::PreparationKind;
/// assert_eq!(PreparationKind::Extract.made_from(), Some(PreparationKind::TestPortion));
/// assert_eq!(PreparationKind::GroundSample.made_from(), None);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum PreparationKind {
    /// The sample, ground and mixed.
    GroundSample,
    /// What is weighed of it for one extraction.
    TestPortion,
    /// What the liquid took out of it, cleared.
    Extract,
}

impl PreparationKind {
    /// The step that this one is made from; none where it is made from the sample itself.
    #[must_use]
    pub const fn made_from(self) -> Option<Self> {
        match self {
            Self::GroundSample => None,
            Self::TestPortion => Some(Self::GroundSample),
            Self::Extract => Some(Self::TestPortion),
        }
    }

    /// The word for people.
    ///
    /// ```
    /// assert_eq!(domain::preparations::PreparationKind::TestPortion.name(), "test portion");
    /// ```
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::GroundSample => "ground sample",
            Self::TestPortion => "test portion",
            Self::Extract => "extract",
        }
    }
}

/// How an extract is cleared.
///
/// ```
/// use domain::preparations::Clarification;
/// assert_eq!(serde_json::to_string(&Clarification::Filter)?, "\"filter\"");
/// assert!(serde_json::from_str::<Clarification>("\"settling\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Clarification {
    /// Through a filter.
    Filter,
    /// In a centrifuge.
    Centrifuge,
}

/// A liquid with its lot.
///
/// ```
/// use domain::preparations::Liquid;
/// let water: Liquid = serde_json::from_str(
///     r#"{"name":"distilled water","lot":"W-12","volume_ml":"50"}"#)?;
/// assert!(water.check().is_ok());
/// assert!(Liquid { lot: String::new(), ..water }.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Liquid {
    /// What it is.
    pub name: String,
    /// Its lot.
    pub lot: String,
    /// Volume in mL.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_ml: Option<Number>,
    /// Last day it may be used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_on: Option<NaiveDate>,
}

/// Why a step cannot be made from another.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChainError {
    /// A ground sample is made from the sample itself.
    #[error("a ground sample is made from the sample itself: leave its parent out")]
    GroundSampleWithParent,
    /// The parent is missing.
    #[error("{kind} needs the {due} that it was made from", kind = .kind.name(), due = .due.name())]
    NoParent {
        /// The step.
        kind: PreparationKind,
        /// The step that it is made from.
        due: PreparationKind,
    },
    /// The parent is of another kind.
    #[error("{kind} is made from a {due}, not from a {found}",
        kind = .kind.name(), due = .due.name(), found = .found.name())]
    WrongParent {
        /// The step.
        kind: PreparationKind,
        /// What it is made from.
        due: PreparationKind,
        /// What was named.
        found: PreparationKind,
    },
    /// The two belong to different samples.
    #[error("{kind} and what it was made from belong to different samples", kind = .kind.name())]
    OtherSample {
        /// The step.
        kind: PreparationKind,
    },
    /// The step was finished before the one it was made from.
    #[error("{kind} was finished at {at}, before what it was made from, at {parent_at}",
        kind = .kind.name())]
    OutOfOrder {
        /// The step.
        kind: PreparationKind,
        /// When it was finished.
        at: Moment,
        /// When its parent was.
        parent_at: Moment,
    },
    /// More was taken than there was.
    #[error("{kind} of {mass_g} g is more than the {parent_mass_g} g it was taken from",
        kind = .kind.name())]
    MoreThanParent {
        /// The step.
        kind: PreparationKind,
        /// Its mass in g.
        mass_g: Number,
        /// Its parent's mass in g.
        parent_mass_g: Number,
    },
}

impl Liquid {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::text(&mut faults, "/name", &self.name, entries::NAME_LENGTH);
        entries::text(&mut faults, "/lot", &self.lot, entries::CODE_LENGTH);
        entries::positive(&mut faults, "/volume_ml", self.volume_ml, "mL");
        faults.into_result()
    }
}

impl Preparation {
    /// Gathers what is wrong with the step on its own.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::distinct(&mut faults, "/equipment", &self.equipment);
        for (position, liquid) in self.liquids.iter().enumerate() {
            faults.nest(&format!("/liquids/{position}"), liquid.check());
        }
        entries::positive(&mut faults, "/mass_g", self.mass_g, "g");
        entries::positive(
            &mut faults,
            "/clarified_volume_ml",
            self.clarified_volume_ml,
            "mL",
        );
        let extract = self.kind == PreparationKind::Extract;
        for (given, pointer) in [
            (self.shaking_s.is_some(), "/shaking_s"),
            (self.clarification.is_some(), "/clarification"),
            (self.clarified_volume_ml.is_some(), "/clarified_volume_ml"),
        ] {
            faults.require(extract || !given, pointer, || {
                format!("belongs to an extract; a {} has none", self.kind.name())
            });
        }
        let comment = self.comment.as_deref();
        entries::optional_text(&mut faults, "/comment", comment, entries::TEXT_LENGTH);
        faults.into_result()
    }

    /// Checks the step against the one that it was made from.
    ///
    /// # Errors
    /// [`ChainError`]: the first thing that does not fit.
    ///
    /// ```
    /// use domain::preparations::{ChainError, Preparation};
    /// let step = |kind: &str, at: &str| serde_json::from_str::<Preparation>(&format!(
    ///     r#"{{"kind":"{kind}","sample":"019ca869-5003-7d46-b59c-6cf85cca57e5","at":"{at}"}}"#));
    /// let ground = step("ground-sample", "2026-03-01T08:00:00Z")?;
    /// let portion = step("test-portion", "2026-03-01T08:10:00Z")?;
    /// assert!(ground.check_parent(None).is_ok());
    /// assert!(portion.check_parent(Some(&ground)).is_ok());
    /// assert!(matches!(portion.check_parent(None), Err(ChainError::NoParent { .. })));
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn check_parent(&self, parent: Option<&Self>) -> Result<(), ChainError> {
        let kind = self.kind;
        let (due, parent) = match (kind.made_from(), parent) {
            (None, None) => return Ok(()),
            (None, Some(_)) => return Err(ChainError::GroundSampleWithParent),
            (Some(due), None) => return Err(ChainError::NoParent { kind, due }),
            (Some(due), Some(parent)) => (due, parent),
        };
        if parent.kind != due {
            let found = parent.kind;
            return Err(ChainError::WrongParent { kind, due, found });
        }
        if parent.sample != self.sample {
            return Err(ChainError::OtherSample { kind });
        }
        if self.at < parent.at {
            let (at, parent_at) = (self.at, parent.at);
            return Err(ChainError::OutOfOrder {
                kind,
                at,
                parent_at,
            });
        }
        match (kind, self.mass_g, parent.mass_g) {
            (PreparationKind::TestPortion, Some(mass_g), Some(parent_mass_g))
                if mass_g.0 > parent_mass_g.0 =>
            {
                Err(ChainError::MoreThanParent {
                    kind,
                    mass_g,
                    parent_mass_g,
                })
            }
            _ => Ok(()),
        }
    }

    /// Age in whole seconds at a moment, where it does not lie in the step's future.
    ///
    /// ```
    /// use domain::preparations::Preparation;
    /// let extract: Preparation = serde_json::from_str(
    ///     r#"{"kind":"extract","sample":"019ca869-5003-7d46-b59c-6cf85cca57e5",
    ///         "at":"2026-03-01T08:00:00Z"}"#)?;
    /// assert_eq!(extract.age_s("2026-03-01T08:30:00Z".parse()?), Some(1800));
    /// assert_eq!(extract.age_s("2026-03-01T07:59:00Z".parse()?), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn age_s(&self, at: Moment) -> Option<u64> {
        u64::try_from(at.seconds_since(self.at)).ok()
    }
}
