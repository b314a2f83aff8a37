//! Limits that follow from the standard deviations of a method: r, R, critical ranges and
//! differences.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;
use crate::results::critical_range_factor;

use super::super::door::{float, not_negative, number, positive, size};
use super::super::error::{Answer, StatisticsError, as_long, at_least};
use super::super::special;

/// Standard deviations of a method, one a level.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PrecisionLimitsInput {
    /// Means of the levels.
    pub means: Vec<Number>,
    /// Standard deviations of repeatability.
    pub s_r: Vec<Number>,
    /// Standard deviations of reproducibility.
    pub s_reproducibility: Vec<Number>,
    /// 2.8 unless another is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_factor: Option<Number>,
}

/// Limits and coefficients of variation of one level.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PrecisionLimits {
    /// Limit of repeatability.
    pub r: Number,
    /// Limit of reproducibility.
    pub reproducibility_limit: Number,
    /// Standard deviation of repeatability, percent of the mean.
    pub cv_r_percent: Number,
    /// Standard deviation of reproducibility, percent of the mean.
    pub cv_reproducibility_percent: Number,
}

fn factor_of(given: Option<Number>) -> Answer<f64> {
    given.map_or(Ok(2.8), |factor| positive("limit factor", factor))
}

/// r and R, 2.8 times the standard deviations (ISO 5725-6:1994, 4.1.4), and the coefficients of
/// variation.
///
/// # Errors
/// [`StatisticsError::UnequalLengths`]; [`StatisticsError::OutOfRange`] for a negative standard
/// deviation; [`StatisticsError::Pole`] for the coefficients at a mean of 0.
///
/// ```
/// use domain::statistics::precision::{PrecisionLimitsInput, precision_limits};
/// let input = |mean: &str| serde_json::from_str::<PrecisionLimitsInput>(&format!(
///     r#"{{"means":["{mean}"],"s_r":["0.021"],"s_reproducibility":["0.057"]}}"#));
/// assert_eq!(precision_limits(&input("0.539")?).unwrap()[0].r.to_string(), "0.0588");
/// assert!(precision_limits(&input("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn precision_limits(input: &PrecisionLimitsInput) -> Answer<Vec<PrecisionLimits>> {
    at_least("means", input.means.len(), 1)?;
    as_long("s_r", input.s_r.len(), input.means.len())?;
    as_long("s_R", input.s_reproducibility.len(), input.means.len())?;
    let factor = factor_of(input.limit_factor)?;
    let rows = input.means.iter().zip(&input.s_r);
    rows.zip(&input.s_reproducibility)
        .map(|((mean, s_r), s_reproducibility)| {
            let (small, large) = (
                not_negative("s_r", *s_r)?,
                not_negative("s_R", *s_reproducibility)?,
            );
            let mean = float(*mean).abs();
            if mean <= 0.0 {
                let why = "the mean is 0";
                return Err(StatisticsError::pole("coefficient of variation", why));
            }
            Ok(PrecisionLimits {
                r: number("r", factor * small)?,
                reproducibility_limit: number("R", factor * large)?,
                cv_r_percent: number("C_r", 100.0 * small / mean)?,
                cv_reproducibility_percent: number("C_R", 100.0 * large / mean)?,
            })
        })
        .collect()
}

/// How many determinations the range is of.
///
/// ```
/// use domain::statistics::precision::{CriticalRangeInput, critical_range_of};
/// let four = critical_range_of(&CriticalRangeInput { determinations: 4 }).unwrap();
/// assert_eq!(four.factor.unwrap().to_string(), "3.6");
/// assert!(critical_range_of(&CriticalRangeInput { determinations: 1 }).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CriticalRangeInput {
    /// Determinations, 2 to 1,000.
    pub determinations: usize,
}

/// The critical range of so many determinations: [`critical_range`].
///
/// # Errors
/// As that.
pub fn critical_range_of(input: &CriticalRangeInput) -> Answer<CriticalRange> {
    critical_range(input.determinations)
}

