//! The tabular cumulative sum. Exact decimals throughout: sums and differences need no float.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{not_negative, positive};
use super::super::error::{Answer, StatisticsError, at_least};

/// What k and h are in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CusumUnit {
    /// The unit of the values.
    #[default]
    OfValues,
    /// Standard deviations; `s` must be given.
    OfStandardDeviations,
}

/// Values in order, and how the chart is set up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CusumInput {
    /// In the order they were measured.
    pub values: Vec<Number>,
    /// What they should be.
    pub target: Number,
    /// Reference value: what is taken off each deviation.
    pub k: Number,
    /// Decision interval: a sum above it signals.
    pub h: Number,
    /// What k and h are in.
    #[serde(default)]
    pub unit: CusumUnit,
    /// Standard deviation of a value, where k and h are in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub s: Option<Number>,
    /// What both sums start from, in the unit of k; 0 unless a head start is wanted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head_start: Option<Number>,
}

/// The chart, in the unit of the values.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CusumChart {
    /// k, in the unit of the values.
    pub k: Number,
    /// h, in the unit of the values.
    pub h: Number,
    /// The upper sum after each value.
    pub high: Vec<Number>,
    /// The lower sum after each value.
    pub low: Vec<Number>,
    /// Values after which the upper sum is above h, from 1.
    pub beyond_high: Vec<usize>,
    /// Values after which the lower sum is above h.
    pub beyond_low: Vec<usize>,
    /// The first signal; absent where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_signal: Option<usize>,
}

/// The tabular cumulative sum: NIST/SEMATECH e-Handbook, 6.3.2.3; ISO 7870-4:2021.
///
/// # Errors
/// [`StatisticsError::TooFew`] without a value, or without `s` where k and h are in it;
/// [`StatisticsError::OutOfRange`] for k, h, s or the head start.
///
/// ```
/// use domain::statistics::control::{CusumInput, cusum_chart};
/// let with = |h: &str| serde_json::from_str::<CusumInput>(&format!(
///     r#"{{"values":["12","12","12"],"target":"10","k":"0.5","h":"{h}"}}"#));
/// let chart = cusum_chart(&with("4")?).unwrap();
/// assert_eq!((chart.high[2].to_string().as_str(), chart.first_signal), ("4.5", Some(3)));
/// assert!(cusum_chart(&with("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn cusum_chart(input: &CusumInput) -> Answer<CusumChart> {
    at_least("values", input.values.len(), 1)?;
    not_negative("k", input.k)?;
    positive("h", input.h)?;
    let too_large = || StatisticsError::TooLarge {
        quantity: "cumulative sum".to_owned(),
    };
    let scale = match (input.unit, input.s) {
        (CusumUnit::OfValues, _) => Decimal::ONE,
        (CusumUnit::OfStandardDeviations, None) => {
            return Err(StatisticsError::too_few("s", 1, 0));
        }
        (CusumUnit::OfStandardDeviations, Some(s)) => {
            positive("s", s)?;
            s.0
        }
    };
    let scaled = |value: Number| value.0.checked_mul(scale).ok_or_else(too_large);
    let (k, h) = (scaled(input.k)?, scaled(input.h)?);
    let start = match input.head_start {
        Some(start) => {
            not_negative("head start", start)?;
            scaled(start)?
        }
        None => Decimal::ZERO,
    };
    let shown = |value: Decimal| Number(value.normalize());
    let mut chart = CusumChart {
        k: shown(k),
        h: shown(h),
        high: Vec::new(),
        low: Vec::new(),
        beyond_high: Vec::new(),
        beyond_low: Vec::new(),
        first_signal: None,
    };
    let (mut high, mut low) = (start, start);
    for (place, value) in input.values.iter().enumerate() {
        let deviation = value.0.checked_sub(input.target.0).ok_or_else(too_large)?;
        let step = |sum: Decimal, deviation: Decimal| {
            let next = sum.checked_add(deviation)?.checked_sub(k)?;
            Some(next.max(Decimal::ZERO))
        };
        high = step(high, deviation).ok_or_else(too_large)?;
        low = step(low, -deviation).ok_or_else(too_large)?;
        chart.high.push(shown(high));
        chart.low.push(shown(low));
        let number = place.saturating_add(1);
        if high > h {
            chart.beyond_high.push(number);
        }
        if low > h {
            chart.beyond_low.push(number);
        }
        if (high > h || low > h) && chart.first_signal.is_none() {
            chart.first_signal = Some(number);
        }
    }
    Ok(chart)
}
