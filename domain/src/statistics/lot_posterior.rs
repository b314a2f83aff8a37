//! How likely a lot is above a limit, given a test result on it.
//!
//! Promises Bayes' rule over what was known of lots before: every concentration up to a largest
//! as likely as another, a lognormal of lots, or the concentrations of earlier lots. Refuses a
//! result that none of them could have given.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{float, not_negative, number, positive};
use super::error::{Answer, StatisticsError, as_long, at_least, at_most};
use super::integrals::integral;
use super::skewed::{SkewedDistribution, density, float_tails};
use super::special::normal_density;

/// Most earlier lots that are weighed.
pub const MOST_LOTS: usize = 10_000;

/// What was known of lots before this result, in the unit of the result.
///
/// ```
/// use domain::statistics::lot_posterior::PriorLots;
/// let flat: PriorLots = serde_json::from_str(r#"{"prior":"flat","largest":"200"}"#)?;
/// assert!(matches!(flat, PriorLots::Flat { .. }));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "prior", rename_all = "kebab-case", deny_unknown_fields)]
pub enum PriorLots {
    /// Every concentration from zero to a largest as likely as another.
    Flat {
        /// Above the limit.
        largest: Number,
    },
    /// Lots whose logarithm is normal.
    Lognormal {
        /// Half of the lots lie below it; above zero.
        median: Number,
        /// Geometric standard deviation, above 1.
        geometric_standard_deviation: Number,
    },
    /// Concentrations of earlier lots.
    Lots {
        /// Zero or more each.
        concentrations: Vec<Number>,
        /// How often each occurred; absent: once.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        weights: Option<Vec<Number>>,
    },
}

/// What was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", content = "of", rename_all = "kebab-case")]
pub enum SeenResult {
    /// A number above zero.
    Value(Number),
    /// Only known to be up to a bound.
    UpTo(Number),
    /// Only known to be above a bound.
    Above(Number),
}

/// A part of the variance, coefficient · C^exponent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct PowerPart {
    pub(crate) coefficient: Number,
    pub(crate) exponent: Number,
}

/// How the results of a lot scatter about its concentration.
#[derive(Debug)]
pub(crate) struct Scatter<'a> {
    pub(crate) distribution: SkewedDistribution,
    /// Parts of the variance of one result.
    pub(crate) parts: &'a [PowerPart],
    /// How many independent results were averaged.
    pub(crate) averaged: u32,
}

impl Scatter<'_> {
    fn variance(&self, concentration: f64) -> f64 {
        let sum: f64 = self
            .parts
            .iter()
            .map(|part| float(part.coefficient) * concentration.powf(float(part.exponent)))
            .sum();
        sum / f64::from(self.averaged.max(1))
    }

    fn likelihood(&self, concentration: f64, seen: Seen) -> f64 {
        let variance = self.variance(concentration);
        let found = match seen {
            Seen::Value(at) => density(self.distribution, concentration, variance, at),
            Seen::UpTo(at) => {
                float_tails(self.distribution, concentration, variance, at).map(|both| both.0)
            }
            Seen::Above(at) => {
                float_tails(self.distribution, concentration, variance, at).map(|both| both.1)
            }
        };
        found.unwrap_or(0.0)
    }
}

#[derive(Clone, Copy)]
enum Seen {
    Value(f64),
    UpTo(f64),
    Above(f64),
}

/// Pieces of an interval over which the likelihood is integrated, on either side of the limit.
const PIECES: usize = 120;

/// Geometric standard deviations on either side of the median that a lognormal is followed to.
const REACH: f64 = 8.0;

pub(crate) fn probability_above(
    scatter: &Scatter<'_>,
    seen: SeenResult,
    limit: Number,
    prior: &PriorLots,
) -> Answer<Number> {
    let at = positive("limit", limit)?;
    let seen = match seen {
        SeenResult::Value(value) => Seen::Value(positive("result", value)?),
        SeenResult::UpTo(bound) => Seen::UpTo(positive("bound of the result", bound)?),
        SeenResult::Above(bound) => Seen::Above(not_negative("bound of the result", bound)?),
    };
    let (below, above) = match prior {
        PriorLots::Flat { largest } => flat(scatter, seen, at, limit, *largest)?,
        PriorLots::Lognormal {
            median,
            geometric_standard_deviation: spread,
        } => lognormal(scatter, seen, at, (*median, *spread))?,
        PriorLots::Lots {
            concentrations,
            weights,
        } => lots(scatter, seen, limit, concentrations, weights.as_deref())?,
    };
    let name = "probability that the lot is above the limit";
    let total = below + above;
    if total.is_nan() || total <= 0.0 {
        let why = "no lot that was thought possible could have given this result";
        return Err(StatisticsError::pole(name, why));
    }
    number(name, above / total)
}

fn flat(
    scatter: &Scatter<'_>,
    seen: Seen,
    at: f64,
    limit: Number,
    largest: Number,
) -> Answer<(f64, f64)> {
    if largest <= limit {
        let must = format!("above the limit, {limit}");
        return Err(StatisticsError::out_of_range(
            "largest concentration",
            largest,
            must,
        ));
    }
    let part = |ends| {
        integral("likelihood of the result", ends, PIECES, |concentration| {
            scatter.likelihood(concentration, seen)
        })
    };
    Ok((part((0.0, at))?, part((at, float(largest)))?))
}

fn lognormal(
    scatter: &Scatter<'_>,
    seen: Seen,
    at: f64,
    (median, spread): (Number, Number),
) -> Answer<(f64, f64)> {
    let middle = positive("median of lots", median)?.ln();
    if spread.0 <= Decimal::ONE {
        let name = "geometric standard deviation of lots";
        return Err(StatisticsError::out_of_range(name, spread, "above 1"));
    }
    let deviation = float(spread).ln();
    let cut = ((at.ln() - middle) / deviation).clamp(-REACH, REACH);
    let part = |ends| {
        integral("likelihood of the result", ends, PIECES, |z| {
            normal_density(z) * scatter.likelihood((middle + deviation * z).exp(), seen)
        })
    };
    Ok((part((-REACH, cut))?, part((cut, REACH))?))
}

fn lots(
    scatter: &Scatter<'_>,
    seen: Seen,
    limit: Number,
    concentrations: &[Number],
    weights: Option<&[Number]>,
) -> Answer<(f64, f64)> {
    at_least("earlier lots", concentrations.len(), 1)?;
    at_most("earlier lots", concentrations.len(), MOST_LOTS)?;
    if let Some(weights) = weights {
        as_long(
            "weights of earlier lots",
            weights.len(),
            concentrations.len(),
        )?;
    }
    let (mut below, mut above) = (0.0, 0.0);
    for (place, concentration) in concentrations.iter().enumerate() {
        let weight = match weights.and_then(|weights| weights.get(place)) {
            Some(weight) => not_negative("weight of an earlier lot", *weight)?,
            None => 1.0,
        };
        let true_value = not_negative("concentration of an earlier lot", *concentration)?;
        let likelihood = if true_value > 0.0 {
            scatter.likelihood(true_value, seen)
        } else {
            // A lot without the toxin gives no result but zero.
            match seen {
                Seen::UpTo(_) => 1.0,
                Seen::Value(_) | Seen::Above(_) => 0.0,
            }
        };
        if concentration > &limit {
            above += weight * likelihood;
        } else {
            below += weight * likelihood;
        }
    }
    Ok((below, above))
}
