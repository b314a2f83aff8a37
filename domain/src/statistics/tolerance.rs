//! One-sided tolerance factors: how many standard deviations from the mean cover a share of all
//! values with a confidence.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::door::{number, probability, size};
use super::error::{Answer, at_least, at_most};
use super::special;

/// Largest sample that factors are computed for.
const MOST: usize = 100_000;

/// Size of the sample, and what is to be covered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ToleranceInput {
    /// Values behind mean and standard deviation, two or more.
    pub n: usize,
    /// Share of all values to be covered, such as 0.95.
    pub content: Number,
    /// Confidence that it is covered.
    pub confidence: Number,
}

/// The factor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ToleranceFactor {
    /// Noncentrality, the normal quantile of the content times root n.
    pub noncentrality: Number,
    /// The quantile of the non-central t with n - 1 degrees of freedom.
    pub noncentral_t: Number,
    /// That over root n.
    pub k: Number,
}

/// One-sided tolerance factor: NIST/SEMATECH e-Handbook, 7.2.6.3; ISO 16269-6:2014.
///
/// # Errors
/// [`TooFew`](super::StatisticsError::TooFew) below two values,
/// [`OutOfRange`](super::StatisticsError::OutOfRange) for content and confidence.
///
/// ```
/// use domain::statistics::tolerance::{ToleranceInput, tolerance_factor};
/// let of = |n: usize| serde_json::from_str::<ToleranceInput>(
///     &format!(r#"{{"n":{n},"content":"0.95","confidence":"0.95"}}"#));
/// assert_eq!(tolerance_factor(&of(20)?).unwrap().k.0.round_dp(3).to_string(), "2.396");
/// assert!(tolerance_factor(&of(1)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn tolerance_factor(input: &ToleranceInput) -> Answer<ToleranceFactor> {
    at_least("n", input.n, 2)?;
    at_most("n", input.n, MOST)?;
    let root = size(input.n).sqrt();
    let shift = special::normal_quantile(probability("content", input.content)?) * root;
    let confidence = probability("confidence", input.confidence)?;
    let t = special::noncentral_quantile(confidence, size(input.n) - 1.0, shift)?;
    Ok(ToleranceFactor {
        noncentrality: number("noncentrality", shift)?,
        noncentral_t: number("non-central t", t)?,
        k: number("k", t / root)?,
    })
}
