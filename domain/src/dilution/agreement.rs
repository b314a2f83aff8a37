//! Whether volumes, a stated factor and a value say the same, at the places they are written with.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::Factor;
use crate::quantity::Number;

/// Two statements about one dilution that cannot both be true; the run is held, nothing repaired.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Disagreement {
    /// The stated factor is not the one of the volumes.
    StatedFactor {
        /// As it was stated.
        stated: Number,
        /// Of the volumes recorded.
        computed: Factor,
    },
    /// The multiplied value is not the value read times the factor of the volumes.
    MultipliedValue {
        /// The value read.
        value: Number,
        /// The multiplied value that stood beside it.
        multiplied: Number,
        /// Of the volumes recorded.
        computed: Factor,
    },
}

impl std::fmt::Display for Disagreement {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::StatedFactor { stated, computed } => write!(
                f,
                "the factor stated is {stated}, the volumes recorded give {computed}"
            ),
            Self::MultipliedValue {
                value,
                multiplied,
                computed,
            } => write!(
                f,
                "{value} times {computed}, the factor of the volumes, is not {multiplied}"
            ),
        }
    }
}

/// Half a unit of the last place that a number is written with.
fn half_a_unit(number: Number) -> Decimal {
    Decimal::new(5, number.0.scale().saturating_add(1).min(28))
}

/// Whether an exact value could have been written as `written`, whatever was done with a tie.
///
/// ```
/// use domain::dilution::{Factor, agrees_at_its_places};
/// let factor = Factor::new(13, 3)?; // 4.333…
/// for (stated, agrees) in [("4.33", true), ("4.3", true), ("4.4", false), ("4.34", false)] {
///     assert_eq!(agrees_at_its_places(factor, stated.parse().unwrap()), agrees, "{stated}");
/// }
/// # Ok::<(), domain::dilution::DilutionError>(())
/// ```
#[must_use]
pub fn agrees_at_its_places(factor: Factor, written: Number) -> bool {
    overlaps(Number(Decimal::ONE), Decimal::ZERO, factor, written).unwrap_or(false)
}

/// Whether `value` ± `slack`, times the factor, meets `written` ± half a unit of its last place.
fn overlaps(value: Number, slack: Decimal, factor: Factor, written: Number) -> Option<bool> {
    let half = half_a_unit(written);
    let (low, high) = (written.0.checked_sub(half)?, written.0.checked_add(half)?);
    // Both sides times the denominator, so that nothing is divided and nothing rounded.
    let numerator = Decimal::from(factor.numerator());
    let denominator = Decimal::from(factor.denominator());
    let least = value.0.checked_sub(slack)?.checked_mul(numerator)?;
    let most = value.0.checked_add(slack)?.checked_mul(numerator)?;
    Some(most >= low.checked_mul(denominator)? && least <= high.checked_mul(denominator)?)
}

/// Compares a stated factor with that of the volumes.
///
/// ```
/// use domain::dilution::{Factor, check_stated_factor};
/// let six = Factor::new(6, 1)?;
/// assert!(check_stated_factor(six, "6.0".parse().unwrap()).is_none());
/// assert!(check_stated_factor(Factor::ONE, "6".parse().unwrap()).is_some(), "volumes missing");
/// # Ok::<(), domain::dilution::DilutionError>(())
/// ```
#[must_use]
pub fn check_stated_factor(computed: Factor, stated: Number) -> Option<Disagreement> {
    (!agrees_at_its_places(computed, stated))
        .then_some(Disagreement::StatedFactor { stated, computed })
}

/// Compares a value with the multiplied one that stood beside it. The value itself was cut to its
/// places before anybody sees it, so half a unit of it is allowed for too.
///
/// ```
/// use domain::dilution::{Factor, check_values};
/// let six = Factor::new(6, 1)?;
/// let number = |text: &str| text.parse().unwrap();
/// assert!(check_values(six, number("12.5"), number("75")).is_none());
/// assert!(check_values(six, number("12.5"), number("450")).is_some(), "multiplied twice");
/// # Ok::<(), domain::dilution::DilutionError>(())
/// ```
#[must_use]
pub fn check_values(computed: Factor, value: Number, multiplied: Number) -> Option<Disagreement> {
    let agrees = overlaps(value, half_a_unit(value), computed, multiplied).unwrap_or(false);
    (!agrees).then_some(Disagreement::MultipliedValue {
        value,
        multiplied,
        computed,
    })
}
