//! What was taken, against what the plan that a sampling names asks of its lot.
//!
//! Promises an answer for every sampling: what the plan asks and what departs from it, or why there
//! is nothing to check against. Refuses nothing: a sampling that departs is a fact, and is kept.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::Sampling;
use crate::lots::Lot;
use crate::quantity::Number;
use crate::samples::Sample;
use crate::sampling_plans::{
    Departure, PlanForLot, SamplingPlanInputs, TakenSample, check_taken, family_named, plan_for,
};

/// How a sampling stands to the plan that it names.
///
/// ```
/// use domain::samplings::PlanStanding;
/// assert_eq!(serde_json::to_string(&PlanStanding::OwnPlan)?, "\"own-plan\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum PlanStanding {
    /// No plan is named.
    NoPlan,
    /// The plan is none of the published ones: the laboratory's own, with nothing to check against.
    OwnPlan,
    /// The plan has nothing to say of this lot.
    NotApplicable,
    /// Less was taken than the plan asks for, or it was not recorded.
    Departs,
    /// What was taken is what the plan asks for.
    AsAsked,
}

/// A sampling against the plan that it names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PlanCheck {
    /// How it stands to its plan.
    pub standing: PlanStanding,
    /// The same in words, with the plan, the lot and what departs.
    pub detail: String,
    /// What the plan asks of the lot; of each sublot, where it is to be divided.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub asked: Option<PlanForLot>,
    /// What is not as it asks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub departures: Vec<Departure>,
}

/// Checks a sampling against its plan, the lot being what it was taken from.
///
/// `sample` is a laboratory sample that was made of it; without one, laboratory samples are checked
/// only where the sampling states their number. Regulations ask for each sublot what
/// a lot of its mass is asked for: a sublot that is recorded as a lot is checked as one.
///
/// ```
/// use domain::samplings::{PlanStanding, Sampling, plan_check};
/// let sampling: Sampling = serde_json::from_str(
///     r#"{"lot":"019ca869-5003-7d46-b59c-6cf85cca57e4","taken_at":"2026-03-01T08:00:00Z",
///         "plan":"eu-2023-cereal","increments":60,"increment_mass_g":"100",
///         "aggregate_mass_kg":"6"}"#)?;
/// let lot = serde_json::from_str(r#"{"code":"L-1","commodity":"wheat-grain","mass_kg":"15000",
///     "arrived_on":"2026-03-01"}"#)?;
/// // Implementing Regulation (EU) 2023/2782, Annex I, part II.A, table 2: 60 increments, 6 kg.
/// assert_eq!(plan_check(&sampling, Some(&lot), None).standing, PlanStanding::AsAsked);
/// let own = Sampling { plan: Some("SP-2".into()), ..sampling };
/// assert_eq!(plan_check(&own, Some(&lot), None).standing, PlanStanding::OwnPlan);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn plan_check(sampling: &Sampling, lot: Option<&Lot>, sample: Option<&Sample>) -> PlanCheck {
    let Some(plan) = &sampling.plan else {
        let detail = "no plan is named: there is nothing to check against";
        return unchecked(PlanStanding::NoPlan, detail.to_owned());
    };
    let commodity = lot.map_or("", |lot| lot.commodity.as_str());
    let Some(family) = family_named(plan, commodity) else {
        let detail = format!(
            "{plan} is none of the published plans known here: the laboratory's own, with nothing \
             to check against"
        );
        return unchecked(PlanStanding::OwnPlan, detail);
    };
    let not_applicable = |why: String| {
        let detail = format!("{family} cannot be applied: {why}");
        unchecked(PlanStanding::NotApplicable, detail)
    };
    let Some(lot) = lot else {
        return not_applicable("the lot is not known".to_owned());
    };
    let Some(mass_t) = lot.mass_kg.and_then(|mass| thousandth(mass.0)) else {
        return not_applicable("the mass of the lot is not recorded".to_owned());
    };
    let asked = plan_for(&SamplingPlanInputs {
        family: family.to_owned(),
        lot_mass_t: mass_t,
        separable: sampling.separable.unwrap_or(true),
        commodity: Some(lot.commodity.clone()),
        on: Some(sampling.taken_at.utc().date_naive()),
    });
    match asked {
        Ok(asked) => checked(sampling, lot, mass_t, asked, sample),
        Err(error) => not_applicable(error.to_string()),
    }
}

const fn unchecked(standing: PlanStanding, detail: String) -> PlanCheck {
    PlanCheck {
        standing,
        detail,
        asked: None,
        departures: Vec::new(),
    }
}

fn thousandth(value: Decimal) -> Option<Number> {
    let value = value.checked_div(Decimal::ONE_THOUSAND)?;
    Some(Number(value.normalize()))
}

fn checked(
    sampling: &Sampling,
    lot: &Lot,
    mass_t: Number,
    asked: PlanForLot,
    sample: Option<&Sample>,
) -> PlanCheck {
    let taken = taken(sampling, &asked, sample);
    let mut departures: Vec<Departure> = not_divided(&asked).into_iter().collect();
    departures.extend(check_taken(&asked, &taken).into_iter().filter(|one| {
        // What is made of the aggregate is asked of samples, and of what is said of their number.
        let of_samples = one.quantity.starts_with("laboratory_sample");
        !of_samples || one.taken.is_some() || sample.is_some()
    }));
    let of = format!("{} for {mass_t} t of {}", asked.plan, lot.commodity);
    let words: Vec<&str> = departures.iter().map(|one| one.detail.as_str()).collect();
    let (standing, detail) = if words.is_empty() {
        (
            PlanStanding::AsAsked,
            format!("as {of} asks, as far as it states numbers"),
        )
    } else {
        let detail = format!("departs from {of}: {}", words.join("; "));
        (PlanStanding::Departs, detail)
    };
    PlanCheck {
        standing,
        detail,
        asked: Some(asked),
        departures,
    }
}

/// A lot that is to be sampled as several, and was sampled as one.
fn not_divided(asked: &PlanForLot) -> Option<Departure> {
    (asked.sublots > 1).then(|| Departure {
        quantity: "sublots".to_owned(),
        asked: Number(asked.sublots.into()),
        taken: Some(Number(Decimal::ONE)),
        detail: format!(
            "sampled as one, {} sublots of {} t asked for, unless the lot could not be divided",
            asked.sublots, asked.sublot_mass_t
        ),
    })
}

fn taken(sampling: &Sampling, asked: &PlanForLot, sample: Option<&Sample>) -> TakenSample {
    // One laboratory sample is there where one is measured; of more, the sampling has to say so.
    let there = sample
        .and(asked.laboratory_samples)
        .filter(|number| *number == 1);
    TakenSample {
        increments: sampling.increments,
        increment_mass_g: sampling.increment_mass_g,
        aggregate_mass_kg: sampling.aggregate_mass_kg,
        laboratory_samples: sampling.laboratory_samples.or(there),
        laboratory_sample_mass_kg: sample
            .and_then(|sample| sample.mass_g)
            .and_then(|mass| thousandth(mass.0)),
    }
}

#[cfg(test)]
mod tests;
