//! One value from laboratories that disagree: a between-laboratory component.
//!
//! Promises the maximum-likelihood mean and between-laboratory variance of the one-way random
//! effects model with a variance of its own in every laboratory (Vangel and Rukhin, Biometrics 55
//! (1999) 129). Refuses laboratories with fewer than two observations, and means that all agree.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{float, number, positive, probability, size};
use super::error::{Answer, StatisticsError, at_least, at_most};
use super::special::normal_quantile;

/// Most laboratories.
pub const MOST_LABORATORIES: usize = 1_000;

const MOST_STEPS: usize = 20_000;

/// What one laboratory found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LaboratoryMean {
    /// Its mean.
    pub mean: Number,
    /// Standard deviation of its observations, above zero.
    pub standard_deviation: Number,
    /// How many observations, 2 or more.
    pub observations: u32,
}

/// Laboratories to be combined.
///
/// ```
/// use domain::statistics::random_effects::{RandomEffectsInputs, random_effects};
/// let inputs: RandomEffectsInputs = serde_json::from_str(r#"{"laboratories":[
///     {"mean":"12.46","standard_deviation":"0.028","observations":10},
///     {"mean":"13.035","standard_deviation":"0.233","observations":10},
///     {"mean":"12.44","standard_deviation":"0.325","observations":10}]}"#)?;
/// let combined = random_effects(&inputs).unwrap();
/// assert!(combined.between_variance.0 > "0.01".parse().unwrap());
/// let mut one = inputs;
/// one.laboratories.truncate(1);
/// assert_eq!(random_effects(&one).unwrap_err().quantity(), "laboratories");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RandomEffectsInputs {
    /// Two or more.
    pub laboratories: Vec<LaboratoryMean>,
    /// Level of the interval, above 0 and below 1; 0.95 where nothing is said.
    #[serde(default = "usual")]
    pub confidence: Number,
}

const fn usual() -> Number {
    Number(rust_decimal::Decimal::from_parts(95, 0, 0, false, 2))
}

/// What they come to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RandomEffects {
    /// The mean, weighted by 1/(σ² + σᵢ²/nᵢ).
    pub mean: Number,
    /// σ², between laboratories; zero where they agree within their own scatter.
    pub between_variance: Number,
    /// σᵢ², within each laboratory, in the order given.
    pub within_variances: Vec<Number>,
    /// The share of each laboratory in the mean.
    pub weights: Vec<Number>,
    /// 1/√Σ 1/(σ² + σᵢ²/nᵢ).
    pub standard_error: Number,
    /// The mean less and plus the normal quantile times the standard error.
    pub interval: [Number; 2],
    /// How many steps the iteration took.
    pub steps: usize,
}

#[derive(Clone)]
struct Laboratory {
    mean: f64,
    /// Sum of squares about its mean.
    squares: f64,
    count: f64,
    within: f64,
}

