//! Critical values of the tests of a study, from Student's t and the F distribution.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

#[cfg(doc)]
use super::super::StatisticsError;
use super::super::door::{number, probability, size};
use super::super::error::{Answer, at_least};
use super::super::special;

/// On how many sides an outlier is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Sides {
    /// High or low: a/2n, as ISO 5725-2.
    #[default]
    Two,
    /// On the side named beforehand: a/n, as the NIST handbook prints.
    One,
}

/// Mandel's limits of consistency between (h) and within (k) laboratories.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct MandelLimits {
    /// Of h, on either side.
    pub h: Number,
    /// Of k.
    pub k: Number,
}

/// Critical value of Cochran's test for `laboratories` variances of `replicates` results each:
/// 1/(1 + (p - 1)/F), F the upper a/p quantile (t'Lam, Technometrics 52 (2010) 68).
///
/// # Errors
/// [`StatisticsError::TooFew`] below two of either; [`StatisticsError::OutOfRange`] for the
/// significance.
///
/// ```
/// use domain::statistics::precision::cochran_critical;
/// // ISO 5725-2:1994, table 4: 0.516 for 8 laboratories of 3.
/// let critical = cochran_critical("0.05".parse().unwrap(), 8, 3).unwrap();
/// assert!(critical.to_string().starts_with("0.51"));
/// assert!(cochran_critical("0.05".parse().unwrap(), 8, 1).is_err());
/// ```
pub fn cochran_critical(
    significance: Number,
    laboratories: usize,
    replicates: usize,
) -> Answer<Number> {
    let a = probability("significance", significance)?;
    number(
        "critical value of Cochran's test",
        cochran_limit(a, laboratories, replicates)?,
    )
}

pub(super) fn cochran_limit(a: f64, laboratories: usize, replicates: usize) -> Answer<f64> {
    at_least("laboratories", laboratories, 2)?;
    at_least("replicates", replicates, 2)?;
    let (p, n) = (size(laboratories), size(replicates));
    let f = special::fisher_quantile(1.0 - a / p, (n - 1.0, (p - 1.0) * (n - 1.0)))?;
    Ok(1.0 / (1.0 + (p - 1.0) / f))
}

/// Critical value of Grubbs' test of one value among `values`: Grubbs, Annals of Mathematical
/// Statistics 21 (1950) 27, by Student's t with n - 2 degrees of freedom.
///
/// # Errors
/// [`StatisticsError::TooFew`] below three; [`StatisticsError::OutOfRange`] for the significance.
///
/// ```
/// use domain::statistics::precision::{Sides, grubbs_critical};
/// // ISO 5725-2:1994, table 5, and the NIST handbook: eight values.
/// let five_percent = "0.05".parse().unwrap();
/// let iso = grubbs_critical(five_percent, 8, Sides::Two).unwrap();
/// let nist = grubbs_critical(five_percent, 8, Sides::One).unwrap();
/// assert_eq!(iso.0.round_dp(2).to_string(), "2.13");
/// assert_eq!(nist.0.round_dp(3).to_string(), "2.032");
/// assert!(grubbs_critical(five_percent, 2, Sides::Two).is_err());
/// ```
pub fn grubbs_critical(significance: Number, values: usize, sides: Sides) -> Answer<Number> {
    let a = probability("significance", significance)?;
    number(
        "critical value of Grubbs' test",
        grubbs_limit(a, values, sides)?,
    )
}

pub(super) fn grubbs_limit(a: f64, values: usize, sides: Sides) -> Answer<f64> {
    at_least("values", values, 3)?;
    let n = size(values);
    let tests = match sides {
        Sides::Two => 2.0 * n,
        Sides::One => n,
    };
    let t = special::student_quantile(1.0 - a / tests, n - 2.0)?;
    Ok((n - 1.0) / n.sqrt() * (t * t / (n - 2.0 + t * t)).sqrt())
}

