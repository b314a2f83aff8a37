//! Robust mean and standard deviation, which gross outliers do not carry away.
//!
//! Promises Algorithm A of ISO 13528 run until it stands still; refuses fewer than three values,
//! values without scatter, and an iteration in which the scatter falls to zero.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{floats, not_negative, number, size};
use super::error::{Answer, StatisticsError, at_least};
use super::special::{normal_below, normal_density, normal_quantile};
use super::summary::{self, QuantileRule};

/// Which constants scale the median deviation and the clipped standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RobustConstants {
    /// 1.4826… and 1.13339…, computed.
    #[default]
    Exact,
    /// 1.483 and 1.134, as ISO 13528 prints them.
    Iso,
}

/// How quartiles are interpolated (Hyndman and Fan, American Statistician 50 (1996) 361).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum QuartileRule {
    /// Type 7: position 1 + (n - 1) p.
    #[default]
    Linear,
    /// Type 6: position (n + 1) p.
    Weibull,
    /// Type 8: position (n + 1/3) p + 1/3.
    MedianUnbiased,
}

/// Results of many, some of them perhaps wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RobustInput {
    /// In one unit, three or more.
    pub values: Vec<Number>,
    /// Exact constants unless the printed ones are asked for.
    #[serde(default)]
    pub constants: RobustConstants,
    /// How quartiles are interpolated.
    #[serde(default)]
    pub quartiles: QuartileRule,
}

/// Location and scale of the values, robust and classical.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RobustFigures {
    /// How many values.
    pub values: usize,
    /// Robust mean of Algorithm A.
    pub robust_mean: Number,
    /// Robust standard deviation of Algorithm A.
    pub robust_standard_deviation: Number,
    /// Robust mean less 1.5 robust standard deviations: values below were drawn in to it.
    pub lower_clip: Number,
    /// Robust mean plus 1.5 robust standard deviations.
    pub upper_clip: Number,
    /// How many values were drawn in.
    pub clipped: usize,
    /// Steps until the figures stood still.
    pub iterations: usize,
    /// Standard uncertainty of the robust mean, 1.25 s*/root p (ISO 13528:2015, 7.7.3).
    pub u_robust_mean: Number,
    /// The middle value.
    pub median: Number,
    /// Scaled median of the distances from the median.
    pub scaled_mad: Number,
    /// First quartile.
    pub lower_quartile: Number,
    /// Third quartile.
    pub upper_quartile: Number,
    /// Normalised interquartile range.
    pub normalised_iqr: Number,
    /// Arithmetic mean of all values.
    pub arithmetic_mean: Number,
    /// Standard deviation of all values, n - 1.
    pub standard_deviation: Number,
}

/// Scale figures to be normalised, and the uncertainty of an assigned value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RobustScalesInput {
    /// Interquartile range.
    pub iqr: Number,
    /// Median absolute distance from the median, unscaled.
    pub mad: Number,
    /// Robust standard deviation.
    pub robust_standard_deviation: Number,
    /// Participants.
    pub participants: usize,
}

/// The same, normalised.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RobustScales {
    /// 1/z(0.75), exact.
    pub mad_constant: Number,
    /// 1/(2 z(0.75)), exact.
    pub niqr_constant: Number,
    /// 1.483 times the median distance, the constant that ISO 13528 prints.
    pub scaled_mad: Number,
    /// 0.7413 times the interquartile range, likewise.
    pub normalised_iqr: Number,
    /// Standard uncertainty of a robust mean.
    pub u_assigned: Number,
}

/// The constants of the clipped standard deviation and of the median distance.
fn constants(of: RobustConstants) -> (f64, f64) {
    match of {
        RobustConstants::Iso => (1.134, 1.483),
        RobustConstants::Exact => {
            // The variance of a standard normal value drawn in to -1.5 and 1.5.
            let inside = 2.0 * normal_below(1.5) - 1.0;
            let drawn_in = inside - 3.0 * normal_density(1.5) + 2.25 * (1.0 - inside);
            (drawn_in.sqrt().recip(), normal_quantile(0.75).recip())
        }
    }
}

struct Settled {
    mean: f64,
    deviation: f64,
    iterations: usize,
}

/// Algorithm A: ISO 13528:2015, C.3.1, after Huber's proposal 2.
fn algorithm_a(values: &[f64], (mean, deviation): (f64, f64), scale: f64) -> Answer<Settled> {
    let name = "robust standard deviation";
    let (mut mean, mut deviation) = (mean, deviation);
    for iterations in 1..=20_000 {
        let (low, high) = (mean - 1.5 * deviation, mean + 1.5 * deviation);
        let drawn: Vec<f64> = values.iter().map(|x| x.clamp(low, high)).collect();
        let (next_mean, next) = (summary::mean(&drawn), scale * summary::deviation(&drawn));
        if next.is_nan() || next <= 1e-12 * mean.abs().max(f64::MIN_POSITIVE) {
            let why = "it falls to zero: more than half of the values are equal";
            return Err(StatisticsError::unsettled(name, why));
        }
        let moved = (next_mean - mean).abs().max((next - deviation).abs());
        (mean, deviation) = (next_mean, next);
        if moved <= 1e-14 * deviation.max(mean.abs()) {
            return Ok(Settled {
                mean,
                deviation,
                iterations,
            });
        }
    }
    Err(StatisticsError::unsettled(name, "20,000 steps"))
}

