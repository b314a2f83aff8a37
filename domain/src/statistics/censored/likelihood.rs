//! Maximum likelihood of a lognormal distribution for left-censored results.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::number;
use super::super::error::{Answer, StatisticsError, at_least};
use super::super::least_squares::{Residuals, solve};
use super::super::special::{normal_below, normal_density};
use super::super::summary;
use super::value::{CensoredValue, Seen, seen};

/// Results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CensoredInput {
    /// In one unit, above zero.
    pub values: Vec<CensoredValue>,
}

/// The most likely lognormal distribution.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LognormalLikelihood {
    /// Mean of natural logarithms.
    pub mean_log: Number,
    /// Standard deviation of natural logarithms.
    pub standard_deviation_log: Number,
    /// Logarithm of the likelihood, in the logarithms' scale.
    pub log_likelihood: Number,
    /// Mean, exp(mu + s²/2).
    pub mean: Number,
    /// Median, exp(mu).
    pub median: Number,
    /// Standard deviation, the mean times root(exp(s²) - 1).
    pub standard_deviation: Number,
}

/// Logarithms about their own centre and scale, so that the equations are of one size.
struct Equations {
    values: Vec<Seen>,
}

/// The ratio of the normal density to the probability below, also far out on the left.
fn hazard(u: f64) -> f64 {
    if u < -30.0 {
        // Its asymptotic expansion; the next term is beyond twelve figures here.
        let square = u * u;
        return -u / (1.0 - 1.0 / square + 3.0 / square.powi(2) - 15.0 / square.powi(3));
    }
    normal_density(u) / normal_below(u)
}

impl Equations {
    /// The two parameters that make the likelihood concave (Olsen, Econometrica 46 (1978) 1211):
    /// mu/sigma, and the logarithm of 1/sigma so that it stays above zero.
    fn parameters(at: &DVector<f64>) -> (f64, f64) {
        let value = |place: usize| at.get(place).copied().unwrap_or(f64::NAN);
        (value(0), value(1).exp())
    }
}

impl Residuals for Equations {
    fn residuals(&self, at: &DVector<f64>) -> DVector<f64> {
        let (shift, scale) = Self::parameters(at);
        let (mut by_shift, mut by_scale) = (0.0, 0.0);
        for Seen { value, below } in &self.values {
            let u = scale * value - shift;
            if *below {
                by_shift -= hazard(u);
                by_scale += hazard(u) * value;
            } else {
                by_shift += u;
                by_scale += 1.0 / scale - u * value;
            }
        }
        DVector::from_vec(vec![by_shift, by_scale])
    }

    fn jacobian(&self, at: &DVector<f64>) -> DMatrix<f64> {
        let (shift, scale) = Self::parameters(at);
        let (mut both_shift, mut mixed, mut both_scale) = (0.0, 0.0, 0.0);
        for Seen { value, below } in &self.values {
            let u = scale * value - shift;
            let weight = if *below {
                hazard(u) * (u + hazard(u))
            } else {
                1.0
            };
            both_shift -= weight;
            mixed += weight * value;
            both_scale -= weight * value * value;
            if !below {
                both_scale -= scale.powi(-2);
            }
        }
        let rows = [both_shift, mixed * scale, mixed, both_scale * scale];
        DMatrix::from_row_slice(2, 2, &rows)
    }
}

/// The most likely lognormal distribution: Cohen, Technometrics 1 (1959) 217.
///
/// # Errors
/// [`StatisticsError::TooFew`] below two results above their limit;
/// [`StatisticsError::ZeroVariance`] where those are equal, as the likelihood then has no
/// maximum; [`StatisticsError::OutOfRange`]; [`StatisticsError::NoConvergence`].
///
/// ```
/// use domain::statistics::censored::{CensoredInput, lognormal_likelihood};
/// let set = |list: &str| serde_json::from_str::<CensoredInput>(
///     &format!(r#"{{"values":{list}}}"#));
/// let said = lognormal_likelihood(&set(r#"["<2","4","8","16"]"#)?).unwrap();
/// assert!(said.median.0 < said.mean.0);
/// assert!(lognormal_likelihood(&set(r#"["<2","4","4"]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn lognormal_likelihood(input: &CensoredInput) -> Answer<LognormalLikelihood> {
    let values = seen(&input.values, true)?;
    let known = values.iter().filter(|v| !v.below).map(|v| v.value.ln());
    let known: Vec<f64> = known.collect();
    at_least("results above their limit", known.len(), 2)?;
    if summary::deviation(&known) <= 1e-12 {
        return Err(StatisticsError::flat("results above their limit"));
    }
    let logarithms: Vec<f64> = values.iter().map(|v| v.value.ln()).collect();
    let (centre, spread) = (summary::mean(&logarithms), summary::deviation(&logarithms));
    let values: Vec<Seen> = values
        .iter()
        .map(|v| Seen {
            value: (v.value.ln() - centre) / spread,
            below: v.below,
        })
        .collect();
    let equations = Equations { values };
    let found = solve("lognormal distribution", &equations, DVector::zeros(2))?;
    let (shift, scale) = Equations::parameters(&found);
    let (mean, deviation) = (centre + spread * shift / scale, spread / scale);
    let likelihood = equations.values.iter().map(|Seen { value, below }| {
        let u = scale * value - shift;
        if *below {
            normal_below(u).ln()
        } else {
            normal_density(u).ln() - deviation.ln()
        }
    });
    let likelihood: f64 = likelihood.sum();
    let natural = (mean + 0.5 * deviation.powi(2)).exp();
    let relative = deviation.powi(2).exp_m1().sqrt();
    Ok(LognormalLikelihood {
        mean_log: number("mean of logarithms", mean)?,
        standard_deviation_log: number("standard deviation of logarithms", deviation)?,
        log_likelihood: number("log-likelihood", likelihood)?,
        mean: number("mean", natural)?,
        median: number("median", mean.exp())?,
        standard_deviation: number("standard deviation", natural * relative)?,
    })
}
