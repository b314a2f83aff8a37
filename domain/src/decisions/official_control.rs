//! A lot under EU official control: over a limit beyond reasonable doubt, or not.
//!
//! Promises the rule of Implementing Regulation (EU) 2023/2782, Annex I, part II.A: each toxin
//! corrected for recovery outside 90 % to 110 %, a sum by its lower bound, rejection only where
//! x - U is above the limit, U being of the analysis alone with k = 2, and the default of 50 %
//! where the evidence for it stands. Refuses a default without that evidence, and to reject by
//! screening.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, mean, minus, not_negative, out_of_range, over, plus, times,
};
use crate::uncertainty::recovery::CorrectionRule;

/// Most laboratory samples, or parts of a sum.
pub const MOST_PARTS: usize = 100;

/// One toxin of a sum, or the only one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct FoundToxin {
    /// What was found, µg/kg; absent: below the limit of quantification, which counts as zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found: Option<Number>,
    /// The method's recovery, a fraction; absent: it needs no correction.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovery: Option<Number>,
}

/// U of a laboratory sample's result, of the analysis alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "by", rename_all = "kebab-case", deny_unknown_fields)]
pub enum AnalyticalUncertainty {
    /// Expanded with k = 2, µg/kg, of the corrected result.
    Expanded {
        /// Zero or more.
        expanded: Number,
    },
    /// Expanded with k = 2, a fraction of the corrected result.
    Relative {
        /// Zero or more.
        fraction: Number,
    },
    /// The default of 50 % of the result. It is allowed where the method meets all precision
    /// criteria and the mean |z| of proficiency tests, for a target of 25 %, is at most 2.
    Default {
        /// Whether all precision criteria are met.
        precision_criteria_met: bool,
        /// Mean of |z| over proficiency tests, zero or more.
        mean_absolute_z: Number,
    },
}

/// One laboratory sample.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ControlSample {
    /// The toxins of the limit: one, or those of a sum.
    pub toxins: Vec<FoundToxin>,
    /// U of their sum.
    pub uncertainty: AnalyticalUncertainty,
}

/// What the lot is for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LotPurpose {
    /// Final use: no laboratory sample may exceed the limit.
    #[default]
    FinalUse,
    /// Sorting or other physical treatment: the mean of the samples is compared.
    Sorting,
}

/// A lot under official control.
///
/// ```
/// use domain::decisions::official_control::{OfficialControlInputs, official_control};
/// // 5.2 µg/kg with a recovery of 80 % is 6.5; with U of 50 % the rest is 3.25, not above 4.
/// let inputs: OfficialControlInputs = serde_json::from_str(r#"{"maximum_level":"4","samples":[
///     {"toxins":[{"found":"5.2","recovery":"0.8"}],"uncertainty":{"by":"default",
///      "precision_criteria_met":true,"mean_absolute_z":"0.8"}}]}"#)?;
/// let decided = official_control(&inputs).unwrap();
/// assert!(!decided.rejected);
/// assert_eq!(decided.samples[0].result.to_string(), "6.5");
/// let unproven: OfficialControlInputs = serde_json::from_str(r#"{"maximum_level":"4","samples":[
///     {"toxins":[{"found":"5.2"}],"uncertainty":{"by":"default",
///      "precision_criteria_met":false,"mean_absolute_z":"0.8"}}]}"#)?;
/// let refused = official_control(&unproven).unwrap_err();
/// assert_eq!(refused.quantity(), "default uncertainty");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct OfficialControlInputs {
    /// The maximum level, µg/kg, zero or more.
    pub maximum_level: Number,
    /// The laboratory samples of the lot, one or more.
    pub samples: Vec<ControlSample>,
    /// What the lot is for.
    #[serde(default)]
    pub purpose: LotPurpose,
    /// When a toxin is corrected for recovery: outside 0.9 to 1.1.
    #[serde(default)]
    pub correction: CorrectionRule,
}

/// One laboratory sample, or their mean, against the limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ControlledResult {
    /// Each toxin, corrected; zero below the limit of quantification.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrected: Vec<Number>,
    /// x: their sum, µg/kg.
    pub result: Number,
    /// U, µg/kg.
    pub expanded_uncertainty: Number,
    /// x - U.
    pub less_uncertainty: Number,
    /// Whether x is above the limit.
    pub exceeds: bool,
    /// Whether x - U is: above it beyond reasonable doubt.
    pub beyond_doubt: bool,
}

