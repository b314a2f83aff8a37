//! Several results of one thing: their mean, and how sure it is.
//!
//! Promises that agreement is tested before a weighted mean is believed, and that what runs share
//! does not shrink with their number (JCGM 100:2008, 4.2.3 and 5.2). Refuses results without an
//! uncertainty, whose weight would be infinite.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, minus, not_negative, over, plus, positive, root_of_squares,
    square_root, times,
};
use crate::statistics::distributions::{Distribution, DistributionAsked, DistributionQuestion};

/// Most results that are combined at once.
pub const MOST_RESULTS: usize = 300;

/// A result with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ResultWithUncertainty {
    /// The value.
    pub value: Number,
    /// Its standard uncertainty, above zero.
    pub standard_uncertainty: Number,
}

/// Independent results of one thing.
///
/// ```
/// use domain::uncertainty::combination::{WeightedMeanInputs, weighted_mean};
/// // Taylor, An Introduction to Error Analysis (2nd ed. 1997), chapter 7 (from memory).
/// let inputs: WeightedMeanInputs = serde_json::from_str(r#"{"results":[
///     {"value":"11","standard_uncertainty":"1"},{"value":"12","standard_uncertainty":"1"},
///     {"value":"10","standard_uncertainty":"3"}]}"#)?;
/// let mean = weighted_mean(&inputs).unwrap();
/// assert_eq!(mean.mean.0.round_dp(2).to_string(), "11.42");
/// let sure: WeightedMeanInputs = serde_json::from_str(r#"{"results":[
///     {"value":"11","standard_uncertainty":"0"},{"value":"12","standard_uncertainty":"1"}]}"#)?;
/// assert_eq!(weighted_mean(&sure).unwrap_err().quantity(), "standard uncertainty");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct WeightedMeanInputs {
    /// Two or more.
    pub results: Vec<ResultWithUncertainty>,
    /// How many standard uncertainties of their difference two results may be apart; 2 where
    /// nothing is said.
    #[serde(default = "two")]
    pub most_difference: Number,
}

const fn two() -> Number {
    Number(Decimal::TWO)
}

/// A weighted mean and whether its results agree.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct WeightedMean {
    /// Σ(x/u²) / Σ(1/u²).
    pub mean: Number,
    /// 1 / √Σ(1/u²).
    pub standard_uncertainty: Number,
    /// The share of each result in the mean, in the order given.
    pub weights: Vec<Number>,
    /// Σ((x - mean)/u)².
    pub chi_squared: Number,
    /// n - 1.
    pub degrees_of_freedom: u32,
    /// How likely a larger chi-squared is where the results agree.
    pub probability_of_more: Number,
    /// The Birge ratio √(χ²/ν): above 1 the results scatter more than their uncertainties say.
    pub birge_ratio: Number,
    /// u times the Birge ratio where that is above 1, else u.
    pub widened_standard_uncertainty: Number,
    /// The largest |x₁ - x₂| / √(u₁² + u₂²) of two of them.
    pub largest_difference: Number,
    /// Whether no two are further apart than was allowed.
    pub agree: bool,
}

/// The mean of independent results, weighted by the inverse of their variances.
///
/// # Errors
/// Fewer than two results or too many, an uncertainty that is not above zero.
pub fn weighted_mean(inputs: &WeightedMeanInputs) -> Answer<WeightedMean> {
    let name = "weighted mean";
    at_least("results", inputs.results.len(), 2)?;
    at_most("results", inputs.results.len(), MOST_RESULTS)?;
    let allowed = positive("largest difference allowed", inputs.most_difference)?;
    let mut smallest = None;
    let mut known = Vec::with_capacity(inputs.results.len());
    for result in &inputs.results {
        let standard = positive("standard uncertainty", result.standard_uncertainty)?;
        smallest = Some(smallest.map_or(standard, |least: Decimal| least.min(standard)));
        known.push((result.value.0, standard));
    }
    // Weights in units of that of the surest result, which can neither vanish nor overflow.
    let unit = smallest.unwrap_or(Decimal::ONE);
    let mut weights = Vec::with_capacity(known.len());
    let (mut total, mut moment) = (Decimal::ZERO, Decimal::ZERO);
    for (value, standard) in &known {
        let ratio = over(name, unit, *standard)?;
        let weight = times(name, ratio, ratio)?;
        total = plus(name, total, weight)?;
        moment = plus(name, moment, times(name, weight, *value)?)?;
        weights.push(weight);
    }
    let mean = over(name, moment, total)?;
    let standard = over(name, unit, square_root(name, total)?)?;
    let mut away = Vec::with_capacity(known.len());
    for (value, standard) in &known {
        away.push(over("chi-squared", minus(name, *value, mean)?, *standard)?);
    }
    let root = root_of_squares("chi-squared", &away)?;
    let chi_squared = times("chi-squared", root, root)?;
    let freedom = u32::try_from(known.len().saturating_sub(1)).unwrap_or(u32::MAX);
    let birge = over(name, root, square_root(name, freedom.into())?)?;
    let largest = largest_difference(&known)?;
    Ok(WeightedMean {
        mean: figures(mean),
        standard_uncertainty: figures(standard),
        weights: weights
            .into_iter()
            .map(|weight| over(name, weight, total).map(figures))
            .collect::<Answer<_>>()?,
        chi_squared: figures(chi_squared),
        degrees_of_freedom: freedom,
        probability_of_more: beyond(chi_squared, freedom)?,
        birge_ratio: figures(birge),
        widened_standard_uncertainty: figures(times(name, standard, birge.max(Decimal::ONE))?),
        largest_difference: figures(largest),
        agree: largest <= allowed,
    })
}

