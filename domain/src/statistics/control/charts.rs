//! Shewhart charts: individuals with moving ranges, subgroups, ranges of duplicates.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{floats, number, numbers, positive, size};
use super::super::error::{Answer, StatisticsError, at_least};
use super::super::summary;
use super::factors::{deviation_width, moments};

/// Which factors turn ranges into limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ChartFactors {
    /// Three decimals, as tables print them: 1.128 and 3.267 for two values.
    #[default]
    Table,
    /// Unrounded.
    Exact,
}

/// Values in the order they were measured.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct IndividualsInput {
    /// All values charted.
    pub values: Vec<Number>,
    /// How many of the first ones the limits come from; all of them unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub baseline: Option<usize>,
    /// Values in each moving range, 2 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub span: Option<usize>,
    /// Rounded factors unless unrounded ones are asked for.
    #[serde(default)]
    pub factors: ChartFactors,
}

/// Centre and limits of a chart, and which points are beyond them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ChartLimits {
    /// Central line.
    pub centre: Number,
    /// Lower action limit.
    pub lower: Number,
    /// Upper action limit.
    pub upper: Number,
    /// Points beyond a limit, from 1.
    pub beyond: Vec<usize>,
}

/// An individuals chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct IndividualsChart {
    /// Of the values.
    pub individuals: ChartLimits,
    /// Of the moving ranges, point 1 being the first range.
    pub ranges: ChartLimits,
    /// The moving ranges.
    pub moving_ranges: Vec<Number>,
    /// Standard deviation that the mean moving range tells.
    pub sigma: Number,
    /// The factor that it was divided by.
    pub d2: Number,
}

struct Limits {
    centre: f64,
    lower: f64,
    upper: f64,
}

impl Limits {
    fn chart(&self, points: &[f64]) -> Answer<ChartLimits> {
        let (lower, upper) = (
            number("lower limit", self.lower)?,
            number("upper limit", self.upper)?,
        );
        // As shown, not as computed: a point on its limit is not beyond it by a binary place.
        let mut beyond = Vec::new();
        for (place, point) in points.iter().enumerate() {
            let point = number("point", *point)?;
            if point < lower || point > upper {
                beyond.push(place.saturating_add(1));
            }
        }
        Ok(ChartLimits {
            centre: number("central line", self.centre)?,
            lower,
            upper,
            beyond,
        })
    }
}

fn as_tabled(value: f64, factors: ChartFactors) -> f64 {
    match factors {
        ChartFactors::Table => (value * 1000.0).round() / 1000.0,
        ChartFactors::Exact => value,
    }
}

/// Individuals and moving ranges: NIST/SEMATECH e-Handbook, 6.3.2.2; ISO 7870-2:2013.
///
/// # Errors
/// [`StatisticsError::TooFew`] where the baseline has no moving range, or names more values than
/// there are; [`StatisticsError::ZeroVariance`] where its values do not differ;
/// [`StatisticsError::OutOfRange`] for the span.
///
/// ```
/// use domain::statistics::control::{IndividualsInput, individuals_chart};
/// let values = |list: &str| serde_json::from_str::<IndividualsInput>(
///     &format!(r#"{{"values":{list}}}"#));
/// let chart = individuals_chart(&values(r#"["10","11","10","11"]"#)?).unwrap();
/// assert_eq!(chart.ranges.upper.to_string(), "3.267");
/// assert!(individuals_chart(&values(r#"["10","10","10"]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn individuals_chart(input: &IndividualsInput) -> Answer<IndividualsChart> {
    let values = floats(&input.values);
    let span = input.span.unwrap_or(2);
    let (d2, d3, _) = moments(span)?;
    let baseline = input.baseline.unwrap_or(values.len());
    at_least("values", values.len(), baseline.max(span))?;
    at_least("values of the baseline", baseline, span)?;
    let ranges: Vec<f64> = values
        .windows(span)
        .map(|window| {
            let ordered = summary::sorted(window);
            let ends = ordered.first().zip(ordered.last());
            ends.map_or(0.0, |(low, high)| high - low)
        })
        .collect();
    let first: Vec<f64> = values.iter().take(baseline).copied().collect();
    let of_baseline = baseline.saturating_sub(span).saturating_add(1);
    let first_ranges: Vec<f64> = ranges.iter().take(of_baseline).copied().collect();
    let (centre, mean_range) = (summary::mean(&first), summary::mean(&first_ranges));
    if mean_range <= 0.0 {
        return Err(StatisticsError::flat("values of the baseline"));
    }
    let factor = as_tabled(d2, input.factors);
    let (low, high) = (
        as_tabled((1.0 - 3.0 * d3 / d2).max(0.0), input.factors),
        as_tabled(1.0 + 3.0 * d3 / d2, input.factors),
    );
    let sigma = mean_range / factor;
    let individuals = Limits {
        centre,
        lower: centre - 3.0 * sigma,
        upper: centre + 3.0 * sigma,
    };
    let of_ranges = Limits {
        centre: mean_range,
        lower: low * mean_range,
        upper: high * mean_range,
    };
    Ok(IndividualsChart {
        individuals: individuals.chart(&values)?,
        ranges: of_ranges.chart(&ranges)?,
        moving_ranges: numbers("moving range", &ranges)?,
        sigma: number("sigma", sigma)?,
        d2: number("d2", factor)?,
    })
}

/// How the spread of a subgroup is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SpreadStatistic {
    /// Largest less smallest.
    #[default]
    Range,
    /// Standard deviation, n - 1.
    StandardDeviation,
}

