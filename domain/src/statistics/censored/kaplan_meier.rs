//! Kaplan and Meier's estimate for left-censored results.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{number, size};
use super::super::error::{Answer, at_least};
use super::super::summary;
use super::value::{CensoredValue, Seen, seen};

/// Where the mass below the smallest result is put.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RemainingMass {
    /// At the smallest limit.
    #[default]
    SmallestLimit,
    /// At the smallest result (Efron's bias correction, turned round).
    SmallestResult,
}

/// Results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KaplanMeierInput {
    /// In one unit; a limit counts as below an equal result.
    pub values: Vec<CensoredValue>,
    /// Where the mass below the smallest result is put.
    #[serde(default)]
    pub remaining_mass: RemainingMass,
}

/// One result of the estimate, from the largest down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct KaplanMeierStep {
    /// The result.
    pub value: Number,
    /// Results equal to it.
    pub results: usize,
    /// Results and limits up to it.
    pub at_risk: usize,
    /// Estimated probability of a value below it.
    pub below: Number,
    /// Estimated probability of the value itself.
    pub mass: Number,
}

/// The estimate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct KaplanMeier {
    /// From the largest result down.
    pub steps: Vec<KaplanMeierStep>,
    /// Probability left below the smallest result, and where it was put.
    pub remaining: Number,
    /// Where it was put; absent where nothing is left.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remaining_at: Option<Number>,
    /// Mean of the estimated distribution.
    pub mean: Number,
    /// Its standard deviation, not corrected for the number of values.
    pub standard_deviation: Number,
    /// The smallest value with a probability of one half up to it.
    pub median: Number,
    /// Mean of logarithms; absent where a value is zero.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mean_log: Option<Number>,
    /// Standard deviation of logarithms, not corrected.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_deviation_log: Option<Number>,
}

struct Step {
    value: f64,
    results: usize,
    at_risk: usize,
    below: f64,
    mass: f64,
}

/// P(X < x) as the product over results at or above x of (1 - results there / values up to there):
/// Kaplan and Meier, Journal of the American Statistical Association 53 (1958) 457, turned round
/// for limits from above as in Helsel, Statistics for Censored Environmental Data (2012), 6.
///
/// # Errors
/// [`TooFew`](super::super::StatisticsError::TooFew) without a result above its limit;
/// [`OutOfRange`](super::super::StatisticsError::OutOfRange) for a negative value, a limit of
/// zero, or a value between two limits.
///
/// ```
/// use domain::statistics::censored::{KaplanMeierInput, kaplan_meier};
/// let set = |list: &str| serde_json::from_str::<KaplanMeierInput>(
///     &format!(r#"{{"values":{list}}}"#));
/// let said = kaplan_meier(&set(r#"["<2","4","6"]"#)?).unwrap();
/// assert_eq!((said.mean.to_string().as_str(), said.steps[0].at_risk), ("4", 3));
/// assert!(kaplan_meier(&set(r#"["<2","<3"]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn kaplan_meier(input: &KaplanMeierInput) -> Answer<KaplanMeier> {
    let values = seen(&input.values, false)?;
    let steps = steps(&values);
    at_least("results above their limit", steps.len(), 1)?;
    let left = steps.last().map_or(1.0, |step| step.below);
    let smallest = steps.last().map_or(0.0, |step| step.value);
    let limits = values
        .iter()
        .filter(|seen| seen.below)
        .map(|seen| seen.value);
    let limit = limits.fold(f64::INFINITY, f64::min);
    let place = match input.remaining_mass {
        RemainingMass::SmallestLimit => limit.min(smallest),
        RemainingMass::SmallestResult => smallest,
    };
    let mut points: Vec<(f64, f64)> = steps.iter().map(|step| (step.value, step.mass)).collect();
    if left > 0.0 {
        points.push((place, left));
    }
    let (mean, deviation) = moments(&points);
    let logarithms: Vec<(f64, f64)> = points.iter().map(|(x, mass)| (x.ln(), *mass)).collect();
    let logarithms = points
        .iter()
        .all(|(x, _)| *x > 0.0)
        .then(|| moments(&logarithms));
    let (mut up_to, mut median) = (0.0, smallest);
    for (value, mass) in points.iter().rev() {
        up_to += mass;
        median = *value;
        if up_to >= 0.5 - 1e-12 {
            break;
        }
    }
    let shown = |step: &Step| {
        Ok(KaplanMeierStep {
            value: number("value", step.value)?,
            results: step.results,
            at_risk: step.at_risk,
            below: number("probability", step.below)?,
            mass: number("probability", step.mass)?,
        })
    };
    Ok(KaplanMeier {
        steps: steps.iter().map(shown).collect::<Answer<_>>()?,
        remaining: number("probability", left)?,
        remaining_at: (left > 0.0).then(|| number("value", place)).transpose()?,
        mean: number("mean", mean)?,
        standard_deviation: number("standard deviation", deviation)?,
        median: number("median", median)?,
        mean_log: logarithms
            .map(|(mean, _)| number("mean", mean))
            .transpose()?,
        standard_deviation_log: logarithms
            .map(|(_, s)| number("standard deviation", s))
            .transpose()?,
    })
}

fn steps(values: &[Seen]) -> Vec<Step> {
    let known: Vec<f64> = values
        .iter()
        .filter(|v| !v.below)
        .map(|v| v.value)
        .collect();
    let mut distinct = summary::sorted(&known);
    distinct.dedup();
    let mut below = 1.0;
    let mut steps = Vec::with_capacity(distinct.len());
    for value in distinct.into_iter().rev() {
        let at_risk = values.iter().filter(|v| v.value <= value).count();
        let results = known.iter().filter(|x| (**x - value).abs() <= 0.0).count();
        let above = below;
        // A whole ratio of none left is zero, not a binary remainder of it.
        below *= size(at_risk.saturating_sub(results)) / size(at_risk);
        steps.push(Step {
            value,
            results,
            at_risk,
            below,
            mass: above - below,
        });
    }
    steps
}

/// Mean and standard deviation of values with their probabilities.
fn moments(points: &[(f64, f64)]) -> (f64, f64) {
    let over = |take: &dyn Fn(f64) -> f64| {
        let parts: Vec<f64> = points.iter().map(|(x, mass)| take(*x) * mass).collect();
        summary::sum(&parts)
    };
    let mean = over(&|x| x);
    (mean, over(&|x| (x - mean).powi(2)).sqrt())
}
