//! How far a test result may lie from the lot: variance of sampling, preparation and analysis.
//!
//! Promises the published variance functions with their names and ranges, what they make of
//! another sample, test portion and number of readings, and from them the chance that a plan
//! accepts a lot and that a lot with this result is over a limit. Refuses concentrations, masses
//! and goods outside a model's range: a model declines, it does not guess.

mod chance;
mod characteristic;
mod models;

pub use chance::{ChanceInputs, LotChance, chance_above};
pub use characteristic::{
    CharacteristicInputs, CharacteristicPoint, Concentrations, OperatingCharacteristic, SampleRule,
    characteristic,
};
pub use models::{Figures, LotModel, ModelFacts, PowerLaw};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, figures, not_negative, out_of_range, over, plus, positive, square_root, times,
};
use crate::statistics::lot_posterior::PowerPart;
use crate::statistics::skewed::real_power;

/// Most samples that are averaged or compared.
pub const MOST_SAMPLES: u32 = 100;

/// What is known of the analysis.
///
/// ```
/// use domain::sampling_variance::AnalysisVariance;
/// let strip: AnalysisVariance = serde_json::from_str(
///     r#"{"by":"precision","constant_ug_per_kg":"0.8","proportional":"0.12"}"#)?;
/// assert!(matches!(strip, AnalysisVariance::Precision { .. }));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "by", rename_all = "kebab-case", deny_unknown_fields)]
pub enum AnalysisVariance {
    /// As the model has it, by liquid chromatography.
    Model {},
    /// The procedure's own: s² = s₀² + (s₁ · C)² of one reading.
    Precision {
        /// s₀, µg/kg, zero or more.
        constant_ug_per_kg: Number,
        /// s₁, a fraction, zero or more.
        proportional: Number,
    },
}

impl Default for AnalysisVariance {
    fn default() -> Self {
        Self::Model {}
    }
}

/// How a lot is tested.
///
/// ```
/// use domain::sampling_variance::TestPlan;
/// let plan: TestPlan = serde_json::from_str(
///     r#"{"model":{"model":"aflatoxin-shelled-corn"},"sample_mass_kg":"1.13",
///         "test_portion_g":"50"}"#)?;
/// assert_eq!((plan.readings, plan.samples), (1, 1));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct TestPlan {
    /// Whose variances.
    pub model: LotModel,
    /// Mass of each laboratory sample, ground as a whole, in kg.
    pub sample_mass_kg: Number,
    /// Mass of the test portion taken from it, in g.
    pub test_portion_g: Number,
    /// Readings of one extract that are averaged; 1 where nothing is said.
    #[serde(default = "one")]
    pub readings: u32,
    /// Independent samples of the lot, each prepared and read; 1 where nothing is said.
    #[serde(default = "one")]
    pub samples: u32,
    /// What is known of the analysis.
    #[serde(default)]
    pub analysis: AnalysisVariance,
}

const fn one() -> u32 {
    1
}

/// A lot's concentration, and how it is tested.
///
/// ```
/// use domain::sampling_variance::{VarianceInputs, variance};
/// // Johansson's thesis (NC State University): 214.0 + 56.3 + 4.6 = 274.9 (µg/kg)².
/// let mut inputs: VarianceInputs = serde_json::from_str(r#"{"concentration_ug_per_kg":"20",
///     "plan":{"model":{"model":"aflatoxin-shelled-corn"},"sample_mass_kg":"1.13",
///     "test_portion_g":"50"}}"#)?;
/// let found = variance(&inputs).unwrap();
/// assert_eq!(found.of_one_sample.0.round_dp(1).to_string(), "274.9");
/// inputs.concentration_ug_per_kg = "5000".parse().unwrap();
/// assert_eq!(variance(&inputs).unwrap_err().quantity(), "concentration");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct VarianceInputs {
    /// C, µg/kg, in the model's range.
    pub concentration_ug_per_kg: Number,
    /// How it is tested.
    pub plan: TestPlan,
}

/// One part of the variance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct VariancePart {
    /// (µg/kg)².
    pub variance: Number,
    /// √variance / C, percent.
    pub cv_percent: Number,
    /// Share of the total, percent.
    pub share_percent: Number,
}

/// The variance of a test result on a lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LotVariance {
    /// The model, its range and its source.
    pub model: ModelFacts,
    /// Of taking the laboratory sample.
    pub sampling: VariancePart,
    /// Of preparing the test portion.
    pub preparation: VariancePart,
    /// Of the analysis.
    pub analysis: VariancePart,
    /// Their sum: of one sample's result, (µg/kg)².
    pub of_one_sample: Number,
    /// √ of it / C, percent.
    pub cv_percent_of_one_sample: Number,
    /// Of the mean of all samples: the sum over their number.
    pub of_mean: Number,
    /// √ of that / C, percent.
    pub cv_percent_of_mean: Number,
}

/// The parts of the variance at a concentration, unrounded but for the powers.
pub(crate) struct Parts {
    pub(crate) sampling: Decimal,
    pub(crate) preparation: Decimal,
    pub(crate) analysis: Decimal,
    pub(crate) total: Decimal,
}

