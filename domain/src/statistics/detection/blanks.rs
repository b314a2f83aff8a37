//! Limits from replicates of blanks, pseudo-blanks and low-level samples.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, floats, number, positive, probability, size};
use super::super::error::{Answer, StatisticsError, as_long, at_least};
use super::super::special;
use super::super::summary;

/// Standard deviation of pseudo-blank signals, or the signals themselves.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum BlankScatter {
    /// The standard deviation.
    StandardDeviation(Number),
    /// Two values or more that it is computed from.
    Values(Vec<Number>),
}

impl BlankScatter {
    fn deviation(&self, quantity: &str) -> Answer<(f64, Option<usize>)> {
        match self {
            Self::StandardDeviation(s) => Ok((positive(quantity, *s)?, None)),
            Self::Values(values) => {
                at_least(quantity, values.len(), 2)?;
                let s = summary::deviation(&floats(values));
                if s <= 0.0 {
                    return Err(StatisticsError::flat(quantity));
                }
                Ok((s, Some(values.len())))
            }
        }
    }
}

/// Pseudo-blanks near the expected limit of detection.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PseudoBlankInput {
    /// Scatter of the signals.
    pub signals: BlankScatter,
    /// Signal for one unit of concentration; falling for a competitive strip.
    pub slope: Number,
    /// What the ratio is multiplied with: 3.9, for paired observations, unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub detection_factor: Option<Number>,
    /// Quantification limit over detection limit: 3.3 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantification_ratio: Option<Number>,
}

/// Limits of detection and quantification.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct DetectionLimits {
    /// The standard deviation that they come from, in the unit it was given in.
    pub standard_deviation: Number,
    /// Limit of detection.
    pub lod: Number,
    /// Limit of quantification.
    pub loq: Number,
}

/// Limits from pseudo-blanks: Wenzl et al., EUR 28099 EN (2016); the absolute slope is used, so
/// that a falling response serves.
///
/// # Errors
/// [`StatisticsError::Pole`] for a slope of zero; [`StatisticsError::TooFew`] and
/// [`StatisticsError::ZeroVariance`] of signals; [`StatisticsError::OutOfRange`].
///
/// ```
/// use domain::statistics::detection::{PseudoBlankInput, pseudo_blank_limits};
/// let with = |slope: &str| serde_json::from_str::<PseudoBlankInput>(&format!(
///     r#"{{"signals":{{"standard-deviation":"0.012"}},"slope":"{slope}"}}"#));
/// assert_eq!(pseudo_blank_limits(&with("-0.1")?).unwrap().lod.to_string(), "0.468");
/// assert!(pseudo_blank_limits(&with("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn pseudo_blank_limits(input: &PseudoBlankInput) -> Answer<DetectionLimits> {
    let (s, _) = input.signals.deviation("pseudo-blank signals")?;
    let slope = float(input.slope).abs();
    if slope <= 0.0 {
        return Err(StatisticsError::pole("LOD", "the slope is zero"));
    }
    let factor = input
        .detection_factor
        .map_or(Ok(3.9), |factor| positive("detection factor", factor))?;
    let ratio = input
        .quantification_ratio
        .map_or(Ok(3.3), |ratio| positive("quantification ratio", ratio))?;
    let lod = factor * s / slope;
    Ok(DetectionLimits {
        standard_deviation: number("standard deviation", s)?,
        lod: number("LOD", lod)?,
        loq: number("LOQ", ratio * lod)?,
    })
}

/// Replicate blanks or low-level samples, in concentration units, of the whole procedure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReplicateBlankInput {
    /// Their scatter.
    pub scatter: BlankScatter,
    /// Replicates averaged when a result is reported.
    pub replicates: usize,
    /// Blank replicates averaged for the correction; absent where results are not corrected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blank_replicates: Option<usize>,
    /// What s0' is multiplied with for detection; 3 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub detection_factor: Option<Number>,
    /// What s0' is multiplied with for quantification; 10 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantification_factor: Option<Number>,
}

