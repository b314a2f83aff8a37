//! Observed values against a limit, absolute or rounded: ASTM E29.
//!
//! Promises that the places of the limit, as it is written, decide: "20" and "20.0" are different
//! limits under the rounding method. Refuses an interval that is not above zero.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::each::MOST_VALUES;
use super::{RoundTo, Rounding, TieRule};
use crate::quantity::Number;
use crate::quantity::exact::{Answer, at_least, at_most, pole};

/// Which side of a limit conforms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LimitKind {
    /// A maximum: conforms where the value is not above it.
    AtMost,
    /// A minimum: conforms where the value is not below it.
    AtLeast,
}

/// How a value is compared with a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "method", rename_all = "kebab-case", deny_unknown_fields)]
pub enum ComparisonMethod {
    /// The unrounded value against the exact limit.
    Absolute {},
    /// The value rounded to the last place of the limit, then compared.
    Rounded {
        /// What happens at a tie; E29 itself rounds half to even.
        tie: TieRule,
        /// Multiples that it is rounded to, where they are not the limit's last place.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        round_to: Option<Number>,
    },
}

/// Observed values and their limit.
///
/// ```
/// use domain::rounding::compared::{ComparisonInputs, compare};
/// // ASTM E29, table of examples: conductivity of at most 40 mS/m (from memory).
/// let inputs: ComparisonInputs = serde_json::from_str(r#"{"limit":"40","kind":"at-most",
///     "method":{"method":"rounded","tie":"half-even"},"observed":["40.4","40.5","40.6"]}"#)?;
/// let compared = compare(&inputs).unwrap();
/// assert_eq!(compared.iter().map(|one| one.conforms).collect::<Vec<_>>(), [true, true, false]);
/// let none = ComparisonInputs { observed: vec![], ..inputs };
/// assert_eq!(compare(&none).unwrap_err().quantity(), "observed values");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ComparisonInputs {
    /// The limit, with the places it is written with.
    pub limit: Number,
    /// Which side conforms.
    pub kind: LimitKind,
    /// How it is compared.
    pub method: ComparisonMethod,
    /// One or more.
    pub observed: Vec<Number>,
}

/// One value against the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Compared {
    /// What was compared: the value, rounded where the method rounds.
    pub compared: Number,
    /// Whether it conforms.
    pub conforms: bool,
}

/// Compares each observed value with the limit.
///
/// # Errors
/// No value or too many, an interval that is not above zero.
pub fn compare(inputs: &ComparisonInputs) -> Answer<Vec<Compared>> {
    let name = "observed values";
    at_least(name, inputs.observed.len(), 1)?;
    at_most(name, inputs.observed.len(), MOST_VALUES)?;
    let limit = inputs.limit.0;
    inputs
        .observed
        .iter()
        .map(|observed| {
            let compared = brought(observed.0, limit, inputs.method)?;
            let conforms = match inputs.kind {
                LimitKind::AtMost => compared <= limit,
                LimitKind::AtLeast => compared >= limit,
            };
            Ok(Compared {
                compared: Number(compared),
                conforms,
            })
        })
        .collect()
}

fn brought(observed: Decimal, limit: Decimal, method: ComparisonMethod) -> Answer<Decimal> {
    let ComparisonMethod::Rounded { tie, round_to } = method else {
        return Ok(observed);
    };
    let to = match round_to {
        Some(interval) => RoundTo::Interval(interval),
        None => RoundTo::Places(limit.scale()),
    };
    Rounding { to, tie }
        .apply(observed)
        .map_err(|error| pole("rounded value", error.to_string()))
}
