//! Sampling plans: how many increments, of which mass, to how many laboratory samples.
//!
//! Promises the row of the published table that a lot's mass falls into, its sublots, and what was
//! done otherwise than it asks. Refuses a plan for another commodity or another time, and a mass
//! that no row has.

mod check;
mod families;
mod increments;
mod probes;
mod rows;

pub use check::{
    Departure, TakenCheck, TakenCheckInputs, TakenSample, check_sampling, check_taken,
};
pub use increments::Increments;
pub use probes::{ProbeInputs, ProbePattern, ProbedCarrier, probe_pattern};
pub use rows::{PlanRow, PlanTableError, Sublots, shipped_plans};

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use families::{FAMILIES, Family};

use crate::quantity::Number;
use crate::quantity::exact::{Answer, figures, out_of_range, over, pole, positive, times};

/// Rows of EU food for portions above 500 t that are no sublots.
const LARGE_LOT: &str = "eu-2023-large-lot";

/// Whose increments the Codex plans for cereals take.
const CEREAL: &str = "eu-2023-cereal";

/// A lot, and whose plan is asked for.
///
/// ```
/// use domain::sampling_plans::{SamplingPlanInputs, plan_for};
/// let inputs: SamplingPlanInputs = serde_json::from_str(
///     r#"{"family":"eu-2023-cereal","lot_mass_t":"250","commodity":"wheat-grain"}"#)?;
/// let plan = plan_for(&inputs).unwrap();
/// assert_eq!((plan.sublots, plan.increments), (3, Some(100)));
/// let nuts = SamplingPlanInputs { commodity: Some("almond".into()), ..inputs };
/// assert_eq!(plan_for(&nuts).unwrap_err().quantity(), "commodity");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct SamplingPlanInputs {
    /// The beginning that the ids of the plans share, such as `eu-2023-cereal`.
    pub family: String,
    /// Mass of the lot in t, above zero.
    pub lot_mass_t: Number,
    /// Whether it can be divided into sublots; yes where nothing is said.
    #[serde(default = "yes")]
    pub separable: bool,
    /// What the lot is: an id of the commodity vocabulary; absent: not checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub commodity: Option<String>,
    /// The day of sampling; absent: not checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<NaiveDate>,
}

const fn yes() -> bool {
    true
}

/// What a plan asks of a lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PlanForLot {
    /// The row of the table.
    pub plan: String,
    /// Its document.
    pub source: String,
    /// Whether the row was read in its document, or is from memory.
    pub confidence: String,
    /// How many sublots the lot is sampled as.
    pub sublots: u32,
    /// Mass of each, t.
    pub sublot_mass_t: Number,
    /// The fewest increments from each; absent where the plan states no number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increments: Option<u32>,
    /// The most of them, where the plan states a range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most_increments: Option<u32>,
    /// What the plan says of increments, where that is no number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increments_words: Option<String>,
    /// Mass of an increment, about, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increment_mass_g: Option<Number>,
    /// Least mass of the aggregate of each sublot, kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aggregate_mass_kg: Option<Number>,
    /// Laboratory samples from each aggregate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory_samples: Option<u32>,
    /// Mass of each laboratory sample, kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory_sample_mass_kg: Option<Number>,
    /// Increments of the whole lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increments_of_lot: Option<u32>,
    /// How the lot is decided, in the table's words.
    pub decision_rule: String,
}

/// The plan of a lot.
///
/// # Errors
/// A family that is not known, a commodity or day that it is not for, a mass that no row has.
pub fn plan_for(inputs: &SamplingPlanInputs) -> Answer<PlanForLot> {
    let mass = positive("lot mass", inputs.lot_mass_t)?;
    let family = FAMILIES.iter().find(|family| family.id == inputs.family);
    let family = family.ok_or_else(|| {
        let ids: Vec<&str> = FAMILIES.iter().map(|family| family.id).collect();
        out_of_range(
            "plan family",
            &inputs.family,
            format!("one of {}", ids.join(", ")),
        )
    })?;
    if let Some(commodity) = &inputs.commodity {
        family.admit_commodity(commodity)?;
    }
    if let Some(on) = inputs.on {
        family.admit_day(on)?;
    }
    let rows = rows::rows()?;
    let row = choose(rows, family.id, mass, inputs.separable).ok_or_else(|| {
        let must = format!("one that a row of {} has", family.id);
        out_of_range("lot mass", format!("{mass} t"), must)
    })?;
    let sublots = if inputs.separable {
        sublots(row.sublots, mass)?
    } else {
        1
    };
    let each = over("sublot mass", mass, sublots.into())?;
    let (least, most, words) = increments(rows, row, each)?;
    Ok(PlanForLot {
        plan: row.plan_id.clone(),
        source: row.source.clone(),
        confidence: row.confidence.clone(),
        sublots,
        sublot_mass_t: figures(each),
        increments: least,
        most_increments: most,
        increments_words: words,
        increment_mass_g: row.increment_mass_g,
        aggregate_mass_kg: row.aggregate_mass_kg,
        laboratory_samples: row.laboratory_samples,
        laboratory_sample_mass_kg: row.laboratory_sample_mass_kg,
        increments_of_lot: least.and_then(|least| least.checked_mul(sublots)),
        decision_rule: row.decision_rule.clone(),
    })
}

