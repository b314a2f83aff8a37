//! The doubt of the lot beside a result: sampling and preparation by a published model, and how
//! likely the lot is above each limit.
//!
//! Promises the functions of [`crate::sampling_variance`], which the calculator answers with, on
//! what is recorded. Refuses nothing: where the model declines, or a fact that it needs was not
//! recorded, it says so in its place. No decision looks at it.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::decisions::{Decision, Finding};
use crate::orders::AskedLotUncertainty;
use crate::quantity::exact::{Answer, over, square_root, times};
use crate::quantity::{Concentration, Number, computed};
use crate::sampling_variance::{
    AnalysisVariance, ChanceInputs, ModelFacts, TestPlan, VarianceInputs, chance_above, variance,
};
use crate::statistics::lot_posterior::{PriorLots, SeenResult};
use crate::uncertainty::budget::ComputedBudget;
use crate::uncertainty::of_result::LotVariances;

use super::content::{ComputedResult, KeptBudgetLine, UncertaintyPlace};
use super::rules_2::kept_lines;

/// How the lot of a result was tested, where its order asks for the doubt of the lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotTest {
    /// What the order asks for.
    pub asked: AskedLotUncertainty,
    /// Mass of the sample that was ground as a whole, kg.
    pub sample_mass_kg: Option<Number>,
    /// Mass of the test portion, g.
    pub test_portion_g: Option<Number>,
    /// Why the model says nothing of this analyte or commodity.
    pub declined: Option<String>,
}

/// The doubt of the lot, as it is kept with the result.
///
/// ```
/// use domain::results::LotDoubt;
/// let doubt: LotDoubt = serde_json::from_str(r#"{"model":"aflatoxin in shelled corn",
///     "source":"a study","declined":"not recorded: the mass of the test portion"}"#)?;
/// assert!(doubt.budget.is_none() && doubt.chances.is_empty());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LotDoubt {
    /// The model's name.
    pub model: String,
    /// Where it comes from, and how well that is known.
    pub source: String,
    /// Mass of the sample that was ground as a whole, kg, where it is recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample_mass_kg: Option<Number>,
    /// Mass of the test portion, g, where it is recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_portion_g: Option<Number>,
    /// The budget of the analysis with sampling and preparation, where the model gives one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub budget: Option<UncertaintyPlace>,
    /// Why there is no budget: the model declines, or a fact was not recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub declined: Option<String>,
    /// What was taken to be known of lots before, in words, where chances are stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<String>,
    /// How likely the lot is above each limit of the decisions, in their order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chances: Vec<LimitChance>,
}

impl LotDoubt {
    /// What is said of a limit, by the limit's id.
    ///
    /// ```
    /// use domain::results::LotDoubt;
    /// let doubt: LotDoubt = serde_json::from_str(r#"{"model":"own","source":"a study","chances":[
    ///     {"limit":"us-food-general-afla","limit_value":"20","probability_above":"0.12"}]}"#)?;
    /// assert!(doubt.chance_of("us-food-general-afla").is_some());
    /// assert!(doubt.chance_of("eu-food-maize-afla").is_none());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn chance_of(&self, limit: &str) -> Option<&LimitChance> {
        self.chances.iter().find(|chance| chance.limit == limit)
    }

    /// The masses that the variances are for, in words; what was not recorded is left out.
    ///
    /// ```
    /// use domain::results::LotDoubt;
    /// let doubt: LotDoubt = serde_json::from_str(r#"{"model":"own","source":"a study",
    ///     "sample_mass_kg":"1.13","test_portion_g":"50"}"#)?;
    /// assert_eq!(doubt.masses(), "1.13 kg ground, 50 g of it taken");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn masses(&self) -> String {
        let sample = self.sample_mass_kg.map(|mass| format!("{mass} kg ground"));
        let portion = self.test_portion_g;
        let portion = portion.map(|mass| format!("{mass} g of it taken"));
        let masses: Vec<String> = sample.into_iter().chain(portion).collect();
        masses.join(", ")
    }
}

/// How likely a lot with this result is above a limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LimitChance {
    /// The limit's id.
    pub limit: String,
    /// The limit's number, µg/kg.
    pub limit_value: Concentration,
    /// The probability, 0 to 1, with six places.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability_above: Option<Number>,
    /// Why there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub declined: Option<String>,
}

/// The model and how the lot was tested, once both are known to go together.
pub(super) struct KnownTest<'a> {
    test: &'a LotTest,
    facts: ModelFacts,
    plan: TestPlan,
}

impl LotTest {
    /// Both masses and a model that speaks of the goods.
    ///
    /// # Errors
    /// What was not recorded, or why the model says nothing, in words.
    pub(super) fn known(&self) -> Result<KnownTest<'_>, String> {
        let facts = self
            .asked
            .model
            .facts()
            .map_err(|fault| fault.to_string())?;
        if let Some(declined) = &self.declined {
            return Err(declined.clone());
        }
        match (self.sample_mass_kg, self.test_portion_g) {
            (Some(sample_mass_kg), Some(test_portion_g)) => Ok(KnownTest {
                test: self,
                facts,
                plan: TestPlan {
                    model: self.asked.model.clone(),
                    sample_mass_kg,
                    test_portion_g,
                    readings: 1,
                    samples: 1,
                    analysis: AnalysisVariance::Model {},
                },
            }),
            (sample, portion) => {
                let sample = sample.is_none().then_some("the mass of the sample ground");
                let portion = portion.is_none().then_some("the mass of the test portion");
                let missing: Vec<&str> = sample.into_iter().chain(portion).collect();
                Err(format!("not recorded: {}", missing.join(", ")))
            }
        }
    }

    /// The place of the answer, with nothing answered yet.
    pub(super) fn unanswered(&self) -> LotDoubt {
        let facts = self.asked.model.facts().ok();
        let (model, source) = facts.map_or_else(Default::default, |one| (one.name, one.source));
        LotDoubt {
            model,
            source,
            sample_mass_kg: self.sample_mass_kg,
            test_portion_g: self.test_portion_g,
            budget: None,
            declined: None,
            before: None,
            chances: Vec::new(),
        }
    }
}

