//! Lower, middle and upper bound by substitution: EFSA Journal 8 (2010) 1557.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, number, size};
use super::super::error::{Answer, StatisticsError, at_least};
use super::super::summary;
use super::value::CensoredValue;

/// What stands for a result that is detected and not quantified.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum BoundConvention {
    /// The same as for one not detected: 0, half the upper limit, the upper limit.
    #[default]
    FromZero,
    /// The limit of detection below, that of quantification above, their mean in the middle.
    FromDetection,
}

/// Results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BoundsInput {
    /// In one unit.
    pub values: Vec<CensoredValue>,
    /// What stands for a result between two limits.
    #[serde(default)]
    pub convention: BoundConvention,
}

/// One bound.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Bound {
    /// Mean.
    pub mean: Number,
    /// Median.
    pub median: Number,
    /// Standard deviation, n - 1; absent for one result.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard_deviation: Option<Number>,
}

/// The bounds of a set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SubstitutionBounds {
    /// Results.
    pub results: usize,
    /// Those below a limit.
    pub censored: usize,
    /// Their share in percent.
    pub censored_percent: Number,
    /// Zero for what is below.
    pub lower: Bound,
    /// Half the limit.
    pub middle: Bound,
    /// The limit.
    pub upper: Bound,
}

/// Lower, middle and upper bound of a set: 0, half the limit, and the limit stand for what is
/// below it (EFSA Journal 8 (2010) 1557).
///
/// # Errors
/// [`StatisticsError::TooFew`] without a result; [`StatisticsError::OutOfRange`] for a negative
/// result or limit, or limits in the wrong order.
///
/// ```
/// use domain::statistics::censored::{BoundsInput, substitution_bounds};
/// let set = |list: &str| serde_json::from_str::<BoundsInput>(&format!(r#"{{"values":{list}}}"#));
/// let bounds = substitution_bounds(&set(r#"["<2","3"]"#)?).unwrap();
/// assert_eq!((bounds.lower.mean.to_string().as_str(), bounds.upper.mean.to_string().as_str()),
///     ("1.5", "2.5"));
/// assert!(substitution_bounds(&set("[]")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn substitution_bounds(input: &BoundsInput) -> Answer<SubstitutionBounds> {
    let count = input.values.len();
    at_least("values", count, 1)?;
    let mut all = [Vec::new(), Vec::new(), Vec::new()];
    let mut censored = 0_usize;
    for value in &input.values {
        let (low, high) = ends(value, input.convention)?;
        censored = censored.saturating_add(usize::from(!matches!(value, CensoredValue::Known(_))));
        let [lower, middle, upper] = &mut all;
        lower.push(low);
        middle.push(0.5 * (low + high));
        upper.push(high);
    }
    let [lower, middle, upper] = all;
    Ok(SubstitutionBounds {
        results: count,
        censored,
        censored_percent: number("share", 100.0 * size(censored) / size(count))?,
        lower: bound(&lower)?,
        middle: bound(&middle)?,
        upper: bound(&upper)?,
    })
}

fn ends(value: &CensoredValue, convention: BoundConvention) -> Answer<(f64, f64)> {
    let plain = |number: &Number| {
        if number.0 < Decimal::ZERO {
            return Err(StatisticsError::out_of_range("value", number, "0 or more"));
        }
        Ok(float(*number))
    };
    Ok(match value {
        CensoredValue::Known(number) => (plain(number)?, plain(number)?),
        CensoredValue::Below(limit) => (0.0, plain(limit)?),
        CensoredValue::Between(low, high) => {
            let (below, above) = (plain(low)?, plain(high)?);
            if below > above {
                let must = format!("at most {high}, the limit above it");
                return Err(StatisticsError::out_of_range(
                    "limit of detection",
                    low,
                    must,
                ));
            }
            match convention {
                BoundConvention::FromZero => (0.0, above),
                BoundConvention::FromDetection => (below, above),
            }
        }
    })
}

fn bound(values: &[f64]) -> Answer<Bound> {
    let deviation = (values.len() > 1).then(|| summary::deviation(values));
    Ok(Bound {
        mean: number("mean", summary::mean(values))?,
        median: number("median", summary::median(values))?,
        standard_deviation: deviation
            .map(|s| number("standard deviation", s))
            .transpose()?,
    })
}
