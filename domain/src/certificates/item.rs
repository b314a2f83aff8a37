//! What was tested and how it got to the reader: lot, samples, sampling, preparation, procedure.
//!
//! Promises that every mass and volume has its unit in its name or beside it, and that who took
//! the samples is always said, because what a result holds for depends on it.

use super::Person;
use crate::id::{LotId, PreparationId, ProcedureId, SampleId};
use crate::samplings::PlanCheck;
use crate::time::Moment;
use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A word of a controlled vocabulary: its id and how it is printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Term {
    /// The id, such as `maize-grain`.
    pub id: String,
    /// The printed form, such as `maize grain`.
    pub name: String,
}

/// A mass as it was stated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mass {
    /// The number.
    pub value: Decimal,
    /// `t`, `kg` or `g` (UCUM).
    pub unit: String,
}

/// The goods.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lot {
    /// The lot's id.
    pub id: LotId,
    /// The lot's code.
    pub code: String,
    /// The sublot, where the samples stand for one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sublot: Option<String>,
    /// What it is.
    pub commodity: Term,
    /// The whole mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass: Option<Mass>,
    /// Vessel, wagon or lorry (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carrier: Option<String>,
    /// When it arrived: the date that chooses the limits, unless the order says otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arrived_on: Option<NaiveDate>,
    /// Free text (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
}

/// A sample that was tested.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Item {
    /// The sample's id.
    pub sample: SampleId,
    /// The lot that it stands for.
    pub lot: LotId,
    /// The sample's code.
    pub code: String,
    /// What it looked like (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub description: Option<String>,
    /// Its condition when it came (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<String>,
    /// Its mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass: Option<Mass>,
    /// Its moisture as a mass fraction in per cent, where it was determined.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture_percent: Option<Decimal>,
    /// When the laboratory received it.
    pub received_at: Moment,
}

/// Who took the samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SamplingBy {
    /// The laboratory.
    Laboratory,
    /// The customer.
    Customer,
    /// Somebody else, such as a superintendent.
    ThirdParty,
}

impl SamplingBy {
    /// The answer in words.
    ///
    /// ```
    /// assert_eq!(domain::certificates::SamplingBy::Customer.words(), "the customer");
    /// ```
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Laboratory => "the laboratory",
            Self::Customer => "the customer",
            Self::ThirdParty => "a third party",
        }
    }
}

/// How the samples were taken; what is absent is not known to the laboratory.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sampling {
    /// Whether the laboratory took them.
    pub taken_by: SamplingBy,
    /// Who exactly.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Person>,
    /// The plan and its edition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<String>,
    /// Where (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// When it began and ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub began_at: Option<Moment>,
    /// When it ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended_at: Option<Moment>,
    /// With what: probe, stream sampler, scoop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tool: Option<String>,
    /// How many increments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increments: Option<u32>,
    /// The mass of one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increment_mass: Option<Mass>,
    /// The mass of all together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aggregate_mass: Option<Mass>,
    /// The seal on the sample.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seal: Option<String>,
    /// Departures from the plan, as who took it wrote them down (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deviations: Option<String>,
    /// What was taken against what the plan asks of the lot (7.8.5 f), where it is a published one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan_check: Option<PlanCheck>,
}

/// A version of a written method.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Procedure {
    /// The procedure's id.
    pub id: ProcedureId,
    /// Its code.
    pub code: String,
    /// Its version.
    pub version: u64,
    /// What it is called.
    pub name: String,
    /// What is done, in a sentence.
    pub principle: String,
    /// The revision of the kit's instructions that it follows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instructions_revision: Option<String>,
}

/// A piece of equipment that was used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Equipment {
    /// What it is: balance, grinder, shaker.
    pub kind: String,
    /// Its code.
    pub code: String,
    /// Until when its calibration or check was good.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub checked_until: Option<NaiveDate>,
}

/// One step from sample to extract.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PreparationStep {
    /// The id of what was made.
    pub id: PreparationId,
    /// Its code.
    pub code: String,
    /// The sample that it belongs to.
    pub sample: SampleId,
    /// What was made: ground sample, test portion, extract.
    pub made: String,
    /// What was done with which masses, volumes and times, written from the record.
    pub what: String,
    /// When.
    pub at: Moment,
    /// By whom, where that was recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Person>,
    /// With what.
    pub equipment: Vec<Equipment>,
    /// Free text (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
}
