//! Regression on order statistics: the results set the line by which the rest is modelled.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, number, numbers, size};
use super::super::error::{Answer, StatisticsError, at_least};
use super::super::lines;
use super::super::special::normal_quantile;
use super::super::summary;
use super::value::{CensoredValue, Seen, seen};

/// What happens to limits above the largest result, which say nothing of the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum AboveLargest {
    /// They are left out, and counted.
    #[default]
    LeaveOut,
    /// They are modelled like the others.
    Keep,
}

/// Results, and how they are placed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct OrderStatisticsInput {
    /// In one unit, above zero.
    pub values: Vec<CensoredValue>,
    /// The constant a of plotting positions (i - a)/(n + 1 - 2a) within each group; 0 (Helsel,
    /// US EPA) unless stated, 0.375 being another usual one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plotting_constant: Option<Number>,
    /// What happens to limits above the largest result.
    #[serde(default)]
    pub above_largest: AboveLargest,
}

/// What the regression gives. Logarithms are natural ones.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct OrderStatistics {
    /// Results above their limit.
    pub results: usize,
    /// Values modelled.
    pub modelled: usize,
    /// Limits left out.
    pub left_out: usize,
    /// The line at the normal quantile 0: mean of logarithms.
    pub mean_log: Number,
    /// The line's slope: standard deviation of logarithms.
    pub standard_deviation_log: Number,
    /// Plotting positions of the results, in rising order of the results.
    pub positions: Vec<Number>,
    /// What the line models for the rest, in rising order.
    pub modelled_values: Vec<Number>,
    /// Mean of results and modelled values.
    pub mean: Number,
    /// Their standard deviation, n - 1.
    pub standard_deviation: Number,
    /// Their median.
    pub median: Number,
    /// Mean of the logarithms of results and modelled values.
    pub robust_mean_log: Number,
    /// Standard deviation of those, n - 1.
    pub robust_standard_deviation_log: Number,
}

/// A limit and the groups beside it.
struct Group {
    /// Results from this limit up to the next, in rising order; those below the first limit are
    /// in a group without a limit.
    results: Vec<f64>,
    /// Values known to be below this limit.
    below: usize,
    /// Chance of a value above the limit.
    exceeds: f64,
}

/// Hirsch and Stedinger's groups (Water Resources Research 23 (1987) 715).
fn groups(values: &[Seen]) -> Vec<Group> {
    let of = |below: bool| {
        let list = values.iter().filter(|v| v.below == below);
        summary::sorted(&list.map(|v| v.value).collect::<Vec<f64>>())
    };
    let (limits, results) = (of(true), of(false));
    let mut distinct = limits.clone();
    distinct.dedup();
    let mut ends: Vec<f64> = distinct.clone();
    ends.push(f64::INFINITY);
    let starts = [f64::NEG_INFINITY].into_iter().chain(distinct);
    let mut groups: Vec<Group> = starts
        .zip(ends)
        .map(|(from, to)| Group {
            results: results
                .iter()
                .copied()
                .filter(|x| from <= *x && *x < to)
                .collect(),
            below: limits
                .iter()
                .filter(|limit| (**limit - from).abs() <= 0.0)
                .count(),
            exceeds: 1.0,
        })
        .collect();
    let mut above = 0.0;
    let mut lower_results = results.len();
    let mut lower_limits = limits.len();
    for group in groups.iter_mut().skip(1).rev() {
        lower_results = lower_results.saturating_sub(group.results.len());
        let beside = size(group.results.len());
        let under = size(lower_results) + size(lower_limits);
        group.exceeds = above + beside / (beside + under) * (1.0 - above);
        above = group.exceeds;
        lower_limits = lower_limits.saturating_sub(group.below);
    }
    groups
}

/// Plotting positions within a group: (i - a)/(n + 1 - 2a) for i from 1 to n.
fn within(count: usize, constant: f64) -> impl Iterator<Item = f64> {
    (1..=count).map(move |rank| (size(rank) - constant) / (size(count) + 1.0 - 2.0 * constant))
}

