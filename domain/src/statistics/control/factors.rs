//! The factors of Shewhart charts, computed from the distribution of the range and the standard
//! deviation of normal values.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{number, size};
use super::super::error::{Answer, StatisticsError};
use super::super::special::{deviation_mean, range_moments};

/// Largest subgroup that factors are given for.
pub(super) const MOST: usize = 100;

/// Factors for subgroups of one size.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ControlFactors {
    /// Values in a subgroup.
    pub n: usize,
    /// Mean of the range of n standard normal values.
    pub d2: Number,
    /// Its standard deviation.
    pub d3: Number,
    /// Mean of their standard deviation.
    pub c4: Number,
    /// 3/(d2 root n): limits of means from the mean range.
    pub a2: Number,
    /// 3/(c4 root n): limits of means from the mean standard deviation.
    pub a3: Number,
    /// Lower limit of ranges, 1 - 3 d3/d2, not below 0.
    pub range_lower: Number,
    /// Upper limit of ranges, 1 + 3 d3/d2.
    pub range_upper: Number,
    /// Lower limit of standard deviations, not below 0.
    pub deviation_lower: Number,
    /// Upper limit of standard deviations.
    pub deviation_upper: Number,
}

/// The factors as floats: d2, d3, c4.
pub(super) fn moments(n: usize) -> Answer<(f64, f64, f64)> {
    if !(2..=MOST).contains(&n) {
        let must = format!("2 to {MOST}");
        return Err(StatisticsError::out_of_range(
            "values in a subgroup",
            n,
            must,
        ));
    }
    let (d2, d3) = range_moments(n)?;
    Ok((d2, d3, deviation_mean(n)))
}

/// Half the relative width of the limits of a standard deviation, 3 root(1 - c4²)/c4.
pub(super) fn deviation_width(c4: f64) -> f64 {
    3.0 * (1.0 - c4 * c4).sqrt() / c4
}

/// Factors of ISO 7870-2:2013 and ASTM Manual 7 (`range_lower` and `range_upper` are their D3 and
/// D4, `deviation_lower` and `deviation_upper` their B3 and B4).
///
/// # Errors
/// [`StatisticsError::OutOfRange`] unless a subgroup has 2 to 100 values.
///
/// ```
/// use domain::statistics::control::control_factors;
/// let five = control_factors(5).unwrap();
/// assert_eq!(five.d2.0.round_dp(3).to_string(), "2.326");
/// assert_eq!(five.c4.0.round_dp(4).to_string(), "0.9400");
/// assert!(control_factors(1).is_err());
/// ```
pub fn control_factors(n: usize) -> Answer<ControlFactors> {
    let (d2, d3, c4) = moments(n)?;
    let (root, width) = (size(n).sqrt(), deviation_width(c4));
    Ok(ControlFactors {
        n,
        d2: number("d2", d2)?,
        d3: number("d3", d3)?,
        c4: number("c4", c4)?,
        a2: number("A2", 3.0 / (d2 * root))?,
        a3: number("A3", 3.0 / (c4 * root))?,
        range_lower: number("D3", (1.0 - 3.0 * d3 / d2).max(0.0))?,
        range_upper: number("D4", 1.0 + 3.0 * d3 / d2)?,
        deviation_lower: number("B3", (1.0 - width).max(0.0))?,
        deviation_upper: number("B4", 1.0 + width)?,
    })
}

/// How many values a subgroup has.
///
/// ```
/// use domain::statistics::control::{ControlFactorsInput, factors_of};
/// let five = factors_of(&ControlFactorsInput { n: 5 }).unwrap();
/// assert_eq!(five.d2.0.round_dp(3).to_string(), "2.326");
/// assert!(factors_of(&ControlFactorsInput { n: 1 }).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ControlFactorsInput {
    /// Values of a subgroup, 2 to 100.
    pub n: usize,
}

/// The factors of a subgroup of so many values: [`control_factors`].
///
/// # Errors
/// As that.
pub fn factors_of(input: &ControlFactorsInput) -> Answer<ControlFactors> {
    control_factors(input.n)
}