/// Subgroups of equal size, in order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct SubgroupInput {
    /// Each with two values or more, all with as many.
    pub subgroups: Vec<Vec<Number>>,
    /// How their spread is measured.
    #[serde(default)]
    pub spread: SpreadStatistic,
}

/// Charts of the subgroups' means and spreads.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SubgroupChart {
    /// Of the means.
    pub means: ChartLimits,
    /// Of the spreads.
    pub spreads: ChartLimits,
    /// The means.
    pub points: Vec<Number>,
    /// The spreads.
    pub spread_points: Vec<Number>,
    /// Standard deviation within subgroups that the mean spread tells.
    pub sigma: Number,
}

/// Charts of subgroup means with ranges or standard deviations: ISO 7870-2:2013.
///
/// # Errors
/// [`StatisticsError::TooFew`] below two subgroups; [`StatisticsError::UnequalLengths`] of them;
/// [`StatisticsError::OutOfRange`] for their size; [`StatisticsError::ZeroVariance`].
///
/// ```
/// use domain::statistics::control::{SubgroupInput, subgroup_chart};
/// let groups = |list: &str| serde_json::from_str::<SubgroupInput>(
///     &format!(r#"{{"subgroups":{list}}}"#));
/// let chart = subgroup_chart(&groups(r#"[["1","2"],["2","3"],["1","2"]]"#)?).unwrap();
/// assert_eq!(chart.spreads.centre.to_string(), "1");
/// assert!(subgroup_chart(&groups(r#"[["1","2"],["2"]]"#)?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn subgroup_chart(input: &SubgroupInput) -> Answer<SubgroupChart> {
    at_least("subgroups", input.subgroups.len(), 2)?;
    let n = input.subgroups.first().map_or(0, Vec::len);
    for group in &input.subgroups {
        super::super::error::as_long("values of a subgroup", group.len(), n)?;
    }
    let (d2, d3, c4) = moments(n)?;
    let groups: Vec<Vec<f64>> = input.subgroups.iter().map(|group| floats(group)).collect();
    let means: Vec<f64> = groups.iter().map(|group| summary::mean(group)).collect();
    let spread = |group: &Vec<f64>| match input.spread {
        SpreadStatistic::StandardDeviation => summary::deviation(group),
        SpreadStatistic::Range => {
            let ordered = summary::sorted(group);
            let ends = ordered.first().zip(ordered.last());
            ends.map_or(0.0, |(low, high)| high - low)
        }
    };
    let spreads: Vec<f64> = groups.iter().map(spread).collect();
    let (centre, mean_spread) = (summary::mean(&means), summary::mean(&spreads));
    if mean_spread <= 0.0 {
        return Err(StatisticsError::flat("values within subgroups"));
    }
    let (scale, width) = match input.spread {
        SpreadStatistic::Range => (d2, 3.0 * d3 / d2),
        SpreadStatistic::StandardDeviation => (c4, deviation_width(c4)),
    };
    let sigma = mean_spread / scale;
    let half = 3.0 * sigma / size(n).sqrt();
    let of_means = Limits {
        centre,
        lower: centre - half,
        upper: centre + half,
    };
    let of_spreads = Limits {
        centre: mean_spread,
        lower: (1.0 - width).max(0.0) * mean_spread,
        upper: (1.0 + width) * mean_spread,
    };
    Ok(SubgroupChart {
        means: of_means.chart(&means)?,
        spreads: of_spreads.chart(&spreads)?,
        points: numbers("mean", &means)?,
        spread_points: numbers("spread", &spreads)?,
        sigma: number("sigma", sigma)?,
    })
}

/// A standard deviation of repeatability, and how many replicates are made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DuplicateRangeInput {
    /// Standard deviation of repeatability.
    pub s_r: Number,
    /// Replicates in each range, 2 unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replicates: Option<usize>,
    /// Ranges to be placed on the chart.
    #[serde(default)]
    pub ranges: Vec<Number>,
}

/// Lines of a range chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RangeLimits {
    /// d2 s_r.
    pub central: Number,
    /// (d2 + 2 d3) s_r.
    pub warning: Number,
    /// (d2 + 3 d3) s_r.
    pub action: Number,
    /// Ranges beyond the warning line, from 1, those beyond the action line included.
    pub beyond_warning: Vec<usize>,
    /// Ranges beyond the action line.
    pub beyond_action: Vec<usize>,
}

/// The range chart of replicates: Nordtest Report TR 569 (2011), which prints 1.128, 2.833 and
/// 3.686 for duplicates; the factors here are unrounded.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a standard deviation of zero or the number of replicates.
///
/// ```
/// use domain::statistics::control::{DuplicateRangeInput, range_limits};
/// let with = |s: &str| serde_json::from_str::<DuplicateRangeInput>(
///     &format!(r#"{{"s_r":"{s}","ranges":["1","4"]}}"#));
/// assert_eq!(range_limits(&with("1")?).unwrap().beyond_action, [2]);
/// assert!(range_limits(&with("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn range_limits(input: &DuplicateRangeInput) -> Answer<RangeLimits> {
    let s = positive("s_r", input.s_r)?;
    let (d2, d3, _) = moments(input.replicates.unwrap_or(2))?;
    let warning = number("warning line", (d2 + 2.0 * d3) * s)?;
    let action = number("action line", (d2 + 3.0 * d3) * s)?;
    let beyond = |line: Number| {
        let above = input.ranges.iter().enumerate().filter(|(_, r)| **r > line);
        above.map(|(place, _)| place.saturating_add(1)).collect()
    };
    Ok(RangeLimits {
        central: number("central line", d2 * s)?,
        warning,
        action,
        beyond_warning: beyond(warning),
        beyond_action: beyond(action),
    })
}