/// Lognormal regression on order statistics: Helsel and Cohn, Water Resources Research 24 (1988)
/// 1997; US EPA, Unified Guidance (2009), 15.4.
///
/// # Errors
/// [`StatisticsError::TooFew`] below two results above their limit;
/// [`StatisticsError::ZeroVariance`] where those are equal; [`StatisticsError::OutOfRange`] for a
/// value of zero or less, one between two limits, or a plotting constant outside 0 to 0.5.
///
/// ```
/// use domain::statistics::censored::{OrderStatisticsInput, regression_on_order_statistics};
/// let set = |list: &str| serde_json::from_str::<OrderStatisticsInput>(
///     &format!(r#"{{"values":{list}}}"#));
/// let said = regression_on_order_statistics(&set(r#"["<2","4","8","16"]"#)?).unwrap();
/// assert!(said.modelled_values[0].0 < "4".parse().unwrap());
/// assert!(regression_on_order_statistics(&set(r#"["<2","<3","4"]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn regression_on_order_statistics(input: &OrderStatisticsInput) -> Answer<OrderStatistics> {
    let constant = input.plotting_constant.map_or(0.0, float);
    if !(0.0..=0.5).contains(&constant) {
        let must = "from 0 to 0.5";
        return Err(StatisticsError::out_of_range(
            "plotting constant",
            constant,
            must,
        ));
    }
    let mut values = seen(&input.values, true)?;
    let known: Vec<f64> = values
        .iter()
        .filter(|v| !v.below)
        .map(|v| v.value)
        .collect();
    at_least("results above their limit", known.len(), 2)?;
    let largest = known.iter().copied().fold(0.0, f64::max);
    let before = values.len();
    if input.above_largest == AboveLargest::LeaveOut {
        values.retain(|v| !v.below || v.value <= largest);
    }
    let groups = groups(&values);
    let mut positions = Vec::new();
    let mut modelled_at = Vec::new();
    let following = groups
        .iter()
        .skip(1)
        .map(|group| group.exceeds)
        .chain([0.0]);
    for (group, next) in groups.iter().zip(following) {
        let places = within(group.results.len(), constant);
        positions.extend(places.map(|p| (1.0 - group.exceeds) + (group.exceeds - next) * p));
        let places = within(group.below, constant);
        modelled_at.extend(places.map(|p| (1.0 - group.exceeds) * p));
    }
    let quantiles: Vec<f64> = positions.iter().map(|p| normal_quantile(*p)).collect();
    let results = summary::sorted(&known);
    let logarithms: Vec<f64> = results.iter().map(|x| x.ln()).collect();
    if summary::deviation(&logarithms) <= 0.0 {
        return Err(StatisticsError::flat("results above their limit"));
    }
    let line = lines::fit(&quantiles, &logarithms, &vec![1.0; results.len()])?;
    let mut rest: Vec<f64> = modelled_at
        .iter()
        .map(|p| line.at(normal_quantile(*p)))
        .collect();
    rest = summary::sorted(&rest);
    let all: Vec<f64> = logarithms.iter().chain(&rest).copied().collect();
    let modelled: Vec<f64> = rest.iter().map(|x| x.exp()).collect();
    let linear: Vec<f64> = results.iter().chain(&modelled).copied().collect();
    Ok(OrderStatistics {
        results: results.len(),
        modelled: modelled.len(),
        left_out: before.saturating_sub(values.len()),
        mean_log: number("mean of logarithms", line.at(0.0))?,
        standard_deviation_log: number("standard deviation of logarithms", line.slope)?,
        positions: numbers("plotting position", &positions)?,
        modelled_values: numbers("modelled value", &modelled)?,
        mean: number("mean", summary::mean(&linear))?,
        standard_deviation: number("standard deviation", summary::deviation(&linear))?,
        median: number("median", summary::median(&linear))?,
        robust_mean_log: number("mean of logarithms", summary::mean(&all))?,
        robust_standard_deviation_log: number(
            "standard deviation of logarithms",
            summary::deviation(&all),
        )?,
    })
}
