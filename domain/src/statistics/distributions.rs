//! Probabilities and quantiles of the distributions that measurement uses.
//!
//! Promises both tails of a value, or the value of a probability; refuses degrees of freedom of
//! zero, probabilities of 0 and 1, whose value is infinite, and more than
//! [`MOST_DEGREES_OF_FREEDOM`] degrees of freedom, beyond which the normal distribution is meant.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{float, number, positive, probability};
use super::error::{Answer, StatisticsError};
use super::special;

/// Beyond this many, Student's distribution is the normal one to six figures.
pub const MOST_DEGREES_OF_FREEDOM: u32 = 1_000_000;

/// Most normal values whose range is asked for.
pub const MOST_OF_A_RANGE: usize = 1_000;

/// Which distribution.
///
/// ```
/// use domain::statistics::distributions::Distribution;
/// let student: Distribution =
///     serde_json::from_str(r#"{"distribution":"student-t","degrees_of_freedom":"9"}"#)?;
/// assert!(matches!(student, Distribution::StudentT { .. }));
/// let odd = r#"{"distribution":"student-t","degrees_of_freedom":"9","k":"2"}"#;
/// assert!(serde_json::from_str::<Distribution>(odd).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "distribution", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Distribution {
    /// The standard normal distribution.
    Normal {},
    /// Student's t.
    StudentT {
        /// Above 0; need not be whole.
        degrees_of_freedom: Number,
    },
    /// The F distribution, of the ratio of two variances.
    FisherF {
        /// Of the variance above the line.
        numerator_degrees_of_freedom: Number,
        /// Of the variance below it.
        denominator_degrees_of_freedom: Number,
    },
    /// Chi-squared.
    ChiSquared {
        /// Above 0.
        degrees_of_freedom: Number,
    },
    /// Non-central t.
    NoncentralT {
        /// Above 0.
        degrees_of_freedom: Number,
        /// The shift of the numerator, in its standard deviations.
        noncentrality: Number,
    },
    /// The range, largest less smallest, of normal values in units of their standard deviation.
    RangeOfNormal {
        /// How many values, 2 or more.
        values: usize,
    },
}

/// What of it is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum DistributionAsked {
    /// How likely values below and above this one are.
    Value(Number),
    /// The value with this probability below it.
    Probability(Number),
}

/// A distribution, and a value or a probability of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DistributionQuestion {
    /// Which distribution.
    pub of: Distribution,
    /// The value or the probability.
    pub at: DistributionAsked,
}

/// A value and how likely values on either side of it are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct DistributionAnswer {
    /// The value.
    pub value: Number,
    /// Probability of a value up to it.
    pub below: Number,
    /// Probability of a value above it.
    pub above: Number,
}

enum Ready {
    Normal,
    Student(f64),
    Fisher(f64, f64),
    Chi(f64),
    Noncentral(f64, f64),
    Range(usize),
}

fn freedom(given: Number) -> Answer<f64> {
    let name = "degrees of freedom";
    let value = positive(name, given)?;
    if given.0 > Decimal::from(MOST_DEGREES_OF_FREEDOM) {
        let must = format!("at most {MOST_DEGREES_OF_FREEDOM}; beyond, the normal one serves");
        return Err(StatisticsError::out_of_range(name, given, must));
    }
    Ok(value)
}

fn ready(distribution: Distribution) -> Answer<Ready> {
    Ok(match distribution {
        Distribution::Normal {} => Ready::Normal,
        Distribution::StudentT { degrees_of_freedom } => {
            Ready::Student(freedom(degrees_of_freedom)?)
        }
        Distribution::FisherF {
            numerator_degrees_of_freedom: upper,
            denominator_degrees_of_freedom: lower,
        } => Ready::Fisher(freedom(upper)?, freedom(lower)?),
        Distribution::ChiSquared { degrees_of_freedom } => Ready::Chi(freedom(degrees_of_freedom)?),
        Distribution::NoncentralT {
            degrees_of_freedom,
            noncentrality,
        } => {
            if noncentrality.0.abs() > Decimal::ONE_THOUSAND {
                let name = "noncentrality";
                let must = "between -1000 and 1000";
                return Err(StatisticsError::out_of_range(name, noncentrality, must));
            }
            Ready::Noncentral(freedom(degrees_of_freedom)?, float(noncentrality))
        }
        Distribution::RangeOfNormal { values } => {
            if !(2..=MOST_OF_A_RANGE).contains(&values) {
                let must = format!("2 to {MOST_OF_A_RANGE}");
                return Err(StatisticsError::out_of_range("values", values, must));
            }
            Ready::Range(values)
        }
    })
}

fn tails(of: &Ready, x: f64) -> Answer<(f64, f64)> {
    let rest = |below: f64| (below, 1.0 - below);
    Ok(match of {
        Ready::Normal => (special::normal_below(x), special::normal_above(x)),
        Ready::Student(n) => (
            special::student_below(x, *n)?,
            special::student_above(x, *n)?,
        ),
        Ready::Fisher(..) | Ready::Chi(_) if x <= 0.0 => (0.0, 1.0),
        Ready::Fisher(m, n) => special::fisher(x, (*m, *n))?,
        Ready::Chi(n) => special::chi_squared(x, *n)?,
        Ready::Noncentral(n, shift) => rest(special::noncentral_below(x, *n, *shift)?),
        Ready::Range(n) => rest(special::range_below(x, *n)?),
    })
}

