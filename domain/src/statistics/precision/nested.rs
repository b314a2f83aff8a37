//! Variation between and within groups, from the groups' means and standard deviations.
//!
//! Promises the analysis of GUM H.5 for groups of equal size; refuses one group, or groups of one.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{floats, not_negative, number, probability, size};
use super::super::error::{Answer, as_long, at_least};
use super::super::special;
use super::super::summary;

/// Means and standard deviations of groups, such as days, of equally many observations.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct GroupSummaries {
    /// One mean a group.
    pub means: Vec<Number>,
    /// One standard deviation a group, in the unit of the means.
    pub standard_deviations: Vec<Number>,
    /// Observations in each group.
    pub observations: usize,
    /// Probabilities, such as 0.95, for which the critical value of F is wanted.
    #[serde(default)]
    pub probabilities: Vec<Number>,
}

/// What the groups' means and standard deviations say.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct GroupVariation {
    /// Mean of all.
    pub mean: Number,
    /// Standard deviation of the groups' means.
    pub s_of_means: Number,
    /// Standard deviation of one observation as the means tell it: root of K times theirs.
    pub s_between_estimate: Number,
    /// Standard deviation of one observation within groups.
    pub s_within: Number,
    /// Ratio of the two estimates' variances; absent where nothing scatters within.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub f: Option<Number>,
    /// Probability of a larger one, were there no difference between groups.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p_value: Option<Number>,
    /// Critical values of F, for the probabilities asked.
    pub f_critical: Vec<Number>,
    /// Standard deviation between groups; 0 where its variance comes below zero.
    pub s_between: Number,
    /// Standard uncertainty of the mean of all, from the scatter of the groups' means.
    pub u_mean: Number,
}

/// Components of variation between and within groups: JCGM 100:2008, H.5.
///
/// # Errors
/// [`TooFew`](super::super::StatisticsError::TooFew) below two groups or two observations a
/// group, [`UnequalLengths`](super::super::StatisticsError::UnequalLengths) of the two lists.
///
/// ```
/// use domain::statistics::precision::{GroupSummaries, group_variation};
/// let groups = |observations: usize| serde_json::from_str::<GroupSummaries>(&format!(
///     r#"{{"means":["10","12"],"standard_deviations":["1","1"],"observations":{observations}}}"#));
/// let said = group_variation(&groups(2)?).unwrap();
/// assert_eq!(said.s_within.to_string(), "1");
/// assert!(group_variation(&groups(1)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn group_variation(input: &GroupSummaries) -> Answer<GroupVariation> {
    at_least("means", input.means.len(), 2)?;
    at_least("observations in each group", input.observations, 2)?;
    let deviations = &input.standard_deviations;
    as_long("standard deviations", deviations.len(), input.means.len())?;
    let variances = deviations
        .iter()
        .map(|s| Ok(not_negative("standard deviation", *s)?.powi(2)))
        .collect::<Answer<Vec<f64>>>()?;
    let means = floats(&input.means);
    let (groups, each) = (size(means.len()), size(input.observations));
    let of_means = summary::deviation(&means);
    let (between, within) = (each * of_means.powi(2), summary::mean(&variances));
    let freedom = (groups - 1.0, groups * (each - 1.0));
    let f = (within > 0.0).then(|| between / within);
    let critical = |p: &Number| {
        let p = probability("probability", *p)?;
        number("critical value of F", special::fisher_quantile(p, freedom)?)
    };
    let component = ((between - within) / each).max(0.0).sqrt();
    Ok(GroupVariation {
        mean: number("mean", summary::mean(&means))?,
        s_of_means: number("standard deviation of means", of_means)?,
        s_between_estimate: number("s_a", between.sqrt())?,
        s_within: number("s_b", within.sqrt())?,
        f: f.map(|f| number("F", f)).transpose()?,
        p_value: f
            .map(|f| number("p-value", special::fisher(f, freedom)?.1))
            .transpose()?,
        f_critical: input
            .probabilities
            .iter()
            .map(critical)
            .collect::<Answer<_>>()?,
        s_between: number("standard deviation between", component)?,
        u_mean: number("u(mean)", of_means / groups.sqrt())?,
    })
}