/// The critical range of some determinations.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CriticalRange {
    /// f(n), to one decimal, of ISO 5725-6:1994, table 1; absent beyond its 20 determinations.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factor: Option<Number>,
    /// The 95 % quantile of the range of n standard normal values, which the factor rounds.
    pub quantile: Number,
}

/// f(n) of ISO 5725-6 and the quantile behind it.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] unless there are 2 to 1,000 determinations.
///
/// ```
/// use domain::statistics::precision::critical_range;
/// let four = critical_range(4).unwrap();
/// assert_eq!(four.factor.unwrap().to_string(), "3.6");
/// assert_eq!(four.quantile.0.round_dp(4).to_string(), "3.6332");
/// assert!(critical_range(1).is_err());
/// ```
pub fn critical_range(determinations: usize) -> Answer<CriticalRange> {
    let most = super::super::distributions::MOST_OF_A_RANGE;
    if !(2..=most).contains(&determinations) {
        let must = format!("2 to {most}");
        return Err(StatisticsError::out_of_range(
            "determinations",
            determinations,
            must,
        ));
    }
    Ok(CriticalRange {
        factor: critical_range_factor(determinations).map(Number),
        quantile: number(
            "quantile of the range",
            special::range_quantile(0.95, determinations)?,
        )?,
    })
}

/// Two means that are compared.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CriticalDifference {
    /// Standard deviation of repeatability.
    pub sigma_r: Number,
    /// Standard deviation of reproducibility.
    pub sigma_reproducibility: Number,
    /// Determinations behind the first mean.
    pub first: usize,
    /// Determinations behind the second.
    pub second: usize,
    /// 2.8 unless another is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_factor: Option<Number>,
}

/// How far two means may be apart at 95 %.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CriticalDifferences {
    /// Both of one laboratory.
    pub within_one_laboratory: Number,
    /// Of two laboratories.
    pub between_two_laboratories: Number,
}

/// Critical differences of two means: ISO 5725-6:1994, 4.2.1 and 4.2.2.
///
/// # Errors
/// [`StatisticsError::TooFew`] where a mean has no determination; [`StatisticsError::OutOfRange`]
/// for a negative standard deviation, or for reproducibility below repeatability.
///
/// ```
/// use domain::statistics::precision::{CriticalDifference, critical_differences};
/// let input = |large: &str| serde_json::from_str::<CriticalDifference>(&format!(
///     r#"{{"sigma_r":"1","sigma_reproducibility":"{large}","first":1,"second":1}}"#));
/// let single = critical_differences(&input("2")?).unwrap();
/// assert_eq!(single.within_one_laboratory.to_string(), "2.8");
/// assert_eq!(single.between_two_laboratories.to_string(), "5.6");
/// assert!(critical_differences(&input("0.5")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn critical_differences(input: &CriticalDifference) -> Answer<CriticalDifferences> {
    at_least("determinations of the first mean", input.first, 1)?;
    at_least("determinations of the second mean", input.second, 1)?;
    let factor = factor_of(input.limit_factor)?;
    let small = not_negative("sigma_r", input.sigma_r)?;
    let large = not_negative("sigma_R", input.sigma_reproducibility)?;
    if large < small {
        let must = "at least sigma_r, which it includes";
        return Err(StatisticsError::out_of_range(
            "sigma_R",
            input.sigma_reproducibility,
            must,
        ));
    }
    let shares = 0.5 / size(input.first) + 0.5 / size(input.second);
    let (r, reproducibility) = (factor * small, factor * large);
    let between = (reproducibility.powi(2) - r.powi(2) * (1.0 - shares)).sqrt();
    Ok(CriticalDifferences {
        within_one_laboratory: number("critical difference", r * shares.sqrt())?,
        between_two_laboratories: number("critical difference", between)?,
    })
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn every_factor_of_the_table_is_its_quantile_to_one_decimal() {
        for n in 2..=20 {
            let range = critical_range(n).unwrap();
            let rounded = range.quantile.0.round_dp(1);
            // ISO 5725-6:1994, table 1, from memory; quantiles computed here.
            assert_eq!(
                range.factor.unwrap().0,
                rounded,
                "n = {n}: {}",
                range.quantile
            );
        }
    }
}