fn beyond(chi_squared: Decimal, freedom: u32) -> Answer<Number> {
    let question = DistributionQuestion {
        of: Distribution::ChiSquared {
            degrees_of_freedom: Number(freedom.into()),
        },
        at: DistributionAsked::Value(figures(chi_squared)),
    };
    Ok(crate::statistics::distributions::distribution(&question)?.above)
}

fn largest_difference(known: &[(Decimal, Decimal)]) -> Answer<Decimal> {
    let name = "difference of two results";
    let apart = |one: &(Decimal, Decimal), other: &(Decimal, Decimal)| {
        let standard = root_of_squares(name, &[one.1, other.1])?;
        over(name, minus(name, one.0, other.0)?.abs(), standard)
    };
    let mut largest = Decimal::ZERO;
    for (place, one) in known.iter().enumerate() {
        for other in known.iter().skip(place.saturating_add(1)) {
            largest = largest.max(apart(one, other)?);
        }
    }
    Ok(largest)
}

/// Replicate runs that share part of their uncertainty.
///
/// ```
/// use domain::uncertainty::combination::{ReplicateMeanInputs, replicate_mean};
/// let inputs: ReplicateMeanInputs = serde_json::from_str(
///     r#"{"repeatability":"1.2","determinations":3,"common":"0.9"}"#)?;
/// let mean = replicate_mean(&inputs).unwrap();
/// assert_eq!(mean.standard_uncertainty.0.round_dp(3).to_string(), "1.136");
/// let none = ReplicateMeanInputs { determinations: 0, ..inputs };
/// assert_eq!(replicate_mean(&none).unwrap_err().quantity(), "determinations");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReplicateMeanInputs {
    /// Standard deviation of one run under repeatability, zero or more.
    pub repeatability: Number,
    /// How many runs, 1 or more.
    pub determinations: u32,
    /// Standard uncertainty that they share, such as of dilution, bias, calibration; zero or more.
    pub common: Number,
}

/// How sure a mean of replicates is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ReplicateMean {
    /// s / √n.
    pub of_repeatability: Number,
    /// √(s²/n + common²).
    pub standard_uncertainty: Number,
    /// What it would be if all of it shrank with n, which is wrong: √((s² + common²)/n).
    pub wrong_if_all_divided: Number,
}

/// u² = s²/n + u(common)²: only repeatability shrinks with the number of runs.
///
/// # Errors
/// No determination, a deviation below zero.
pub fn replicate_mean(inputs: &ReplicateMeanInputs) -> Answer<ReplicateMean> {
    let name = "mean of replicates";
    let count = usize::try_from(inputs.determinations).unwrap_or(usize::MAX);
    at_least("determinations", count, 1)?;
    let repeatability = not_negative("repeatability", inputs.repeatability)?;
    let common = not_negative("common uncertainty", inputs.common)?;
    let root = square_root(name, inputs.determinations.into())?;
    let shrunk = over(name, repeatability, root)?;
    let all = root_of_squares(name, &[repeatability, common])?;
    Ok(ReplicateMean {
        of_repeatability: figures(shrunk),
        standard_uncertainty: figures(root_of_squares(name, &[shrunk, common])?),
        wrong_if_all_divided: figures(over(name, all, root)?),
    })
}
