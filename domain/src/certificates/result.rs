//! One result as it is certified: number, uncertainty, measuring range, runs and decisions.
//!
//! Promises that what is reported stands beside the exact value that it was rounded from, and
//! that a decision never stands without its limit and its rule in words.

use super::{CertifiedRun, Signature};
use crate::analytes::Analyte;
use crate::decisions::{Finding, Verdict};
use crate::id::{LimitId, LotId, ProcedureId, ResultId, SampleId};
use crate::quantity::Unit;
use crate::results::{KeptBudgetLine, LotDoubt};
use crate::time::Moment;
use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// Whether a result lies inside the laboratory's accreditation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AccreditationStatus {
    /// Site, procedure, commodity and analyte are in the scope on the date of the test.
    Within,
    /// At least one of them is not: the certificate marks it.
    Outside,
    /// The laboratory claims no accreditation.
    NoneClaimed,
}

/// The result of one sample and analyte.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CertifiedResult {
    /// The result's id.
    pub id: ResultId,
    /// Its version.
    pub version: u64,
    /// The lot of its sample.
    pub lot: LotId,
    /// Its sample.
    pub sample: SampleId,
    /// What was measured, as an id of the vocabulary.
    pub analyte: Analyte,
    /// How that is printed.
    pub analyte_name: String,
    /// The procedure, one of the certificate's.
    pub procedure: ProcedureId,
    /// What the result says of the true value, in µg/kg.
    pub finding: Finding,
    /// The exact value in `unit`, where there is a number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Decimal>,
    /// As reported, rounded by the procedure's rule, without its unit: `150`, `< 2`, `> 50`.
    pub reported: String,
    /// The unit of `value`, `reported`, uncertainty, range and runs.
    pub unit: Unit,
    /// The rule that it was rounded by, in words.
    pub rounding: String,
    /// On what it is based: as received, dry matter, 12 % moisture.
    pub basis: String,
    /// Whether the value was corrected for recovery.
    pub recovery_corrected: bool,
    /// Its uncertainty, where one was determined.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<CertifiedUncertainty>,
    /// The doubt of the lot, where the order asks for it; no decision looks at it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_doubt: Option<LotDoubt>,
    /// The measuring range, undiluted, and once more for each dilution in use.
    pub ranges: Vec<MeasuringRange>,
    /// When the first of its runs began.
    pub began_at: Moment,
    /// When the last was read.
    pub ended_at: Moment,
    /// Every run of this sample and analyte, also those that the value does not come from.
    pub runs: Vec<CertifiedRun>,
    /// How the value follows from its runs, in a sentence.
    pub derivation: String,
    /// A decision for each limit that applies; empty where none does.
    pub decisions: Vec<CertifiedDecision>,
    /// Whether it is inside the accreditation.
    pub accreditation: AccreditationStatus,
    /// The signature that released it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub released: Option<Signature>,
}

/// An expanded uncertainty and what it is made of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CertifiedUncertainty {
    /// Expanded uncertainty, in the result's unit.
    pub expanded: Decimal,
    /// As reported, rounded like the value.
    pub reported: String,
    /// The coverage factor.
    pub coverage_factor: Decimal,
    /// What it covers, in words: the analysis alone, or sampling too.
    pub covers: String,
    /// The lines of the budget, in µg/kg, as they are kept with the result.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub budget: Vec<KeptBudgetLine>,
}

/// Where the method tells numbers from bounds, in the result's unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeasuringRange {
    /// For which dilution: `undiluted`, `× 6`.
    pub dilution: String,
    /// Limit of detection.
    pub lod: Decimal,
    /// Limit of quantification.
    pub loq: Decimal,
    /// Upper end.
    pub upper: Decimal,
}

/// A limit that the result was compared with, copied at the time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CertifiedLimit {
    /// The limit's id.
    pub id: LimitId,
    /// Its short printed name.
    pub name: String,
    /// Who set it: a regulation's kind of authority, `contract`, or `intake`.
    pub authority: String,
    /// Where it holds, for a limit of law.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jurisdiction: Option<String>,
    /// For which use.
    pub intended_use: String,
    /// For which goods.
    pub commodity: String,
    /// The number.
    pub value: Decimal,
    /// Its unit.
    pub unit: Unit,
    /// On what it is based.
    pub basis: String,
    /// How the limit says that it is broken: `exceeds`, `reaches`.
    pub comparison: String,
    /// Since when it holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_from: Option<NaiveDate>,
    /// Where it is written.
    pub source: String,
}

/// The rule that a decision was made by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DecisionRuleUsed {
    /// Its code, such as `guarded-acceptance`.
    pub code: String,
    /// The whole rule, in words, the level of risk included (7.8.6.1).
    pub words: String,
    /// The guard band, in the limit's unit, where the rule has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guard_band: Option<Decimal>,
}

/// What was decided; the terms of ILAC-G8 and of screening methods.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DecisionTerm {
    /// Conforms.
    Pass,
    /// Within the limit, but inside the guard band.
    ConditionalPass,
    /// Over the limit, but inside the guard band.
    ConditionalFail,
    /// Does not conform.
    Fail,
    /// Screening: below the cut-off.
    Negative,
    /// Screening: at or above the cut-off; to be confirmed.
    Suspect,
    /// The result cannot decide this limit.
    Undecided,
}

impl From<&Verdict> for DecisionTerm {
    fn from(verdict: &Verdict) -> Self {
        match verdict {
            Verdict::Pass => Self::Pass,
            Verdict::ConditionalPass => Self::ConditionalPass,
            Verdict::ConditionalFail => Self::ConditionalFail,
            Verdict::Fail => Self::Fail,
            Verdict::Negative => Self::Negative,
            Verdict::Suspect => Self::Suspect,
            Verdict::Undecided { .. } => Self::Undecided,
        }
    }
}

impl DecisionTerm {
    /// The printed word.
    ///
    /// ```
    /// use domain::certificates::DecisionTerm;
    /// assert_eq!(DecisionTerm::ConditionalPass.words(), "conditional pass");
    /// ```
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::ConditionalPass => "conditional pass",
            Self::ConditionalFail => "conditional fail",
            Self::Fail => "fail",
            Self::Negative => "negative",
            Self::Suspect => "suspect",
            Self::Undecided => "undecided",
        }
    }
}

/// A decision about one limit (7.8.6.2: which result, which limit, which rule).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CertifiedDecision {
    /// The limit.
    pub limit: CertifiedLimit,
    /// The rule.
    pub rule: DecisionRuleUsed,
    /// What was decided.
    pub decision: DecisionTerm,
    /// What the term means.
    pub explanation: String,
    /// The statement of conformity in a sentence.
    pub statement: String,
    /// Probability of conformity, where an uncertainty allows one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability_of_conformity: Option<Decimal>,
    /// How likely the whole lot is above the limit, where the order asks for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability_lot_above: Option<Decimal>,
}
