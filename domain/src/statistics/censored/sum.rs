//! The sum of toxins that a sum limit is compared with. Exact decimals throughout.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

use super::super::door::positive;
use super::super::error::{Answer, StatisticsError, at_least};
use super::value::CensoredValue;

/// One toxin of a sum.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct SummedToxin {
    /// Its name.
    pub name: String,
    /// Its result; what is below a limit counts as zero.
    pub value: CensoredValue,
    /// Recovery in percent, where the result is not yet corrected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovery_percent: Option<Number>,
}

/// The toxins of a sum.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ToxinSumInput {
    /// In one unit.
    pub toxins: Vec<SummedToxin>,
    /// Recoveries inside this window, ends included, correct nothing; 90 and 110 percent unless
    /// stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncorrected_window_percent: Option<[Number; 2]>,
}

/// What one toxin gives to the sum.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ToxinTerm {
    /// Its name.
    pub name: String,
    /// As found; 0 below its limit.
    pub found: Number,
    /// Corrected for recovery, where that is outside the window.
    pub corrected: Number,
    /// Whether it was.
    pub was_corrected: bool,
}

/// The sum.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ToxinSum {
    /// Toxin by toxin.
    pub terms: Vec<ToxinTerm>,
    /// Sum of what was found.
    pub uncorrected: Number,
    /// Sum of what was corrected, twelve significant figures.
    pub corrected: Number,
}

/// The lower-bound sum: results below the limit of quantification count as zero, each toxin is
/// corrected for recovery before the sum, and recoveries of 90 to 110 % correct nothing
/// (Implementing Regulation (EU) 2023/2782, Annex II, 4.3).
///
/// # Errors
/// [`StatisticsError::TooFew`] without a toxin; [`StatisticsError::OutOfRange`] for a negative
/// result or a recovery of zero; [`StatisticsError::TooLarge`].
///
/// ```
/// use domain::statistics::censored::{ToxinSumInput, toxin_sum};
/// let of = |recovery: &str| serde_json::from_str::<ToxinSumInput>(&format!(
///     r#"{{"toxins":[{{"name":"B1","value":"4","recovery_percent":"{recovery}"}},
///     {{"name":"B2","value":"<0.5"}}]}}"#));
/// assert_eq!(toxin_sum(&of("80")?).unwrap().corrected.to_string(), "5");
/// assert_eq!(toxin_sum(&of("90")?).unwrap().corrected.to_string(), "4");
/// assert!(toxin_sum(&of("0")?).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn toxin_sum(input: &ToxinSumInput) -> Answer<ToxinSum> {
    at_least("toxins", input.toxins.len(), 1)?;
    let [low, high] = input
        .uncorrected_window_percent
        .unwrap_or([Number(Decimal::from(90)), Number(Decimal::from(110))]);
    let too_large = || StatisticsError::TooLarge {
        quantity: "sum of toxins".to_owned(),
    };
    let (mut plain, mut whole) = (Decimal::ZERO, Decimal::ZERO);
    let mut terms = Vec::with_capacity(input.toxins.len());
    for toxin in &input.toxins {
        let found = match toxin.value {
            CensoredValue::Known(value) if value.0 < Decimal::ZERO => {
                return Err(StatisticsError::out_of_range(
                    &toxin.name,
                    value,
                    "0 or more",
                ));
            }
            CensoredValue::Known(value) => value.0,
            CensoredValue::Below(_) | CensoredValue::Between(..) => Decimal::ZERO,
        };
        let name = || format!("recovery of {}", toxin.name);
        let recovery = toxin
            .recovery_percent
            .map(|recovery| positive(&name(), recovery).map(|_| recovery))
            .transpose()?
            .filter(|recovery| *recovery < low || *recovery > high);
        let corrected = match recovery {
            None => found,
            Some(recovery) => found
                .checked_mul(Decimal::ONE_HUNDRED)
                .and_then(|product| product.checked_div(recovery.0))
                .ok_or_else(too_large)?,
        };
        plain = plain.checked_add(found).ok_or_else(too_large)?;
        whole = whole.checked_add(corrected).ok_or_else(too_large)?;
        terms.push(ToxinTerm {
            name: toxin.name.clone(),
            found: shown(found),
            corrected: shown(corrected),
            was_corrected: recovery.is_some(),
        });
    }
    Ok(ToxinSum {
        terms,
        uncorrected: Number(plain.normalize()),
        corrected: shown(whole),
    })
}

fn shown(value: Decimal) -> Number {
    Number(value.round_sf(12).unwrap_or(value).normalize())
}
