//! How likely a lot with this result is really over a limit.
//!
//! Promises Bayes' rule over what was known of lots before, with the model's variances; refuses
//! results outside the model's range. Below the range of concentrations studied the variance
//! functions are followed down to zero, which only lots far below a result depend on.

use serde::{Deserialize, Serialize};

use super::{ModelFacts, TestPlan};
use crate::quantity::Number;
use crate::quantity::exact::{Answer, figures, out_of_range};
use crate::statistics::lot_posterior::{PriorLots, Scatter, SeenResult, probability_above};
use crate::statistics::skewed::SkewedDistribution;

/// A result on a lot, and what was known of lots before.
///
/// ```
/// use domain::sampling_variance::{ChanceInputs, chance_above};
/// let inputs: ChanceInputs = serde_json::from_str(r#"{
///     "plan":{"model":{"model":"aflatoxin-shelled-corn"},"sample_mass_kg":"4.54",
///         "test_portion_g":"50"},
///     "seen":{"kind":"value","of":"12"},"limit_ug_per_kg":"20",
///     "before":{"prior":"flat","largest":"300"}}"#)?;
/// let chance = chance_above(&inputs).unwrap();
/// assert!(chance.probability_above.0 > "0.05".parse().unwrap());
/// let beyond = ChanceInputs { before: serde_json::from_str(
///     r#"{"prior":"flat","largest":"10"}"#)?, ..inputs };
/// assert_eq!(chance_above(&beyond).unwrap_err().quantity(), "largest concentration");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ChanceInputs {
    /// How the lot was tested; with several samples, their mean was seen.
    pub plan: TestPlan,
    /// What was seen, µg/kg.
    pub seen: SeenResult,
    /// The limit, µg/kg, above zero.
    pub limit_ug_per_kg: Number,
    /// What was known of lots before.
    pub before: PriorLots,
    /// The distribution of results; the model's own where none is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distribution: Option<SkewedDistribution>,
}

/// How likely the lot is over the limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LotChance {
    /// The model, its range and its source.
    pub model: ModelFacts,
    /// The distribution that was used.
    pub distribution: SkewedDistribution,
    /// How likely its concentration is above the limit.
    pub probability_above: Number,
    /// How likely it is not.
    pub probability_not_above: Number,
}

/// The chance that a lot with this result is over a limit.
///
/// # Errors
/// Anything outside the model's range, a result that no lot thought possible could have given.
pub fn chance_above(inputs: &ChanceInputs) -> Answer<LotChance> {
    let facts = inputs.plan.admit()?;
    let [_, most] = facts.concentration_ug_per_kg;
    let seen = match inputs.seen {
        SeenResult::Value(value) | SeenResult::UpTo(value) | SeenResult::Above(value) => value,
    };
    for (what, value) in [("result", seen), ("limit", inputs.limit_ug_per_kg)] {
        if value > most {
            let must = format!("at most {most} µg/kg, the model's highest concentration");
            return Err(out_of_range(what, value, must));
        }
    }
    if let PriorLots::Flat { largest } = &inputs.before
        && *largest > most
    {
        let must = format!("at most {most} µg/kg, the model's highest concentration");
        return Err(out_of_range("largest concentration", largest, must));
    }
    let distribution = inputs.distribution.unwrap_or(facts.distribution);
    let scatter = Scatter {
        distribution,
        parts: &inputs.plan.laws()?,
        averaged: inputs.plan.samples,
    };
    let above = probability_above(
        &scatter,
        inputs.seen,
        inputs.limit_ug_per_kg,
        &inputs.before,
    )?;
    Ok(LotChance {
        model: facts,
        distribution,
        probability_above: above,
        probability_not_above: figures(rust_decimal::Decimal::ONE.saturating_sub(above.0)),
    })
}
