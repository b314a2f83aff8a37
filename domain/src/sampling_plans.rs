//! Sampling plans: how many increments, of which mass, to how many laboratory samples.
//!
//! Promises the row of the published table that a lot's mass falls into, its sublots, and what was
//! done otherwise than it asks. Refuses a plan for another commodity or another time, and a mass
//! that no row has.

mod check;
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

use crate::commodities::Vocabulary;
use crate::quantity::Number;
use crate::quantity::exact::{Answer, figures, out_of_range, over, pole, positive, times};

/// Plans that belong together: the beginning of their ids.
struct Family {
    id: &'static str,
    /// Ids of the commodity vocabulary that it is for, and below; empty: any.
    commodities: &'static [&'static str],
    /// Ids that are taken out again.
    except: &'static [&'static str],
    /// First and last day, where they are known.
    from: Option<(i32, u32, u32)>,
    to: Option<(i32, u32, u32)>,
}

const fn family(id: &'static str, commodities: &'static [&'static str]) -> Family {
    Family {
        id,
        commodities,
        except: &[],
        from: None,
        to: None,
    }
}

/// Regulation (EU) 2023/2782 applies from 2024-04-01 and repeals 401/2006. Which goods a plan is
/// for is our reading of its words.
const NEW_LAW: Option<(i32, u32, u32)> = Some((2024, 4, 1));
const FAMILIES: &[Family] = &[
    Family {
        except: &["groundnut"],
        from: NEW_LAW,
        ..family("eu-2023-cereal", &["cereal", "oilseed"])
    },
    Family {
        except: &["groundnut"],
        from: NEW_LAW,
        ..family("eu-2023-smallgrain", &["cereal-grain", "oilseed"])
    },
    Family {
        from: NEW_LAW,
        ..family(
            "eu-2023-nuts",
            &["groundnut", "tree-nut", "apricot-kernel", "spice"],
        )
    },
    Family {
        from: NEW_LAW,
        ..family(
            "eu-2023-nut-products",
            &["groundnut-product", "tree-nut-product"],
        )
    },
    Family {
        from: NEW_LAW,
        ..family("eu-2023-retail-cereal", &["cereal", "oilseed"])
    },
    Family {
        to: Some((2024, 3, 31)),
        ..family("eu-2006-cereal", &["cereal"])
    },
    family(
        "eu-feed",
        &[
            "feed-material",
            "cereal",
            "oilseed",
            "compound-feed",
            "pulse",
            "forage",
        ],
    ),
    family("codex-peanuts", &["groundnut"]),
    family("codex-peanuts-inshell", &["groundnut"]),
    family(
        "codex-nuts-rte",
        &["almond", "hazelnut", "pistachio", "brazil-nut"],
    ),
    family(
        "codex-nuts-processing",
        &["almond", "hazelnut", "pistachio", "brazil-nut"],
    ),
    family("codex-maize-grain-fumonisin", &["maize-grain"]),
    family("codex-maize-flour-fumonisin", &["maize-milling-product"]),
    family(
        "codex-cereal-don",
        &["wheat-grain", "maize-grain", "barley-grain"],
    ),
    family("codex-cereal-flour-don", &["cereal-milling-product"]),
    family("codex-infant-cereal-don", &["infant-cereal-food"]),
    family("us-fgis-aflatoxin-truck", &["cereal-grain"]),
    family("us-fgis-aflatoxin-truck-2", &["maize-grain"]),
    family("us-fgis-aflatoxin-railcar", &["cereal-grain"]),
    family("us-fgis-aflatoxin-barge-sublot", &["cereal-grain"]),
    family("us-fgis-aflatoxin-export", &["maize-grain"]),
    family("us-fgis-don-truck-2016", &["maize-grain"]),
    family("us-fgis-don-export-2018", &["maize-grain"]),
    family("us-ams-peanuts", &["groundnut"]),
    family("us-extension-corn-composite", &["maize"]),
];

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
    let rows = shipped_plans().map_err(|error| pole("sampling plans", error.to_string()))?;
    let row = choose(&rows, family.id, mass, inputs.separable).ok_or_else(|| {
        let must = format!("one that a row of {} has", family.id);
        out_of_range("lot mass", format!("{mass} t"), must)
    })?;
    let sublots = if inputs.separable {
        sublots(row.sublots, mass)?
    } else {
        1
    };
    let each = over("sublot mass", mass, sublots.into())?;
    let (least, most, words) = increments(&rows, row, each)?;
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

impl Family {
    fn admit_commodity(&self, commodity: &str) -> Answer<()> {
        let vocabulary =
            Vocabulary::shipped().map_err(|error| pole("vocabulary", error.to_string()))?;
        let goods = &vocabulary.commodities;
        let within = |ids: &[&str]| ids.iter().any(|id| goods.is_within(commodity, id));
        if self.commodities.is_empty() || (within(self.commodities) && !within(self.except)) {
            return Ok(());
        }
        let mut must = format!(
            "within {}, which {} is for",
            self.commodities.join(", "),
            self.id
        );
        if !self.except.is_empty() {
            must.push_str(&format!(", but not within {}", self.except.join(", ")));
        }
        Err(out_of_range("commodity", commodity, must))
    }

    fn admit_day(&self, on: NaiveDate) -> Answer<()> {
        let day = |given: Option<(i32, u32, u32)>| {
            given.and_then(|(year, month, day)| NaiveDate::from_ymd_opt(year, month, day))
        };
        if day(self.from).is_some_and(|from| on < from) || day(self.to).is_some_and(|to| on > to) {
            let shown = |given| day(given).map_or_else(String::new, |day| day.to_string());
            let must = format!(
                "in the time of {}: {} to {}",
                self.id,
                shown(self.from),
                shown(self.to)
            );
            return Err(out_of_range("day of sampling", on, must));
        }
        Ok(())
    }
}

/// The row of a family that a mass falls into. Where two touch, the one that says it includes the
/// bound; a portion above 500 t that is not made into sublots takes the rule for large lots.
fn choose<'a>(
    rows: &'a [PlanRow],
    family: &str,
    mass: Decimal,
    separable: bool,
) -> Option<&'a PlanRow> {
    let large = family.starts_with("eu-2023-") && family != "eu-2023-retail-cereal";
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