/// Combines laboratories by maximum likelihood, found by expectation and maximisation.
///
/// # Errors
/// Fewer than two laboratories or too many, fewer than two observations or no scatter in one of
/// them, an iteration that does not settle.
pub fn random_effects(inputs: &RandomEffectsInputs) -> Answer<RandomEffects> {
    at_least("laboratories", inputs.laboratories.len(), 2)?;
    at_most("laboratories", inputs.laboratories.len(), MOST_LABORATORIES)?;
    let tail = probability("confidence", inputs.confidence)?;
    let mut all = Vec::with_capacity(inputs.laboratories.len());
    for one in &inputs.laboratories {
        let deviation = positive("standard deviation of a laboratory", one.standard_deviation)?;
        let count = usize::try_from(one.observations).unwrap_or(usize::MAX);
        at_least("observations of a laboratory", count, 2)?;
        all.push(Laboratory {
            mean: float(one.mean),
            squares: (size(count) - 1.0) * deviation * deviation,
            count: size(count),
            within: deviation * deviation,
        });
    }
    let centre = all.iter().map(|one| one.mean).sum::<f64>() / size(all.len());
    let apart: f64 = all.iter().map(|one| (one.mean - centre).powi(2)).sum();
    let (mut mean, mut between) = (centre, apart / (size(all.len()) - 1.0));
    if between <= 0.0 {
        return Err(StatisticsError::flat("means of the laboratories"));
    }
    let scale = between.sqrt();
    let mut steps = 0;
    loop {
        let (next_mean, next_between) = step(&mut all, between);
        let moved = (next_mean - mean).abs() / scale + (next_between - between).abs() / between;
        (mean, between) = (next_mean, next_between);
        steps += 1;
        if moved < 1e-13 || between < 1e-12 * scale * scale {
            break;
        }
        if steps == MOST_STEPS {
            break;
        }
    }
    let is_settled = steps < MOST_STEPS && between >= 1e-12 * scale * scale;
    if !is_settled {
        // Towards zero the steps grow ever smaller: there the answer is asked for directly.
        let (at_zero, mean_at_zero) = without_between(&all);
        if likelihood(&at_zero, mean_at_zero, 0.0) < likelihood(&all, mean, between) {
            let why = format!("{MOST_STEPS} steps were not enough");
            return Err(StatisticsError::unsettled(
                "between-laboratory variance",
                why,
            ));
        }
        (all, mean, between) = (at_zero, mean_at_zero, 0.0);
    }
    let weights: Vec<f64> = all
        .iter()
        .map(|one| 1.0 / (between + one.within / one.count))
        .collect();
    let total: f64 = weights.iter().sum();
    let error = (1.0 / total).sqrt();
    let reach = normal_quantile(0.5 * (1.0 + tail)) * error;
    let shares: Vec<f64> = weights.iter().map(|weight| weight / total).collect();
    let within: Vec<f64> = all.iter().map(|one| one.within).collect();
    Ok(RandomEffects {
        mean: number("mean", mean)?,
        between_variance: number("between-laboratory variance", between)?,
        within_variances: super::door::numbers("within-laboratory variance", &within)?,
        weights: super::door::numbers("weight", &shares)?,
        standard_error: number("standard error", error)?,
        interval: [
            number("lower end", mean - reach)?,
            number("upper end", mean + reach)?,
        ],
        steps,
    })
}

/// One step: the laboratories' own values as they are expected, then the parameters they give.
fn step(all: &mut [Laboratory], between: f64) -> (f64, f64) {
    let weight = |one: &Laboratory| 1.0 / (between + one.within / one.count);
    let total: f64 = all.iter().map(weight).sum();
    let mean = all.iter().map(|one| weight(one) * one.mean).sum::<f64>() / total;
    let mut sum = 0.0;
    for one in all.iter_mut() {
        let kept = between * weight(one);
        let (effect, variance) = (kept * (one.mean - mean), between * (1.0 - kept));
        sum += effect * effect + variance;
        let rest = one.mean - mean - effect;
        one.within = (one.squares + one.count * (rest * rest + variance)) / one.count;
    }
    (mean, sum / size(all.len()))
}

/// The laboratories and their mean where nothing lies between them: each within variance is what
/// its observations scatter about the common mean.
fn without_between(all: &[Laboratory]) -> (Vec<Laboratory>, f64) {
    let mut fitted = all.to_vec();
    let mut mean = 0.0;
    for _ in 0..MOST_STEPS {
        let weight = |one: &Laboratory| one.count / one.within;
        let total: f64 = fitted.iter().map(weight).sum();
        let next = fitted.iter().map(|one| weight(one) * one.mean).sum::<f64>() / total;
        for one in &mut fitted {
            one.within = one.squares / one.count + (one.mean - next).powi(2);
        }
        let is_settled = (next - mean).abs() <= 1e-14 * next.abs();
        mean = next;
        if is_settled {
            break;
        }
    }
    (fitted, mean)
}

/// Logarithm of the likelihood, up to a constant.
fn likelihood(all: &[Laboratory], mean: f64, between: f64) -> f64 {
    all.iter()
        .map(|one| {
            let of_mean = between + one.within / one.count;
            let within = (one.count - 1.0) * one.within.ln() + one.squares / one.within;
            -0.5 * (within + of_mean.ln() + (one.mean - mean).powi(2) / of_mean)
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Laboratories whose means lie closer together than their own scatter allows for have nothing
    /// between them: the model's greatest likelihood is at zero.
    #[test]
    fn laboratories_that_agree_within_their_scatter_have_nothing_between_them() {
        let laboratory = |mean: i64| LaboratoryMean {
            mean: Number(rust_decimal::Decimal::new(mean, 2)),
            standard_deviation: Number(rust_decimal::Decimal::new(50, 2)),
            observations: 4,
        };
        let inputs = RandomEffectsInputs {
            laboratories: [1_000, 1_002, 999].map(laboratory).to_vec(),
            confidence: usual(),
        };
        let found = random_effects(&inputs).map(|found| found.between_variance);
        assert_eq!(found, Ok(Number(rust_decimal::Decimal::ZERO)));
    }
}