/// The lot, decided.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct OfficialDecision {
    /// The laboratory samples, in the order given.
    pub samples: Vec<ControlledResult>,
    /// Their mean, for a lot that is to be sorted; its U is the mean of theirs, taken as common.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mean: Option<ControlledResult>,
    /// Whether the lot is rejected; else it is accepted.
    pub rejected: bool,
    /// Why, in a sentence.
    pub statement: String,
}

/// Decides a lot under EU official control.
///
/// # Errors
/// No sample or too many, a number below zero, a default uncertainty without its evidence.
pub fn official_control(inputs: &OfficialControlInputs) -> Answer<OfficialDecision> {
    at_least("laboratory samples", inputs.samples.len(), 1)?;
    at_most("laboratory samples", inputs.samples.len(), MOST_PARTS)?;
    let limit = not_negative("maximum level", inputs.maximum_level)?;
    let mut samples = Vec::with_capacity(inputs.samples.len());
    let (mut results, mut doubts) = (Vec::new(), Vec::new());
    for sample in &inputs.samples {
        let parts = corrected(sample, inputs.correction)?;
        let result = crate::quantity::exact::sum("result", &parts)?;
        let expanded = expanded(sample.uncertainty, result)?;
        samples.push(against(limit, &parts, result, expanded)?);
        results.push(result);
        doubts.push(expanded);
    }
    let mean = match inputs.purpose {
        LotPurpose::FinalUse => None,
        LotPurpose::Sorting => Some(against(
            limit,
            &[],
            mean("mean of the samples", &results)?,
            mean("expanded uncertainty", &doubts)?,
        )?),
    };
    let rejected = match &mean {
        Some(mean) => mean.beyond_doubt,
        None => samples.iter().any(|sample| sample.beyond_doubt),
    };
    let over = match &mean {
        Some(mean) => mean.exceeds,
        None => samples.iter().any(|sample| sample.exceeds),
    };
    let statement = match (rejected, over) {
        (true, _) => "The lot is rejected: it exceeds the limit beyond reasonable doubt.",
        (false, true) => {
            "The lot is accepted: the limit is exceeded, but not beyond reasonable doubt."
        }
        (false, false) => "The lot is accepted: the limit is not exceeded.",
    };
    Ok(OfficialDecision {
        samples,
        mean,
        rejected,
        statement: statement.to_owned(),
    })
}

fn corrected(sample: &ControlSample, rule: CorrectionRule) -> Answer<Vec<Decimal>> {
    at_least("toxins", sample.toxins.len(), 1)?;
    at_most("toxins", sample.toxins.len(), MOST_PARTS)?;
    let mut parts = Vec::with_capacity(sample.toxins.len());
    for toxin in &sample.toxins {
        let found = not_negative("found", toxin.found.unwrap_or(Number(Decimal::ZERO)))?;
        parts.push(match toxin.recovery {
            Some(recovery) if rule.corrects(recovery)? => {
                over("corrected result", found, recovery.0)?
            }
            Some(_) | None => found,
        });
    }
    Ok(parts)
}

/// U of a result, refusing the default where the evidence for it does not stand.
pub(super) fn expanded(uncertainty: AnalyticalUncertainty, result: Decimal) -> Answer<Decimal> {
    let name = "expanded uncertainty";
    match uncertainty {
        AnalyticalUncertainty::Expanded { expanded } => not_negative(name, expanded),
        AnalyticalUncertainty::Relative { fraction } => {
            times(name, not_negative(name, fraction)?, result)
        }
        AnalyticalUncertainty::Default {
            precision_criteria_met,
            mean_absolute_z,
        } => {
            let z = not_negative("mean |z|", mean_absolute_z)?;
            let name = "default uncertainty";
            if !precision_criteria_met {
                let must = "backed by a method that meets all precision criteria";
                return Err(out_of_range(name, "50 %", must));
            }
            if z > Decimal::TWO {
                let must = format!("backed by a mean |z| of at most 2, not {z}");
                return Err(out_of_range(name, "50 %", must));
            }
            times(name, Decimal::new(5, 1), result)
        }
    }
}

