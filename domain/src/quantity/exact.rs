//! Checked decimal arithmetic for chains of figures, and the square root.
//!
//! Promises that a chain is computed unrounded and leaves once, at twelve significant figures;
//! refuses, naming the quantity, what leaves the range of a decimal and what divides by zero.

use rust_decimal::Decimal;

use super::Number;
use crate::statistics::StatisticsError;

/// What a chain of figures gives.
pub(crate) type Answer<T> = Result<T, StatisticsError>;

/// Figures that a computed value leaves with.
const FIGURES: u32 = 12;

/// Most decimal places of a decimal.
const MOST_PLACES: u32 = 28;

pub(crate) fn too_large(quantity: &str) -> StatisticsError {
    StatisticsError::TooLarge {
        quantity: quantity.to_owned(),
    }
}

pub(crate) fn out_of_range(
    quantity: &str,
    value: impl ToString,
    must: impl Into<String>,
) -> StatisticsError {
    StatisticsError::OutOfRange {
        quantity: quantity.to_owned(),
        value: value.to_string(),
        must: must.into(),
    }
}

pub(crate) fn pole(quantity: &str, why: impl Into<String>) -> StatisticsError {
    StatisticsError::Pole {
        quantity: quantity.to_owned(),
        why: why.into(),
    }
}

/// Refuses fewer than `needed`.
pub(crate) fn at_least(quantity: &str, given: usize, needed: usize) -> Answer<()> {
    if given < needed {
        return Err(StatisticsError::TooFew {
            quantity: quantity.to_owned(),
            needed,
            given,
        });
    }
    Ok(())
}

/// Refuses more than `most`.
pub(crate) fn at_most(quantity: &str, given: usize, most: usize) -> Answer<()> {
    if given > most {
        return Err(StatisticsError::TooMany {
            quantity: quantity.to_owned(),
            most,
            given,
        });
    }
    Ok(())
}

/// A number above zero.
pub(crate) fn positive(quantity: &str, given: Number) -> Answer<Decimal> {
    if given.0 <= Decimal::ZERO {
        return Err(out_of_range(quantity, given, "above 0"));
    }
    Ok(given.0)
}

/// A number of zero or more.
pub(crate) fn not_negative(quantity: &str, given: Number) -> Answer<Decimal> {
    if given.0 < Decimal::ZERO {
        return Err(out_of_range(quantity, given, "0 or more"));
    }
    Ok(given.0)
}

pub(crate) fn plus(quantity: &str, one: Decimal, other: Decimal) -> Answer<Decimal> {
    one.checked_add(other).ok_or_else(|| too_large(quantity))
}

pub(crate) fn minus(quantity: &str, one: Decimal, other: Decimal) -> Answer<Decimal> {
    one.checked_sub(other).ok_or_else(|| too_large(quantity))
}

pub(crate) fn times(quantity: &str, one: Decimal, other: Decimal) -> Answer<Decimal> {
    one.checked_mul(other).ok_or_else(|| too_large(quantity))
}

pub(crate) fn over(quantity: &str, one: Decimal, other: Decimal) -> Answer<Decimal> {
    if other.is_zero() {
        return Err(pole(quantity, "it divides by zero"));
    }
    one.checked_div(other).ok_or_else(|| too_large(quantity))
}

pub(crate) fn sum(quantity: &str, values: &[Decimal]) -> Answer<Decimal> {
    values
        .iter()
        .try_fold(Decimal::ZERO, |total, value| plus(quantity, total, *value))
}

/// A whole power, negative ones included.
pub(crate) fn power(quantity: &str, base: Decimal, exponent: i32) -> Answer<Decimal> {
    let mut product = Decimal::ONE;
    for _ in 0..exponent.unsigned_abs() {
        product = times(quantity, product, base)?;
    }
    if exponent < 0 {
        over(quantity, Decimal::ONE, product)
    } else {
        Ok(product)
    }
}

