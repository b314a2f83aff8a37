//! Outliers of a study: Cochran for variances, Grubbs for means.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{floats, not_negative, number};
use super::super::error::{Answer, StatisticsError, at_least};
use super::super::summary;
use super::critical::{Sides, cochran_limit, grubbs_limit};

/// What a test statistic says, by ISO 5725-2:1994, 7.3.2.1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum OutlierVerdict {
    /// Up to the critical value at 5 %.
    Correct,
    /// Beyond that at 5 %, not beyond that at 1 %.
    Straggler,
    /// Beyond the critical value at 1 %.
    Outlier,
}

/// Critical values of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CriticalValues {
    /// At 5 %.
    pub at_5_percent: Number,
    /// At 1 %.
    pub at_1_percent: Number,
}

/// Standard deviations of laboratories with equally many replicates.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CochranInput {
    /// One for each laboratory.
    pub standard_deviations: Vec<Number>,
    /// Replicates of each; where they differ a little, the number that most have.
    pub replicates: usize,
}

/// Cochran's test of the largest variance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CochranOutcome {
    /// Largest variance over the sum of all.
    pub statistic: Number,
    /// Which laboratory has it, from 1.
    pub laboratory: usize,
    /// Its critical values.
    pub critical: CriticalValues,
    /// What it says.
    pub verdict: OutlierVerdict,
}

/// Values, mostly means of laboratories, in which outliers are looked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct GrubbsInput {
    /// Three or more; the tests of two outliers want four.
    pub values: Vec<Number>,
    /// On how many sides.
    #[serde(default)]
    pub sides: Sides,
}

/// One of Grubbs' tests.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct GrubbsTest {
    /// Which values are tested, from 1, as entered.
    pub values: Vec<usize>,
    /// For one value its distance from the mean in standard deviations, suspicious where large;
    /// for two the share of the sum of squares that the others have, suspicious where small.
    pub statistic: Number,
    /// Critical values; absent for two values where the table ends (more than 40).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub critical: Option<CriticalValues>,
    /// What it says, where there are critical values.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<OutlierVerdict>,
}

/// Grubbs' tests of the extreme values.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct GrubbsOutcome {
    /// Mean of the values.
    pub mean: Number,
    /// Their standard deviation, n - 1.
    pub standard_deviation: Number,
    /// Of the largest.
    pub largest: GrubbsTest,
    /// Of the smallest.
    pub smallest: GrubbsTest,
    /// Of the two largest; absent for three values.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub two_largest: Option<GrubbsTest>,
    /// Of the two smallest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub two_smallest: Option<GrubbsTest>,
}

/// Critical values of the smallest sum-of-squares share after two values are left out, for 4 to
/// 40 values, at 5 % and 1 %, in ten-thousandths: ISO 5725-2:1994, table 5, *from memory* and
/// checked by simulation.
const DOUBLE_GRUBBS: [(i64, i64); 37] = [
    (2, 0),
    (90, 18),
    (349, 116),
    (708, 308),
    (1101, 563),
    (1492, 851),
    (1864, 1150),
    (2213, 1448),
    (2537, 1738),
    (2836, 2016),
    (3112, 2280),
    (3367, 2530),
    (3603, 2767),
    (3822, 2990),
    (4025, 3200),
    (4214, 3398),
    (4391, 3585),
    (4556, 3761),
    (4711, 3927),
    (4857, 4085),
    (4994, 4234),
    (5123, 4376),
    (5245, 4510),
    (5360, 4638),
    (5470, 4759),
    (5574, 4875),
    (5672, 4985),
    (5766, 5091),
    (5856, 5192),
    (5941, 5288),
    (6023, 5381),
    (6101, 5469),
    (6175, 5554),
    (6247, 5636),
    (6316, 5714),
    (6382, 5789),
    (6445, 5862),
];

/// Cochran's test: ISO 5725-2:1994, 7.3.3.
///
/// # Errors
/// [`StatisticsError::TooFew`], [`StatisticsError::OutOfRange`] for a negative standard
/// deviation, [`StatisticsError::ZeroVariance`] where all are zero.
///
/// ```
/// use domain::statistics::precision::{OutlierVerdict, cochran};
/// let input = |list: &str| serde_json::from_str(
///     &format!(r#"{{"standard_deviations":{list},"replicates":3}}"#)).unwrap();
/// let loud = cochran(&input(r#"["0.1","0.1","0.1","0.1","0.9"]"#)).unwrap();
/// assert_eq!((loud.laboratory, loud.verdict), (5, OutlierVerdict::Outlier));
/// assert!(cochran(&input(r#"["0","0"]"#)).is_err());
/// ```
pub fn cochran(input: &CochranInput) -> Answer<CochranOutcome> {
    let list = &input.standard_deviations;
    at_least("standard deviations", list.len(), 2)?;
    let variances = list
        .iter()
        .map(|s| Ok(not_negative("standard deviation", *s)?.powi(2)))
        .collect::<Answer<Vec<f64>>>()?;
    let total = summary::sum(&variances);
    if total <= 0.0 {
        return Err(StatisticsError::flat("standard deviations"));
    }
    let largest = variances.iter().copied().fold(0.0, f64::max);
    let place = variances.iter().position(|v| *v >= largest).unwrap_or(0);
    let statistic = largest / total;
    let limit = |a: f64| cochran_limit(a, list.len(), input.replicates);
    let (five, one) = (limit(0.05)?, limit(0.01)?);
    Ok(CochranOutcome {
        statistic: number("Cochran's C", statistic)?,
        laboratory: place.saturating_add(1),
        critical: critical(five, one)?,
        verdict: verdict(statistic > five, statistic > one),
    })
}