fn value(of: &Ready, p: f64) -> Answer<f64> {
    match of {
        Ready::Normal => Ok(special::normal_quantile(p)),
        Ready::Student(n) => special::student_quantile(p, *n),
        Ready::Fisher(m, n) => special::fisher_quantile(p, (*m, *n)),
        Ready::Chi(n) => special::chi_squared_quantile(p, *n),
        Ready::Noncentral(n, shift) => special::noncentral_quantile(p, *n, *shift),
        Ready::Range(n) => special::range_quantile(p, *n),
    }
}

/// The probabilities on both sides of a value, or the value of a probability.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for degrees of freedom and probabilities outside what the
/// distribution has; [`StatisticsError::TooLarge`] for a value that no decimal holds.
///
/// ```
/// use domain::statistics::distributions::{DistributionQuestion, distribution};
/// let ask = |text: &str| serde_json::from_str::<DistributionQuestion>(text);
/// // One-sided 5 % of Student's t, 19 degrees of freedom: 1.729 in Regulation (EU) 2023/2782,
/// // Annex II, table 3.
/// let t = distribution(&ask(r#"{"of":{"distribution":"student-t","degrees_of_freedom":"19"},
///     "at":{"probability":"0.95"}}"#)?).unwrap();
/// assert_eq!(t.value.0.round_dp(3).to_string(), "1.729");
/// let certain = ask(r#"{"of":{"distribution":"normal"},"at":{"probability":"1"}}"#)?;
/// assert!(distribution(&certain).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn distribution(question: &DistributionQuestion) -> Answer<DistributionAnswer> {
    let of = ready(question.of)?;
    match question.at {
        DistributionAsked::Value(at) => {
            let (below, above) = tails(&of, float(at))?;
            Ok(DistributionAnswer {
                value: at,
                below: number("probability", below)?,
                above: number("probability", above)?,
            })
        }
        DistributionAsked::Probability(below) => {
            let value = value(&of, probability("probability", below)?)?;
            Ok(DistributionAnswer {
                value: number("quantile", value)?,
                below,
                above: Number((Decimal::ONE - below.0).normalize()),
            })
        }
    }
}

/// Probability that a standard normal value is at most `z`.
///
/// # Errors
/// None for a finite `z`; the type is that of its neighbours.
///
/// ```
/// use domain::statistics::distributions::normal_probability;
/// let p = normal_probability("1.96".parse().unwrap()).unwrap();
/// assert_eq!(p.round_dp(4).to_string(), "0.9750");
/// ```
pub fn normal_probability(z: Decimal) -> Answer<Decimal> {
    Ok(number("probability", special::normal_below(float(Number(z))))?.0)
}

/// The value below which a standard normal value lies with probability `p`.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] unless 0 < p < 1.
///
/// ```
/// use domain::statistics::distributions::normal_quantile;
/// let z = normal_quantile("0.95".parse().unwrap()).unwrap();
/// assert_eq!(z.round_dp(4).to_string(), "1.6449");
/// assert!(normal_quantile("1".parse().unwrap()).is_err());
/// ```
pub fn normal_quantile(p: Decimal) -> Answer<Decimal> {
    let p = probability("probability", Number(p))?;
    Ok(number("quantile", special::normal_quantile(p))?.0)
}

/// Probability that a value of Student's t is at most `t`.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for degrees of freedom of zero or less, or beyond
/// [`MOST_DEGREES_OF_FREEDOM`].
///
/// ```
/// use domain::statistics::distributions::student_t_probability;
/// let nine = "9".parse().unwrap();
/// let p = student_t_probability("1.833".parse().unwrap(), nine).unwrap();
/// assert_eq!(p.round_dp(3).to_string(), "0.950");
/// assert!(student_t_probability(nine, "0".parse().unwrap()).is_err());
/// ```
pub fn student_t_probability(t: Decimal, degrees_of_freedom: Decimal) -> Answer<Decimal> {
    let freedom = freedom(Number(degrees_of_freedom))?;
    let below = special::student_below(float(Number(t)), freedom)?;
    Ok(number("probability", below)?.0)
}

/// The value below which a value of Student's t lies with probability `p`.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a probability or degrees of freedom that have none.
///
/// ```
/// use domain::statistics::distributions::student_t_quantile;
/// let (p, nine) = ("0.975".parse().unwrap(), "9".parse().unwrap());
/// assert_eq!(student_t_quantile(p, nine).unwrap().round_dp(3).to_string(), "2.262");
/// assert!(student_t_quantile(p, "0".parse().unwrap()).is_err());
/// ```
pub fn student_t_quantile(p: Decimal, degrees_of_freedom: Decimal) -> Answer<Decimal> {
    let freedom = freedom(Number(degrees_of_freedom))?;
    let p = probability("probability", Number(p))?;
    Ok(number("quantile", special::student_quantile(p, freedom)?)?.0)
}