/// The square root, cut after 18 significant figures or more (14 or more below 1e-24).
pub(crate) fn square_root(quantity: &str, value: Decimal) -> Answer<Decimal> {
    if value < Decimal::ZERO {
        return Err(pole(quantity, "it is the root of a negative number"));
    }
    let (mut mantissa, mut scale) = (value.mantissa().unsigned_abs(), value.scale());
    while scale < 2 * MOST_PLACES
        && let Some(longer) = mantissa.checked_mul(10)
    {
        (mantissa, scale) = (longer, scale + 1);
    }
    if !scale.is_multiple_of(2) {
        (mantissa, scale) = (mantissa / 10, scale.saturating_sub(1));
    }
    let root = i128::try_from(mantissa.isqrt()).map_err(|_wide| too_large(quantity))?;
    Decimal::try_from_i128_with_scale(root, scale / 2).map_err(|_wide| too_large(quantity))
}

/// The root of the sum of squares, in units of the largest so that no square is lost.
pub(crate) fn root_of_squares(quantity: &str, values: &[Decimal]) -> Answer<Decimal> {
    let largest = values.iter().map(Decimal::abs).max().unwrap_or_default();
    if largest.is_zero() {
        return Ok(Decimal::ZERO);
    }
    let mut total = Decimal::ZERO;
    for value in values {
        let part = over(quantity, *value, largest)?;
        total = plus(quantity, total, times(quantity, part, part)?)?;
    }
    times(quantity, largest, square_root(quantity, total)?)
}

/// The mean of at least one value.
pub(crate) fn mean(quantity: &str, values: &[Decimal]) -> Answer<Decimal> {
    at_least(quantity, values.len(), 1)?;
    over(
        quantity,
        sum(quantity, values)?,
        Decimal::from(values.len()),
    )
}

/// The standard deviation of at least two values, with n - 1.
pub(crate) fn standard_deviation(quantity: &str, values: &[Decimal]) -> Answer<Decimal> {
    at_least(quantity, values.len(), 2)?;
    let centre = mean(quantity, values)?;
    let mut away = Vec::with_capacity(values.len());
    for value in values {
        away.push(minus(quantity, *value, centre)?);
    }
    let freedom = square_root(quantity, Decimal::from(values.len().saturating_sub(1)))?;
    over(quantity, root_of_squares(quantity, &away)?, freedom)
}

/// A computed value as it leaves: twelve significant figures, half to even, no trailing zeros.
pub(crate) fn figures(value: Decimal) -> Number {
    let cut =
        value.round_sf_with_strategy(FIGURES, rust_decimal::RoundingStrategy::MidpointNearestEven);
    let mut shown = cut.unwrap_or(value).normalize();
    if shown.is_zero() {
        shown.set_sign_positive(true);
    }
    Number(shown)
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]

    use super::*;
    use proptest::prelude::*;

    #[test]
    fn roots_have_seventeen_figures() {
        for (value, root) in [
            ("2", "1.41421356237309505"),
            ("0.0004", "0.02"),
            ("1522756", "1234"),
            ("0", "0"),
        ] {
            let found = square_root("x", value.parse().unwrap()).unwrap();
            assert_eq!(found.round_dp(17).normalize().to_string(), root);
        }
        assert!(square_root("x", Decimal::NEGATIVE_ONE).is_err());
        assert!(square_root("x", Decimal::MAX).is_ok());
        let tiny = Decimal::from_i128_with_scale(9, 28);
        assert_eq!(
            square_root("x", tiny).unwrap().normalize().to_string(),
            "0.00000000000003"
        );
    }

    #[test]
    fn a_figure_leaves_with_twelve_figures_and_a_refusal_names_it() {
        let third = over("x", Decimal::ONE, Decimal::from(3)).unwrap();
        assert_eq!(figures(third).to_string(), "0.333333333333");
        assert_eq!(figures(Decimal::from(12)).to_string(), "12");
        assert_eq!(
            over("mean recovery", third, Decimal::ZERO)
                .unwrap_err()
                .quantity(),
            "mean recovery"
        );
        assert!(times("x", Decimal::MAX, Decimal::TEN).is_err());
    }

    proptest! {
        #[test]
        fn a_root_squared_is_the_value(mantissa in 1_i64..1_000_000_000_000, scale in 0_u32..20) {
            let value = Decimal::new(mantissa, scale);
            let root = square_root("x", value).unwrap();
            let off = (root * root - value).abs() / value;
            prop_assert!(off < Decimal::new(1, 12), "{value}: {root}");
        }
    }
}