/// Robust and classical location and scale of values.
///
/// Algorithm A starts at the median and the scaled median distance; where more than half of the
/// values are equal, so that this is 0, at the standard deviation (ISO 13528:2015, C.3.1 note).
///
/// # Errors
/// [`StatisticsError::TooFew`] below three values; [`StatisticsError::ZeroVariance`] where all
/// are equal; [`StatisticsError::NoConvergence`] where the scatter falls to zero on the way.
///
/// ```
/// use domain::statistics::robust::{RobustInput, robust_figures};
/// let values = |list: &str| serde_json::from_str::<RobustInput>(
///     &format!(r#"{{"values":{list}}}"#));
/// let far = robust_figures(&values(r#"["9.9","10.0","10.1","10.2","9.8","90"]"#)?).unwrap();
/// assert!(far.robust_mean.0 < "10.2".parse().unwrap());
/// assert!(robust_figures(&values(r#"["1","1","1"]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn robust_figures(input: &RobustInput) -> Answer<RobustFigures> {
    let values = summary::sorted(&floats(&input.values));
    at_least("values", values.len(), 3)?;
    let deviation = summary::deviation(&values);
    if deviation <= 0.0 {
        return Err(StatisticsError::flat("values"));
    }
    let (clip_scale, mad_scale) = constants(input.constants);
    let median = summary::median(&values);
    let distances: Vec<f64> = values.iter().map(|x| (x - median).abs()).collect();
    let scaled_mad = mad_scale * summary::median(&distances);
    let start = if scaled_mad > 0.0 {
        scaled_mad
    } else {
        deviation
    };
    let settled = algorithm_a(&values, (median, start), clip_scale)?;
    let (low, high) = (
        settled.mean - 1.5 * settled.deviation,
        settled.mean + 1.5 * settled.deviation,
    );
    let rule = match input.quartiles {
        QuartileRule::Linear => QuantileRule::Linear,
        QuartileRule::Weibull => QuantileRule::Weibull,
        QuartileRule::MedianUnbiased => QuantileRule::MedianUnbiased,
    };
    let (first, third) = (
        summary::quantile(&values, 0.25, rule),
        summary::quantile(&values, 0.75, rule),
    );
    let count = size(values.len());
    Ok(RobustFigures {
        values: values.len(),
        robust_mean: number("robust mean", settled.mean)?,
        robust_standard_deviation: number("robust standard deviation", settled.deviation)?,
        lower_clip: number("lower clip", low)?,
        upper_clip: number("upper clip", high)?,
        clipped: values.iter().filter(|x| **x < low || **x > high).count(),
        iterations: settled.iterations,
        u_robust_mean: number("u(robust mean)", 1.25 * settled.deviation / count.sqrt())?,
        median: number("median", median)?,
        scaled_mad: number("scaled median distance", scaled_mad)?,
        lower_quartile: number("lower quartile", first)?,
        upper_quartile: number("upper quartile", third)?,
        normalised_iqr: number("normalised range", 0.5 * mad_scale * (third - first))?,
        arithmetic_mean: number("mean", summary::mean(&values))?,
        standard_deviation: number("standard deviation", deviation)?,
    })
}

/// Normalised scales and the uncertainty of an assigned value: ISO 13528:2015, C.2 and 7.7.3.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a negative scale, [`StatisticsError::TooFew`] without
/// participants.
///
/// ```
/// use domain::statistics::robust::{RobustScalesInput, robust_scales};
/// let input = |iqr: &str| serde_json::from_str::<RobustScalesInput>(&format!(
///     r#"{{"iqr":"{iqr}","mad":"0.7","robust_standard_deviation":"0.75","participants":25}}"#));
/// assert_eq!(robust_scales(&input("2")?).unwrap().u_assigned.to_string(), "0.1875");
/// assert!(robust_scales(&input("-2")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn robust_scales(input: &RobustScalesInput) -> Answer<RobustScales> {
    at_least("participants", input.participants, 1)?;
    let (_, exact) = constants(RobustConstants::Exact);
    let spread = not_negative("robust standard deviation", input.robust_standard_deviation)?;
    let u_assigned = 1.25 * spread / size(input.participants).sqrt();
    Ok(RobustScales {
        mad_constant: number("constant", exact)?,
        niqr_constant: number("constant", 0.5 * exact)?,
        scaled_mad: number(
            "scaled median distance",
            1.483 * not_negative("mad", input.mad)?,
        )?,
        normalised_iqr: number("normalised range", 0.7413 * not_negative("iqr", input.iqr)?)?,
        u_assigned: number("u(assigned value)", u_assigned)?,
    })
}
