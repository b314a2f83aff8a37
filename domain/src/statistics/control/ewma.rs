//! The exponentially weighted moving average, which sees small lasting shifts.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, number, positive, size};
use super::super::error::{Answer, StatisticsError, at_least};

/// Which limits are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum EwmaLimits {
    /// The same at every point, those of the long run.
    #[default]
    Constant,
    /// Widening from the first point on by root(1 - (1 - lambda)^2t).
    Exact,
}

/// Values in order, and how the chart is set up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct EwmaInput {
    /// In the order they were measured.
    pub values: Vec<Number>,
    /// Where the average starts.
    pub target: Number,
    /// The weight of a new value, above 0 and at most 1.
    pub lambda: Number,
    /// Historical standard deviation of a value.
    pub s: Number,
    /// How many standard deviations of the average the limits are away; 3 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub k: Option<Number>,
    /// Constant limits unless the exact ones are asked for.
    #[serde(default)]
    pub limits: EwmaLimits,
}

/// The chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct EwmaChart {
    /// The average after each value.
    pub averages: Vec<Number>,
    /// Upper limit at each value.
    pub upper: Vec<Number>,
    /// Lower limit at each value.
    pub lower: Vec<Number>,
    /// Long-run upper limit.
    pub long_run_upper: Number,
    /// Long-run lower limit.
    pub long_run_lower: Number,
    /// Values after which the average is beyond a limit, from 1.
    pub beyond: Vec<usize>,
}

/// The chart of the weighted average: NIST/SEMATECH e-Handbook, 6.3.2.4; ISO 7870-6:2016.
///
/// # Errors
/// [`StatisticsError::TooFew`] without a value; [`StatisticsError::OutOfRange`] for the weight,
/// the standard deviation or k.
///
/// ```
/// use domain::statistics::control::{EwmaInput, ewma_chart};
/// let with = |lambda: &str| serde_json::from_str::<EwmaInput>(&format!(
///     r#"{{"values":["52","47"],"target":"50","lambda":"{lambda}","s":"2"}}"#));
/// assert_eq!(ewma_chart(&with("0.3")?).unwrap().averages[1].to_string(), "49.52");
/// assert!(ewma_chart(&with("1.2")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn ewma_chart(input: &EwmaInput) -> Answer<EwmaChart> {
    at_least("values", input.values.len(), 1)?;
    let lambda = positive("lambda", input.lambda)?;
    if lambda > 1.0 {
        let must = "above 0 and at most 1";
        return Err(StatisticsError::out_of_range("lambda", input.lambda, must));
    }
    let s = positive("s", input.s)?;
    let k = input.k.map_or(Ok(3.0), |k| positive("k", k))?;
    let target = float(input.target);
    let half = k * s * (lambda / (2.0 - lambda)).sqrt();
    let mut chart = EwmaChart {
        averages: Vec::new(),
        upper: Vec::new(),
        lower: Vec::new(),
        long_run_upper: number("upper limit", target + half)?,
        long_run_lower: number("lower limit", target - half)?,
        beyond: Vec::new(),
    };
    let mut average = target;
    for (place, value) in input.values.iter().enumerate() {
        let time = size(place.saturating_add(1));
        average = lambda * float(*value) + (1.0 - lambda) * average;
        let width = match input.limits {
            EwmaLimits::Constant => half,
            EwmaLimits::Exact => half * (1.0 - (1.0 - lambda).powf(2.0 * time)).sqrt(),
        };
        let shown = number("average", average)?;
        let (lower, upper) = (
            number("lower limit", target - width)?,
            number("upper limit", target + width)?,
        );
        if shown < lower || shown > upper {
            chart.beyond.push(place.saturating_add(1));
        }
        chart.averages.push(shown);
        chart.lower.push(lower);
        chart.upper.push(upper);
    }
    Ok(chart)
}