/// Mandel's limits for `laboratories` of `replicates` results each: ASTM E691, ISO 5725-2, 7.3.1.
///
/// # Errors
/// [`StatisticsError::TooFew`] below three laboratories or two replicates;
/// [`StatisticsError::OutOfRange`] for the significance.
///
/// ```
/// use domain::statistics::precision::mandel_critical;
/// // ASTM E691 at 0.5 %: h 2.15, k 2.06 for 8 laboratories of 3.
/// let limits = mandel_critical("0.005".parse().unwrap(), 8, 3).unwrap();
/// assert_eq!(limits.k.0.round_dp(2).to_string(), "2.06");
/// assert!(mandel_critical("0.005".parse().unwrap(), 2, 3).is_err());
/// ```
pub fn mandel_critical(
    significance: Number,
    laboratories: usize,
    replicates: usize,
) -> Answer<MandelLimits> {
    at_least("laboratories", laboratories, 3)?;
    at_least("replicates", replicates, 2)?;
    let a = probability("significance", significance)?;
    let (p, n) = (size(laboratories), size(replicates));
    let t = special::student_quantile(1.0 - a / 2.0, p - 2.0)?;
    let f = special::fisher_quantile(1.0 - a, (n - 1.0, (p - 1.0) * (n - 1.0)))?;
    Ok(MandelLimits {
        h: number("h", (p - 1.0) * t / (p * (t * t + p - 2.0)).sqrt())?,
        k: number("k", (p / (1.0 + (p - 1.0) / f)).sqrt())?,
    })
}

/// A test for outliers, and of how many values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "test", rename_all = "kebab-case", deny_unknown_fields)]
pub enum OutlierTest {
    /// Cochran's: is one laboratory's scatter too large?
    Cochran {
        /// Laboratories, 2 or more.
        laboratories: usize,
        /// Results of each, 2 or more.
        replicates: usize,
    },
    /// Grubbs': is one value too far from the others?
    Grubbs {
        /// Values, 3 or more.
        values: usize,
        /// On which sides an outlier is looked for.
        #[serde(default)]
        sides: Sides,
    },
}

/// A test for outliers and its significance.
///
/// ```
/// use domain::statistics::precision::{OutlierCriticalInput, outlier_critical};
/// let asked: OutlierCriticalInput = serde_json::from_str(
///     r#"{"of":{"test":"cochran","laboratories":8,"replicates":3},"significance":"0.05"}"#)?;
/// // ISO 5725-2:1994, table 4: 0.516.
/// assert!(outlier_critical(&asked).unwrap().critical.to_string().starts_with("0.51"));
/// let sure = OutlierCriticalInput { significance: "0".parse().unwrap(), ..asked };
/// assert_eq!(outlier_critical(&sure).unwrap_err().quantity(), "significance");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct OutlierCriticalInput {
    /// The test.
    pub of: OutlierTest,
    /// Chance of calling an outlier what is none, above 0 and below 1.
    pub significance: Number,
}

/// From which value of its statistic on a test calls an outlier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct OutlierCritical {
    /// The critical value.
    pub critical: Number,
}

/// The critical value of a test for outliers: [`cochran_critical`], [`grubbs_critical`].
///
/// # Errors
/// As those.
pub fn outlier_critical(input: &OutlierCriticalInput) -> Answer<OutlierCritical> {
    let critical = match input.of {
        OutlierTest::Cochran {
            laboratories,
            replicates,
        } => cochran_critical(input.significance, laboratories, replicates)?,
        OutlierTest::Grubbs { values, sides } => {
            grubbs_critical(input.significance, values, sides)?
        }
    };
    Ok(OutlierCritical { critical })
}

/// A study whose laboratories are compared by Mandel's h and k.
///
/// ```
/// use domain::statistics::precision::{MandelInput, mandel_limits};
/// let asked: MandelInput = serde_json::from_str(
///     r#"{"significance":"0.005","laboratories":8,"replicates":3}"#)?;
/// assert_eq!(mandel_limits(&asked).unwrap().k.0.round_dp(2).to_string(), "2.06");
/// assert!(mandel_limits(&MandelInput { laboratories: 2, ..asked }).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct MandelInput {
    /// Chance of a laboratory beyond the limit that is like the others, above 0 and below 1.
    pub significance: Number,
    /// Laboratories, 3 or more.
    pub laboratories: usize,
    /// Results of each, 2 or more.
    pub replicates: usize,
}

/// Mandel's limits of a study: [`mandel_critical`].
///
/// # Errors
/// As that.
pub fn mandel_limits(input: &MandelInput) -> Answer<MandelLimits> {
    mandel_critical(input.significance, input.laboratories, input.replicates)
}
