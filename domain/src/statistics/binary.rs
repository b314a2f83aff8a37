//! What a binary float makes of a decimal.
//!
//! Promises the rounding of the float that lies nearest to a decimal, so that the difference can
//! be shown; it is never what is stored or compared.

use crate::quantity::Number;
use crate::rounding::{RoundTo, Rounding, TieRule};

use super::door::float;

/// Most places that a float is written with.
const MOST_PLACES: u32 = 28;

/// The float nearest to a value, rounded to places; none beyond 28 places. Where the float is the
/// value itself, a tie is a tie and the rule decides it.
///
/// ```
/// use domain::rounding::TieRule;
/// use domain::statistics::binary::rounded_as_binary;
/// let rounded = |text: &str| rounded_as_binary(text.parse().unwrap(), 2, TieRule::HalfAway);
/// assert_eq!(rounded("1.005").unwrap().to_string(), "1.00", "it lies just below the tie");
/// assert_eq!(rounded("0.125").unwrap().to_string(), "0.13", "it is a float itself");
/// assert!(rounded_as_binary("1".parse().unwrap(), 29, TieRule::HalfAway).is_none());
/// ```
#[must_use]
pub fn rounded_as_binary(value: Number, places: u32, tie: TieRule) -> Option<Number> {
    if places > MOST_PLACES {
        return None;
    }
    let nearest = float(value);
    // All digits that a float of this size can have, so that equality is not a matter of rounding.
    let whole = format!("{nearest:.1074}");
    let digits = whole.trim_end_matches('0').trim_end_matches('.');
    if digits == value.0.normalize().to_string() {
        let rule = Rounding {
            to: RoundTo::Places(places),
            tie,
        };
        return rule.apply(value.0).ok().map(Number);
    }
    let places = usize::try_from(places).ok()?;
    let text = format!("{nearest:.places$}");
    let unsigned = text
        .strip_prefix('-')
        .filter(|rest| rest.bytes().all(|byte| byte == b'0' || byte == b'.'));
    unsigned.unwrap_or(&text).parse().ok()
}