fn against(
    limit: Decimal,
    parts: &[Decimal],
    result: Decimal,
    expanded: Decimal,
) -> Answer<ControlledResult> {
    let rest = minus("result less uncertainty", result, expanded)?;
    Ok(ControlledResult {
        corrected: parts.iter().copied().map(figures).collect(),
        result: figures(result),
        expanded_uncertainty: figures(expanded),
        less_uncertainty: figures(rest),
        exceeds: result > limit,
        beyond_doubt: rest > limit,
    })
}

/// Two findings on one lot: the official one, and one of the other side or of a referee.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CounterResultInputs {
    /// The maximum level, µg/kg.
    pub maximum_level: Number,
    /// The official result, corrected, µg/kg.
    pub official_result: Number,
    /// Its U, k = 2.
    pub official_expanded: Number,
    /// The other result, corrected, µg/kg.
    pub other_result: Number,
    /// Its U, k = 2.
    pub other_expanded: Number,
}

/// Whether another result can take the place of an official one that is beyond doubt.
///
/// It cannot where it is over the limit as well, though not beyond doubt, and owes that to an
/// uncertainty larger than the official one (Implementing Regulation (EU) 2023/2782, Annex I,
/// part II.A).
///
/// # Errors
/// A number below zero.
///
/// ```
/// use domain::decisions::official_control::{CounterResultInputs, may_displace};
/// let mut inputs: CounterResultInputs = serde_json::from_str(r#"{"maximum_level":"1500",
///     "official_result":"1900","official_expanded":"380",
///     "other_result":"1800","other_expanded":"450"}"#)?;
/// assert!(!may_displace(&inputs).unwrap(), "over the limit, and only less sure");
/// inputs.other_result = "1400".parse().unwrap();
/// assert!(may_displace(&inputs).unwrap(), "it is not over the limit");
/// inputs.other_expanded = "-1".parse().unwrap();
/// assert!(may_displace(&inputs).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn may_displace(inputs: &CounterResultInputs) -> Answer<bool> {
    let limit = not_negative("maximum level", inputs.maximum_level)?;
    let official = not_negative("official result", inputs.official_result)?;
    let official_doubt = not_negative("official uncertainty", inputs.official_expanded)?;
    let other = not_negative("other result", inputs.other_result)?;
    let other_doubt = not_negative("uncertainty of the other result", inputs.other_expanded)?;
    let sure = official > plus("limit with uncertainty", limit, official_doubt)?;
    let other_sure = other > plus("limit with uncertainty", limit, other_doubt)?;
    let only_less_sure = other > limit && !other_sure && other_doubt > official_doubt;
    Ok(!(sure && only_less_sure))
}

/// Whether a result may take the place of the official one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CounterResult {
    /// Whether it may.
    pub may_displace: bool,
}

/// What [`may_displace`] says of two findings.
///
/// # Errors
/// As that.
///
/// ```
/// use domain::decisions::official_control::{CounterResultInputs, counter_result};
/// let mut inputs: CounterResultInputs = serde_json::from_str(r#"{"maximum_level":"1500",
///     "official_result":"1900","official_expanded":"380",
///     "other_result":"1800","other_expanded":"450"}"#)?;
/// assert!(!counter_result(&inputs).unwrap().may_displace);
/// inputs.maximum_level = "-1".parse().unwrap();
/// assert!(counter_result(&inputs).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn counter_result(inputs: &CounterResultInputs) -> Answer<CounterResult> {
    may_displace(inputs).map(|may_displace| CounterResult { may_displace })
}

/// A screening finding, in the words of the regulation.
///
/// ```
/// use domain::decisions::official_control::screening_statement;
/// assert_eq!(screening_statement(false, "20".parse().unwrap()), "compliant: < STC (20 µg/kg)");
/// assert_eq!(
///     screening_statement(true, "20".parse().unwrap()),
///     "suspected to be non-compliant (STC 20 µg/kg)",
/// );
/// ```
#[must_use]
pub fn screening_statement(suspect: bool, target: Number) -> String {
    let target = target.0.normalize();
    if suspect {
        format!("suspected to be non-compliant (STC {target} µg/kg)")
    } else {
        format!("compliant: < STC ({target} µg/kg)")
    }
}
