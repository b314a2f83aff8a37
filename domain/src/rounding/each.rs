//! Values rounded one by one, with what happened to them.
//!
//! Promises the decimal rounding, whether it met a tie, and what the same rounding does to the
//! nearest binary float, where ties of decimals mostly do not exist; refuses what cannot be kept.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{RoundTo, Rounding, RoundingError};
use crate::quantity::Number;
use crate::quantity::exact::{Answer, at_least, at_most, pole};
use crate::statistics::binary::rounded_as_binary;

/// Most values that are rounded at once.
pub const MOST_VALUES: usize = 1_000;

/// A value and how it is rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ValueToRound {
    /// The value, with the digits it was given with.
    pub value: Number,
    /// The rule.
    pub rounding: Rounding,
}

/// Values to be rounded.
///
/// ```
/// use domain::rounding::each::{RoundingInputs, round_each};
/// let inputs: RoundingInputs = serde_json::from_str(r#"{"values":[
///     {"value":"2.675","rounding":{"to":"places","of":2,"tie":"half-away"}}]}"#)?;
/// let rounded = &round_each(&inputs).unwrap()[0];
/// assert_eq!(rounded.rounded.to_string(), "2.68");
/// assert!(rounded.tie);
/// // As a binary float 2.675 lies just below the tie.
/// assert_eq!(rounded.as_binary.unwrap().to_string(), "2.67");
/// let none: RoundingInputs = serde_json::from_str(r#"{"values":[]}"#)?;
/// assert!(round_each(&none).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RoundingInputs {
    /// One or more.
    pub values: Vec<ValueToRound>,
}

/// A rounded value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RoundedValue {
    /// Rounded in decimal arithmetic.
    pub rounded: Number,
    /// Whether it lay exactly half way between two neighbours, so that the tie rule decided.
    pub tie: bool,
    /// What the same rule makes of the nearest binary float; only where it is to places.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub as_binary: Option<Number>,
}

/// Rounds each value by its rule.
///
/// # Errors
/// No value or too many; a rule that cannot round the value, which is named by its place.
pub fn round_each(inputs: &RoundingInputs) -> Answer<Vec<RoundedValue>> {
    at_least("values", inputs.values.len(), 1)?;
    at_most("values", inputs.values.len(), MOST_VALUES)?;
    let mut rounded = Vec::with_capacity(inputs.values.len());
    for (place, one) in inputs.values.iter().enumerate() {
        let name = format!("value {}", place.saturating_add(1));
        rounded.push(round(one).map_err(|error| pole(&name, error.to_string()))?);
    }
    Ok(rounded)
}

fn round(one: &ValueToRound) -> Result<RoundedValue, RoundingError> {
    let rounded = one.rounding.apply(one.value.0)?;
    let as_binary = match one.rounding.to {
        RoundTo::Places(places) => rounded_as_binary(one.value, places, one.rounding.tie),
        RoundTo::SignificantFigures(_) | RoundTo::Interval(_) => None,
    };
    Ok(RoundedValue {
        rounded: Number(rounded),
        tie: has_a_twin(one, rounded),
        as_binary,
    })
}

/// Whether the value lies as far from a neighbour on the other side as from the one it went to.
fn has_a_twin(one: &ValueToRound, rounded: Decimal) -> bool {
    let value = one.value.0;
    let mirrored = value
        .checked_add(value)
        .and_then(|twice| twice.checked_sub(rounded));
    mirrored.is_some_and(|other| {
        other != rounded && one.rounding.apply(other).is_ok_and(|kept| kept == other)
    })
}
