//! The mean difference of two methods, with its interval and the limits of agreement.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{floats, number, size};
use super::super::error::{Answer, StatisticsError, as_long, at_least};
use super::super::lines::quantile;
use super::super::special;
use super::super::summary;

/// What a difference is measured by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum BiasKind {
    /// Test less reference, in their unit.
    #[default]
    Absolute,
    /// As percent of the reference.
    PercentOfReference,
    /// As percent of the mean of the two.
    PercentOfMean,
}

/// Paired results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BiasInput {
    /// Of the reference method.
    pub reference: Vec<Number>,
    /// Of the method looked at.
    pub test: Vec<Number>,
    /// What differences are measured by.
    #[serde(default)]
    pub kind: BiasKind,
    /// Coverage of the intervals; 0.95 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
}

/// The bias.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct MethodBias {
    /// Pairs.
    pub pairs: usize,
    /// Mean difference.
    pub bias: Number,
    /// Standard deviation of the differences.
    pub standard_deviation: Number,
    /// Standard error of the mean difference.
    pub standard_error: Number,
    /// Its interval, by Student's t.
    pub interval: [Number; 2],
    /// t of the mean difference; absent where the differences do not scatter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub t: Option<Number>,
    /// Probability of a larger |t|, were there no bias.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p_value: Option<Number>,
    /// Whether the interval leaves zero out.
    pub significant: bool,
    /// Limits of agreement, mean less and plus a normal quantile times the deviation.
    pub limits_of_agreement: [Number; 2],
}

/// Mean difference and limits of agreement: Bland and Altman, Lancet 327 (1986) 307.
///
/// # Errors
/// [`StatisticsError::TooFew`] below two pairs; [`StatisticsError::UnequalLengths`];
/// [`StatisticsError::Pole`] for a percentage of zero.
///
/// ```
/// use domain::statistics::comparison::{BiasInput, method_bias};
/// let pairs = |kind: &str| serde_json::from_str::<BiasInput>(&format!(
///     r#"{{"reference":["0","10"],"test":["1","13"],"kind":"{kind}"}}"#));
/// assert_eq!(method_bias(&pairs("absolute")?).unwrap().bias.to_string(), "2");
/// assert!(method_bias(&pairs("percent-of-reference")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn method_bias(input: &BiasInput) -> Answer<MethodBias> {
    let (reference, test) = (floats(&input.reference), floats(&input.test));
    as_long("test", test.len(), reference.len())?;
    at_least("pairs", test.len(), 2)?;
    let difference = |(reference, test): (&f64, &f64)| {
        let base = match input.kind {
            BiasKind::Absolute => return Ok(test - reference),
            BiasKind::PercentOfReference => *reference,
            BiasKind::PercentOfMean => 0.5 * (reference + test),
        };
        if base.abs() <= 0.0 {
            let why = "a pair has zero to take the percentage of";
            return Err(StatisticsError::pole("bias", why));
        }
        Ok(100.0 * (test - reference) / base)
    };
    let pairs = reference.iter().zip(&test);
    let differences = pairs.map(difference).collect::<Answer<Vec<f64>>>()?;
    let n = size(differences.len());
    let (bias, s) = (
        summary::mean(&differences),
        summary::deviation(&differences),
    );
    let error = s / n.sqrt();
    let half = quantile(input.confidence, Some(n - 1.0))? * error;
    let reach = quantile(input.confidence, None)? * s;
    let t = (error > 0.0).then(|| bias / error);
    let interval = [number("bias", bias - half)?, number("bias", bias + half)?];
    let signs = |end: &Number| end.0.is_sign_negative() && !end.0.is_zero();
    let [low, high] = &interval;
    Ok(MethodBias {
        pairs: differences.len(),
        bias: number("bias", bias)?,
        standard_deviation: number("standard deviation", s)?,
        standard_error: number("standard error", error)?,
        t: t.map(|t| number("t", t)).transpose()?,
        p_value: t
            .map(|t| number("p-value", 2.0 * special::student_above(t.abs(), n - 1.0)?))
            .transpose()?,
        significant: signs(high) || (!signs(low) && !low.0.is_zero()),
        interval,
        limits_of_agreement: [
            number("limit of agreement", bias - reach)?,
            number("limit of agreement", bias + reach)?,
        ],
    })
}
