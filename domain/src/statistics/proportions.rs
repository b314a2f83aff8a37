//! Shares of counts: intervals, sensitivity and specificity, predictive values.
//!
//! Promises Wilson's and the exact interval; refuses none tested and more positives than tested.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{number, probability, size};
use super::error::{Answer, StatisticsError, at_least};
use super::special;

/// So many of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ProportionInput {
    /// Positives.
    pub positives: u32,
    /// Tested.
    pub tested: u32,
    /// Coverage of the intervals; 0.95 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
}

/// A share with its intervals.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Proportion {
    /// Positives.
    pub positives: u32,
    /// Tested.
    pub tested: u32,
    /// Positives over tested.
    pub share: Number,
    /// Wilson's interval, two-sided.
    pub wilson: [Number; 2],
    /// Wilson's lower bound, one-sided.
    pub wilson_lower: Number,
    /// Wilson's upper bound, one-sided.
    pub wilson_upper: Number,
    /// The exact interval of Clopper and Pearson, two-sided.
    pub exact: [Number; 2],
}

/// Counts of a test against the truth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ConfusionCounts {
    /// Positive, and truly so.
    pub true_positives: u32,
    /// Positive, and truly negative.
    pub false_positives: u32,
    /// Negative, and truly positive.
    pub false_negatives: u32,
    /// Negative, and truly so.
    pub true_negatives: u32,
    /// Coverage of the intervals; 0.95 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Number>,
}

/// What a test is worth. A share of none is absent: nothing is known of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct TestWorth {
    /// Truly positive found positive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sensitivity: Option<Proportion>,
    /// Truly negative found negative.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub specificity: Option<Proportion>,
    /// Truly positive found negative.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub false_negative_rate: Option<Proportion>,
    /// Truly negative found positive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub false_positive_rate: Option<Proportion>,
    /// Found positive that truly are.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub positive_predictive_value: Option<Proportion>,
    /// Found negative that truly are.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub negative_predictive_value: Option<Proportion>,
    /// Found as they truly are.
    pub accuracy: Proportion,
}

/// Wilson's interval (Journal of the American Statistical Association 22 (1927) 209) and the
/// exact one of Clopper and Pearson (Biometrika 26 (1934) 404).
///
/// # Errors
/// [`StatisticsError::TooFew`] where none were tested; [`StatisticsError::OutOfRange`] for more
/// positives than tested and for the confidence.
///
/// ```
/// use domain::statistics::proportions::{ProportionInput, proportion};
/// let of = |tested: u32| ProportionInput { positives: 100, tested, confidence: None };
/// let half = proportion(&of(200)).unwrap();
/// assert_eq!(half.wilson[0].0.round_dp(4).to_string(), "0.4314");
/// assert!(proportion(&of(99)).is_err());
/// ```
pub fn proportion(input: &ProportionInput) -> Answer<Proportion> {
    let count = |count: u32| usize::try_from(count).unwrap_or(usize::MAX);
    at_least("tested", count(input.tested), 1)?;
    if input.positives > input.tested {
        let must = format!("at most the {} tested", input.tested);
        return Err(StatisticsError::out_of_range(
            "positives",
            input.positives,
            must,
        ));
    }
    let confidence = input
        .confidence
        .map_or(Ok(0.95), |given| probability("confidence", given))?;
    let (x, n) = (size(count(input.positives)), size(count(input.tested)));
    let bound = |z: f64| wilson(x, n, z);
    let two = special::normal_quantile(0.5 + 0.5 * confidence);
    let one = special::normal_quantile(confidence);
    let tail = 0.5 - 0.5 * confidence;
    let low = if x > 0.0 {
        special::beta_quantile(tail, (x, n - x + 1.0))?
    } else {
        0.0
    };
    let high = if x < n {
        special::beta_quantile(1.0 - tail, (x + 1.0, n - x))?
    } else {
        1.0
    };
    let end = |value: f64| number("end of the interval", value);
    Ok(Proportion {
        positives: input.positives,
        tested: input.tested,
        share: number("share", x / n)?,
        wilson: [end(bound(-two))?, end(bound(two))?],
        wilson_lower: end(bound(-one))?,
        wilson_upper: end(bound(one))?,
        exact: [end(low)?, end(high)?],
    })
}

/// The end of Wilson's interval at a quantile, below the share for a negative one.
fn wilson(x: f64, n: f64, z: f64) -> f64 {
    // Both parts are equal there, and their difference would be a binary remainder.
    if (x <= 0.0 && z < 0.0) || (x >= n && z > 0.0) {
        return x / n;
    }
    let (p, z2) = (x / n, z * z);
    let centre = p + z2 / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    ((centre + half) / (1.0 + z2 / n)).clamp(0.0, 1.0)
}

/// Sensitivity, specificity and predictive values: Altman and Bland, BMJ 308 (1994) 1552 and 309
/// (1994) 102, with Wilson's intervals.
///
/// # Errors
/// [`StatisticsError::TooFew`] where nothing was tested; [`StatisticsError::OutOfRange`] for the
/// confidence, or counts whose sum is too large.
///
/// ```
/// use domain::statistics::proportions::{ConfusionCounts, test_worth};
/// let counts = |true_positives: u32| ConfusionCounts { true_positives, false_positives: 0,
///     false_negatives: 0, true_negatives: 0, confidence: None };
/// let worth = test_worth(&counts(8)).unwrap();
/// assert_eq!(worth.sensitivity.unwrap().share.to_string(), "1");
/// assert!(worth.specificity.is_none(), "none were truly negative");
/// assert!(test_worth(&counts(0)).is_err());
/// ```
pub fn test_worth(counts: &ConfusionCounts) -> Answer<TestWorth> {
    let share = |positives: u32, others: u32| -> Answer<Option<Proportion>> {
        let tested = positives.checked_add(others).ok_or_else(|| {
            StatisticsError::out_of_range("counts", others, "small enough to be added")
        })?;
        let input = ProportionInput {
            positives,
            tested,
            confidence: counts.confidence,
        };
        (tested > 0).then(|| proportion(&input)).transpose()
    };
    let (tp, fp) = (counts.true_positives, counts.false_positives);
    let (fn_, tn) = (counts.false_negatives, counts.true_negatives);
    let right = tp.checked_add(tn);
    let wrong = fp.checked_add(fn_);
    let accuracy = match right.zip(wrong) {
        Some((right, wrong)) => share(right, wrong)?,
        None => {
            let must = "small enough to be added";
            return Err(StatisticsError::out_of_range("counts", tp, must));
        }
    };
    Ok(TestWorth {
        sensitivity: share(tp, fn_)?,
        specificity: share(tn, fp)?,
        false_negative_rate: share(fn_, tp)?,
        false_positive_rate: share(fp, tn)?,
        positive_predictive_value: share(tp, fp)?,
        negative_predictive_value: share(tn, fn_)?,
        accuracy: accuracy.ok_or_else(|| StatisticsError::too_few("tested", 1, 0))?,
    })
}
