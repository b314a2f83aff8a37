//! The reproducibility that is expected of any method at a mass fraction: Horwitz and Thompson.

use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::{float, number, positive};
use super::super::error::{Answer, StatisticsError, as_long, at_least};

/// Which function predicts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Predictor {
    /// 2^(1 - 0.5 log10 c) percent at every mass fraction: Horwitz, Kamps and Boyer, J AOAC 63
    /// (1980) 1344.
    Horwitz,
    /// 22 % below 1.2e-7, 0.02 c^0.8495 up to 0.138, 0.01 c^0.5 above: Thompson, Analyst 125
    /// (2000) 385.
    #[default]
    Thompson,
}

/// Mass fractions, and what was found at them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PredictorInput {
    /// Mass fractions without unit: 20 µg/kg is 0.00000002.
    pub mass_fractions: Vec<Number>,
    /// Relative standard deviations of reproducibility found, in percent; none, or one for each.
    #[serde(default)]
    pub found_percent: Vec<Number>,
    /// Which function; Thompson's unless another is named.
    #[serde(default)]
    pub predictor: Predictor,
}

/// What is expected at one mass fraction.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Expected {
    /// The mass fraction.
    pub mass_fraction: Number,
    /// Relative standard deviation of reproducibility, in percent.
    pub relative_percent: Number,
    /// Standard deviation of reproducibility, as a mass fraction.
    pub standard_deviation: Number,
    /// Found over expected; absent where nothing found was entered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub horrat: Option<Number>,
    /// Whether the ratio is between 0.5 and 2, the usual window of AOAC.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub usual: Option<bool>,
}

/// Of each mass fraction.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ExpectedPrecision {
    /// In the order of the input.
    pub expected: Vec<Expected>,
}

/// Expected reproducibility, and the ratio of what was found to it.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a mass fraction of 0 or above 1, which is most often a
/// number in µg/kg; [`StatisticsError::UnequalLengths`] of what was found.
///
/// ```
/// use domain::statistics::precision::{PredictorInput, predicted_precision};
/// let at = |c: &str| serde_json::from_str::<PredictorInput>(
///     &format!(r#"{{"mass_fractions":["{c}"],"predictor":"horwitz"}}"#));
/// let ppm = predicted_precision(&at("0.000001")?).unwrap();
/// assert_eq!(ppm.expected[0].relative_percent.to_string(), "16");
/// assert!(predicted_precision(&at("20")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn predicted_precision(input: &PredictorInput) -> Answer<ExpectedPrecision> {
    let fractions = &input.mass_fractions;
    at_least("mass fractions", fractions.len(), 1)?;
    if !input.found_percent.is_empty() {
        as_long("found", input.found_percent.len(), fractions.len())?;
    }
    let found = input.found_percent.iter().map(Some);
    let found = found.chain(std::iter::repeat(None));
    let expected = fractions
        .iter()
        .zip(found)
        .map(|(fraction, found)| one(*fraction, found.copied(), input.predictor))
        .collect::<Answer<_>>()?;
    Ok(ExpectedPrecision { expected })
}

fn one(fraction: Number, found: Option<Number>, predictor: Predictor) -> Answer<Expected> {
    let c = float(fraction);
    if !(c > 0.0 && c <= 1.0) {
        let must = "above 0 and at most 1: a mass fraction, 1 µg/kg being 0.000000001";
        return Err(StatisticsError::out_of_range(
            "mass fraction",
            fraction,
            must,
        ));
    }
    let relative = match predictor {
        Predictor::Horwitz => 0.01 * (1.0 - 0.5 * c.log10()).exp2(),
        Predictor::Thompson if c < 1.2e-7 => 0.22,
        Predictor::Thompson if c <= 0.138 => 0.02 * c.powf(-0.1505),
        Predictor::Thompson => 0.01 / c.sqrt(),
    };
    let ratio = match found {
        Some(found) => Some(positive("found", found)? / (100.0 * relative)),
        None => None,
    };
    Ok(Expected {
        mass_fraction: fraction,
        relative_percent: number("expected deviation", 100.0 * relative)?,
        standard_deviation: number("expected deviation", relative * c)?,
        horrat: ratio.map(|ratio| number("HorRat", ratio)).transpose()?,
        usual: ratio.map(|ratio| (0.5..=2.0).contains(&ratio)),
    })
}