fn critical(five: f64, one: f64) -> Answer<CriticalValues> {
    Ok(CriticalValues {
        at_5_percent: number("critical value at 5 %", five)?,
        at_1_percent: number("critical value at 1 %", one)?,
    })
}

const fn verdict(beyond_five: bool, beyond_one: bool) -> OutlierVerdict {
    match (beyond_five, beyond_one) {
        (_, true) => OutlierVerdict::Outlier,
        (true, false) => OutlierVerdict::Straggler,
        (false, false) => OutlierVerdict::Correct,
    }
}

/// Grubbs' tests of the largest, the smallest, the two largest and the two smallest:
/// ISO 5725-2:1994, 7.3.4.
///
/// # Errors
/// [`StatisticsError::TooFew`] below three values, [`StatisticsError::ZeroVariance`] where all
/// are equal.
///
/// ```
/// use domain::statistics::precision::{OutlierVerdict, grubbs};
/// let input = |list: &str| serde_json::from_str(&format!(r#"{{"values":{list}}}"#)).unwrap();
/// let far = grubbs(&input(r#"["10.1","9.9","10.0","10.2","9.8","10.1","15"]"#)).unwrap();
/// assert_eq!(far.largest.verdict, Some(OutlierVerdict::Outlier));
/// assert_eq!(far.smallest.verdict, Some(OutlierVerdict::Correct));
/// assert!(grubbs(&input(r#"["1","1","1"]"#)).is_err());
/// ```
pub fn grubbs(input: &GrubbsInput) -> Answer<GrubbsOutcome> {
    let values = floats(&input.values);
    at_least("values", values.len(), 3)?;
    let (mean, s) = (summary::mean(&values), summary::deviation(&values));
    if s <= 0.0 {
        return Err(StatisticsError::flat("values"));
    }
    let mut order: Vec<(usize, f64)> = values.iter().copied().enumerate().collect();
    order.sort_by(|one, other| one.1.total_cmp(&other.1));
    let single = |(place, value): (usize, f64)| -> Answer<GrubbsTest> {
        let statistic = (value - mean).abs() / s;
        let limit = |a: f64| grubbs_limit(a, values.len(), input.sides);
        let (five, one) = (limit(0.05)?, limit(0.01)?);
        Ok(GrubbsTest {
            values: vec![place.saturating_add(1)],
            statistic: number("Grubbs' G", statistic)?,
            critical: Some(critical(five, one)?),
            verdict: Some(verdict(statistic > five, statistic > one)),
        })
    };
    let total = summary::squares_about(&values, mean);
    let reversed: Vec<(usize, f64)> = order.iter().rev().copied().collect();
    let first = |list: &[(usize, f64)]| list.first().copied().unwrap_or((0, mean));
    Ok(GrubbsOutcome {
        mean: number("mean", mean)?,
        standard_deviation: number("standard deviation", s)?,
        largest: single(first(&reversed))?,
        smallest: single(first(&order))?,
        two_largest: double(&reversed, total)?,
        two_smallest: double(&order, total)?,
    })
}

/// The test of the two values that stand first in an order.
fn double(order: &[(usize, f64)], total: f64) -> Answer<Option<GrubbsTest>> {
    let Some((tested, rest)) = order.split_at_checked(2).filter(|(_, rest)| rest.len() > 1) else {
        return Ok(None);
    };
    let rest: Vec<f64> = rest.iter().map(|(_, value)| *value).collect();
    let statistic = summary::squares_about(&rest, summary::mean(&rest)) / total;
    let row = DOUBLE_GRUBBS.get(order.len().saturating_sub(4)).copied();
    let limits = row.map(|(five, one)| {
        let share = |four_places: i64| Number(rust_decimal::Decimal::new(four_places, 4));
        CriticalValues {
            at_5_percent: share(five),
            at_1_percent: share(one),
        }
    });
    let statistic = number("Grubbs' G of two", statistic)?;
    let said = |limits: &CriticalValues| {
        verdict(
            statistic < limits.at_5_percent,
            statistic < limits.at_1_percent,
        )
    };
    Ok(Some(GrubbsTest {
        values: tested
            .iter()
            .map(|(place, _)| place.saturating_add(1))
            .collect(),
        statistic,
        critical: limits,
        verdict: limits.as_ref().map(said),
    }))
}
