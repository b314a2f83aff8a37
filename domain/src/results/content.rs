//! What a result's record holds.

use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::decisions::{Decision, Finding};
use crate::dilution::{Disagreement, Factor};
use crate::id::{ProcedureId, RunId, SampleId};
use crate::quantity::{Concentration, Number, Unit};
use crate::versions::SubjectVersion;

use super::{LotDoubt, MeasuringRange, NextDilution, NoDilution, RangeCheck, Replicates};

/// Why the result was asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ResultPurpose {
    /// The first of its sample and analyte.
    #[default]
    Original,
    /// Asked for again.
    Retest,
    /// For comparison.
    Reference,
    /// To settle a dispute.
    Appeal,
}

/// The version of the procedure that a result was computed by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ProcedureUsed {
    /// The procedure.
    pub id: ProcedureId,
    /// Its version, from 1.
    pub version: u32,
}

/// What became of one run in a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Use {
    /// The result stands on it.
    Stands,
    /// It was withdrawn.
    Withdrawn,
    /// Its reading is invalid.
    Invalid,
    /// It was worked by another procedure.
    AnotherProcedure,
    /// Neither a procedure nor a kit lot gives a measuring range for the analyte.
    NoRange,
    /// Its numbers leave what can be kept exactly.
    Uncomputable,
    /// It is over range, and another run says more.
    OverRange,
    /// It is diluted so far that it sees nothing, and a run less diluted is over range.
    DilutedTooFar,
    /// A run less diluted is in range.
    LowerDilutionInRange,
    /// It is in range, but a replicate at the same dilution is over range.
    ReplicateOverRange,
}

impl Use {
    /// What became of it, as a sentence for people.
    #[must_use]
    pub const fn explanation(self) -> &'static str {
        match self {
            Self::Stands => "The result stands on this run.",
            Self::Withdrawn => "The run was withdrawn.",
            Self::Invalid => "The reading is invalid: it is kept, and never used.",
            Self::AnotherProcedure => "The run was worked by another procedure.",
            Self::NoRange => "Neither procedure nor kit lot gives a measuring range.",
            Self::Uncomputable => "The numbers leave the range that can be kept exactly.",
            Self::OverRange => "The run is over range, and another run says more.",
            Self::DilutedTooFar => {
                "The extract was diluted so far that nothing is quantified, while a run less \
                 diluted is over range."
            }
            Self::LowerDilutionInRange => "A run less diluted is in range.",
            Self::ReplicateOverRange => {
                "The run is in range, but a replicate at the same dilution is over range."
            }
        }
    }
}

/// One run in a result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RunUse {
    /// The run.
    pub run: RunId,
    /// Whether the result stands on it.
    pub standing: bool,
    /// Why, or why not.
    pub why: Use,
    /// The dilution factor of its volumes.
    pub factor: Factor,
    /// What its reading says of the sample, where it could be used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finding: Option<Finding>,
}

/// What is due before there can be a result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Needs {
    /// No run can be used.
    Run,
    /// A diluted run: `next_dilution` says how.
    Dilution,
    /// Replicates are outside the critical range.
    FurtherDeterminations {
        /// How many more.
        further: u32,
    },
}

/// Something amiss in what a result was computed from; each becomes a hold.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Concern {
    /// Volumes, stated factor and value of a run disagree.
    DilutionDisagreement {
        /// The run.
        run: RunId,
        /// What disagrees.
        disagreement: Disagreement,
    },
    /// A diluted run says less than the lower bound of a run that was over range.
    Contradiction {
        /// The run that was over range.
        over_range: RunId,
        /// Its lower bound.
        bound: Concentration,
        /// The run that contradicts it.
        run: RunId,
        /// The most that this one can mean: its value with its uncertainty, or its upper bound.
        most: Concentration,
    },
    /// Replicates at one dilution do not agree.
    ReplicateDisagreement {
        /// The runs.
        runs: Vec<RunId>,
        /// How far they are apart; absent where one of them is over range.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        check: Option<RangeCheck>,
    },
    /// The sample is over range, a number is due, and no dilution can be made.
    NoDilution {
        /// Why.
        reason: NoDilution,
    },
    /// The procedure's rule cannot round the value.
    Unreportable {
        /// Why.
        reason: String,
    },
}

/// The place of the uncertainty and its budget; the budget's lines are empty under rules 1.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct UncertaintyPlace {
    /// U in µg/kg, zero or more.
    pub expanded: Concentration,
    /// k, above zero.
    pub coverage_factor: Number,
    /// The budget, line by line, each composed from facts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<KeptBudgetLine>,
}

/// One line of the budget that is kept with a result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct KeptBudgetLine {
    /// Where it comes from, such as the dilution.
    pub source: String,
    /// What it was computed from.
    pub stated: String,
    /// Its standard uncertainty in the result, µg/kg, with six places.
    pub contribution: Concentration,
    /// Its share of the variance, in percent, with six places.
    pub share_percent: Number,
}

/// A result as it was computed: for one sample and analyte, from the versions it names.
///
/// ```
/// use domain::results::ComputedResult;
/// let result: ComputedResult = serde_json::from_str(include_str!("example.json"))?;
/// assert_eq!(result.reported.as_deref(), Some("48.0"));
/// let mut later = result.clone();
/// later.from[0].version = 2;
/// assert!(result.says_the_same(&later));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedResult {
    /// The sample.
    pub sample: SampleId,
    /// The analyte.
    pub analyte: Analyte,
    /// Why it was asked for.
    pub purpose: ResultPurpose,
    /// Every version it was computed from, sorted by subject.
    pub from: Vec<SubjectVersion>,
    /// The number of the rules.
    pub rules: u32,
    /// The procedure that it was computed by, where one is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub procedure: Option<ProcedureUsed>,
    /// What became of each run, in the order they were read.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub runs: Vec<RunUse>,
    /// What is due first; absent where the result is whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs: Option<Needs>,
    /// What the standing runs say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finding: Option<Finding>,
    /// The number in µg/kg, with six places; absent where there is a bound.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub concentration: Option<Concentration>,
    /// What a report says, rounded once by the procedure's rule.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reported: Option<String>,
    /// The unit of what is reported.
    pub unit: Unit,
    /// The dilution factor of the standing runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub factor: Option<Factor>,
    /// Their measuring range, scaled by the factor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range: Option<MeasuringRange>,
    /// How the value came from several determinations.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replicates: Option<Replicates>,
    /// The uncertainty, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<UncertaintyPlace>,
    /// The doubt of the lot, where the order asks for it: beside the uncertainty, and no part of a
    /// decision.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<LotDoubt>,
    /// The decisions against each limit that applies.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub decisions: Vec<Decision>,
    /// The lower bound, where the sample is over range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub over_range_bound: Option<Concentration>,
    /// The dilution to make.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next_dilution: Option<NextDilution>,
    /// What is amiss; each becomes a hold.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub concerns: Vec<Concern>,
}

impl ComputedResult {
    /// Whether another computation says the same; which versions it came from does not matter.
    #[must_use]
    pub fn says_the_same(&self, other: &Self) -> bool {
        let unsourced = |one: &Self| Self {
            from: Vec::new(),
            procedure: None,
            ..one.clone()
        };
        unsourced(self) == unsourced(other)
    }
}
