//! Distributions of a test result about a lot's true concentration, by their mean and variance.
//!
//! Promises both tails of gamma, negative binomial, lognormal and normal distributions that have
//! the mean and variance given; refuses means and variances that are not above zero, and a
//! negative binomial whose variance is not above its mean.

use serde::{Deserialize, Serialize};
use statrs::function::{beta, gamma};

use crate::quantity::Number;

use super::door::{float, not_negative, number, positive};
use super::error::{Answer, StatisticsError};
use super::special::{normal_above, normal_below};

/// Which distribution.
///
/// ```
/// use domain::statistics::skewed::SkewedDistribution;
/// let one: SkewedDistribution = serde_json::from_str("\"negative-binomial\"")?;
/// assert_eq!(one.name(), "negative binomial");
/// assert!(serde_json::from_str::<SkewedDistribution>("\"flat\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SkewedDistribution {
    /// Gamma with shape mean²/variance and scale variance/mean.
    Gamma,
    /// Negative binomial in whole units, by moments: K = mean²/(variance - mean).
    NegativeBinomial,
    /// Lognormal: σ² = ln(1 + variance/mean²), μ = ln(mean) - σ²/2.
    Lognormal,
    /// Normal, where the skew is small.
    Normal,
}

impl SkewedDistribution {
    /// The words for people.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Gamma => "gamma",
            Self::NegativeBinomial => "negative binomial",
            Self::Lognormal => "lognormal",
            Self::Normal => "normal",
        }
    }
}

/// How likely a result up to a limit, and one above it, is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Tails {
    /// Probability of a result up to the limit.
    pub up_to: Number,
    /// Probability of a result above it.
    pub above: Number,
}

/// The tails of a distribution with a mean and variance at a limit.
///
/// # Errors
/// A mean or variance that is not above zero, a limit below zero, a negative binomial whose
/// variance is not above its mean.
///
/// ```
/// use domain::statistics::skewed::{SkewedDistribution, tails};
/// let given = |text: &str| text.parse().unwrap();
/// let half = tails(SkewedDistribution::Normal, given("20"), given("4"), given("20")).unwrap();
/// assert_eq!(half.up_to.to_string(), "0.5");
/// let narrow = tails(SkewedDistribution::NegativeBinomial, given("20"), given("4"), given("20"));
/// assert_eq!(narrow.unwrap_err().quantity(), "variance");
/// ```
pub fn tails(
    distribution: SkewedDistribution,
    mean: Number,
    variance: Number,
    limit: Number,
) -> Answer<Tails> {
    let centre = positive("mean", mean)?;
    let spread = positive("variance", variance)?;
    let at = match distribution {
        SkewedDistribution::Normal => float(limit),
        SkewedDistribution::Gamma
        | SkewedDistribution::NegativeBinomial
        | SkewedDistribution::Lognormal => not_negative("limit", limit)?,
    };
    let (up_to, above) = match distribution {
        SkewedDistribution::Gamma => gamma_tails(centre, spread, at)?,
        SkewedDistribution::NegativeBinomial => {
            if variance <= mean {
                let must = format!("above the mean, {mean}, for a negative binomial");
                return Err(StatisticsError::out_of_range("variance", variance, must));
            }
            binomial_tails(centre, spread, at)?
        }
        SkewedDistribution::Lognormal => lognormal_tails(centre, spread, at),
        SkewedDistribution::Normal => {
            let z = (at - centre) / spread.sqrt();
            (normal_below(z), normal_above(z))
        }
    };
    Ok(Tails {
        up_to: number("probability of a result up to the limit", up_to)?,
        above: number("probability of a result above the limit", above)?,
    })
}

fn gamma_tails(mean: f64, variance: f64, at: f64) -> Answer<(f64, f64)> {
    if at <= 0.0 {
        return Ok((0.0, 1.0));
    }
    let why = |error: gamma::GammaFuncError| {
        StatisticsError::unsettled("gamma distribution", error.to_string())
    };
    let (shape, x) = (mean * mean / variance, at * mean / variance);
    Ok((
        gamma::checked_gamma_lr(shape, x).map_err(why)?,
        gamma::checked_gamma_ur(shape, x).map_err(why)?,
    ))
}

