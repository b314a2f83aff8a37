//! A dilution factor as a fraction of whole numbers in lowest terms.

use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::DilutionStep;

/// Why volumes give no factor, or a factor no value.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DilutionError {
    /// A volume is zero or negative.
    #[error("step {step}: {volume_ul} µL is no volume that can be delivered")]
    NotAVolume {
        /// The step, from 1.
        step: usize,
        /// What was given, in µL.
        volume_ul: Decimal,
    },
    /// Numerator or denominator leaves what is kept (18 digits).
    #[error("the dilution factor has more than 18 digits: the volumes are not believable")]
    TooLarge,
    /// Numerator and denominator are no factor: zero, or below one.
    #[error("{numerator}/{denominator} is no dilution factor: it must be one or more")]
    NotAFactor {
        /// The numerator given.
        numerator: u64,
        /// The denominator given.
        denominator: u64,
    },
    /// The diluted value leaves the range of the decimal type.
    #[error("the value times the dilution factor is too large to be kept")]
    ValueTooLarge,
}

/// A dilution factor, one or more, in lowest terms: 13/3 for 150 µL + 500 µL.
///
/// ```
/// use domain::dilution::{DilutionError, Factor};
/// let factor = Factor::new(650, 150)?;
/// assert_eq!(factor.to_string(), "13/3");
/// assert_eq!(serde_json::to_string(&factor).unwrap(), r#"{"denominator":"3","numerator":"13"}"#);
/// assert!(matches!(Factor::new(3, 13), Err(DilutionError::NotAFactor { .. })));
/// # Ok::<(), DilutionError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Factor {
    numerator: u64,
    denominator: u64,
}

/// Largest numerator and denominator: 18 digits, so that products of two fit 128 bits.
const LARGEST: u64 = 999_999_999_999_999_999;

impl Factor {
    /// No dilution.
    pub const ONE: Self = Self {
        numerator: 1,
        denominator: 1,
    };

    /// A fraction brought to lowest terms.
    ///
    /// # Errors
    /// [`DilutionError::NotAFactor`] below one or with a zero; [`DilutionError::TooLarge`].
    pub fn new(numerator: u64, denominator: u64) -> Result<Self, DilutionError> {
        if denominator == 0 || numerator < denominator {
            return Err(DilutionError::NotAFactor {
                numerator,
                denominator,
            });
        }
        Self::reduced(numerator.into(), denominator.into())
    }

    fn reduced(numerator: u128, denominator: u128) -> Result<Self, DilutionError> {
        let common = greatest_common_divisor(numerator, denominator).max(1);
        let part = |whole: u128| match u64::try_from(whole / common) {
            Ok(kept) if kept <= LARGEST => Ok(kept),
            Ok(_) | Err(_) => Err(DilutionError::TooLarge),
        };
        Ok(Self {
            numerator: part(numerator)?,
            denominator: part(denominator)?,
        })
    }

    /// The numerator in lowest terms.
    #[must_use]
    pub const fn numerator(self) -> u64 {
        self.numerator
    }

    /// The denominator in lowest terms.
    #[must_use]
    pub const fn denominator(self) -> u64 {
        self.denominator
    }

    /// Whether nothing was diluted.
    #[must_use]
    pub const fn is_one(self) -> bool {
        self.numerator == self.denominator
    }

    /// Two dilutions one after the other.
    ///
    /// # Errors
    /// [`DilutionError::TooLarge`].
    ///
    /// ```
    /// use domain::dilution::Factor;
    /// let six = Factor::new(6, 1)?;
    /// assert_eq!(six.then(six)?, Factor::new(36, 1)?);
    /// let huge = Factor::new(999_999_999_999_999_999, 1)?;
    /// assert!(huge.then(six).is_err());
    /// # Ok::<(), domain::dilution::DilutionError>(())
    /// ```
    pub fn then(self, next: Self) -> Result<Self, DilutionError> {
        let product = |one: u64, other: u64| {
            u128::from(one)
                .checked_mul(u128::from(other))
                .ok_or(DilutionError::TooLarge)
        };
        Self::reduced(
            product(self.numerator, next.numerator)?,
            product(self.denominator, next.denominator)?,
        )
    }

    /// A value times the factor: multiplied first, divided once.
    ///
    /// # Errors
    /// [`DilutionError::ValueTooLarge`].
    ///
    /// ```
    /// use domain::dilution::Factor;
    /// use domain::quantity::parse_decimal;
    /// let factor = Factor::new(13, 3)?;
    /// assert_eq!(factor.apply(parse_decimal("3.6").unwrap())?, parse_decimal("15.6").unwrap());
    /// assert!(factor.apply(rust_decimal::Decimal::MAX).is_err());
    /// # Ok::<(), domain::dilution::DilutionError>(())
    /// ```
    pub fn apply(self, value: Decimal) -> Result<Decimal, DilutionError> {
        value
            .checked_mul(Decimal::from(self.numerator))
            .and_then(|product| product.checked_div(Decimal::from(self.denominator)))
            .map(|quotient| quotient.normalize())
            .ok_or(DilutionError::ValueTooLarge)
    }

