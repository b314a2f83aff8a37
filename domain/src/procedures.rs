//! A version of the written method: what it measures, within which range, and how.
//!
//! Promises that an adopted procedure has a range for each analyte that can be measured, dilutions
//! that can be pipetted and tolerances above zero. Refuses to change a retired one; absent
//! tolerances are not limits.

#![expect(
    clippy::disallowed_types,
    reason = "what serde derives here names every primitive type; none is kept"
)]

mod check;
mod states;
#[cfg(test)]
mod tests;

pub use states::{ProcedureError, ProcedureState};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::dilution::DilutionStep;
use crate::id::{ControlMaterialId, ScreeningValidationId};
use crate::quantity::{Concentration, Number};
use crate::rounding::Rounding;

/// JSON pointers of what is personal or free text: none, a procedure is the laboratory's own.
pub const DISCLOSED: &[&str] = &[];

/// What a person enters of a procedure.
///
/// ```
/// use domain::procedures::ProcedureEntry;
/// let entry: ProcedureEntry = serde_json::from_str(include_str!("procedures/example.json"))?;
/// assert!(entry.check().is_ok());
/// let mut nothing = entry;
/// nothing.analytes.clear();
/// assert_eq!(nothing.check().unwrap_err().0[0].pointer, "/analytes");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ProcedureEntry {
    /// The laboratory's own code of the document.
    pub code: String,
    /// What the document is called.
    pub title: String,
    /// The revision of the kit's instructions that it follows.
    pub kit_instructions_revision: String,
    /// From which day it may be worked by, once it is adopted.
    pub effective_from: NaiveDate,
    /// The commodities that it is validated for: ids of the commodity vocabulary.
    pub commodities: Vec<String>,
    /// The analytes with their measuring ranges, for an extract made by its own scheme.
    pub analytes: Vec<AnalyteRange>,
    /// Dilutions beyond the curve's own scheme that it validates.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dilutions: Vec<DilutionScheme>,
    /// What preparation and reading must keep to.
    #[serde(default)]
    pub tolerances: Tolerances,
    /// How a result is rounded, once, when it is reported.
    pub rounding: Rounding,
    /// Standard deviation of repeatability; without it replicates cannot be checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeatability: Option<PrecisionModel>,
    /// Standard deviation within the laboratory, for the uncertainty, where its two parts are
    /// added as squares (QUAM:2012.P1, appendix E).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub precision: Option<PrecisionModel>,
    /// What control material showed of its bias when it was validated, once an analyte.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bias: Vec<ShownBias>,
    /// Recoveries that it corrects for, in the curve or in a calculation, once an analyte.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub recoveries: Vec<CorrectedRecovery>,
    /// Which control runs a series needs.
    #[serde(default)]
    pub controls: ControlRequirement,
    /// How far a new kit lot may lie from the one in use, once an analyte.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kit_lot_acceptance: Vec<KitLotCriterion>,
    /// Cut-offs of a screening method, in µg/kg.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub screening: Vec<ScreeningCutOff>,
    /// Whether the grinder needs a sieve check that is in date.
    #[serde(default)]
    pub requires_sieve_check: bool,
}

/// The measuring range for one analyte, in µg/kg of the sample, without further dilution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct AnalyteRange {
    /// Of what.
    pub analyte: Analyte,
    /// Limit of detection, not below zero.
    pub lod: Concentration,
    /// Limit of quantification, not below the limit of detection.
    pub loq: Concentration,
    /// Upper end, above the limit of quantification.
    pub upper: Concentration,
}

/// A validated dilution: its steps, one after the other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DilutionScheme {
    /// At least one step.
    pub steps: Vec<DilutionStep>,
}

/// What preparation and reading must keep to; an absent member limits nothing.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Tolerances {
    /// Least mass that is ground, in g.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minimum_ground_mass_g: Option<Number>,
    /// Mass of the test portion, in g.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub test_portion_mass_g: Option<Number>,
    /// How far the test portion may be from it, in g.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub test_portion_tolerance_g: Option<Number>,
    /// Volume of liquid in mL for each g of test portion.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub liquid_parts_per_part: Option<Number>,
    /// How far the liquid may be from it, in percent of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub liquid_tolerance_percent: Option<Number>,
    /// Least time of shaking, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minimum_shaking_s: Option<u32>,
    /// Least volume through a filter, in mL.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minimum_filtrate_ml: Option<Number>,
    /// Least volume from a centrifuge, in mL.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minimum_centrifugate_ml: Option<Number>,
    /// Longest time from extract to reading, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maximum_extract_age_s: Option<u32>,
    /// Time from the beginning of a run to its reading, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_after_s: Option<u32>,
    /// How far the reading may be from it, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_tolerance_s: Option<u32>,
    /// How far a reader's clock may be ahead, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maximum_clock_ahead_s: Option<u32>,
}

