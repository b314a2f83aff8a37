//! What a report says: the number rounded once, by the procedure's rule, or a bound.

use rust_decimal::{Decimal, RoundingStrategy};

use crate::decisions::Finding;
use crate::quantity::Concentration;
use crate::rounding::{Rounding, RoundingError};

/// The text of a finding, without its unit.
///
/// `value` is the unrounded number behind a quantified finding: it is rounded once, here. A bound
/// is never made to claim more than it does: a lower one is cut, an upper one raised, at the
/// places that the rule gives.
///
/// # Errors
/// [`RoundingError`], where the rule cannot round the value.
///
/// ```
/// use domain::decisions::Finding;
/// use domain::quantity::{Concentration, parse_decimal};
/// use domain::results::reported_text;
/// use domain::rounding::{RoundTo, Rounding, TieRule};
/// let rule = Rounding { to: RoundTo::Places(1), tie: TieRule::HalfEven };
/// let amount = |text| Concentration::from_ug_per_kg(parse_decimal(text).unwrap());
/// let text = |finding| reported_text(finding, None, rule).unwrap();
/// assert_eq!(text(Finding::Quantified { value: amount("12.250000") }), "12.2");
/// assert_eq!(text(Finding::Above { bound: amount("216.666667") }), "> 216.6");
/// assert_eq!(text(Finding::Above { bound: amount("50.000000") }), "> 50");
/// let below = Finding::DetectedBelow { lod: amount("1.000000"), loq: amount("2.000000") };
/// assert_eq!(text(below), "< 2");
/// assert_eq!(text(Finding::NotDetected { below: amount("1.000000") }), "not detected (< 1)");
/// let none = Rounding { to: RoundTo::SignificantFigures(0), ..rule };
/// assert!(reported_text(Finding::Quantified { value: amount("1") }, None, none).is_err());
/// ```
pub fn reported_text(
    finding: Finding,
    value: Option<Decimal>,
    rule: Rounding,
) -> Result<String, RoundingError> {
    let bound = |bound: Concentration, strategy| {
        let places = rule.apply(bound.ug_per_kg())?.scale();
        let cut = bound.ug_per_kg().round_dp_with_strategy(places, strategy);
        Ok::<_, RoundingError>(cut.normalize().to_string())
    };
    let (lower, upper) = (RoundingStrategy::ToZero, RoundingStrategy::AwayFromZero);
    Ok(match finding {
        Finding::Quantified { value: stored } => rule
            .apply(value.unwrap_or_else(|| stored.ug_per_kg()))?
            .to_string(),
        Finding::NotDetected { below } => format!("not detected (< {})", bound(below, upper)?),
        Finding::DetectedBelow { loq, .. } => format!("< {}", bound(loq, upper)?),
        Finding::Below { bound: most } => format!("< {}", bound(most, upper)?),
        Finding::Above { bound: least } => format!("> {}", bound(least, lower)?),
    })
}