    /// A value that contains the factor, brought back to what stood on the strip.
    ///
    /// # Errors
    /// [`DilutionError::ValueTooLarge`].
    ///
    /// ```
    /// use domain::dilution::Factor;
    /// use domain::quantity::parse_decimal;
    /// let factor = Factor::new(13, 3)?;
    /// assert_eq!(factor.undo(parse_decimal("15.6").unwrap())?, parse_decimal("3.6").unwrap());
    /// assert!(factor.undo(rust_decimal::Decimal::MAX).is_err());
    /// # Ok::<(), domain::dilution::DilutionError>(())
    /// ```
    pub fn undo(self, value: Decimal) -> Result<Decimal, DilutionError> {
        value
            .checked_mul(Decimal::from(self.denominator))
            .and_then(|product| product.checked_div(Decimal::from(self.numerator)))
            .map(|quotient| quotient.normalize())
            .ok_or(DilutionError::ValueTooLarge)
    }
}

impl PartialOrd for Factor {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Factor {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        // Both products fit: 18 digits times 18 digits is below 2^120.
        let one = u128::from(self.numerator).saturating_mul(other.denominator.into());
        let two = u128::from(other.numerator).saturating_mul(self.denominator.into());
        one.cmp(&two)
    }
}

impl std::fmt::Display for Factor {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.denominator == 1 {
            self.numerator.fmt(f)
        } else {
            write!(f, "{}/{}", self.numerator, self.denominator)
        }
    }
}

/// The written form of a factor; its members stand in the order of canonical JSON.
#[derive(Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
struct Written {
    /// Whole number above zero.
    denominator: String,
    /// Whole number, not below the denominator.
    numerator: String,
}

impl Serialize for Factor {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Written {
            denominator: self.denominator.to_string(),
            numerator: self.numerator.to_string(),
        }
        .serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Factor {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        use serde::de::Error;
        let written = Written::deserialize(deserializer)?;
        let whole = |text: &str| match text.parse::<u64>() {
            Ok(number) if number.to_string() == text => Ok(number),
            Ok(_) | Err(_) => Err(D::Error::custom(format!("\"{text}\" is no whole number"))),
        };
        let (numerator, denominator) = (whole(&written.numerator)?, whole(&written.denominator)?);
        let factor = Self::new(numerator, denominator).map_err(D::Error::custom)?;
        if factor.numerator == numerator {
            Ok(factor)
        } else {
            Err(D::Error::custom(format!(
                "{numerator}/{denominator} is not in lowest terms"
            )))
        }
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for Factor {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        <Written as utoipa::PartialSchema>::schema()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for Factor {}

/// The factor of all steps together: of each, (sample volume + diluent volume) / sample volume.
///
/// # Errors
/// [`DilutionError::NotAVolume`], [`DilutionError::TooLarge`].
///
/// ```
/// use domain::dilution::{DilutionStep, Factor, factor_of};
/// let step = |sample: &str, diluent: &str| DilutionStep {
///     sample_volume_ul: sample.parse().unwrap(),
///     diluent_volume_ul: diluent.parse().unwrap(),
///     diluent: "water".into(),
///     pipette: None,
///     diluent_pipette: None,
/// };
/// // Common practice, no source: 100 µL of extract and 500 µL of water.
/// assert_eq!(factor_of(&[step("100", "500")])?, Factor::new(6, 1)?);
/// assert_eq!(factor_of(&[step("150", "500")])?, Factor::new(13, 3)?);
/// assert!(factor_of(&[step("0", "500")]).is_err());
/// # Ok::<(), domain::dilution::DilutionError>(())
/// ```
pub fn factor_of(steps: &[DilutionStep]) -> Result<Factor, DilutionError> {
    steps
        .iter()
        .enumerate()
        .try_fold(Factor::ONE, |factor, (place, step)| {
            factor.then(step_factor(place, step)?)
        })
}

fn step_factor(place: usize, step: &DilutionStep) -> Result<Factor, DilutionError> {
    let sample = step.sample_volume_ul.0.normalize();
    let diluent = step.diluent_volume_ul.0.normalize();
    for volume_ul in [sample, diluent] {
        if volume_ul <= Decimal::ZERO {
            return Err(DilutionError::NotAVolume {
                step: place.saturating_add(1),
                volume_ul,
            });
        }
    }
    let scale = sample.scale().max(diluent.scale());
    let sample = whole_at(sample, scale).ok_or(DilutionError::TooLarge)?;
    let diluent = whole_at(diluent, scale).ok_or(DilutionError::TooLarge)?;
    let sum = sample.checked_add(diluent).ok_or(DilutionError::TooLarge)?;
    Factor::reduced(sum, sample)
}

/// A positive decimal times ten to the scale, as a whole number.
fn whole_at(value: Decimal, scale: u32) -> Option<u128> {
    let mantissa = u128::try_from(value.mantissa()).ok()?;
    let shift = scale.checked_sub(value.scale())?;
    mantissa.checked_mul(10_u128.checked_pow(shift)?)
}

fn greatest_common_divisor(mut one: u128, mut other: u128) -> u128 {
    while other != 0 {
        (one, other) = (other, one.checked_rem(other).unwrap_or(0));
    }
    one
}
