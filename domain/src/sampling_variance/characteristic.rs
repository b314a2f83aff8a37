//! How likely a plan accepts a lot of each concentration, and whose risk that is.
//!
//! Promises F(L; C, V(C)) at every concentration asked for; refuses accept limits and
//! concentrations outside the model's range.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{ModelFacts, TestPlan};
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, minus, not_negative, out_of_range, over, plus, power, times,
};
use crate::statistics::skewed::{SkewedDistribution, tails};

/// Most concentrations of one curve.
const MOST_POINTS: usize = 500;

/// How several samples decide.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SampleRule {
    /// Their mean is not above the accept limit.
    #[default]
    Mean,
    /// None of them is above it.
    Each,
}

/// Which concentrations.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Concentrations {
    /// These, µg/kg.
    Listed {
        /// One or more.
        values: Vec<Number>,
    },
    /// So many between two ends, equally far apart, µg/kg.
    Between {
        /// The lowest.
        from: Number,
        /// The highest.
        to: Number,
        /// How many, 2 to 500.
        points: usize,
    },
}

/// A plan and what it accepts by.
///
/// ```
/// use domain::sampling_variance::{CharacteristicInputs, characteristic};
/// let inputs: CharacteristicInputs = serde_json::from_str(r#"{
///     "plan":{"model":{"model":"aflatoxin-shelled-corn"},"sample_mass_kg":"1.13",
///         "test_portion_g":"50"},
///     "accept_limit_ug_per_kg":"20",
///     "concentrations":{"kind":"listed","values":["20","40"]}}"#)?;
/// let curve = characteristic(&inputs).unwrap();
/// let accepted: Vec<_> = curve.points.iter()
///     .map(|point| point.probability_accepted.0.round_dp(2).to_string()).collect();
/// assert_eq!(accepted, ["0.61", "0.20"]);
/// let mut beyond = inputs;
/// beyond.plan.sample_mass_kg = "500".parse().unwrap();
/// assert_eq!(characteristic(&beyond).unwrap_err().quantity(), "sample mass");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CharacteristicInputs {
    /// How the lot is tested.
    pub plan: TestPlan,
    /// L: accepted when the result is not above it, µg/kg.
    pub accept_limit_ug_per_kg: Number,
    /// The limit that makes a lot good or bad, µg/kg; the accept limit where none is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub legal_limit_ug_per_kg: Option<Number>,
    /// Which concentrations.
    pub concentrations: Concentrations,
    /// The distribution of results; the model's own where none is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distribution: Option<SkewedDistribution>,
    /// How several samples decide.
    #[serde(default)]
    pub rule: SampleRule,
}

/// One point of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CharacteristicPoint {
    /// C, µg/kg.
    pub concentration_ug_per_kg: Number,
    /// Variance of what is compared, (µg/kg)².
    pub variance: Number,
    /// Its coefficient of variation, percent.
    pub cv_percent: Number,
    /// How likely the lot is accepted.
    pub probability_accepted: Number,
    /// The seller's risk, of a lot that is not over the legal limit: that it is rejected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seller_risk: Option<Number>,
    /// The buyer's risk, of a lot that is over it: that it is accepted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub buyer_risk: Option<Number>,
}

/// The operating characteristic of a plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct OperatingCharacteristic {
    /// The model, its range and its source.
    pub model: ModelFacts,
    /// The distribution that was used.
    pub distribution: SkewedDistribution,
    /// The accept limit, µg/kg.
    pub accept_limit_ug_per_kg: Number,
    /// The legal limit, µg/kg.
    pub legal_limit_ug_per_kg: Number,
    /// The points, in the order asked for.
    pub points: Vec<CharacteristicPoint>,
}

/// The curve of a plan.
///
/// # Errors
/// No concentration or too many, anything outside the model's range, a negative binomial whose
/// variance is not above its mean.
pub fn characteristic(inputs: &CharacteristicInputs) -> Answer<OperatingCharacteristic> {
    let facts = inputs.plan.admit()?;
    not_negative("accept limit", inputs.accept_limit_ug_per_kg)?;
    let legal = inputs
        .legal_limit_ug_per_kg
        .unwrap_or(inputs.accept_limit_ug_per_kg);
    not_negative("legal limit", legal)?;
    let distribution = inputs.distribution.unwrap_or(facts.distribution);
    let mut points = Vec::new();
    for concentration in concentrations(&inputs.concentrations)? {
        let value = inputs.plan.admit_concentration(&facts, concentration)?;
        points.push(point(inputs, distribution, legal, value)?);
    }
    Ok(OperatingCharacteristic {
        model: facts,
        distribution,
        accept_limit_ug_per_kg: inputs.accept_limit_ug_per_kg,
        legal_limit_ug_per_kg: legal,
        points,
    })
}

fn concentrations(asked: &Concentrations) -> Answer<Vec<Number>> {
    let name = "concentrations";
    match asked {
        Concentrations::Listed { values } => {
            at_least(name, values.len(), 1)?;
            at_most(name, values.len(), MOST_POINTS)?;
            Ok(values.clone())
        }
        Concentrations::Between { from, to, points } => {
            at_least(name, *points, 2)?;
            at_most(name, *points, MOST_POINTS)?;
            if from >= to {
                return Err(out_of_range(
                    "highest concentration",
                    to,
                    format!("above {from}"),
                ));
            }
            let width = minus(name, to.0, from.0)?;
            let steps = Decimal::from(points.saturating_sub(1));
            (0..*points)
                .map(|place| {
                    let share = over(name, times(name, width, place.into())?, steps)?;
                    plus(name, from.0, share).map(figures)
                })
                .collect()
        }
    }
}

fn point(
    inputs: &CharacteristicInputs,
    distribution: SkewedDistribution,
    legal: Number,
    concentration: Decimal,
) -> Answer<CharacteristicPoint> {
    let name = "variance";
    let one = inputs.plan.parts(concentration)?.total;
    let samples = inputs.plan.samples;
    let compared = match inputs.rule {
        SampleRule::Mean => over(name, one, samples.into())?,
        SampleRule::Each => one,
    };
    let both = tails(
        distribution,
        Number(concentration),
        figures(compared),
        inputs.accept_limit_ug_per_kg,
    )?;
    let accepted = match inputs.rule {
        SampleRule::Mean => both.up_to.0,
        SampleRule::Each => {
            let times_over = i32::try_from(samples).unwrap_or(i32::MAX);
            power("probability accepted", both.up_to.0, times_over)?
        }
    };
    let rejected = match (inputs.rule, samples) {
        (SampleRule::Mean, _) | (SampleRule::Each, 1) => both.above.0,
        (SampleRule::Each, _) => minus("probability rejected", Decimal::ONE, accepted)?,
    };
    let bad = concentration > legal.0;
    let cv = over(
        name,
        crate::quantity::exact::square_root(name, compared)?,
        concentration,
    )?;
    Ok(CharacteristicPoint {
        concentration_ug_per_kg: figures(concentration),
        variance: figures(compared),
        cv_percent: figures(times(name, cv, Decimal::ONE_HUNDRED)?),
        probability_accepted: figures(accepted),
        seller_risk: (!bad).then(|| figures(rejected)),
        buyer_risk: bad.then(|| figures(accepted)),
    })
}
