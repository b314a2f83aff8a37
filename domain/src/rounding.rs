//! Rounding by the rule that a procedure names.
//!
//! Promises the nearest representable value in decimal arithmetic, once, with the places kept;
//! rounding again by the same rule changes nothing. Refuses what the decimal type cannot hold,
//! zero significant figures and intervals that are not positive.

pub mod compared;
pub mod each;
pub mod reported;

use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};

use crate::quantity::Number;

/// Most places, or significant figures, that the decimal type can hold.
const MOST_DIGITS: u32 = 28;

/// What happens exactly half way between two neighbours.
///
/// ```
/// use domain::rounding::TieRule;
/// assert_eq!(serde_json::to_string(&TieRule::HalfEven)?, "\"half-even\"");
/// assert!(serde_json::from_str::<TieRule>("\"half-up\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum TieRule {
    /// To the even neighbour: ISO 80000-1 annex B rule A, ASTM E29.
    HalfEven,
    /// Away from zero: ISO 80000-1 annex B rule B.
    HalfAway,
}

/// To which neighbours a value is rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RoundTo {
    /// So many decimal places, 0 to 28.
    Places(u32),
    /// So many significant figures, 1 to 28.
    SignificantFigures(u32),
    /// Multiples of an interval above zero, such as 0.5 or 5.
    Interval(Number),
}

/// A whole rounding rule: to what, and what at a tie.
///
/// ```
/// use domain::quantity::parse_decimal;
/// use domain::rounding::{RoundTo, Rounding, RoundingError, TieRule};
/// let rule = Rounding { to: RoundTo::Places(1), tie: TieRule::HalfEven };
/// assert_eq!(rule.apply(parse_decimal("12.25")?)?.to_string(), "12.2");
/// let none = Rounding { to: RoundTo::SignificantFigures(0), tie: TieRule::HalfEven };
/// assert_eq!(none.apply(parse_decimal("12.25")?), Err(RoundingError::NoFigures));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(from = "WrittenRounding", into = "WrittenRounding")]
pub struct Rounding {
    /// To what.
    pub to: RoundTo,
    /// What at a tie.
    pub tie: TieRule,
}

/// A rounding rule as it is written: `{"of":1,"tie":"half-even","to":"places"}`.
#[derive(Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "to", rename_all = "kebab-case", deny_unknown_fields)]
enum WrittenRounding {
    /// To so many decimal places.
    Places { of: u32, tie: TieRule },
    /// To so many significant figures.
    SignificantFigures { of: u32, tie: TieRule },
    /// To multiples of an interval.
    Interval { of: Number, tie: TieRule },
}

impl From<WrittenRounding> for Rounding {
    fn from(written: WrittenRounding) -> Self {
        let (to, tie) = match written {
            WrittenRounding::Places { of, tie } => (RoundTo::Places(of), tie),
            WrittenRounding::SignificantFigures { of, tie } => {
                (RoundTo::SignificantFigures(of), tie)
            }
            WrittenRounding::Interval { of, tie } => (RoundTo::Interval(of), tie),
        };
        Self { to, tie }
    }
}

