//! The terms of a decision, each with its explanation.
//!
//! Promises the terms of ILAC-G8 and, for screening, of Implementing Regulation (EU) 2023/2782;
//! an open decision always says what it waits for.

use serde::{Deserialize, Serialize};

use crate::limits::{Basis, LimitState};
use crate::quantity::Concentration;

/// What was decided.
///
/// ```
/// use domain::decisions::{Undecided, Verdict};
/// assert_eq!(Verdict::ConditionalPass.name(), "conditional pass");
/// let open = Verdict::Undecided { reason: Undecided::NoMoisture };
/// assert!(open.explanation().contains("moisture"));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "term", rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Verdict {
    /// Conforms by the rule.
    Pass,
    /// Within the limit, but closer to it than the guard band.
    ConditionalPass,
    /// Over the limit, but closer to it than the guard band.
    ConditionalFail,
    /// Does not conform by the rule.
    Fail,
    /// Screening: not over the cut-off.
    Negative,
    /// Screening: over the cut-off.
    Suspect,
    /// Not decided.
    Undecided {
        /// What stands in the way.
        reason: Undecided,
    },
}

/// What stands in the way of a decision.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Undecided {
    /// The rule keeps a guard band, and no uncertainty is known.
    NoUncertainty,
    /// The run cannot see as low as the limit.
    CannotSeeThatLow {
        /// The result is only known to be below this, µg/kg on the limit's basis.
        bound: Concentration,
    },
    /// Over range, at a bound that is not beyond the limit.
    OverRangeTooEarly {
        /// The result is only known to be above this, µg/kg on the limit's basis.
        bound: Concentration,
    },
    /// The sum is over the limit for its part; how much of it the part is, is not known.
    TotalAboveLimit,
    /// The part is not over the limit for the sum; the rest of the sum is not known.
    PartWithinLimit,
    /// The limit's basis asks for a moisture that is not recorded.
    NoMoisture,
    /// The recorded moisture is no percentage from 0 to below 100.
    AbsurdMoisture,
    /// The limit stands on a basis that nothing recorded of the sample answers.
    NotOnBasis {
        /// The basis.
        basis: Basis,
    },
    /// The limit has a condition that nobody recorded.
    ConditionUnknown {
        /// The condition.
        condition: String,
    },
    /// The limit's condition is recorded as not met: the limit does not apply.
    ConditionNotMet {
        /// The condition.
        condition: String,
    },
    /// The result says nothing about the limit's analyte.
    OtherAnalyte,
    /// Only an adopted limit decides.
    LimitNotAdopted {
        /// Its state.
        state: LimitState,
    },
    /// The guard band is wider than the limit: no result so low could pass.
    GuardBandTooWide,
    /// The screening was validated for a level above the limit.
    ScreenedTooHigh,
    /// The rule's own numbers cannot be used.
    UnusableRule {
        /// What is wrong with them.
        fault: String,
    },
    /// The numbers leave the range that can be kept exactly.
    Uncomputable,
}

impl Verdict {
    /// The term, for people.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::ConditionalPass => "conditional pass",
            Self::ConditionalFail => "conditional fail",
            Self::Fail => "fail",
            Self::Negative => "negative",
            Self::Suspect => "suspect",
            Self::Undecided { .. } => "undecided",
        }
    }

    /// What the term means, to stand where it is shown.
    #[must_use]
    pub const fn explanation(&self) -> &'static str {
        match self {
            Self::Pass => "The result conforms to the limit by the decision rule (ILAC-G8).",
            Self::ConditionalPass => {
                "The result does not exceed the limit, but lies closer to it than the guard band: \
                 the true value may be over the limit (ILAC-G8)."
            }
            Self::ConditionalFail => {
                "The result exceeds the limit, but lies closer to it than the guard band: the \
                 true value may be within the limit (ILAC-G8)."
            }
            Self::Fail => {
                "The result does not conform to the limit by the decision rule (ILAC-G8)."
            }
            Self::Negative => {
                "Screening found the sample not over the cut-off (Implementing Regulation (EU) \
                 2023/2782)."
            }
            Self::Suspect => {
                "Screening found the sample over the cut-off: it may be over the limit, and a \
                 confirmatory method decides; screening alone never rejects a lot (Implementing \
                 Regulation (EU) 2023/2782)."
            }
            Self::Undecided { reason } => reason.explanation(),
        }
    }

    /// Where the term stands from best (0) to worst; none where nothing was decided.
    ///
    /// ```
    /// use domain::decisions::{Undecided, Verdict};
    /// assert!(Verdict::Pass.rank() < Verdict::Fail.rank());
    /// assert_eq!(Verdict::Undecided { reason: Undecided::NoMoisture }.rank(), None);
    /// ```
    #[must_use]
    pub const fn rank(&self) -> Option<u8> {
        match self {
            Self::Pass | Self::Negative => Some(0),
            Self::ConditionalPass => Some(1),
            Self::ConditionalFail | Self::Suspect => Some(2),
            Self::Fail => Some(3),
            Self::Undecided { .. } => None,
        }
    }
}

impl Undecided {
    /// What stands in the way and what would help, to stand where it is shown.
    ///
    /// ```
    /// use domain::decisions::Undecided;
    /// assert!(Undecided::NoUncertainty.explanation().contains("uncertainty"));
    /// ```
    #[must_use]
    pub const fn explanation(&self) -> &'static str {
        match self {
            Self::NoUncertainty => {
                "The decision rule keeps a guard band, which needs the expanded uncertainty of \
                 the result; none is known."
            }
            Self::CannotSeeThatLow { .. } => {
                "The result is only known to be below a bound, and the limit asks for less than \
                 that: the run cannot see that low."
            }
            Self::OverRangeTooEarly { .. } => {
                "The result is only known to be above a bound, and the limit asks for more than \
                 that: a diluted run would tell."
            }
            Self::TotalAboveLimit => {
                "The sum is not within the limit for one of its parts, and how much of it the \
                 part makes up was not measured."
            }
            Self::PartWithinLimit => {
                "The part is not over the limit for the whole sum, and the rest of the sum was \
                 not measured."
            }
            Self::NoMoisture => {
                "The limit stands on a basis of moisture or dry matter, and the sample's moisture \
                 is not recorded."
            }
            Self::AbsurdMoisture => {
                "The sample's recorded moisture is no percentage from 0 to below 100."
            }
            Self::NotOnBasis { .. } => {
                "The limit stands on a part or a preparation of the good, and nothing recorded \
                 says that the test portion was on that basis."
            }
            Self::ConditionUnknown { .. } => {
                "The limit applies only under a condition, and whether it is met is not recorded."
            }
            Self::ConditionNotMet { .. } => {
                "The limit's condition is recorded as not met: the limit does not apply."
            }
            Self::OtherAnalyte => "The result says nothing about the analyte of the limit.",
            Self::LimitNotAdopted { .. } => {
                "Only a limit that the quality manager has adopted, and not retired, decides."
            }
            Self::GuardBandTooWide => {
                "The guard band is wider than the limit, so that not even zero could pass."
            }
            Self::ScreenedTooHigh => {
                "The screening target, or the cut-off where no target is stated, lies above the \
                 limit: a negative does not show that the limit is kept."
            }
            Self::UnusableRule { .. } => "The decision rule's own numbers cannot be used.",
            Self::Uncomputable => "The numbers leave the range that can be kept exactly.",
        }
    }
}
