//! The final quoted result of determinations under repeatability conditions: ISO 5725-6:1994, 5.2.
//!
//! Promises the value, how it was taken, and how many further determinations are due; refuses no
//! determinations and a standard deviation of zero or less. Decimals throughout.

use serde::{Deserialize, Serialize};

use crate::dilution::Factor;
use crate::procedures::PrecisionModel;
use crate::quantity::Number;
use crate::results::{Statistic, critical_range_factor, final_value};

use super::super::door::positive;
use super::super::error::{Answer, StatisticsError, at_least, at_most};

/// How many further results are asked for where two disagree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum FurtherResults {
    /// Two: measurements cost little (5.2.2.1).
    #[default]
    Two,
    /// One: they cost much (5.2.2.2); three that disagree have their median.
    One,
}

/// Determinations of one sample in the order they were made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct QuotedInput {
    /// All determinations there are; those beyond what the rule asks for are used as well.
    pub determinations: Vec<Number>,
    /// Standard deviation of repeatability.
    pub sigma_r: Number,
    /// How the rule goes on where two disagree.
    #[serde(default)]
    pub further: FurtherResults,
}

/// What the determinations come to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct QuotedResult {
    /// The value quoted; the mean so far where further determinations are due.
    pub value: Number,
    /// How it came from them.
    pub statistic: Statistic,
    /// How many there are.
    pub determinations: u32,
    /// Largest less smallest.
    pub range: Number,
    /// f(n) times sigma_r; a range equal to it is accepted. Absent for a single determination.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub critical_range: Option<Number>,
    /// How many further determinations are due.
    pub further: u32,
}

/// The final quoted result: ISO 5725-6:1994, 5.2.2.
///
/// # Errors
/// [`StatisticsError::TooFew`] without a determination, [`StatisticsError::TooMany`] beyond the
/// 20 that the table of factors has, [`StatisticsError::OutOfRange`] for the standard deviation.
///
/// ```
/// use domain::results::Statistic;
/// use domain::statistics::precision::{QuotedInput, quoted_result};
/// let input = |list: &str| serde_json::from_str::<QuotedInput>(
///     &format!(r#"{{"determinations":{list},"sigma_r":"0.5","further":"one"}}"#));
/// let apart = quoted_result(&input(r#"["10.0","12.0"]"#)?).unwrap();
/// assert_eq!(apart.further, 1);
/// let three = quoted_result(&input(r#"["10.0","12.0","10.6"]"#)?).unwrap();
/// assert_eq!((three.value.to_string().as_str(), three.statistic), ("10.6", Statistic::Median));
/// assert!(quoted_result(&input("[]")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn quoted_result(input: &QuotedInput) -> Answer<QuotedResult> {
    let list: Vec<_> = input.determinations.iter().map(|number| number.0).collect();
    at_least("determinations", list.len(), 1)?;
    at_most("determinations", list.len(), 20)?;
    positive("sigma_r", input.sigma_r)?;
    let too_large = || StatisticsError::TooLarge {
        quantity: "quoted result".to_owned(),
    };
    let model = PrecisionModel {
        constant: crate::quantity::Concentration::from_ug_per_kg(input.sigma_r.0),
        proportional: Number(rust_decimal::Decimal::ZERO),
    };
    let (value, how) = final_value(&list, Some(&model), Factor::ONE).ok_or_else(too_large)?;
    let mut sorted = list;
    sorted.sort_unstable();
    let range = sorted
        .last()
        .zip(sorted.first())
        .and_then(|(last, first)| last.checked_sub(*first))
        .ok_or_else(too_large)?;
    let critical_range = match critical_range_factor(sorted.len()) {
        Some(factor) => Some(factor.checked_mul(input.sigma_r.0).ok_or_else(too_large)?),
        None => None,
    };
    let (value, statistic, further) = match (input.further, how.determinations, how.further) {
        (FurtherResults::One, 2, 1..) => (value, how.statistic, 1),
        (FurtherResults::One, 3, 1..) => {
            let middle = sorted.get(1).copied().ok_or_else(too_large)?;
            (middle, Statistic::Median, 0)
        }
        (FurtherResults::One | FurtherResults::Two, _, further) => (value, how.statistic, further),
    };
    Ok(QuotedResult {
        value: Number(value.normalize()),
        statistic,
        determinations: how.determinations,
        range: Number(range.normalize()),
        critical_range: critical_range.map(|critical| Number(critical.normalize())),
        further,
    })
}