impl TestPlan {
    /// Refuses what the model has no answer for, apart from the concentration.
    pub(crate) fn admit(&self) -> Answer<ModelFacts> {
        let facts = self.model.facts()?;
        within(
            "sample mass",
            self.sample_mass_kg,
            &facts.sample_mass_kg,
            "kg",
            &facts,
        )?;
        within(
            "test portion",
            self.test_portion_g,
            &facts.test_portion_g,
            "g",
            &facts,
        )?;
        for (name, count) in [("readings", self.readings), ("samples", self.samples)] {
            at_least(name, usize::try_from(count).unwrap_or(usize::MAX), 1)?;
            if count > MOST_SAMPLES {
                return Err(out_of_range(name, count, format!("at most {MOST_SAMPLES}")));
            }
        }
        Ok(facts)
    }

    pub(crate) fn admit_concentration(&self, facts: &ModelFacts, given: Number) -> Answer<Decimal> {
        within(
            "concentration",
            given,
            &facts.concentration_ug_per_kg,
            "µg/kg",
            facts,
        )?;
        Ok(given.0)
    }

    /// The variance of one sample's result as power laws of C in µg/kg: sampling, preparation and
    /// the terms of the analysis.
    pub(crate) fn laws(&self) -> Answer<Vec<PowerPart>> {
        let mut laws = self.model.laws(self.sample_mass_kg, self.test_portion_g)?;
        let readings = Decimal::from(self.readings);
        let name = "analytical variance";
        let term = |coefficient: Decimal, exponent: u32| {
            Ok(PowerPart {
                coefficient: Number(over(name, coefficient, readings)?),
                exponent: Number(exponent.into()),
            })
        };
        match self.analysis {
            AnalysisVariance::Model {} => {
                let law = self.model.analysis_law()?;
                laws.push(PowerPart {
                    coefficient: Number(over(name, law.coefficient.0, readings)?),
                    ..law
                });
            }
            AnalysisVariance::Precision {
                constant_ug_per_kg,
                proportional,
            } => {
                let constant = not_negative("constant part of the precision", constant_ug_per_kg)?;
                let rest = not_negative("proportional part of the precision", proportional)?;
                laws.push(term(times(name, constant, constant)?, 0)?);
                laws.push(term(times(name, rest, rest)?, 2)?);
            }
        }
        Ok(laws)
    }

    pub(crate) fn parts(&self, concentration: Decimal) -> Answer<Parts> {
        let mut values = Vec::new();
        for law in self.laws()? {
            values.push(law_at(law, concentration)?);
        }
        let (sampling, preparation) = match values.as_slice() {
            [sampling, preparation, ..] => (*sampling, *preparation),
            _ => (Decimal::ZERO, Decimal::ZERO),
        };
        let analysis = crate::quantity::exact::sum("variance", values.get(2..).unwrap_or(&[]))?;
        let total = plus(
            "variance",
            plus("variance", sampling, preparation)?,
            analysis,
        )?;
        Ok(Parts {
            sampling,
            preparation,
            analysis,
            total,
        })
    }
}

fn law_at(law: PowerPart, concentration: Decimal) -> Answer<Decimal> {
    if law.coefficient.0.is_zero() {
        return Ok(Decimal::ZERO);
    }
    let power = real_power("variance", Number(concentration), law.exponent)?;
    times("variance", law.coefficient.0, power.0)
}

/// Declines what lies outside a model's range.
fn within(
    what: &str,
    given: Number,
    range: &[Number; 2],
    unit: &str,
    facts: &ModelFacts,
) -> Answer<()> {
    let [from, to] = range;
    positive(what, given)?;
    if given < *from || given > *to {
        let must = format!(
            "from {from} to {to} {unit}: the model \"{}\" says nothing beyond",
            facts.name
        );
        return Err(out_of_range(what, given, must));
    }
    Ok(())
}

/// The variance of a test result on a lot, by its parts.
///
/// # Errors
/// A concentration, mass or count outside the model's range; a model without a part that is asked.
pub fn variance(inputs: &VarianceInputs) -> Answer<LotVariance> {
    let plan = &inputs.plan;
    let facts = plan.admit()?;
    let concentration = plan.admit_concentration(&facts, inputs.concentration_ug_per_kg)?;
    let parts = plan.parts(concentration)?;
    let cv = |variance: Decimal| {
        let name = "coefficient of variation";
        let ratio = over(name, square_root(name, variance)?, concentration)?;
        times(name, ratio, Decimal::ONE_HUNDRED)
    };
    let part = |variance: Decimal| {
        let share = over("share", variance, parts.total)?;
        Ok(VariancePart {
            variance: figures(variance),
            cv_percent: figures(cv(variance)?),
            share_percent: figures(times("share", share, Decimal::ONE_HUNDRED)?),
        })
    };
    let of_mean = over("variance", parts.total, plan.samples.into())?;
    Ok(LotVariance {
        sampling: part(parts.sampling)?,
        preparation: part(parts.preparation)?,
        analysis: part(parts.analysis)?,
        of_one_sample: figures(parts.total),
        cv_percent_of_one_sample: figures(cv(parts.total)?),
        of_mean: figures(of_mean),
        cv_percent_of_mean: figures(cv(of_mean)?),
        model: facts,
    })
}

#[cfg(test)]
mod tests;