/// Limits from replicates: EURACHEM, The Fitness for Purpose of Analytical Methods (2nd ed.
/// 2014), 6.2; `standard_deviation` is its s0'.
///
/// # Errors
/// [`StatisticsError::TooFew`] and [`StatisticsError::ZeroVariance`] of replicates;
/// [`StatisticsError::OutOfRange`].
///
/// ```
/// use domain::statistics::detection::{ReplicateBlankInput, replicate_limits};
/// let with = |blanks: &str| serde_json::from_str::<ReplicateBlankInput>(&format!(
///     r#"{{"scatter":{{"standard-deviation":"0.3"}},"replicates":2,"blank_replicates":{blanks}}}"#));
/// assert_eq!(replicate_limits(&with("2")?).unwrap().lod.to_string(), "0.9");
/// assert!(replicate_limits(&with("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn replicate_limits(input: &ReplicateBlankInput) -> Answer<DetectionLimits> {
    let (s, _) = input.scatter.deviation("blank results")?;
    at_least("replicates", input.replicates, 1)?;
    let blank = match input.blank_replicates {
        None => 0.0,
        Some(count) => {
            at_least("blank replicates", count, 1)?;
            1.0 / size(count)
        }
    };
    let factor = |given: Option<Number>, usual: f64, name: &str| {
        given.map_or(Ok(usual), |factor| positive(name, factor))
    };
    let corrected = s * (1.0 / size(input.replicates) + blank).sqrt();
    let detection = factor(input.detection_factor, 3.0, "detection factor")?;
    let quantification = factor(input.quantification_factor, 10.0, "quantification factor")?;
    Ok(DetectionLimits {
        standard_deviation: number("s0'", corrected)?,
        lod: number("LOD", detection * corrected)?,
        loq: number("LOQ", quantification * corrected)?,
    })
}

/// Replicates of a spiked or low-level sample.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct MethodDetectionInput {
    /// Their scatter.
    pub scatter: BlankScatter,
    /// How many there are, where the standard deviation is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replicates: Option<usize>,
    /// Confidence; 0.99 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
}

/// A method detection limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct MethodDetectionLimit {
    /// Standard deviation of the replicates.
    pub standard_deviation: Number,
    /// One-sided quantile of Student's t.
    pub t: Number,
    /// Their product.
    pub limit: Number,
}

/// The method detection limit: 40 CFR 136, appendix B.
///
/// # Errors
/// [`StatisticsError::TooFew`] below two replicates, or where their number is not stated;
/// [`StatisticsError::UnequalLengths`] where it is stated otherwise than there are values;
/// [`StatisticsError::OutOfRange`].
///
/// ```
/// use domain::statistics::detection::{MethodDetectionInput, method_detection_limit};
/// let with = |n: usize| serde_json::from_str::<MethodDetectionInput>(&format!(
///     r#"{{"scatter":{{"standard-deviation":"1"}},"replicates":{n}}}"#));
/// let seven = method_detection_limit(&with(7)?).unwrap();
/// assert_eq!(seven.limit.0.round_dp(3).to_string(), "3.143");
/// assert!(method_detection_limit(&with(1)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn method_detection_limit(input: &MethodDetectionInput) -> Answer<MethodDetectionLimit> {
    let (s, counted) = input.scatter.deviation("replicate results")?;
    if let (Some(stated), Some(counted)) = (input.replicates, counted) {
        as_long("replicate results", counted, stated)?;
    }
    let replicates = counted.or(input.replicates).unwrap_or(0);
    at_least("replicates", replicates, 2)?;
    let confidence = input
        .confidence
        .map_or(Ok(0.99), |given| probability("confidence", given))?;
    let t = special::student_quantile(confidence, size(replicates) - 1.0)?;
    Ok(MethodDetectionLimit {
        standard_deviation: number("standard deviation", s)?,
        t: number("t", t)?,
        limit: number("method detection limit", t * s)?,
    })
}
