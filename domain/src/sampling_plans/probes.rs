//! Where a carrier of grain is probed.
//!
//! Promises the patterns of the US Grain Inspection Handbook, Book I, as the table has them;
//! refuses a barge too short for a pair of probes and depths that are not above zero.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::rows::shipped_plans;
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, figures, minus, out_of_range, over, plus, pole, positive, times,
};

/// What carries the grain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "carrier", rename_all = "kebab-case", deny_unknown_fields)]
pub enum ProbedCarrier {
    /// A flat-bottom truck or trailer.
    FlatTruck {
        /// Depth of the grain, ft, above zero.
        depth_ft: Number,
    },
    /// A barge.
    Barge {
        /// Length of the grain surface, ft.
        length_ft: Number,
    },
    /// A hopper car with a trough and three compartments.
    TroughHopperCar {},
    /// An open-top hopper car with two compartments.
    OpenHopperCar {},
}

/// A carrier that is to be probed.
///
/// ```
/// use domain::sampling_plans::{ProbeInputs, probe_pattern};
/// let inputs: ProbeInputs = serde_json::from_str(
///     r#"{"of":{"carrier":"barge","length_ft":"195"}}"#)?;
/// let pattern = probe_pattern(&inputs).unwrap();
/// // floor((195 - 7)/15 + 1) = 13 pairs.
/// assert_eq!(pattern.probes, 26);
/// let short: ProbeInputs = serde_json::from_str(
///     r#"{"of":{"carrier":"barge","length_ft":"5"}}"#)?;
/// assert_eq!(probe_pattern(&short).unwrap_err().quantity(), "length of the barge");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ProbeInputs {
    /// The carrier.
    pub of: ProbedCarrier,
}

/// Where to probe.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ProbePattern {
    /// The row of the table.
    pub plan: String,
    /// How many probes.
    pub probes: u32,
    /// Where they are, in words.
    pub positions: String,
    /// Distances of the pairs of a barge from its end, ft.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pairs_at_ft: Vec<Number>,
    /// Which probe to use, in words.
    pub probe_length: String,
    /// The document.
    pub source: String,
}

/// First pair of a barge, ft from the end; what is left free at the other end; between pairs.
const BARGE: (u32, u32, u32) = (4, 3, 15);

/// Most pairs of probes of one barge.
const MOST_PAIRS: u32 = 1_000;

/// The pattern of a carrier.
///
/// # Errors
/// A depth that is not above zero, a barge too short or too long.
pub fn probe_pattern(inputs: &ProbeInputs) -> Answer<ProbePattern> {
    let (plan, probes, pairs) = match inputs.of {
        ProbedCarrier::FlatTruck { depth_ft } => {
            let depth = positive("depth of the grain", depth_ft)?;
            if depth >= Decimal::from(4) {
                ("us-probe-truck-deep", 7, Vec::new())
            } else {
                ("us-probe-truck-shallow", 9, Vec::new())
            }
        }
        ProbedCarrier::Barge { length_ft } => {
            let pairs = pairs(positive("length of the barge", length_ft)?)?;
            let count = u32::try_from(pairs.len()).unwrap_or(MOST_PAIRS);
            ("us-probe-barge", count.saturating_mul(2), pairs)
        }
        ProbedCarrier::TroughHopperCar {} => ("us-probe-hopper-3-trough", 3, Vec::new()),
        ProbedCarrier::OpenHopperCar {} => ("us-probe-hopper-2-open", 4, Vec::new()),
    };
    let rows = shipped_plans().map_err(|error| pole("sampling plans", error.to_string()))?;
    let row_of = |id: &str| {
        rows.iter()
            .find(|row| row.plan_id == id)
            .ok_or_else(|| pole("sampling plans", format!("there is no row {id}")))
    };
    let row = row_of(plan)?;
    Ok(ProbePattern {
        plan: plan.to_owned(),
        probes,
        positions: row.decision_rule.clone(),
        pairs_at_ft: pairs,
        probe_length: row_of("us-probe-length")?.decision_rule.clone(),
        source: row.source.clone(),
    })
}

/// n = floor((length - 4 - 3)/15 + 1) pairs, the first 4 ft from the end, then every 15 ft.
fn pairs(length: Decimal) -> Answer<Vec<Number>> {
    let name = "length of the barge";
    let (first, free, between) = BARGE;
    let room = minus(name, length, Decimal::from(first.saturating_add(free)))?;
    if room < Decimal::ZERO {
        return Err(out_of_range(name, length, "at least 7 ft"));
    }
    let count = plus(name, over(name, room, between.into())?, Decimal::ONE)?.floor();
    let count = u32::try_from(count).unwrap_or(u32::MAX);
    if count > MOST_PAIRS {
        return Err(out_of_range(name, length, "that of a barge"));
    }
    (0..count)
        .map(|pair| {
            let along = times(name, Decimal::from(between), pair.into())?;
            plus(name, first.into(), along).map(figures)
        })
        .collect()
}