impl From<Rounding> for WrittenRounding {
    fn from(Rounding { to, tie }: Rounding) -> Self {
        match to {
            RoundTo::Places(of) => Self::Places { of, tie },
            RoundTo::SignificantFigures(of) => Self::SignificantFigures { of, tie },
            RoundTo::Interval(of) => Self::Interval { of, tie },
        }
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for Rounding {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        <WrittenRounding as utoipa::PartialSchema>::schema()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for Rounding {
    fn schemas(schemas: &mut Vec<(String, utoipa::openapi::RefOr<utoipa::openapi::Schema>)>) {
        <WrittenRounding as utoipa::ToSchema>::schemas(schemas);
    }
}

/// Why a value was not rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RoundingError {
    /// Zero significant figures leave nothing.
    #[error("a value needs at least one significant figure")]
    NoFigures,
    /// More places or figures than a decimal holds.
    #[error("{0} places or figures are more than the {MOST_DIGITS} that a decimal holds")]
    TooManyDigits(u32),
    /// An interval of zero or below.
    #[error("a rounding interval must be above zero, not {0}")]
    BadInterval(Decimal),
    /// The rounded value cannot be kept with the places asked for.
    #[error("the rounded value leaves the range that can be kept exactly")]
    Overflow,
}

impl TieRule {
    const fn strategy(self) -> RoundingStrategy {
        match self {
            Self::HalfEven => RoundingStrategy::MidpointNearestEven,
            Self::HalfAway => RoundingStrategy::MidpointAwayFromZero,
        }
    }

    /// How the rule is named where a person reads it.
    ///
    /// ```
    /// assert!(domain::rounding::TieRule::HalfEven.name().contains("ASTM E29"));
    /// ```
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::HalfEven => "half to even (ISO 80000-1 rule A, ASTM E29)",
            Self::HalfAway => "half away from zero (ISO 80000-1 rule B)",
        }
    }
}

impl Rounding {
    /// Rounds a value once.
    ///
    /// # Errors
    /// [`RoundingError`], where the rule or the outcome cannot be kept exactly.
    ///
    /// ```
    /// use domain::quantity::parse_decimal;
    /// use domain::rounding::{RoundTo, Rounding, RoundingError, TieRule};
    /// let two = Rounding { to: RoundTo::SignificantFigures(2), tie: TieRule::HalfAway };
    /// assert_eq!(two.apply(parse_decimal("0.996")?)?.to_string(), "1.0");
    /// let zero = Rounding { to: RoundTo::Interval("0".parse()?), tie: TieRule::HalfAway };
    /// assert!(matches!(zero.apply(parse_decimal("1")?), Err(RoundingError::BadInterval(_))));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn apply(&self, value: Decimal) -> Result<Decimal, RoundingError> {
        let rounded = match self.to {
            RoundTo::Places(places) => to_places(value, places, self.tie)?,
            RoundTo::SignificantFigures(figures) => to_figures(value, figures, self.tie)?,
            RoundTo::Interval(interval) => to_interval(value, interval.0, self.tie)?,
        };
        Ok(without_minus_zero(rounded))
    }
}

fn without_minus_zero(mut value: Decimal) -> Decimal {
    if value.is_zero() {
        value.set_sign_positive(true);
    }
    value
}

fn with_places(mut value: Decimal, places: u32) -> Result<Decimal, RoundingError> {
    value.rescale(places);
    if value.scale() == places {
        Ok(value)
    } else {
        Err(RoundingError::Overflow)
    }
}

fn to_places(value: Decimal, places: u32, tie: TieRule) -> Result<Decimal, RoundingError> {
    if places > MOST_DIGITS {
        return Err(RoundingError::TooManyDigits(places));
    }
    with_places(value.round_dp_with_strategy(places, tie.strategy()), places)
}

/// Digits left of the decimal point; zero or less for a value below 0.1.
fn magnitude(value: Decimal) -> i64 {
    let mantissa = value.mantissa().unsigned_abs();
    let digits = mantissa
        .checked_ilog10()
        .map_or(0, |log| i64::from(log) + 1);
    digits - i64::from(value.scale())
}

fn to_figures(value: Decimal, figures: u32, tie: TieRule) -> Result<Decimal, RoundingError> {
    if figures == 0 {
        return Err(RoundingError::NoFigures);
    }
    if figures > MOST_DIGITS {
        return Err(RoundingError::TooManyDigits(figures));
    }
    if value.is_zero() {
        return with_places(value, figures - 1);
    }
    let once = to_power(value, i64::from(figures) - magnitude(value), tie)?;
    // 9.96 to two figures became 10.0, a third figure: the last zero is dropped, exactly.
    to_power(once, i64::from(figures) - magnitude(once), tie)
}

