//! The door: decimals to floats and back.
//!
//! Promises that a decimal goes in as the nearest float and a float comes out at twelve
//! significant figures; refuses to let NaN, infinity or what no decimal holds come out.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::quantity::Number;

use super::error::{Answer, StatisticsError};

/// Figures that a computed value leaves with: enough for every certified value of reference data
/// sets, few enough that the last binary places of two machines never show.
pub const SIGNIFICANT_FIGURES: usize = 12;

/// Largest whole number up to which every one is a float of its own: 2^53.
const WHOLE: i64 = 9_007_199_254_740_992;

/// The nearest float.
pub(super) fn float(number: Number) -> f64 {
    let (mantissa, scale) = (i64::try_from(number.0.mantissa()), number.0.scale());
    // Both exact and one division: correctly rounded. Otherwise the text is parsed, which is too.
    if let Ok(mantissa) = mantissa
        && (-WHOLE..=WHOLE).contains(&mantissa)
        && scale <= 22
        && let Some((mantissa, power)) = mantissa.to_f64().zip(power_of_ten(scale))
    {
        return mantissa / power;
    }
    // A decimal's text is always a float's, so nothing else can come of it.
    number.0.to_string().parse().unwrap_or(f64::NAN)
}

/// Powers of ten from 0 to 28, literally, so that every machine has the same.
const POWERS: [f64; 29] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22, 1e23, 1e24, 1e25, 1e26, 1e27, 1e28,
];

fn power_of_ten(scale: u32) -> Option<f64> {
    POWERS.get(usize::try_from(scale).ok()?).copied()
}

/// The power of ten that a value has reached, or the one below it, from its power of two and
/// without the detour of a logarithm. From 2^-54 to 2^40, 0.30103 has the whole part of log10 2.
fn decimal_exponent(value: f64) -> Option<i32> {
    let biased = i32::try_from(value.abs().to_bits() >> 52).ok()?;
    let power_of_two = biased.checked_sub(1023)?;
    Some(power_of_two.checked_mul(30_103)?.div_euclid(100_000))
}

/// A value of 1e-16 to 1e12 in size at twelve significant figures, without the detour of a text.
fn rounded(value: f64) -> Option<Decimal> {
    if !(1e-16..1e12).contains(&value.abs()) {
        return None;
    }
    let scaled = |scale: u32| Some((value * power_of_ten(scale)?).round_ties_even());
    let mut scale = u32::try_from(11_i32.checked_sub(decimal_exponent(value)?)?).ok()?;
    // The exponent may be one too small, and rounding may reach the next power of ten.
    if scaled(scale)?.abs() >= 1e12 {
        scale = scale.checked_sub(1)?;
    }
    let mut mantissa = scaled(scale)?.to_i64()?;
    while scale > 0 && mantissa % 10 == 0 {
        mantissa /= 10;
        scale = scale.saturating_sub(1);
    }
    Some(Decimal::new(mantissa, scale))
}

pub(super) fn floats(numbers: &[Number]) -> Vec<f64> {
    numbers.iter().copied().map(float).collect()
}

/// How many, as a float.
pub(super) fn size(count: usize) -> f64 {
    count.to_f64().unwrap_or(f64::NAN)
}

/// A computed value as it leaves: twelve significant figures, no trailing zeros, no minus zero.
/// What is smaller than a decimal can tell (1e-28) leaves as zero.
pub(super) fn number(quantity: &str, value: f64) -> Answer<Number> {
    if value.is_nan() {
        return Err(StatisticsError::pole(
            quantity,
            "the inputs leave it undefined",
        ));
    }
    let too_large = || StatisticsError::TooLarge {
        quantity: quantity.to_owned(),
    };
    if value.abs() > 1e28 {
        return Err(too_large());
    }
    if value.abs() < 1e-28 {
        return Ok(Number(Decimal::ZERO));
    }
    if let Some(decimal) = rounded(value) {
        return Ok(Number(decimal));
    }
    let written = format!("{value:.*e}", SIGNIFICANT_FIGURES.saturating_sub(1));
    let decimal = Decimal::from_scientific(&written)
        .or_else(|_more_places_than_it_has| format!("{value:.28}").parse())
        .map_err(|_not_kept: rust_decimal::Error| too_large())?;
    Ok(Number(decimal.normalize()))
}

pub(super) fn numbers(quantity: &str, values: &[f64]) -> Answer<Vec<Number>> {
    values
        .iter()
        .map(|value| number(quantity, *value))
        .collect()
}

/// A probability strictly between 0 and 1.
pub(super) fn probability(quantity: &str, given: Number) -> Answer<f64> {
    if given.0 <= Decimal::ZERO || given.0 >= Decimal::ONE {
        return Err(StatisticsError::out_of_range(
            quantity,
            given,
            "above 0 and below 1",
        ));
    }
    Ok(float(given))
}

/// A number above zero.
pub(super) fn positive(quantity: &str, given: Number) -> Answer<f64> {
    if given.0 <= Decimal::ZERO {
        return Err(StatisticsError::out_of_range(quantity, given, "above 0"));
    }
    Ok(float(given))
}

/// A number of zero or more.
pub(super) fn not_negative(quantity: &str, given: Number) -> Answer<f64> {
    if given.0 < Decimal::ZERO {
        return Err(StatisticsError::out_of_range(quantity, given, "0 or more"));
    }
    Ok(float(given))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]

    use super::*;

    #[test]
    fn decimals_go_in_as_the_nearest_float_and_leave_with_twelve_figures() {
        for text in [
            "0.1",
            "-12.345",
            "123456789012345678901234567",
            "0.0000000000000000000000000001",
        ] {
            let given: Number = text.parse().unwrap();
            assert!((float(given) - text.parse::<f64>().unwrap()).abs() <= 0.0);
        }
        assert_eq!(
            number("x", 2.0 / 3.0).unwrap().to_string(),
            "0.666666666667"
        );
        assert_eq!(number("x", -0.0).unwrap().to_string(), "0");
        assert_eq!(number("x", 1e-30).unwrap().to_string(), "0");
        assert_eq!(
            number("x", 1.5e-20).unwrap().0.to_string(),
            "0.000000000000000000015"
        );
        assert_eq!(
            number("x", 1e20).unwrap().to_string(),
            "100000000000000000000"
        );
        for (value, shown) in [
            (1e11, "100000000000"),
            (999_999_999_999.6, "1000000000000"),
            (0.001, "0.001"),
            (-0.000_123_456_789_012_6, "-0.000123456789013"),
            (1e-16, "0.0000000000000001"),
            (12.5, "12.5"),
            (1e-15, "0.000000000000001"),
            (0.999_999_999_999_6, "1"),
            (9.999_999_999_994, "9.99999999999"),
            (299_792_458.0, "299792458"),
        ] {
            assert_eq!(number("x", value).unwrap().to_string(), shown);
        }
        assert!(number("x", f64::NAN).is_err());
        assert!(number("x", f64::INFINITY).is_err());
        assert!(number("x", 1e29).is_err());
    }
}