/// A standard deviation as a constant and a proportional part, s = constant + proportional × m:
/// the second of the three relations of ISO 5725-2:1994, 7.5.2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PrecisionModel {
    /// The constant part in µg/kg, not below zero.
    pub constant: Concentration,
    /// The proportional part, a fraction of the value, not below zero.
    pub proportional: Number,
}

/// What repeated runs of a control material gave: the evidence of a procedure's bias
/// (QUAM:2012.P1, 7.7).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ShownBias {
    /// Of what.
    pub analyte: Analyte,
    /// The material; its assigned value and that one's uncertainty are taken from its record.
    pub control_material: ControlMaterialId,
    /// Mean of what was found, µg/kg, above zero.
    pub mean_found: Concentration,
    /// Standard deviation of single findings, µg/kg, zero or more.
    pub standard_deviation: Concentration,
    /// How many, 1 or more.
    pub determinations: u32,
}

/// A recovery that results are corrected for already.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CorrectedRecovery {
    /// Of what.
    pub analyte: Analyte,
    /// Mean recovery, a fraction above zero: 0.85 is 85 %.
    pub recovery: Number,
    /// Its standard uncertainty, a fraction, zero or more.
    pub standard_uncertainty: Number,
}

/// Which control runs a series needs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ControlRequirement {
    /// Whether a series without a control run holds its results.
    pub required: bool,
    /// Most runs between two control runs; absent: one control run a series is enough.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maximum_runs_between: Option<u32>,
}

/// How far a new kit lot may lie from the one in use, for one analyte: by an amount, by a fraction,
/// or by the larger of both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KitLotCriterion {
    /// Of what.
    pub analyte: Analyte,
    /// Largest mean difference, µg/kg, above zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub largest_difference: Option<Concentration>,
    /// Largest mean difference as a fraction of the mean on the lot in use, above zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub largest_fraction: Option<Number>,
    /// By how many pairs of runs it is judged at the least, 2 or more.
    pub minimum_pairs: u32,
}

/// The cut-off of a screening method for one analyte.
///
/// ```
/// use domain::procedures::ScreeningCutOff;
/// let cut_off: ScreeningCutOff =
///     serde_json::from_str(r#"{"analyte":"aflatoxin-total","cut_off":"19","target":"20"}"#)?;
/// assert!(cut_off.check().is_ok());
/// let above = ScreeningCutOff { target: serde_json::from_str("\"18\"")?, ..cut_off };
/// assert_eq!(above.check().unwrap_err().0[0].pointer, "/target");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ScreeningCutOff {
    /// Of what.
    pub analyte: Analyte,
    /// Above it a sample is suspect; µg/kg, above zero.
    pub cut_off: Concentration,
    /// The screening target that it was validated for, µg/kg, not below the cut-off; that of the
    /// validation, where one is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<Concentration>,
    /// The validation that found it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub validation: Option<ScreeningValidationId>,
}

/// A procedure as it is recorded: what was entered, and its state.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Procedure {
    /// Draft, adopted or retired.
    pub state: ProcedureState,
    /// What was entered.
    #[serde(flatten)]
    pub entry: ProcedureEntry,
}

impl ProcedureEntry {
    /// The range for an analyte, where the procedure measures it.
    #[must_use]
    pub fn range_of(&self, analyte: Analyte) -> Option<&AnalyteRange> {
        self.analytes.iter().find(|range| range.analyte == analyte)
    }

    /// What control material showed for an analyte, where it was shown.
    #[must_use]
    pub fn bias_of(&self, analyte: Analyte) -> Option<&ShownBias> {
        self.bias.iter().find(|shown| shown.analyte == analyte)
    }

    /// The recovery for an analyte that results are corrected for.
    #[must_use]
    pub fn recovery_of(&self, analyte: Analyte) -> Option<&CorrectedRecovery> {
        self.recoveries.iter().find(|one| one.analyte == analyte)
    }

    /// How far a new kit lot may lie from the one in use for an analyte, where that is stated.
    #[must_use]
    pub fn kit_lot_criterion_of(&self, analyte: Analyte) -> Option<&KitLotCriterion> {
        let mut criteria = self.kit_lot_acceptance.iter();
        criteria.find(|criterion| criterion.analyte == analyte)
    }

    /// The screening cut-off for an analyte, where one was validated.
    #[must_use]
    pub fn cut_off_of(&self, analyte: Analyte) -> Option<Concentration> {
        self.screening
            .iter()
            .find(|screening| screening.analyte == analyte)
            .map(|screening| screening.cut_off)
    }
}