/// Rounds to `places`, which is negative left of the decimal point.
fn to_power(value: Decimal, places: i64, tie: TieRule) -> Result<Decimal, RoundingError> {
    if let Ok(places) = u32::try_from(places) {
        return to_places(value, places, tie);
    }
    let mut interval = Decimal::ONE;
    for _ in 0..places.unsigned_abs() {
        interval = interval
            .checked_mul(Decimal::TEN)
            .ok_or(RoundingError::Overflow)?;
    }
    to_interval(value, interval, tie)
}

fn to_interval(value: Decimal, interval: Decimal, tie: TieRule) -> Result<Decimal, RoundingError> {
    if interval <= Decimal::ZERO {
        return Err(RoundingError::BadInterval(interval));
    }
    let step = || {
        let rest = value.abs().checked_rem(interval)?;
        let down = value.abs().checked_sub(rest)?;
        let twice = rest.checked_add(rest)?;
        let up = match (twice.cmp(&interval), tie) {
            (std::cmp::Ordering::Less, _) => false,
            (std::cmp::Ordering::Greater, _) | (_, TieRule::HalfAway) => true,
            (std::cmp::Ordering::Equal, TieRule::HalfEven) => {
                let multiple = down.checked_div(interval)?;
                !multiple.checked_rem(Decimal::TWO)?.is_zero()
            }
        };
        let size = if up {
            down.checked_add(interval)?
        } else {
            down
        };
        Some(if value.is_sign_negative() {
            -size
        } else {
            size
        })
    };
    with_places(step().ok_or(RoundingError::Overflow)?, interval.scale())
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;
    use proptest::prelude::*;

    fn decimal(text: &str) -> Decimal {
        crate::quantity::parse_decimal(text).unwrap()
    }

    fn round(to: RoundTo, tie: TieRule, value: &str) -> String {
        Rounding { to, tie }
            .apply(decimal(value))
            .unwrap()
            .to_string()
    }

    #[test]
    fn iso_80000_1_annex_b_examples() {
        // ISO 80000-1:2009, annex B, rounding range 0.1 (from memory).
        let cases = [
            ("12.223", "12.2", "12.2"),
            ("12.251", "12.3", "12.3"),
            ("12.275", "12.3", "12.3"),
            ("12.25", "12.2", "12.3"),
            ("12.35", "12.4", "12.4"),
        ];
        for (value, rule_a, rule_b) in cases {
            for to in [
                RoundTo::Places(1),
                RoundTo::Interval(Number(decimal("0.1"))),
            ] {
                assert_eq!(round(to, TieRule::HalfEven, value), rule_a);
                assert_eq!(round(to, TieRule::HalfAway, value), rule_b);
            }
        }
    }

    #[test]
    fn ieee_754_ties_to_even_and_away() {
        // IEEE 754-2019, 4.3.1 and 5.9: from the definitions (from memory).
        let cases = [
            ("0.5", "0", "1"),
            ("1.5", "2", "2"),
            ("2.5", "2", "3"),
            ("3.5", "4", "4"),
        ];
        for (value, even, away) in cases {
            assert_eq!(round(RoundTo::Places(0), TieRule::HalfEven, value), even);
            assert_eq!(round(RoundTo::Places(0), TieRule::HalfAway, value), away);
        }
        assert_eq!(round(RoundTo::Places(0), TieRule::HalfEven, "-2.5"), "-2");
        assert_eq!(round(RoundTo::Places(0), TieRule::HalfAway, "-2.5"), "-3");
    }

    #[test]
    fn ties_that_exist_only_in_decimal() {
        // Common examples of IEEE 754 arithmetic: as binary doubles all three would go down.
        for (value, expected) in [("2.675", "2.68"), ("1.005", "1.01"), ("0.285", "0.29")] {
            assert_eq!(
                round(RoundTo::Places(2), TieRule::HalfAway, value),
                expected
            );
        }
    }

    #[test]
    fn data_book_customs() {
        // CICC data book on national rounding customs, type 1 and type 3
        // (http://www.cicc.or.jp/english/hyoujyunka/databook/205.htm).
        for (value, step, expected) in [
            ("123.4", "1", "123"),
            ("123.5", "1", "124"),
            ("123.454", "0.01", "123.45"),
            ("123.455", "0.01", "123.46"),
            ("123.452", "0.005", "123.450"),
            ("123.454", "0.005", "123.455"),
            ("123.458", "0.005", "123.460"),
        ] {
            let to = RoundTo::Interval(Number(decimal(step)));
            assert_eq!(round(to, TieRule::HalfAway, value), expected);
        }
    }

    #[test]
    fn usda_half_up_examples() {
        // 7 CFR 868.308(a): a dropped figure of 5 or more rounds up.
        for (value, expected) in [
            ("6.36", "6.4"),
            ("0.35", "0.4"),
            ("2.45", "2.5"),
            ("8.34", "8.3"),
            ("1.22", "1.2"),
        ] {
            assert_eq!(
                round(RoundTo::Places(1), TieRule::HalfAway, value),
                expected
            );
        }
    }

    #[test]
    fn significant_figures_keep_their_count() {
        // Uncertainty to two figures: QUAM:2012.P1, 9.5.1 (rule from memory; numbers constructed).
        let to = RoundTo::SignificantFigures(2);
        for (value, expected) in [
            ("1.873", "1.9"),
            ("23.6", "24"),
            ("0.0091", "0.0091"),
            ("9.96", "10"),
            ("0.0996", "0.10"),
            ("1234", "1200"),
            ("9960", "10000"),
        ] {
            assert_eq!(round(to, TieRule::HalfEven, value), expected, "{value}");
        }
    }

    #[test]
    fn a_rule_is_written_flat_and_comes_back() {
        for written in [
            r#"{"to":"places","of":1,"tie":"half-even"}"#,
            r#"{"to":"significant-figures","of":2,"tie":"half-away"}"#,
            r#"{"to":"interval","of":"0.50","tie":"half-even"}"#,
        ] {
            let rule: Rounding = serde_json::from_str(written).unwrap();
            assert_eq!(serde_json::to_string(&rule).unwrap(), written);
        }
        let number = r#"{"to":"interval","of":0.5,"tie":"half-even"}"#;
        assert!(serde_json::from_str::<Rounding>(number).is_err());
    }

    fn any_rule() -> impl Strategy<Value = Rounding> {
        let to = prop_oneof![
            (0u32..7).prop_map(RoundTo::Places),
            (1u32..9).prop_map(RoundTo::SignificantFigures),
            (1i64..5000, 0u32..4)
                .prop_map(|(n, scale)| RoundTo::Interval(Number(Decimal::new(n, scale)))),
        ];
        (to, any::<bool>()).prop_map(|(to, even)| Rounding {
            to,
            tie: if even {
                TieRule::HalfEven
            } else {
                TieRule::HalfAway
            },
        })
    }

    proptest! {
        #[test]
        fn rounding_twice_is_rounding_once(
            rule in any_rule(), n in -1_000_000_000i64..1_000_000_000, scale in 0u32..9,
        ) {
            let once = rule.apply(Decimal::new(n, scale)).unwrap();
            let twice = rule.apply(once).unwrap();
            prop_assert_eq!(once.to_string(), twice.to_string());
        }

        #[test]
        fn rounding_keeps_the_order(
            rule in any_rule(), a in 0i64..1_000_000_000, b in 0i64..1_000_000_000,
        ) {
            let (low, high) = (Decimal::new(a.min(b), 5), Decimal::new(a.max(b), 5));
            prop_assert!(rule.apply(low).unwrap() <= rule.apply(high).unwrap());
        }
    }
}
