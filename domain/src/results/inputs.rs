//! What a result is computed from.

use crate::analytes::Analyte;
use crate::decisions::{DecisionRule, Uncertainty};
use crate::id::{RunId, SampleId};
use crate::kit_lots::KitLotEntry;
use crate::limits::{Applied, Basis, ConditionFacts};
use crate::procedures::ProcedureEntry;
use crate::quantity::{Concentration, Number};
use crate::runs::Run;
use crate::versions::SubjectVersion;

use super::content::ResultPurpose;
use super::plan::Pipette;
use super::rules_2::BudgetSource;

/// A recorded thing and the version of it that is used.
#[derive(Debug)]
pub struct Facts<'a, T> {
    /// Which version of which subject.
    pub source: SubjectVersion,
    /// What it says.
    pub content: &'a T,
}

impl<T> Clone for Facts<'_, T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for Facts<'_, T> {}

/// A run, the version of it that is used, and its uncertainty where one is known.
#[derive(Debug, Clone, Copy)]
pub struct RunFacts<'a> {
    /// The run.
    pub id: RunId,
    /// Its version.
    pub version: u32,
    /// What it says.
    pub run: &'a Run,
    /// The expanded uncertainty of its value for the analyte, in µg/kg.
    pub expanded_uncertainty: Option<Concentration>,
}

/// What of the order bears on a result.
#[derive(Debug, Clone)]
pub struct OrderFacts {
    /// Whether a number is wanted where a bound already decides every limit.
    pub number_wanted: bool,
    /// The decision rule that was agreed.
    pub rule: DecisionRule,
}

/// Everything that one result is computed from.
#[derive(Debug, Clone)]
pub struct ResultInputs<'a> {
    /// The sample.
    pub sample: SampleId,
    /// The analyte.
    pub analyte: Analyte,
    /// Why the result was asked for.
    pub purpose: ResultPurpose,
    /// What of the order bears on it.
    pub order: OrderFacts,
    /// The version of the procedure in force for the sample, where one is known.
    pub procedure: Option<Facts<'a, ProcedureEntry>>,
    /// The kit lots that the runs name, as far as they are known.
    pub kit_lots: &'a [Facts<'a, KitLotEntry>],
    /// All runs of the sample, in any order.
    pub runs: &'a [RunFacts<'a>],
    /// The limits that apply.
    pub limits: &'a [Applied<'a>],
    /// Which of their conditions are met.
    pub conditions: &'a ConditionFacts,
    /// The sample's moisture in percent, where it is recorded.
    pub moisture_percent: Option<Number>,
    /// The bases that the test portion is recorded to be on.
    pub recorded_bases: &'a [Basis],
    /// The expanded uncertainty of the result, where one is known.
    pub uncertainty: Option<Uncertainty>,
    /// The laboratory's pipettes.
    pub pipettes: &'a [Pipette<'a>],
    /// Where rules number 2 find the evidence of the budget; those of number 1 ask for none.
    pub evidence: &'a dyn BudgetSource,
    /// Every other version that was looked at: sample, order, limits, pipettes.
    pub other_sources: &'a [SubjectVersion],
}