/// The family that a plan written by hand means: by its own name, or by the id of one of its rows;
/// capitals and the space around it do not matter. The row for portions above 500 t belongs to
/// several families: of them it means the one that is for the commodity. None where it is a plan
/// of somebody's own.
///
/// ```
/// use domain::sampling_plans::family_named;
/// assert_eq!(family_named(" EU-2023-Cereal ", "wheat-grain"), Some("eu-2023-cereal"));
/// assert_eq!(family_named("eu-2023-cereal-20-100", "wheat-grain"), Some("eu-2023-cereal"));
/// assert_eq!(family_named("eu-2023-large-lot", "almond"), Some("eu-2023-nuts"));
/// assert_eq!(family_named("SP-2, edition 4", "wheat-grain"), None);
/// ```
#[must_use]
pub fn family_named(plan: &str, commodity: &str) -> Option<&'static str> {
    let plan = plan.trim();
    let ids = || FAMILIES.iter().map(|family| family.id);
    if plan.eq_ignore_ascii_case(LARGE_LOT) {
        let mut large = FAMILIES.iter().filter(|one| has_large_lots(one.id));
        let of_it = large
            .clone()
            .find(|one| one.admit_commodity(commodity).is_ok());
        return of_it.or_else(|| large.next()).map(|one| one.id);
    }
    let row = || {
        let rows = rows::rows().unwrap_or_default();
        let row = rows
            .iter()
            .find(|row| row.plan_id.eq_ignore_ascii_case(plan))?;
        ids().find(|id| row.is_range_of(id))
    };
    ids().find(|id| id.eq_ignore_ascii_case(plan)).or_else(row)
}

/// What each published family asks of a lot, one answer a family that speaks of such a lot.
///
/// # Errors
/// A mass that is not above zero.
///
/// ```
/// use domain::sampling_plans::plans_for;
/// let plans = plans_for("15".parse()?, "wheat-grain", "2026-03-01".parse()?, true)?;
/// let ids: Vec<_> = plans.iter().map(|plan| plan.plan.as_str()).collect();
/// assert!(ids.contains(&"eu-2023-cereal-10-20") && !ids.iter().any(|id| id.contains("nuts")));
/// assert!(plans_for("0".parse()?, "wheat-grain", "2026-03-01".parse()?, true).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn plans_for(
    lot_mass_t: Number,
    commodity: &str,
    on: NaiveDate,
    separable: bool,
) -> Answer<Vec<PlanForLot>> {
    positive("lot mass", lot_mass_t)?;
    let plan = |family: &Family| {
        plan_for(&SamplingPlanInputs {
            family: family.id.to_owned(),
            lot_mass_t,
            separable,
            commodity: Some(commodity.to_owned()),
            on: Some(on),
        })
    };
    // A family that declines has nothing to say of the lot: that is no fault of the others.
    Ok(FAMILIES.iter().filter_map(|one| plan(one).ok()).collect())
}

/// Whether a family has the rule for portions above 500 t.
fn has_large_lots(family: &str) -> bool {
    family.starts_with("eu-2023-") && family != "eu-2023-retail-cereal"
}

/// The row of a family that a mass falls into. Where two touch, the one that says it includes the
/// bound; a portion above 500 t that is not made into sublots takes the rule for large lots.
fn choose<'a>(
    rows: &'a [PlanRow],
    family: &str,
    mass: Decimal,
    separable: bool,
) -> Option<&'a PlanRow> {
    let large = has_large_lots(family);
    if large && !separable && mass > Decimal::from(500) {
        return rows.iter().find(|row| row.plan_id == LARGE_LOT);
    }
    let ranged = rows
        .iter()
        .filter(|row| row.is_range_of(family) && row.holds(mass))
        .max_by_key(|row| row.sublots.is_some());
    let own = rows.iter().find(|row| row.plan_id == family);
    let own = own.filter(|row| row.holds(mass));
    let beyond = rows
        .iter()
        .find(|row| large && mass > Decimal::from(500) && row.plan_id == LARGE_LOT);
    ranged.or(own).or(beyond)
}

/// How many sublots: a stated number, or as many as keep each within 120 % of a stated mass
/// (Implementing Regulation (EU) 2023/2782, Annex I, part II.A).
fn sublots(rule: Option<Sublots>, mass: Decimal) -> Answer<u32> {
    let name = "sublots";
    match rule {
        None => Ok(1),
        Some(Sublots::Count(count)) => Ok(count),
        Some(Sublots::Mass(each)) => {
            let most = times(name, each, Decimal::new(12, 1))?;
            let count = over(name, mass, most)?.ceil().max(Decimal::ONE);
            u32::try_from(count).map_err(|error| pole(name, error.to_string()))
        }
    }
}

type LeastMostWords = (Option<u32>, Option<u32>, Option<String>);

fn increments(rows: &[PlanRow], row: &PlanRow, mass: Decimal) -> Answer<LeastMostWords> {
    let ranged = |increments: &Increments| matches!(increments, Increments::ByLotMass { .. });
    let borrowed = if row.increments == Increments::AsForCereals {
        choose(rows, CEREAL, mass, true)
    } else if ranged(&row.increments) {
        choose(rows, "codex-peanuts", mass, true).filter(|other| !ranged(&other.increments))
    } else {
        None
    };
    let taken = borrowed.map_or(&row.increments, |other| &other.increments);
    let range = taken.range_of_numbers();
    let least = match range {
        Some((least, _)) => Some(least),
        None => taken.count(mass)?,
    };
    Ok((least, range.map(|(_, most)| most), taken.words()))
}

#[cfg(test)]
mod tests;
