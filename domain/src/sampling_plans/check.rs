//! What was taken, against what the plan asks for.
//!
//! Promises a departure for everything that is less than asked for or was not recorded; refuses
//! nothing: a sampling that departs is recorded with its departures.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{PlanForLot, SamplingPlanInputs, plan_for};
use crate::quantity::Number;
use crate::quantity::exact::Answer;

/// What was taken from one sublot, as far as it was recorded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct TakenSample {
    /// Increments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increments: Option<u32>,
    /// Mass of an increment, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increment_mass_g: Option<Number>,
    /// Mass of the aggregate, kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aggregate_mass_kg: Option<Number>,
    /// Laboratory samples.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory_samples: Option<u32>,
    /// Mass of the lightest laboratory sample, kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory_sample_mass_kg: Option<Number>,
}

/// One thing that is not as the plan asks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Departure {
    /// What, such as `increments`.
    pub quantity: String,
    /// What the plan asks for.
    pub asked: Number,
    /// What was taken; absent where it was not recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken: Option<Number>,
    /// The departure in words.
    pub detail: String,
}

/// How far the mass of an increment may be below "about" its mass: a fifth (common practice, no
/// source).
const ABOUT: Decimal = Decimal::from_parts(8, 0, 0, false, 1);

/// The departures of what was taken from one sublot.
///
/// ```
/// use domain::sampling_plans::{TakenSample, check_taken, plan_for};
/// let plan = plan_for(&serde_json::from_str(
///     r#"{"family":"eu-2023-cereal","lot_mass_t":"15"}"#)?).unwrap();
/// let taken: TakenSample = serde_json::from_str(r#"{"increments":40,"increment_mass_g":"100",
///     "aggregate_mass_kg":"4","laboratory_samples":1,"laboratory_sample_mass_kg":"6"}"#)?;
/// let departures = check_taken(&plan, &taken);
/// let what: Vec<_> = departures.iter().map(|one| one.quantity.as_str()).collect();
/// assert_eq!(what, ["increments", "aggregate_mass_kg"]);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn check_taken(plan: &PlanForLot, taken: &TakenSample) -> Vec<Departure> {
    let count = |number: u32| Number(number.into());
    let about = plan
        .increment_mass_g
        .and_then(|mass| mass.0.checked_mul(ABOUT));
    let wanted = [
        (
            "increments",
            "increments",
            plan.increments.map(count),
            taken.increments.map(count),
        ),
        (
            "increment_mass_g",
            "g an increment, four fifths of what the plan asks for",
            about.map(|mass| Number(mass.normalize())),
            taken.increment_mass_g,
        ),
        (
            "aggregate_mass_kg",
            "kg of aggregate",
            plan.aggregate_mass_kg,
            taken.aggregate_mass_kg,
        ),
        (
            "laboratory_samples",
            "laboratory samples",
            plan.laboratory_samples.map(count),
            taken.laboratory_samples.map(count),
        ),
        (
            "laboratory_sample_mass_kg",
            "kg a laboratory sample",
            plan.laboratory_sample_mass_kg,
            taken.laboratory_sample_mass_kg,
        ),
    ];
    wanted
        .into_iter()
        .filter_map(|(quantity, words, asked, taken)| {
            let asked = asked?;
            let detail = match taken {
                Some(taken) if taken >= asked => return None,
                Some(taken) => format!("{taken} taken, at least {asked} {words} asked for"),
                None => format!("not recorded, at least {asked} {words} asked for"),
            };
            Some(Departure {
                quantity: quantity.to_owned(),
                asked,
                taken,
                detail,
            })
        })
        .collect()
}

/// A lot whose plan is asked for, and what was taken from one of its sublots.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct TakenCheckInputs {
    /// The lot and its plan.
    pub plan: SamplingPlanInputs,
    /// What was taken.
    pub taken: TakenSample,
}

/// A sampling against its plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct TakenCheck {
    /// What the plan asks for.
    pub plan: PlanForLot,
    /// What is not as it asks; empty where everything is.
    pub departures: Vec<Departure>,
}

/// Finds the plan of a lot and holds what was taken against it: [`plan_for`], [`check_taken`].
///
/// # Errors
/// As [`plan_for`].
///
/// ```
/// use domain::sampling_plans::{TakenCheckInputs, check_sampling};
/// let inputs: TakenCheckInputs = serde_json::from_str(r#"{
///     "plan":{"family":"eu-2023-cereal","lot_mass_t":"15"},"taken":{"increments":40}}"#)?;
/// let departures = check_sampling(&inputs).unwrap().departures;
/// assert_eq!(departures.first().unwrap().quantity, "increments");
/// let mut unknown = inputs;
/// unknown.plan.family = "nobody".into();
/// assert_eq!(check_sampling(&unknown).unwrap_err().quantity(), "plan family");
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn check_sampling(inputs: &TakenCheckInputs) -> Answer<TakenCheck> {
    let plan = plan_for(&inputs.plan)?;
    let departures = check_taken(&plan, &inputs.taken);
    Ok(TakenCheck { plan, departures })
}