impl KnownTest<'_> {
    /// The variances of sampling and preparation at a value in µg/kg.
    ///
    /// # Errors
    /// Why the model declines, in words.
    pub(super) fn variances(&self, value: Decimal) -> Result<LotVariances, String> {
        let found = variance(&VarianceInputs {
            concentration_ug_per_kg: Number(value),
            plan: self.plan.clone(),
        });
        let found = found.map_err(|fault| fault.to_string())?;
        Ok(LotVariances {
            sampling: found.sampling.variance,
            preparation: found.preparation.variance,
        })
    }

    /// What is taken to be known of lots before this result: what the order says, else nothing but
    /// that the model speaks of them.
    fn before(&self) -> PriorLots {
        let [_, largest] = self.facts.concentration_ug_per_kg;
        let asked = self.test.asked.before.clone();
        asked.unwrap_or(PriorLots::Flat { largest })
    }

    /// The same in words.
    pub(super) fn before_in_words(&self) -> String {
        match self.before() {
            PriorLots::Flat { largest } => {
                format!("every concentration up to {largest} µg/kg as likely as another")
            }
            PriorLots::Lognormal {
                median,
                geometric_standard_deviation,
            } => format!(
                "lots of {median} µg/kg at the median, geometric standard deviation \
                 {geometric_standard_deviation}"
            ),
            PriorLots::Lots { concentrations, .. } => {
                format!(
                    "the concentrations of {} earlier lots",
                    concentrations.len()
                )
            }
        }
    }

    /// How likely the lot is above the limit of each decision.
    pub(super) fn chances(
        &self,
        finding: Finding,
        analysis: &Answer<AnalysisVariance>,
        result: &ComputedResult,
    ) -> Vec<LimitChance> {
        let chance = |decision: &Decision| {
            let found = self.chance(finding, analysis, decision, result);
            let (probability_above, declined) = match found {
                Ok(probability) => (Some(probability), None),
                Err(why) => (None, Some(why)),
            };
            LimitChance {
                limit: decision.limit.clone(),
                limit_value: decision.limit_value,
                probability_above,
                declined,
            }
        };
        result.decisions.iter().map(chance).collect()
    }

    fn chance(
        &self,
        finding: Finding,
        analysis: &Answer<AnalysisVariance>,
        decision: &Decision,
        result: &ComputedResult,
    ) -> Result<Number, String> {
        if decision.analyte != result.analyte {
            return Err(format!("the limit is one of {}", decision.analyte));
        }
        if decision.basis.moisture_percent().is_some() {
            return Err(format!(
                "the model speaks of the goods as they are, the limit of {}",
                decision.basis
            ));
        }
        let number = |value: Concentration| Number(value.ug_per_kg());
        let analysis = analysis.as_ref().map_err(ToString::to_string)?;
        let chance = chance_above(&ChanceInputs {
            plan: TestPlan {
                analysis: *analysis,
                ..self.plan.clone()
            },
            seen: match finding {
                Finding::NotDetected { below } => SeenResult::UpTo(number(below)),
                Finding::DetectedBelow { loq, .. } => SeenResult::UpTo(number(loq)),
                Finding::Below { bound } => SeenResult::UpTo(number(bound)),
                Finding::Quantified { value } => SeenResult::Value(number(value)),
                Finding::Above { bound } => SeenResult::Above(number(bound)),
            },
            limit_ug_per_kg: number(decision.limit_value),
            before: self.before(),
            distribution: None,
        });
        let chance = chance.map_err(|fault| fault.to_string())?;
        Ok(Number(computed(chance.probability_above.0)))
    }
}

/// The line of a budget that does not grow with the value.
const CONSTANT: &str = "precision, constant part";

/// The analysis as its budget has it at the value: what the constant part of the precision leaves
/// of u² grows with the concentration.
pub(super) fn analysis_of(known: &UncertaintyPlace, value: Decimal) -> Answer<AnalysisVariance> {
    let name = "precision";
    let standard = over(name, known.expanded.ug_per_kg(), known.coverage_factor.0)?;
    let is_constant = |line: &&KeptBudgetLine| line.source == CONSTANT;
    let constant = known.lines.iter().find(is_constant);
    let constant = constant.map_or(Decimal::ZERO, |line| line.contribution.ug_per_kg());
    let square = |value: Decimal| times(name, value, value);
    let rest = square(standard)?.saturating_sub(square(constant)?);
    let rest = square_root(name, rest.max(Decimal::ZERO))?;
    Ok(AnalysisVariance::Precision {
        constant_ug_per_kg: Number(constant),
        proportional: Number(over(name, rest, value)?),
    })
}

/// The budget of the lot as it is kept.
pub(super) fn place_of(budget: &ComputedBudget) -> UncertaintyPlace {
    UncertaintyPlace {
        expanded: Concentration::from_ug_per_kg(computed(budget.coverage.expanded.0)),
        coverage_factor: budget.coverage.coverage_factor,
        lines: kept_lines(&budget.lines),
    }
}