/// P(X <= floor(L)) = I_p(K, floor(L) + 1) with p = mean/variance.
fn binomial_tails(mean: f64, variance: f64, at: f64) -> Answer<(f64, f64)> {
    let failures = mean * mean / (variance - mean);
    let p = mean / variance;
    let next = at.floor() + 1.0;
    let of = |a: f64, b: f64, x: f64| {
        beta::checked_beta_reg(a, b, x).map_err(|error| {
            StatisticsError::unsettled("negative binomial distribution", error.to_string())
        })
    };
    Ok((of(failures, next, p)?, of(next, failures, 1.0 - p)?))
}

fn lognormal_tails(mean: f64, variance: f64, at: f64) -> (f64, f64) {
    if at <= 0.0 {
        return (0.0, 1.0);
    }
    let square = (variance / (mean * mean)).ln_1p();
    let z = (at.ln() - (mean.ln() - 0.5 * square)) / square.sqrt();
    (normal_below(z), normal_above(z))
}

/// A power with an exponent that need not be whole, such as 20^0.98.
///
/// # Errors
/// A base that is not above zero; what no decimal holds.
///
/// ```
/// use domain::statistics::skewed::real_power;
/// let given = |text: &str| text.parse().unwrap();
/// assert_eq!(real_power("x", given("4"), given("0.5")).unwrap().to_string(), "2");
/// assert_eq!(real_power("x", given("0"), given("0.5")).unwrap_err().quantity(), "x");
/// ```
pub fn real_power(quantity: &str, base: Number, exponent: Number) -> Answer<Number> {
    number(quantity, positive(quantity, base)?.powf(float(exponent)))
}

/// The density of a result, or its probability in whole units for the negative binomial; none
/// where it cannot be computed. All arguments above zero.
pub(super) fn density(
    distribution: SkewedDistribution,
    mean: f64,
    variance: f64,
    at: f64,
) -> Option<f64> {
    let found = match distribution {
        SkewedDistribution::Gamma => {
            let (shape, scale) = (mean * mean / variance, variance / mean);
            let logarithm = (shape - 1.0) * at.ln() - at / scale - shape * scale.ln();
            (logarithm - gamma::ln_gamma(shape)).exp()
        }
        SkewedDistribution::NegativeBinomial => {
            let (failures, p, seen) =
                (mean * mean / (variance - mean), mean / variance, at.round());
            if variance <= mean {
                return None;
            }
            let ways = gamma::ln_gamma(seen + failures)
                - gamma::ln_gamma(failures)
                - gamma::ln_gamma(seen + 1.0);
            (ways + failures * p.ln() + seen * (-p).ln_1p()).exp()
        }
        SkewedDistribution::Lognormal => {
            let square = (variance / (mean * mean)).ln_1p();
            let deviation = square.sqrt();
            let z = (at.ln() - (mean.ln() - 0.5 * square)) / deviation;
            super::special::normal_density(z) / (at * deviation)
        }
        SkewedDistribution::Normal => {
            let deviation = variance.sqrt();
            super::special::normal_density((at - mean) / deviation) / deviation
        }
    };
    found.is_finite().then_some(found)
}

/// Both tails as floats; none where they cannot be computed.
pub(super) fn float_tails(
    distribution: SkewedDistribution,
    mean: f64,
    variance: f64,
    at: f64,
) -> Option<(f64, f64)> {
    match distribution {
        SkewedDistribution::Gamma => gamma_tails(mean, variance, at).ok(),
        SkewedDistribution::NegativeBinomial => (variance > mean)
            .then(|| binomial_tails(mean, variance, at).ok())
            .flatten(),
        SkewedDistribution::Lognormal => Some(lognormal_tails(mean, variance, at)),
        SkewedDistribution::Normal => {
            let z = (at - mean) / variance.sqrt();
            Some((normal_below(z), normal_above(z)))
        }
    }
}
